"""What is released is held against the other records: one batch, one set of readings, one issue."""

from __future__ import annotations

import json
import shutil
import time
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from laminate.history.trending import trend
from laminate.records.allowed_signers import utc
from laminate.records.contradictions import (
    OtherRecord,
    contradictions_of,
    copied_from,
    equal_readings,
    same_readings,
)
from laminate.records.differences import Rejudged
from laminate.records.record import recompute
from laminate.records.signature import NotAllowed
from laminate.records.statement import seconds
from laminate.values.canonical import sha256
from laminate.values.problems import Refused

from .conftest import OTHER_ID, Shop, believed, put, record_bytes, released, sealed


def amending(digest: str) -> tuple[str, str, str]:
    table = f'[replaces]\nrecord = "{digest}"\nreason = "a reading corrected"\n'
    return "batch.toml", "[laboratory]", f"{table}[laboratory]"


def test_alone_it_is_released(first: Shop) -> None:
    assert released(first) == []


@pytest.mark.parametrize(
    "spelling", ["26-031", "26-031 ", "26 o31", "26\u201103I", "26-03\\u200b1", "26-031\\ufeff"]
)
def test_another_record_of_this_batch_stands_against_it(first: Shop, spelling: str) -> None:
    other_spelling = (*OTHER_ID[:2], f'id = "{spelling}"')
    quantity = ("batch.toml", "quantity = 12", "quantity = 11")
    put(first, sealed(first.folder.parent / "files", other_spelling, quantity))
    assert released(first) == ["same-batch"]


OTHER_PART = [("batch.toml", "MAST-04", "MAST-05"), ("part.toml", "MAST-04", "MAST-05")]


def test_a_batch_of_another_part_may_have_the_same_number(first: Shop) -> None:
    """That one number names two batches is a note."""
    put(first, sealed(first.folder.parent / "files", *OTHER_PART, ("coupons.csv", "\n01", "\n91")))
    notes = first.sign("eve", time="2026-11-22T00:00:00Z").notes
    assert any("MAST-05" in note for note in notes)


def test_a_batch_of_another_part_with_the_same_number_and_readings_stands_against_it(first: Shop) -> None:
    put(first, sealed(first.folder.parent / "files", *OTHER_PART))
    assert released(first) == ["same-readings"]


def test_one_that_it_replaces_does_not_and_the_replaced_one_is_not_released(first: Shop) -> None:
    files = first.folder.parent / "files"
    digest = sha256(first.record.read_bytes())
    amended = amending(digest)
    put(first, sealed(files, amended), "amended")
    assert released(first) == ["replaced"]
    assert any("amended/record.json" in note for note in first.verify().notes)
    later = Shop(first.folder.parent / "amended", first.keys)
    later.sign("ann", time="2026-11-21T00:00:00Z")
    assert released(later) == []


def test_a_release_says_what_the_record_that_it_stands_for_answered(first: Shop) -> None:
    files = first.folder.parent / "files"
    failing = ("batch.toml", 'value = "126 degC', 'value = "131 degC')
    earlier = sealed(files, failing)
    put(first, earlier)
    digest = sha256(earlier)
    amends = amending(digest)
    put(first, sealed(files, amends), "amended")
    shutil.rmtree(first.record.parent)
    later = Shop(first.folder.parent / "amended", first.keys)
    later.sign("ann", time="2026-11-21T00:00:00Z")
    notes = later.sign("eve", time="2026-11-22T00:00:00Z").notes
    assert sum("other/record.json" in note and "does not conform" in note for note in notes) == 1


@pytest.mark.parametrize(
    ("renamed", "codes"),
    [("0101 0102 0103", ["replaces-other"]), ("0102 0103", ["replaces-other"]), ("", [])],
)
def test_one_that_replaces_another_batch_is_released_with_its_readings_alone(
    first: Shop, renamed: str, codes: list[str]
) -> None:
    """Those of one coupon of three, copied, do not make it the same batch."""
    digest = sha256(first.record.read_bytes())
    amends = amending(digest)
    others = [("coupons.csv", f"\n{name}", f"\n9{name}") for name in renamed.split()]
    put(first, sealed(first.folder.parent / "files", OTHER_ID, amends, *others))
    later = Shop(first.folder.parent / "other", first.keys)
    later.sign("ann", time="2026-11-21T00:00:00Z")
    assert released(later) == codes


