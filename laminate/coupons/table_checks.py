"""Unlikely cells of a table: repeats that disagree, fields unlike the others, digits lost, rows copied."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from operator import itemgetter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.coupons.copied import ALIKE, ONE_MASS, CouponOf, Finding
from laminate.coupons.listed import Like
from laminate.coupons.peers import LOOSE, MANY, Interval, from_others, intervals
from laminate.coupons.readings import size_of
from laminate.coupons.resolution import scale_of, shown_step
from laminate.coupons.slips import DOUBLED, DROPPED, MOVED, decimals_of, number_of, one_slip_away
from laminate.files.coupons import NUMBERS, Coupon, Field, base_name
from laminate.values.problems import Problem
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.files.plain_table import Column

    Array = Any

# plausible scatter of repeats on one specimen (common practice, no source): a share of the value, or kelvin
REPEATS = {
    "mass": 0.0002,
    "length": 0.006,
    "temperature": 0.3,
    "area": 0.006,
    "density": 0.001,
    "number": 0.0,
}
ALWAYS_IN = 2.0
"""Repeats within so many plausible standard deviations lie inside the intervals that they give each other."""
CLEARLY = 3.0
"""Of two readings the one so many times farther from what was read elsewhere is the one that was mistyped."""
WEIGHED_BESIDE = {"mass in air": "mass in liquid", "mass in liquid": "mass in air"}
"""Two weighings of one piece whose ratio pieces of one laminate share."""
CLUSTERED = 1.5
"""Voids lie less evenly than chance would spread them, by this factor."""
DISPLAYED = ("mass", "length", "area")
"""What is read off a display with so many decimal places."""
DIGITS, REPEATED = "digits-unlike", "repeats-disagree"
SAME_CRUCIBLE = 0.001
"""Share of its mass by which a crucible may change from one use to the next (common practice, no source)."""


Display = tuple[str, str, str]
"""Label of a column, the display that shows it, and the file."""


class Shown(NamedTuple):
    """What a display showed: rows and decimal places (m,), how many of the numbers end in a written 0."""

    rows: Array
    places: Array
    zeros: int


def repeats(
    columns: Mapping[str, Array], coupon_of: CouponOf, bench: Bench, parts: Sequence[Like]
) -> list[Finding]:
    """Row and warning where repeats on one specimen are unlike each other.

    columns: readings by label (n,) [SI], NaN where there is none; parts: rows with like cells.
    """
    by_column = by_key((base_name(label), column) for label, column in columns.items())
    problems: list[Finding] = []
    for name, readings in by_column.items():
        values = np.column_stack(readings)
        repeated = (~np.isnan(values)).sum(axis=1) > 1
        if not repeated.any():
            continue
        spreads = np.full(len(values), np.nan)
        spreads[repeated] = np.nanstd(values[repeated], axis=1, ddof=1)
        typical = float(np.nanmedian(spreads))
        few = repeated.sum() <= MANY
        looked = repeated & maybe_unlike(name, values, 0.0 if few else typical, parts, bench)
        beside = by_column.get(WEIGHED_BESIDE.get(name, ""))
        with np.errstate(all="ignore"):
            peers = values if beside is None else mean_of(values) / mean_of(np.column_stack(beside))
        finite = peers[np.isfinite(peers)]
        middle = None if few or not finite.size else float(np.median(finite))
        for at in np.flatnonzero(looked).tolist():
            coupon, known = coupon_of(at), [typical]
            if few:
                others = np.delete(spreads, at)
                known = others[~np.isnan(others)].tolist()
            usual = partial(elsewhere, coupon, name, peers, at, middle)
            problem = unlike_repeat(coupon, name, known, bench, usual)
            if problem is not None:
                problems.append((at, problem))
    return sorted(problems, key=itemgetter(0))


def unlike_repeat(
    coupon: Coupon, column: str, others: Sequence[float], bench: Bench, usual: Callable[[], float]
) -> Problem | None:
    """The warning about the first of repeats that is unlike the others.

    others: scatter of the repeats of its peers [SI]; usual: what it was elsewhere [SI], 0 where nothing
    tells.
    """
    labels, values = coupon.labelled(column), coupon.readings(column)
    middle = float(np.median(values))
    # of an even number the lower of the middle two: of two peers one may be mistyped as well
    typical = sorted(others)[(len(others) - 1) // 2] if others else None
    scatter = float(_plausible(coupon, column, abs(middle), typical, bench))
    if max(values) - min(values) <= ALWAYS_IN * scatter:
        return None
    known, guessed = [*zip(labels, values, intervals(values, scatter, ""), strict=True)], True
    if len(labels) == 2:
        near = usual()
        known.sort(key=lambda labelled: -abs(labelled[1] - near) if near else 0.0)
        far, close = (abs(value - near) for _, value, _ in known)
        guessed = bool(near) and far > CLEARLY * close
    for label, value, interval in known:
        assert interval is not None
        if not interval.holds(value):
            beside = [coupon.texts[other] for other in labels if other != label]
            return unlike(coupon, label, beside, interval if guessed else None)
    return None


def _plausible(coupon: Coupon, column: str, size: Any, typical: float | None, bench: Bench) -> Any:
    """Plausible scatter of repeats of a size, or of each of (n,) [SI]; typical: of others, None unknown."""
    kind = NUMBERS[column]
    scatter = REPEATS[kind] * (1.0 if kind == "temperature" else size)
    if kind == "length" and typical is not None:
        scatter = np.minimum(2.0 * scatter, np.maximum(0.2 * scatter, 1.5 * typical))
    stated = repeatability(coupon, column, bench, size)
    return np.maximum(np.maximum(scatter, shown_step(coupon, column, bench)), stated)


def maybe_unlike(name: str, values: Array, typical: float, parts: Sequence[Like], bench: Bench) -> Array:
    """Rows (n,) of repeats (n, k) in which `unlike_repeat` may find something: it is asked of these alone."""
    values = np.where(np.isnan(values).all(axis=1, keepdims=True), 0.0, values)  # rows without any
    least, scatter = np.nanmin(np.abs(values), axis=1), np.zeros(len(values))
    for rows, first in parts:
        scatter[rows] = _plausible(first, name, least[rows], typical, bench)
    apart = np.nanmax(values, axis=1) - np.nanmin(values, axis=1) > LOOSE * ALWAYS_IN * scatter
    outside = np.isnan(values).any(axis=1)
    for repeat in range(values.shape[1]):
        center, half = from_others(np.delete(values, repeat, axis=1), scatter)
        outside |= np.abs(values[:, repeat] - center) > half * LOOSE
    return apart & outside


def elsewhere(coupon: Coupon, column: str, peers: Array, at: int, middle: float | None) -> float:
    """What it was elsewhere [SI]: the piece in another weighing, its peers; 0 where nothing tells.

    peers: of all rows the readings of the column (n, k) [SI], or the ratio of a weighing to the one beside it
    (n,); at: the coupon's row; middle: their median where there are many rows.
    """
    piece, weighed = ONE_MASS.get(column, column), NUMBERS[column] == "mass"
    alike = [name for name in (piece, *ONE_MASS) if ONE_MASS.get(name, name) == piece and name != column]
    if weighed and (readings := [reading for name in alike for reading in coupon.readings(name)]):
        return float(np.median(readings))
    if weighed and column not in WEIGHED_BESIDE:
        return 0.0
    others = np.delete(peers, at, axis=0)
    known = others[np.isfinite(others)]
    usual = middle if middle is not None else float(np.median(known)) if known.size else 0.0
    return usual * float(np.mean(coupon.readings(WEIGHED_BESIDE[column]) or 0.0)) if weighed else usual


def mean_of(readings: Array) -> Array:
    """Mean of the repeats of each row [SI]: (n, k) to (n,), NaN where a row has none."""
    counts = (~np.isnan(readings)).sum(axis=1)
    return np.where(counts, np.nansum(readings, axis=1), np.nan) / np.maximum(counts, 1)


def unlike(coupon: Coupon, label: str, beside: list[str], interval: Interval | None) -> Problem:
    """The warning about one of repeats; interval: what the others make likely, None where nothing tells."""
    text, place, expected = coupon.texts[label], coupon.places[label], "repeats that agree"
    number, si = number_of(text), coupon.numbers[label]
    meant = ""
    if number and interval:
        scale, column = scale_of(coupon, label), base_name(label)
        places = max(decimals_of(text) or 0 for text in beside)
        near = (
            (m.cost + float(interval.distance(si + (m.number - number) * scale)), m)
            for m in one_slip_away(coupon.typed(label), NUMBERS[column])
            if m.how not in (DROPPED, DOUBLED) or (decimals_of(m.text) or 0) == places
        )
        close = ((s, m) for s, m in near if s - m.cost < 1.0)
        _, best = min(close, key=lambda scored: scored[0], default=(0.0, None))
        meant = f"; if the note on the bench reads {best.text} ({best.how}), correct it" if best else ""
    others = " and ".join(beside) if len(beside) < 4 else f"about {sorted(beside)[len(beside) // 2]}"
    who = "the other" if len(beside) == 1 else "the others"
    reads, hint = f"{label} reads '{text}', {who} {others}", f"measure it again{meant}"
    if heading_apart(coupon, label):
        reads = f"{reads} in another unit"
        hint = f"the numbers agree, the units in the headings do not: check the heading of {label}"
    return Problem(REPEATED, coupon.file, place, reads, expected, f"{hint}; or give the reason in 'accepted'")


def heading_apart(coupon: Coupon, label: str) -> bool:
    """Whether a repeat fits the others by its number alone, and not in the unit of its heading."""
    number, si, scale = number_of(coupon.texts[label]), coupon.numbers[label], scale_of(coupon, label)
    others = [other for other in coupon.labelled(base_name(label)) if other != label]
    scales = [scale_of(coupon, other) for other in others]
    if not number or not others or any(math.isclose(scale, other, rel_tol=1e-6) for other in scales):
        return False
    middle = float(np.median([coupon.numbers[other] for other in others]))
    return abs(number * float(np.median(scales)) - middle) < 0.1 * abs(si - middle)


def repeatability(coupon: Coupon, column: str, bench: Bench, value: Any) -> Any:
    """Standard deviation [SI] that is stated of readings of a value, or of each of (n,); 0 where none is."""
    return size_of(bench.gauge_of(column, coupon).repeatability, value)


def reading_scatter(coupon: Coupon, column: str, bench: Bench, means: Any = None) -> Any:
    """Scatter of a column's mean [SI]: the step of its last digit or the stated repeatability, the larger.

    means: of other rows with such readings (n,) [SI], in place of the coupon's own.
    """
    gauge, kind = bench.gauge(column, coupon), NUMBERS[column]
    # a spreadsheet drops the last zeros of a reading: the display shows as many places as its finest column
    names = set(map(base_name, coupon.texts))
    alike = {name for name in names if (NUMBERS[name], bench.gauge(name, coupon)) == (kind, gauge)}
    stated = repeatability(coupon, column, bench, coupon.mean(column) if means is None else means)
    step = min(shown_step(coupon, name, bench) for name in alike)
    return np.maximum(step, stated) / math.sqrt(len(coupon.readings(column)))


def fields_unlike(coupon: Coupon) -> Iterable[Problem]:
    """Fields of one specimen against each other, by the scatter that counting itself has."""
    if len(coupon.fields) < 2:
        return
    usual, times = Counter(field.points for field in coupon.fields).most_common(1)[0]
    if _running_totals(coupon.fields):
        (first, second, *_), last = coupon.fields, coupon.fields[-1]
        rising = f"points that rise in steps of {first.points:g} to {last.points:g}"
        sums_text = f"{rising}, and counts that never fall, in fields '{first.name}' to '{last.name}'"
        hint = "running totals? write what each field counts alone; or give the reason in 'accepted'"
        place, expected = second.places["points"], f"{first.points:g} points"
        yield Problem("running-totals", second.file, place, sums_text, expected, hint)
        return
    for field in coupon.fields:
        if field.points != usual and times > 1:
            grid_text = f"a grid of {field.points:g} points in field '{field.name}', the others {usual:g}"
            hint = "one grid for all fields: read it again; or give the reason in 'accepted'"
            place = field.places["points"]
            yield Problem("unlike-fellows", coupon.file, place, grid_text, f"{usual:g} points", hint)
    likely = {what: _likely_counts(coupon, what, usual) for what in ("fiber", "void")}
    for at, field in enumerate(coupon.fields):
        counts = {what: getattr(field, what) for what in likely if at in likely[what]}
        off = [what for what in counts if not likely[what][at].holds(counts[what])]
        if off == [*counts] == ["fiber", "void"] and all(
            likely[other][at].holds(counts[what]) for what, other in (off, off[::-1])
        ):
            text = f"fiber points {field.fiber:g} and void points {field.void:g}"
            yield _field_unlike(coupon, field, "fiber", text, likely["fiber"][at], "are the two exchanged?")
            continue
        for what in off:
            text, meant = f"{what} points {counts[what]:g}", _meant_count(counts[what], likely[what][at])
            yield _field_unlike(coupon, field, what, text, likely[what][at], meant)


def _running_totals(fields: Sequence[Field]) -> bool:
    """Whether the points rise in steps of those of the first field, and no count ever falls."""
    steps = all(math.isclose(f.points, n * fields[0].points) for n, f in enumerate(fields, 1))
    counts = ([getattr(f, what) for f in fields] for what in ("fiber", "void"))
    return steps and all(None in of_all or of_all == sorted(of_all) for of_all in counts)


def _likely_counts(coupon: Coupon, what: str, grid: float) -> dict[int, Interval]:
    """By place among the fields: the points that the other fields make likely; grid: their usual points."""
    counted = {at: getattr(f, what) for at, f in enumerate(coupon.fields) if getattr(f, what) is not None}
    if len(counted) < 2:
        return {}
    points = [coupon.fields[at].points for at in counted]
    shares = [count / size for count, size in zip(counted.values(), points, strict=True)]
    share = min(max(float(np.median(shares)), 1.0 / points[0]), 1.0 - 1e-3)
    scatter = (CLUSTERED if what == "void" else 1.0) * math.sqrt(share * (1.0 - share) / grid)
    return {
        at: Interval(like.low * size, like.center * size, like.high * size, "like its other fields")
        for at, size, like in zip(counted, points, intervals(shares, scatter, ""), strict=True)
        if like is not None
    }


def _field_unlike(coupon: Coupon, field: Field, what: str, text: str, like: Interval, meant: str) -> Problem:
    """The warning about counts of one field; meant: what may have been."""
    points_text = f"{text} of {field.points:g} in field '{field.name}'"
    low, high = max(0.0, like.low), min(field.points, like.high)
    expected = f"{low:.3g} to {high:.3g} {what} points, {like.words}"
    hint = "; ".join(filter(None, ("count this field again", meant, "or give the reason in 'accepted'")))
    return Problem("unlike-fellows", coupon.file, field.places[f"{what} points"], points_text, expected, hint)


def _meant_count(count: float, expected: Interval) -> str:
    """The one count a slip away that fits, or the slip where several do; a count has no decimal point."""
    near = [m for m in one_slip_away(f"{count:g}", "number") if m.how != MOVED and (2 * m.number) % 1 == 0]
    fitting = [m for m in near if expected.holds(m.number)]
    likely = [m for m in fitting if m.cost == min(fit.cost for fit in fitting)]
    if len(likely) == 1:
        return f"if the note on the bench reads {likely[0].text} ({likely[0].how}), correct it"
    return f"{likely[0].how}?" if likely else ""


def _shown_by(columns: Mapping[str, Column], parts: Sequence[Like], bench: Bench) -> dict[Display, Shown]:
    """The decimal places that `decimals` looks at."""
    shown: dict[Display, Shown] = {}
    for label, column in columns.items():
        name, pointed = column.heading.name, (column.decimals >= 0) & column.typed
        if NUMBERS[name] not in DISPLAYED:
            continue
        zero = np.char.endswith(column.cells, b"0") & (column.decimals > 0)
        rows_of = by_key(((bench.gauge(name, first) or name, first.file), rows) for rows, first in parts)
        for display, rows_of_display in rows_of.items():
            rows = np.sort(np.concatenate(rows_of_display))
            rows = rows[pointed[rows]]
            if rows.size:
                shown[label, *display] = Shown(rows, column.decimals[rows].astype(int), int(zero[rows].sum()))
    return shown


def decimals(
    columns: Mapping[str, Column], parts: Sequence[Like], bench: Bench, coupon_of: CouponOf
) -> Iterable[Finding]:
    """Row and warning where a reading of one display has fewer or more decimal places than all the others.

    Fewer is said only where the file keeps the last zeros of that display: of numbers one in ten ends in one,
    so that no fewer are written than places are missing. parts: rows with like cells.
    """
    shown = _shown_by(columns, parts, bench)
    by_column, by_display = defaultdict[str, Counter[int]](Counter), defaultdict[str, Counter[int]](Counter)
    for (label, display, _), (_, places, _) in shown.items():
        counts = dict(zip(*(part.tolist() for part in np.unique(places, return_counts=True)), strict=True))
        by_column[base_name(label)].update(counts)
        by_display[display].update(counts)
    fewer, zeros = Counter[tuple[str, str]](), Counter[tuple[str, str]]()
    usual_of: dict[Display, int | None] = {}
    for key, (_, places, written) in shown.items():
        usual = usual_places(by_column[base_name(key[0])]) or usual_places(by_display[key[1]])
        usual_of[key] = usual
        fewer[key[1:]] += int(np.count_nonzero(places < usual)) if usual else 0
        zeros[key[1:]] += written
    unlike: list[tuple[int, int, Problem]] = []
    for key, (rows, places, _) in shown.items():
        usual, label = usual_of[key], key[0]
        if usual:
            other = (places > usual) | ((places < usual) & (zeros[key[1:]] >= fewer[key[1:]]))
            for at, count in zip(rows[other].tolist(), places[other].tolist(), strict=True):
                coupon = coupon_of(at)
                unlike.append((at, [*coupon.texts].index(label), digits_unlike(coupon, label, count, usual)))
    return [(at, problem) for at, _, problem in sorted(unlike, key=lambda entry: entry[:2])]


def digits_unlike(coupon: Coupon, label: str, places: int, usual: int) -> Problem:
    """The warning about a cell with other decimal places than its peers have."""
    words = "a digit dropped" if places < usual else "a digit too many"
    cell_text = f"{label} '{coupon.texts[label]}' with {_count(places)}, the others with {usual}"
    hint = f"{words}? read it again; or give the reason in 'accepted'"
    return Problem(DIGITS, coupon.file, coupon.places[label], cell_text, _count(usual), hint)


def crucibles(weighed: Iterable[tuple[str, float]], coupon_of: CouponOf) -> Iterator[Finding]:
    """Row and warning where a crucible of one name weighs otherwise, empty, than where it stood before.

    weighed: name of each row, '' where none is told, and mass [kg], NaN where it was not weighed.
    """
    first: dict[str, tuple[int, float]] = {}
    for at, (name, mass) in enumerate(weighed):
        if name and not math.isnan(mass):
            before, known = first.setdefault(name.casefold(), (at, mass))
            if abs(mass - known) > SAME_CRUCIBLE * known:
                yield at, _crucible_unlike(coupon_of(at), coupon_of(before))


def _crucible_unlike(coupon: Coupon, before: Coupon) -> Problem:
    """The warning about a crucible that weighs otherwise, empty, than with a coupon before."""
    text, known = (c.texts.get("crucible mass", "") for c in (coupon, before))
    masses_text = f"crucible '{coupon.word('crucible')}' at '{text}', at '{known}' with '{before.specimen}'"
    hint = "another crucible, or a digit wrong? weigh it empty again; or give the reason in 'accepted'"
    return coupon.problem("crucible-unlike", "crucible mass", masses_text, "one mass for one crucible", hint)


def _count(places: int) -> str:
    return f"{places} decimal place{'' if places == 1 else 's'}"


def usual_places(times: dict[int, int]) -> int | None:
    """The decimal places that three cells or more and three quarters of all have, None where none has."""
    places = max(times, key=lambda p: times[p])
    return places if times[places] >= ALIKE and times[places] >= 0.75 * sum(times.values()) else None
