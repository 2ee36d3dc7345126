"""Batches over time in words and tables: a line of first answer each, then what it stands on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from laminate.show.blocks import Block, Grid, Heading, Sentence, changed, columned, sentences
from laminate.show.engineer_text import listed
from laminate.show.numbers import DASH, Scale, chance, scale_of
from laminate.show.page_words import title as words_of

if TYPE_CHECKING:
    from laminate.history.control import Signal
    from laminate.history.lots import Basis, Capable, Scatter, Wear
    from laminate.history.points import Origin, Point, Series
    from laminate.history.records import Filed
    from laminate.history.trending import Studied, Trend

PROVISIONAL = 20
"""Batches that limits should rest on (common practice, no source)."""
MOST_FAULTS = 3
MOST_ANSWERS, MOST_RECORDS, MOST_SERIES = 6, 6, 8
"""Lines of answers, of records and of series on one screen."""
LESSER = ("far-on-one-side", "off-on-one-side")
"""Signals that are told above the table alone."""

AUTHORITY = (
    "A signal asks for a cause, it does not condemn a batch. Limits, methods and release stay with the "
    "governing specification, local codes and authorized staff."
)
CONSTANTS = (
    "Control limits: mean ± 3 (mean moving range)/1.128, of single batch values (NIST/SEMATECH e-Handbook "
    "6.3.2.2). Capability and basis values suppose a normal distribution and a steady process; intervals are "
    "at 95 %."
)


def plain(text: str) -> str:
    """Text from a disk, without characters that would drive a terminal."""
    return "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text)


def status_of(filed: Filed) -> str:
    """What became of a record: counts, replaced, copy, without date, or does not verify."""
    if not filed.verifies:
        return "does not verify"
    if filed.copy_of:
        return "copy"
    if filed.replaced_by:
        return "replaced"
    return "without date" if filed.undated else "counts"


def clean(block: Block) -> Block:
    """The same without characters that would drive a terminal: names come from files on a disk."""
    return changed(block, plain)


def title(series: Series, *, with_part: bool) -> str:
    """What a series is of: 'fiber volume, zone web'."""
    part = f"{series.key.part}, " if with_part else ""
    return part + words_of({"name": series.key.name, "zone": series.key.zone, "lot": None})


def _several(count: int, series: Series) -> str:
    noun = ("lot", "lots") if series.key.each == "lot" else ("batch", "batches")
    return f"{count} {noun[0] if count == 1 else noun[1]}"


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


def first_answer(studied: Studied, *, with_part: bool) -> str:
    """The line of first answer: 'fiber volume, zone web: 12 batches, steady'."""
    series, chart = studied.series, studied.chart
    start = f"{title(series, with_part=with_part)}: {_several(len(series.points), series)}"
    if chart is None or chart.state == "too few to say":
        return f"{start}, too few to say"
    if not chart.signals:
        return f"{start}, {chart.state}"
    signals = chart.told_first[:2]
    rest = len(chart.signals) - len(signals)
    more = f"; and {rest} more" if rest else ""
    return f"{start}, {chart.state}: {'; '.join(signal_words(s, series) for s in signals)}{more}"


def _records(trend: Trend) -> Iterator[Block]:
    counted = sum(filed.counts for filed in trend.records)
    bad = [filed for filed in trend.records if not filed.verifies]
    total = len(trend.records)
    noun = "record" if total == 1 else "records"
    if bad:
        yield Sentence(
            f"{len(bad)} of {total} {noun} {'is' if len(bad) == 1 else 'are'} not used:", strong=True
        )
        for filed in bad:
            rest = len(filed.faults) - MOST_FAULTS
            more = f"; and {rest} more, all of them with --json" if rest > 0 else ""
            start = filed.file if filed.rival else f"{filed.file} does not verify"
            yield Sentence(f"{start}: {'; '.join(filed.faults[:MOST_FAULTS])}{more}.")
    how = [f"{trend.proven} as signatures prove them" if trend.proven else ""]
    how.append(f"{trend.computed} computed again" if trend.computed else "")
    proof = f", {' and '.join(filter(None, how))}" if counted else ""
    yield Sentence(f"Used {counted} of {total} {noun} below {trend.folder}{proof}.")
    if not trend.signed:
        yield Sentence("Signatures were not checked; --allowed-signers FILE checks them.")
    for filed in trend.records:
        status = status_of(filed)
        if status == "replaced":
            yield Sentence(
                f"{filed.file}: batch {filed.batch}, replaced by {filed.replaced_by}, not counted."
            )
        elif status == "copy":
            yield Sentence(f"{filed.file}: the same bytes as {filed.copy_of}, counted once.")
        elif status == "without date":
            yield Sentence(
                f"{filed.file}: batch {filed.batch} has no molding date, so it has no place in time."
            )
        yield from sentences([f"{filed.file}: {note}." for note in filed.notes])
    if trend.passed_over:
        yield Sentence(f"Passed over, no records: {', '.join(trend.passed_over)}.")


def _in(scale: Scale) -> str:
    return f" [{scale.unit}]" if scale.unit else ""


def _batches(studied: Studied, scale: Scale) -> Grid:
    series, chart = studied.series, studied.chart
    seen: dict[int, list[str]] = {}
    for mark in studied.marks:
        seen.setdefault(mark.place, []).append(mark.words)
    for signal in chart.signals if chart else ():
        if signal.code in LESSER:
            continue
        seen.setdefault(signal.last, []).append(signal.words)
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
        yield Sentence(f"{_several(len(series.points), series)}: a control chart needs two.")
        return
    n = len(series.points)
    if chart.lower == chart.upper:
        every = f"All {_several(n, series)} have {scale.text(chart.centre, None)}"
        yield Sentence(f"{every}: without scatter there are no control limits.")
        return
    few = f", provisional: {n} of the {PROVISIONAL} that limits should rest on" if n < PROVISIONAL else ""
    yield Sentence(
        f"Middle {scale.text(chart.centre, chart.sigma)}, control limits "
        f"{scale.number(chart.lower, chart.sigma)} to {scale.text(chart.upper, chart.sigma)}{few}."
    )
    for signal in chart.signals:
        yield Sentence(f"Signal: {signal_words(signal, series)}.", drawn=True)


def scatter_words(test: Scatter, scale: Scale) -> str:
    """What a test of scatter between groups says."""
    if test.scatters is None:
        return f"Scatter between {_plural(test.by)}: not tested, {test.why}."
    groups = listed(f"{g.name} {scale.text(g.mean, None)} (n {g.n})" for g in test.groups[:8])
    more = f" and {len(test.groups) - 8} more" if len(test.groups) > 8 else ""
    ratio = "without scatter inside" if test.ratio is None else f"F {test.ratio:.2f}"
    verdict = "differ" if test.scatters else "do not differ"
    likelihood = f"chance {chance(test.chance or 0.0)} if they were alike"
    whose = _plural(test.by).capitalize()
    if test.by == "batch":
        return f"{whose} {verdict} by more than their scatter ({ratio}, {likelihood})."
    return f"{whose} {verdict} by more than their scatter ({ratio}, {likelihood}): {groups}{more}."


def _plural(by: str) -> str:
    if by == "batch":
        return "coupons of batches"
    if by == "press":
        return "presses"
    return f"{by} identities" if by.startswith("core") else f"{by}s"


def wear_words(wear: Wear, scale: Scale) -> str:
    """What the slope over the moldings of a core says."""
    slope = scale.step(wear.slope, wear.slope_u)
    if not wear.shows:
        evidence = f"{slope} a molding, {wear.n} batches"
        return f"Core {wear.core}: no slope over its moldings beyond scatter ({evidence})."
    way = "rises" if wear.slope > 0 else "falls"
    return (
        f"Core {wear.core}: the value {way} with its moldings, {slope} a molding over {wear.n} batches "
        f"(chance {chance(wear.chance)} without). Moldings go with time: whatever else drifts "
        f"shows here too."
    )


def _capability(capabilities: tuple[Capable, ...], scale: Scale, *, unsteady: bool) -> Iterator[Block]:
    if not capabilities:
        return
    columns: dict[str, Callable[[Capable], str]] = {
        "limits on": lambda capable: "each" if capable.scope == "individual" else capable.scope,
        f"limits{_in(scale)}": lambda capable: scale.limits(*capable.limits),
        "of": lambda capable: capable.of,
        "n": lambda capable: str(capable.n),
        f"mean{_in(scale)}": lambda capable: (
            DASH if capable.mean is None else scale.number(capable.mean, capable.deviation)
        ),
        f"deviation{_in(scale)}": lambda capable: scale.spread(capable.deviation),
        "Cpk": lambda capable: DASH if capable.cpk is None else f"{capable.cpk:.2f}",
        "95 % interval": lambda capable: (
            DASH
            if capable.low is None or capable.high is None
            else f"{capable.low:.2f} to {capable.high:.2f}"
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
    spread = (basis.high - basis.low) / 2.0
    return (
        f"{basis.letter}-basis (95 % confidence): {share} of the coupons lie above "
        f"{scale.text(basis.low, spread)}; {share} lie below "
        f"{scale.text(basis.high, spread)} (each one-sided; factor {basis.factor:.3f}, "
        f"{basis.n} coupons of {basis.lots} lots)."
    )


def _limits(studied: Studied) -> list[str]:
    series = studied.series
    since = series.limits_since
    if since and series.points and since != series.points[0].origin.batch:
        return [f"The limits changed: capability is against those in force since batch {since}."]
    return []


def series_scale(series: Series, units: str) -> Scale:
    """How the numbers of a series are shown."""
    return scale_of(series.key.name, series.key.unit, units)


def series_blocks(studied: Studied, units: str) -> list[Block]:
    """Everything that is said of one series, below its heading."""
    scale = series_scale(studied.series, units)
    blocks: list[Block] = [
        *_chart(studied, scale),
        _batches(studied, scale),
        *sentences([scatter_words(test, scale) for test in studied.scatter]),
        *sentences([wear_words(wear, scale) for wear in studied.wear]),
        *sentences(_limits(studied)),
        *_capability(studied.capability, scale, unsteady=bool(studied.chart and studied.chart.signals)),
        *sentences([basis_words(basis, scale) for basis in studied.basis]),
    ]
    return [clean(block) for block in blocks]


def record_blocks(trend: Trend) -> list[Block]:
    """Which records were used, and what stands against the others."""
    return [clean(block) for block in _records(trend)]


def answers(trend: Trend) -> list[str]:
    """The lines of first answer."""
    parts = {studied.series.key.part for studied in trend.studied}
    return [plain(first_answer(studied, with_part=len(parts) > 1)) for studied in trend.studied]


def _glance(trend: Trend, units: str) -> Grid:
    """A line for each series: where its middle, its control limits and its last batch are."""
    parts = {studied.series.key.part for studied in trend.studied}
    rows = []
    for studied in trend.studied[:MOST_SERIES]:
        scale, chart, points = series_scale(studied.series, units), studied.chart, studied.series.points
        cpk = min((index.cpk for index in studied.capability if index.cpk is not None), default=None)
        rows.append(
            (
                title(studied.series, with_part=len(parts) > 1),
                "–" if chart is None else scale.text(chart.centre, chart.sigma),
                "–"
                if chart is None or chart.lower == chart.upper
                else f"{scale.number(chart.lower, chart.sigma)} to {scale.number(chart.upper, chart.sigma)}",
                scale.number(points[-1].value, points[-1].u) if points else "–",
                "–" if cpk is None else f"{cpk:.2f}",
            )
        )
    return Grid(("series", "middle", "control limits", "last", "Cpk"), tuple(rows), (1, 2, 3, 4))


def _at_a_glance(trend: Trend, units: str) -> list[Block]:
    """What fits a screen: the answers, the records that are not used, a line for each series."""
    answer_lines, records = answers(trend), record_blocks(trend)
    parts = {studied.series.key.part for studied in trend.studied}
    first = clean(Sentence(lead(trend, len(parts) > 1), strong=True))
    blocks: list[Block] = [first, *(Sentence(line) for line in answer_lines[:MOST_ANSWERS])]
    if len(answer_lines) > MOST_ANSWERS:
        blocks.append(
            Sentence(f"And {len(answer_lines) - MOST_ANSWERS} more series: see --why, --part or --zone.")
        )
    blocks += records[:MOST_RECORDS]
    if len(records) > MOST_RECORDS:
        blocks.append(Sentence(f"And {len(records) - MOST_RECORDS} more about records: see --why."))
    if trend.studied:
        blocks.append(clean(_glance(trend, units)))
    blocks.append(Sentence("Every batch, test and capability: --why on the screen, --html FILE as a page."))
    return [*blocks, Sentence(AUTHORITY), first]


def lead(trend: Trend, with_part: bool) -> str:
    """The answer of all series in one line: what to look at, none, or that it is too early."""
    count = "1 series" if len(trend.studied) == 1 else f"{len(trend.studied)} series"
    unsteady = [item for item in trend.studied if item.chart is not None and item.chart.signals]
    if unsteady:
        names = listed(title(item.series, with_part=with_part) for item in unsteady[:3])
        more = f" and {len(unsteady) - 3} more" if len(unsteady) > 3 else ""
        return f"Look for a cause: {names}{more} ({len(unsteady)} of {count} with a signal)."
    early = sum(item.chart is None or item.chart.state == "too few to say" for item in trend.studied)
    if early == len(trend.studied):
        return f"Too early to say: {count}, each with too few batches for a control chart."
    return f"No signal: {count}{f', {early} of them too short to say' if early else ''}."


def place_of(at: int) -> str:
    """The address of a series on a page."""
    return f"series-{at + 1}"


def blocks(trend: Trend, units: str, *, why: bool = True) -> list[Block]:
    """The answer, on one screen or whole."""
    if trend.studied and not why:
        return _at_a_glance(trend, units)
    parts = {studied.series.key.part for studied in trend.studied}
    first = [clean(Sentence(lead(trend, len(parts) > 1), strong=True))] if trend.studied else []
    blocks: list[Block] = [*first]
    if not trend.all_verify:
        blocks.append(Sentence("Not every record is used: see Records.", strong=True, to="records"))
    blocks += [Sentence(line, to=place_of(at)) for at, line in enumerate(answers(trend))]
    if not trend.studied:
        blocks.append(
            Sentence("Nothing to chart: no record that counts holds a measured value.", strong=True)
        )
    blocks += [Heading("Records", place="records"), *record_blocks(trend)]
    for at, studied in enumerate(trend.studied):
        blocks.append(clean(Heading(title(studied.series, with_part=len(parts) > 1), place=place_of(at))))
        blocks += series_blocks(studied, units)
    return [
        *blocks,
        Heading("How it is computed", detail=True),
        Sentence(CONSTANTS),
        Sentence(AUTHORITY),
        *([] if why else first),
    ]
