"""A plain table by columns says what the same table says coupon by coupon."""

import numpy as np
import pandas as pd
import pytest

from laminate.cli.app import status
from laminate.coupons import recipes, table_checks
from laminate.coupons.beside import Peers
from laminate.coupons.cell_warnings import table_warnings
from laminate.coupons.checks import impossible, suspects
from laminate.coupons.evaluation import Made
from laminate.coupons.grouped import Alike, Grouped
from laminate.coupons.groups import evaluate
from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.listed import alike_coupons, alike_rows, listed
from laminate.coupons.mistakes import find_mistakes
from laminate.coupons.readings import plan_of
from laminate.coupons.resolution import last_digits
from laminate.files.coupons import read_coupons
from laminate.files.named_file import NamedFile
from laminate.files.plain_table import read_plain
from laminate.front import measuring
from laminate.values.quantities import DEG_C, G_CM3, PERCENT, shown, shown_difference
from laminate.values.shown_columns import shown_columns
from laminate.values.units import SIValue, Spread

from .plain_tables import COUNT, LOST, OPTIONS, answers, differences, table

SLIPS = ("digit", "dropped", "doubled", "copied")
READ = ("[g]", "[mm]", "[degC]", "plies")
KINDS = {
    "text": lambda frame: frame,
    "string": lambda frame: frame.astype("string"),
    "category": lambda frame: frame.astype({"zone": "category", "specimen": "category"}),
    "float": lambda frame: frame.astype({name: float for name in frame if name.endswith(READ)}),
    "Float64": lambda frame: frame.astype({name: "Float64" for name in frame if name.endswith(READ)}),
}
CASES = {
    "clean": {},
    "one digit wrong": {"slips": 7},
    "every kind of slip": {"slips": 12, "kinds": SLIPS},
    "two zones": {"slips": 10, "kinds": SLIPS, "zones": ("web", "cap")},
    "two repeats": {"slips": 10, "kinds": SLIPS, "repeats": 2},
    "one thickness": {"slips": 6, "kinds": SLIPS, "repeats": 1},
    "no thickness": {"slips": 6, "kinds": SLIPS, "left_out": ("thickness",)},
    "no loss of matrix": {"slips": 6, "left_out": ("residue", "specimen mass", "method")},
    "no plies": {"slips": 6, "left_out": ("plies",)},
    "two methods": {"slips": 10, "kinds": SLIPS, "methods": ("digestion", "ignition")},
    "two counts of plies": {"slips": 10, "kinds": SLIPS, "plies": (20, 24)},
    "both, in three zones": {
        "slips": 10, "kinds": SLIPS, "plies": (20, 24), "methods": ("ignition", "digestion"),
        "zones": ("web", "cap", "web", "rib", "web"),
    },
    "zones of a few": {
        "slips": 12, "kinds": SLIPS, "methods": ("digestion", "ignition"),
        "zones": [f"z{i}" for i in range(30)] + ["web"] * 40,
    },
    "empty cells": {
        "slips": 10, "kinds": SLIPS, "zones": ("web", "cap"),
        "empty": {"thickness 3 [mm]": 3, "thickness 2 [mm]": 9, "plies": 40},
    },
    "some without loss of matrix": {
        "slips": 10, "kinds": SLIPS,
        "empty": {"specimen mass [g]": 7, "residue mass [g]": 7, "method": 7, "thickness 1 [mm]": 5},
    },
    "some without thickness": {
        "slips": 10, "kinds": SLIPS, "repeats": 2, "empty": {"thickness 1 [mm]": 9, "thickness 2 [mm]": 9},
    },
    "some wait for the residue": {"slips": 6, "kinds": SLIPS, "empty": {"residue mass [g]": 50}},
    "method not stated": {"slips": 6, "empty": {"method": 30}},
    "excluded": {
        "slips": 12, "kinds": SLIPS, "zones": ("web", "cap"),
        "extra": {"excluded": ["dropped on the floor" if i % 17 == 0 else "" for i in range(COUNT)]},
    },
    "a zone excluded, another of one": {
        "slips": 4, "zones": ["web"] * 100 + ["rib"] + ["cap"] * 50 + ["web"] * (COUNT - 151),
        "extra": {"excluded": ["burnt" if 100 < i < 151 else "" for i in range(COUNT)]},
    },
    "excluded with empty cells": {
        "slips": 12, "kinds": SLIPS, "methods": ("digestion", "ignition"),
        "extra": {"excluded": ["lost" if i % 13 == 1 else "" for i in range(COUNT)]},
        "empty": {"thickness 3 [mm]": 2, "specimen mass [g]": 13, "residue mass [g]": 13},
    },
    "accepted": {
        "slips": 30, "kinds": SLIPS,
        "extra": {"accepted": [("thickness 2: on a ridge", "all right", "")[i % 3] for i in range(COUNT)]},
    },
    "balances": {
        "slips": 10, "kinds": SLIPS,
        "extra": {"balance": [("B1", "B2", "")[i % 7 % 3] for i in range(COUNT)],
                  "liquid balance": [("B3", "")[i % 2] for i in range(COUNT)]},
    },
    "words beside": {"extra": {"operator": ["JM"] * COUNT, "position": ["50 %s"] * COUNT}},
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_columns_say_what_coupon_by_coupon_says(tmp_path, monkeypatch, name):
    path = table(tmp_path / "coupons.csv", **CASES[name])
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used
    assert code == other == 0
    assert len(by_columns["specimens"]) == COUNT
    assert differences(by_columns, one_by_one) == []


@pytest.mark.parametrize("name", ["every kind of slip", "excluded with empty cells", "both, in three zones"])
@pytest.mark.parametrize("why", [False, True])
def test_their_screens_are_the_same(tmp_path, monkeypatch, capsys, name, why):
    path = table(tmp_path / "coupons.csv", **CASES[name])
    arguments = ["measure", str(path), *OPTIONS, *(["--why"] if why else [])]
    assert status(arguments) == 0
    by_columns = capsys.readouterr().out
    monkeypatch.setattr(measuring, "_by_columns", lambda *_: None)
    assert status(arguments) == 0
    assert by_columns == capsys.readouterr().out
    assert len(by_columns.splitlines()) < (400 if why else 41)


BLANKS = [
    {"kind": "blank resin", "specimen mass [g]": "1.4011", "residue mass [g]": "0.0029"},
    {"kind": "blank resin", "specimen mass [g]": "1.3911", "residue mass [g]": "0.0031"},
    {"kind": "blank fiber", "specimen mass [g]": "1.2011", "residue mass [g]": "1.1999"},
    {"kind": "specimen", "thickness 1 [mm]": "2.871"},
    {"kind": "blank fiber", "specimen mass [g]": "1.2011", "excluded": "spilled"},
]


@pytest.mark.parametrize("odd", [{}, {"residue mass [g]": "0.2900"}, {"specimen mass [g]": "14.011"}])
def test_they_say_it_of_a_table_with_blanks(tmp_path, monkeypatch, odd):
    rows = [{"specimen": f"B{at}", "method": "digestion", **row} for at, row in enumerate(BLANKS)]
    rows[0] |= odd
    beside = {"kind": [""] * COUNT, "excluded": [""] * COUNT}
    path = table(tmp_path / "coupons.csv", slips=9, kinds=SLIPS, extra=beside, rows=rows)
    options = [option for option in OPTIONS if "residue" not in option]
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch, options)
    assert used
    assert code == other == 0
    assert any("2 blank rows" in note for note in by_columns["notes"])
    assert bool(odd) == any(warning["code"] == "blank-unlikely" for warning in by_columns["warnings"])
    assert differences(by_columns, one_by_one) == []


