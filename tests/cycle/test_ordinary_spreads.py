"""What is taken where a gel time or an out-life states no ±, and an out-life that is over."""

import pytest

from .shop import BATCH, PART, Press, answer
from .test_left_out import no_better


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [("28 min ± 3 (tolerance)", "28 min", "gel_time"), ("20 % ± 10 (tolerance)", "20 %", "out_life")],
)
def test_a_gel_time_or_an_out_life_without_a_spread_has_an_ordinary_one_and_it_is_said(
    tmp_path, old, new, key
):
    whole, less = (
        answer(tmp_path, Press(closes=47.0).csv(), batch, part, draws=2000)
        for batch, part in ((BATCH, PART), (BATCH.replace(old, new), PART.replace(old, new)))
    )
    no_better(less, whole, 0.02)
    (warning,) = [words for words in less.warnings if words not in whole.warnings]
    assert key in warning
    exact = answer(tmp_path, Press(closes=47.0).csv(), BATCH.replace(old, f"{new} (exact)"), draws=300)
    assert not any("carries no ±" in words for words in exact.warnings)


def test_an_out_time_past_the_out_life_is_said(tmp_path):
    past = BATCH.replace('out_time = "12 d"', 'out_time = "31 d"')
    warnings = [answer(tmp_path, Press().csv(), batch, draws=300).warnings for batch in (BATCH, past)]
    (warning,) = [words for words in warnings[1] if words not in warnings[0]]
    assert "31 d" in warning
    assert "30 d" in warning
