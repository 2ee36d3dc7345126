"""Which rows are no specimens: by their name, by their place, by their numbers."""

from __future__ import annotations

import pytest

from laminate.files.coupons import read_coupons
from laminate.files.named_file import NamedFile
from tests.messages.wording import says, worded

from .conftest import Read

HEAD = "specimen,zone,mass in air [g],thickness [mm]\n"
ROWS = "01,web,1.4427,2.873\n02,web,1.4609,2.866\n03,web,1.4143,2.865\n"
COMPUTED = (
    "avg.", "Ave", "mean value", "mean of 3", "Mean:", "MEAN (n=3)", "web mean", "mean web", "mean ± s",
    "SD", "s.d.", "std. dev.", "St.Dev", "Standard deviation", "x-bar", "Mittelwert", "Durchschnitt",
    "summary", "sum", "CV %", "CV (%)", "COV, %", "n", "n = 3", "Min", "Max.", "Range", "N", "moyenne",
    "Total: 3 coupons", "mean: see below", "Target", "Target value", "Soll", "Sollwert", "Spec", "Spec.",
    "Specified", "Required", "Requirement", "Tolerance", "Upper spec", "USL", "LSL", "UCL", "LCL", "Tol.",
    "STDEV.S", "%CV", "2 sigma", "3σ", "± 2 sigma", "Overall", "Overall mean", "Grand total", "Grand mean",
    "Delta", "Difference", "Gesamtmittel", "Ecart-type", "gem.", "Media", "平均值", "Result", "Results",
    "Drawing", "Goal", "Certificate", "Units", "mm", "Rel. std. dev.", "Uncertainty",
)  # fmt: skip
SIGNED = (
    "Signed: JM",
    "Signed JM",
    "Checked by",
    "checked by JM",
    "Date: 2026-11-20",
    "page 1 of 2",
    "# weighed by JM",
)
SPECIMENS = (
    "mean-01",
    "N1",
    "Max-1",
    "mean 1",
    "range 3",
    "SD-2",
    "summer",
    "A",
    "M.1",
    "sum 2",
    "04",
    "#1",
    "# 1",
    "#A",
    "Target-01",
    "Target 1",
    "Spec 3",
    "Spec-A",
    "Delta 2",
    "2S",
    "3 s",
    "2 sigma-1",
    "Blank",
    "Reference",
)


def left_out(text: str, read: Read) -> tuple[list[str], list[str]]:
    """Specimens that are read, and rows that are not."""
    (table,), problems = read((HEAD + text).encode(), "coupons.csv")
    assert problems == []
    notes = [note.partition(": ")[2] for note in table.notes]
    assert all(says("read: left out", note) for note in notes)
    return table.column(table.headings[0]), [note.partition("' is no coupon")[0][1:] for note in notes]


@pytest.mark.parametrize("name", COMPUTED)
def test_a_computed_row_is_no_specimen(name: str, read: Read) -> None:
    assert left_out(ROWS + f'"{name}",,1.4393,2.868\n', read) == (["01", "02", "03"], [name])


@pytest.mark.parametrize("name", ["average", "Max", "total", "Mittel", "mean of 3"])
def test_a_row_named_like_an_average_with_the_words_of_a_coupon_is_asked_about(name: str, read: Read) -> None:
    """Who weighed a bad piece could drop it by its name."""
    more = HEAD.replace("specimen,zone", "specimen,zone,operator,remark")
    whole = f"{more}{ROWS.replace(',web,', ',web,JM,,')}"
    for beside in (",JM,", "web,JM,seen"):
        _, problems = read(f"{whole}{name},{beside},1.5,2.9\n".encode(), "coupons.csv")
        assert [(problem.code, problem.place) for problem in problems] == [("total-or-coupon", "row 5")]
    mean = "1.4393,2.868"
    for nothing in (f",,,{mean}", f"web,,,{mean}", f",,seen,{mean}", "web,JM,seen,,"):
        (table,), problems = read(f"{whole}{name},{nothing}\n".encode(), "coupons.csv")
        assert (problems, len(table.rows), len(table.notes)) == ([], 3, 1)
    kind = whole.replace("remark", "kind")
    (table,), problems = read(f"{kind}{name},web,JM,specimen,1.5,2.9\n".encode(), "coupons.csv")
    assert (problems, table.notes, len(table.rows)) == ([], (), 4)


