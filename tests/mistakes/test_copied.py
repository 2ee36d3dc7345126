"""Rows alike: copies are told in a table of any length, what chance makes alike is not."""

import numpy as np
import pytest

from laminate.coupons.copied import CHANCE, COARSER, FEW, by_chance, copied

PAIR, REPEATS = ("mass in air", "residue mass"), ("thickness 1", "thickness 2", "thickness 3")


def made(generator, count, scatter):
    """Readings in steps of 1: pairs of masses that go together, repeats of a thickness."""
    mass = 14400.0 + scatter * generator.standard_normal(count)
    thickness = 2870.0 + 0.2 * scatter * generator.standard_normal(count)
    return {
        "mass in air": np.rint(mass),
        "residue mass": np.rint(0.677 * mass + 0.1 * scatter * generator.standard_normal(count)),
        **{one: np.rint(thickness + 2.0 * generator.standard_normal(count)) for one in REPEATS},
    }


def equal_pairs(columns, labels):
    rows = np.column_stack([columns[label] for label in labels])
    times = np.unique(rows, axis=0, return_counts=True)[1].astype(float)
    return (times * (times - 1.0)).sum() / 2.0


@pytest.mark.parametrize("labels", [PAIR, REPEATS])
@pytest.mark.parametrize(("count", "scatter"), [(200, 20), (300, 20), (1000, 30), (4000, 300)])
def test_pairs_expected_by_chance_are_those_that_chance_makes(labels, count, scatter):
    """Within a factor of 6 of the mean of 40 tables: it decides by orders of magnitude.

    Where pairs are many, different rows are few, and fewer are expected than happen; both are far above 1.
    """
    generator = np.random.default_rng(3)
    tables = [made(generator, count, scatter) for _ in range(40)]
    happened = np.mean([equal_pairs(one, labels) for one in tables])
    expected = np.median([by_chance(np.column_stack([one[label] for label in labels])) for one in tables])
    assert happened > 0.5
    assert happened / 6.0 < expected < 6.0 * happened


def good_tables_warned(count, scatter, tables):
    generator, found = np.random.default_rng(4), 0
    for _ in range(tables):
        columns = made(generator, count, scatter)
        found += bool((copied(columns, {label: np.ones(count) for label in columns}).other >= 0).any())
    return found


@pytest.mark.parametrize(
    ("count", "scatter"), [(15, 30), (40, 30), (40, 300), (200, 30), (1000, 300), (1000, 2)]
)
def test_few_good_tables_warn(count, scatter):
    """At most 5 of 200, where 1 % is meant for each way of being alike."""
    assert good_tables_warned(count, scatter, 200) <= 5


@pytest.mark.parametrize("scatter", [1.0, 2.0, 5.0])
def test_repeats_of_few_coupons_that_hardly_scatter_are_alike_by_chance(scatter):
    """Six coupons, three repeats in steps of a micrometer's last digit; a copy is told where they scatter."""
    generator, found = np.random.default_rng(6), 0
    for _ in range(300):
        middle = 1940.0 + scatter * generator.standard_normal(6)
        columns = {one: np.rint(middle + generator.standard_normal(6)) for one in REPEATS}
        found += bool((copied(columns, {label: np.ones(6) for label in columns}).other >= 0).any())
    assert found <= 3
    apart = {one: 1940.0 + 30.0 * np.arange(6) + shift for shift, one in enumerate(REPEATS)}
    again = {one: np.append(column, column[2]) for one, column in apart.items()}
    assert copied(again, {label: np.ones(7) for label in again}).other[6] == 2


def test_a_copy_is_found_among_many_that_are_alike_by_chance():
    columns = made(np.random.default_rng(5), 20_000, 3000.0)
    for one in columns.values():
        one[15_000] = one[12]
    found = copied(columns, {label: np.ones(20_000) for label in columns})
    assert np.flatnonzero(found.other >= 0).tolist() == [15_000]
    assert found.other[15_000] == 12
    assert found.untold > 100


def test_a_copied_block_does_not_hide_itself():
    columns = made(np.random.default_rng(6), 60, 300.0)
    for one in columns.values():
        one[30:] = one[:30]
    found = copied(columns, {label: np.ones(60) for label in columns})
    assert np.flatnonzero(found.other >= 0).tolist() == list(range(30, 60))
    assert found.other[30:].tolist() == list(range(30))


def test_up_to_ten_rows_two_weighings_in_common_are_told():
    columns = {"mass in air": np.full(FEW, 14400.0), "residue mass": np.full(FEW, 9700.0)}
    found = copied(columns, {label: np.ones(FEW) for label in columns})
    assert found.other.tolist() == [-1] + [0] * (FEW - 1)


def test_readings_that_hardly_scatter_are_alike_by_chance():
    """Nine of ten rows read the same in each column."""
    generator = np.random.default_rng(7)
    steps = 14400.0 + (generator.uniform(size=(500, 3)) < 0.1)
    assert by_chance(steps) > 1000 * CHANCE


def test_near_pairs_count_from_the_finest_step_that_has_enough():
    """20 pairs within two steps, none alike: of three coordinates each an eighth less one of them."""
    start = 1000.0 + 100.0 * np.arange(20.0)
    steps = np.column_stack([np.concatenate([start, start + 1.0])] * 3)
    assert by_chance(steps) == pytest.approx(20.0 / (COARSER[0] ** 3 - 1.0))


@pytest.mark.parametrize("count", [5, 12, 40])
def test_repeats_pasted_from_the_row_above_are_told_where_chance_makes_other_pairs(count):
    """Scatters of 12 and 2 steps: 1 pair in 2000 is equal; of 780 pairs some are, of 39 neighbors none."""
    generator, pasted, elsewhere = np.random.default_rng(11), [], []
    for _ in range(40):
        thickness = 2870.0 + 12.0 * generator.standard_normal(count)
        columns = {name: np.rint(thickness + 2.0 * generator.standard_normal(count)) for name in REPEATS}
        steps = {name: np.ones(count) for name in columns}
        elsewhere.append((copied(columns, steps).other >= 0).sum())
        for column in columns.values():
            column[3] = column[2]
        pasted.append(copied(columns, steps).other[3] == 2)
    assert sum(pasted) > (20 if count == 40 else 30)
    assert sum(elsewhere) <= 1
