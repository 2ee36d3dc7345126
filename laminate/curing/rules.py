"""What keeps a verdict back: each rule names its reason and what it stands against."""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import IN_TIME, LATE, VAPOR
from laminate.curing.charges import UNKNOWN_START
from laminate.curing.draws import BELOW_RANGE
from laminate.curing.fiber_bed_load import OFTEN, check_fiber_bed_load, laid_up
from laminate.curing.pressing import ATMOSPHERE, far_above, force_of, known, too_high
from laminate.curing.thermometers import AT_THE_EDGE, GAUGE, ORDINARY_WORDS, ordinary
from laminate.curing.unlogged_gel import check_substitute
from laminate.curing.view import furthest, gel_row, gel_times, room_of
from laminate.files.batch import Instrument
from laminate.files.cycle_keys import SENSORS, TEMPERATURES
from laminate.files.raw_file import path_text
from laminate.press.case import wanted_pressure
from laminate.press.unlikely import CLOSES_UP
from laminate.values.quantities import DEG_C, KELVIN, MM, MPA
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from collections.abc import Iterator

    from laminate.curing.view import LogView, View
    from laminate.files.part import Core, Room

FEWEST_ROWS = 10
WARM_START = 15.0
THICK = 0.008
SWAPPED = 5.0
COUNTED = 333.15
ONE_DIGIT = 1.5
"""A gauge that flickers by its last digit moves by less than so many of it."""
NEAR_ONE = 0.1
"""So near to one atmosphere, over it, a gauge at rest may well read absolute; no source."""


def apply(view: LogView, first: np.ndarray) -> None:
    """Note everything that keeps a verdict on a logged zone back; first: draws of first gel [s]."""
    end = gel_row(view)
    _sensors(view)
    _unread(view)
    if np.sum(view.thermometers.hottest()[: end + 1] > COUNTED) < FEWEST_ROWS:
        view.objections.add(
            Said(f"fewer than {FEWEST_ROWS} rows between ", Figure(COUNTED, DEG_C), " and gel")
        )
    begun = [s.temperature[0] for s in view.sensors if s.known.seconds[0] <= view.seconds[0]]
    warm = max(begun, default=float(view.thermometers.hottest()[0]))
    if view.log.charge_heated_since is None and warm > room_of(view.part) + WARM_START:
        reason = "the charge is warm when the log starts: charge_heated_since says since when"
        view.objections.add(reason, IN_TIME)
    _swapped(view, end)
    _wanted(view, end)
    _heated_since(view)
    view.notes.warnings.extend(_gauge(view, end))
    check_substitute(view)
    _unstated(view)
    _traced(view)
    if view.pressing.absolute is None and view.pressing.applied is not None:
        plies, made = view.case.batch.batch.plies, view.case.ingredients()
        check_fiber_bed_load(view, partial(laid_up, view.part, view.zone, plies, made))
    of_any_cycle(view, first)


def of_any_cycle(view: View, first: np.ndarray) -> None:
    """Note what keeps a verdict back, of a log or a plan; first: draws of first gel [s]."""
    _clamp(view, first)
    _tabulated(view)
    _edges(view)
    _range(view)
    _below_the_tests(view)
    _start(view)
    _releases(view)
    _need(view)
    for reason in view.pressing.why:
        view.objections.add(reason, IN_TIME, VAPOR)
    for reason, verdicts in view.pressing.doubts:
        view.objections.add(reason, *verdicts)
    if view.humidity is None:
        view.objections.add("stored_humidity is not stated: 100 % was taken", VAPOR)


def _need(view: View) -> None:
    """Whether what is said to close the laminate up is likely, and that what is wanted counts beside it."""
    stated, wanted = view.part.zone[view.zone].pressed_at, wanted_pressure(view.part, view.zone)
    if stated is None:
        return
    counts = ""
    if wanted is not None and stated.value < wanted.value:
        counts = f", less than its wanted_pressure of {wanted.text}, which counts"
    words = f"pressed_at in [zone.{view.zone}] is {stated.text}{counts}"
    if stated.value < CLOSES_UP:
        least = "; hardly less than ", Figure(CLOSES_UP, MPA), " closes a laminate up (no source)"
        view.objections.add(Said(words, *least, ": check number and unit"), IN_TIME)
    elif counts:
        view.notes.warnings.append(words)


