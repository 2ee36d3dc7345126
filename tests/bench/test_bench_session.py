"""The work at the bench without its page: order, doubts, reasons, repeats, undo."""

import csv

import pytest

from laminate.bench.coupon_sheet import csv_text
from laminate.bench.entry import TableChecker
from laminate.bench.session import Session, mark, sentences
from laminate.bench.sheet import blank_table
from laminate.bench.table import BenchTable, Changed
from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import read_batch
from laminate.files.coupons import COLUMNS, gather, read_coupons
from laminate.files.entries import Compared, compare, read_history
from laminate.files.named_file import NamedFile
from laminate.files.reasons import is_reason
from laminate.files.tables import read_table
from tests.messages.wording import begins, says, worded

from .conftest import READINGS


def fill(session, names=READINGS):
    """Type the readings of the example wherever the session asks."""
    cell = session.next_cell()
    asked = []
    while cell is not None and session.name(cell[0]) in names:
        row, label = cell
        wanted = [x for x in session.labels if session.wanted(row, x)]
        typed = READINGS[session.name(row)][len(READINGS["0101"]) - len(wanted)]
        answer = session.type(row, label, typed)
        assert (answer.kept, answer.stay) == (True, False), (label, typed, answer)
        asked.append((session.name(row), label))
        cell = session.next_cell(cell)
    return asked


def test_a_whole_batch_typed_gives_what_the_example_gives(session, case):
    asked = fill(session)
    assert len(asked) == 30
    assert [name for name, label in asked if label == "mass in air"] == ["0101", "0102", "0103"]
    assert asked[:3] == [("0101", "mass in air"), ("0101", "mass in liquid"), ("0101", "liquid temperature")]
    assert session.left() == 0
    typed = measure_batch(case)
    assert [s.name for s in typed.specimens] == ["0101", "0102", "0103"]
    # by hand from the readings of 0101: fibers (0.9763 - 0.002 x 1.4425)/(1 - 0.004 - 0.002), over 1.4425
    content = (21.0763 - 20.1 - 0.002 * 1.4425) / (1 - 0.004 - 0.002) / 1.4425
    assert typed.specimens[0].best["fiber_content"].value == pytest.approx(content, rel=1e-9)


def test_what_is_shown_while_typing_is_what_measure_says(session, case):
    fill(session, ("0101",))
    shown = {one.attribute: one for one in session.findings(session.rows[0]).derived}
    typed = measure_batch(case)
    best = typed.specimens[0].best
    assert {"density", "fiber_volume", "void_content", "thickness"} <= set(shown)
    for attribute, one in shown.items():
        assert one.value == pytest.approx(best[attribute].value, rel=1e-12)
        assert one.expanded == pytest.approx(typed.expanded(best[attribute])[1], rel=1e-12)


def test_down_the_table_asks_one_column_of_all(session):
    cell = session.next_cell(down=True)
    asked = []
    while cell is not None:
        asked.append((session.name(cell[0]), cell[1]))
        session.table.keep({cell: "1"})
        cell = session.next_cell(cell, down=True)
    assert len(asked) == 30
    assert asked[:4] == [
        ("0101", "mass in air"),
        ("0102", "mass in air"),
        ("0103", "mass in air"),
        ("0101", "mass in liquid"),
    ]


def test_density_appears_as_soon_as_it_can(session):
    row = session.rows[0]
    session.type(row, "mass in air", "1.4427")
    session.type(row, "mass in liquid", "0.5117")
    waiting = session.findings(row)
    assert waiting.derived == ()
    assert [problem.code for problem in waiting.later] == ["missing-reading"]
    session.type(row, "liquid temperature", "22.8")
    assert [one.attribute for one in session.findings(row).derived] == ["density"]
    assert session.findings(row).coverage == "± covers 95 %"
    session.type(row, "crucible mass", "20.1")
    assert [one.attribute for one in session.findings(row).derived] == ["density"]
    assert sentences(session.findings(row))[0].startswith("… ")


def readings_of(data):
    """The rows without the column of entries, which never forgets."""
    rows = list(csv.reader(data.decode().splitlines()))
    at = rows[0].index("entry") if "entry" in rows[0] else len(rows[0])
    return [row[:at] + row[at + 1 :] for row in rows]


