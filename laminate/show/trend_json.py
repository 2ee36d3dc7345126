"""The answer of `trend`, batches over time: its keys, in JSON and its schema."""

from __future__ import annotations

from typing import Any

from laminate.show.fields import (
    CHANCE,
    COUNT,
    COUNTED,
    FIGURE,
    KNOWN,
    MAYBE_TEXT,
    TEXT,
    TEXTS,
    UNIT,
    WORDS,
    YES,
    by_name,
    each,
    first,
    in_its_unit,
    maybe,
    rows,
    second,
    table,
    third,
    within,
)
from laminate.show.numbers import unit_named
from laminate.show.trend_words import TOO_FEW, answers, lead, status_of

_RECORD = table(
    "filed",
    file=TEXT,
    sha256=WORDS,
    part_number=WORDS(lambda filed: filed.part[0]),
    batch=WORDS,
    molded=WORDS(lambda filed: filed.of_batch("molded")),
    answer=MAYBE_TEXT(lambda filed: filed.content.get("answer")),
    status=TEXT(status_of),
    reasons=TEXTS,
    **each(WORDS, "replaced_by", "copy_of"),
    notes=TEXTS,
)
_CORE = table(core=TEXT(first), identity=WORDS(second), moldings=COUNTED(third))
_POINT = table(
    "point",
    **within("origin", batch=TEXT, **each(MAYBE_TEXT, "molded", part_issue="issue")),
    **within("origin", lots=TEXTS, press=WORDS, cores=rows(_CORE)),
    value=FIGURE,
    unit=UNIT,
    standard_uncertainty=KNOWN("u"),
    n=COUNTED,
    coupons=rows(KNOWN),
    **each(WORDS, "method", "decision"),
    file=TEXT("origin.file"),
)
_SIGNAL = table(
    **within(first, **each(TEXT, "code", text="words")),
    first_batch=TEXT(second),
    last_batch=TEXT(third),
    **within(first, side=WORDS, current=YES),
)
_SLOPE = table(
    **within("chart.line", per_batch=FIGURE("slope"), standard_uncertainty=KNOWN("slope_u"), chance=CHANCE),
    shows=YES("chart.drifts"),
    reaches=maybe(table(limit=FIGURE, batches_ahead=COUNT("batches")))("reach"),
)
_CHART = table(
    "chart",
    middle=FIGURE("chart.centre"),
    **within(
        "chart", **each(KNOWN, lower_limit="lower", upper_limit="upper", mean_moving_range="moving_range")
    ),
    signals=rows(_SIGNAL)(lambda series: _signals(series)),
    slope=maybe(_SLOPE)(lambda series: series if series.chart.line else None),
    false_alarm=CHANCE("chart.alarm"),
)
_LIMITS = table(min=KNOWN(first), max=KNOWN(second))
_SCATTER = table(
    between=TEXT("by"),
    groups=rows(table(name=TEXT, n=COUNT, mean=FIGURE)),
    f_ratio=KNOWN("ratio"),
    chance=CHANCE,
    scatters=maybe(YES),
    not_tested_because=WORDS("why"),
)
_WEAR = table(
    core=TEXT,
    n=COUNT,
    **each(KNOWN, slope_per_molding="slope", standard_uncertainty="slope_u"),
    chance=CHANCE,
    shows=maybe(YES),
)
_CAPABLE = table(
    scope=TEXT,
    limits=_LIMITS,
    of=TEXT,
    n=COUNT,
    **each(KNOWN, mean="mean", standard_deviation="deviation", cpk="cpk"),
    interval=maybe(table(low=KNOWN, high=KNOWN))(lambda capable: None if capable.cpk is None else capable),
    note=WORDS("why"),
)
_BASIS = table(
    basis=TEXT("letter"),
    population=FIGURE(lambda basis: 100.0 * basis.population),
    **each(COUNT, "n", "lots"),
    **each(KNOWN, "factor", lower="low", upper="high"),
    refused_because=WORDS("why"),
)


def _signals(series: Any) -> list[tuple[Any, str, str]]:
    """Each signal with its first and last batch."""
    batches = [point.origin.batch for point in series.series.points]
    return [(signal, batches[signal.first], batches[signal.last]) for signal in series.chart.signals]


_SERIES = table(
    "series",
    text=TEXT(second),
    **within(
        first,
        **within("series.key", part_number=TEXT("part"), name=TEXT, zone=MAYBE_TEXT),
        **within("series.key", **each(TEXT, "unit", each_value_of="each")),
        state=TEXT(lambda studied: studied.chart.state if studied.chart else TOO_FEW),
        limits=by_name(_LIMITS)("series.limits"),
        limits_since=WORDS("series.limits_since"),
        chart=maybe(_CHART)(lambda studied: studied if studied.chart else None),
        batches=rows(in_its_unit(_POINT))(
            lambda studied: [(p, unit_named(studied.series.key.unit)) for p in studied.series.points]
        ),
        changes=rows(table(batch=TEXT(first), **within(second, what=TEXT, text=TEXT("words"))))(
            lambda studied: [(studied.series.points[mark.place].origin.batch, mark) for mark in studied.marks]
        ),
        scatter=rows(_SCATTER),
        core_use=rows(_WEAR)("wear"),
        capability=rows(_CAPABLE),
        basis=rows(_BASIS),
    ),
)


ANSWER = table(
    folder=TEXT,
    text=TEXT(lead),
    **each(TEXTS, do_not_conform="failing", undecided="undecided"),
    signatures_required=YES("signed"),
    all_verify=maybe(YES),
    **each(COUNT, "proven", "computed"),
    records=rows(_RECORD),
    **each(TEXTS, "passed_over", not_looked_at="aside"),
    series=rows(_SERIES)(lambda trend: list(zip(trend.studied, answers(trend), strict=True))),
)