FAILS = ("part.toml", 'max = "2 %"', 'max = "0.1 %"')


@pytest.mark.parametrize("rejected", [False, True])
def test_new_coupons_release_no_batch_that_failed_or_was_rejected(first: Shop, rejected: bool) -> None:
    """The earlier coupons stay in the table, with a reason where they do not count."""
    files = first.folder.parent / "files"
    failed = Shop(first.folder.parent / "26-031 failed", first.keys)
    put(first, sealed(files, *([] if rejected else [FAILS])), failed.folder.name)
    if rejected:
        failed.sign("bob", "rejected", goods="scrapped", time="2026-11-21T00:00:00Z")
    digest = sha256(failed.record.read_bytes())
    amends = amending(digest)
    first.record.write_bytes(sealed(files, amends, ("coupons.csv", "\n01", "\n91")))
    for file in first.folder.glob("record.prepared*"):
        file.unlink()
    first.sign("ann", time="2026-11-21T00:00:00Z")
    codes = released(first)
    assert ("replaces-without" in codes, "replaces-rejected" in codes) == (not rejected, rejected)


def test_a_table_copied_under_other_names_is_told(first: Shop) -> None:
    put(first, sealed(first.folder.parent / "files", OTHER_ID, ("coupons.csv", "\n01", "\n91")))
    done = first.sign("eve", time="2026-11-22T00:00:00Z")
    assert any("26-032" in note and "0101" in note for note in done.notes)
    assert any("26-032" in note and "serials" in note for note in done.notes)


def test_the_same_readings_under_another_batch_stand_against_it(first: Shop) -> None:
    put(first, sealed(first.folder.parent / "files", OTHER_ID))
    assert released(first) == ["same-readings"]


WEIGHED = (("mass in air", 1.4427e-3), ("mass in liquid", 0.5117e-3))
TWICE = (("thickness 1", 2.871e-3), ("thickness 2", 2.872e-3))
THRICE = (*TWICE, ("thickness 3", 2.870e-3))


@pytest.mark.parametrize(
    ("readings", "told"),
    [
        (WEIGHED, True),
        (THRICE, False),
        ((*WEIGHED[:1], *TWICE[:1]), True),
        (TWICE, False),
        (TWICE[:1], False),
    ],
)
def test_one_equal_specimen_without_a_mass_may_be_chance(readings, told):
    batch, other = {"1": readings, "2": WEIGHED}, {"1": readings, "2": WEIGHED[:1]}
    assert same_readings(batch, other) == (["1"] if told else [])
    assert same_readings({"1": readings}, other) == (["1"] if told else [])
    assert same_readings({"26-0311": readings}, {"26-0311": readings}, ["26-031"]) == ["26-0311"]


def rounded(step, count, repeats=1, seed=7, unit=1e-3):
    """Coupons about 1.80 mm thick, scatter 0.02 mm, repeats 0.003 mm, read in steps of a unit [m]."""
    generator = np.random.default_rng(seed)
    thick = generator.normal(1.80e-3, 0.02e-3, (count, 1)) + generator.normal(0, 0.003e-3, (count, repeats))
    rows = np.rint(thick / step / unit) * step * unit
    labels = [f"thickness {at}" for at in range(1, repeats + 1)]
    return {
        str(n): tuple((label, float(f"{v:.9g}")) for label, v in zip(labels, row, strict=True))
        for n, row in enumerate(rows, 1)
    }


@pytest.mark.parametrize("count", [1, 2, 3])
def test_no_two_of_many_batches_of_few_coarse_readings_are_copies(count):
    """Of 30 batches of one coupon read to 0.01 mm most have the reading of another."""
    batches = [rounded(0.01, count, seed=seed) for seed in range(30)]
    pairs = [*combinations(batches, 2)]
    assert sum(len(equal_readings(*pair)) == count for pair in pairs) >= (40, 3, 0)[count - 1]
    assert not any(same_readings(*pair) for pair in pairs)


