"""From a prepreg to a decision in Python, step by step; every number of the example is invented.

Run it in a folder written by `laminate example DIR`.
"""

# %% Before molding: one laminate from its nominal values
import pandas as pd

import laminate as lam

ply = lam.predict(
    fiber_areal_weight="150 g/m^2 ± 2 (tolerance)",
    resin_content="35 % ± 1 (tolerance)",
    fiber_density="1.79 g/cm^3 ± 0.01 (k=2)",
    resin_density="1.28 g/cm^3 ± 0.01 (k=2)",
    plies=20,
)
print(ply.fiber_volume, ply.thickness.to("mil"))

# %% How many plies the room takes, and how hard the core presses
zone = lam.fill("part.toml").zones["skin"]
print(zone.use, zone.grade)
print(lam.core("part.toml"))

# %% Coupons: a table in, a table out
df = pd.DataFrame(
    {
        "specimen": ["0101", "0102", "0103"],
        "mass in air [g]": [1.4427, 1.4609, 1.4518],
        "mass in liquid [g]": [0.5117, 0.5192, 0.5157],
        "liquid temperature [degC]": [22.8, 22.8, 22.8],
        "method": "digestion",
        "specimen mass [g]": [1.4425, 1.4607, 1.4516],
        "residue mass [g]": [0.9763, 0.9884, 0.9827],
    }
)
measured = lam.measure(
    df,
    fiber_density="1.79 g/cm^3 ± 0.01 (k=2)",
    resin_density="1.28 g/cm^3 ± 0.01 (k=2)",
    balance="0.2 mg (standard)",
    thermometer="0.1 K (standard)",
)
print(measured.average.void_content, measured.average.fiber_volume)
print(measured.to_frame()[["specimen", "fiber_volume [%]", "void_content [%]", "void_content u [%]"]])

# %% A reading that was mistyped is named while it can still be weighed again
df.loc[1, "residue mass [g]"] = 0.9384
wrong = lam.measure(df, fiber_density="1.79 g/cm^3", resin_density="1.28 g/cm^3")
for problem in wrong.to_dict()["warnings"]:
    print(f"{problem['place']}: {problem['found']}, expected {problem['expected']}")

# %% One value against its limits
print(lam.judge(lam.Value(0.59, "%", u=0.2), max="1.5 %"))

# %% The batch against its part
report = lam.report("batch.toml")
print(report.answer)
