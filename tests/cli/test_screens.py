"""What `predict`, `measure` and `report` print: nothing lost, units beside numbers, at any width."""

import re
from collections import Counter

import pytest

from laminate.cli import tables
from laminate.show.report_summary import not_inside
from tests.messages.wording import begins, says

DENSITIES = ("--fiber-density", "1.79 g/cm^3 ± 0.01 (k=2)", "--resin-density", "1.22 g/cm^3 ± 0.01 (k=2)")
PLY = ("predict", "--fiber-areal-weight", "134 g/m^2 ± 2 "
                                          "(tolerance)", "--resin-content", "35 %", "--plies", "16",
       "--area", "0.04 m^2", *DENSITIES)  # fmt: skip
CALLS = {
    "predict a part": ("predict", "part.toml"),
    "predict a batch": ("predict", "batch.toml"),
    "predict options": PLY,
    "measure a batch": ("measure", "batch.toml", "--why"),
    "measure a table": ("measure", "coupons.csv", *DENSITIES, "--balance", "0.1 mg (standard)", "--why"),
    "report": ("report", "batch.toml", "--why"),
}
ATTRIBUTES = (
    "cured_ply_thickness", "thickness", "fiber_volume", "resin_volume", "void_content", "fiber_content",
    "resin_content", "density", "areal_weight", "prepreg_areal_weight", "mass",
)  # fmt: skip
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w.]*\d)")


def messy(shop):
    """A batch with something of everything to say: zones, outlier, exclusion, retest, warnings, undecided."""
    shop.change("part.toml", 'max = "2 %"', 'max = "0.9 %"')
    heading, *rows = shop.read("coupons.csv").splitlines()
    more = [f"{row.replace('010', f'02{i}', 1)}" for i in range(3) for row in rows[:1]]
    far = rows[0].replace("0101", "0301").replace("2.873,2.871,2.872", "2.973,2.971,2.972")
    shop.table(
        f"{heading},excluded,replaces,remark",
        *(f"{row},,," for row in [*rows, *more, far]),
        f"{rows[1].replace('0102', '0401')},dropped on the floor,,",
        f"{rows[2].replace('0103', '0501')},,0201,edge chipped",
        f"{rows[2].replace('0103', '0601').replace('web', 'skin', 1)},,,",
    )


def numbers(text):
    """Every number on a screen with half a unit of its last digit."""
    for found in NUMBER.findall(text.replace("\N{MINUS SIGN}", "-")):
        yield float(found), 0.5 * 10.0 ** -len(found.partition(".")[2])


def on_screen(value, seen):
    """Whether a value is there, rounded, to no less than two digits of it."""
    return any(
        number == value or (abs(number - value) <= half * (1 + 1e-9) and half <= max(0.05 * abs(value), 5e-3))
        for number, half in seen
    )


def quantities(answer):
    """The values of the main answers: predicted attributes, averages, results against limits."""
    found = [
        one[key]["value"] for one in [answer, *answer.get("zones", [])] for key in ATTRIBUTES if key in one
    ]
    for zone in [answer.get("average", {}), *answer.get("average", {}).get("zones", {}).values()]:
        found += [zone[key]["value"] for key in ATTRIBUTES if key in zone]
    return found


@pytest.mark.parametrize("name", CALLS)
def test_every_main_number_is_on_the_screen(name, shop):
    answer = shop.json(*CALLS[name], status=(0, 1))
    seen = list(numbers(shop.run(*CALLS[name]).out))
    wanted = quantities(answer)
    if name == "report":
        wanted = []
        for one in (*answer["characteristics"], *answer["process"]):
            for which in ("individual", "average"):
                held = one["result"][which]
                values = [r["value"] for r in held["readings"]] if held else []
                wanted += [min(values), max(values)] if values else []
                wanted += [b for b in (one["limits"][which] or {}).values() if b is not None]
    assert len(wanted) >= 7
    assert [value for value in wanted if not on_screen(value, seen)] == []


