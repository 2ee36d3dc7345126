"""What stands in the place of a value: exact, not recorded, not traceable, no blank; and exclusions."""

import datetime as dt

import pytest

from laminate.files.batch import read_batch
from laminate.files.not_recorded import NotRecorded
from laminate.values.problems import Refused
from laminate.values.units import Unreadable, parse, parse_spread

EXCLUSION = """[[exclusion]]
specimen = "0101"
cause = "crucible cracked, residue lost"
approved_by = "R. Stone"
number = "NC-031"
date = 2026-11-21"""


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [("0.05 mm (exact)", "length", 5e-5), ("10 (Exact)", "number", 10.0), ("35 % (exact)", "fraction", 0.35)],
)
def test_a_value_may_be_exact_on_purpose(text, kind, value):
    read = parse(text, kind)
    assert (read.value, read.u) == (pytest.approx(value), 0.0)
    assert parse(text.partition("(")[0], kind).u is None


@pytest.mark.parametrize("text", ["1.79(5) mm (exact)", "1 mm ± 2 (exact)", "1 mm (exact) (exact)"])
def test_exact_and_a_spread_contradict_each_other(text):
    with pytest.raises(Unreadable):
        parse(text, "length")


def test_an_instrument_may_be_exact_with_nothing_but_zero():
    assert parse_spread("0 mg (exact)", "mass").u == 0.0
    with pytest.raises(Unreadable):
        parse_spread("0.1 mg (exact)", "mass")


def test_days_are_a_unit_of_time():
    assert parse("12 d", "time").value == parse("288 h", "time").value


def batch_of(shop):
    return read_batch(shop.folder / "batch.toml", "batch.toml").batch


def test_a_lot_may_say_what_nobody_recorded(shop):
    shop.change("batch.toml", 'out_time = "12 d" ', 'out_time = "not recorded: bought before the log" ')
    shop.change("batch.toml", "expires = 2027-06-01", 'expires = "not recorded: no label"\nmade = 2026-06-01')
    (lot,) = batch_of(shop).lot
    assert (lot.out_time, lot.expires) == (NotRecorded("bought before the log"), NotRecorded("no label"))
    assert lot.made == dt.date(2026, 6, 1)


@pytest.mark.parametrize(
    ("old", "new", "code", "place"),
    [
        ('out_time = "12 d" ', 'out_time = "12 mm" ', "unreadable-value", "lot[1].out_time"),
        ('out_time = "12 d" ', 'out_time = "-1 d" ', "unreadable-value", "lot[1].out_time"),
        ('out_time = "12 d" ', 'out_time = "not recorded: -" ', "wrong-value", "lot[1].out_time"),
        ("expires = 2027-06-01", 'expires = "June"', "wrong-type", "lot[1].expires"),
        ("expires = 2027-06-01", "expires = 2027-06-01\nmade = 2028-01-01", "wrong-order", "lot[1].expires"),
        ('identity = "BAL-02"', 'identity = "B"\ntraceable = "no"', "wrong-value",
         "instrument.balance.traceable"),
        ('identity = "BAL-02"', 'identity = "B"\ntraceable = "yes: of course"', "wrong-value",
         "instrument.balance.traceable"),
        ("[blank]\n", '[blank]\nnone = "neat resin leaves nothing"\n', "both-given", "blank.none"),
    ],
)  # fmt: skip
def test_what_cannot_stand_there_is_refused(old, new, code, place, shop):
    shop.change("batch.toml", old, new)
    with pytest.raises(Refused) as refused:
        batch_of(shop)
    assert [(one.code, one.place) for one in refused.value.problems] == [(code, place)]


@pytest.mark.parametrize(
    ("old", "new", "code", "key"),
    [
        ('cause = "crucible cracked, residue lost"\n', "", "missing-key", "cause"),
        ('approved_by = "R. Stone"\n', "", "missing-key", "approved_by"),
        ('number = "NC-031"\n', "", "missing-key", "number"),
        ("date = 2026-11-21", "", "missing-key", "date"),
        ("cracked, residue lost", "", None, None),
        ('"crucible cracked, residue lost"', '"no"', "wrong-value", "cause"),
        ("date = 2026-11-21", "date = 2026-11-17", "wrong-order", "date"),
        ('cause = ', 'method = "digesting"\ncause = ', "unknown-name", "method"),
    ],
)  # fmt: skip
def test_an_exclusion_is_whole(old, new, code, key, shop):
    assert EXCLUSION.count(old) == 1
    shop.add("batch.toml", EXCLUSION.replace(old, new))
    if code is None:
        assert batch_of(shop).exclusion[0].cause == "crucible"
        return
    with pytest.raises(Refused) as refused:
        batch_of(shop)
    found = {(one.code, one.place) for one in refused.value.problems}
    assert (code, f"exclusion[1].{key}") in found


def test_an_exclusion_stands_once(shop):
    shop.add("batch.toml", f"{EXCLUSION}\n{EXCLUSION}")
    with pytest.raises(Refused) as refused:
        batch_of(shop)
    assert [one.code for one in refused.value.problems] == ["given-twice"]
