"""Leaving out one cell, row, column, key, table or line never makes 'conforms' of another answer."""

import datetime as dt
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import pytest

from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.table import BenchTable
from laminate.files.batch import read_batch
from laminate.judging.reported import report_of

from .omissions import BATCH, answer_of, files_of, lines_of_a_row, omissions, without_figures

HERE = Path(__file__).parent
BASES = {
    "mast": HERE.parents[1] / "examples" / "mast",
    **{name: HERE / name for name in ("glass", "asked", "retested")},
}
OPEN, BAD = "undecided", "does not conform"
A_FEW = 37
"""One omission of so many is tried always, all of them with the slow tests."""


class Version(NamedTuple):
    """A change of a case; its answer, what holds it back, and what makes it conform when left out.

    free: what nobody asked for, or one of two statements that contradict each other.
    """

    base: str
    changes: tuple[tuple[str, str, str], ...]
    answer: str
    rules: frozenset[int] = frozenset()
    free: frozenset[str] = frozenset()


def one(base, file, old, new, answer=OPEN, rules=(), free=()):
    name = {"part": "part.toml", "batch": BATCH, "coupons": "coupons.csv"}[file]
    return Version(base, ((name, old, new),), answer, frozenset(rules), frozenset(free))


FIBER = '"1.786 g/cm^3 ± 0.006 (k=2)"'
APPROVAL = (
    '[[exclusion]]\nspecimen = "0104"\ncause = "cut across the edge"\n'
    'approved_by = "R. Stone"\nnumber = "NC-031"\ndate = 2026-11-21\n'
)
WIRES = 'wires = 1\nwire_diameter = "0.2 mm"\nbeaker_diameter = "80 mm"\n'
BLANKS = (
    '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
    'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n'
)
COPY = (
    "1.4609,0.5192,22.8,digestion,1.4607,0.9884,2.866,2.868,2.869",
    "1.4427,0.5117,22.8,digestion,1.4425,0.9763,2.873,2.871,2.872",
)
RESIN_7 = "B7,,blank resin,JM,,,,ignition,K7,27.2880,28.6904,27.2937\n"
FIBER_9 = "B9,,blank fiber,JM,,,,ignition,K9,27.8474,29.3462,29.3441\n"
BLANK_ROWS = f"B6,,blank resin,JM,,,,ignition,K6,26.9627,28.4315,26.9685\n{RESIN_7}"

THICKNESS_ALONE = (
    ("part.toml", 'methods = ["immersion", "digestion", "thickness"]', 'methods = ["thickness"]'),
    ("part.toml", '[limits.void_content]\nindividual = { max = "2 %" }\n', ""),
    ("coupons.csv", "1.4427,0.5117,22.8,digestion,1.4425,0.9763", ",,,,,"),
    ("coupons.csv", "1.4609,0.5192,22.8,digestion,1.4607,0.9884", ",,,,,"),
    ("coupons.csv", "1.4143,0.5032,22.9,digestion,1.4141,0.9573", ",,,,,"),
    (BATCH, BLANKS, ""),
)
ANOTHER_LOT = (
    (BATCH, 'number = "L2231"\n', 'number = "L2231"\nshare = "70 %"\n'),
    (BATCH, "[fiber.carbon]", '[[lot]]\nprepreg = "ud150"\nnumber = "L2240"\nshare = "30 %"\n'
     'volatiles = "0.4 % ± 0.2 (tolerance)"\nfiber_areal_weight = "145 g/m^2 ± 1.0 (k=2)"\n'
     'resin_content = "33.0 % ± 0.6 (k=2)"\nresin_basis = "as received"\nexpires = 2027-06-01\n'
     'out_time = "12 d"\nout_life = "30 d"\n[fiber.carbon]'),
    ("coupons.csv", "tip,L2231", "tip,L2240"),
)  # fmt: skip