def test_every_specimen_and_average_is_on_the_screen(shop):
    messy(shop)
    answer = shop.json("measure", "batch.toml")
    text = shop.run("measure", "batch.toml", "--why").out
    seen = list(numbers(text))
    shown = ("fiber_volume", "void_content", "resin_content", "thickness", "density")
    for specimen in answer["specimens"]:
        assert specimen["specimen"] in text
        for key in shown:
            assert on_screen(specimen[key]["value"], seen)
            assert on_screen(specimen[key]["expanded_uncertainty"], seen)
    for zone in answer["average"]["zones"].values():
        for key in shown:
            assert on_screen(zone[key]["value"], seen)
    for outlier in answer["outliers"]:
        assert f"normed residual {outlier['normed_residual']:.3f}, critical {outlier['critical']:.3f}" in text
    assert len(answer["outliers"]) > 0
    assert says("cli: every specimen and average", text)
    assert "repeated by 0501" in text
    assert says("cli: every specimen and average, 2", text)
    for warning in answer["warnings"]:
        assert warning["found"] in text
    for note in answer["notes"]:
        assert note in text
    for name in answer["not_measured"]:
        assert name in text


def words(text):
    return sorted(re.sub(r"[─\s]+", " ", text).split())


@pytest.mark.parametrize("name", CALLS)
@pytest.mark.parametrize("width", [80, 200])
def test_a_screen_of_any_width_and_a_pipe_say_the_same(name, width, shop, monkeypatch):
    messy(shop)
    piped = shop.run(*CALLS[name]).out
    monkeypatch.setattr(tables, "screen_width", lambda: width)
    out = shop.run(*CALLS[name]).out
    assert max(map(len, out.splitlines())) <= width
    assert Counter(words(piped)) - Counter(words(out)) == Counter()
    assert set(words(out)) == set(words(piped))  # a table in parts says its first column again


VALUE = re.compile(r"-?[\d.]+ ± [\d.]+ (?:%|mm|g/cm³|°C|in|lb/in³|°F)")


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", [name for name in CALLS if name != "predict options"])
def test_no_table_breaks_inside_a_value(name, units, shop, monkeypatch):
    messy(shop)
    piped = shop.run(*CALLS[name], "--units", units).out
    monkeypatch.setattr(tables, "screen_width", lambda: 80)
    out = shop.run(*CALLS[name], "--units", units).out
    of_tables = [
        value
        for line in piped.splitlines()
        if "  " in line.strip() and not line.lstrip().startswith("-")
        for value in VALUE.findall(line)
    ]
    assert len(of_tables) > 5
    assert [value for value in of_tables if value not in out] == []


@pytest.mark.parametrize("name", CALLS)
def test_no_color_no_escapes_no_stray_blanks(name, shop, monkeypatch):
    plain = shop.run(*CALLS[name]).out
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm-256color")
    assert shop.run(*CALLS[name]).out == plain
    assert "\x1b" not in plain
    assert [line for line in plain.splitlines() if line != line.rstrip()] == []


UNITS = r"%|mm|g/cm³|g/m²|°C|g\b|MPa|kN|K\b|in\b|mil\b|oz/yd²|lb/in³|°F|psi|lb\b"


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", CALLS)
def test_a_unit_stands_beside_every_spread(name, units, shop):
    """After each `x ± y` comes its unit."""
    messy(shop)
    text = shop.run(*CALLS[name], "--units", units).out
    stated = "Instruments, liquid and blanks as stated" if name == "report" else "Values that are not"
    spreads = re.findall(r"± [\d.]+ ?(\S*)", text.partition(stated)[0])
    assert len(spreads) > 5
    assert [unit for unit in spreads if not re.match(UNITS, unit)] == []


@pytest.mark.parametrize("name", CALLS)
def test_us_units_on_the_screen_and_metric_in_json(name, shop):
    messy(shop)
    plain = shop.json(*CALLS[name], status=(0, 1))
    assert shop.json(*CALLS[name], "--units", "us", status=(0, 1)) == plain
    text = shop.run(*CALLS[name], "--units", "us").out
    stated = "Instruments, liquid and blanks as stated" if name == "report" else "Values that are not"
    shown = text.partition(stated)[0].partition("One change that would make")[0]
    doubts = ("open doubt", "In doubt", "column '")  # as the table has it
    shown = "\n".join(line for line in shown.splitlines() if not any(word in line for word in doubts))
    assert re.search(r"\d in\b", shown)
    assert re.search(r"\d (?:mm\b|g/cm³|g/m²|°C)", shown) is None
    for key, factor in (("thickness", 25.4), ("density", 27.679904710203)):
        for zone in [plain, *plain.get("zones", [])]:
            if isinstance(zone, dict) and key in zone:
                assert on_screen(zone[key]["value"] / factor, list(numbers(text)))


