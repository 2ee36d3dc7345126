"""One way to resolve what is unknown, and what ten thousand draws of the rest say of gel and pressure."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.draws import BELOW_RANGE, ClockTable, gel_lines, of_spread, of_value
from laminate.curing.pressing import ATMOSPHERE
from laminate.curing.thermometers import errors
from laminate.formulas.water import water_vapor_pressure
from laminate.values.input_key import Name

if TYPE_CHECKING:
    from laminate.curing.charges import Charge, Contents
    from laminate.curing.draws import Draws
    from laminate.curing.pressing import Pressing
    from laminate.curing.thermometers import Sensor, Thermometers
    from laminate.files.batch import Instrument


@dataclass
class Drawn:
    """Draws that every scenario shares: lines of gel times, errors of sensors and gauge, humidity.

    lines: a and b a charge; starts: share used before the press, None where unknown; errors: a sensor [K];
    gauge: factor and offset [Pa]; needed: what must be applied over ambient [Pa]; inputs: name -> draws.
    """

    n: int
    lines: list[tuple[np.ndarray, np.ndarray]]
    starts: list[np.ndarray | None]
    errors: dict[str, np.ndarray]
    gauge: tuple[np.ndarray, np.ndarray]
    needed: np.ndarray | None
    humidity: np.ndarray
    inputs: dict[Name, np.ndarray] = field(default_factory=dict)


def draw(
    inside: Contents,
    sensors: list[Sensor],
    pressing: Pressing,
    gauge: Instrument | None,
    instruments: dict[str, Instrument],
    needed: object,
    random: Draws,
    n: int,
) -> Drawn:
    """Draw everything that is uncertain, once."""
    inputs: dict[Name, np.ndarray] = {}
    lines = [gel_lines(charge, random, n, inputs) for charge in inside.charges]
    starts: list[np.ndarray | None] = []
    for charge in inside.charges:
        start = None if charge.start is None else np.clip(of_value(charge.start, random, n), 0.0, None)
        if start is not None and charge.start is not None and charge.start.spread:
            inputs[f"{charge.name}: share used before the press"] = start
        starts.append(start)
    wrong = errors(sensors, instruments, random, n, inputs)
    factor, offset = np.ones(n), np.zeros(n)
    for spread in (gauge.calibration, gauge.repeatability) if gauge is not None else ():
        error = of_spread(spread, random, n)
        if spread is not None and spread.relative:
            factor = factor + error
        else:
            offset = offset + error / pressing.area
    if np.ptp(factor) or np.ptp(offset):
        inputs[f"gauge of {pressing.channel}"] = (factor - 1.0) * 1e6 + offset
    need = None
    if needed is not None:
        need = of_value(needed, random, n)  # type: ignore[arg-type]
        if np.ptp(need):
            inputs["pressed_at"] = need
    humidity = np.ones(n)
    if inside.humidity is not None:
        humidity = np.clip(of_value(inside.humidity, random, n), 0.0, 1.0)
        if np.ptp(humidity):
            inputs["stored_humidity"] = humidity
    return Drawn(n, lines, starts, wrong, (factor, offset), need, humidity, inputs)


@dataclass
class Outcome:
    """What the draws of one scenario say (n,).

    first, last: gel [s], inf where the log ends before; pressed, above: whether pressed mechanically, and
    above vapor, at first gel; slack: resin pressure less vapor pressure there [Pa]; applied: over ambient,
    there [Pa].
    """

    first: np.ndarray
    last: np.ndarray
    pressed: np.ndarray
    above: np.ndarray
    slack: np.ndarray
    applied: np.ndarray

    @property
    def both(self) -> np.ndarray:
        """Whether both hold."""
        return np.asarray(self.pressed & self.above)

    def known_where(self, there: np.ndarray, *, least: bool) -> Outcome:
        """The same where pressure is known; elsewhere nothing holds at least, everything at most."""
        if least:
            return replace(self, pressed=self.pressed & there, above=self.above & there)
        return replace(self, pressed=self.pressed | ~there, above=self.above | ~there)


def gels(
    seconds: np.ndarray,
    curves: list[tuple[np.ndarray, Sensor]],
    charges: tuple[Charge, ...],
    drawn: Drawn,
    *,
    early: bool,
    before: float,
    since: float,
    unknown_start: float,
) -> tuple[np.ndarray, np.ndarray]:
    """First and last gel of all sensors and charges (n,) [s].

    early: count what lies below the tested range; before: seconds at the first reading's temperature ahead of
    the log; since: the clock stands still until then [s]; unknown_start: for a charge whose start is unknown.
    """
    first, last = np.full(drawn.n, np.inf), np.full(drawn.n, -np.inf)
    for charge, (a, b), start in zip(charges, drawn.lines, drawn.starts, strict=True):
        used = start if start is not None else np.full(drawn.n, unknown_start)
        left = np.maximum(1.0 - used, 1e-9)
        for curve, sensor in curves:
            error = drawn.errors[sensor.name]
            coldest = None if early else charge.coldest - BELOW_RANGE
            at, warm = seconds, curve
            if before > 0.0:
                at, warm = np.concatenate([[seconds[0] - before], at]), np.concatenate([[curve[0]], warm])
            if since > seconds[0]:
                keep = seconds > since
                at = np.concatenate([[since], seconds[keep]])
                warm = np.concatenate([[float(np.interp(since, seconds, curve))], curve[keep]])
            if len(at) < 2:
                return np.full(drawn.n, np.inf), np.full(drawn.n, np.inf)
            table = ClockTable(at, warm, b, error, coldest)
            times = table.reached(table.weights(b, error), np.log(left) + a)
            times = np.where(used >= 1.0, at[0], times)
            first, last = np.minimum(first, times), np.maximum(last, times)
    return first, last


def outcome(
    first: np.ndarray,
    last: np.ndarray,
    thermometers: Thermometers,
    seconds: np.ndarray,
    pressing: Pressing,
    drawn: Drawn,
    *,
    least: bool,
) -> Outcome:
    """Hold pressure and vapor at first gel; least: with the least pressure possible, else the most."""
    at = np.where(np.isfinite(first), first, seconds[-1])
    vapor = np.full(drawn.n, -np.inf)
    for sensor in thermometers.sensors:
        warm = np.interp(at, seconds, sensor.temperature) + drawn.errors[sensor.name]
        inside = np.clip(warm, 273.16, 640.0)
        vapor = np.maximum(vapor, drawn.humidity * np.asarray(water_vapor_pressure(temperature=inside)))
    reading = pressing.reading
    factor, offset = drawn.gauge
    if reading is None:
        resin, applied = bound(pressing, at, least)
        there = np.ones(drawn.n, dtype=bool)
    else:
        there = reading.known(at) & np.isfinite(first)
        applied = pressing.cores.at(at, least=least) if pressing.cores is not None else reading.at(at)
        applied = applied - ATMOSPHERE if pressing.absolute is not None else applied
        applied = applied * factor + offset
        resin = pressing.resin_of(at, applied)
    weights = weigh(first, last, applied, resin, vapor, drawn.needed, by_balance=pressing.by_balance)
    return weights.known_where(there, least=least)


def weigh(
    first: np.ndarray,
    last: np.ndarray,
    applied: np.ndarray,
    resin: np.ndarray,
    vapor: np.ndarray,
    needed: np.ndarray | None,
    *,
    by_balance: bool,
) -> Outcome:
    """What pressures at first gel say; by_balance: it presses once it is full, else whatever was needed."""
    least = np.zeros(len(first)) if needed is None and by_balance else needed
    pressed = np.ones(len(first), dtype=bool) if least is None else applied > least
    return Outcome(first, last, pressed, resin > vapor, resin - vapor, applied)


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