@pytest.mark.parametrize(
    ("step", "count", "repeats", "unit", "told"),
    [
        (0.01, 1, 1, 1e-3, False),
        (0.01, 3, 1, 1e-3, False),
        (0.01, 3, 3, 1e-3, False),
        (0.01, 9, 1, 1e-3, True),
        (0.001, 1, 3, 1e-3, False),
        (0.001, 4, 1, 1e-3, True),
        (0.001, 3, 3, 1e-3, True),
        (0.001, 3, 1, 25.4e-3, False),
        (0.0001, 6, 1, 25.4e-3, True),
    ],
)
def test_so_many_equal_thicknesses_that_chance_does_not_make_them_are_a_copy(
    step, count, repeats, unit, told
):
    batch = rounded(step, count, repeats, unit=unit)
    assert same_readings(batch, batch) == (sorted(batch) if told else [])


def test_equal_readings_that_may_be_chance_are_a_note(first: Shop) -> None:
    """One thickness of one specimen in both batches."""
    files = first.folder.parent / "files"
    (files / "coupons.csv").write_text("specimen,zone,thickness [mm]\n1,web,2.87\n", "utf-8")
    record, other = (
        OtherRecord(name, name, json.loads(sealed(files, *changes)))
        for name, changes in (("a", []), ("b", [OTHER_ID, ("batch.toml", "031-01 to 031-12", "12 pieces")]))
    )
    assert [*contradictions_of(record, [other])] == []
    [note] = copied_from(record, [other])
    assert "26-032" in note


def test_a_column_less_or_more_leaves_the_same_readings():
    row = (("mass in air", 1.4427e-3), ("mass in liquid", 0.5117e-3), ("residue mass", 0.9763e-3), *TWICE)
    batch, fewer, more = {"1": row}, {"1": row[:-1], "2": WEIGHED}, {"1": (*row, THRICE[-1]), "2": WEIGHED}
    assert same_readings(batch, fewer) == same_readings(batch, more) == ["1"]
    assert same_readings(batch, {"1": (*row[:-1], ("thickness 2", 2.873e-3)), "2": WEIGHED}) == []
    assert same_readings(batch, {"1": row[:2], "2": WEIGHED}) == []  # too little in common


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[part]\n", "[part]\ncheck_standards = 1\n"),
        ("limit_moldings = 50", "limit_moldings = 60"),
        ("[prepreg.ud150]\n", '[prepreg.ud150]\nout_life = "10 d"\n'),
        ("[prepreg.ud150]\n", "[prepreg.ud150]\ntested_pieces = 1\n"),
    ],
)
def test_what_the_part_asks_for_is_of_its_limits(first: Shop, old: str, new: str) -> None:
    names = [("coupons.csv", f"010{n}", f"020{n}") for n in (1, 2, 3)]
    put(first, sealed(first.folder.parent / "files", OTHER_ID, *names, ("part.toml", old, new)))
    assert released(first) == ["other-limits"]


def test_another_id_in_the_words_of_a_record_is_not_that_of_its_batch_file(first: Shop) -> None:
    data = sealed(first.folder.parent / "files", ("batch.toml", "quantity = 12", "quantity = 11"))
    put(first, data.replace(b'"id":"26-031"', b'"id":"26-030"'))
    assert released(first) == ["same-batch"]


def test_other_limits_at_the_same_issue_stand_against_it(first: Shop) -> None:
    files = first.folder.parent / "files"
    names = [("coupons.csv", f"010{n}", f"020{n}") for n in (1, 2, 3)]
    put(first, sealed(files, OTHER_ID, *names, ("part.toml", 'max = "2 %"', 'max = "3 %"')))
    assert released(first) == ["other-limits"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("guard = 1.0", "guard = 1"),
        ('min = "54 %"', 'min = "54%"'),
        ('max = "2 %"', 'max = "2.0 %"'),
        ('min = "2.75 mm"', 'min = "0.275 cm"'),
        ('["immersion", "digestion", "thickness"]', '["thickness", "immersion", "digestion"]'),
        ("allowed_outside = 0\n", ""),
        ("[limits]\n", "[limits]   # as before\n"),
    ],
)
def test_the_same_plan_and_limits_written_otherwise_are_no_others(first: Shop, old: str, new: str) -> None:
    names = [("coupons.csv", f"010{n}", f"020{n}") for n in (1, 2, 3)]
    put(first, sealed(first.folder.parent / "files", OTHER_ID, *names, ("part.toml", old, new)))
    assert released(first) == []
    found = trend(first.folder.parent, recompute=lambda _: Rejudged(()))
    assert [record.notes for record in found.records] == [[], []]


