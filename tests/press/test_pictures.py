"""The points of what is drawn agree with the press, and the pages hold them."""

import base64
import re

import numpy as np
import pytest

from laminate.files.named_file import NamedFile
from laminate.press.curves import along_bleed, along_temperature
from laminate.press.room_question import RoomQuestion
from laminate.press.section import section_of
from laminate.press.windows import bleed_window, gives_way_at
from laminate.show.press_pictures import bleed_figure, temperature_figure
from laminate.show.section_picture import letters, section_figure
from tests.messages.wording import says

from . import parts

COUNTS = {"skin": 20, "web": 20}


def asked(press, **counts):
    return RoomQuestion(press, press.rooms[0], counts or press.counts({}))


def mast():
    return asked(parts.press(), **COUNTS)


def test_pressure_against_bleed_has_the_figures_of_two_other_programs():
    """MPa at gel and at 130 degC; two programs that share nothing with this one or with each other."""
    found = along_bleed(mast(), [{**COUNTS, "skin": 21}, {**COUNTS, "skin": 22}])
    gel = {0.0: 4.056, 0.01: 3.340, 0.02: 2.630, 0.03: 1.926, 0.04: 1.229}
    worst = {0.0: 11.914, 0.01: 11.135, 0.02: 10.364, 0.03: 9.598, 0.04: 8.840, 0.15: 7.504}
    for points, values in ((gel, found.asked.gel), (worst, found.asked.worst)):
        for bleed, pressure in points.items():
            k = int(np.argmin(np.abs(np.array(found.asked.bleed) - bleed)))
            assert found.asked.bleed[k] == pytest.approx(bleed, abs=1e-12)
            assert values[k] / 1e6 == pytest.approx(pressure, abs=6e-4)
    assert found.none_left == pytest.approx(0.05784, abs=6e-6)
    assert [one.gel[0] / 1e6 for one in found.others] == pytest.approx([12.620, 22.098], abs=6e-4)
    assert [one.worst[0] / 1e6 for one in found.others] == pytest.approx([21.226, 31.530], abs=6e-4)
    assert found.clamp_at_gel[0] / 1e6 == pytest.approx(14.3, abs=0.05)
    assert found.asked.gel[-1] == 0.0


def test_the_window_that_is_shaded_is_that_of_the_press():
    ask = mast()
    found = along_bleed(ask)
    assert found.window == bleed_window(ask.press, ask.room.name, COUNTS)
    # the corners of the curve and of the window are points of it
    for corner in (found.window.presses, found.none_left):
        assert min(abs(b - corner) for b in found.asked.bleed) < 1e-12
    inside = [p for b, p in zip(found.asked.bleed, found.asked.gel, strict=True) if b <= found.window.presses]
    assert min(inside) >= found.needed - 1.0


def test_pressure_against_temperature_runs_through_the_moments_of_the_cycle():
    """Gel at 118 degC in a tool at 120: a little below the curve of both together; 130 and 130: on it."""
    ask = mast()
    found = along_temperature(ask, "fore")
    assert [moment.name for moment in found.moments] == ["gel", "cure", "maximum"]
    pressures = {moment.name: moment.pressure / 1e6 for moment in found.moments}
    assert pressures["gel"] == pytest.approx(4.056, abs=6e-4)
    assert pressures["maximum"] == pytest.approx(11.914, abs=6e-4)
    at_top = np.interp(found.moments[-1].core, found.temperature, found.nominal) / 1e6
    assert at_top == pytest.approx(11.914, abs=0.01)
    together = np.interp(found.gel, found.temperature, found.nominal) / 1e6
    assert 0.0 < together - pressures["gel"] < 0.8
    assert found.gives_way == gives_way_at(ask.state())
    assert found.gives_way - 273.15 == pytest.approx(135.98, abs=0.01)
    assert found.temperature[-1] > found.gives_way
    nominal = np.array(found.nominal)
    assert np.all(np.array(found.low) <= nominal + 1.0)
    assert np.all(nominal <= np.array(found.high) + 1.0)
    assert np.all(np.array(found.lowest) <= nominal)
    assert np.all(nominal <= np.array(found.locked))