NO_TOTALS = [
    "Mittel,1.4700,2.900", "max,1.4700,2.900", "Range,1.4700,2.900", "mean of 3,1.4700,2.900", "SD,,2.780",
    "mittel,2.2000,2.780", "mittel,1.4427,2.780", "mittel,,2.780", "max,,4.400", "min,1.4143,2.863",
    "Mittelwert,0.4,2.868", "mean (n=3),,4.400", "web mean,1.4700,2.868", "overall,,2.90",
]  # fmt: skip


@pytest.mark.parametrize("row", NO_TOTALS)
def test_a_row_with_a_number_that_its_name_cannot_have_is_asked_about(row: str, read: Read) -> None:
    """Between 1.4143 and 1.4609, 2.865 and 2.873: a bad coupon could be dropped by its name."""
    _, problems = read(f"{HEAD}{ROWS}{row.replace(',', ',,', 1)}\n".encode(), "coupons.csv")
    assert [(problem.code, problem.place) for problem in problems] == [("no-total", "row 5")]


BETWEEN = [
    "mean web,1.4400,2.869", "mean,1.45,2.87", "mean,1.4,3", "Mittelwert,1.4143,2.873",
    "mean of batch 41,1.40,2.82",
    "Mittelwert Vorcharge,1.40,2.82", "mean last batch,1.40,2.82", "target,1.4700,2.791", "max,,2.87",
    "s,0.01,0.003",
    "Std dev,0.03,0.003", "sum,12.9,25.7", "mean (s),1.46,2.865",
]  # fmt: skip


@pytest.mark.parametrize("row", BETWEEN)
def test_a_row_with_numbers_that_its_name_may_have_is_left_out(row: str, read: Read) -> None:
    """Of a zone, of those that count, of another batch."""
    name = row.partition(",")[0]
    assert left_out(f"{ROWS}{row.replace(',', ',,', 1)}\n", read) == (["01", "02", "03"], [name])


def test_a_mean_of_all_repeats_stands_in_one_column(read: Read) -> None:
    rows = "specimen,thickness 1 [mm],thickness 2 [mm]\nA,2.861,2.881\nB,2.862,2.883\n"
    for mean, codes in (("2.872", []), ("2.884", ["no-total"])):
        (_), problems = read(f"{rows}mean,{mean},\n".encode(), "coupons.csv")
        assert [problem.code for problem in problems] == codes


def test_means_of_zones_in_turn_are_left_out_below_any_number_of_rows(read: Read) -> None:
    rows = "".join(f"A{i},web,,2.8{i:02}\nB{i},flange,,2.4{i:02}\n" for i in range(10, 60))
    names = ["mean web", "mean flange"]
    assert left_out(f"{rows}mean web,web,,2.835\nmean flange,flange,,2.434\n", read)[1] == names


TOTALS = {
    "mean": "1.4393,2.868", "mean, rounded": "1.44,2.87", "median": "1.4427,2.866", "max": "1.4609,2.873",
    "s": "0.0235,0.0044", "total": "4.3179,8.604", "range": "0.0466,0.008", "cv %": "1.63,0.15", "n": "3,3",
    "mean of two": "1.4376,2.8655",
    "mean of two not excluded": "1.4285,2.869", "max (mm)": ",2.873",
}  # fmt: skip


@pytest.mark.parametrize(("name", "cells"), TOTALS.items(), ids=TOTALS)
def test_a_row_whose_numbers_are_a_total_is_left_out(name: str, cells: str, read: Read) -> None:
    rows = ROWS.replace("\n", ",\n").replace("2.866,", "2.866,cracked").replace(",cracked", ",cracked edge")
    text = f"{HEAD.rstrip()},excluded\n{rows}{name.split(',')[0]},,{cells},\n"
    (table,), problems = read(text.encode(), "coupons.csv")
    assert (problems, [row.cells[0] for row in table.rows]) == ([], ["01", "02", "03"])


