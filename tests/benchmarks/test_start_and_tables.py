"""How quickly the program starts, and what a table costs beside reading and writing it.

Run alone: `pytest -m benchmark --benchmark-only tests/benchmarks`.
"""

import importlib.util
from pathlib import Path

import pytest

_found = importlib.util.spec_from_file_location("ratios", Path(__file__).with_name("ratios.py"))
ratios = importlib.util.module_from_spec(_found)
_found.loader.exec_module(ratios)


def test_the_program_starts_as_quickly_as_its_libraries(benchmark):
    found = ratios.starts()
    benchmark.pedantic(ratios.apart, args=("-m", "laminate", "--help"), rounds=3)
    benchmark.extra_info.update({words: round(ratio, 2) for words, ratio in found.items()})
    assert found["--help / import typer"] < 1.0
    assert found["predict / its imports"] < 2.0


def test_fill_takes_little_longer_than_its_imports(benchmark, tmp_path):
    """On 100 000 draws, the least of up to five runs; 1.5 is wanted, and a busy machine lets more pass."""
    words = "fill of the example / its imports"
    runs = []
    while len(runs) < 5 and (not runs or min(runs) >= 1.7):
        runs.append(ratios.filled(tmp_path)[words])
    benchmark.pedantic(ratios.apart, args=("-c", ratios.LIBRARIES), rounds=1)
    benchmark.extra_info.update({words: round(min(runs), 2)})
    assert min(runs) < 1.7


@pytest.mark.parametrize("slips", [0.0, 0.02])
def test_ten_times_the_coupons_take_no_more_than_fifteen_times_as_long(benchmark, tmp_path, slips):
    few, many = (ratios.coupon_table(tmp_path, count, slips) for count in (500, 5000))
    ratios.call(*ratios.measuring(few))
    benchmark.pedantic(ratios.call, args=ratios.measuring(few), rounds=1)
    short, long = ratios.least(
        2, lambda: ratios.call(*ratios.measuring(few)), lambda: ratios.call(*ratios.measuring(many))
    )
    benchmark.extra_info["ten times the coupons, times as long"] = round(long / short, 2)
    assert long / short < 15


def test_a_plain_table_by_columns_costs_a_third_of_coupon_by_coupon(benchmark, tmp_path, monkeypatch):
    """Measured: a twelfth."""
    from laminate.front import measuring

    table = ratios.measuring(ratios.coupon_table(tmp_path, 3000))
    ratios.call(*table)
    benchmark.pedantic(ratios.call, args=table, rounds=1)
    by_columns = ratios.least(2, lambda: ratios.call(*table))[0]
    monkeypatch.setattr(measuring, "_by_columns", lambda *_: None)
    one_by_one = ratios.least(2, lambda: ratios.call(*table))[0]
    benchmark.extra_info["coupon by coupon, times as long"] = round(one_by_one / by_columns, 1)
    assert one_by_one > 3.0 * by_columns


@pytest.mark.slow
def test_a_plain_table_takes_few_kilobytes_a_coupon(tmp_path):
    """Measured: a fifth."""
    few, many = (
        ratios.peak_memory(*ratios.measuring(ratios.coupon_table(tmp_path, n))) for n in (250, 10_250)
    )
    assert (many - few) / 10_000 < 15.0