def test_what_no_specimen_can_have_is_not_kept(session):
    row = session.rows[0]
    before = session.table.data
    session.type(row, "mass in air", "0.5117")
    answer = session.type(row, "mass in liquid", "1.4427")
    assert (answer.kept, answer.stay) == (False, True)
    assert says("bench: what no specimen can have is not kept", answer.said[0])
    assert session.table.text(row, "mass in liquid") == ""
    session.undo()
    assert readings_of(session.table.data) == readings_of(before)


def test_a_specimen_lighter_than_the_water_allows_is_explained(session):
    row = session.rows[0]
    session.type(row, "mass in air", "1.4427")
    answer = session.type(row, "mass in liquid", "-0.0100")
    assert not answer.kept
    assert "bubbles?" in answer.said[0]
    assert "weigh again" in answer.said[0]


def test_swapped_cells_of_an_old_table_can_be_mended_one_after_the_other(session, case, folder):
    row = session.rows[0]
    session.table.keep(
        {
            (row, "mass in air"): "0.5117",
            (row, "mass in liquid"): "1.4427",
            (row, "liquid temperature"): "22.8",
        }
    )
    again = Session(BenchTable(folder / "coupons.csv"), TableChecker(case), "JM")
    assert [problem.code for problem in again.findings(row).cannot] == ["wrong-order"]
    assert again.type(row, "mass in air", "1.4427", "swapped").kept
    assert again.type(row, "mass in liquid", "0.5117", "swapped").kept
    assert again.findings(row).cannot == ()


def test_a_doubtful_reading_is_kept_and_held_up_until_it_has_a_reason(session):
    fill(session, ("0101", "0102"))
    row = session.rows[2]
    session.type(row, "mass in air", "1.4143")
    session.type(row, "mass in liquid", "0.4532")
    answer = session.type(row, "liquid temperature", "22.9")
    assert (answer.kept, answer.stay) == (True, True)
    assert session.table.text(row, "liquid temperature") == "22.9"
    assert any(line.startswith("? ") for line in sentences(session.findings(row)))
    assert session.type(row, "mass in liquid", "0.4532").stay
    session.accept(row, "weighed three times")
    assert session.table.text(row, "accepted") == "mass in liquid 0.4532: weighed three times"
    assert not session.type(row, "mass in liquid", "0.4532").stay
    assert session.type(row, "mass in liquid", "0.4432", "read wrongly").stay
    assert says("bench: a doubtful reading is kept and held up", " ".join(sentences(session.findings(row))))


def test_an_excluded_row_takes_whatever_was_read(session):
    row = session.rows[0]
    session.type(row, "mass in air", "0.5")
    assert not session.type(row, "mass in liquid", "0.6").kept
    session.exclude(row, "dropped")
    assert session.type(row, "mass in liquid", "0.6").kept
    assert session.table.text(row, "excluded") == "dropped"
    assert session.next_cell((row, "mass in liquid"))[0] == session.rows[1]
    session.exclude(row, "")
    assert session.table.text(row, "excluded") == ""


def test_a_repeat_goes_beside_its_first(session, folder):
    row = session.rows[0]
    session.type(row, "mass in air", "1.4427")
    assert session.again("mass in air") == "mass in air 2"
    assert session.labels[session.labels.index("mass in air") + 1] == "mass in air 2"
    assert session.type(row, "mass in air 2", "1442.9 mg").kept
    assert session.again("thickness 2") == "thickness 4"
    (coupon, *_) = read_coupons([NamedFile(folder / "coupons.csv", "coupons.csv")]).coupons
    assert coupon.readings("mass in air") == pytest.approx([1.4427e-3, 1.4429e-3], rel=1e-12)


def test_operator_and_time_stand_with_the_row(session):
    row = session.rows[0]
    session.type(row, "mass in air", "1.4427")
    assert (session.table.text(row, "operator"), session.table.text(row, "time")) == (
        "JM",
        "2026-11-20 14:02",
    )
    session.operator = "KL"
    session.type(row, "thickness 1", "2.87")
    session.type(row, "thickness 2", "2.87")
    assert session.table.text(row, "operator") == "JM, KL"
    assert session.table.text(session.rows[1], "operator") == ""


