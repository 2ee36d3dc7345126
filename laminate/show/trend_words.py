"""Batches over time in words and tables: a line of first answer each, then what it stands on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial

from laminate.formulas.conformity import FAILS, UNDECIDED
from laminate.history.control import Signal
from laminate.history.lots import Basis, Capable, Scatter, Wear
from laminate.history.points import Origin, Point, Series
from laminate.history.records import Filed
from laminate.history.trending import Studied, Trend
from laminate.show.attribute_words import RESPONSIBILITY
from laminate.show.blocks import Block, Grid, Heading, Sentence, changed, columned, sentences
from laminate.show.engineer_text import listed
from laminate.show.numbers import DASH, Scale, chance, column, scale_of
from laminate.show.page_words import several
from laminate.show.page_words import title as words_of
from laminate.values.problems import marked
from laminate.values.quantities import NUMBER
from laminate.values.said import few
from laminate.values.sequences import by_key

PROVISIONAL = 20
"""Batches that limits should rest on (common practice, no source)."""
MOST_FAULTS, MOST_GROUPS = 3, 8
TOO_FEW = "too few to say"
"""State of a chart, and of a series without one."""
MOST_ANSWERS, MOST_RECORDS, MOST_SERIES = 6, 6, 8
"""Lines of answers, of records and of series on one screen."""
_ratio = partial(column, unit=NUMBER, places=2)
"""A capability index, a dash where there is none."""
LESSER = ("far-on-one-side", "off-on-one-side")
"""Signals that are told above the table alone."""

AUTHORITY = f"A signal asks for a cause, it does not condemn a batch. {RESPONSIBILITY}"
CONSTANTS = (
    "Control limits: mean ± 3 (mean moving range)/1.128, of single batch values (NIST/SEMATECH e-Handbook "
    "6.3.2.2). A value beyond them counts wherever it is, a run where it reaches into the last nine batches, "
    "a slope over all batches (least squares, from five on) where its chance is below 1 %. Capability and "
    "basis values assume a normal distribution and a steady process; intervals are at 95 %."
)


def status_of(filed: Filed) -> str:
    """What became of a record: counts, replaced, copy, without date, or does not verify."""
    if not filed.verifies:
        return "does not verify"
    if filed.copy_of:
        return "copy"
    if filed.replaced_by:
        return "replaced"
    return "without date" if filed.undated else "counts"


def title(series: Series, *, with_part: bool) -> str:
    """What a series is of: 'fiber volume, zone web'."""
    part = f"{series.key.part}, " if with_part else ""
    return part + words_of({"name": series.key.name, "zone": series.key.zone, "lot": None})


def titles(trend: Trend) -> list[str]:
    """What each series is of, with the part where there are several."""
    parts = {studied.series.key.part for studied in trend.studied}
    return [title(studied.series, with_part=len(parts) > 1) for studied in trend.studied]


def _counted(series: Series, count: int | None = None) -> str:
    """So many batches or lots; count: None for those of the series."""
    noun = ("lot",) if series.key.each == "lot" else ("batch", "batches")
    return several(series.count if count is None else count, *noun)


def name_of(series: Series, place: int) -> str:
    """What a point is called: its batch, or its material lot."""
    origin = series.points[place].origin
    return origin.lot if series.key.each == "lot" else origin.batch


def signal_words(signal: Signal, series: Series) -> str:
    """A signal with the batches that show it."""
    first, last = name_of(series, signal.first), name_of(series, signal.last)
    if signal.first == signal.last:
        return f"{last} {signal.words}"
    if signal.last == len(series.points) - 1:
        return f"{signal.words} since {first}"
    return f"{signal.words}, {first} to {last}"


def answers(trend: Trend) -> list[str]:
    """The line of first answer of each series."""
    return [first_answer(studied, name) for studied, name in zip(trend.studied, titles(trend), strict=True)]


def first_answer(studied: Studied, name: str) -> str:
    """The line of first answer: 'fiber volume, zone web: 12 batches, steady'; name: its title."""
    series, chart = studied.series, studied.chart
    state, past = chart.state if chart else TOO_FEW, 0
    if chart is not None:
        past = len(chart.signals) - len(chart.current)
        signals = "; ".join(signal_words(signal, series) for signal in chart.latest_signals[:2])
        state += f": {signals}{_more(chart.current, 2, '; and {} more')}" if chart.current else ""
    decisions = [point.decision for point in series.points]
    cpk = least_cpk(studied)
    words = (
        f"{name}: {_counted(series)}, {state}",
        several(past, "earlier signal") if past else "",
        _reach(studied, "a limit"),
        f"other limits since {series.limits_since}" if _limits(studied) else "",
        f"unlike certificates of lot {listed(series.in_doubt)}" if series.in_doubt else "",
        _against(decisions.count(FAILS), decisions.count(UNDECIDED)),
        f"Cpk {_ratio(cpk)}, below 1" if cpk is not None and cpk < 1.0 else "",
    )
    return "; ".join(filter(None, words))


def least_cpk(studied: Studied) -> float | None:
    """The least capability index of the process; None where there is none, or lots differ."""
    indexes = (index.cpk for index in studied.capability if index.whole and index.cpk is not None)
    return min(indexes, default=None)


def _reach(studied: Studied, limit: str) -> str:
    """When a slope that goes on leads to a limit, '' where it leads to none."""
    if not studied.reach:
        return ""
    if not studied.reach.batches:
        return f"its slope has reached {limit}"
    ahead = _counted(studied.series, studied.reach.batches)
    return f"its slope, if it goes on so, reaches {limit} in {ahead}"


def _against(failing: int, undecided: int, of: str = "") -> str:
    """How many do not conform or are undecided, '' where none; of: how many there are."""
    verbs = ((failing, FAILS, "do not conform"), (undecided, "is undecided", "are undecided"))
    parts = [(count, verb if count == 1 else many) for count, verb, many in verbs if count]
    return ", ".join(f"{count}{'' if at else of} {verb}" for at, (count, verb) in enumerate(parts))


def _more(everything: Sequence[object], shown: int, words: str) -> str:
    """How many more there are than are shown, '' where there are none."""
    return words.format(len(everything) - shown) if len(everything) > shown else ""


def _records(trend: Trend) -> Iterator[Block]:
    counted = sum(filed.counts for filed in trend.records)
    bad = [filed for filed in trend.records if filed.reasons]
    all_of_them = several(len(trend.records), "record")
    if bad:
        verb = "is" if len(bad) == 1 else "are"
        yield Sentence(f"{len(bad)} of {all_of_them} {verb} not used:", strong=True)
    for filed in bad:
        more = _more(filed.reasons, MOST_FAULTS, "; and {} more, all of them with --json")
        start = filed.file if filed.rival or filed.dateless else f"{filed.file} does not verify"
        yield Sentence(f"{start}: {'; '.join(filed.reasons[:MOST_FAULTS])}{more}.")
    again = "(--recompute computes them again)"
    how = [f"{trend.proven} as signatures prove them {again}"] if trend.proven else []
    how += [f"{trend.computed} computed again"] if trend.computed else []
    proof = f", {' and '.join(how)}" if counted else ""
    yield Sentence(f"Used {counted} of {all_of_them} below {trend.folder}{proof}.")
    if trend.aside:
        where = f"links, archives, or names that do not end in .json: {few(trend.aside)}"
        yield Sentence(f"Not looked at, but perhaps records: {where}.")
    if not trend.signed:
        yield Sentence("Signatures were not checked; --allowed-signers FILE checks them.")
    for words, batches in (("Does not conform", trend.failing), ("Undecided", trend.undecided)):
        if batches:
            yield Sentence(f"{words}: {few(batches)}.")
    for filed in trend.records:
        fate = {
            "replaced": f"batch {filed.batch}, replaced by {filed.replaced_by}, not counted",
            "copy": f"the same bytes as {filed.copy_of}, counted once",
        }.get(status_of(filed))
        facts = [*([fate] if fate else []), *filed.notes]
        yield from sentences([f"{filed.file}: {words}." for words in facts])
    if trend.passed_over:
        yield Sentence(f"Left out, as not records: {', '.join(trend.passed_over)}.")


def _in(scale: Scale) -> str:
    return f" [{scale.unit}]" if scale.unit else ""


def _batches(studied: Studied, scale: Scale) -> Grid:
    series, chart = studied.series, studied.chart
    marks = [(mark.place, mark.words) for mark in studied.marks]
    signals = chart.signals if chart else ()
    marks += [(signal.last, signal.words) for signal in signals if signal.code not in LESSER]
    answers = {FAILS: f"the batch {FAILS}", UNDECIDED: "the batch is undecided"}
    batches = [(place, point.origin.answer) for place, point in enumerate(series.points)]
    seen = by_key([*marks, *((place, answers[answer]) for place, answer in batches if answer in answers)])
    cores = any(point.origin.cores for point in series.points)
    columns: dict[str, Callable[[tuple[int, Point]], str]] = {
        "batch": lambda at: at[1].origin.batch,
        "molded": lambda at: at[1].origin.molded,
        f"value{_in(scale)}": lambda at: scale.number(at[1].value, at[1].u),
        f"± (standard){_in(scale)}": lambda at: scale.spread(at[1].u),
        "n": lambda at: str(at[1].n),
        "material lot": lambda at: at[1].origin.lot,
        "press": lambda at: at[1].origin.press,
        **({"core: moldings": lambda at: _cores(at[1].origin)} if cores else {}),
        "seen": lambda at: "; ".join(seen.get(at[0], [])),
    }
    return columned(enumerate(series.points), columns, 2, 3, 4)


def _cores(origin: Origin) -> str:
    return ", ".join(
        f"{core} {identity}".rstrip() + ("" if n is None else f": {n}") for core, identity, n in origin.cores
    )


def _chart(studied: Studied, scale: Scale) -> Iterator[Block]:
    chart, series = studied.chart, studied.series
    if chart is None:
        yield Sentence(f"{_counted(series)}: a control chart needs two.")
        return
    n = len(series.points)
    if chart.lower == chart.upper:
        every = f"All {_counted(series)} have {scale.text(chart.centre, None)}"
        yield Sentence(f"{every}: without scatter there are no control limits.")
        return
    few = f", provisional: {n} of the {PROVISIONAL} that limits should rest on" if n < PROVISIONAL else ""
    yield Sentence(
        f"Middle {scale.text(chart.centre, chart.sigma)}, control limits "
        f"{scale.number(chart.lower, chart.sigma)} to {scale.text(chart.upper, chart.sigma)}{few}."
    )
    for signal in chart.signals:
        start = "Signal" if signal.current else "Earlier signal"
        yield Sentence(f"{start}: {signal_words(signal, series)}.", drawn=True)
    if chart.line is not None and chart.drifts:
        rises, reach = chart.line.slope > 0, studied.reach
        bounds = (None, reach.limit) if reach and rises else (reach and reach.limit, None)
        way = _reach(studied, f"the limit, {scale.limits(*bounds)} {scale.unit},")
        slope = f"Slope {scale.step(chart.line.slope, chart.line.slope_u)} from one to the next"
        yield Sentence(f"{slope}, chance {chance(chart.line.chance)} without; {way}".strip("; ,") + ".")
    steady = f"a steady series of {_counted(series)}"
    yield Sentence(f"False alarms: chance {chance(chart.alarm)} that {steady} shows a signal.")


def scatter_words(test: Scatter, scale: Scale) -> str:
    """What a test of scatter between groups says."""
    if test.scatters is None:
        return f"Scatter between {_plural(test.by)}: not tested, {test.why}."
    ratio = "without scatter inside" if test.ratio is None else f"F {test.ratio:.2f}"
    verdict = "differ" if test.scatters else "do not differ"
    likelihood = f"chance {chance(test.chance or 0.0)} if they were alike"
    whose = f"{_plural(test.by).capitalize()} {verdict} by more than their scatter ({ratio}, {likelihood})"
    if test.by == "batch":
        return f"{whose}."
    groups = listed(f"{g.name} {scale.text(g.mean, None)} (n {g.n})" for g in test.groups[:MOST_GROUPS])
    return f"{whose}: {groups}{_more(test.groups, MOST_GROUPS, ' and {} more')}."


def _plural(by: str) -> str:
    known = {"batch": "coupons of batches", "press": "presses"}
    head, of, prepreg = by.partition(" of ")
    return known.get(by, f"{by} identities" if by.startswith("core") else f"{head}s{of}{prepreg}")


def wear_words(wear: Wear, scale: Scale) -> str:
    """What the slope over the moldings of a core says."""
    slope = scale.step(wear.slope, wear.slope_u)
    if not wear.shows:
        evidence = f"{slope} per molding, {wear.n} batches"
        return f"Core {wear.core}: no slope over its moldings beyond scatter ({evidence})."
    way = "rises" if wear.slope > 0 else "falls"
    return (
        f"Core {wear.core}: the value {way} with its moldings, {slope} per molding over {wear.n} batches "
        f"(chance {chance(wear.chance)} without). Moldings go with time: whatever else drifts shows here too."
    )


def _capability(capabilities: tuple[Capable, ...], scale: Scale, *, unsteady: bool) -> Iterator[Block]:
    if not capabilities:
        return
    columns: dict[str, Callable[[Capable], str]] = {
        "limits on": lambda capable: "each" if capable.scope == "individual" else capable.scope,
        f"limits{_in(scale)}": lambda capable: scale.limits(*capable.limits),
        "of": lambda capable: capable.of,
        "n": lambda capable: str(capable.n),
        f"mean{_in(scale)}": lambda capable: scale.number(capable.mean, capable.deviation),
        f"deviation{_in(scale)}": lambda capable: scale.spread(capable.deviation),
        "Cpk": lambda capable: _ratio(capable.cpk),
        "95 % interval": lambda capable: (
            DASH if capable.low is None else f"{_ratio(capable.low)} to {_ratio(capable.high)}"
        ),
        "note": lambda capable: capable.why,
    }
    yield Sentence("Capability", strong=True)
    yield columned(capabilities, columns, 3, 4, 5, 6)
    if unsteady:
        yield Sentence("The chart is not steady: until it is, these say nothing about the next batch.")


def basis_words(basis: Basis, scale: Scale) -> str:
    """What an A- or B-basis bound says, or why it is refused."""
    share = f"{100 * basis.population:g} %"
    if basis.low is None or basis.high is None:
        return f"No {basis.letter}-basis value ({share} of the coupons, 95 % confidence): {basis.why}."
    low, high = (scale.text(bound, (basis.high - basis.low) / 2.0) for bound in (basis.low, basis.high))
    return (
        f"{basis.letter}-basis (95 % confidence): {share} of the coupons lie above {low}; {share} lie below "
        f"{high} (each one-sided; factor {basis.factor:.3f}, {basis.n} coupons of {basis.lots} lots)."
    )


def _limits(studied: Studied) -> list[str]:
    since, points = studied.series.limits_since, studied.series.points
    words = f"The limits changed: capability is against those of the newest issue, since batch {since}."
    return [words] if since and points and since != points[0].origin.batch else []


def series_scale(series: Series, units: str) -> Scale:
    """How the numbers of a series are shown."""
    return scale_of(series.key.name, series.key.unit, units)


def series_blocks(studied: Studied, units: str) -> list[Block]:
    """Everything that is said of one series, below its heading."""
    scale = series_scale(studied.series, units)
    return [
        *_chart(studied, scale),
        _batches(studied, scale),
        *sentences(scatter_words(test, scale) for test in studied.scatter),
        *sentences([*(wear_words(wear, scale) for wear in studied.wear), *_limits(studied)]),
        *_capability(studied.capability, scale, unsteady=bool(studied.chart and studied.chart.current)),
        *sentences(basis_words(basis, scale) for basis in studied.basis),
    ]


def glance(trend: Trend, units: str) -> Grid:
    """A line for each series: where its middle, its control limits and its last batch are."""
    rows = []
    for studied, name in zip(trend.studied[:MOST_SERIES], titles(trend), strict=False):
        scale, chart, points = series_scale(studied.series, units), studied.chart, studied.series.points
        limits, middle = DASH, scale.text(chart.centre, chart.sigma) if chart else DASH
        if chart is not None and chart.lower != chart.upper and chart.state != TOO_FEW:
            limits = " to ".join(scale.number(limit, chart.sigma) for limit in (chart.lower, chart.upper))
        last = scale.number(points[-1].value, chart.sigma if chart else points[-1].u) if points else DASH
        apart = not all(index.whole for index in studied.capability)
        rows.append((name, middle, limits, last, "lots differ" if apart else _ratio(least_cpk(studied))))
    return Grid(("series", "middle", "control limits", "last", "Cpk"), tuple(rows), (1, 2, 3, 4))


def _at_aglance(trend: Trend, units: str) -> list[Block]:
    """What fits a screen: the answers, the records that are not used, a line for each series."""
    lines, records, first = answers(trend), list(_records(trend)), Sentence(lead(trend), strong=True)
    more_series = _more(lines, MOST_ANSWERS, "And {} more series: see --why, --part or --zone.")
    more_records = _more(records, MOST_RECORDS, "And {} more about records: see --why.")
    return [
        first,
        *sentences([*lines[:MOST_ANSWERS], more_series]),
        *(*records[:MOST_RECORDS], *sentences([more_records])),
        glance(trend, units),
        *sentences([alarm_words(trend)]),
        Sentence("Every batch, test and capability: --why, or --html FILE."),
        *(Sentence(AUTHORITY), first),
    ]


def lead(trend: Trend) -> str:
    """The answer of all: batches that do not conform; of the series what to look at, none, or too early."""
    of = f" of {several(len(trend.used), 'batch', 'batches')}"
    against = _against(len(trend.failing), len(trend.undecided), of)
    unused = "Not every record is used" if any(filed.reasons for filed in trend.records) else ""
    return ". ".join(filter(None, (against, unused, _signals(trend))))


def _signals(trend: Trend) -> str:
    if not trend.studied:
        return "Nothing to chart: no record that counts holds a measured value."
    count = several(len(trend.studied), "series", "series")
    charts = [studied.chart for studied in trend.studied]
    unsteady = [name for name, chart in zip(titles(trend), charts, strict=True) if chart and chart.current]
    if unsteady:
        names = "; ".join(unsteady[:3]) + _more(unsteady, 3, "; and {} more")
        return f"Look for a cause: {len(unsteady)} of {count} with a signal: {names}."
    early = sum(chart is None or chart.state == TOO_FEW for chart in charts)
    if early == len(charts):
        return f"Too early to say: {count}, each with too few batches for a control chart."
    return f"No signal: {count}{f', {early} of them too short to say' if early else ''}."


def alarm_words(trend: Trend) -> str:
    """How often chance alone shows a signal among these series, '' where none has a chart."""
    charts = sum(studied.chart is not None for studied in trend.studied)
    if not charts:
        return ""
    series = f"{charts} steady, independent series" if charts > 1 else "a steady series"
    least = "at least one of " if charts > 1 else ""
    return f"False alarms: chance {chance(trend.alarm)} that {least}{series} as long as here shows a signal."


def place_of(at: int) -> str:
    """The address of a series on a page."""
    return f"series-{at + 1}"


def blocks(trend: Trend, units: str, *, why: bool = True) -> list[Block]:
    """The answer, on one screen or whole, without characters of names that would drive a terminal."""
    made = _at_aglance(trend, units) if trend.studied and not why else _whole(trend, units)
    return [changed(block, marked) for block in made]


def _whole(trend: Trend, units: str) -> Iterator[Block]:
    yield Sentence(lead(trend), strong=True)
    for at, line in enumerate(answers(trend)):
        yield Sentence(line, to=place_of(at))
    yield from (Heading("Records", place="records"), *_records(trend))
    for at, (studied, name) in enumerate(zip(trend.studied, titles(trend), strict=True)):
        yield from (Heading(name, place=place_of(at)), *series_blocks(studied, units))
    if trend.used:
        yield Heading("Records used", detail=True)
        rows = tuple((filed.file, filed.batch, filed.answer, filed.sha256[:16]) for filed in trend.used)
        yield Grid(("record", "batch", "answer", "its SHA-256 begins"), rows)
    yield Heading("How it is computed", detail=True)
    yield from sentences([CONSTANTS, alarm_words(trend), AUTHORITY])