def test_they_say_it_of_crucibles(tmp_path, monkeypatch):
    """Weighed in named crucibles, of which two weigh otherwise than before."""
    path = table(tmp_path / "coupons.csv", slips=5)
    lines = [line.split(",") for line in path.read_text().splitlines()]
    piece, residue = (lines[0].index(f"{name} [g]") for name in LOST)
    names = ("crucible mass [g]", "crucible with specimen [g]", "crucible with residue [g]")
    lines[0] = [*(cell for at, cell in enumerate(lines[0]) if at not in (piece, residue)), "crucible", *names]
    for at in range(1, len(lines)):
        empty = 20 + at % 5 + (0.3 if at in (50, 51) else 0)
        masses = [f"{empty + mass:.4f}" for mass in (0, float(lines[at][piece]), float(lines[at][residue]))]
        kept = [cell for place, cell in enumerate(lines[at]) if place not in (piece, residue)]
        lines[at] = [*kept, f"C{at % 5}", *masses]
    path.write_text("\n".join(map(",".join, lines)) + "\n")
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used
    assert code == other == 0
    assert sum(warning["code"] == "crucible-unlike" for warning in by_columns["warnings"]) == 2
    assert differences(by_columns, one_by_one) == []


@pytest.mark.parametrize("left", [0, 12])
def test_they_say_it_where_all_rows_but_a_few_do_not_fit(tmp_path, monkeypatch, left):
    """A wrong areal weight makes methods disagree in all, another in all but some."""
    path = table(tmp_path / "coupons.csv", slips=3)
    lines = [line.split(",") for line in path.read_text().splitlines()]
    for at in range(1, left + 1):
        lines[at][8:] = [f"{float(cell) * 165 / 150:.3f}" for cell in lines[at][8:]]
    path.write_text("\n".join(map(",".join, lines)) + "\n")
    options = [option.replace("150 g", "165 g") for option in OPTIONS]
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch, options)
    assert used
    assert code == other == 0
    assert sum(bool(one["warnings"]) for one in by_columns["specimens"]) > COUNT - 3 * left - 1
    assert differences(by_columns, one_by_one) == []