def test_everything_can_be_taken_back_to_the_beginning(session):
    before = session.table.data
    fill(session, ("0101",))
    session.accept(session.rows[0], "so")
    session.exclude(session.rows[0], "dropped")
    session.empty(session.rows[0], "thickness 1", "slipped")
    session.again("thickness 1")
    session.add("0199", session.rows[0])
    steps = 0
    while session.undo() is not None:
        steps += 1
    assert steps == 15
    assert readings_of(session.table.data) == readings_of(before)
    assert session.table.path.read_bytes() == session.table.data
    history = read_history(session.table.history_path.read_bytes())
    assert history.fault == ""
    assert len(history.lines) == 2 * 12  # the reason answers no doubt, so that no cell changed
    assert compare(session.table.view, history) == Compared()


def test_a_new_specimen_has_zone_and_lot_of_the_one_before(session):
    row = session.add("0012", session.rows[0])
    labels = ("specimen", "zone", "lot", "method", "position")
    assert [session.table.text(row, label) for label in labels] == [
        "0012", "web", "L2231", "digestion", "",
    ]  # fmt: skip
    assert session.add("0012") == row
    assert session.next_cell((session.rows[-2], "remark")) == (row, "position")


def test_fields_of_a_point_count_ask_for_points_alone(case, tmp_path):
    path = tmp_path / "fields.csv"
    path.write_text(
        "specimen,zone,field,points,fiber points,void points,thickness [mm]\n1,web,1,,,,\n1,web,2,,,,\n"
    )
    session = Session(BenchTable(path), TableChecker(case), "JM")
    assert session.wanted(2, "thickness")
    assert not session.wanted(3, "thickness")
    assert session.type(2, "points", "100").kept
    assert session.type(2, "fiber points", "58.5").kept
    assert not session.type(2, "void points", "60").kept
    assert session.type(3, "fiber points", "57").kept
    assert session.type(3, "points", "100").kept
    assert [(d.attribute, d.value) for d in session.findings(2).derived] == [
        ("fiber_volume", pytest.approx(0.5775))
    ]


def test_readings_of_the_other_tables_count_too(session, case, tmp_path):
    other = tmp_path / "immersion.csv"
    other.write_text(
        "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC]\n"
        "0101,web,1.4427,0.5117,22.8\n"
    )
    tables = read_table(NamedFile(other, "immersion.csv"), known=COLUMNS, problems=[])
    watching = Session(session.table, TableChecker(case, tables), "JM")
    assert [one.attribute for one in watching.findings(watching.rows[0]).derived] == ["density"]


def test_a_zone_that_is_not_told_is_waited_for(case, tmp_path):
    table = tmp_path / "other.csv"
    table.write_text("specimen,zone,mass in air [g]\n0101,,1.4427\n")
    (later,) = (
        TableChecker(case)
        .check(read_table(NamedFile(table, "other.csv"), known=COLUMNS, problems=[])[0], "0101")
        .later
    )
    assert (later.code, later.place) == ("missing-reading", "row 2, column 'specimen'")


@pytest.mark.parametrize("rows", [1, 2])
def test_a_field_that_has_others_below_it_is_no_single_field(case, tmp_path, rows):
    table = tmp_path / "other.csv"
    below = "0101,web,2,,,\n" * (rows - 1)
    table.write_text(f"specimen,zone,field,points,fiber points,void points\n0101,web,1,100,58,1\n{below}")
    findings = TableChecker(case).check(
        read_table(NamedFile(table, "other.csv"), known=COLUMNS, problems=[])[0], "0101"
    )
    codes = [{problem.code for problem in part} for part in (findings.doubtful, findings.later)]
    assert ["one-field" in part for part in codes] == [rows == 1, rows == 2]


