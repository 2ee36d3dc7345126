"""The press cycle: from the press's log, or a plan, to whether it pressed before the resin gelled."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from laminate.curing.answers import Cycles, ZoneCycle
from laminate.curing.draws import DRAWS, SEED
from laminate.curing.logged import of_zone
from laminate.curing.sensors import below_zero, clean
from laminate.curing.view import ROOM
from laminate.files.batch import Case, beside, read_batch
from laminate.files.log_file import read_log
from laminate.files.toml import load
from laminate.values.canonical import sha256
from laminate.values.problems import Problem, Refused

if TYPE_CHECKING:
    from laminate.files.cycle_keys import Log

__all__ = ["Cycles", "ZoneCycle", "cycle", "logged_cycles"]


def cycle(path: Path | str, name: str | None = None, *, draws: int = DRAWS, seed: int = SEED) -> Cycles:
    """Whether the press pressed before the resin gelled, and above the vapor of its water.

    path: a batch file, which answers its logs; name: the file as the person called it; draws: of everything
    uncertain. Times in s, temperatures in K, pressures in Pa, absolute unless they say applied. Raises
    `Refused` with every finding of the files. Source of the method: see `laminate.formulas.gel_clock`.
    """
    file = Path(path)
    called = name or str(path)
    raw, _ = load(file, called)
    if "batch" not in raw:
        raise Refused(
            Problem("wrong-file", called, "", "a file without a table [batch]", "a batch file with [[log]]")
        )
    case = read_batch(file, called)
    if not case.batch.log:
        expected = "a table [[log]] with file, zones and [log.columns]"
        raise Refused(Problem("missing-key", called, "log", "a batch without a log", expected))
    zones = list(logged_cycles(case, draws=draws, seed=seed).values())
    head = case.batch.batch
    return Cycles(
        called, f"batch {head.id} of {head.part_number} issue {head.part_issue}", zones, seed, draws
    )


def logged_cycles(case: Case, *, draws: int = DRAWS, seed: int = SEED) -> dict[str, ZoneCycle]:
    """The answer of each zone that a log of the batch tells of, by zone. Raises `Refused`."""
    found: dict[str, ZoneCycle] = {}
    for log in case.batch.log:
        found |= _of_log(case, log, draws, seed)
    return found


def _of_log(case: Case, log: Log, draws: int, seed: int) -> dict[str, ZoneCycle]:
    called = beside(case.name, log.file)
    data = case.files[called]
    file = read_log(called, data, log)
    temperatures = case.part.temperature
    gone = clean(file, temperatures.room.value if temperatures is not None else ROOM)
    spreads = {
        one.name: spread.u
        for one in file.channels.values()
        if one.column.instrument is not None
        and (spread := case.batch.instrument[one.column.instrument].calibration) is not None
        and not spread.relative
    }
    warnings = below_zero(file, spreads)
    found = {}
    for zone in log.zones:
        answer = of_zone(case, log, file, gone, zone, thickness(case, zone), draws=draws, seed=seed)
        answer.log, answer.log_file = sha256(data), log.file
        answer.warnings = [*warnings, *answer.warnings]
        found[zone] = answer
    return found


def thickness(case: Case, zone: str) -> float | None:
    """Thickness of a zone's laminate: the gap where there is one, else void-free before bleed [m]."""
    from laminate.press import stack

    place = case.part.zone[zone]
    if place.gap is not None:
        return float(place.gap.value)
    fixed = stack.fixed_plies(case.part, place)
    plies = case.batch.batch.plies.get(zone)
    if plies is None and place.fill_with is not None:
        return None
    made = case.ingredients()
    numbers = {name: value.value for name, value in made.values.items()}
    total = stack.sums(case.part, place, stack.counts(place, (plies or fixed) - fixed), made, numbers)
    return float(total.fiber_thickness + total.resin_thickness + total.layers_that_stay)