def _clamp(view: View, first: np.ndarray) -> None:
    """A core that opens the tool before gel lets resin out: then its pressure is not what was computed."""
    pressing = view.pressing
    of_log = not view.cycle and pressing.logged is not None
    if view.cycle and (missing := _holding_not_stated(view)):
        view.notes.warnings.append(f"whether clamp and tool hold the bladder is not judged: write {missing}")
    if pressing.limit is None and of_log:
        held = "of a log's gauge only the highest pressure is compared with tool and clamp"
        view.notes.unknown["clamp reached"] = held
    elif pressing.limit is None:
        what = "clamp_force and pressure_limit in [tool], and what the tool opens: projected_area, or opens"
        view.notes.unknown["clamp reached"] = f"write {what}"
        if pressing.by_balance:
            view.objections.add(f"whether the press stays shut is not known: write {what}", IN_TIME)
    elif pressing.by_balance and (often := pressing.opens_before(first)) > OFTEN:
        share_of = f"{100.0 * often:.3g} % of the draws"
        view.objections.add(f"the press may open before gel: its limit is reached in {share_of}", IN_TIME)
    elif not pressing.by_balance and pressing.opens_before(np.full(len(first), np.inf)) > OFTEN:
        reason = "more is planned than the clamp or the pressure_limit of the tool holds"
        hint = "check the unit of each; the press may open, the tool can break"
        view.objections.add(f"{reason}: {hint}", IN_TIME)


def _holding_not_stated(view: View) -> str:
    """What is not stated of what holds a bladder; '' where all is, or nothing is held."""
    part = view.part
    if part.zone[view.zone].bladder is None:
        return ""
    limits = ("clamp_force", "pressure_limit")
    keys = [f"tool.{key}" for key in limits if getattr(part.tool, key, None) is None]
    keys += [f"zone.{name}.projected_area" for name, row in part.zone.items() if row.projected_area is None]
    keys += [f"core.{name}.projected_area" for name, row in part.core.items() if row.projected_area is None]
    return ", ".join(keys)


def _tabulated(view: View) -> None:
    """A core's own numbers must be this shop's: those of a table may press more."""
    if not view.pressing.by_balance:
        return
    part, place = view.part, view.part.zone[view.zone]
    for name, core in part.core.items():
        if name != place.core and (place.room is None or core.room != place.room):
            continue
        along = name in part.heat.core and part.heat.core[name].bulk_modulus
        given = {"expansion": core.expansion, "bulk_modulus": core.bulk_modulus or along}
        for key in (key for key, value in given.items() if not value):
            reason = f"{key} of core {name} is tabulated: write that of this rubber in [core.{name}]"
            view.objections.add(reason, IN_TIME)


def _edges(view: View) -> None:
    """Long edges are never taken as sharp, for those of a core lower its pressure; closed ends are said."""
    part, name = view.part, view.part.zone[view.zone].room
    if not view.pressing.by_balance or name is None:
        return
    if "ends" not in part.room[name].model_fields_set:
        view.notes.screening.append(f"room {name} has closed ends")
    tables: dict[str, Room | Core] = {f"room.{name}": part.room[name]}
    tables |= {f"core.{core}": table for core, table in part.core.items() if table.room == name}
    shapes = ("diameter", "volume", "mass", "corner_radius")
    bare = [
        f"corner_radius in [{path}]"
        for path, table in tables.items()
        if all(getattr(table, shape, None) is None for shape in shapes)
    ]
    if bare:
        write = f"write {', '.join(bare)} (0 is an answer)"
        view.objections.add(f"the edge radius is not stated: {write}", IN_TIME)


