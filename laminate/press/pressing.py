"""What an expanding core does: when it touches, how hard it presses, what the clamp bears, its size."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.press import stack
from laminate.press.case import ROOM, ZoneCase, core_name, zone_case
from laminate.press.clamp import clamp_limit
from laminate.press.core_results import CoreAnswer, CoreInZone
from laminate.press.core_seat import HOTTEST, Seat, Stacks, canonical, make_seat, with_others
from laminate.press.core_zone import core_in_zone
from laminate.press.counts import FITS
from laminate.press.filling import check_gap, fill_row, fill_zone
from laminate.press.inverse import Wanted
from laminate.press.known import SEED, estimates
from laminate.press.steam import steam
from laminate.values.problems import Problem, Refused
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.files.part import Part

DRAWS = 20_000


@dataclass(frozen=True, slots=True)
class Cores:
    """The answer for every core of a part."""

    part: Part
    cores: tuple[CoreAnswer, ...]
    draws: int
    seed: int

    @property
    def good(self) -> bool:
        """Whether no nominal pressure is above the clamp and no core past its limit of moldings."""
        return not any(core.opens or core.worn for core in self.cores)


def _seats(
    part: Part,
    core: str,
    file: str,
    *,
    made: stack.Ingredients | None,
    plies: Mapping[str, int],
    stacks: Stacks | None,
    seed: int,
) -> list[tuple[Seat, int, bool]]:
    """The core in each of its zones, with the plies there and whether they fit."""
    seats = []
    for name in (name for name, zone in part.zone.items() if zone.core == core):
        case = zone_case(part, name, file, made)
        check_gap(case, file, layers=stacks is None)
        if case.known.values[core_name(core, "expansion")].value <= 0.0:
            found, place = "an expansion of 0 or less", f"core.{core}.expansion"
            raise Refused(Problem("core-does-not-grow", file, place, found, "a core that grows as it heats"))
        if stacks is not None:
            seats.append((make_seat(case, 0, stacks), 0, True))
            continue
        filled = fill_zone(case, wanted=Wanted(plies=plies.get(name)), draws=2000, seed=seed, inverse=False)
        row = fill_row(filled, plies.get(name))
        seats.append((make_seat(case, row.fill_plies, None), row.plies, row.verdict == FITS))
    if not seats:
        place = f"core.{core}"
        raise Refused(
            Problem("core-without-zone", file, place, "no zone names this core", "core = in a zone")
        )
    cases: list[tuple[ZoneCase, int]] = [(seat.case, seat.fill_plies) for seat, _, _ in seats]
    return [
        (with_others(seat, tuple(pair for pair in cases if pair[0] is not seat.case)), n, fits)
        for seat, n, fits in seats
    ]


def _check_volumes(part: Part, core: str, file: str) -> list[Problem]:
    if part.core[core].volume is None or part.core[core].laminate_area is not None:
        return []
    bare = [name for name, zone in part.zone.items() if zone.core == core and zone.area is None]
    expected, hint = "the area of the laminate, as the core has volumes", "or laminate_area of the core"
    return [Problem("missing-key", file, f"zone.{name}", "no key 'area'", expected, hint) for name in bare]


def _answer(
    part: Part,
    core: str,
    seats: Sequence[tuple[Seat, int, bool]],
    *,
    gap_wanted: float | None,
    moldings: int | None,
    humidity: Value | None,
    draws: int,
    seed: int,
    curve: bool,
) -> CoreAnswer:
    limit, why, left_out = clamp_limit(part)
    clamp = None if limit is None else limit.value
    zones = [
        core_in_zone(
            seat,
            plies=plies,
            plies_fit=fits,
            clamp=clamp,
            gap_wanted=gap_wanted,
            draws=draws,
            seed=seed,
            curve=curve,
        )
        for seat, plies, fits in seats
    ]
    zones.sort(key=_presses, reverse=True)
    first = seats[0][0]
    x, table = first.known.numbers(), part.core[core]
    sizes = estimates(
        lambda y: {
            "width": first.of("width", y),
            "mean": first.core_temperature("at_gel", y),
            "growth": first.free_growth(y),
            "movement": first.movement(y),
        },
        first.known,
    )
    times = [table.heating.time.value * share / 20.0 for share in range(31)] if table.heating else []
    cycle, found = part.temperature, zones[0].pressure
    return CoreAnswer(
        core=core,
        held=str(table.held),
        material=canonical(table.material),
        rubber=first.rubber,
        by_volume=first.by_volume,
        width=sizes["width"],
        room_temperature=x[ROOM],
        mean_temperature=sizes["mean"],
        highest_temperature=x[HOTTEST],
        heated=table.heating is not None,
        warming=tuple(zip(times, first.warming(times, x), strict=True)) if times else (),
        free_growth=sizes["growth"],
        movement=sizes["movement"],
        expansion=first.known.values[core_name(core, "expansion")],
        bulk_modulus=table.bulk_modulus,
        closes_cold=part.tool is not None and part.tool.closes == "cold",
        cast=table.cast is not None,
        zones=tuple(zones),
        clamp_limit=limit,
        clamp_reason=why,
        clamp_left_out=left_out,
        moldings=moldings,
        limit_moldings=table.limit_moldings,
        steam=(
            steam(
                temperature=cycle.cure.value,
                humidity=humidity,
                resin=min(found["nominal at_gel"].value, found["nominal at_maximum"].value),
                lowest=min((found[s].value for s in found if s.startswith("lowest ")), default=None),
            )
            if found and "nominal at_gel" in found and cycle and cycle.cure
            else None
        ),
    )


def _presses(zone: CoreInZone) -> tuple[float, float]:
    found = zone.pressure or {}
    strongest = found.get("nominal at_maximum") or found.get("locked_maximum at_maximum")
    return (strongest.value if strongest else -1.0, -(zone.contact.value if zone.contact else math.inf))


def core(
    part: Part,
    file: str = "",
    *,
    cores: Sequence[str] | None = None,
    made: stack.Ingredients | None = None,
    plies: Mapping[str, int] | None = None,
    stacks: Stacks | None = None,
    gap_wanted: float | None = None,
    moldings: Mapping[str, int] | None = None,
    humidity: Value | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    curve: bool = False,
) -> Cores:
    """Growth, contact, pressure and sizes of each expanding core.

    part: what engineering fixes; file: as the person called it; cores: their names, None for all; made:
    material values of a batch in place of the nominal ones; plies: all fiber plies by zone, else those that
    `fill` would use; stacks: thickness of the laminate where no plies are known; gap_wanted: hot gap to size
    the core for [m]; moldings: uses so far, by core; humidity: relative, at which the prepreg was stored;
    draws, seed: of the uncertainties; curve: also pressure against temperature. Raises `Refused`.
    """
    names = list(cores if cores is not None else part.core)
    problems: list[Problem] = []
    if not names:
        problems.append(Problem("no-core", file, "core", "no core", "a table [core.NAME]"))
    ready = {}
    for name in names:
        try:
            problems += _check_volumes(part, name, file)
            ready[name] = _seats(part, name, file, made=made, plies=plies or {}, stacks=stacks, seed=seed)
        except Refused as refusal:
            problems += [p for p in refusal.problems if p not in problems]
    if problems:
        raise Refused(problems)
    answers = tuple(
        _answer(
            part, name, seats, gap_wanted=gap_wanted, moldings=(moldings or {}).get(name), humidity=humidity,
            draws=draws, seed=seed, curve=curve,
        )
        for name, seats in ready.items()
    )  # fmt: skip
    return Cores(part, answers, draws, seed)