def test_text_of_people_is_never_markup(shop):
    shop.change("batch.toml", 'id = "26-031"', 'id = "[bold]26[/bold]-[0/45]2s"')
    heading, *rows = shop.read("coupons.csv").splitlines()
    shop.table(heading, *(row.replace("010", "[0/45]2s-", 1) for row in rows))
    out = shop.run("report", "batch.toml", "--why").out
    assert "Batch [bold]26[/bold]-[0/45]2s of MAST-04" in out
    assert "[0/45]2s-1" in out


def test_the_answer_comes_first(shop):
    assert begins("cli: the answer comes first", shop.run("report", "batch.toml").out)
    assert shop.run("measure", "batch.toml").out.startswith("Zone web, 3 coupons: fiber volume 58.")
    assert shop.run(*PLY).out.startswith("16 plies: fiber volume 55.86 ± ")
    for name in ("report", "measure"):
        first, *_, last = shop.run(name, "batch.toml").out.splitlines()
        assert first.startswith(last.removesuffix("."))


def test_doubtful_readings_are_named_before_the_decision(shop):
    """Two digits swapped: the second line of the report says where, until the row answers for it."""
    shop.table(*shop.read("coupons.csv").replace("1.4427", "1.4247").splitlines())
    second = shop.run("report", "batch.toml").out.splitlines()[1]
    assert "coupons.csv: row 2, column 'mass in air'" in second
    head, *rows = shop.read("coupons.csv").splitlines()
    shop.table(f"{head},accepted", *(f"{row},{'weighed twice' if '1.4247' in row else ''}" for row in rows))
    text = shop.run("report", "batch.toml", "--why").out
    assert "open doubt" not in text
    assert re.search(r"accepted: weighed twice\b", text)


def test_methods_that_disagree_are_told_once_a_specimen(shop):
    shop.table(*shop.read("coupons.csv").replace("0.9763", "0.9363").splitlines())
    text = " ".join(shop.run("measure", "batch.toml", "--why").out.split())
    assert text.count("digestion and immersion against thickness and areal weight: fiber volume by") == 1
    assert says("cli: methods that disagree are told once", text)


def test_what_is_still_to_be_weighed_is_told_before_the_decision(shop):
    head, *rows = shop.read("coupons.csv").splitlines()
    at = head.split(",").index("residue mass [g]")
    cut = [",".join("" if i == at else cell for i, cell in enumerate(row.split(","))) for row in rows]
    shop.table(head, *cut)
    lines = shop.run("report", "batch.toml").out.splitlines()
    for found in (lines[1], shop.run("measure", "batch.toml").out.splitlines()[1]):
        assert all(f"{name} lacks " in found for name in ("0101", "0102", "0103"))
    assert says("cli: what is still to be weighed is told", lines)


TALL = 24


def short(shop, *call, monkeypatch):
    monkeypatch.setattr(tables, "screen_width", lambda: 80)
    return shop.run(*call).out.splitlines()


@pytest.mark.parametrize("name", ["report", "measure"])
@pytest.mark.parametrize("state", ["good", "messy", "much is missing"])
def test_one_screen_with_the_answer_first_and_last(name, state, shop, monkeypatch):
    """At most 24 lines between for a zone, 8 for a further one, 40 in all; what is hidden is counted."""
    if state == "messy":
        messy(shop)
    if state == "much is missing":
        lines = shop.read("batch.toml").splitlines()
        free = ("identity", "due", "calibrated", "expires", "out_", "moldings", "measured", "liquid", "wire")
        shop.write("batch.toml", "\n".join(one for one in lines if not one.startswith(free)) + "\n")
    shown = short(shop, name, "batch.toml", monkeypatch=monkeypatch)
    zones = 2 if state == "messy" else 1
    whole = shop.run(name, "batch.toml", "--why").out
    last = shown[-1]
    ahead = next(at for at, line in enumerate(shown) if line.endswith((".", ":")) or not line)
    behind = sum(1 for line in shown[-5:] if line in shown[: ahead + 1]) or 1
    assert len(shown) <= 40
    assert len(shown) - (ahead + 1) - behind <= TALL + 8 * (zones - 1)
    assert max(map(len, shown)) <= 80
    assert whole.splitlines()[-1] == last
    answer = shop.json(name, "batch.toml", status=(0, 1))
    if name == "report":
        text = " ".join(" ".join(shown).split())
        assert answer["covers"]["text"] in text
        missing = [one for one in answer["reasons"] if one not in " ".join(whole.split())]
        assert missing == []
        hidden = [one for one in answer["reasons"] if one not in text]
        assert bool(hidden) <= (says("cli: one screen with the answer first", text))


