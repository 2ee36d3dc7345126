"""Coupons of known truth, thousands at once: measured with errors as stated, rounded, evaluated.

Every trial has densities, calibrations and blanks of its own, which lie about the stated values as the ±
says; where a ± was estimated from few degrees of freedom, each trial states its own. Invented laminate. SI.
"""

import math
from dataclasses import replace

import numpy as np

from laminate.coupons.counted import FEW
from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.methods import Plan, attributes
from laminate.coupons.readings import columns_of
from laminate.coupons.recipes import of_options
from laminate.files.coupons import NUMBERS, Coupon
from laminate.formulas.point_count import rare_half_width
from laminate.formulas.statistics import students_t
from laminate.formulas.water import water_density
from laminate.values.input_key import Key
from laminate.values.uncertainty import propagate
from laminate.values.units import SIValue, Spread

FIBER, RESIN, PLY, AIR = (1790.0, 5.0), (1280.0, 6.0), (0.150, 0.0006), (1.2, 0.01)
SHARE, LOSS = (0.002, 0.0005), (0.004, 0.001)
PLIES, PLY_SCATTER = 20, 0.012
WATER, CONTENT, VOIDS = 296.0, 0.67, 0.01
READING = {"mass": 1e-7, "temperature": 0.1, "length": 2e-6, "density": 1.5, "area": 1e-7}
CALIBRATION = {"mass": 1e-7, "temperature": 0.1, "length": 1.5e-6, "density": 1.0, "area": 1e-7}

METHODS = {
    "immersion": (Plan(density="immersion"), ("mass in air", "mass in liquid", "liquid temperature")),
    "digestion": (
        Plan(density="immersion", loss="digestion"),
        ("mass in air", "mass in liquid", "liquid temperature", "specimen mass", "residue mass"),
    ),
    "burn-off": (
        Plan(density="immersion", loss="ignition", crucible=True),
        ("mass in air", "mass in liquid", "liquid temperature",
         "crucible mass", "crucible with specimen", "crucible with residue"),
    ),
    "thickness": (Plan(thickness=True), ("thickness",)),
    "density alone": (Plan(density="density given"), ("density",)),
    "density and digestion": (
        Plan(density="density given", loss="digestion"), ("density", "specimen mass", "residue mass"),
    ),
}  # fmt: skip


def laminate(trials, generator):
    """What each coupon truly is, and what of it is asked for, by attribute."""
    x = {
        "fiber density": FIBER[0] + FIBER[1] * generator.standard_normal(trials),
        "resin density": RESIN[0] + RESIN[1] * generator.standard_normal(trials),
        "fiber areal weight": PLY[0] + PLY[1] * generator.standard_normal(trials),
        "air density": AIR[0] + AIR[1] * generator.standard_normal(trials),
        "residue share": SHARE[0] + SHARE[1] * generator.standard_normal(trials),
        "fiber loss": LOSS[0] + LOSS[1] * generator.standard_normal(trials),
    }
    content = CONTENT + 0.005 * generator.uniform(-1.0, 1.0, trials)
    voids = VOIDS * generator.uniform(0.0, 2.0, trials)
    rho = (1.0 - voids) / (content / x["fiber density"] + (1.0 - content) / x["resin density"])
    own = x["fiber areal weight"] * (1.0 + PLY_SCATTER / math.sqrt(PLIES) * generator.standard_normal(trials))
    volume = rho * content / x["fiber density"]
    truth = {
        "density": rho,
        "fiber_content": content,
        "resin_content": 1.0 - content,
        "fiber_volume": volume,
        "resin_volume": rho * (1.0 - content) / x["resin density"],
        "void_content": voids,
        "thickness": PLIES * own / (x["fiber density"] * volume),
    }
    truth["cured_ply_thickness"] = truth["thickness"] / PLIES
    return x, truth


