"""A gap closes only where the clamp has pressure left for it beside what presses in the same tool."""

import copy
import tomllib
from pathlib import Path

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.show import fill_json
from laminate.show.fill_words import fill_blocks
from tests.messages.wording import says

MAST = tomllib.loads((Path(__file__).parents[2] / "examples" / "mast" / "part.toml").read_text("utf-8"))
PANEL = tomllib.loads((Path(__file__).parents[2] / "examples" / "panel" / "part.toml").read_text("utf-8"))


def answer(tables, edit=lambda raw: None, **more):
    raw = copy.deepcopy(tables)
    edit(raw)
    return fill(part_of(raw, "part.toml"), "part.toml", **{"draws": 2000, "inverse": False, **more})


def web(edit=lambda raw: None):
    return next(z for z in answer(MAST, edit, plies={"skin": 20}).zones if z.zone == "web")


def first_words(zone):
    from laminate.show.fill_answer import headline

    return "".join(headline(zone, "metric"))


def clamp(force):
    return lambda raw: raw["tool"].update(clamp_force=force)


def test_what_the_clamp_has_left():
    """The core takes 4.893 MPa on 0.036 m2 at gel with 3 % bled; the web has 0.006 m2 (arithmetic)."""
    found = web()
    assert found.use is not None
    left = (900e3 - 4.893e6 * 0.036) / 0.006
    assert found.left_to_close == pytest.approx(left, rel=2e-3)


def test_a_clamp_that_the_core_uses_up_does_not_close_the_gap():
    found = web(clamp("20 kN"))
    assert (found.use, {row.verdict for row in found.rows}) == (None, {"too few", "too many"})
    assert found.left_to_close < 0.0
    assert all(row.chance.closes < 0.2 for row in found.rows)
    assert says("fill: a clamp that the core uses up", first_words(found))


def test_a_clamp_at_the_edge_closes_in_a_part_of_the_draws():
    found = web(clamp("180 kN"))
    assert 0.2 < found.best.chance.closes < 0.8
    assert found.best.chance.all <= found.best.chance.closes


@pytest.mark.parametrize(("wanted", "verdict"), [("20 MPa", "fits"), ("200 MPa", "too many")])
def test_a_pressure_that_the_gap_is_to_close_with(wanted, verdict):
    found = web(lambda raw: raw["zone"]["web"].update(wanted_pressure=wanted))
    assert found.best.verdict == verdict


@pytest.mark.parametrize(
    ("edit", "missing"),
    [
        (lambda raw: raw["tool"].pop("clamp_force"), "clamp force"),
        (lambda raw: raw["zone"]["web"].pop("projected_area"), "projected area of zone web"),
    ],
)
def test_what_is_not_given_is_not_judged_and_named(edit, missing):
    found = web(edit)
    assert (found.use, found.best.verdict, found.left_to_close) == (None, "not judged", None)
    assert missing in first_words(found)
    told = next(z for z in fill_json.ANSWER.json(answer(MAST, edit))["zones"] if z["zone"] == "web")
    assert missing in told["missing_for_use"]
    assert told["left_to_close"] is None
    chance = next(row for row in told["counts"] if row["verdict"] == "not judged")["chance"]
    assert (chance["closes"], chance["all"]) == (None, None)
    assert chance["fills"] > 0.9


def test_a_wanted_pressure_is_not_asked_for_where_what_is_left_is_not_known():
    """0.5 kN leave 0.083 MPa at most, less than the vapor at gel has; beside a room of unknown area less."""

    def edit(raw):
        clamp("0.5 kN")(raw)
        raw["room"]["skin"].pop("opens")

    found = web(edit)
    assert (found.best.verdict, len(found.left_out)) == ("not judged", 1)
    assert "zone.web.wanted_pressure" not in found.missing


def test_a_gap_alone_in_its_tool_is_judged_by_a_wanted_pressure():
    """Nothing takes from the clamp: all of it closes the gap."""
    name = next(iter(PANEL["zone"]))

    def asked(wanted):
        def edit(raw):
            raw["tool"]["clamp_force"] = "1000 kN"
            raw["zone"][name].update(wanted_pressure=wanted, projected_area="0.2 m^2")

        return answer(PANEL, edit)

    (free, *_), (held, *_) = asked("1 MPa").zones, asked("6 MPa").zones
    assert free.left_to_close == pytest.approx(5e6)
    assert (free.best.verdict, held.best.verdict) == ("fits", "too many")
    assert "6" in first_words(held)
    assert asked("1 MPa").forces is None


