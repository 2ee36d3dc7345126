"""The press cycle: from the press's log, or a plan, to whether it pressed before the resin gelled."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING

from laminate.curing.answers import Cycles, Notes, ZoneCycle
from laminate.curing.draws import DRAWS, SEED
from laminate.curing.logged_cycle import of_zone
from laminate.curing.planned_cycle import DRAWS as PLAN_DRAWS
from laminate.curing.planned_cycle import planned
from laminate.curing.sensors import below_zero, clean
from laminate.curing.verdict import nothing
from laminate.curing.view import room_of
from laminate.curing.without_spread import checked
from laminate.files.batch import Case, read_batch
from laminate.files.log_file import read_log
from laminate.files.named_file import NamedFile
from laminate.files.part import read_part
from laminate.files.toml import load
from laminate.values.canonical import sha256
from laminate.values.problems import Problem, Refused, missing_key, refuse_all, unknown_name, wrong_file
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.cycle_keys import Log
    from laminate.files.part import Part
    from laminate.press.names import Counts

__all__ = ["Cycles", "ZoneCycle", "cycle", "logged_cycles"]


HUMIDITIES = tuple(SIValue(level, text=f"{100.0 * level:.0f} %") for level in (0.3, 0.5, 0.7))
"""A planned cycle is judged at these stored humidities too."""


def cycle(
    path: Path | str,
    name: str | None = None,
    *,
    stored_humidity: SIValue | None = None,
    plies: Counts | None = None,
    draws: int | None = None,
    seed: int = SEED,
) -> Cycles:
    """Whether the press pressed before the resin gelled, and above the vapor of its water.

    path: a batch file, which answers its logs, or a part file, which answers its planned cycles; name: the
    file as the person called it; stored_humidity, plies: of a plan; draws: of what is uncertain, 10 000 for
    a log and 400 for a plan where None. Times in s, temperatures in K, pressures in Pa, absolute unless they
    say applied. Raises `Refused` with every finding of the files. Source of the method: see
    `laminate.formulas.gel_clock` and `laminate.formulas.conduction`.
    """
    file = Path(path)
    called = name or str(path)
    raw, _ = load(NamedFile(file, called))
    if "batch" in raw:
        _no_plan(called, stored_humidity, plies)
        return _of_batch(file, called, draws or DRAWS, seed)
    if "part" in raw:
        part, _ = read_part(NamedFile(file, called))
        return planned_cycles(
            part, called, stored_humidity=stored_humidity, plies=plies, draws=draws, seed=seed
        )
    expected = "a batch file with [[log]], or a part file with [cycle.NAME]"
    raise Refused(wrong_file(called, "a file without a table [batch] or [part]", expected))


def _no_plan(called: str, stored_humidity: SIValue | None, plies: Counts | None) -> None:
    given = {"stored_humidity": stored_humidity, "plies": plies}
    problems = [
        Problem("unused-option", called, key, "given with a batch", f"{key} in the batch file, with its lot")
        for key, value in given.items()
        if value
    ]
    refuse_all(problems)


def planned_cycles(
    part: Part,
    called: str,
    *,
    stored_humidity: SIValue | None = None,
    plies: Counts | None = None,
    draws: int | None = None,
    seed: int = SEED,
) -> Cycles:
    """Each planned cycle in each zone, at the humidity as given and at three others; as `cycle`."""
    counts = plies or {}
    if not part.cycle:
        expected = 'a table [cycle.NAME] with platen = [["0 min", "23 degC"], ["34 min", "125 degC"]]'
        raise Refused(missing_key(called, "cycle", "cycle", expected))
    problems = [
        unknown_name(called, f"plies {zone}", zone, "a zone of the part file", part.zone)
        for zone in counts
        if zone not in part.zone
    ]
    refuse_all(problems)
    levels = [stored_humidity, *HUMIDITIES]
    count = draws or PLAN_DRAWS
    zones = []
    for cycle_name, zone in product(part.cycle, part.zone):
        zones += checked(partial(planned, part, cycle_name, zone, counts, levels, draws=count, seed=seed))
    head = part.part
    return Cycles(called, f"{head.number} issue {head.issue}", zones, seed, count)


def _of_batch(file: Path, called: str, draws: int, seed: int) -> Cycles:
    case = read_batch(file, called)
    if not case.batch.log:
        raise Refused(missing_key(called, "log", "log", "a table [[log]] with file, zones and [log.columns]"))
    head, zones = case.batch.batch, logged_cycles(case, draws=draws, seed=seed)
    title = f"batch {head.id} of {head.part_number} issue {head.part_issue}"
    return Cycles(called, title, list(zones.values()), seed, draws)


def logged_cycles(case: Case, *, draws: int = DRAWS, seed: int = SEED) -> dict[str, ZoneCycle]:
    """The answer of each zone, by zone: `cannot say` where no log tells of it. Raises `Refused`."""
    cycles: dict[str, ZoneCycle] = {}
    for log in case.batch.log:
        cycles |= _of_log(case, log, draws, seed)
    for zone in case.part.zone:
        if zone not in cycles:
            why = "no [[log]] tells of this zone: its zones do not name it"
            cycles[zone] = nothing(ZoneCycle(zone), Notes(), why)
    return cycles


def _of_log(case: Case, log: Log, draws: int, seed: int) -> dict[str, ZoneCycle]:
    called = case.file.relative(log.file).name
    data = case.files[called]
    file = read_log(called, data, log)
    gone = clean(file, room_of(case.part))
    spreads = {}
    for channel in file.channels.values():
        gauge = case.batch.instrument.get(channel.column.instrument or "")
        if gauge is not None and gauge.calibration is not None and not gauge.calibration.relative:
            spreads[channel.name] = gauge.calibration.u
    warnings = below_zero(file, spreads)
    cycles = {}
    for zone in log.zones:
        (answer,) = checked(partial(of_zone, case, log, file, gone, zone, draws=draws, seed=seed))
        warned = [*warnings, *answer.warnings]
        cycles[zone] = replace(answer, log=sha256(data), log_file=log.file, warnings=warned)
    return cycles