VERSIONS = {
    # the figures themselves
    "a thickness outside": one("mast", "part", 'max = "2.95 mm"', 'max = "2.868 mm"', BAD),
    "voids too near": one("mast", "part", 'max = "2 %"', 'max = "0.7 %"'),
    "an average outside": one("mast", "part", 'max = "62 %"', 'max = "58.3 %"', BAD),
    "a certified resin content too near": one("mast", "part", 'max = "34 %"', 'max = "33.3 %"'),
    "a cure temperature too near": one("mast", "batch", "126 degC ± 1", "127.5 degC ± 1"),
    "a fiber density worth little, asked for": one("asked", "batch", FIBER, FIBER.replace("0.006", "0.16")),
    "a balance worth little": one(
        "mast", "batch", '"0.1 mg (standard)"          # of', '"9 mg (standard)" #'),
    "burnt off, outside": one("glass", "part", 'max = "57 %"', 'max = "51 %"', BAD),
    "burnt off, too near": one("glass", "part", 'min = "48 %"', 'min = "52.0 %"'),
    "burnt off, voids too near": one("glass", "part", 'max = "2 %"', 'max = "0.7 %"'),
    "measured again, outside": one("retested", "part", 'max = "57 %"', 'max = "51 %"', BAD),
    # a batch of two lots need not say which coupon is of which: then their mean counts
    "a coupon of a lighter lot": Version(
        "mast", (*THICKNESS_ALONE, *ANOTHER_LOT), OPEN, frozenset(), frozenset({"coupons.csv column lot"})),
    # 1: incomplete specimens
    "too few coupons": one("mast", "part", "coupons = 3", "coupons = 4", OPEN, {1}),
    "one more was cut": one("asked", "batch", "cut = { web = 6 }", "cut = { web = 7 }", OPEN, {1}),
    "no residue": one("mast", "coupons", "1.4141,0.9573", "1.4141,", OPEN, {1}),
    "no temperature of the water": one("mast", "coupons", "0.5032,22.9", "0.5032,", OPEN, {1}),
    "no mass in air": one("mast", "coupons", "1.4143,0.5032", ",0.5032", OPEN, {1}),
    "no zone": one("mast", "coupons", "0103,web", "0103,", OPEN, {1}),
    "a repeat missing": one("asked", "coupons", "2.865,2.868,2.866", "2.865,,2.866", OPEN, {1}),
    "no mass of its own before digestion": one("asked", "coupons", "1.4141,0.9573", ",0.9573", OPEN, {1}),
    "no mass in liquid": one("glass", "coupons", "2.0635,0.9814", "2.0635,", OPEN, {1}),
    # 2: open doubts
    "a mass in doubt": one("mast", "coupons", "1.4427", "1.4247", OPEN, {2}),
    "a mass before digestion in doubt": one("mast", "coupons", "1.4425,", "1.4225,", OPEN, {2}),
    "copied rows": one("mast", "coupons", *COPY, OPEN, {2}),
    "a repeat in doubt": one("asked", "coupons", "2.865,2.868,2.866", "2.865,2.898,2.866", OPEN, {2}),
    "quantity and serials apart": one("asked", "batch", "quantity = 12", "quantity = 13", OPEN, {2}),
    "a serial named twice": one("asked", "batch", "031-01 to 031-12", "031-01, 031-01 to 031-11", OPEN, {2}),
    "quantity and serials apart, not asked for": one(
        "mast", "batch", "quantity = 12", "quantity = 13", OPEN, {2}, {"batch.quantity", "batch.serials"}),
    "a blank of resin in doubt": one("asked", "coupons", "1.3121,0.0024", "1.3121,0.0240", OPEN, {2}),
    "a blank of fiber in doubt": one("glass", "coupons", "29.1025,29.0992", "29.1025,29.0592", OPEN, {2}),
    "a check standard off": one("asked", "coupons", "3.2882", "3.2802", OPEN, {2}),
    "a residue in doubt": one("glass", "coupons", "27.3906", "27.9306", OPEN, {2}),
    "a mass in doubt, burnt off": one("glass", "coupons", "2.0090", "2.0900", OPEN, {2}),
    # 3: exclusions that matter
    "excluded without approval": one("asked", "batch", APPROVAL, "", OPEN, {3}),
    "approved by the operator": one("asked", "batch", "R. Stone", "J.M.", OPEN, {3}),
    "the residue of an excluded coupon lost": one("retested", "batch", 'approved_by = "R. Stone"',
                                                  'approved_by = "j m"', OPEN, {3}),
    # 4: zones under limits
    "a zone without a plan": one("mast", "part", '[plan.skin]\nrepresented_by = "web" ', "# ", OPEN, {4}),
    # 5: instruments
    "an instrument past due": one("mast", "batch", "due = 2027-05-01", "due = 2026-11-19", OPEN, {5}),
    "an instrument calibrated later": one(
        "mast", "batch", "calibrated = 2026-05-01", "calibrated = 2026-11-21", OPEN, {5}),
    "an instrument unnamed": one("mast", "batch", 'identity = "TH-05"\n', "", OPEN, {5}),
    "a thermometer unnamed": one("glass", "batch", 'identity = "TH-05"\n', "", OPEN, {5}),
    # 6: cores
    "a core past its moldings": one("mast", "batch", "moldings = 12", "moldings = 51", OPEN, {6}),
    # 7: lots
    "a lot without its number": one("mast", "batch", 'number = "L2231"\n', "", OPEN, {7}),
    "a lot past": one("mast", "batch", "expires = 2027-06-01", "expires = 2026-11-01", OPEN, {7}),
    "a lot out too long": one("mast", "batch", 'out_life = "30 d"', 'out_life = "11 d"', OPEN, {7}),
    "past its shelf life": one("glass", "batch", "made = 2026-03-01", "made = 2025-09-01", OPEN, {7}),
    "out longer than the part allows": one(
        "glass", "batch", 'out_time = "40 h"', 'out_time = "500 h"', OPEN, {7}),
    "an out time not recorded, though the part limits it": one(
        "asked", "batch", 'out_time = "12 d"', 'out_time = "not recorded: lost"', OPEN, {7}),
    # 8: plies
    "plies of a layup that is not known": Version(
        "mast", (("coupons.csv", "JM,20,1.4427", "JM,,1.4427"), ("coupons.csv", "JM,20,1.4609", "JM,,1.4609"),
                 ("coupons.csv", "JM,20,1.4143", "JM,,1.4143"), (BATCH, "web = 20, skin = 20", "skin = 20")),
        OPEN, frozenset({8})),
    # 9: plan and asks not met
    "a position missing": one("mast", "part", '"mid", "tip"', '"mid", "heel"'),
    "asked for and not told": one("asked", "part", '"batch.quantity"', '"resin.epoxy.density"', OPEN, {9}),
    "no retest allowed": one("retested", "part", "retests = 1\n", ""),
    "too few measured again": one("retested", "part", "retest_coupons = 3", "retest_coupons = 4"),
    # 10: no ±
    "a density without ±, asked for": one("asked", "batch", FIBER, '"1.786 g/cm^3"', OPEN, {10}),
    "a density without ±": one("mast", "batch", FIBER, '"1.786 g/cm^3"', OPEN, {10},
                               {"fiber", "fiber.carbon", "fiber.carbon.density"}),
    "a gauge without ±": one("mast", "batch", 'calibration = "0.2 K (tolerance)"\n', "", OPEN, {10}),
    "no air": one("mast", "batch", 'air_density = "0.0012 g/cm^3"\n', "", OPEN, {10}),
    "no wires": one("mast", "batch", WIRES, "", OPEN, {10}),
    "a cure temperature without ±": one("mast", "batch", "126 degC ± 1 (tolerance)", "126 degC", OPEN, {10}),
    "no ± from ply to ply": Version(
        "mast", (*THICKNESS_ALONE, ("part.toml", 'ply_scatter = "1 % (standard)" ', "# ")),
        OPEN, frozenset({10})),
    # 11: blanks
    "no blank": one("mast", "batch", BLANKS, "", OPEN, {11}),
    "one blank of two": one("mast", "batch", BLANKS, BLANKS.splitlines(keepends=True)[0]
                            + BLANKS.splitlines(keepends=True)[1], OPEN, {11}),
    "no blank of resin": one("glass", "coupons", BLANK_ROWS, "", OPEN, {11}),
    "too few blanks": one("asked", "part", "blanks = 4", "blanks = 5", OPEN, {11}),
    "a blank not finished": one("glass", "coupons", "28.6904,27.2937", "28.6904,", OPEN, {11}),
    "one blank of a kind": Version(
        "glass", (("part.toml", "blanks = 4", "blanks = 3"), ("coupons.csv", RESIN_7, "")),
        OPEN, frozenset({10})),
    "a check standard too few": one(
        "asked", "part", "check_standards = 1", "check_standards = 2", OPEN, {11}),
}  # fmt: skip


