"""Three cycles and three cores by the program's own heat, gap and balance, gel by a published rate law.

Invented case: 3 mm laminate on both sides of a core, cavity 46 mm, tool 20 mm of aluminium, core 0.20 W/m/K
and 0.80 GPa. The expected pressures [MPa] are from a separate computation by other code, whose expansion,
contacts, hold time and laid-up thickness are not known; those here are chosen for it. So rows are held to
1.5 or 2 MPa where that suffices, and to their order where it does not.
"""

import numpy as np
import pytest

from laminate.curing.core_heat import Seat
from laminate.curing.draws import Columns, generator
from laminate.curing.plan_heat import heat_of
from laminate.curing.plan_pressure import pressing_of
from laminate.files.part import part_of
from laminate.files.toml import load

from .planned_shop import PART
from .shop import changed

CYCLES = """
[cycle.hold]
platen = [["0 min", "23 degC"], ["29 min", "110 degC"], ["89 min", "110 degC"], ["111 min", "177 degC"],
          ["220 min", "177 degC"]]
[cycle.ramp]
platen = [["0 min", "23 degC"], ["51.33 min", "177 degC"], ["140 min", "177 degC"]]
[cycle.hot]
platen = [["0 min", "150 degC"], ["9 min", "177 degC"], ["120 min", "177 degC"]]
"""
WIDTHS = ("37.45", "37.10", "36.70")


def part(folder, width, contact):
    text = changed(
        PART[: PART.index("[cycle.slow]")],
        ('width = "38.60 mm"', 'width = "46.00 mm"'),
        ('width = "31.20 mm"', f'width = "{width} mm"'),
        ("0.85 GPa ± 0.2 (tolerance)", "0.80 GPa"),
        ('resin_content = "33 %"', 'resin_content = "33.0786 %"'),
        ("bulk_factor = 1.10", "bulk_factor = 1.20"),
        ('conductivity = "0.25 W/m/K"', 'conductivity = "0.20 W/m/K"'),
        ("1000 W/m^2/K ± 600 (tolerance)", f"{contact} W/m^2/K"),
        ("2000 W/m^2/K ± 1000 (tolerance)", f"{contact} W/m^2/K"),
    )
    path = folder / "part.toml"
    path.write_text(text + CYCLES, "utf-8")
    return part_of(load(path, "part.toml")[0], "part.toml")


def gel(seconds, warm):
    """When each cell gels: autocatalytic law of an 8552 resin, conversion 0.01 to 0.47 [s].

    A 1.528e5 1/s, E 66.5 kJ/mol, m 0.8129, n 2.736, C 43.09, c0 -1.684, cT 5.475e-3 1/K; second-hand, four
    files agree.
    """
    share, found = np.full(warm.shape[1], 0.01), np.full(warm.shape[1], np.inf)
    for at in range(1, len(seconds)):
        step = (seconds[at] - seconds[at - 1]) / 4.0
        for quarter in range(4):
            now = warm[at - 1] + (warm[at] - warm[at - 1]) * (quarter + 0.5) / 4.0
            rate = 1.528e5 * np.exp(-66500.0 / 8.314 / now)

            def speed(a, rate=rate, now=now):
                return (
                    rate * a**0.8129 * (1 - a) ** 2.736 / (1 + np.exp(43.09 * (a + 1.684 - 5.475e-3 * now)))
                )

            after = share + step * speed(share + step / 2.0 * speed(share))
            hit = (share < 0.47) & (after >= 0.47)
            part_of_step = (0.47 - share[hit]) / (after[hit] - share[hit])
            found[hit] = seconds[at - 1] + step * (quarter + part_of_step)
            share = after
    return found


def test_the_rate_law_gels_as_published_sets_of_it_do():
    # 177 degC 24.02 min, 150 degC 74.66 min: other code on the same constants
    for celsius, minutes in ((177.0, 24.02), (150.0, 74.66)):
        seconds = np.arange(0.0, 6000.0, 5.0)
        found = gel(seconds, np.full((seconds.size, 1), celsius + 273.15))
        assert found[0] / 60.0 == pytest.approx(minutes, abs=0.02)


def pressures(folder, cycle, width, contact, *, naive, monkeypatch):
    """Pressure at gel [MPa], and how late the laminate is full [min]; naive: last ply, always in contact."""
    own = part(folder, width, contact)
    with monkeypatch.context() as patch:
        if naive:
            patch.setattr(Seat, "gap", lambda self, tool, mean: np.zeros(np.shape(mean)))
        columns = Columns(generator(), 2)
        heat = heat_of(own, cycle, "skin", {}, columns)
        applied = pressing_of(own, cycle, heat, columns).applied
    gels = gel(heat.seconds, heat.laminate[..., 0])
    at = gels.max() if naive else gels.min()
    full = heat.seconds[np.argmax(applied.values > 0.0)]
    return max(float(np.interp(at, applied.seconds, applied.values)), 0.0) / 1e6, (full - at) / 60.0


@pytest.mark.parametrize(
    ("width", "naive", "first"),
    [("37.45", 24.8, 21.8), ("37.10", 15.4, 11.7), ("36.70", 5.6, 0.6)],
)
def test_a_straight_ramp(tmp_path, monkeypatch, width, naive, first):
    for expected, how in ((naive, True), (first, False)):
        found, _ = pressures(tmp_path, "ramp", width, 1000, naive=how, monkeypatch=monkeypatch)
        assert found == pytest.approx(expected, abs=1.5)


@pytest.mark.parametrize(
    ("width", "first", "late"), [("37.45", 6.8, None), ("37.10", 0.0, 2.0), ("36.70", 0.0, 12.0)]
)
def test_into_a_hot_press_the_first_ply_gels_before_it_is_full(tmp_path, monkeypatch, width, first, late):
    found, behind = pressures(tmp_path, "hot", width, 3000, naive=False, monkeypatch=monkeypatch)
    naive, _ = pressures(tmp_path, "hot", width, 3000, naive=True, monkeypatch=monkeypatch)
    assert found == pytest.approx(first, abs=2.0)
    assert naive > found + (1.0 if width == "36.70" else 5.0)
    if late is not None:
        assert behind == pytest.approx(late, abs=1.5)


def test_a_long_hold_makes_the_naive_way_nearly_right(tmp_path, monkeypatch):
    loss = {
        cycle: [
            pressures(tmp_path, cycle, width, 1000, naive=True, monkeypatch=monkeypatch)[0]
            - pressures(tmp_path, cycle, width, 1000, naive=False, monkeypatch=monkeypatch)[0]
            for width in WIDTHS
        ]
        for cycle in ("hold", "ramp", "hot")
    }
    assert all(0.0 < held < straight for held, straight in zip(loss["hold"], loss["ramp"], strict=True))
    assert all(straight < hot for straight, hot in zip(loss["ramp"][:2], loss["hot"][:2], strict=True))