@pytest.mark.parametrize("odd", range(3))
def test_of_three_records_the_one_with_other_limits_is_told(first: Shop, odd: int) -> None:
    files = first.folder.parent / "files"
    for place in range(3):
        names = [("coupons.csv", f"010{n}", f"{place + 2}10{n}") for n in (1, 2, 3)]
        limits = ("part.toml", 'max = "2 %"', f'max = "{3 if place == odd else 2} %"')
        data = sealed(files, ("batch.toml", '"26-031"', f'"26-04{place}"'), *names, limits)
        put(first, data, f"{place}")
    first.record.unlink()
    found = trend(first.folder.parent, recompute=lambda _: Rejudged(()))
    by_file = {record.file: record.notes for record in found.records}
    assert [bool(by_file[f"{place}/record.json"]) for place in range(3)] == [
        place == odd for place in range(3)
    ]


def test_other_specimens_of_another_batch_do_not(first: Shop) -> None:
    names = [("coupons.csv", f"010{n}", f"020{n}") for n in (1, 2, 3)]
    put(first, sealed(first.folder.parent / "files", OTHER_ID, *names))
    assert released(first) == []


def test_a_folder_can_be_named(first: Shop, tmp_path: Path) -> None:
    (tmp_path / "archive/deep").mkdir(parents=True)
    (tmp_path / "archive/deep/26-032.json").write_bytes(sealed(first.folder.parent / "files", OTHER_ID))
    assert released(first, among=tmp_path / "archive") == ["same-readings"]


def test_a_named_folder_leaves_no_other_out(first: Shop, tmp_path: Path) -> None:
    put(first, sealed(first.folder.parent / "files", OTHER_ID))
    (tmp_path / "empty").mkdir()
    assert released(first, among=tmp_path / "empty") == ["same-readings"]


def test_a_file_is_no_folder_to_look_among(first: Shop) -> None:
    with pytest.raises(Refused) as refused:
        released(first, among=first.record)
    (problem,) = refused.value.problems
    assert (problem.code, problem.file) == ("wrong-file", str(first.record))


def test_trend_names_all_three(first: Shop) -> None:
    files = first.folder.parent / "files"
    put(first, sealed(files, OTHER_ID), "readings")
    names = [("coupons.csv", f"010{n}", f"030{n}") for n in (1, 2, 3)]
    other = ("batch.toml", 'id = "26-031"', 'id = "26-033"')
    put(first, sealed(files, other, *names), "fine")
    limits = ("part.toml", 'max = "2 %"', 'max = "3 %"')
    names = [("coupons.csv", f"010{n}", f"040{n}") for n in (1, 2, 3)]
    put(first, sealed(files, ("batch.toml", 'id = "26-031"', 'id = "26-034"'), *names, limits), "limits")
    found = trend(first.folder.parent, recompute=lambda _: Rejudged(()))
    by_file = {one.file: one for one in found.records}
    assert [by_file[f"{name}/record.json"].rival for name in ("26-031", "readings", "fine", "limits")] == [
        True, True, False, False,
    ]  # fmt: skip
    assert len(by_file["limits/record.json"].notes) + len(by_file["fine/record.json"].notes) == 1
    assert not found.all_verify