def _sensors(view: LogView) -> None:
    objections, file, thermometers = view.objections, view.file, view.thermometers
    if not thermometers.own:
        objections.add("no laminate sensor: platen or tool are used, and predict gel too early", LATE, VAPOR)
        view.notes.not_measured.append("laminate temperature")
        if any(channel.reads == "laminate" for channel in file.channels.values()):
            objections.add("the zone's only laminate sensor is left out")
    if thermometers.lost and thermometers.bound is None:
        lost = ", ".join(thermometers.lost)
        objections.add(f"sensor {lost} is lost, and no other bounds its temperature", IN_TIME)
    for what, names, hint in (
        ("temperatures", file.unnamed, 'reads = "other" for a set point, or what is not in the zone'),
        ("forces or pressures", file.unnamed_forces, 'what each reads, or "other"'),
    ):
        if names:
            objections.add(f"{what} that [log.columns] does not name: {', '.join(names)}; {hint}", IN_TIME)
    middle = any(channel.column.place == "middle" for channel in file.reading("laminate"))
    if (view.thickness is None or view.thickness > THICK) and not (middle and thermometers.own):
        how_thick = ("of unknown thickness",) if view.thickness is None else ("over ", Figure(THICK, MM))
        hint = " without a sensor in its middle, where it runs hotter"
        objections.add(Said("a laminate ", *how_thick, hint), IN_TIME)
    for sensor in thermometers.sensors:
        if sensor.edge:
            hint = ' (tolerance) for its place; place = "middle" removes it'
            view.notes.warnings.append(Said(f"{sensor.name}: ± ", Figure(AT_THE_EDGE, KELVIN), hint))


def _wanted(view: LogView, end: int) -> None:
    """Sensors that the part wants in a log, which must read up to gel."""
    wanted, at = view.part.zone[view.zone].sensors, view.seconds[[end]]
    count = {}
    for reads in SENSORS:
        traces = [known(view.file, channel.values) for channel in view.file.reading(reads)]
        count[reads] = sum(1 for trace in traces if trace is not None and bool(trace.known(at)[0]))
    if not wanted:
        listed = ", ".join(f"{path_text((reads,))} = {number}" for reads, number in count.items() if number)
        line = f"sensors = {{ {listed} }} in [zone.{view.zone}]"
        view.notes.unknown["sensors"] = f"whether one is missing from the log: {line} says how many there are"
    for reads, least in wanted.items():
        if count[reads] < least:
            reason = f"{count[reads]} of {least} sensors that read {reads} up to gel, which the part wants"
            view.objections.add(reason, IN_TIME)
        elif count[reads] > least:
            line = f"{path_text((reads,))} = {count[reads]} in sensors of [zone.{view.zone}]"
            more = f"more sensors than the part wants: write {line}, so that none is missed"
            view.notes.warnings.append(more)


def _heated_since(view: LogView) -> None:
    """A charge that was at room temperature at a time must be read so then."""
    since = view.log.charge_heated_since
    if since is None or not view.thermometers.own or since.value < view.seconds[0]:
        return
    for sensor in view.sensors:
        warm = float(np.interp(since.value, view.seconds, sensor.temperature))
        if warm > room_of(view.part) + WARM_START:
            reads = f"charge_heated_since {since.text}, but {sensor.name} reads "
            warm_text = Figure(warm, DEG_C, written=f"{warm - 273.15:.0f}")
            view.objections.add(Said(reads, warm_text, " then"), IN_TIME)