def test_results_are_drawn_between_their_limits(shop, monkeypatch):
    shop.change("part.toml", 'max = "2.95 mm"', 'max = "2.868 mm"')
    shown = short(shop, "report", "batch.toml", monkeypatch=monkeypatch)
    (line,) = [one for one in shown if one.startswith("thickness")]
    assert re.search(r"\|[.o-]+\|o", line)
    shown = "\n".join(shown)
    assert "outside: 0101" in shown
    assert "too close: 0102" in shown


def test_no_row_passes_what_the_plan_leaves_open(shop, monkeypatch):
    """Two coupons of three, each inside: of fiber volume the average is too."""
    shop.write("coupons.csv", "".join(shop.read("coupons.csv").splitlines(keepends=True)[:3]))
    shown = short(shop, "report", "batch.toml", monkeypatch=monkeypatch)
    table = shown[next(at for at, line in enumerate(shown) if line.startswith("what")) :]
    decided = [line.split()[-1] for line in table if "|." in line]
    assert decided == ["undecided"] * 4
    assert sum("2 of 3" in line for line in table) == 4


def test_voids_below_zero_are_not_called_close_to_their_limit(shop, monkeypatch):
    shop.change("part.toml", '[resin.epoxy]\ndensity = "1.22', '[resin.epoxy]\ndensity = "1.19')
    answer = shop.json("report", "batch.toml", status=[1])
    (voids,) = [one for one in answer["characteristics"] if one["name"] == "void_content"]
    (line,) = not_inside(voids, voids["result"]["individual"])
    assert says("judge: voids below zero are not called", line)


def test_bold_is_for_a_terminal_alone(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    assert tables.strong("conforms") == "conforms"
    monkeypatch.setattr(tables.sys.stdout, "isatty", lambda: True, raising=False)
    assert tables.strong("conforms") == "\x1b[1mconforms\x1b[0m"
    monkeypatch.setenv("TERM", "dumb")
    assert tables.strong("conforms") == "conforms"


def test_commas_that_could_stand_between_thousands_are_said_under_the_answer(shop):
    """A table of an English spreadsheet, copied: 2,873 um were taken as 2.873 without a word."""
    rows = ("specimen\tthickness 1 [um]\tthickness 2 [um]", "A1\t2,873\t2,871", "A2\t2,866\t2,868")
    shop.write("copied.csv", "\n".join(rows))
    lines = shop.run("measure", "copied.csv").out.splitlines()
    assert says("screens: commas that could stand between thousands", lines[1])


@pytest.mark.parametrize("command", ["report", "correct", "measure"])
def test_what_people_wrote_drives_no_terminal_and_hides_nothing(command, shop):
    """On the screen and on the page; blanks and letters of every language stay."""
    written = "26-03\\u200b1 conforms.\\u001b[8m\\u202e \\u00e9\\u00a0\\u6f22"
    shop.change("batch.toml", 'id = "26-031"', f'id = "{written}"')
    shop.change("batch.toml", 'press = "P2"', 'press = "P2\\u001b[2J\\u009b1m"')
    html = () if command == "measure" else ("--html", "page.html")
    out = shop.run(command, "batch.toml", "--why", *html).out
    page = (shop.folder / "page.html").read_text("utf-8") if html else ""
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u202a-\u202e]", out + page)
    for shown in (out, page) if command == "report" else ():
        assert "26-03\\u200b1 conforms.\\x1b[8m\\u202e é\xa0漢" in re.sub("[ \n]+", " ", shown)