def test_a_claimed_day_before_measuring_or_molding_is_refused_and_not_proven(shop: Shop) -> None:
    shop.record.write_bytes(record_bytes(batch={"molded": "2026-11-18", "measured": "2026-11-21"}))
    with pytest.raises(NotAllowed) as refused:
        shop.sign("ann", time="2026-11-20T23:59:59Z")
    assert [finding.code for finding in refused.value.findings] == ["before-measuring"]
    shop.sign("ann", time="2026-11-21T00:00:00Z")
    assert shop.verify().proven
    later = record_bytes(batch={"molded": "2026-11-22", "measured": "2026-11-21"})
    found = shop.verify(recompute=lambda _: believed(later))
    assert [reason.code for reason in found.signatures[0].reasons] == ["before-measuring"]


@pytest.mark.parametrize(
    ("zone", "first"),
    [
        ("Pacific/Auckland", "2026-11-20T11:00:00Z"),
        ("Asia/Tokyo", "2026-11-20T15:00:00Z"),
        ("UTC", "2026-11-21T00:00:00Z"),
        ("America/New_York", "2026-11-21T00:00:00Z"),
    ],
)
def test_the_day_of_signing_begins_by_the_clock_of_the_signer(
    zone: str, first: str, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Auckland is 13 h ahead of UTC in November, Tokyo 9 h (tz database)."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        shop.record.write_bytes(record_bytes(batch={"molded": "2026-11-18", "measured": "2026-11-21"}))
        with pytest.raises(NotAllowed) as refused:
            shop.sign("ann", time=utc(seconds(first) - 1))
        assert [finding.code for finding in refused.value.findings] == ["before-measuring"]
        shop.sign("ann", time=first)
        assert shop.verify().proven
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize(
    "time", ["05.12.2026", "2026/12/05", "2026.12.05 09:14", "2026-12-5", "20261205T0914"]
)
def test_a_claimed_day_before_that_of_a_row_is_refused_however_the_row_writes_it(time, shop: Shop) -> None:
    rows = [{"specimen": "0101", "time": time}]
    shop.record.write_bytes(record_bytes(specimens=rows))
    with pytest.raises(NotAllowed) as refused:
        shop.sign("ann", time="2026-12-04T23:59:59Z")
    assert [finding.code for finding in refused.value.findings] == ["before-measuring"]
    shop.sign("ann", time="2026-12-05T00:00:00Z")


def test_an_exclusion_approved_after_the_claimed_time_is_refused(shop: Shop) -> None:
    """Nobody has approved it yet, whatever the batch file says."""
    approval = {
        "approved_by": "AB",
        "cause": "cracked",
        "number": "N-1",
        "date": "2031-01-01",
        "method": None,
    }
    rows = [{"specimen": "0102", "approvals": [approval]}]
    shop.record.write_bytes(record_bytes(exclusions=rows))
    with pytest.raises(NotAllowed) as refused:
        shop.sign("ann", time="2026-11-21T00:00:00Z")
    assert [finding.code for finding in refused.value.findings] == ["before-measuring"]
    rows[0]["approvals"][0]["date"] = "2026-11-20"
    shop.record.write_bytes(record_bytes(exclusions=rows))
    shop.sign("ann", time="2026-11-21T00:00:00Z")


def test_what_signatures_prove_is_not_computed_again(first: Shop) -> None:
    asked: list[bytes] = []

    def counted(data: bytes) -> Rejudged:
        asked.append(data)
        return recompute(data)

    found = trend(first.folder, recompute=counted, allowed_signers=first.allowed)
    assert ([one.computed for one in found.records], asked, found.proven) == ([False], [], 1)
    found = trend(first.folder, recompute=counted, allowed_signers=first.allowed, compute_all=True)
    assert (len(asked), found.proven, found.computed) == (1, 0, 1)


def test_one_record_that_breaks_the_program_stops_no_other(first: Shop) -> None:
    put(first, sealed(first.folder.parent / "files", ("batch.toml", '"26-031"', '"26-040"')))

    def broken(data: bytes) -> Rejudged:
        if b"26-040" in data:
            raise ZeroDivisionError
        return Rejudged(())

    found = trend(first.folder.parent, recompute=broken)
    by_file = {one.file: one.verifies for one in found.records}
    assert by_file == {"26-031/record.json": True, "other/record.json": False}