def test_a_screen_says_once_what_all_share_and_names_twenty(tmp_path, capsys):
    path = table(tmp_path / "coupons.csv")
    assert status(["measure", str(path), *(option.replace("150 g", "165 g") for option in OPTIONS)]) == 0
    out = capsys.readouterr().out
    said = " ".join(out.split())
    assert len(out.splitlines()) <= 40
    assert said.count("320 of 320 coupons (S0001, ") == 2
    assert said.count("S0020 and 300 more") == 2
    assert "S0021" not in said


@pytest.mark.parametrize("kind", KINDS)
def test_they_say_it_of_a_dataframe_of_any_columns_at_its_labels(tmp_path, monkeypatch, kind):
    path = table(tmp_path / "coupons.csv", slips=8, kinds=SLIPS, zones=("web", "cap"))
    frame = KINDS[kind](pd.read_csv(path, dtype=str, keep_default_na=False))
    frame.index = [f"run {i}" for i in range(COUNT)]
    options = {k[2:].replace("-", "_"): v for k, _, v in (option.partition("=") for option in OPTIONS)}
    by_columns, used = measuring._by_columns, []
    monkeypatch.setattr(measuring, "_by_columns", lambda *given: used.append(by_columns(*given)) or used[-1])
    whole = measuring.measure_answer(frame, options).to_dict()
    monkeypatch.setattr(measuring, "_by_columns", lambda *_: None)
    assert used[0] is not None
    assert differences(whole, measuring.measure_answer(frame, options).to_dict()) == []
    names = {warning["place"].partition(",")[0] for warning in whole["warnings"]}
    assert len(names) > 3
    assert names == {f"row {frame.index[at]}" for at, one in enumerate(whole["specimens"]) if one["warnings"]}


@pytest.mark.parametrize("seed", range(2, 6))
def test_they_say_it_of_other_tables_too(tmp_path, monkeypatch, seed):
    path = table(tmp_path / "coupons.csv", seed=seed, slips=9, kinds=SLIPS, zones=("a", "b")[: seed % 3])
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used
    assert code == other == 0
    assert by_columns["warnings"]
    assert differences(by_columns, one_by_one) == []


def test_numbers_of_a_column_are_shown_as_one_number_is():
    """Numbers half way between two of 15 digits among them, powers of ten and their neighbors."""
    generator = np.random.default_rng(3)
    sizes = 10.0 ** generator.integers(-8, 8, 4000)
    powers = 10.0 ** np.arange(-8, 12)
    edges = [np.nextafter(powers, 0.0), powers, np.nextafter(powers, np.inf), [0.0]]
    column = np.concatenate([generator.standard_normal(4000) * sizes, *edges])
    for unit in (PERCENT, G_CM3, DEG_C):
        at_point = shown_columns(column * unit.per_si + unit.offset)
        assert at_point.tolist() == [shown(number, unit) for number in column.tolist()]
        steps = shown_columns(column * unit.per_si)
        assert steps.tolist() == [shown_difference(number, unit) for number in column.tolist()]


FEW_DEGREES = "--balance=0.1 mg (standard, dof=5)"


@pytest.mark.parametrize(
    "options",
    [
        OPTIONS[:2],
        [*OPTIONS, "--confidence=99 %"],
        [*OPTIONS[:3], FEW_DEGREES, "--micrometer=0.002 mm (standard)"],
    ],
)
def test_they_say_it_whatever_the_instruments(tmp_path, monkeypatch, options):
    path = table(tmp_path / "coupons.csv", slips=5)
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch, options)
    assert used
    assert code == other == 0
    assert differences(by_columns, one_by_one) == []


