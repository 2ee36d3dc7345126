"""The blank table: what the plan asks for, what a cell may hold, and that `measure` reads what it writes."""

import json

import openpyxl
import pytest

from laminate.bench.coupon_sheet import csv_text, workbook
from laminate.bench.sheet import WORDS, blank_table, prepregs_to_test
from laminate.cli import app
from laminate.files.batch import read_batch
from laminate.files.coupons import read_coupons
from laminate.files.named_file import NamedFile
from laminate.values.cautions import DIGESTION, FURNACE
from tests.messages.wording import begins, says

from .conftest import READINGS

FILLED = (
    "mass in air", "mass in liquid", "liquid temperature", "crucible", "crucible mass",
    "crucible with specimen", "crucible with residue", "thickness 1", "thickness 2", "thickness 3",
)  # fmt: skip


def written(case, path, **options):
    path.write_bytes(workbook(blank_table(case, **options)))
    return openpyxl.load_workbook(path)


def checks(book):
    sheet = book["coupons"]
    headings = {cell.column_letter: str(cell.value).partition(" [")[0] for cell in sheet[1]}
    return {headings[str(check.sqref)[0]]: check for check in sheet.data_validations.dataValidation}


def test_the_plan_says_columns_specimens_and_positions(case):
    blank = blank_table(case)
    assert csv_text(blank).splitlines() == [
        "specimen,zone,position,kind,lot,mass in air [g],mass in liquid [g],liquid temperature [degC],method,"
        "crucible,crucible mass [g],crucible with specimen [g],crucible with residue [g],thickness 1 [mm],"
        "thickness 2 [mm],thickness 3 [mm],operator,replaces,remark,excluded,accepted",
        "0101,web,root,,L2231,,,,digestion,,,,,,,,,,,,",
        "0102,web,mid,,L2231,,,,digestion,,,,,,,,,,,,",
        "0103,web,tip,,L2231,,,,digestion,,,,,,,,,,,,",
    ]


def test_blanks_and_check_standards_that_the_part_asks_for_have_rows(folder):
    part, batch = folder / "part.toml", folder / "batch.toml"
    part.write_text(part.read_text().replace("[part]\n", "[part]\nblanks = 3\ncheck_standards = 2\n"))
    with_blank = batch.read_text()
    before, _, rest = with_blank.partition("[blank]\n")
    batch.write_text(before + rest[rest.index("\n[") :])
    blank = blank_table(read_batch(batch))
    assert "density" in [column.name for column in blank.columns]
    rows = [row[:4] + row[8:9] for row in blank.rows[3:]]
    assert rows == [
        ("B1", "", "", "blank resin", "digestion"),
        ("B2", "", "", "blank fiber", "digestion"),
        ("B3", "", "", "blank resin", "digestion"),
        ("S1", "", "", "check standard", ""),
        ("S2", "", "", "check standard", ""),
    ]
    assert not any("blank" in row[3] for row in blank_table(read_batch(batch), methods=["immersion"]).rows)
    assert all(row[3] == "" for row in blank_table(read_batch(batch), methods=["thickness"]).rows)
    batch.write_text(with_blank)
    assert [row[:4] + row[8:9] for row in blank_table(read_batch(batch)).rows[3:]] == rows


def test_filled_in_it_reads_back_as_the_example(case, tmp_path):
    book = written(case, tmp_path / "filled.xlsx")
    sheet = book["coupons"]
    at = {str(cell.value).partition(" [")[0]: cell.column for cell in sheet[1]}
    for row in range(2, 5):
        for label, text in zip(FILLED, READINGS[sheet.cell(row, 1).value], strict=True):
            sheet.cell(row, at[label]).value = text if label == "crucible" else float(text)
    book.save(tmp_path / "filled.xlsx")
    coupons = read_coupons([NamedFile(tmp_path / "filled.xlsx", "filled.xlsx")])
    assert coupons.notes == ()
    assert [coupon.specimen for coupon in coupons.coupons] == ["0101", "0102", "0103"]
    assert coupons.coupons[1].numbers["mass in liquid"] == pytest.approx(0.5192e-3, rel=1e-12)
    assert coupons.coupons[1].numbers["liquid temperature"] == pytest.approx(295.95, rel=1e-12)
    assert coupons.coupons[1].readings("thickness") == pytest.approx(
        [2.866e-3, 2.868e-3, 2.869e-3], rel=1e-12
    )
    assert coupons.coupons[2].words == {
        "zone": "web", "position": "tip", "lot": "L2231", "method": "digestion", "crucible": "K3",
    }  # fmt: skip


def test_blank_it_is_a_table_without_readings(case, tmp_path):
    written(case, tmp_path / "blank.xlsx")
    coupons = read_coupons([NamedFile(tmp_path / "blank.xlsx", "blank.xlsx")])
    assert [len(coupon.numbers) for coupon in coupons.coupons] == [0, 0, 0]


