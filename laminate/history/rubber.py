"""A zone that rubber presses, after molding: the bleed that its thickness tells of, and what would centre it.

Rubber leaves no gap to change. Plies, resin, fiber and bleed change the laminate; the core sets the pressure.
SI units; pressures are above ambient.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.history.identities import Identities
from laminate.history.loop import Causes, achieved
from laminate.press.counts import rules
from laminate.press.inputs import FORCE
from laminate.press.press import Press, press_of
from laminate.press.windows import bleed_at_no_pressure, volume_for
from laminate.values.input_key import Key
from laminate.values.problems import Problem, Refused

if TYPE_CHECKING:
    from laminate.coupons.measured import ZoneResult
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case

STEPS = 60
BEYOND = "thinner than this core can press it: check core size and temperature, bulk modulus, coupons"


@dataclass(frozen=True, slots=True)
class At:
    """The zone in one state: thickness [m], fiber volume, pressures at gel and worst [Pa] where known."""

    thickness: float
    fiber_volume: float
    gel: float | None
    worst: float | None


@dataclass(frozen=True, slots=True)
class Proposal:
    """One change alone [SI]: from what to what, the zone before and after, why it is refused."""

    what: str
    now: float
    then: float
    before: At
    after: At
    refused: str
    core_width: float | None


@dataclass(frozen=True, slots=True)
class RubberCorrection:
    """The answer for one zone under rubber.

    bleed: what the achieved thickness tells of, u: its standard uncertainty; none_left_at: bleed at which no
    pressure is left; aim: middle of the limits of thickness [m], None where there are none.
    """

    zone: str
    batch: str
    plies: int
    predicted: At | None
    achieved: Causes
    fiber_volume: Causes | None
    bleed: float
    u: float
    none_left_at: float | None
    now: At
    aim: float | None
    beyond: str
    proposals: tuple[Proposal, ...]
    not_measured: tuple[str, ...]


def rubber_zone(case: Case, measured: Measurement, zone: ZoneResult) -> RubberCorrection | None:
    """The answer for a zone that rubber presses, None where none does. Raises `Refused` without plies."""
    name, part = zone.zone or "", case.part
    if not (part.zone[name].core or part.zone[name].room):
        return None
    ingredients = case.ingredients()
    press = press_of(part, case.name, made=ingredients)
    room = press.room_of(name)
    if room is None or not room.rubber:
        return None
    plies = case.batch.batch.plies.get(name)
    if plies is None:
        found, expected = "no count", "the plies laid up in this zone"
        raise Refused(Problem("missing-key", case.name, f"batch.plies.{name}", found, expected))
    if "thickness" not in zone.averages:
        found, expected = "no thickness", "the thickness of coupons, which tells how much has bled"
        raise Refused(Problem("nothing-to-compare", case.name, f"zone.{name}", found, expected))
    counts = {z: n for z, n in case.batch.batch.plies.items() if z in part.zone}
    identities = Identities(case, measured, name, ingredients)
    mean = achieved(zone, "thickness", identities)
    volume = achieved(zone, "fiber_volume", identities) if "fiber_volume" in zone.averages else None
    state = press.state(counts)
    layup = state.layups[name]
    bleed = float(layup.bleed_of(mean.value))
    half = abs(float(layup.bleed_of(mean.value + mean.u)) - bleed)
    none_left = bleed_at_no_pressure(state, room.name) if state.pressure(room.name) is not None else None
    ask = _Asked(press, name, room.name, counts, bleed)
    now = ask.at()
    aim = _middle(press, name)
    beyond = BEYOND if none_left is not None and bleed - 2.0 * half > none_left else ""
    stated = ask.at(bleed=None) if press.stated(name) is not None else None
    return RubberCorrection(
        zone=name,
        batch=case.batch.batch.id,
        plies=plies,
        predicted=stated,
        achieved=mean,
        fiber_volume=volume,
        bleed=bleed,
        u=half,
        none_left_at=none_left,
        now=now,
        aim=aim,
        beyond=beyond,
        proposals=() if beyond or aim is None else tuple(_proposals(ask, now, aim, plies)),
        not_measured=tuple(press.known.not_measured()),
    )


def _middle(press: Press, zone: str) -> float | None:
    """The middle of the limits of thickness: of the average, else of the individuals."""
    found = {r.scope: r for r in rules(press.cases[zone]) if r.attribute == "thickness"}
    rule = found.get("average") or found.get("individual")
    if rule is None or not (rule.low > -1e9 and rule.high < 1e9):
        return None
    return 0.5 * (rule.low + rule.high)


@dataclass(frozen=True, slots=True)
class _Asked:
    """A zone of the press with its counts and the bleed that was achieved."""

    press: Press
    zone: str
    room: str
    counts: Mapping[str, int]
    bleed: float

    def state(
        self, plies: int | None = None, bleed: Any = "achieved", x: Mapping[Any, Any] | None = None
    ) -> Any:
        counts = self.counts if plies is None else {**self.counts, self.zone: plies}
        used = self.bleed if bleed == "achieved" else bleed
        return self.press.state(counts, {self.zone: None if used is None else max(used, 0.0)}, x=x)

    def at(self, **change: Any) -> At:
        """The zone after a change."""
        state = self.state(**change)
        part = state.attributes(self.zone, ("thickness", "fiber_volume"))
        gel, worst = state.pressure(self.room), state.worst(self.room)
        return At(
            float(part["thickness"]),
            float(part["fiber_volume"]),
            None if gel is None else float(gel),
            None if worst is None else float(worst),
        )

    def refused(self, **change: Any) -> str:
        """Why a change must not be made: the tool opens, or nothing presses."""
        state = self.state(**change)
        if state.pressure(self.room) is None:
            return "the pressure is not known"
        if FORCE in state.x and not bool(state.stays_shut):
            return "opens the tool"
        if not bool(state.within_pressure_limit):
            return "above the pressure limit of the tool"
        return "" if bool(state.pressed(self.zone)) else "not pressed"

    def core_width(self, pressure: float | None, **change: Any) -> float | None:
        """Width of the core that keeps the pressure at gel after a change, None without widths."""
        room = self.press.room(self.room)
        if pressure is None or pressure <= 0.0 or len(room.cores) != 1:
            return None
        state = self.state(**change)
        width = room.core_width(room.cores[0], volume_for(state, room.cores[0].name, pressure), state.x)
        return None if width is None else float(width)


def _proposals(ask: _Asked, now: At, aim: float, plies: int) -> list[Proposal]:
    """Each change alone that brings the thickness to the middle, or by one ply nearer to it."""
    found = []

    def add(what: str, before: float, after: float, change: dict[str, Any], why: str = "") -> None:
        then = ask.at(**change)
        said = why or ask.refused(**change)
        found.append(Proposal(what, before, after, now, then, said, ask.core_width(now.gel, **change)))

    step = 1 if now.thickness < aim else -1
    if ask.press.part.zone[ask.zone].fill_with and plies + step >= 1:
        nearer = abs(ask.at(plies=plies + step).thickness - aim) < abs(now.thickness - aim)
        add(
            "ply_count",
            plies,
            plies + step,
            {"plies": plies + step},
            "" if nearer else "no nearer to the middle",
        )
    layup = ask.state().layups[ask.zone]
    bleed, end = float(layup.bleed_of(aim)), float(layup.end)
    if bleed <= end:
        less = "below no bleed: there is not so much resin" if bleed < 0.0 else ""
        add("bleed", max(ask.bleed, 0.0), bleed, {"bleed": max(bleed, 0.0)}, less)
    x = ask.press.known.numbers()
    for name in ask.press.cases[ask.zone].counted(1):
        for quantity in ("resin_content", "areal_weight"):
            key = Key("prepreg", name, quantity)
            if key in x:
                value = _solve(_off(ask, x, key, aim), x[key])
                if value is not None:
                    add(f"{name} {quantity}", x[key], value, {"x": {**x, key: value}})
    return found


def _off(ask: _Asked, x: Mapping[Any, Any], key: Key, aim: float) -> Callable[[float], float]:
    """How far the thickness is off for a value of one input [m]."""
    return lambda value: ask.at(x={**x, key: value}).thickness - aim


def _solve(off: Callable[[float], float], start: float) -> float | None:
    """The value within a quarter of the start that brings the thickness to the middle; None without."""
    low, high = 0.75 * start, 1.25 * start
    if off(low) * off(high) > 0.0:
        return None
    rising = off(high) > 0.0
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if (off(middle) > 0.0) == rising else (middle, high)
    return 0.5 * (low + high)
