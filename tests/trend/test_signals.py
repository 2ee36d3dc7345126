"""Signals: how often chance alone makes them, which shift they find, and how they are told."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from laminate.history.control import chart_of, signals_of
from laminate.history.points import Key, Origin, Point, Series
from laminate.history.trending import study
from laminate.show.trend_words import first_answer, title
from tests.messages.wording import begins, reads, says

LONG = 150_000
FAR, OFF = (float(special.ndtr(-distance)) for distance in (2.0, 1.0))
# up-down permutations of 14: the 14th Euler number (second-hand, from printed lists of them)
ZIGZAG_14 = 199_360_981

# Chance that a pattern is complete at a value of a steady normal series, middle and sigma known; arithmetic.
KNOWN = {
    "beyond-limit": 2 * float(special.ndtr(-3.0)),
    "one-side": 2 * 0.5**9,
    "rising-or-falling": 2 / math.factorial(6),
    "alternating": 2 * ZIGZAG_14 / math.factorial(14),
    "far-on-one-side": 2 * FAR * (1 - (1 - FAR) ** 2),
    "off-on-one-side": 2 * OFF * (4 * OFF**3 * (1 - OFF) + OFF**4),
}
LENGTH = {
    "beyond-limit": 1,
    "one-side": 9,
    "rising-or-falling": 6,
    "alternating": 14,
    "far-on-one-side": 3,
    "off-on-one-side": 5,
}


def series_of(values, *, lots=None, name="fiber_volume", zone="web", unit="%", coupons=None, moldings=None):
    """A series of batches 26-001, 26-002, ..."""
    points = [
        Point(
            Origin(
                f"26-{place + 1:03}", f"2026-01-{place + 1:02}", "A", (lots[place] if lots else "L1",), "P1",
                (("fore", "C-1", moldings[place]),) if moldings else (), f"{place}/record.json", "conforms",
            ),
            float(value), None, 1, tuple(coupons[place]) if coupons else (), "", "conforms",
        )
        for place, value in enumerate(values)
    ]  # fmt: skip
    return Series(Key("P-1", name, zone, unit), points)


@pytest.fixture(scope="module")
def steady():
    """The signals of a long series of chance alone."""
    return list(signals_of(np.random.default_rng(11).standard_normal(LONG).tolist(), 0.0, 1.0))


@pytest.mark.parametrize("code", KNOWN)
def test_chance_alone_signals_at_the_known_rate(steady, code):
    """Completed patterns, within four standard errors; runs overlap: up to four times the variance."""
    found = [s for s in steady if s.code == code]
    completed = sum(s.last - s.first + 1 - (LENGTH[code] - 1) for s in found)
    expected = KNOWN[code] * LONG
    assert abs(completed - expected) < 4 * math.sqrt(4 * expected)


def test_charts_of_in_control_batches_are_seldom_unsteady():
    """Of 400 charts of 25 steady batches, limits from themselves.

    In long series the six patterns together are completed 0.0205 times a value; they cluster, so a chart of
    25 shows any in fewer than 1 - (1 - 0.0205)^25 = 40 % of cases, and more often than the one-value pattern
    alone, 1 - (1 - 0.0027)^25 = 6.5 %.
    """
    rng = np.random.default_rng(3)
    unsteady = sum(bool(chart_of(rng.standard_normal(25).tolist()).signals) for _ in range(400))
    assert 0.065 < unsteady / 400 < 0.40


def test_a_shift_of_two_sigma_is_found():
    """After 25 steady batches, twelve that lie two standard deviations higher: seldom missed."""
    rng = np.random.default_rng(5)
    found = 0
    for _ in range(200):
        values = [*rng.standard_normal(25), *(2.0 + rng.standard_normal(12))]
        found += bool(chart_of(values).signals)
    assert found >= 190


def answer(values, **more):
    studied = study(series_of(values, **more))
    return first_answer(studied, title(studied.series, with_part=False))


NOISE = [0.3, -0.4, 0.1, -0.2, 0.5, -0.5, 0.2, -0.1, 0.4, -0.3, 0.0, 0.25]


def test_steady_in_words():
    assert answer(58 + np.array(NOISE)) == "fiber volume, zone web: 12 batches, steady"


def test_few_batches_are_not_called_steady():
    assert reads("trend: few batches are not called steady", answer([58.1, 57.9, 58.0]))
    assert reads("trend: few batches are not called steady, 2", answer([58.1]))


def test_drift_in_words_names_the_batch_it_began_with():
    values = [57.2, 57.6, 57.1, 57.5, 57.3, 57.4, 57.2, *([58.3, 58.5, 58.4] * 3)]
    said = answer(values)
    assert begins("trend: drift in words names the batch", said)


def test_a_run_that_ended_says_from_where_to_where():
    values = [*([58.3, 58.5, 58.4] * 3), 57.2, 57.6, 57.1, 57.5, 57.3, 57.4, 57.2]
    assert says("trend: a run that ended", answer(values))


def test_one_batch_out_of_its_limits():
    values = [*(58 + np.array(NOISE)), 61.5, *(58 + np.array(NOISE))]
    assert begins("trend: one batch out of its limits", answer(values))


def test_no_rule_numbers_in_the_words():
    values = [*np.linspace(57, 59, 12), *np.linspace(59, 57, 12), *([57, 59] * 8)]
    signals = chart_of(values).signals
    assert signals
    for signal in signals:
        assert "rule" not in signal.words
        assert "test" not in signal.words


def test_equal_batches_have_no_pattern():
    chart = chart_of([0.1 + 0.2] * 20)
    assert chart.signals == ()
    assert chart.state == "steady"
