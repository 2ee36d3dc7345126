"""What the figures of a log could be for what was not read: the least and the most of each, and why."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import Event
from laminate.curing.doubted import doubts, far_apart
from laminate.curing.events import NEAR_THE_HIGHEST, above, cure_mean, time_above
from laminate.curing.pressing import MISSING, vapor_pressure
from laminate.curing.rules import unread_clock
from laminate.curing.sensors import WARM
from laminate.curing.thermometers import FASTEST, speeds
from laminate.curing.view import gels_at, nominal_clock
from laminate.files.peek import path_text
from laminate.values.quantities import MINUTE, MPA
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from laminate.curing.answers import ZoneCycle
    from laminate.curing.thermometers import Curve, Sensor
    from laminate.curing.view import LogView

CURED = 2.0
"""From so many times the gel time on, a log that ends hot is taken as one of the whole cure; no source."""
HELD = 3600.0
"""The same without gel times: so long after it came near its highest [s]; no source."""
MOST_SAID = 2
OF_PRESSURE = ("first pressure", "liquid full", "pressed", "released")
"""Moments that readings of pressure tell."""
UNTIL_GEL = ("vapor_margin", "resin_pressure_absolute_at_gel", "applied_pressure_at_gel")
FROM_PRESSED = {"time from pressed to gel": MINUTE, "vapor margin": MPA}
"""Figures that count from when it was pressed, and in which unit they are said."""
BRIEF = 120.0
"""A jump that is over in so long between the readings around it is a fault of the sensor [s]; no source."""
SELF_HEATED = 200.0
"""So much no laminate heats itself [K]: 500 J/g of resin, 35 % of the mass, 1 J/g/K (orders, from memory)."""


@dataclass(frozen=True)
class Gap:
    """Where a sensor was not read: from and to [s], the coldest and hottest that it may have been [K]."""

    start: float
    end: float
    low: float
    high: float
    words: str

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.end - self.start


@dataclass(frozen=True)
class Ends:
    """The least and the most of one figure [SI], and why."""

    low: float
    high: float
    why: tuple[str, ...] = ()

    def or_more(self, why: list[str]) -> Ends:
        """The same where it may be any more."""
        return Ends(self.low, math.inf, (*self.why, *why)) if why else self

    def or_less(self, why: list[str], least: float = -math.inf) -> Ends:
        """The same where it may be less, down to `least`."""
        return Ends(min(self.low, least), self.high, (*self.why, *why)) if why else self


def widen(zone_cycle: ZoneCycle, view: LogView) -> None:
    """Give peak, cure temperature and time above of a log the ends that what was not read leaves them."""
    if not view.heat.own:
        return
    gaps = [(sensor, _gaps(view, sensor)) for sensor in view.heat.sensors]
    absent, outside = _absent(view), _outside(view)
    gels = bool(view.inside.charges) and not view.inside.missing
    doubted = [str(words) for words in doubts(view).values()] if gels else []
    readings = zone_cycle.readings
    ends = {"peak temperature": _peak(gaps).or_more(absent).or_more(outside).or_more(doubted)}
    cure = _coldest([_cure(sensor, of_it) for sensor, of_it in gaps])
    near = readings["cure temperature"].value - NEAR_THE_HIGHEST
    cure = cure.or_less(absent).or_less(outside, near).or_more(outside)
    ends["cure temperature"] = cure.or_less(doubted).or_more(doubted)
    for rule in view.part.limits.rules:
        if rule.process and rule.attribute == "time above" and rule.temperature is not None:
            level = rule.temperature.value
            time = _coldest([_above(sensor, of_it, level) for sensor, of_it in gaps])
            time = time.or_less(absent, 0.0).or_more(outside)
            ends["time above"] = time.or_less(doubted, 0.0).or_more(doubted)
    for name, figure in ends.items():
        if figure.why:
            why = tuple(dict.fromkeys(figure.why))
            readings[name] = replace(readings[name], ends=(figure.low, figure.high), unread=why)


def widen_pressed(zone_cycle: ZoneCycle, view: LogView) -> None:
    """The same of the moments of pressure that was not read then, and of what begins when it was pressed.

    It may have been pressed at any moment between two readings, and no further until the second of them.
    """
    pressed, gelled = map(zone_cycle.event, ("pressed", "gel first"))
    for at, event in enumerate(zone_cycle.events):
        lost = view.presses.lost_around(event.time.value, view.seconds)
        if event.event in OF_PRESSURE and lost:
            rows = [view.file.rows[int(np.searchsorted(view.seconds, moment))] for moment in lost]
            words = f"{view.presses.channel} has no reading that counts between rows {rows[0]} and {rows[1]}"
            moment = replace(event.time, ends=lost, unread=(words,))
            zone_cycle.events[at] = Event(event.event, moment, None, None)
    unread, readings = zone_cycle.event("pressed"), zone_cycle.readings
    if pressed is None or gelled is None or unread is None or unread.time.ends is None:
        return
    gap, why = unread.time.ends, unread.time.unread
    zone_cycle.gel_clock = replace(zone_cycle.gel_clock, when_pressed=None)
    zone_cycle.vapor_before_pressure = None
    zone_cycle.unknown |= dict.fromkeys(("gel_clock.when_pressed", "vapor_before_pressure"), why[0])
    if time := readings.get("time from pressed to gel"):
        late, soon = (time.value + pressed.time.value - moment for moment in gap)
        readings["time from pressed to gel"] = replace(time, ends=(soon, late), unread=why)
    if (margin := readings.get("vapor margin")) and pressed.resin_pressure is not None:
        seconds, until = view.seconds, gelled.time.value
        vapor = zone_cycle.humidity * vapor_pressure(view.heat.hottest())
        low = pressed.resin_pressure - float(np.interp(gap, seconds, vapor).max())
        times = np.append(seconds[(seconds >= gap[1]) & (seconds <= until)], until)
        resin = view.presses.resin(times)
        assert resin is not None  # something presses
        high = float(np.min(resin - np.interp(times, seconds, vapor)))  # it may have risen all at once
        readings["vapor margin"] = replace(margin, ends=(min(margin.value, low), high), unread=why)


def withhold(zone_cycle: ZoneCycle, view: LogView) -> None:
    """Say that moments, and figures from when it was pressed, are not known where they have ends alone.

    Nor are temperature and pressure where nobody read them.
    """
    readings, coarse = zone_cycle.readings, (far_apart(view),)
    zone_cycle.vapor_margin = readings.get("vapor margin", zone_cycle.vapor_margin)
    for at, event in enumerate(zone_cycle.events):
        time, presses = np.array([event.time.value]), view.presses
        if not all(sensor.known.known(time).all() for sensor in view.heat.sensors):
            zone_cycle.events[at] = event = replace(event, temperature=None)
        if presses.reading is not None and presses.cores is None and not presses.reading.known(time).all():
            zone_cycle.events[at] = replace(event, resin_pressure=None)
            if event.event == "gel first":
                zone_cycle.resin_pressure_at_gel = zone_cycle.applied_pressure_at_gel = None
                zone_cycle.vapor_margin = None
                why = f"{presses.channel} has no reading that counts then"
                zone_cycle.unknown |= dict.fromkeys(("vapor margin", *UNTIL_GEL), why)
    known = [(event.event, event.time, MINUTE) for event in zone_cycle.events]
    known += [(name, readings[name], unit) for name, unit in FROM_PRESSED.items() if name in readings]
    known += [("vapor_margin", zone_cycle.vapor_margin, MPA)] if zone_cycle.vapor_margin else []
    for name, figure, unit in known:
        if figure.ends is not None and figure.unread != coarse:
            low, high = (Figure(end, unit, 3) for end in figure.ends)
            zone_cycle.unknown[name] = Said(low, " to ", high, ": ", "; ".join(figure.unread))


def widen_gelled(zone_cycle: ZoneCycle, view: LogView) -> None:
    """The same of what ends when it gels, where readings of the laminate before are far apart, or missing."""
    pressed, gelled = map(zone_cycle.event, ("pressed", "gel first"))
    readings, lost = zone_cycle.readings, next(unread_clock(view), "")
    why = lost or far_apart(view)
    if not why or gelled is None:
        return
    hot = [sensor.through_gaps(view.seconds, view.heat.bound) for sensor in view.heat.sensors]
    cold = [sensor.known.cold_between(*sensor.coldest(view.seconds)) for sensor in view.heat.sensors]
    charges, end = view.inside.charges, float(view.seconds[-1])
    soonest, latest = ([gels_at(view, c, each) for c in curves for each in charges] for curves in (hot, cold))
    soon, late = min(*soonest, end), min(*latest, end)
    if lost:
        zone_cycle.gel_clock = replace(zone_cycle.gel_clock, when_pressed=None)
        zone_cycle.unknown["gel_clock.when_pressed"] = lost
        gels = {"gel first": (soon, late), "gel last": (min(max(soonest), end), min(max(latest), end))}
        for at, event in enumerate(zone_cycle.events):
            if event.event in gels:
                moment = replace(event.time, ends=gels[event.event], unread=(lost,))
                zone_cycle.events[at] = Event(event.event, moment, None, None)
    if lost and view.presses.cores is not None:
        _forget_computed(zone_cycle, view, lost)
    pressed = zone_cycle.event("pressed")
    if pressed is None or pressed.time.ends is not None:
        return
    begun, gel = pressed.time.value, gelled.time.value

    def least(curves: list[Curve], until: float) -> float:
        margins = []
        for at, warm in curves:
            times = np.append(at[(at > begun) & (at < until)], begun)
            resin = view.presses.resin(times)
            assert resin is not None  # something presses
            vapor = zone_cycle.humidity * vapor_pressure(np.interp(times, at, warm))
            margins.append(float(np.min(resin - vapor)))
        return min(margins)

    def wider(name: str, lower: float, higher: float) -> None:
        if figure := readings.get(name):
            low, high = figure.ends or (figure.value, figure.value)
            ends = min(low, low + lower), max(high, high + higher)
            readings[name] = replace(figure, ends=ends, unread=(*figure.unread, why))

    wider("time from pressed to gel", soon - gel, late - gel)
    if margin := readings.get("vapor margin"):
        wider("vapor margin", least(hot, late) - margin.value, least(cold, soon) - margin.value)


def _forget_computed(zone_cycle: ZoneCycle, view: LogView, why: str) -> None:
    """Take back what pressures of a core say, which is computed from temperatures that nobody read.

    A moment after the first of them is no better known than to the end of the log.
    """
    seconds, readings = view.seconds, zone_cycle.readings
    unread = np.any([~sensor.known.known(seconds) for sensor in view.heat.sensors], axis=0)
    begun, end = float(seconds[max(int(np.argmax(unread)) - 1, 0)]), float(seconds[-1])
    for at, event in enumerate(zone_cycle.events):
        if event.time.value <= begun:
            continue
        zone_cycle.events[at] = replace(event, resin_pressure=None)
        if event.event in (*OF_PRESSURE, "touch"):
            moment = replace(event.time, ends=(begun, end), unread=(why,))
            zone_cycle.events[at] = Event(event.event, moment, None, None)
            if event.event == "pressed":
                readings.pop("time from pressed to gel", None)
                zone_cycle.unknown["time from pressed to gel"] = why
    readings.pop("vapor margin", None)
    zone_cycle.vapor_margin = zone_cycle.vapor_before_pressure = zone_cycle.vapor_margin_after_gel = None
    zone_cycle.resin_pressure_at_gel = zone_cycle.applied_pressure_at_gel = None
    zone_cycle.unknown |= dict.fromkeys(
        ("vapor margin", "vapor_before_pressure", "vapor_margin_after_gel", *UNTIL_GEL), why
    )


def _absent(view: LogView) -> list[str]:
    """Sensors of the laminate that the part wants, that are lost, or that nobody has named."""
    heat, file = view.heat, view.file
    read = [sensor.name for sensor in heat.sensors]
    lost = [channel.name for channel in file.reading("laminate") if channel.name not in read]
    wanted = view.part.zone[view.zone].sensors.get("laminate", 0)
    why = [f"{', '.join(lost)} reads the laminate and tells nothing"] if lost else []
    if len(read) < wanted:
        where = f"[zone.{view.zone}] sensors"
        why.append(f"{len(read)} of {wanted} sensors that read the laminate, which {where} wants, are there")
    if file.unnamed:
        lines = ", ".join(path_text((name,)) for name in file.unnamed)
        why.append(f"[log.columns] does not say what {lines} reads, the laminate or other")
    return why


def _outside(view: LogView) -> list[str]:
    """Why the laminate was hot before the log began, or may have gone on after it ended."""
    seconds, hot, since = view.seconds, view.heat.hottest(), view.log.charge_heated_since
    why = []
    if hot[0] > WARM and (since is None or since.value < 0.0):
        why.append(f"row {view.file.rows[0]}, the first of the log, is hot: what was before is not known")
    if hot[-1] <= WARM:
        return why
    last = f"row {view.file.rows[-1]}, the last of the log, is hot"
    cold = np.min([sensor.temperature for sensor in view.heat.sensors], axis=0)
    held = seconds[-1] - seconds[int(np.argmax(cold >= cold.max() - NEAR_THE_HIGHEST))]
    used, known = 1.0, not view.inside.missing and bool(view.inside.charges)
    if known:
        used = min(float(nominal_clock(view, *pair)[-1]) for pair in view.pairs)
    if used < 1.0:
        why.append(f"{last}, and before gel: what came after is not known")
    elif held < HELD and not (known and used >= CURED):  # who leaves the gel times out gains nothing
        what = "what came after is not known; a log until it is cold"
        what += " tells" if known else ", or gel_time of its resin, tells"
        why.append(f"{last}, {held / 60.0:.0f} min after it came near its highest: {what}")
    return why


def _gaps(view: LogView, sensor: Sensor) -> list[Gap]:
    """Where rows are missing, or readings that do not count, but for a jump that other sensors contradict.

    No platen contradicts an exotherm of the laminate: what jumps for minutes may be one. What was not read
    went up from one reading and down to the other, or the other way round.
    """
    seconds = view.seconds
    jumps = view.file.channels[sensor.name].jumps
    shared = _shared(view)
    there = np.isin(seconds, sensor.known.seconds)
    alone = np.zeros(len(seconds), bool)
    if jumps is not None:
        alone = np.isfinite(jumps) & ~shared & ~_self_heated(sensor, seconds, jumps)
    kept = np.flatnonzero(there | alone)
    at, values = seconds[kept], sensor.known.at(seconds[kept])
    reaches = speeds(at, values, sensor.known.longest)[1:-1] * np.diff(at)
    gaps = []
    for k in np.flatnonzero(np.diff(at) > MISSING * sensor.known.usual):
        first, last, reach = int(kept[k]), int(kept[k + 1]), float(reaches[k])
        middle = float(values[k] + values[k + 1]) / 2.0
        low, high = middle - reach / 2.0, middle + reach / 2.0
        words = f"{sensor.name} has no reading that counts between rows {{}} and {{}}"
        if jumps is not None and np.isfinite(jumps[first:last]).any():
            low = min(low, float(np.nanmin(jumps[first:last])))
            high = max(high, float(np.nanmax(jumps[first:last])))
            why = "no other sensor contradicts it" if shared[first:last].any() else "it may be an exotherm"
            words = f"{sensor.name} jumps, and {why}, between rows {{}} and {{}}"
        rows = view.file.rows[first], view.file.rows[last]
        gaps.append(Gap(at[k], at[k + 1], low, high, words.format(*rows)))
    for row, end, side in ((kept[0], 0, "before"), (kept[-1], len(seconds) - 1, "after")):
        span = abs(float(seconds[end] - seconds[row]))
        if span > 0.0:
            value, words = float(sensor.known.at(seconds[[row]])[0]), f"{side} row {view.file.rows[row]}"
            start, stop = sorted((float(seconds[row]), float(seconds[end])))
            low, high = value - FASTEST * span, value + FASTEST * span
            gaps.append(Gap(start, stop, low, high, f"{sensor.name} has no reading that counts {words}"))
    return gaps


def _self_heated(sensor: Sensor, seconds: np.ndarray, jumps: np.ndarray) -> np.ndarray:
    """Rows in which what jumps up may be an exotherm, which lasts, and is no hotter than a resin gets."""
    at = sensor.known.seconds
    after = np.clip(np.searchsorted(at, seconds), 1, len(at) - 1)
    rise = jumps - sensor.known.at(seconds)
    return np.asarray((at[after] - at[after - 1] > BRIEF) & (rise > 0.0) & (rise < SELF_HEATED))


def _shared(view: LogView) -> np.ndarray:
    """Rows in which what jumps is contradicted by no other sensor: none reads there, or another jumps too."""
    sensors = view.file.reading("laminate", "core", "platen", "tool")
    jumping = np.sum([np.isfinite(c.jumps) for c in sensors if c.jumps is not None], axis=0)
    reading = np.sum([np.isfinite(c.values) for c in sensors], axis=0)
    return np.asarray((jumping > 1) | (reading == 0)) & np.ones(len(view.seconds), bool)


def _said(gaps: list[Gap]) -> tuple[str, ...]:
    """The widest of some gaps in words, and how many more there are."""
    widest = sorted(gaps, key=lambda gap: -gap.seconds)
    more = len(gaps) - MOST_SAID
    words = tuple(gap.words for gap in widest[:MOST_SAID])
    return (*words, f"and {more} gaps more") if more > 0 else words


def _peak(gaps: list[tuple[Sensor, list[Gap]]]) -> Ends:
    """The highest of all sensors: what was read, or the hottest that one may have been unread."""
    peak = max(float(sensor.known.values.max()) for sensor, _ in gaps)
    hotter = [gap for _, of_it in gaps for gap in of_it if gap.high > peak]
    return Ends(peak, max((gap.high for gap in hotter), default=peak), _said(hotter))


def _cure(sensor: Sensor, gaps: list[Gap]) -> Ends:
    """The mean while within 3 K of the highest, where the gaps may belong to it, or hold the highest."""
    mean, values = cure_mean(sensor), sensor.known.values
    least = float(values.max()) - NEAR_THE_HIGHEST
    near = [gap for gap in gaps if gap.high > least]
    if not near:
        return Ends(mean, mean)
    usual, unread = sensor.known.usual, sum(gap.seconds for gap in near)
    read = usual * float(np.sum(values >= least))
    low = (cure_mean(sensor, usual) * read + least * unread) / (read + unread)
    high = max(gap.high for gap in near)
    return Ends(min(low, mean), max(high, mean), _said(near))


def _above(sensor: Sensor, gaps: list[Gap], level: float) -> Ends:
    """How long a sensor was above a level, where a gap counts to neither side.

    The time holds nothing of what is before the first reading or after the last.
    """
    value, first, last = time_above([sensor], level).value, *sensor.known.seconds[[0, -1]]
    outer = [gap for gap in gaps if gap.high > level and not first <= gap.start < gap.end <= last]
    inner = [gap for gap in gaps if gap not in outer and gap.low < level < gap.high]
    ends = [np.array([gap.start, gap.end]) for gap in inner]
    low = value - sum([above(times, sensor.known.at(times), level) for times in ends])
    unread = [*outer, *inner]
    high = low + sum(gap.seconds for gap in unread)
    return Ends(max(low + sum(gap.seconds for gap in outer if gap.low >= level), 0.0), high, _said(unread))


def _coldest(ends: list[Ends]) -> Ends:
    """The coldest of some sensors: the least of each end."""
    why = tuple(words for each in ends for words in each.why)
    return Ends(min(each.low for each in ends), min(each.high for each in ends), why)
