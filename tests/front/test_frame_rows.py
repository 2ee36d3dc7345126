"""Rows, names and words of a DataFrame: `measure` and `measure_frame` take them as a table in a file."""

import math

import numpy as np
import pandas as pd
import pytest

import laminate as lam

STATED = {
    "fiber_density": "1.79 g/cm^3 ± 0.01 (k=2)",
    "resin_density": "1.30 g/cm^3 ± 0.01 (k=2)",
    "balance": "0.2 mg (standard)",
}
NUMBERS = {
    "mass in air [g]": [1.4427, 1.4501, 1.4388],
    "mass in liquid [g]": [0.5117, 0.5141, 0.5099],
    "liquid temperature [degC]": [22.8, 22.8, 22.9],
    "specimen mass [g]": [1.4425, 1.4499, 1.4386],
    "residue mass [g]": [0.9763, 0.9810, 0.9741],
}
COUPONS = pd.DataFrame(
    {"specimen": ["A", "B", "C"], "zone": "w", "method": "digestion", **NUMBERS}, index=list("pqr")
)
"""Invented coupons."""


def void_of_rows(*frames):
    """Count, mean and U of the void content of the only zone of parts of a table."""
    rows = lam.combine([lam.measure_frame(frame, **STATED) for frame in frames])
    (row,) = rows[rows["attribute"] == "void_content"].to_dict("records")
    return row["n"], row["value"], row["expanded"]


def void_of(source):
    (zone,) = lam.measure(source, **STATED).to_dict()["zones"]
    mean = zone["average"]["void_content"]
    return mean["n"], mean["value"], mean["expanded_uncertainty"]


def with_row(name, numbers="mean", at=3, **words):
    """The coupons and one more row: a mean of theirs, or a copy of the first."""
    row = COUPONS[[*NUMBERS]].mean() if numbers == "mean" else COUPONS.iloc[0][[*NUMBERS]]
    more = pd.DataFrame([{**row, "specimen": name, "zone": "w", "method": "digestion", **words}], index=["s"])
    return pd.concat([COUPONS.iloc[:at], more, COUPONS.iloc[at:]])


def refused(call, frame, **options):
    with pytest.raises(lam.Refused) as refusal:
        call(frame, **STATED, **options)
    return refusal.value.problems


@pytest.mark.parametrize(
    ("column", "cells", "rows"),
    [
        ("excluded", [False, False, True], "pqr"),
        ("excluded", ["no", None, None], "p"),
        ("excluded", [None, "x", "..."], "qr"),
        ("excluded", [0, math.nan, "n/a"], "pr"),
        ("excluded", ["nan", "<NA>", "NaT"], "pqr"),
        ("accepted", ["", True, "null"], "qr"),
        ("only", ["", "", "foo"], "r"),
        ("crucible", ["", "1.4427 g", ""], "q"),
        ("specimen", ["A", "B\u200b", "C"], "q"),
    ],
)
@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_a_word_that_is_none_is_refused_at_its_row(call, column, cells, rows):
    problems = refused(call, COUPONS.assign(**{column: cells}))
    assert [p.code for p in problems] == ["wrong-word"] * len(rows)
    assert [p.place for p in problems] == [f"row {row}, column '{column}'" for row in rows]


@pytest.mark.parametrize("reason", ["chipped", "  tipped over ", "mass in air: read twice"])
def test_a_reason_leaves_a_coupon_out_of_both(reason):
    frame = COUPONS.assign(excluded=[reason, " ", None])
    assert void_of_rows(frame) == pytest.approx(void_of(frame), rel=1e-12)
    assert void_of(frame)[0] == 2
    assert void_of(COUPONS.assign(accepted=[reason, "", None]))[0] == 3


@pytest.mark.parametrize(
    ("name", "words"),
    [("mean", {}), ("std", {}), ("Average", {}), ("s.d.", {"zone": "", "method": ""}), ("Signed: JM", {})],
)
def test_a_row_that_may_be_no_coupon_is_refused_in_any_part(name, words):
    frame = with_row(name, **words)
    for part in (frame, frame.iloc[2:], frame.iloc[3:]):
        if name == "Signed: JM":
            part = part.assign(**dict.fromkeys(NUMBERS, math.nan)).iloc[-1:]
        problems = refused(lam.measure_frame, part)
        assert [(p.code, p.place) for p in problems] == [("not-of-one-row", "row s")]
        assert "kind" in problems[0].hint


@pytest.mark.parametrize(("name", "kind"), [("Average", "specimen"), ("mean", " Specimen ")])
def test_a_coupon_that_is_named_as_a_mean_says_its_kind(name, kind):
    frame = with_row(name, numbers="copy", at=1, kind=kind)
    assert void_of_rows(frame) == pytest.approx(void_of(frame), rel=1e-12)
    assert void_of(frame)[0] == 4


@pytest.mark.parametrize("nothing", [math.nan, None, "", " "])
@pytest.mark.parametrize("order", ["pqrs", "spqr", "psqr"])
def test_an_empty_row_is_no_row(nothing, order):
    frame = COUPONS.astype(object).reindex(list("pqrs"))
    frame.loc["s"] = nothing
    frame = frame.loc[list(order)]
    assert void_of_rows(frame) == pytest.approx(void_of(COUPONS), rel=1e-12)
    assert void_of(frame) == void_of(COUPONS)
    assert void_of_rows(*(frame.iloc[[at]] for at in range(4)))[0] == 3
    assert lam.measure_frame(frame, **STATED).index.tolist() == [row for row in order if row != "s"]