def indications(x, truth, generator):
    """What exact instruments would show of each column [SI]."""
    trials = len(truth["density"])
    mass = 1.44e-3 * generator.uniform(0.9, 1.1, trials)
    kelvin = WATER + generator.uniform(-1.0, 1.0, trials)
    lost = (
        (mass / (truth["density"] - x["air density"]))
        * (water_density(temperature=kelvin) - x["air density"])
        * (1.0)
    )
    specimen = mass * generator.uniform(0.98, 1.0, trials)
    fibers = specimen * truth["fiber_content"]
    residue = fibers * (1.0 - x["fiber loss"]) + x["residue share"] * (specimen - fibers)
    crucible = 20e-3 * generator.uniform(0.9, 1.1, trials)
    return {
        "mass in air": mass,
        "mass in liquid": mass - lost,
        "liquid temperature": kelvin,
        "specimen mass": specimen,
        "residue mass": residue,
        "crucible mass": crucible,
        "crucible with specimen": crucible + specimen,
        "crucible with residue": crucible + residue,
        "thickness": truth["thickness"],
        "density": truth["density"],
    }


def readings(shown, columns, step, generator):
    """What is written down: scatter and one calibration error a trial and instrument, rounded [SI]."""
    trials = len(shown["density"])
    calibration = {kind: size * generator.standard_normal(trials) for kind, size in CALIBRATION.items()}
    found = {}
    for column in columns:
        kind = NUMBERS[column]
        value = shown[column] + calibration[kind] + READING[kind] * generator.standard_normal(trials)
        d = step * READING[kind]
        found[column] = d * np.round(value / d) if d else value
    return found


def evaluated(method, written, step):
    """Results, by attribute, of the readings with everything as stated."""
    plan, columns = METHODS[method]
    gauges = {
        name: Gauge(name, Spread(READING[kind]), Spread(CALIBRATION[kind]), step * READING[kind])
        for name, kind in (("balance", "mass"), ("thermometer", "temperature"), ("micrometer", "length"),
                           ("density", "density"))
    }  # fmt: skip
    bench = Bench(
        gauges,
        air_density=SIValue(*AIR),
        residue_share=SIValue(*SHARE),
        fiber_loss=SIValue(*LOSS),
        blank=True,
    )
    made = of_options(SIValue(*FIBER), SIValue(*RESIN), SIValue(*PLY))(PLIES)
    weight = Key("prepreg", "ud", "areal_weight")
    made = replace(
        made,
        values={**made.values, weight: SIValue(PLY[0])},
        fiber_areal_weight=lambda x: PLIES * (x["fiber areal weight"] + x[weight] - PLY[0]),
        ply_scatters={"ud": (Spread(PLY_SCATTER), PLIES)},
    )
    stand_in = Coupon("", "table", dict.fromkeys(columns, 1.0))
    x, sources, _ = columns_of([stand_in], plan, made, bench, written)
    return propagate(lambda y: attributes(y, plan, made), x, sources)


def expanded(result, stated=None):
    """U (n,) at 95 %: each source with the t of its own.

    stated: source -> factor (n,) by which each trial misstates it, and its degrees of freedom.
    """
    total = 0.0
    for source, part in zip(result.sources, result.contributions, strict=True):
        factor, dof = (stated or {}).get(str(source.name), (1.0, source.dof))
        total = total + (students_t(confidence=0.95, dof=dof) * factor * part) ** 2
    return np.sqrt(total)


def estimated(dof, trials, generator):
    """Factors by which estimates of a standard uncertainty from so many degrees of freedom miss it."""
    return np.sqrt(generator.chisquare(dof, trials) / dof) if math.isfinite(dof) else np.ones(trials)