def rewritten(path, at, label, text):
    """One cell of a table written otherwise."""
    rows = [line.split(",") for line in path.read_text().splitlines()]
    rows[at][rows[0].index(label)] = text
    path.write_text("\n".join(map(",".join, rows)) + "\n")
    return path


@pytest.mark.parametrize(
    ("label", "text"),
    [
        ("mass in liquid [g]", "1.9000"), ("residue mass [g]", "1.9000"), ("mass in air [g]", "3.1000"),
        ("liquid temperature [degC]", "41.0"), ("thickness 1 [mm]", "1.0"), ("thickness 1 [mm]", "2.8700"),
        ("plies", "20.0"), ("plies", "21"), ("method", "ignition"),
    ],
)  # fmt: skip
def test_one_odd_cell_is_answered_in_the_same_words(tmp_path, monkeypatch, label, text):
    path = rewritten(table(tmp_path / "coupons.csv"), 100, label, text)
    (code, by_columns), (other, one_by_one), _ = answers(path, monkeypatch)
    assert code == other
    assert differences(by_columns, one_by_one) == []


@pytest.mark.parametrize(
    ("label", "text"),
    [
        ("mass in air [g]", ""), ("mass in air [g]", "1,44"), ("mass in air [g]", "1.4e0"),
        ("mass in air [g]", "nan"), ("specimen", "S0001"), ("specimen", "mean"), ("specimen", "3-Mar"),
        ("method", "burnt"), ("mass in air [g]", "-1.44"), ("mass in air [g]", "200000"),
        ("method", "thickness"), ("mass in air [g]", f"1.44{'0' * 100}"),
    ],
)  # fmt: skip
def test_a_table_that_is_not_plain_is_read_as_ever(tmp_path, monkeypatch, label, text):
    path = rewritten(table(tmp_path / "coupons.csv"), 100, label, text)
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used is False
    assert code == other
    assert differences(by_columns, one_by_one) == []


def test_a_row_shorter_than_the_header_is_told(tmp_path, monkeypatch):
    path = table(tmp_path / "coupons.csv")
    lines = path.read_text().splitlines()
    lines[100] = lines[100].rpartition(",")[0]
    path.write_text("\n".join(lines))
    (code, by_columns), (other, one_by_one), _ = answers(path, monkeypatch)
    assert code == other == 0
    assert any("S0100" in note for note in by_columns["notes"])
    assert differences(by_columns, one_by_one) == []


def european(path):
    """Semicolons, decimal commas, umlauts, a title above the heading and units in a row below it."""
    rows = [line.replace(".", ",").split("\t") for line in path.read_text().replace(",", "\t").splitlines()]
    names, units = zip(*(cell.rstrip("]").partition(" [")[::2] for cell in rows[0]), strict=True)
    rows[101][names.index("specimen")] = "Zürich"
    lines = [["Messung vom Mai"], list(names), list(units), *rows[1:]]
    path.write_text("\n".join(map(";".join, lines)) + "\n", encoding="latin-1")
    return path


def workbook(path):
    """The same as a sheet of a workbook, its numbers as numbers."""
    frame = pd.read_csv(path, dtype={"specimen": str})
    frame.to_excel(path.with_suffix(".xlsx"), index=False, sheet_name="May")
    return path.with_suffix(".xlsx")


def padded(path):
    """Spaces about the cells, quotation marks about the names."""
    header, *lines = path.read_text().splitlines()
    quoted = (f'"{line.partition(",")[0]}", {line.partition(",")[2]} ' for line in lines)
    path.write_text("\n".join([header, *quoted]) + "\n")
    return path


@pytest.mark.parametrize("write", [european, workbook, padded])
@pytest.mark.parametrize("name", ["two zones", "excluded with empty cells", "some wait for the residue"])
def test_they_say_it_of_tables_written_otherwise(tmp_path, monkeypatch, write, name):
    path = write(table(tmp_path / "coupons.csv", **CASES[name]))
    (code, by_columns), (other, one_by_one), used = answers(path, monkeypatch)
    assert used
    assert code == other == 0
    assert len(by_columns["specimens"]) == COUNT
    assert differences(by_columns, one_by_one) == []


BENCH = Bench(
    {
        "balance": Gauge("balance", Spread(1e-7), Spread(1e-7)),
        "thermometer": Gauge("thermometer", Spread(0.05), Spread(0.1)),
        "micrometer": Gauge("micrometer", Spread(2e-6), Spread(1.5e-6)),
    },
    residue_share=SIValue(0.002, 0.001),
)
RECIPE = recipes.of_options(SIValue(1790.0, 5.0), SIValue(1280.0, 6.0), SIValue(0.150, 0.001))