def test_after_another_program_the_session_goes_on_from_what_it_wrote(session):
    row = session.rows[0]
    session.type(row, "mass in air", "1.4427")
    theirs = session.table.data.replace(b"0103", b"0133")
    session.table.path.write_bytes(theirs)
    with pytest.raises(Changed):
        session.type(row, "mass in liquid", "0.5117")
    assert session.undo() is None
    assert session.type(row, "mass in liquid", "0.5117").kept
    assert b"0133" in session.table.path.read_bytes()


def test_every_reading_typed_is_read_back_the_same(session):
    fill(session, ("0101",))
    coupons, problems = gather([BenchTable(session.table.path, "coupons.csv").view])
    assert problems == []
    assert list(coupons[0].texts.values()) == [text for text in READINGS["0101"] if not text.startswith("K")]
    assert [coupon.texts for coupon in coupons[1:]] == [{}, {}]


def test_work_goes_on_at_the_row_that_was_typed_last(session, case, folder):
    """Cells left empty on purpose in an earlier row do not call it back."""
    fill(session, ("0101", "0102"))
    session.empty(session.rows[0], "thickness 3", "slipped")
    session.empty(session.rows[1], "thickness 3", "slipped")
    again = Session(BenchTable(folder / "coupons.csv"), TableChecker(case), "JM")
    assert again.resume() == (session.rows[1], "thickness 3")
    session.type(session.rows[1], "thickness 3", "2.869")
    again = Session(BenchTable(folder / "coupons.csv"), TableChecker(case), "JM")
    assert again.resume() == (session.rows[2], "mass in air")


SINKER = (
    "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC],sinker mass in liquid [g]\n"
    "1,web,,,,\n2,web,,,,\n"
)


@pytest.fixture
def sinking(case, tmp_path):
    (tmp_path / "sinker.csv").write_text(SINKER)
    return Session(BenchTable(tmp_path / "sinker.csv", "sinker.csv"), TableChecker(case), "JM")


def test_readings_with_a_sinker_are_taken_in_the_order_of_the_columns(sinking):
    """Specimen, sinker and wire weigh more in the liquid than the specimen in air."""
    row = sinking.rows[0]
    assert [x for x in sinking.labels if sinking.wanted(row, x)][:2] == ["mass in air", "mass in liquid"]
    sinking.type(row, "mass in air", "1.4427")
    answer = sinking.type(row, "mass in liquid", "5.5117")
    assert (answer.kept, answer.stay) == (True, False)
    assert says("bench: readings with a sinker are taken", answer.said[0])
    assert sentences(sinking.findings(row))[0].startswith("… '5.5117', not below mass in air")
    answer = sinking.type(row, "liquid temperature", "22.8")
    assert (answer.kept, answer.stay, answer.said) == (True, False, ())
    assert sinking.findings(row).derived == ()
    assert sinking.type(row, "sinker mass in liquid", "5.0000").kept
    found = sinking.findings(row)
    assert (found.cannot, found.later) == ((), ())
    # 5.5117 - 5 = 0.5117: the specimen 0101 of the example, 1.54524 g/cm^3 there
    assert [one.attribute for one in found.derived] == ["density"]
    assert found.derived[0].value == pytest.approx(1545.24, abs=0.01)


def test_a_light_sinker_is_waited_for_too(sinking):
    """Its reading alone would be a density that nothing here has, seen only with the temperature."""
    row = sinking.rows[0]
    sinking.type(row, "mass in air", "1.4427")
    assert sinking.type(row, "mass in liquid", "1.3117").kept
    answer = sinking.type(row, "liquid temperature", "22.8")
    assert (answer.kept, answer.stay) == (True, False)
    assert says("bench: readings with a sinker are taken", " ".join(answer.said))
    assert sinking.type(row, "sinker mass in liquid", "0.8000").kept
    assert sinking.findings(row).derived[0].value == pytest.approx(1545.24, abs=0.01)


def test_a_sinker_heavier_than_all_together_is_not_kept(sinking):
    row = sinking.rows[0]
    for label, text in (("mass in air", "1.4427"), ("mass in liquid", "5.5117")):
        sinking.type(row, label, text)
    answer = sinking.type(row, "sinker mass in liquid", "3.5")
    assert not answer.kept
    assert says("bench: a sinker heavier than all together", answer.said[0])