def shares(method, step, dof, trials, seed):
    """Attribute and method -> share of the trials whose U covers the truth; densities known from dof."""
    generator = np.random.default_rng(seed)
    x, truth = laminate(trials, generator)
    written = readings(indications(x, truth, generator), METHODS[method][1], step, generator)
    stated = {
        name: (estimated(dof, trials, generator), dof)
        for name in ("fiber density", "resin density", "residue share", "fiber loss")
    }
    found = {}
    for key, result in evaluated(method, written, step).items():
        wide = expanded(result, stated)
        found[key] = float((np.abs(result.value - truth[key[0]]) <= wide).mean())
    return found


def point_counts(share, fields, points, uneven, trials, seed):
    """Share of the trials whose U covers the share that points were counted of (ASTM E562).

    uneven: how much the fields differ, of the share.
    """
    generator = np.random.default_rng(seed)
    true = np.clip(share * (1.0 + uneven * generator.standard_normal((trials, fields))), 0.0, 1.0)
    counted = generator.binomial(points, true) / points
    found = rule_of_points(counted, fields * points)
    return float((np.abs(counted.mean(axis=1) - true.mean()) <= found).mean())


def rule_of_points(counted, total):
    """U (n,) of the mean over the fields, as `measure` has it."""
    mean, n = counted.mean(axis=1), counted.shape[1]
    u = counted.std(axis=1, ddof=1) / math.sqrt(n)
    kept = (mean * total + 0.5) / (total + 1.0)
    alike = students_t(confidence=0.95, dof=math.inf) * np.sqrt(kept * (1.0 - kept) / total)
    wide = np.where(u > 0.0, students_t(confidence=0.95, dof=n - 1) * u, alike)
    few = np.minimum(mean, 1.0 - mean) * total < FEW
    return np.where(few, np.maximum(wide, rare_half_width(share=mean, points=total)), wide)


def rounded_averages(n, step, ratio, dof, trials, seed):
    """Share of the trials whose U covers, of averages of n readings rounded to `step` of their scatter.

    ratio: of the shared source to the scatter of one; dof: its degrees of freedom.
    """
    generator = np.random.default_rng(seed)
    truth = generator.uniform(0.0, max(step, 1.0), (trials, 1))
    read = truth + generator.standard_normal((trials, n))
    written = step * np.round(read / step) if step else read
    mean = written.mean(axis=1) - truth[:, 0] + ratio * generator.standard_normal(trials)
    stated = ratio * estimated(dof, trials, generator)
    return float((np.abs(mean) <= rule_of_averages(written, step, stated, dof)).mean())


def rule_of_averages(written, step, shared, dof):
    """U (n,) of the average of rounded readings with one shared source."""
    n, q2 = written.shape[1], step**2 / 12.0
    t, normal, other = (
        float(students_t(confidence=0.95, dof=nu)) for nu in (written.shape[1] - 1, math.inf, dof)
    )
    seen = written.var(axis=1, ddof=1) + q2
    return np.sqrt(t**2 * seen / n + normal**2 * q2 + (other * shared) ** 2)


def repeats(count, coupons, step, trials, seed):
    """Share of the trials whose U covers, of one coupon's mean of repeats that alone say how they scatter."""
    generator = np.random.default_rng(seed)
    truth = generator.uniform(0.0, max(step, 1.0), (trials, coupons, 1))
    read = truth + generator.standard_normal((trials, coupons, count))
    written = step * np.round(read / step) if step else read
    wide = rule_of_repeats(written, step)
    return float((np.abs(written.mean(axis=2) - truth[:, :, 0])[:, 0] <= wide).mean())


def rule_of_repeats(written, step):
    """U (n,) of each coupon's mean, its repeats pooled over the coupons."""
    _, coupons, count = written.shape
    pooled, q2 = written.var(axis=2, ddof=1).mean(axis=1), step**2 / 12.0
    t = float(students_t(confidence=0.95, dof=coupons * (count - 1)))
    normal = float(students_t(confidence=0.95, dof=math.inf))
    return np.sqrt(t**2 * (pooled + q2) / count + normal**2 * q2)
