"""Signals: how often chance alone makes them, which shift they find, and how they are told."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from laminate.formulas.control_chart import fourteen_alternating, six_rising_or_falling
from laminate.formulas.straight_line import straight_line
from laminate.history import points
from laminate.history.control import (
    ALARMS,
    LEAST_FOR_SLOPE,
    RUN,
    SLOPE_LEVEL,
    Reach,
    alarm_of,
    chart_of,
    signals_of,
)
from laminate.history.points import Figures, Key, Origin, Point, Series
from laminate.history.trending import study
from laminate.show.blocks import Sentence
from laminate.show.trend_words import CONSTANTS, first_answer, series_blocks, title
from tests.messages.wording import begins, reads, says

from .alarms import share

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


@pytest.mark.parametrize(("after", "current"), [(RUN - 1, True), (RUN, False)])
def test_a_run_counts_while_it_reaches_into_the_last_nine_batches(after, current):
    """Nine in a row above the middle, and so many batches since."""
    values = [1.0, -1.0] * 5 + [0.5] * RUN + ([-1.0, 1.0] * 5)[:after]
    chart = chart_of(values)
    assert [(signal.last, signal.current) for signal in chart.signals] == [(18, current)]


def test_one_batch_out_of_its_limits():
    values = [*(58 + np.array(NOISE)), 61.5, *(58 + np.array(NOISE))]
    assert begins("trend: one batch out of its limits", answer(values))


def certified(*stated):
    """A series of what certificates state: lot, value and decision of each batch."""
    key = Key("P-1", "prepreg.ud.resin_content", None, "%", "lot")
    figures = []
    for number, (lot, value, decision) in enumerate(stated, 1):
        origin = Origin(f"26-{number}", f"2026-01-{number:02}", "A", (lot,), "P1", (), "", decision)
        point = Point(origin, value, None, 1, (), "", decision)
        figures.append(Figures(origin, ((key, point, {"individual": (34.0, 38.0)}),)))
    (series,) = points.series_of(figures)
    return series


def test_a_certificate_counts_once_and_another_value_of_its_lot_is_not_dropped():
    good = [("L1", 36.0, "conforms"), ("l1", 36.0 + 1e-12, "conforms"), ("L2", 36.2, "conforms")]
    series = certified(*good)
    assert (series.values, series.count, series.in_doubt) == ([36.0, 36.2], 2, [])
    series = certified(*good, ("L-1", 38.9, "does not conform"))
    assert (series.values, series.count, series.in_doubt) == ([36.0, 36.2, 38.9], 2, ["L1"])
    assert reads("trend: unlike certificates", first_answer(study(series), "resin content"))


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


@pytest.mark.parametrize("n", [6, 9, 12, 25])
def test_chance_alone_signals_as_often_as_is_said(n):
    """800 series of another seed than that of the figures, within four standard errors."""
    expected = ALARMS[n]
    assert abs(share(n, 800, seed=2) - expected) < 4 * math.sqrt(expected * (1 - expected) / 800)


def test_chance_alone_signals_as_often_in_an_archive_longer_than_those_simulated():
    """150 series of 600, within four standard errors; the shares written are of 200 to 2 000 series."""
    simulated = {300: 0.594, 400: 0.687, 615: 0.829, 1000: 0.933, 2000: 0.995}
    assert [alarm_of(n) for n in simulated] == pytest.approx([*simulated.values()], abs=0.01)
    expected = alarm_of(600)
    assert abs(share(600, 150, seed=2) - expected) < 4 * math.sqrt(expected * (1 - expected) / 150)


@pytest.mark.parametrize(
    ("pair", "middle", "pairs"),
    [((126.1, 126.3), 126.2, 5), ((33.1, 33.3), 33.2, 5), ((0.31, 0.29), 0.30, 6)],
)
def test_values_that_are_the_middle_lie_on_no_side_of_it(pair, middle, pairs):
    """Their mean differs from them in its last bits."""
    chart = chart_of([*pair * pairs, *[middle] * 9])
    assert 0.0 < abs(chart.centre - middle) < 1e-12
    assert (chart.state, chart.signals) == ("steady", ())


@pytest.mark.parametrize("step", [2e-16, 1e-14])
def test_values_that_differ_in_their_last_bits_do_not_rise(step):
    """Six rising and fourteen in turn, by what conversion of a unit leaves."""
    assert not six_rising_or_falling(values=[2.85 * (1.0 + step * k) for k in range(8)])
    assert not fourteen_alternating(values=[2.85 * (1.0 + step * (k % 2)) for k in range(16)])


def test_the_chance_of_an_alarm_lies_between_those_simulated():
    assert alarm_of(3) == 0.0
    assert ALARMS[12] < alarm_of(13) < ALARMS[15]
    assert [*ALARMS.values()] == sorted(ALARMS.values())


def test_a_run_that_ended_long_ago_does_not_make_a_chart_unsteady():
    """Nine above the middle, then as many steady ones as it takes."""
    ended = [*([58.3, 58.5, 58.4] * 3), *(57.9 + np.array(NOISE)), *(58 - np.array(NOISE))]
    chart = chart_of(ended[:RUN] + ended[RUN : 2 * RUN - 1])
    assert [s.current for s in chart.signals if s.code == "one-side" and s.first == 0] == [True]
    chart = chart_of(ended)
    (run,) = [s for s in chart.signals if s.code == "one-side"]
    assert (run.last, run.current, chart.state) == (RUN, False, "steady")
    assert begins("trend: a past pattern", answer(ended))


def test_a_value_beyond_a_limit_counts_wherever_it_is():
    chart = chart_of([*(58 + np.array(NOISE)), 63.0, *([58.0, 58.3, 57.8] * 12)])
    assert ("beyond-limit", True) in [(s.code, s.current) for s in chart.signals]
    assert chart.state != "steady"


DRIFT = [0.5, 0.7, 0.6, 0.9, 1.0, 0.95, 1.2, 1.4]


def drifting(values, limits):
    series = series_of(values, name="void_content")
    series.limits = {"individual": limits}
    return study(series)


def test_a_plain_drift_is_named_with_its_direction_and_where_it_leads():
    """The line at the eighth is 1.32, its slope 0.117: 2 % in 5.8 batches; 0.2 % lies the other way."""
    found = drifting(DRIFT, (0.2, 2.0))
    line = straight_line(x=range(8), y=DRIFT)
    assert (found.chart.line, found.chart.state, found.chart.drifts) == (line, "drifting", True)
    assert (
        found.reach == Reach(2.0, math.ceil((2.0 - line.intercept - 7 * line.slope) / line.slope)) == (2.0, 6)
    )
    line_of_answer = first_answer(found, "void content, zone web")
    assert begins("trend: a plain drift", line_of_answer)
    assert says("trend: a plain drift that goes on", line_of_answer)
    whole = " ".join(block.text for block in series_blocks(found, "metric") if isinstance(block, Sentence))
    assert says("trend: a plain drift, its slope", whole)
    assert says("trend: chance alone", whole)
    assert drifting(DRIFT, (0.2, None)).reach is None
    assert drifting([-value for value in DRIFT], (-2.0, None)).reach == (-2.0, 6)
    assert drifting(DRIFT, (None, 1.2)).reach == (1.2, 0)
    assert says("trend: a plain drift that is there", first_answer(drifting(DRIFT, (None, 1.2)), "voids"))


def test_five_batches_can_drift_and_four_cannot():
    values = [0.4, 0.81, 1.2, 1.62, 2.0]
    assert len(values) == LEAST_FOR_SLOPE
    assert chart_of(values).state == "drifting"
    assert chart_of(values[:-1]).line is None
    assert says("trend: when a slope counts", CONSTANTS, level=f"{100 * SLOPE_LEVEL:g} %")


def test_six_in_a_row_at_the_end_of_a_short_series_count():
    """Six that rise after two that lie high make no slope over all."""
    chart = chart_of([3.0, 2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5])
    assert [(s.code, s.current) for s in chart.signals] == [("rising-or-falling", True)]
    assert (chart.state, chart.drifts) == ("drifting", False)


@pytest.mark.parametrize(
    ("n", "drift", "least"), [(8, 4.0, 0.5), (10, 4.0, 0.7), (15, 3.0, 0.6), (20, 3.0, 0.8)]
)
def test_a_drift_is_found(n, drift, least):
    """Share of 200 series with a drift of so many deviations from end to end that are called drifting."""
    rng = np.random.default_rng([7, n])
    rows = rng.standard_normal((200, n)) + np.linspace(0, drift, n)
    assert np.mean([chart_of(row).state == "drifting" for row in rows.tolist()]) > least