def test_what_can_be_without_a_sinker_waits_for_none(sinking):
    row = sinking.rows[0]
    sinking.type(row, "mass in air", "1.4427")
    sinking.type(row, "mass in liquid", "0.5117")
    sinking.type(row, "liquid temperature", "22.8")
    assert [one.attribute for one in sinking.findings(row).derived] == ["density"]


def test_the_cell_just_typed_leads_a_doubt_that_is_about_it(session):
    """The residue of specimen 0102 under 0101."""
    row = session.rows[0]
    fill_up = dict(zip([x for x in session.labels if session.wanted(row, x)], READINGS["0101"], strict=True))
    for label, text in fill_up.items():
        answer = session.type(row, label, "21.1884" if label == "crucible with residue" else text)
        if label == "crucible with residue":
            assert answer.stay
            assert answer.said[0].startswith("crucible with residue '21.1884': fiber content")
    (doubt,) = session.open_doubts(row)
    assert mark(doubt) == "?"
    assert session.unsettled() == ["0101"]
    session.accept(row, "weighed three times", (row, "thickness 1"))
    assert doubt.place in [p.place for p in session.findings(row).doubtful if mark(p) == "r"]
    assert any(
        begins("bench: the cell just typed leads a doubt", line) for line in sentences(session.findings(row))
    )
    assert session.undo() == ((row, "thickness 1"), worded("bench: a reason is taken back"))
    assert session.open_doubts(row) == [doubt]


def test_a_doubt_about_another_cell_is_not_led_by_the_one_typed(session):
    row = session.rows[0]
    session.type(row, "mass in air", "1.4427")
    session.type(row, "mass in liquid", "0.3817")
    answer = session.type(row, "liquid temperature", "22.8")
    assert answer.stay
    assert not answer.said[0].startswith("liquid temperature")


@pytest.mark.parametrize(
    ("label", "why"),
    [
        ("zone", "'zone' is no reading"),
        ("crucible", "'crucible' is no reading"),
        ("plies", "'plies' is no reading"),
        ("fiber points", "another field is another row"),
        ("thickness 2", ""),
        ("mass in liquid", ""),
    ],
)
def test_what_has_one_cell_says_why(session, label, why):
    assert why in session.once(label)
    assert bool(session.once(label)) == bool(why)


def test_taking_back_returns_to_where_the_work_stood(session):
    row, at = session.rows[1], (session.rows[1], "crucible mass")
    session.exclude(row, "dropped", at)
    assert session.undo() == (at, worded("bench: an exclusion is taken back"))
    session.again("thickness 1", at)
    assert session.undo() == (at, "the column thickness 4")
    session.add("0199", row, at)
    assert session.undo() == (at, worded("bench: a row is taken back"))


@pytest.mark.parametrize(
    ("text", "right"), [("on a ridge", True), ("OK", False), ("x", False), ("2.868", False), ("-", False)]
)
def test_a_reason_is_words(text, right):
    assert is_reason(text) is right


def test_of_blanks_and_check_standards_only_their_own_readings_are_asked(folder):
    part, batch = folder / "part.toml", folder / "batch.toml"
    part.write_text(part.read_text().replace("[part]\n", "[part]\nblanks = 1\ncheck_standards = 1\n"))
    before, _, rest = batch.read_text().partition("[blank]\n")
    batch.write_text(before + rest[rest.index("\n[") :])
    case = read_batch(batch)
    (folder / "coupons.csv").write_text(csv_text(blank_table(case)), "utf-8")
    session = Session(BenchTable(folder / "coupons.csv", "coupons.csv"), TableChecker(case), "JM")
    asked = {session.name(row): [x for x in session.labels if session.wanted(row, x)] for row in session.rows}
    loss = ["crucible", "crucible mass", "crucible with specimen", "crucible with residue"]
    assert asked["B1"] == loss
    assert asked["S1"] == ["mass in air", "mass in liquid", "liquid temperature", "density"]
    assert asked["0101"] == [*asked["S1"][:-1], *loss, "thickness 1", "thickness 2", "thickness 3"]