SIGNED_IN_CELLS = [
    "prepared by,,JM,", "checked,,RS,2026-11-20", "Date,,,20.11.2026", "geprüft,RS,,", "Datum,,20.11.2026,",
    "Unterschrift,,,", "vérifié par,,RS,14:30", "Date,,11/20/26,", 'Date,,"November 20, 2026",',
    "11/20/26,,,", "14:30,,,", "Date,,JM 2026-11-20,", "Form QF-12,,Rev 3,", '"Form QF-12, Rev 3",,,',
    "Remarks,,micrometer M-7,", "Seite 1 von 2,,,", "Geprüft von RS,,,",
]  # fmt: skip


@pytest.mark.parametrize("signed", SIGNED_IN_CELLS)
def test_a_signature_over_several_cells_is_no_specimen(signed: str, read: Read) -> None:
    assert left_out(f"{ROWS},,,\n{signed}\n", read)[0] == ["01", "02", "03"]


@pytest.mark.parametrize(
    "cells", ["geprüft,RS,2.9,", "Date,,,2.9", "Datum,,,2.9 mm", "page,1,of,2", "Form A,web,,"]
)
def test_a_signature_with_a_number_beside_it_stays(cells: str, read: Read) -> None:
    (table,), _ = read(f"{HEAD}{ROWS}{cells}\n".encode(), "coupons.csv")
    assert (len(table.rows), table.notes) == (4, ())


@pytest.mark.parametrize("name", SIGNED)
def test_a_signature_is_no_specimen_unless_it_was_measured(name: str, read: Read) -> None:
    assert left_out(ROWS + f"{name},,,\n", read) == (["01", "02", "03"], [name])
    assert left_out(ROWS + f"{name},,1.5,2.9\n", read) == (["01", "02", "03", name], [])


@pytest.mark.parametrize("name", SPECIMENS)
def test_a_specimen_stays_one(name: str, read: Read) -> None:
    assert left_out(ROWS + f"{name},,1.5,2.9\n", read) == (["01", "02", "03", name], [])


def test_a_short_name_among_its_like_is_a_specimen(read: Read) -> None:
    assert left_out("L,web,1.5,2.8\nM,web,1.6,2.9\nN,web,1.6,2.8\n", read) == (["L", "M", "N"], [])
    text = "SB,web,1.5,2.8\nSC,web,1.6,2.9\nSD,web,1.6,2.8\nmean,,1.57,2.83\nSD,,0.1,0.1\n"
    assert left_out(text, read) == (["SB", "SC", "SD"], ["mean", "SD"])
    text = "Alpha,,1.5,2.8\nGamma,,1.6,2.9\nDelta,,1.6,2.8\n"
    assert left_out(text, read) == (["Alpha", "Gamma", "Delta"], [])
    text = "USR,,1.5,2.8\nLSR,,1.6,2.9\nUSL,,1.6,2.8\nLSL,,1.6,2.8\n"
    assert left_out(text, read) == (["USR", "LSR", "USL", "LSL"], [])
    assert left_out(f"{ROWS}Delta,web,1.5,2.8\n", read)[1] == []


def test_limits_below_the_coupons_are_left_out_together(read: Read) -> None:
    rows = "".join(f"{name},,1.5,2.9\n" for name in ("LSL", "USL", "Target", "Spec"))
    assert left_out(ROWS + rows, read) == (["01", "02", "03"], ["LSL", "USL", "Target", "Spec"])


def test_a_row_that_says_its_kind_is_taken_at_its_word(read: Read) -> None:
    text = "specimen,kind,mass in air [g]\n01,,1.5\nmax,specimen,1.6\n"
    (table,), problems = read(text.encode(), "coupons.csv")
    assert (problems, table.notes, len(table.rows)) == ([], (), 2)