@pytest.fixture(scope="module")
def slipped(tmp_path_factory):
    """A table with every kind of slip, and its coupons."""
    path = table(tmp_path_factory.mktemp("slips") / "coupons.csv", seed=11, slips=40, kinds=SLIPS)
    return read_plain(path, "coupons.csv"), read_coupons([NamedFile(path, "coupons.csv")]).coupons


def grouped(rows, parts, **made):
    """Rows of a table evaluated."""
    recipe = RECIPE(20)
    alike = [
        Alike(places, first, Made(None, recipe, **made), plan_of(first, BENCH, **made))
        for places, first in parts
    ]
    whole = Grouped(rows, BENCH, alike, [None] * len(rows), (0.95, None))
    whole.read({})
    evaluate(whole.groups, 0.95)
    return whole


def test_a_row_made_when_asked_for_is_the_coupon_as_read(slipped):
    plain, coupons = slipped
    assert [plain.coupon(at) for at in range(COUNT)] == list(coupons)


def test_coupons_read_one_by_one_have_the_columns_of_their_table(slipped):
    plain, coupons = slipped
    one_by_one = listed(coupons)
    assert one_by_one.words == {name: plain.words[name] for name in one_by_one.words}
    assert [*one_by_one.columns] == [*plain.columns]
    for label, column in one_by_one.columns.items():
        known = plain.columns[label]
        for read, other in ((column.number, known.number), (column.decimals, known.decimals)):
            assert read.tolist() == other.tolist()
        assert column.cells.tolist() == known.cells.tolist()
        assert last_digits(column) == pytest.approx(last_digits(known), rel=1e-12)
    (rows, first), *others = alike_coupons(coupons)
    (places, second), *more = alike_rows(plain)
    assert (rows.tolist(), first, others) == (places.tolist(), second, more)


SLIPPED = {
    "mass in liquid [g]": ("1.9000", "0.9000", "-0.1000"), "residue mass [g]": ("1.9000", "0.0010"),
    "liquid temperature [degC]": ("73", "-2", ""), "thickness 1 [mm]": ("2.920",), "method": ("",),
}  # fmt: skip
"""Cells of one coupon that may be written wrongly, and what stands there then."""


def test_the_rows_that_are_suspects_are_those_in_which_something_is_impossible(tmp_path):
    good = {"mass in air [g]": "1.4400", "mass in liquid [g]": "0.5127", "liquid temperature [degC]": "22.8"}
    good |= {
        "specimen mass [g]": "1.4399",
        "residue mass [g]": "0.9748",
        "method": "digestion",
        "plies": "20",
    }
    good |= {f"thickness {i} [mm]": "2.870" for i in (1, 2, 3)}
    slips = [good | {name: cell} for name, cells in SLIPPED.items() for cell in cells]
    rows = [{"specimen": f"X{i}", **row} for i, row in enumerate([good, *slips])]
    path = table(tmp_path / "coupons.csv", rows=rows)
    plain, coupons = read_plain(path, "coupons.csv"), read_coupons([NamedFile(path, "coupons.csv")]).coupons
    made = Made(None, RECIPE(20), basis="with volatiles")
    alike = [Alike.of(places, first, made, BENCH) for places, first in alike_rows(plain)]
    bad = [at for at, coupon in enumerate(coupons) if impossible(coupon, BENCH, made.recipe)]
    assert np.flatnonzero(suspects(plain, alike, BENCH)).tolist() == bad
    assert {coupons[at].specimen for at in bad} == {f"X{i}" for i in range(1, 9)} - {"X5"}


@pytest.mark.parametrize("count", [COUNT, 30, 12, 3])
def test_rows_that_no_mask_has_would_say_nothing(slipped, monkeypatch, count):
    _, coupons = slipped
    possible = [coupon for coupon in coupons if not impossible(coupon, BENCH, RECIPE(20))][:count]
    rows = grouped(listed(possible), alike_coupons(possible))
    cells, mistakes = table_warnings(rows), find_mistakes(rows)
    assert count < COUNT or {problem.code for _, problem in cells} >= {"digits-unlike", "rows-alike"}
    assert count < COUNT or mistakes
    looked_at = Peers.__init__

    def at_all(self, specimens):
        looked_at(self, specimens)
        self.off[specimens.counted] = True

    monkeypatch.setattr(Peers, "__init__", at_all)
    monkeypatch.setattr(table_checks, "maybe_unlike", lambda *_: True)
    assert table_warnings(rows) == cells
    assert find_mistakes(rows) == mistakes