def files_of_version(version):
    files = files_of(BASES[version.base])
    for name, old, new in version.changes:
        text = files[name].decode()
        assert text.count(old) == 1, (name, old, text.count(old))
        files[name] = text.replace(old, new).encode()
    return files


def bought(files, monkeypatch, every=1):
    """What is left out where the answer then is 'conforms'."""
    with monkeypatch.context() as quick:
        without_figures(quick)
        tried = list(omissions(files))[::every]
        found = [(what, less) for what, less in tried if answer_of(less) == "conforms"]
    assert len(tried) > 100 // every
    return {what for what, less in found if answer_of(less) == "conforms"}


@cache
def entered(changes, corrected):
    """The example with readings corrected at the bench, one after the other: row, label, text, why."""
    files = files_of(BASES["mast"])
    for name, old, new in changes:
        files[name] = files[name].decode().replace(old, new).encode()
    with TemporaryDirectory() as place:
        folder = Path(place)
        for name, data in files.items():
            (folder / name).write_bytes(data)
        checker, clock = TableChecker(read_batch(folder / BATCH)), dt.datetime(2026, 11, 20, 14, 2)
        for at, label, text, why in corrected:
            session = Session(BenchTable(folder / "coupons.csv"), checker, "JM", lambda: clock)
            assert session.type(session.rows[at], label, text, why).kept
        return files_of(folder)