def test_words_are_chosen_from_lists(case, tmp_path):
    found = {
        name: c.formula1 for name, c in checks(written(case, tmp_path / "t.xlsx")).items() if c.type == "list"
    }
    assert found == {
        "zone": '"web,skin"',
        "position": '"root,mid,tip"',
        "kind": '"specimen,blank fiber,blank resin,check standard"',
        "lot": '"L2231"',
        "method": '"ignition,digestion"',
    }


def test_numbers_are_checked_with_plain_messages(case, tmp_path):
    found = checks(written(case, tmp_path / "t.xlsx"))
    assert found["liquid temperature"].formula1 == "AND(ISNUMBER(H2),H2>=0,H2<=40)"
    assert "water from 0 to 40 degC" in found["liquid temperature"].error
    assert found["mass in liquid"].formula1 == 'AND(ISNUMBER(G2),G2>0,G2<=100000,OR(F2="",G2<F2))'
    assert "below 'mass in air'" in found["mass in liquid"].error
    assert found["thickness 1"].formula1 == "AND(ISNUMBER(N2),N2>0,N2<=1000)"
    for check in found.values():
        assert check.showErrorMessage
        assert 0 < len(check.error) <= 255
        assert 0 < len(check.prompt) <= 255
        assert len(check.errorTitle) <= 32
        assert str(check.sqref).endswith("16")


def test_a_warning_where_a_reading_may_be_right_and_a_stop_elsewhere(case, tmp_path):
    """With a sinker, or within the scatter of the balance: a blank may leave its crucible lighter."""
    for path, options in (("a.xlsx", {}), ("b.xlsx", {"sinker": True})):
        found = checks(written(case, tmp_path / path, **options))
        assert {name for name, check in found.items() if check.errorStyle == "warning"} == {
            "mass in air",
            "mass in liquid",
            "crucible mass",
            "crucible with specimen",
            "crucible with residue",
        }
        assert {check.errorStyle for check in found.values()} == {"warning", "stop"}
        asked = says("bench: a warning where a sinker may make", found["mass in liquid"].error)
        assert asked is not bool(options)
    assert found["sinker mass in liquid"].formula1 == "AND(ISNUMBER(G2),G2>0,G2<=100000)"
    assert found["mass in air"].formula1 == 'AND(ISNUMBER(F2),F2>0,F2<=100000,OR(H2="",F2>H2-N(G2)))'
    assert found["mass in liquid"].formula1 == (
        'AND(ISNUMBER(H2),H2>=-100000,H2<=100000,OR(F2="",H2-N(G2)<F2))'
    )


def test_a_specimen_weighed_with_a_sinker_is_read(folder, capsys):
    out = folder / "blank.csv"
    assert app.status(["sheet", str(folder / "batch.toml"), "--out", str(out), "--sinker"]) == 0
    capsys.readouterr()
    head, *rows = out.read_text("utf-8").splitlines()
    at = head.split(",").index("mass in air [g]")
    assert head.split(",")[at : at + 3] == [
        "mass in air [g]",
        "sinker mass in liquid [g]",
        "mass in liquid [g]",
    ]
    cells = rows[0].split(",")
    cells[at : at + 4] = ["1.4427", "9.4883", "10.0000", "22.8"]
    out.write_text(f"{head}\n{','.join(cells)}\n", "utf-8")
    coupon = read_coupons([NamedFile(out, "blank.csv")]).coupons[0]
    assert coupon.numbers["sinker mass in liquid"] == pytest.approx(9.4883e-3, rel=1e-12)


PREPREG = ["area [cm^2]", "prepreg mass [g]", "backing mass [g]", "fiber mass [g]", "dried mass [g]"]


def rows_of(blank, *labels):
    at = [[column.label for column in blank.columns].index(label) for label in labels]
    return [tuple(row[i] for i in at) for row in blank.rows]


def test_a_prepreg_has_rows_of_its_own(case):
    blank = blank_table(case, prepregs=["ud150"])
    headings = [column.heading for column in blank.columns]
    assert [heading for heading in headings if heading in PREPREG] == PREPREG
    assert rows_of(blank, "specimen", "zone", "lot") == [
        ("0101", "web", "L2231"), ("0102", "web", "L2231"), ("0103", "web", "L2231"),
        ("P0101", "", "L2231"), ("P0102", "", "L2231"), ("P0103", "", "L2231"),
    ]  # fmt: skip
    assert not set(PREPREG) & {column.heading for column in blank_table(case).columns}