def test_a_block_at_the_end_is_left_out_whole(read: Read) -> None:
    block = ("Mean", "Std dev", "CV %", "n", "Min", "Signed: JM", "seen on the 20th", "JM 2026-11-20")
    text = "".join(f"{name},,{'' if ' ' in name and '%' not in name else '1.4393'},\n" for name in block)
    assert left_out(ROWS + text, read) == (["01", "02", "03"], list(block))


def told(text: str, tmp_path) -> list[tuple[str, str, str]]:  # type: ignore[no-untyped-def]
    path = tmp_path / "coupons.csv"
    path.write_text(text, "utf-8")
    problems = read_coupons([NamedFile(path, "coupons.csv")]).problems
    return [(problem.code, problem.place, problem.found) for problem in problems]


@pytest.mark.parametrize("cells", ["1.4393,2.868", "1.43930,2.8680", "1.44,2.868"])
def test_means_under_an_unknown_name_are_asked_about(cells: str, tmp_path) -> None:  # type: ignore[no-untyped-def]
    assert told(f"{HEAD}{ROWS}Schnitt,web,{cells}\n", tmp_path) == [
        (
            "computed-row",
            "row 5, column 'specimen'",
            worded("read: a row of means"),
        )
    ]
    below = f"{HEAD}{ROWS}Schnitt,web,{cells}\nStreuung,,0.0235,0.004\n"
    assert [place for _, place, _ in told(below, tmp_path)] == ["row 5, column 'specimen'"]


@pytest.mark.parametrize("cells", ["1.4394,2.868", "1.4393,2.867", "1.4393,", ",2.868", "1.44,2.868"])
def test_what_may_be_chance_is_not_asked_about(cells: str, tmp_path) -> None:  # type: ignore[no-untyped-def]
    assert told(f"{HEAD}{ROWS}04,web,{cells}\n", tmp_path) == []


def test_rows_all_alike_are_no_means(tmp_path) -> None:  # type: ignore[no-untyped-def]
    assert told(HEAD + "".join(f"{n},web,1.5000,2.800\n" for n in range(5)), tmp_path) == []


@pytest.mark.parametrize("answer", ["kind", "excluded"])
def test_a_specimen_like_the_means_can_be_answered_for(answer: str, tmp_path) -> None:  # type: ignore[no-untyped-def]
    text = (HEAD + ROWS).replace("\n", ",\n").replace("[mm],", f"[mm],{answer}")
    assert len(told(f"{text}04,web,1.4393,2.868,\n", tmp_path)) == 1
    word = "specimen" if answer == "kind" else "a mean"
    assert told(f"{text}04,web,1.4393,2.868,{word}\n", tmp_path) == []


def test_a_letter_with_a_zone_beside_it_is_a_specimen(shop):
    """Standard deviations have no zone."""
    shop.table("specimen,zone,thickness [mm]", "1,web,2.87", "2,web,2.88", "s,web,2.86")
    assert [one["specimen"] for one in shop.json("measure", "batch.toml")["specimens"]] == ["1", "2", "s"]
    shop.table("specimen,zone,thickness [mm]", "1,web,2.87", "2,web,2.88", "s,,0.01")
    assert [one["specimen"] for one in shop.json("measure", "batch.toml")["specimens"]] == ["1", "2"]


def test_repeats_of_one_column_are_no_further_evidence(tmp_path) -> None:  # type: ignore[no-untyped-def]
    """Where the first repeat is the mean by chance, the others are nearly so: three good specimens."""
    path = tmp_path / "coupons.csv"
    path.write_text(
        "specimen,thickness 1 [mm],thickness 2 [mm],thickness 3 [mm]\n"
        "T1,2.868,2.870,2.867\nT2,2.888,2.892,2.889\nT3,2.878,2.881,2.878\n"
    )
    assert [coupon.specimen for coupon in read_coupons([NamedFile(path, "coupons.csv")]).coupons] == [
        "T1",
        "T2",
        "T3",
    ]
