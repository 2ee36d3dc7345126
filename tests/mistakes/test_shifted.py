"""Columns pasted a row off, and honest tables, which are not accused."""

import numpy as np
import pytest

from laminate.coupons.shifted import shifted, shifts
from laminate.files.coupons import Coupon
from laminate.files.reasons import SHIFTED
from tests.measure.plain_tables import answers, differences

COUNT = 20


def readings(generator, *, coupons=0.03, repeats=0.003, count=COUNT):
    """Three repeats [mm]."""
    middle = 2.7 + coupons * generator.standard_normal(count)
    columns = middle + repeats * generator.standard_normal((3, count))
    return {f"thickness {n}": np.round(column, 3) for n, column in enumerate(columns, 1)}


def masses(generator, *, size, count=COUNT):
    """Specimens cut alike but for a share, of 66.0 % fiber that scatters by 0.3 points [g]."""
    mass = 1.5 * (1.0 + size * generator.standard_normal(count))
    residue = mass * (0.66 + 0.003 * generator.standard_normal(count))
    return {"specimen mass": np.round(mass, 4), "residue mass": np.round(residue, 4)}


def pasted(columns, label, start, *, down=True):
    """The columns, one of them from a row on a row too low, or too high."""
    moved = columns[label].copy()
    if down:
        moved[start + 1 :] = columns[label][start:-1]
    else:
        moved[start:-1] = columns[label][start + 1 :]
    return columns | {label: moved}


def accused(columns):
    return [(shift.label, shift.up, shift.rows.tolist()) for shift in shifted(columns)]


@pytest.mark.parametrize("down", [True, False])
def test_a_column_of_repeats_that_was_pasted_a_row_off_is_doubted(down):
    for seed in range(20):
        columns = pasted(readings(np.random.default_rng(seed)), "thickness 1", 4, down=down)
        ((label, up, rows),) = accused(columns)
        assert (label, up) == ("thickness 1", down)
        wrong = {*range(5, COUNT)} if down else {*range(4, COUNT - 1)}
        assert len(wrong & {*rows}) >= 0.7 * len(wrong)
        assert len({*rows} - wrong) <= 2


def test_of_two_repeats_the_second_is_doubted_whichever_was_moved():
    columns = readings(np.random.default_rng(1))
    del columns["thickness 3"]
    for label, up in (("thickness 1", False), ("thickness 2", True)):
        assert [found[:2] for found in accused(pasted(columns, label, 0))] == [("thickness 2", up)]


def test_a_residue_that_was_pasted_a_row_down_is_doubted_where_sizes_differ():
    """By 5 % of 0.45 %; sizes that differ as little as the fiber content tell nothing."""
    tables = [masses(np.random.default_rng(seed), size=0.05) for seed in range(20)]
    told = [accused(pasted(table, "residue mass", 1)) for table in tables]
    assert [[found[:2] for found in mine] for mine in told] == [[("residue mass", True)]] * 20
    assert accused(pasted(masses(np.random.default_rng(1), size=0.0), "residue mass", 1)) == []


def test_an_empty_row_and_one_wrong_cell_hide_no_shift():
    columns = pasted(readings(np.random.default_rng(2)), "thickness 2", 0)
    columns["thickness 2"][0] = np.nan
    columns["thickness 3"][9] += 1.0
    assert [found[:2] for found in accused(columns)] == [("thickness 2", True)]


def test_few_honest_tables_are_accused():
    """At most 2 of 1 500, where fewer than 1 of 1 000 is meant; coupons alike, the worst case, among them."""
    generator, count = np.random.default_rng(3), 0
    for at in range(1500):
        rows, coupons = int(generator.integers(6, 41)), (0.0, 0.003, 0.03)[at % 3]
        columns = readings(generator, coupons=coupons, count=rows) | masses(generator, size=0.01, count=rows)
        count += bool(accused(columns))
    assert count <= 2


def test_a_temperature_that_serves_two_coupons_is_no_shift():
    after = np.round(22.0 + 0.3 * np.random.default_rng(4).standard_normal(COUNT + 1), 1)
    assert accused({"liquid temperature 1": after[:-1], "liquid temperature 2": after[1:]}) == []


def test_a_row_without_the_first_repeat_is_placed_at_the_one_it_has():
    columns = pasted(masses(np.random.default_rng(6), size=0.05), "residue mass", 0)
    residue = columns.pop("residue mass")
    columns["residue mass 1"] = np.where(np.arange(COUNT) % 4, residue, np.nan)
    columns["residue mass 2"] = residue

    def coupon(at):
        labels = [label for label, column in columns.items() if not np.isnan(column[at])]
        return Coupon(f"A{at}", "t.csv", {}, {label: f"{label}, {at}" for label in labels})

    rows = {at: problem.place for at, problem in shifts(columns, coupon)}
    assert [*rows] == shifted(columns)[0].rows.tolist()
    assert {rows[at] for at in rows if at % 4 == 0} == {f"residue mass 2, {at}" for at in rows if at % 4 == 0}


def test_both_paths_say_the_same(tmp_path, monkeypatch):
    columns = pasted(readings(np.random.default_rng(5), count=300), "thickness 1", 100)
    lines = ["specimen,plies,thickness 1 [mm],thickness 2 [mm],thickness 3 [mm]"]
    lines += [
        f"A{n},19,{','.join(f'{x:.3f}' for x in row)}"
        for n, row in enumerate(zip(*columns.values(), strict=True))
    ]
    (tmp_path / "coupons.csv").write_text("\n".join(lines) + "\n")
    (code, by_columns), (_, by_coupon), plain = answers(tmp_path / "coupons.csv", monkeypatch)
    assert (code, plain, differences(by_columns, by_coupon)) == (0, True, [])
    assert sum(warning["code"] == SHIFTED for warning in by_columns["warnings"]) > 150
