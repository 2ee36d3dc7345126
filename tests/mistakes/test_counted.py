"""How many slips go unnoticed, and how many good tables raise a warning: seeded, counted, printed."""

from unittest import mock

import pytest

from tests.messages.wording import says

from .slips import SLIPS, counted, false_alarms, run

pytestmark = pytest.mark.slow
COUNT, SEED = 1000, 1


@pytest.fixture(scope="module")
def thousand():
    slips = list(run(COUNT, SEED))
    print("", counted(slips, "kind"), counted(slips, "slip"), sep="\n\n")
    return slips


def test_few_slips_that_matter_go_unnoticed(thousand):
    """Below 5 % of all slips, and of those that matter: refused, warned of, or moving an attribute by 3 u."""
    missed = sum(slip.unnoticed_and_matters for slip in thousand)
    harmless = sum(slip.outcome == "unnoticed" and not slip.unnoticed_and_matters for slip in thousand)
    assert len(thousand) == COUNT
    assert missed < 0.05 * COUNT
    assert missed < 0.05 * (COUNT - harmless)


@pytest.mark.parametrize("slip", ["decimal moved", "unit mixed up", "sign"])
def test_no_slip_of_a_whole_factor_goes_unnoticed_where_it_matters(slip, thousand):
    assert slip in SLIPS
    mine = [one for one in thousand if one.slip == slip]
    assert len(mine) > 100
    assert [one for one in mine if one.unnoticed_and_matters] == []


def test_every_warning_names_a_cell_and_what_to_do(thousand):
    told = [line for slip in thousand if slip.outcome == "warned" for line in slip.told.splitlines()]
    assert len(told) > 300
    assert [line for line in told if not says("mistakes: a reason answers it", line)] == []
    assert [line for line in told if not line.startswith("coupons.csv: row ")] == []


def test_the_wrong_cell_is_named_and_what_it_should_read(thousand):
    """Of the slips of digits that are warned of, four of five are named with the reading as it was."""
    warned = [s for s in thousand if s.outcome == "warned" and s.slip in ("digits swapped", "decimal moved")]
    named = [s for s in warned if s.instead in s.told and f"{s.text} (" in s.told]
    print(f"\nof {len(warned)} warned of, {len(named)} named with the reading as it was")
    assert len(named) > 0.8 * len(warned)


def test_good_tables_raise_hardly_any_warning():
    alarms = [kind for kind, warnings in false_alarms(200, SEED) if warnings]
    print(f"\ngood tables with a warning: {len(alarms)} of 200")
    assert len(alarms) <= 6


def test_the_count_sees_what_no_check_would_find():
    """Without the comparisons far more than 5 % go unnoticed: the count can fail."""
    with mock.patch("laminate.coupons.evaluation.beside_cells", return_value={}):
        slips = list(run(60, SEED))
    assert sum(slip.unnoticed_and_matters for slip in slips) > 0.2 * len(slips)