@pytest.mark.parametrize("cells", [dict.fromkeys(NUMBERS, "[g]"), {name: name for name in COUPONS}])
def test_a_row_of_units_or_of_headings_is_named(cells):
    frame = pd.concat([COUPONS, pd.DataFrame([cells], index=["s"])])
    assert {p.place.partition(",")[0] for p in refused(lam.measure_frame, frame)} == {"row s"}


def test_a_row_of_readings_without_a_name_is_refused():
    problems = refused(lam.measure_frame, COUPONS.assign(specimen=["A", " ", "C"]))
    assert [(p.code, p.place[:5]) for p in problems] == [("missing-specimen", "row q")]


def test_names_are_trimmed(tmp_path):
    """A frame is read as the file that it was read from."""
    again = pd.concat([COUPONS, COUPONS.head(1).assign(specimen="A ").set_axis(["s"])])
    for name, frame in {"twice": again, "zone": COUPONS.assign(zone=["w", "w ", " w"])}.items():
        frame.astype(str).to_csv(tmp_path / f"{name}.csv", index=False)
        assert void_of(frame.astype(str)) == void_of(tmp_path / f"{name}.csv")
        assert void_of(frame)[0] == 3
    other = again.replace({"residue mass [g]": {0.9763: 0.9764}})
    other.iloc[0] = again.iloc[0]
    assert {p.code for p in refused(lam.measure, other)} == {"given-twice"}
    assert {p.code for p in refused(lam.measure_frame, again)} == {"given-twice"}


def test_rows_are_named_by_their_labels():
    """Those that are left out, and those that a finding is compared with; a heading has no row."""
    notes = lam.measure(with_row("mean"), **STATED).to_dict()["notes"]
    assert [note.split(":")[1] for note in notes if "'mean'" in note] == [" row s"]
    (between,) = refused(lam.measure, with_row("mean", at=1))
    assert (between.code, between.place) == ("total-in-between", "row s")
    assert "row q" in between.found
    alike = COUPONS.assign(specimen=["0101", "B", "101"])
    notes = lam.measure(alike, **STATED).to_dict()["notes"]
    assert [(n.split(",")[0], "row p" in n) for n in notes if "'0101'" in n] == [("table: row r", True)]
    halves = {"specimen": ["0101", "101"], "density [g/cm^3]": [1.55, None], "thickness [mm]": [None, 2.8]}
    (same,) = refused(lam.measure, pd.DataFrame(halves, index=["p", "r"]))
    assert (same.code, same.place[:5], "row p" in same.found) == ("same-name", "row r", True)


@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_a_column_that_is_none_is_named_without_a_row(call):
    for frame in (COUPONS, COUPONS.head(0)):
        problems = refused(call, frame.assign(foo=1.0, thickness=2.0))
        assert {p.place.partition("'")[0] for p in problems} <= {"column ", ""}
    (mixed,) = refused(call, COUPONS.assign(specimen=["A", 2, "C"]))
    assert (mixed.code, "'2'" in mixed.found) == ("wrong-type", True)


@pytest.mark.parametrize("cell", [b"0.9763", 0.9763 + 0j, True, "0,9763", "0x1p3", "1_0", "\uff11"])
@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_a_cell_that_is_no_number_is_none_in_both(call, cell):
    frame = COUPONS.astype({"residue mass [g]": object})
    frame.loc["q", "residue mass [g]"] = cell
    problems = refused(call, frame)
    assert [(p.code, p.place[:5]) for p in problems] == [("not-a-number", "row q")]


@pytest.mark.parametrize("dtype", [complex, bool, bytes])
def test_a_column_of_a_type_without_decimals_is_refused_by_both(dtype):
    cells = COUPONS["residue mass [g]"].astype(str).to_numpy().astype("S").astype(object)
    column = cells if dtype is bytes else COUPONS["residue mass [g]"].to_numpy().astype(dtype)
    frame = COUPONS.assign(**{"residue mass [g]": column})
    for call in (lam.measure, lam.measure_frame):
        assert [p.code for p in refused(call, frame)] == ["not-a-number"] * 3


@pytest.mark.parametrize("dtype", ["float64", "float32", "Float64", "object", "str", "category", "Sparse"])
def test_numbers_of_any_type_are_taken_alike(dtype):
    dtype = pd.SparseDtype(float, np.nan) if dtype == "Sparse" else dtype
    frame = COUPONS.astype(dict.fromkeys(NUMBERS, dtype))
    assert void_of_rows(frame)[:2] == pytest.approx(void_of(frame)[:2], rel=1e-12)


class OfAnotherLibrary:
    """A table that is no DataFrame of pandas, as one of polars is."""

    columns = tuple(COUPONS)


@pytest.mark.parametrize("table", [OfAnotherLibrary(), COUPONS.style], ids=["another library", "styled"])
@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame, lambda table, **_: lam.combine([table])])
def test_a_table_of_another_library_is_a_wrong_call(call, table):
    with pytest.raises(TypeError, match="DataFrame of pandas"):
        call(table, **STATED)


@pytest.mark.parametrize("column", ["specimen", "zone"])
def test_names_in_bytes_are_refused_by_both(column):
    names = [b"A", b"B", b"C"]
    for cells in (names, ["A", *names[1:]]):
        for call in (lam.measure, lam.measure_frame):
            (problem,) = refused(call, COUPONS.assign(**{column: cells}))
            assert (problem.code, problem.place) == ("wrong-type", f"column '{column}'")
    assert void_of(COUPONS.assign(**{column: [name.decode() for name in names]}).assign(zone="w"))[0] == 3