def test_a_bladder_is_not_called_rubber():
    bladder = tomllib.loads(
        (Path(__file__).parents[2] / "examples" / "bladder" / "part.toml").read_text("utf-8")
    )
    for tables, rubber in ((bladder, False), (MAST, True)):
        blocks = fill_blocks(answer(tables), "metric")
        text = "\n".join(block.text for block in blocks if hasattr(block, "text"))
        assert (says("fill: a bladder is not called rubber", text)) is rubber


def panel(**changed):
    """The panel with keys of tool and zone changed; None leaves a key out."""

    def edit(raw):
        for table in (raw["tool"], raw["zone"]["panel"]):
            for key in table.keys() & changed.keys():
                table.pop(key)
        raw["tool"] |= {k: v for k, v in changed.items() if k in ("clamp_force", "pressure_limit") and v}
        raw["zone"]["panel"] |= {
            k: changed[k] for k in ("wanted_pressure", "projected_area") if changed.get(k)
        }

    return answer(PANEL, edit)


def test_what_is_not_stated_of_the_press_is_told_beside_a_gap_that_is_to_close():
    """500 kN on 0.09 m2 are 5.6 MPa: where none is wanted, none is needed beyond the vapor in the resin."""
    (whole,), (more,) = panel().zones, panel(wanted_pressure="6 MPa").zones
    assert (whole.grade, whole.missing, more.use) == ("use", (), None)
    nothing = panel(wanted_pressure=None)
    assert nothing.zones[0].grade == "use"
    assert nothing.zones[0].left_to_close == pytest.approx(500e3 / 0.09)
    for key in ("clamp_force", "projected_area"):
        (found,) = panel(**{key: None}).zones
        assert (found.grade, found.use, found.best.verdict) == ("do not", None, "not judged")
    unlimited = panel(pressure_limit=None)
    assert unlimited.zones[0].grade == "use"
    assert says("fill: what the clamp has, no limit", screen(unlimited))


def test_what_a_clamp_presses_with_is_said_where_nothing_is_wanted():
    """500 N, as of a slip of kN, are 5.6 kPa on 0.09 m2."""
    small = panel(clamp_force="500 N", wanted_pressure=None)
    (found,) = small.zones
    assert found.left_to_close == pytest.approx(500 / 0.09)
    assert (found.grade, found.missing) == ("risky", ("zone.panel.wanted_pressure",))
    assert says("fill: what the clamp has, nothing wanted", screen(small))


def screen(found):
    from laminate.show.fill_screen import screen_blocks

    return " ".join(block.text for block in screen_blocks(found, "metric") if hasattr(block, "text"))


def test_a_gap_does_not_close_with_more_than_its_tool_is_built_for():
    weak = panel(wanted_pressure="5 MPa", pressure_limit="0.1 MPa")
    (found,), (good,) = weak.zones, panel(wanted_pressure="5 MPa", pressure_limit="6 MPa").zones
    assert (found.use, found.best.verdict, good.grade) == (None, "too many", "use")
    assert found.best.chance.closes == 0.0
    assert says("fill: more is wanted than the tool is built for", first_words(found))


def test_a_clamp_that_presses_harder_than_the_tool_is_built_for_is_said():
    """5.6 MPa until the gap is shut, on walls for 2 MPa; the README's rule that rubber has of its own."""
    weak = panel(wanted_pressure="1 MPa", pressure_limit="2 MPa")
    assert weak.zones[0].grade == "use"
    assert says("fill: a clamp that presses harder than the tool is built for", screen(weak))
    assert not says("fill: a clamp that presses harder than the tool is built for", screen(panel()))


@pytest.mark.parametrize(("density", "told"), [("1.79 g/cm^3", False), ("2.54 g/cm^3", True)])
def test_a_density_that_no_fiber_of_its_kind_has_is_told(density, told):
    """2.54 g/cm3 is that of glass; a kind of another name has what it has."""

    def carbon(raw):
        raw["fiber"]["carbon"]["density"] = f"{density} ± 0.01 (tolerance)"

    found = answer(PANEL, carbon)
    assert says("fill: a density of another kind", screen(found)) == told


def test_the_pressure_of_a_bladder_has_the_interval_of_the_draws():
    """0.6 MPa ± 0.02 (tolerance): 95 % of the draws lie within 0.95 x 0.02 of it."""
    file = Path(__file__).parents[2] / "examples" / "bladder" / "part.toml"
    part = part_of(tomllib.loads(file.read_text("utf-8")), "part.toml")
    told = fill_json.ANSWER.json(fill(part, "part.toml", inverse=False, draws=40_000))
    for row in told["zones"][0]["counts"]:
        for band in (row["pressure_at_gel"], row["pressure_at_worst"]):
            assert band["value"] == pytest.approx(0.6)
            assert (band["low"], band["high"]) == pytest.approx((0.581, 0.619), abs=2e-4)