def test_a_core_that_does_not_touch_in_the_cycle_is_drawn_along_the_cycle(recwarn):
    found = along_temperature(asked(parts.press(), skin=12, web=20), "fore")
    assert found.temperature[0] < found.gel < found.highest < found.temperature[-1]
    assert max(found.high) == 0.0
    assert temperature_figure(found, "fore", "metric", "x").svg
    assert not recwarn.list


def test_the_room_is_filled_in_every_direction():
    """Plies of 0.0837989 and 0.0663610 mm of fiber and liquid resin; tool 97 K above the room, 23.6e-6 /K."""
    section = section_of(asked(parts.box()), bleed=0.0)
    ply, grown = 0.0837989e-3 + 0.0663610e-3, 1.0 + 23.6e-6 * 97.0
    taken = {wall.place: wall.thickness for wall in section.walls}
    assert taken == pytest.approx(
        {"left": 20 * ply, "right": 20 * ply, "top": 24 * ply, "bottom": 24 * ply}, rel=1e-5
    )
    (core,) = section.cores
    assert section.filled
    assert taken["left"] + core.width + taken["right"] == pytest.approx(46e-3 * grown, rel=1e-12)
    assert taken["top"] + core.height + taken["bottom"] == pytest.approx(34e-3 * grown, rel=1e-12)


def test_webs_lie_between_cores_and_all_of_it_fills_the_width():
    section = section_of(asked(parts.webbed()), bleed=0.0)
    assert [wall.zone for wall in section.webs] == ["web"]
    outer = sum(section.at(place).thickness for place in ("left", "right"))
    cores = sum(core.width for core in section.cores)
    assert outer + cores + section.webs[0].thickness == pytest.approx(section.width, rel=1e-12)
    assert section.webs[0].plies == 16
    assert len(set(letters(section).values())) == 4


def test_a_round_room_is_round():
    section = section_of(asked(parts.tube()), bleed=0.0)
    (wall,), (core,) = section.walls, section.cores
    assert section.kind == "round"
    assert core.width + 2 * wall.thickness == pytest.approx(section.width, rel=1e-12)


def test_a_core_that_does_not_fill_its_room_keeps_its_own_size():
    def thin(tables):
        tables["core"]["fore"]["width"] = "38 mm"

    section = section_of(asked(parts.box(thin)), bleed=0.0)
    assert not section.filled
    assert section.cores[0].width == pytest.approx(38e-3 * (1.0 + 265e-6 * 95.0), rel=1e-12)
    both = section.at("left").thickness + section.at("right").thickness
    assert section.cores[0].width + both < section.width


def test_several_laminates_on_one_side_are_all_told():
    def change(tables):
        tables["zone"]["cap"]["share"] = "60 %"
        tables["zone"]["thin"] = parts.zone("height", 22, share="40 %")

    section = section_of(asked(parts.box(change)), bleed=0.0)
    assert section.at("top").zone == "cap"
    assert [(w.zone, w.share) for w in section.walls if w.place == "top"] == [("cap", 0.6), ("thin", 0.4)]
    assert len(section_figure(section, "metric", "x").marks) == 4


def test_a_room_by_volume_is_told_and_not_drawn():
    def change(tables):
        tables["room"]["box"] = {"volume": "940 cm^3"}
        tables["core"]["fore"] = {
            k: v for k, v in tables["core"]["fore"].items() if k not in ("width", "height", "length")
        } | {"volume": "608 cm^3"}
        for name in ("side", "cap"):
            tables["zone"][name].pop("side")
            tables["zone"][name]["area"] = "0.02 m^2"

    figure = section_figure(section_of(asked(parts.box(change))), "metric", "x")
    assert figure.svg == ""
    assert "940.0 cm^3" in figure.words
    assert len(figure.numbers.rows) == 4


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_numbers_beside_a_picture_are_its_points(units):
    found = along_bleed(mast())
    grid = bleed_figure(found, "room", units, "x").numbers
    per = {"metric": 1e-6, "us": 1.0 / 6894.757293168}[units]
    first, last = grid.rows[0], grid.rows[-1]
    assert [float(cell) for cell in first] == pytest.approx(
        [0.0, found.asked.gel[0] * per, found.asked.worst[0] * per], abs=0.006
    )
    assert float(last[0]) == pytest.approx(100.0 * found.asked.bleed[-1])
    hot = along_temperature(mast(), "fore")
    rows = temperature_figure(hot, "fore", units, "x").numbers.rows
    assert [float(cell) for cell in rows[0][1:]] == pytest.approx([0.0, 0.0, hot.locked[0] * per], abs=0.006)