def test_each_lot_of_a_prepreg_has_its_rows(folder):
    text = (folder / "batch.toml").read_text("utf-8")
    shared = text.replace('number = "L2231"', 'number = "L2231"\nshare = "60 %"')
    start, end = shared.index("[[lot]]"), shared.index("[fiber.carbon]")
    lot = shared[start:end].replace("L2231", "L2232").replace("60 %", "40 %")
    (folder / "batch.toml").write_text(shared[:end] + lot + shared[end:], "utf-8")
    found = rows_of(blank_table(read_batch(folder / "batch.toml"), prepregs=["ud150"]), "specimen", "lot")
    assert found[-6:] == [(f"P010{n}", "L2231" if n < 4 else "L2232") for n in range(1, 7)]


def test_what_no_certificate_answers_is_to_be_tested(folder, capsys):
    assert prepregs_to_test(read_batch(folder / "batch.toml")) == []
    text = (folder / "batch.toml").read_text("utf-8")
    start, end = text.index("fiber_areal_weight"), text.index("stored_humidity")
    (folder / "batch.toml").write_text(text[:start] + text[end:], "utf-8")
    assert prepregs_to_test(read_batch(folder / "batch.toml")) == ["ud150"]
    for name, options, there in (("a.csv", [], True), ("b.csv", ["--zone", "web"], False)):
        assert app.status(["sheet", str(folder / "batch.toml"), "--out", str(folder / name), *options]) == 0
        assert ("prepreg mass [g]" in (folder / name).read_text("utf-8")) is there
    capsys.readouterr()