def _gauge(view: LogView, end: int) -> Iterator[str]:
    """A gauge of bladder or resin that reads more than can be, never moves, or rests far above its zero.

    One that rests at one atmosphere may read absolute. A sensor counts until the resin around it has gelled.
    Keeps 'pressed in time' back where that could change it; yields what is said where it could not.
    """
    pressing, part, zone = view.pressing, view.part, view.zone
    channel, reading = view.file.channels.get(pressing.channel), pressing.logged
    if channel is None or reading is None:
        return
    of_resin, at_gel = pressing.absolute is not None, float(view.seconds[end])
    seconds = reading.seconds[reading.seconds <= at_gel] if of_resin else reading.seconds
    read = pressing.over_ambient(np.append(seconds, at_gel))
    assert read is not None
    low, high, last = float(read.min()), float(read.max()), float(read[-1])
    logged, _ = force_of(view.file)
    force = float(logged.values.max()) if of_resin and logged is not None else None
    for doubt in (*far_above(part, zone, high, force), *too_high(part, zone, high)):
        view.objections.add(doubt, IN_TIME)
    if channel.reads not in ("bladder pressure", "resin pressure"):
        return
    needed = max(pressing.needed or 0.0, float(view.vapor()[end]) - ATMOSPHERE)
    flickers = high - low < ONE_DIGIT * channel.digit < low
    over = channel.column.base == "over ambient"
    if flickers or low == high != 0.0:
        hint = "it may be stuck; else start the log before pressure is on"
        view.objections.add(f"the gauge of '{channel.name}' never moves: {hint}", IN_TIME)
    if over and abs(low - ATMOSPHERE) < NEAR_ONE * ATMOSPHERE and last - ATMOSPHERE <= needed:
        reason = f"the gauge of '{channel.name}' never reads less than one atmosphere"
        hint = 'write base = "absolute" if it is, or start the log before pressure is on'
        view.objections.add(f"{reason}: {hint}", IN_TIME)
        return
    gauge = ordinary(view.case.batch.instrument.get(channel.column.instrument or ""), GAUGE)
    spreads = [spread for spread in (gauge.calibration, gauge.repeatability) if spread is not None]
    u = math.hypot(*(spread.u * (high if spread.relative else 1.0) for spread in spreads), channel.digit)
    if not 3.0 * u < low < needed:
        return
    words = f"the gauge of '{channel.name}' never reads less than ", Figure(low, MPA)
    if last - low - 2.0 * u > needed:
        yield Said(*words, ": its zero may be off; even then it presses enough at gel")
    else:
        hint = "; if that is its zero, it may press too little at gel"
        hint += ": set its zero, or log it before pressure is on"
        view.objections.add(Said(*words, hint), IN_TIME)


def _unstated(view: LogView) -> None:
    """Columns that decide, where nothing says how far off they may be: an ordinary sensor is taken."""
    names = [*(sensor.name for sensor in view.sensors), view.pressing.channel]
    for name in dict.fromkeys(names):
        reader = view.file.channels.get(name)
        if reader is None:
            continue
        instrument = reader.column.instrument
        stated = view.case.batch.instrument[instrument] if instrument is not None else Instrument()
        missing = [key for key in ("calibration", "repeatability") if getattr(stated, key) is None]
        if missing:
            where = f"[{path_text(('instrument', instrument or 'NAME'))}]"
            where += ", with instrument = NAME in its column" if instrument is None else ""
            keys = " and ".join(f'{key} = "... (standard)"' for key in missing)
            taken = ORDINARY_WORDS[reader.reads in TEMPERATURES] if "calibration" in missing else "none"
            words = f"the ± of {name} is not stated, ", taken, f" is taken: write {keys} in {where}"
            view.notes.warnings.append(Said(*words))


def _range(view: View) -> None:
    end, hot = gel_row(view), view.thermometers.hottest()
    if float(np.max(hot[: end + 1])) > min(charge.hottest for charge in view.contents.charges) + BELOW_RANGE:
        far, hint = Figure(BELOW_RANGE, KELVIN), " before gel: test the gel time there"
        view.objections.add(Said("above the hottest gel test by more than ", far, hint))


def _below_the_tests(view: View) -> None:
    """What the clock gains far below the coldest test may count or not: the verdict must be one."""
    counted, without = (min(gel_times(view, early=early)) for early in (True, False))
    applied = view.pressing.over_ambient(np.array([counted, without]))
    if counted == without or not math.isfinite(counted) or applied is None:
        return
    pressed = view.pressing.closed(applied) > 0.0
    if math.isfinite(without) and pressed[0] == pressed[1]:
        return
    verdict = IN_TIME if pressed[0] else LATE
    then = f"gels at {without / 60.0:.0f} min, {'' if pressed[1] else 'not '}pressed"
    then = then if math.isfinite(without) else "has not gelled at the end"
    ends = f" below the coldest gel test, it {then}: test the gel time at a lower temperature"
    reason = Said("if the gel clock stands still more than ", Figure(BELOW_RANGE, KELVIN), ends)
    view.objections.add(reason, verdict)


