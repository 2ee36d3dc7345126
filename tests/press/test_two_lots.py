"""Two lots of one prepreg in a zone: whichever it is of, its values go together."""

import math
import shutil
from importlib.resources import as_file, files

import pytest

import laminate as lam

LOT = """
[[lot]]
prepreg = "ud150"
number = "L2240"
share = "40 %"
fiber_areal_weight = "{weight} g/m^2{spread}"
resin_content = "{content} %{spread}"
resin_basis = "volatile-free"
expires = 2027-06-01
out_time = "12 d"
out_life = "30 d"
"""


def predicted(folder, first, second, spread=" (exact)"):
    """Fiber areal weight [g/m2] and resin content [%] of each lot -> thickness of the skin."""
    with as_file(files("laminate.examples") / "mast") as mast:
        shutil.copytree(mast, folder, dirs_exist_ok=True)
    text = (folder / "batch.toml").read_text("utf-8")
    begin = text.index("[[lot]]")
    end = text.index("\n[", begin + 1)
    lots = "".join(
        LOT.format(weight=weight, content=content, spread=spread)
        .replace("40 %", share)
        .replace("2240", number)
        for (weight, content), share, number in ((first, "60 %", "2231"), (second, "40 %", "2240"))
    )
    (folder / "batch.toml").write_text(text[:begin] + lots.strip() + "\n" + text[end:], "utf-8")
    return lam.predict(folder / "batch.toml").zones["skin"]


@pytest.mark.parametrize("second", [(148.0, 34.5), (150.6, 34.5), (148.0, 33.1)])
@pytest.mark.parametrize("spread", [" (exact)", ""])
def test_their_areal_weight_and_resin_content_are_of_one_lot(tmp_path, second, spread):
    """By hand: of one lot with 60 %, else of the other: u is sqrt(0.6 x 0.4) of their difference.

    Without a ± of their own the difference of the lots counts too.
    """
    first = (150.6, 33.1)
    alone = [predicted(tmp_path / str(n), lot, lot) for n, lot in enumerate((first, second))]
    mixed = predicted(tmp_path / "mixed", first, second, spread)
    for name in ("thickness", "fiber_volume"):
        one, other, both = (getattr(zone, name) for zone in (*alone, mixed))
        u = math.hypot(math.sqrt(0.24) * (one.value - other.value), one.u)
        assert both.u == pytest.approx(u, rel=0.02)