def test_a_filled_in_incoming_test_is_measured(folder, capsys):
    out = folder / "coupons.csv"
    out.unlink()
    call = ["sheet", str(folder / "batch.toml"), "--out", str(out), "--prepreg", "ud150"]
    assert app.status(call) == 0
    head, *rows = out.read_text("utf-8").splitlines()
    at = head.split(",").index("area [cm^2]")
    lines = []
    for row, prepreg, fiber in zip(
        rows[3:], ("2.2520", "2.2560", "2.2490"), ("1.506", "1.510", "1.502"), strict=True
    ):
        cells = row.split(",")
        cells[at : at + 4] = ["100", prepreg, "", fiber]
        lines.append(",".join(cells))
    out.write_text("\n".join([head, *lines]) + "\n", "utf-8")
    capsys.readouterr()
    assert app.status(["measure", str(folder / "batch.toml"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["prepreg"]
    shares = [one["resin_content"]["value"] for one in found]
    # (M - M_fiber) / M by hand, less the 0.4 % of volatiles on the lot's certificate
    assert shares == pytest.approx([32.7261, 32.6674, 32.8148], abs=2e-4)


def test_us_units_move_the_bounds_with_them(case, tmp_path):
    book = written(case, tmp_path / "t.xlsx", units="us")
    assert "thickness 1 [in]" in [cell.value for cell in book["coupons"][1]]
    assert checks(book)["liquid temperature"].formula1 == "AND(ISNUMBER(H2),H2>=32,H2<=104)"


def test_a_list_too_long_for_a_check_stands_on_the_first_page(folder):
    lots = "".join(
        f'[[lot]]\nprepreg = "ud150"\nnumber = "lot, number {n:03d} of many"\nshare = "5 %"\n'
        for n in range(20)
    )
    text = (folder / "batch.toml").read_text("utf-8")
    start, end = text.index("[[lot]]"), text.index("[fiber.carbon]")
    (folder / "batch.toml").write_text(text[:start] + lots + text[end:], "utf-8")
    book = written(read_batch(folder / "batch.toml"), folder / "t.xlsx")
    source = checks(book)["lot"].formula1
    sheet, _, cells = source.partition("!")
    assert sheet == "'read me first'"
    words = [row[0].value for row in book["read me first"][cells.replace("$", "")]]
    assert words == [f"lot, number {n:03d} of many" for n in range(20)]


def test_the_sheet_prints_on_one_landscape_page(case, tmp_path):
    for paper, size in (("a4", 9), ("letter", 1)):
        path = tmp_path / f"{paper}.xlsx"
        path.write_bytes(workbook(blank_table(case), paper=paper))
        sheet = openpyxl.load_workbook(path)["coupons"]
        assert sheet.page_setup.orientation == "landscape"
        assert int(sheet.page_setup.paperSize) == size
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 1)
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.freeze_panes == "B2"
        assert "26-031" in sheet.oddHeader.left.text


def test_specimen_names_are_text_wherever_they_are_typed(case, tmp_path):
    sheet = written(case, tmp_path / "t.xlsx")["coupons"]
    assert [sheet.cell(row, 1).value for row in (2, 3, 4)] == ["0101", "0102", "0103"]
    assert {sheet.cell(row, 1).number_format for row in range(2, 17)} == {"@"}


def texts(book):
    return "\n".join(str(cell) for row in book["read me first"].values for cell in row if cell)


def test_the_first_page_explains_every_column_and_says_the_cautions(case, tmp_path):
    book = written(case, tmp_path / "t.xlsx")
    assert book.sheetnames[0] == "read me first"
    page = texts(book)
    for column in blank_table(case).columns:
        assert column.heading in page
        assert WORDS[column.name] in page
    assert all(sentence in page for sentence in DIGESTION)
    assert not any(sentence in page for sentence in FURNACE)
    burnt = texts(written(case, tmp_path / "burnt.xlsx", methods=["immersion", "ignition"]))
    for words in ("fume", "free fiber dust", "PTFE", "governing specification"):
        assert words in burnt
    for words in ("hood", "never in a closed vessel", "trained staff"):
        assert words in page


@pytest.mark.parametrize(
    ("methods", "columns"),
    [
        (["saturated immersion"], ["dry mass [g]", "saturated mass [g]", "mass in liquid [g]"]),
        (["density given"], ["density [g/cm^3]"]),
        (["areal weight"], ["mass in air [g]", "length [mm]", "width [mm]"]),
        (["point count"], ["field", "points", "fiber points", "void points"]),
    ],
)
def test_each_method_has_its_columns(case, methods, columns):
    headings = [column.heading for column in blank_table(case, zones=["web"], methods=methods).columns]
    assert [heading for heading in headings if heading in columns] == columns


def test_point_counts_have_a_row_a_field(case):
    blank = blank_table(case, zones=["skin"], methods=["point count"], specimens=2, fields=3)
    at = [column.label for column in blank.columns].index("field")
    assert [(row[0], row[at]) for row in blank.rows] == [
        ("0201", "1"), ("0201", "2"), ("0201", "3"), ("0202", "1"), ("0202", "2"), ("0202", "3"),
    ]  # fmt: skip


def test_the_liquid_says_which_column_it_needs(folder):
    text = (folder / "batch.toml").read_text("utf-8")
    for new, wanted in (
        ('liquid = "ethanol"', ["liquid density [g/cm^3]"]),
        ('liquid = "ethanol"\nliquid_density = "0.789 g/cm^3"', []),
    ):
        (folder / "batch.toml").write_text(text.replace('liquid = "water"', new), "utf-8")
        headings = [c.heading for c in blank_table(read_batch(folder / "batch.toml")).columns]
        assert [heading for heading in headings if heading.startswith("liquid")] == wanted


def test_several_balances_are_told_apart(folder):
    text = (folder / "batch.toml").read_text("utf-8")
    more = '[instrument."fine balance"]\nrepeatability = "0.01 mg (standard)"\n'
    (folder / "batch.toml").write_text(text + more, "utf-8")
    found = {column.name: column.choices for column in blank_table(read_batch(folder / "batch.toml")).columns}
    assert found["balance"] == ("balance", "fine balance")


def test_the_command_writes_once(folder, capsys):
    call = ["sheet", str(folder / "batch.toml"), "--out", str(folder / "blank.xlsx")]
    assert app.status(call) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert out.startswith(str(folder / "blank.xlsx"))
    assert "never in a closed vessel" in out
    assert app.status(call) == 2
    assert "already there" in capsys.readouterr().err


def test_the_command_in_json(folder, capsys):
    out = folder / "blank.csv"
    assert (
        app.status(["sheet", str(folder / "batch.toml"), "--out", str(out), "--specimens", "4", "--json"])
        == 0
    )
    answer = json.loads(capsys.readouterr().out)
    assert answer["specimens"] == ["0101", "0102", "0103", "0104"]
    assert answer["columns"][0] == "specimen"
    assert read_coupons([NamedFile(out, "blank.csv")]).coupons[3].specimen == "0104"


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--zone", "wep"], "bench: what cannot be written is said"),
        (["--zone", "skin"], "bench: what cannot be written is said, 2"),
        (["--method", "imersion"], "bench: what cannot be written is said, 3"),
        (
            ["--method", "foo"],
            "bench: what cannot be written is said, 4",
        ),
        (["--prepreg", "ud15"], "bench: what cannot be written is said, 5"),
        (
            ["--method", "thickness", "--sinker"],
            "bench: what cannot be written is said, 6",
        ),
        (["--paper", "a5"], "bench: what cannot be written is said, 7"),
        (["--units", "imperial"], "bench: what cannot be written is said, 8"),
    ],
)
def test_what_cannot_be_written_is_said(folder, options, sentence, capsys):
    assert app.status(["sheet", str(folder / "batch.toml"), "--out", str(folder / "x.xlsx"), *options]) == 2
    assert begins(sentence, capsys.readouterr().err)
    assert not (folder / "x.xlsx").exists()


def test_another_kind_of_file_is_refused(folder, capsys):
    assert app.status(["sheet", str(folder / "batch.toml"), "--out", str(folder / "x.ods")]) == 2
    assert says("bench: another kind of file is refused", capsys.readouterr().err)
