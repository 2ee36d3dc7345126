"""What was once answered too well, one scenario each, with the answer that it must have."""

import pytest

from tests.messages.wording import says

from .test_nothing_is_bought import rows_of, write

OPEN, GOOD, BAD = "undecided", "conforms", "does not conform"
LOSS = ("method", "specimen mass [g]", "residue mass [g]")
WET = ("mass in air [g]", "mass in liquid [g]", "liquid temperature [degC]")
LOT_BEGINS, LOT_ENDS = "[[lot]]", "[fiber.carbon]"


def judged(shop):
    found = shop.json("report", "batch.toml", status=(0, 1))
    return found["answer"], {one["rule"] for one in found["held_back"]}, found


def test_one_specimen_under_two_names_in_two_tables(shop):
    """F-3 in the table of immersions, F3 in that of digestions: no voids of it, and it is asked about."""
    rows = rows_of(shop)
    third = {**rows[2], "specimen": "F-3"}
    write(shop, [*rows[:2], {key: text for key, text in third.items() if key not in LOSS}])
    burnt = {"specimen": "F3", "zone": "web", **{key: third[key] for key in LOSS}}
    shop.write("loss.csv", ",".join(burnt) + "\n" + ",".join(burnt.values()) + "\n")
    shop.change("batch.toml", 'coupons = ["coupons.csv"]', 'coupons = ["coupons.csv", "loss.csv"]')
    answer, rules, found = judged(shop)
    assert (answer, rules) == (OPEN, {1})
    whats = [one["what"] for one in found["held_back"]]
    assert "incomplete: F-3 lacks digestion" in whats
    assert any(what.startswith("incomplete: F3 lacks immersion") for what in whats)
    assert says("judge: one specimen under two names", whats)
    for call in (("report", "batch.toml"), ("measure", "batch.toml")):
        top = shop.run(*call).out.splitlines()[1]
        assert "ncomplete: F-3 lacks digestion; F3 lacks immersion" in top


def test_a_digestion_whose_cells_are_empty(shop):
    rows = rows_of(shop)
    write(shop, [*rows[:2], {**rows[2], **dict.fromkeys(LOSS, "")}])
    assert judged(shop)[:2] == (OPEN, {1})


def lots(shop, *tables):
    text = shop.read("batch.toml")
    start, end = text.index(LOT_BEGINS), text.index(LOT_ENDS)
    whole = text[start:end]
    made = []
    for changes in tables:
        one = whole
        for old, new in changes:
            assert old in one
            one = one.replace(old, new)
        made.append(one)
    shop.write("batch.toml", text[:start] + "".join(made) + text[end:])


EXPIRES, NUMBER = "expires = 2027-06-01 ", '"L2231"'
HALF = ('prepreg = "ud150"\n', 'prepreg = "ud150"\nshare = "50 %"\n')
LOTS = {
    "one good lot": ([[]], GOOD, 0),
    "no lot": ([], OPEN, 1),
    "a second lot past its expiry": (
        [[HALF], [HALF, (NUMBER, '"L9"'), (EXPIRES, "expires = 2026-11-01 ")]],
        OPEN,
        1,
    ),
    "a lot made after it was molded": ([[(EXPIRES, f"made = 2026-11-19\n{EXPIRES}")]], OPEN, 1),
    "a lot made the day before": ([[(EXPIRES, f"made = 2026-11-17\n{EXPIRES}")]], GOOD, 0),
    "a lot without its number": ([[(f"number = {NUMBER}\n", 'number = ""\n')]], OPEN, 1),
    "an out life that nobody recorded": (
        [[('out_life = "30 d"', 'out_life = "not recorded: no sheet"')]],
        GOOD,
        0,
    ),
}


