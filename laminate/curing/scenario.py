"""One way to resolve what is unknown, and what ten thousand draws of the rest say of gel and pressure."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.curing.draws import BELOW_RANGE, ClockTable, gel_lines
from laminate.curing.pressing import ATMOSPHERE, EQUAL, areas_of, kind_of, lowest_at, vapor_pressure
from laminate.curing.thermometers import GAUGE, errors, ordinary
from laminate.curing.view import gel_row

if TYPE_CHECKING:
    from collections.abc import Callable

    from laminate.curing.draws import Columns
    from laminate.curing.pressing import Pressing
    from laminate.curing.thermometers import Followed
    from laminate.curing.view import LogView, View
    from laminate.files.batch import Instrument
    from laminate.values.units import SIValue


Gels = tuple[np.ndarray, np.ndarray]
"""Draws of first and last gel (n,) [s], inf where the cycle ends before."""


@dataclass
class Drawn:
    """Draws that every scenario shares: lines of gel times, errors of sensors and gauge, humidity.

    lines: a and b a charge; starts: share used before the press, None where unknown; errors: a sensor [K];
    gauge: factor and offset [Pa]; needed: what must be applied over ambient [Pa].
    """

    columns: Columns
    lines: list[tuple[np.ndarray, np.ndarray]]
    starts: list[np.ndarray | None]
    errors: dict[str, np.ndarray]
    gauge: tuple[np.ndarray, np.ndarray]
    needed: np.ndarray | None
    humidity: np.ndarray


def draw(view: LogView, columns: Columns) -> Drawn:
    """Draw everything that is uncertain, once."""
    contents, pressing, instruments = view.contents, view.pressing, view.case.batch.instrument
    lines = [gel_lines(charge, columns) for charge in contents.charges]
    starts = list[np.ndarray | None]()
    for charge in contents.charges:
        name = f"{charge.name}: share used before the press"
        starts.append(None if charge.start is None else columns.of(name, charge.start, (0.0, np.inf))[1:])
    wrong = errors(view.sensors, instruments, columns)
    factor, offset = np.ones(columns.draws), np.zeros(columns.draws)
    gauge, ram = _gauge(view)
    area = ram.value if ram else 1.0
    for spread in (gauge.calibration, gauge.repeatability) if gauge is not None else ():
        error = columns.error(spread)
        if spread is not None and spread.relative:
            factor = factor + error
        else:
            offset = offset + error * area / pressing.area
    if ram:
        factor = factor * columns.of("ram_area", ram)[1:] / area
    if areas := areas_of(view.part) if kind_of(view.part, view.zone) == "press" else None:
        carries = [columns.of(f"projected_area {at}", each)[1:] for at, each in enumerate(areas, 1)]
        factor = factor * pressing.area / sum(carries)
    if np.ptp(factor) or np.ptp(offset):
        columns.inputs[f"gauge of {pressing.channel}"] = (factor - 1.0) * 1e6 + offset
    needed = view.needed(columns)
    share = columns.largest("stored_humidity", contents.humidities, (0.0, 1.0))
    share = np.ones(columns.draws) if share is None else share
    return Drawn(columns, lines, starts, wrong, (factor, offset), needed, share)


def _gauge(view: LogView) -> tuple[Instrument | None, SIValue | None]:
    """The instrument of what presses, and the area of the ram whose pressure it reads [m2], None for none.

    An ordinary one where its calibration is not stated. Of several the one that reads least at gel, and of
    those that read alike the one that is known best.
    """
    reader = view.file.channels.get(view.pressing.channel)
    if reader is None:
        return None, None
    instruments = view.case.batch.instrument
    if reader.reads == "core":
        return instruments.get(reader.column.instrument or ""), None
    names = lowest_at(view.file, reader.reads, gel_row(view)) or [reader.name]
    columns = [view.file.channels[name].column for name in names]
    gauges = [
        (ordinary(instruments.get(column.instrument or ""), GAUGE), column.ram_area) for column in columns
    ]
    most = max(float(np.max(view.pressing.reading.values)), 1.0) if view.pressing.reading is not None else 1.0

    def u(known: tuple[Instrument, SIValue | None]) -> float:
        gauge, ram = known
        spreads, area = filter(None, (gauge.calibration, gauge.repeatability)), ram.value if ram else 1.0
        relative = most * view.pressing.area
        return float(math.hypot(*(s.u * (relative if s.relative else area) for s in spreads)))

    return min(gauges, key=u)


@dataclass
class Outcome:
    """What the draws of one scenario say (n,).

    first, last: gel [s], inf where the log ends before; pressed, above: whether pressed mechanically, and
    above vapor, at first gel; slack: resin pressure less vapor pressure there [Pa]; applied: over ambient,
    there [Pa]; over: of it what is more than the laminate needs [Pa], infinite where it needs nothing.
    """

    first: np.ndarray
    last: np.ndarray
    pressed: np.ndarray
    above: np.ndarray
    slack: np.ndarray
    applied: np.ndarray
    over: np.ndarray

    @property
    def both(self) -> np.ndarray:
        """Whether both hold."""
        return np.asarray(self.pressed & self.above)

    def beside(self, other: Outcome, *, every: bool) -> Outcome:
        """This outcome, where the other holds too, or, with every false, where one of them holds."""
        join = np.logical_and if every else np.logical_or
        pressed, above = join(self.pressed, other.pressed), join(self.above, other.above)
        return replace(self, pressed=pressed, above=above)


class Outcomes(NamedTuple):
    """What holds however the unknown is taken, what holds in one way at least, and what as it is best known.

    worst: gels of the soonest; best: of the latest; hold: the outcome at such gels, with the least pressure
    possible or else the most.
    """

    worst: Outcome
    best: Outcome
    nominal: Outcome
    hold: Callable[[Gels, bool], Outcome]

    def at(self, time: float) -> Outcome:
        """The same held at one time in every draw [s], with the least pressure possible."""
        at = np.full(len(self.nominal.first), time)
        return self.hold((at, at), True)


def outcomes_of(
    soonest: Gels, latest: Gels, nominal: Gels, hold: Callable[[Gels, bool], Outcome], *between: Gels
) -> Outcomes:
    """Outcomes of the soonest gel and the latest: a pressure that is released may miss either, or what lies
    between.

    hold: the outcome at such gels, with the least pressure possible or else the most; between: more of them.
    """
    worst, known = hold(soonest, True), hold(nominal, True)
    best = hold(soonest, False)
    for other in (*between, latest):
        worst = worst.beside(hold(other, True), every=True)
        best = hold(other, False).beside(best, every=False)
    return Outcomes(worst.beside(known, every=True), best, known, hold)


def gels(view: LogView, curves: Followed, drawn: Drawn, *, early: bool, unknown_start: float) -> Gels:
    """First and last gel of all sensors and charges.

    curves: of each sensor; early: count what lies below the tested range; unknown_start: for a charge
    whose start is unknown, with the time ahead of the log at the first reading's temperature.
    """
    seconds, since, charges, n = view.seconds, view.clock_start, view.contents.charges, drawn.columns.draws
    before = view.warm_before if unknown_start > 0.0 else 0.0
    first, last = np.full(n, np.inf), np.full(n, -np.inf)
    for charge, (a, b), start in zip(charges, drawn.lines, drawn.starts, strict=True):
        used = start if start is not None else np.full(n, unknown_start)
        left = np.maximum(1.0 - used, 1e-9)
        for (at, warm), sensor in curves:
            error = drawn.errors[sensor.name]
            coldest = None if early else charge.coldest - BELOW_RANGE
            if before > 0.0:
                at, warm = np.concatenate([[seconds[0] - before], at]), np.concatenate([[warm[0]], warm])
            if since > seconds[0]:
                keep, start_at = at > since, float(np.interp(since, at, warm))
                at, warm = np.concatenate([[since], at[keep]]), np.concatenate([[start_at], warm[keep]])
            if len(at) < 2:
                return np.full(n, np.inf), np.full(n, np.inf)
            times = ClockTable(at, warm, b, error, coldest).reached(np.log(left) + a)
            times = np.where(used >= 1.0, at[0], times)
            first, last = np.minimum(first, times), np.maximum(last, times)
    return first, last


def at_gel(gel: Gels, seconds: np.ndarray) -> np.ndarray:
    """First gel of every draw, the end of the cycle where it does not gel [s]."""
    return np.where(np.isfinite(gel[0]), gel[0], seconds[-1])


def vapor_at_gel(view: LogView, gel: Gels, drawn: Drawn, curves: Followed) -> np.ndarray:
    """Vapor pressure of the hottest curve at first gel, in every draw [Pa]."""
    at, vapor = at_gel(gel, view.seconds), np.full(drawn.columns.draws, -np.inf)
    for curve, sensor in curves:
        warm = np.interp(at, *curve) + drawn.errors[sensor.name]
        vapor = np.maximum(vapor, drawn.humidity * vapor_pressure(warm))
    return vapor


def outcome(
    view: View,
    gel: Gels,
    vapor: np.ndarray,
    needed: np.ndarray | None,
    gauge: tuple[Any, Any] = (1.0, 0.0),
    *,
    least: bool,
) -> Outcome:
    """Hold pressure and vapor at first gel; least: with the least pressure possible, else the most.

    Where pressure is not known then, nothing holds at least, everything at most.
    """
    at, pressing, (factor, offset) = at_gel(gel, view.seconds), view.pressing, gauge
    reading = pressing.reading
    if reading is None:
        resin, applied = bound(pressing, at, least)
        there = np.ones(len(at), dtype=bool)
    else:
        there = reading.known(at) & np.isfinite(gel[0])
        applied_at = reading.bound if pressing.cores is None else pressing.cores.at
        applied = applied_at(at, least=least)
        applied = applied - ATMOSPHERE if pressing.absolute is not None else applied
        applied = applied * factor + offset
        resin = pressing.resin_of(at, applied)
    # a core presses once it is full, stops not before they close, all else presses whatever was needed
    enough = 0.0 if needed is None and (pressing.by_balance or reading is None) else needed
    over = np.full(len(at), np.inf) if enough is None else applied - EQUAL * enough
    pressed, above = (mask & there if least else mask | ~there for mask in (over > 0.0, resin > vapor))
    return Outcome(*gel, pressed, above, resin - vapor, applied, over)


def bound(pressing: Pressing, at: np.ndarray, least: bool) -> tuple[np.ndarray, np.ndarray]:
    """Resin and applied pressure where nothing says them: none at least, any once the press closes."""
    if least:
        return np.zeros(len(at)), np.full(len(at), -np.inf)
    free = np.full(len(at), np.inf)
    if pressing.earliest is None:
        return free, free
    largest = float(np.max(pressing.earliest.values))
    begun = np.cumsum(pressing.earliest.values > 0.02 * max(largest, 0.0)) > 0
    # the row before may have been pressed already between two readings
    index = int(np.argmax(begun))
    start = pressing.earliest.seconds[max(index - 1, 0)] if begun.any() else np.inf
    applied = np.where((at >= start) | ~np.isfinite(at), np.inf, -np.inf)
    return np.where(applied > 0.0, np.inf, 0.0), applied
