"""What the figures of a log could be for what was not read: the least and the most of each, and why."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.laminate_readings import (
    NEAR_THE_HIGHEST,
    above,
    cure_mean,
    laminate_readings,
    time_above,
)
from laminate.curing.pressing import MISSING
from laminate.curing.sensors import WARM
from laminate.curing.suspect_sensors import suspect_sensors
from laminate.curing.thermometers import FASTEST, speeds
from laminate.curing.view import nominal_clock
from laminate.files.raw_file import path_text

if TYPE_CHECKING:
    from laminate.curing.answers import Known
    from laminate.curing.thermometers import Sensor
    from laminate.curing.view import LogView

CURED = 2.0
"""From so many times the gel time on, a log that ends hot is taken as one of the whole cure; no source."""
HELD = 3600.0
"""The same without gel times: so long after it came near its highest [s]; no source."""
MOST_SAID = 2
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

    def of(self, figure: Known) -> Known:
        """A figure with these ends, where something was not read."""
        why = tuple(dict.fromkeys(self.why))
        return replace(figure, ends=(self.low, self.high), unread=why) if why else figure

    def or_more(self, why: list[str]) -> Ends:
        """The same where it may be any more."""
        return Ends(self.low, math.inf, (*self.why, *why)) if why else self

    def or_less(self, why: list[str], least: float = -math.inf) -> Ends:
        """The same where it may be less, down to `least`."""
        return Ends(min(self.low, least), self.high, (*self.why, *why)) if why else self


def log_readings(view: LogView) -> dict[str, Known]:
    """Peak, cure temperature and time above of a log, with the ends that what was not read leaves them."""
    readings = laminate_readings(view)
    if not readings:
        return {}
    gaps = [(sensor, _gaps(view, sensor)) for sensor in view.sensors]
    absent, outside = _absent(view), _outside(view)
    gels = bool(view.contents.charges) and not view.contents.missing
    suspected = [str(words) for words in suspect_sensors(view).values()] if gels else []
    ends = {"peak temperature": _peak(gaps).or_more(absent).or_more(outside).or_more(suspected)}
    cure = _coldest([_cure(sensor, of_it) for sensor, of_it in gaps])
    near = readings["cure temperature"].value - NEAR_THE_HIGHEST
    cure = cure.or_less(absent).or_less(outside, near).or_more(outside)
    ends["cure temperature"] = cure.or_less(suspected).or_more(suspected)
    for rule in view.part.limits.rules:
        if rule.process and rule.attribute == "time above" and rule.temperature is not None:
            level = rule.temperature.value
            time = _coldest([_above(sensor, of_it, level) for sensor, of_it in gaps])
            time = time.or_less(absent, 0.0).or_more(outside)
            ends["time above"] = time.or_less(suspected, 0.0).or_more(suspected)
    return {name: ends[name].of(reading) for name, reading in readings.items()}


def _absent(view: LogView) -> list[str]:
    """Sensors of the laminate that the part wants, that are lost, or that nobody has named."""
    thermometers, file = view.thermometers, view.file
    read = [sensor.name for sensor in thermometers.sensors]
    lost = [channel.name for channel in file.reading("laminate") if channel.name not in read]
    wanted = view.part.zone[view.zone].sensors.get("laminate", 0)
    why = [f"{', '.join(lost)} reads the laminate, but has no valid reading"] if lost else []
    if len(read) < wanted:
        where = f"[zone.{view.zone}] sensors"
        why.append(f"{len(read)} of {wanted} sensors that read the laminate, which {where} wants, are there")
    if file.unnamed:
        lines = ", ".join(path_text((name,)) for name in file.unnamed)
        why.append(f"[log.columns] does not say what {lines} reads, the laminate or other")
    return why


def _outside(view: LogView) -> list[str]:
    """Why the laminate was hot before the log began, or may have gone on after it ended."""
    seconds, hot, since = view.seconds, view.thermometers.hottest(), view.log.charge_heated_since
    why = []
    if hot[0] > WARM and (since is None or since.value < 0.0):
        why.append(f"row {view.file.rows[0]}, the first of the log, is hot: what came before is not known")
    if hot[-1] <= WARM:
        return why
    last = f"row {view.file.rows[-1]}, the last of the log, is hot"
    cold = np.min([sensor.temperature for sensor in view.sensors], axis=0)
    held = seconds[-1] - seconds[int(np.argmax(cold >= cold.max() - NEAR_THE_HIGHEST))]
    used, known = 1.0, not view.contents.missing and bool(view.contents.charges)
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
        words = f"{sensor.name} has no valid reading between rows {{}} and {{}}"
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
            gaps.append(Gap(start, stop, low, high, f"{sensor.name} has no valid reading {words}"))
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


def _in_words(gaps: list[Gap]) -> tuple[str, ...]:
    """The widest of some gaps in words, and how many more there are."""
    widest = sorted(gaps, key=lambda gap: -gap.seconds)
    more = len(gaps) - MOST_SAID
    words = tuple(gap.words for gap in widest[:MOST_SAID])
    return (*words, f"and {more} more gaps") if more > 0 else words


def _peak(gaps: list[tuple[Sensor, list[Gap]]]) -> Ends:
    """The highest of all sensors: what was read, or the hottest that one may have been unread."""
    peak = max(float(sensor.known.values.max()) for sensor, _ in gaps)
    hotter = [gap for _, of_it in gaps for gap in of_it if gap.high > peak]
    return Ends(peak, max((gap.high for gap in hotter), default=peak), _in_words(hotter))


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
    return Ends(min(low, mean), max(high, mean), _in_words(near))


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
    low += sum(gap.seconds for gap in outer if gap.low >= level)
    return Ends(max(low, 0.0), high, _in_words(unread))


def _coldest(ends: list[Ends]) -> Ends:
    """The coldest of some sensors: the least of each end."""
    why = tuple(words for each in ends for words in each.why)
    return Ends(min(each.low for each in ends), min(each.high for each in ends), why)