@pytest.mark.parametrize("case", LOTS)
def test_the_lots_of_a_batch(case, shop):
    tables, answer, count = LOTS[case]
    lots(shop, *tables)
    if answer == OPEN:  # rows that name a lot which is not there are refused before
        head, *rows = shop.read("coupons.csv").splitlines()
        shop.write("coupons.csv", "\n".join([head, *(row.replace("L2231", "") for row in rows)]) + "\n")
    found = shop.json("report", "batch.toml", status=(0, 1))
    assert found["answer"] == answer
    assert len([one for one in found["held_back"] if one["rule"] == 7]) == count


@pytest.mark.parametrize(
    ("key", "text", "made", "answer"),
    [
        ("shelf_life", "365 d", "2025-11-19", GOOD),
        ("shelf_life", "365 d", "2025-11-17", OPEN),
        ("shelf_life", "365 d ± 5 (tolerance)", "2025-11-20", OPEN),
        ("shelf_life", "365 d", None, OPEN),
        ("out_life", "12 d", None, GOOD),
        ("out_life", "288 h", None, GOOD),
        ("out_life", "287 h", None, OPEN),
    ],
)
def test_lives_of_the_part_hold_beside_those_of_the_lot(key, text, made, answer, shop):
    """The earlier end and the shorter life hold; what the part states, no lot leaves unrecorded."""
    shop.change("part.toml", "bulk_factor = 1.10 ", f'{key} = "{text}"\nbulk_factor = 1.10 ')
    if made:
        shop.change("batch.toml", EXPIRES, f"made = {made}\n{EXPIRES}")
    assert judged(shop)[:2] == (answer, set() if answer == GOOD else {7})
    shop.change("batch.toml", 'out_time = "12 d"', 'out_time = "not recorded: lost"')
    if key == "out_life":
        assert judged(shop)[:2] == (OPEN, {7})


def test_fiber_volume_by_thickness_wants_the_scatter_of_plies(shop):
    rows = rows_of(shop)
    write(shop, [{k: v for k, v in row.items() if k not in (*LOSS, *WET)} for row in rows])
    shop.change("part.toml", '"immersion", "digestion", "thickness"', '"thickness"')
    text = shop.read("part.toml")
    start, end = text.index("[limits.void_content]"), text.index("[limits.thickness.web]")
    shop.write("part.toml", text[:start] + text[end:])
    assert judged(shop)[1] == set()
    shop.change("part.toml", 'ply_scatter = "1 % (standard)" ', "# ")
    _, rules, found = judged(shop)
    assert rules == {10}
    assert any("ply_scatter" in one["say"] for one in found["held_back"])


def test_the_first_line_never_claims_a_zone_that_nobody_measured(shop):
    shop.change("part.toml", 'represented_by = "web" ', 'not_measured = "too thin to cut" ')
    shop.run("report", "batch.toml", "--html", "page.html")
    for text in (shop.run("report", "batch.toml").out.splitlines()[0], shop.read("page.html")):
        assert says("judge: the first line never claims a zone", text)


def test_corrections_are_counted_and_listed_everywhere(shop):
    import datetime as dt

    from laminate.bench.entry import TableChecker
    from laminate.bench.session import Session
    from laminate.bench.table import BenchTable
    from laminate.files.batch import read_batch

    for out, remark in (("", True), ("again", False)):
        if out:
            checker = TableChecker(read_batch(shop.folder / "batch.toml"))
            clock = lambda: dt.datetime(2026, 11, 20, 14, 2)  # noqa: E731
            session = Session(BenchTable(shop.folder / "coupons.csv"), checker, "JM", clock)
            assert session.type(session.rows[0], "thickness 1", "2.872", "read wrongly").kept
        found = judged(shop)[2]
        assert (
            any(says("judge: plies of the batch file against those", one) for one in found["remarks"])
            is remark
        )
        assert len(found["corrections"]) == (0 if remark else 1)
    shop.run("report", "batch.toml", "--html", "page.html")
    for text in (shop.run("report", "batch.toml").out, shop.read("page.html")):
        assert says("judge: corrections are counted and listed", text)
