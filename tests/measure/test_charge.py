"""Resin content by weighing charge, part and trim: by hand, and refused where it does not hold."""

import math
from pathlib import Path

import pytest

from laminate.coupons.charge import resin_content_by_weighing
from laminate.files.batch import read_batch
from laminate.values.problems import Refused
from tests.messages.wording import reads, worded

CHARGE = '[charge]\nmass = "1.204 kg ± 0.001 (standard)"\npart_and_trim = "1.191 kg ± 0.001 (standard)"\n'


@pytest.fixture
def plain(shop):
    """The example with stacks of prepreg alone."""
    text = shop.read("part.toml").replace('stack = ["4 ud150", "1 film"]', 'stack = ["4 ud150"]')
    shop.write("part.toml", text)
    shop.add("batch.toml", CHARGE)
    return shop


def case_of(shop):
    return read_batch(Path("batch.toml"), "batch.toml")


def test_what_left_beyond_the_volatiles_was_resin(plain):
    """331 g/kg of 1.204 kg less 13 g, of which 0.4 % volatiles, over 1.191 kg."""
    found = resin_content_by_weighing(case_of(plain))
    resin = 0.331 * 1.204 - (0.013 - 0.004 * 1.204)
    assert found.resin_content == pytest.approx(resin / 1.191, rel=1e-12)
    assert (found.left.value, found.left.u) == pytest.approx((0.013, math.hypot(1e-3, 1e-3)))
    u_volatiles = 0.002 / math.sqrt(3)
    parts = {
        "charge mass": (0.331 - 1 + 0.004) / 1.191 * 1e-3,
        "mass of part and trim": (1 - resin / 1.191) / 1.191 * 1e-3,
        "ud150 resin content": 1.204 / 1.191 * 0.003,
        "ud150 volatiles": 1.204 / 1.191 * u_volatiles,
    }
    assert found.u == pytest.approx(math.hypot(*parts.values()), rel=1e-9)
    sizes = {str(name): abs(contribution) for name, contribution in found.contributions.items()}
    assert sizes == pytest.approx({name: abs(part) for name, part in parts.items()})
    assert found.exact == ()


def test_no_charge_no_answer(shop):
    assert resin_content_by_weighing(case_of(shop)) is None


def refused(shop):
    with pytest.raises(Refused) as caught:
        resin_content_by_weighing(case_of(shop))
    (problem,) = caught.value.problems
    return problem


def test_refused_where_the_stack_holds_a_layer(shop):
    shop.add("batch.toml", CHARGE)
    problem = refused(shop)
    assert (problem.code, problem.file, problem.place) == ("charge-unfit", "batch.toml", "charge")
    assert (problem.found, problem.expected) == (
        worded("measure: with a layer"),
        worded("measure: of prepreg alone"),
    )


def test_refused_on_another_basis(plain):
    plain.change("batch.toml", 'resin_basis = "as received"', 'resin_basis = "volatile-free"')
    problem = refused(plain)
    assert reads("measure: refused on another basis", problem.found)
    assert problem.expected == "the basis 'as received'"


def test_refused_where_more_left_than_all_resin(plain):
    plain.change("batch.toml", 'part_and_trim = "1.191 kg', 'part_and_trim = "0.700 kg')
    problem = refused(plain)
    assert (problem.code, problem.place) == ("impossible-value", "charge.part_and_trim")
    assert reads("measure: refused where more left than all resin", problem.found)


def test_its_expanded_uncertainty_has_its_degrees_of_freedom(plain):
    """A scale checked on three days: it has nearly all of u, so Student's 4.303 holds, not 1.96."""
    few = '"1.204 kg ± 0.1 (standard, dof=2)"'
    text = plain.read("batch.toml").replace('"1.204 kg ± 0.001 (standard)"', few)
    plain.write("batch.toml", text)
    found = resin_content_by_weighing(case_of(plain))
    assert found.expanded / found.u == pytest.approx(4.303, rel=0.01)