CORRECTED = ((0, "thickness 1", "2.868", "read wrongly"), (0, "thickness 2", "2.868", "read wrongly"),
             (0, "thickness 3", "2.869", "read wrongly"), (2, "thickness 1", "2.866", "note"))  # fmt: skip
THICK = (("coupons.csv", "2.873,2.871,2.872", "2.893,2.891,2.892"),)
LESS = ("part.toml", 'max = "2.95 mm"', 'max = "2.884 mm"')


def with_history(name):
    """Versions with a history beside the table: rules of the answer, and the files."""
    if name == "corrected for a better answer":
        return {2}, entered((*THICK, LESS), CORRECTED)
    files = entered(THICK, CORRECTED)
    if name == "a cell changed elsewhere":
        return {2}, {**files, "coupons.csv": files["coupons.csv"].replace(b"2.868,2.868", b"2.868,2.867", 1)}
    history = files["coupons.csv.history.jsonl"].replace(b"wrongly", b"rightly", 1)
    return {12}, {**files, "coupons.csv.history.jsonl": history}


HISTORIES = ("corrected for a better answer", "a cell changed elsewhere", "a history that was changed")


def test_what_is_changed_conforms_before():
    assert [answer_of(files_of(folder)) for folder in BASES.values()] == ["conforms"] * len(BASES)
    assert answer_of(entered(THICK, CORRECTED)) == "conforms"


def test_every_rule_has_a_version():
    told = {rule for version in VERSIONS.values() for rule in version.rules}
    assert told == {*range(1, 12)}  # 12 is of the histories


@pytest.mark.parametrize("name", VERSIONS)
def test_a_few_omissions(name, monkeypatch):
    version = VERSIONS[name]
    files = files_of_version(version)
    judged = report_of(BATCH, files).judgement
    assert (judged.answer, {held.rule for held in judged.held_back}) == (version.answer, {*version.rules})
    assert bought(files, monkeypatch, A_FEW) <= version.free


@pytest.mark.parametrize("name", HISTORIES)
def test_a_few_omissions_beside_a_history(name, monkeypatch):
    rules, files = with_history(name)
    judged = report_of(BATCH, files).judgement
    assert (judged.answer, {held.rule for held in judged.held_back}) == (OPEN, rules)
    assert bought(files, monkeypatch, A_FEW) == set()


@pytest.mark.slow
@pytest.mark.parametrize("name", VERSIONS)
def test_every_omission(name, monkeypatch):
    version = VERSIONS[name]
    assert bought(files_of_version(version), monkeypatch) == version.free


@pytest.mark.slow
@pytest.mark.parametrize("name", HISTORIES)
def test_every_omission_beside_a_history(name, monkeypatch):
    assert bought(with_history(name)[1], monkeypatch) == set()


@pytest.mark.parametrize("name", HISTORIES)
def test_a_row_with_its_lines_of_the_history(name):
    """Two omissions that belong together; whoever takes out the whole history with its column is lying."""
    _, files = with_history(name)
    for specimen in ("0101", "0103"):
        assert answer_of(lines_of_a_row(files, specimen, row=False)) != "conforms"
        assert answer_of(lines_of_a_row(files, specimen, row=True)) != "conforms"


@pytest.mark.parametrize(("asked", "rules"), [("", {10}), ("blanks = 2", set()), ("blanks = 3", {11})])
def test_one_blank_of_each_kind_decides_where_the_part_asks_for_no_more(asked, rules):
    """How far another would be from it, one blank does not tell: its own ± is of its weighing alone."""
    glass = ("part.toml", "blanks = 4", asked), ("coupons.csv", RESIN_7, ""), ("coupons.csv", FIBER_9, "")
    judged = report_of(BATCH, files_of_version(Version("glass", glass, OPEN))).judgement
    assert {held.rule for held in judged.held_back} == rules
    assert (judged.answer == "conforms") == (not rules)