def _start(view: View) -> None:
    """What the charge went through before it lay in the tool."""
    for charge in view.contents.charges:
        if charge.must_state:
            view.objections.add(f"out-time not stated: write {charge.must_state}", IN_TIME)
        elif charge.start is None:
            held = f"'pressed in time' must hold with {UNKNOWN_START:.0%} of the clock used"
            view.notes.warnings.append(f"{charge.name}: no out_life; {held}")
        view.notes.warnings.extend(charge.remarks)
        if not charge.of_lot:
            lot = "" if view.cycle else f" of {charge.name}; gel_time in its [[lot]] removes it"
            notes = view.notes.screening if view.cycle else view.notes.warnings
            words = f"gel times ± 30 % from lot to lot{lot}"
            notes += [] if words in notes else [words]


def _unread(view: LogView) -> None:
    """Readings missing so long that the clock runs on, or that tell of no gel, or of no pressure at gel."""
    if words := view.read.missing or view.read.ended:
        view.objections.add(words)
        return
    reading, (used, _, _) = view.pressing.reading, furthest(view)
    if reading is not None and (used >= 1.0).any():
        gel = float(np.interp(1.0, used, view.seconds))
        if not bool(reading.known(np.array([gel]))[0]):
            view.objections.add("the pressure is not known at gel: readings are missing there")


def _swapped(view: LogView, end: int) -> None:
    """A laminate hotter than a platen that heats; where that is not read, than the line between readings."""
    until = slice(0, end + 1)
    for platen in view.file.reading("platen") if view.thermometers.own else ():
        there = np.flatnonzero(np.isfinite(platen.values))
        if not there.size:
            continue
        warm = np.interp(view.seconds, view.seconds[there], platen.values[there])
        rising = np.gradient(warm, view.seconds) > 0.0 if len(warm) > 2 else np.zeros(len(warm), bool)
        unread = np.isnan(platen.values)
        for sensor in view.sensors:
            compared = (rising | unread) & sensor.known.known(view.seconds)
            compared[: there[0]] = compared[there[-1] + 1 :] = False
            over = np.flatnonzero(((sensor.temperature - warm > sensor.u + SWAPPED) & compared)[until])
            if not over.size:
                continue
            warning = f"{sensor.name} is hotter than {platen.name} while it heats: swapped, or exotherm"
            reason = "laminate above platen: swapped, or exotherm"
            if unread[over].all():
                at = f"{view.seconds[over[0]] / 60.0:.0f} min"
                unseen = f"{sensor.name} may be hotter"
                warning = reason = f"{platen.name} is not read at {at}: {unseen}"
            view.notes.warnings.append(warning)
            if not view.log.accepted:
                view.objections.add(f'{reason}; if it is right, write accepted = "reason"')
            return


def _releases(view: View) -> None:
    for resin, releases in view.contents.releases:
        if releases != "nothing":
            cause = f"{resin} releases {releases}" if releases else f"[resin.{resin}] releases is not stated"
            reason = f"{cause}: no vapor margin, as that vapor pressure is not known"
            view.objections.add(reason, IN_TIME, VAPOR)
            view.notes.unknown["vapor_margin"] = reason


def _traced(view: LogView) -> None:
    """Instruments missing or past due: said; decisive where the part limits the process."""
    limited = any(rule.process for rule in view.part.limits.rules)
    day = view.case.batch.batch.molded
    reasons = []
    for channel in view.file.channels.values():
        name = channel.column.instrument
        due = view.case.batch.instrument[name].due if name is not None else None
        if name is None:
            reasons.append(f"no instrument is stated for {channel.name}")
        elif due is None:
            reasons.append(f"{name}: no due date of calibration")
        elif day is None:
            reasons.append(f"{name}: due date given, but not the day of molding")
        elif due < day:
            reasons.append(f"{name}: calibration was due on {due}")
    for reason in dict.fromkeys(reasons):
        (view.objections.add if limited else view.notes.warnings.append)(reason)
