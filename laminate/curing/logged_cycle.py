"""A zone of a logged batch: from its curves to the verdict, every unknown resolved to the safe side."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing import rules
from laminate.curing.answers import Figures, NotComputed, Notes, ZoneCycle
from laminate.curing.charges import UNKNOWN_START, contents_of
from laminate.curing.core_log import core_pressing
from laminate.curing.draws import Columns, generator
from laminate.curing.events import gel
from laminate.curing.fiber_bed_load import DRAWS as CORES
from laminate.curing.missing_readings import log_readings
from laminate.curing.pressing import known, pressing_along
from laminate.curing.scenario import (
    Drawn,
    Gels,
    Outcome,
    Outcomes,
    draw,
    gels,
    outcome,
    outcomes_of,
    vapor_at_gel,
)
from laminate.curing.suspect_sensors import check_without_suspects, suspect_sensors
from laminate.curing.thermometers import thermometers_of
from laminate.curing.verdict import GLASSY, SCREENING, clock, conclude, nothing
from laminate.curing.view import LogView
from laminate.curing.was_read import reject_interpolation, was_read
from laminate.files.cycle_keys import TEMPERATURES
from laminate.press import stack

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.cycle_keys import Log
    from laminate.files.log_file import LogFile

PART_WAY = np.linspace(0.0, 1.0, 10)[1:-1]
"""Shares of the time from the soonest gel to the latest at which it is held too, where readings are apart."""


def of_zone(
    case: Case, log: Log, file: LogFile, gone: list[str], zone: str,
    *, draws: int, seed: int, usual: bool = False,
) -> list[ZoneCycle]:  # fmt: skip
    """The answer for one zone of a log, alone in a list.

    file: the log, cleaned; gone: its sensors that are lost; usual: as of `Columns`, for the core.
    """
    notes = Notes(screening=[SCREENING, GLASSY])
    other = _other_day(case, file)
    notes.warnings.extend([other] if other else [])
    thermometers = thermometers_of(file, gone, case.batch.instrument)
    contents = contents_of(case.part, zone, case.batch.lot)
    pressing = pressing_along(file, case.part, zone)
    humidity = contents.humidities[0].value if contents.humidities else None
    blank = ZoneCycle(
        zone, mended=[*file.mended], left_out=[*file.left_out], day=file.day if other else None,
        columns=[(channel.name, channel.reads) for channel in file.channels.values()],
        humidity=1.0 if humidity is None else humidity, humidity_stated=humidity is not None,
    )  # fmt: skip
    if thermometers is None:
        notes.not_measured.extend(pressing.not_measured)
        return [nothing(blank, notes, "no temperature of the zone is logged")]
    if pressing.rubber and pressing.reading is None:
        columns = Columns(generator(seed), CORES, usual=usual)
        try:
            core_pressing(pressing, case, file, zone, thermometers, columns)
        except NotComputed as why:
            pressing.why.append(f"the core's pressure is not known: {why}")
    notes.not_measured.extend(pressing.not_measured)
    since = log.charge_heated_since.value if log.charge_heated_since is not None else 0.0
    view = LogView(
        case.part, zone, file.seconds, _thickness(case, zone), contents, pressing, thermometers, humidity,
        notes=notes, clock_start=max(since, 0.0), warm_before=max(-since, 0.0),
        case=case, log=log, file=file,
    )  # fmt: skip
    blank = replace(blank, readings=log_readings(view))
    try:
        contents.check_gel_times(case.part)
    except NotComputed as why:
        return [nothing(blank, notes, f"{why}, or of the lot")]
    return [_answered(blank, view, draws, seed)]


def _other_day(case: Case, file: LogFile) -> str:
    """That a log begins more than a day from when the batch was molded, '' where it does not."""
    molded = case.batch.batch.molded
    if molded is None or file.day is None or abs((file.day - molded).days) <= 1:
        return ""
    return f"the log begins on {file.day}, but the batch was molded on {molded}: it may be of another batch"


def _answered(blank: ZoneCycle, view: LogView, draws: int, seed: int) -> ZoneCycle:
    reject_interpolation(view)
    view.thermometers.suspects = suspect_sensors(view)
    view.read = was_read(view)
    drawn = draw(view, Columns(generator(seed), draws))
    outcomes = _scenarios(view, drawn)
    rules.apply(view, outcomes.worst.first)
    gelled = Figures(gel_clock=clock(view), events=gel(view, outcomes.nominal), readings=blank.readings)
    check_without_suspects(view, outcomes)
    inputs, cores = drawn.columns.inputs, view.pressing.cores
    of_cores = cores.columns if cores is not None else None
    if of_cores is not None:  # each of them stands for many draws
        inputs = {**{name: np.resize(values, draws) for name, values in of_cores.inputs.items()}, **inputs}
    return conclude(blank, view, outcomes, gelled, _temperatures(view), inputs, of_cores)


def _temperatures(view: LogView) -> dict[str, np.ndarray]:
    """What is drawn: every thermocouple that was not left out, and the mean of the core as computed."""
    temperatures = {}
    for channel in view.file.reading(*TEMPERATURES):
        trace = known(view.file, channel.values)
        if trace is not None:
            temperatures[f"{channel.reads}: {channel.name}"] = trace.at(view.seconds)
    cores = view.pressing.cores
    if cores is not None:
        for name, mean in cores.means.items():
            temperatures[f"core {name}, mean, computed"] = np.interp(view.seconds, cores.seconds, mean)
    return temperatures


def _scenarios(view: LogView, drawn: Drawn) -> Outcomes:
    """Everything unknown toward the soonest gel, toward the latest, and as it is best known."""
    thermometers, sensors = view.thermometers, view.sensors
    plain = [((view.seconds, sensor.temperature), sensor) for sensor in sensors]
    cold = [(sensor.known.cold_between(*sensor.coldest(view.seconds)), sensor) for sensor in sensors]
    worst = thermometers.worst(view.seconds)
    apart = any(np.any(sensor.known.apart) for sensor in sensors)

    def hold(gel: Gels, least: bool) -> Outcome:
        vapor = vapor_at_gel(view, gel, drawn, worst if least and (thermometers.suspects or apart) else plain)
        return outcome(view, gel, vapor, drawn.needed, drawn.gauge, least=least)

    lacks = apart or any(sensor.known.rows_missing().any() for sensor in sensors)
    soonest = gels(view, worst, drawn, early=True, unknown_start=UNKNOWN_START)
    latest = gels(view, cold, drawn, early=False, unknown_start=0.0)
    between = [gels(view, plain, drawn, early=False, unknown_start=0.0)] if lacks else []
    for share in PART_WAY if apart else ():
        ends = zip(soonest, latest, strict=True)
        first, last = ((1.0 - share) * soon + share * late for soon, late in ends)
        between.append((first, last))
    nominal = gels(view, plain, drawn, early=True, unknown_start=0.0)
    return outcomes_of(soonest, latest, nominal, hold, *between)


def _thickness(case: Case, zone: str) -> float | None:
    """Thickness of a zone's laminate: the gap where there is one, else void-free before bleed [m]."""
    place = case.part.zone[zone]
    if place.gap is not None:
        return float(place.gap.value)
    fixed = stack.fixed_plies(case.part, place)
    plies = case.batch.batch.plies.get(zone)
    if plies is None and place.fill_with is not None:
        return None
    made = case.ingredients()
    numbers = {name: value.value for name, value in made.values.items()}
    total = stack.sums(case.part, zone, stack.counts(place, (plies or fixed) - fixed), made, numbers)
    return float(total.fiber_thickness + total.resin_thickness + total.layers.that_stay)