def test_an_answer_draws_itself_on_axes(checkout):
    from matplotlib.figure import Figure

    import laminate as lam

    part, axes = checkout / "examples" / "oil" / "part.toml", Figure().add_subplot()
    answer = lam.core(part, plies=17, draws=1000)
    assert answer.plot(axes) is axes
    ask = answer.result.cores[0].ask
    expected = along_temperature(ask, "oil")
    drawn = [tuple(line.get_ydata()) for line in axes.get_lines()]
    for curve in (expected.nominal, expected.locked, expected.lowest):
        assert any(len(y) == len(curve) and np.allclose(y, np.array(curve) / 1e6) for y in drawn)
    filled = lam.fill(part, draws=1000)
    axes = filled.plot(Figure().add_subplot())
    points = next(line for line in axes.get_lines() if line.get_label() == "pressure at gel")
    row = next(row for row in filled.zones[0].counts if row.plies == filled.zones[0].use)
    bled = np.interp(2.0, points.get_xdata(), points.get_ydata())
    assert bled == pytest.approx(row.pressure_at_gel["value"], abs=2e-3)  # 2 % are stated
    section = answer.plot(Figure().add_subplot(), "section")
    assert section.get_aspect() == 1.0
    with pytest.raises(lam.Refused, match="section"):
        lam.fill(checkout / "examples" / "panel" / "part.toml", draws=1000).plot(attribute="section")


def test_a_count_fits_where_the_hot_gap_crosses_its_bar(checkout):
    """Formula 8: filled up to f + l + y, closed down to the bled or the packed stack."""
    from laminate.files.part import read_part
    from laminate.press.filling import fill
    from laminate.show.engineer_plots import gaps_figure

    part, _ = read_part(NamedFile.at(checkout / "examples" / "panel" / "part.toml"))
    seen = set()
    for zone in fill(part, draws=1000).zones:
        for row, (low, high) in zip(zone.rows, zone.gaps, strict=True):
            gap = zone.hot_gap.value
            seen.add(row.verdict)
            assert (row.verdict == "too few") == (gap > high), row.plies
            assert (low <= gap <= high) == (row.verdict in ("fits", "not judged")), row.plies
            assert row.fill_ratio.value == pytest.approx(high / gap, rel=1e-9)
        rows = gaps_figure(zone, "metric", "x").numbers.rows
        assert [float(cell) for cell in rows[0][1:]] == pytest.approx(
            [1e3 * end for end in zone.gaps[0]], abs=6e-4
        )
    assert {"too few", "too many"} <= seen


def pictures(page):
    return [
        base64.b64decode(one).decode()
        for one in re.findall(r'src="data:image/svg\+xml;base64,([^"]*)"', page)
    ]


def test_fill_and_core_put_their_pictures_on_the_page(shop):
    shop.run("fill", "part.toml", "--draws", "2000", "--html", "fill.html")
    page = shop.read("fill.html")
    drawn = pictures(page)
    assert len(drawn) == 5  # the room, its pressure against bleed, gaps of one zone, fiber volume of both
    assert sum(says("press: fill and core put their pictures", one) for one in drawn) == 1
    assert sum("10 mm" in one for one in drawn) == 1
    shop.run("core", "part.toml", "--draws", "2000", "--html", "core.html")
    page = shop.read("core.html")
    assert len(pictures(page)) == 3
    assert sum(says("press: fill and core put their pictures, 2", one) for one in pictures(page)) == 1
    for name in ("core.html", "fill.html"):
        assert "degC" not in shop.read(name).partition("<main>")[2]
        assert "<details>" in shop.read(name)
