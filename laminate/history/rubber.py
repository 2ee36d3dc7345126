"""A zone under rubber or a bladder, after molding: the bleed that its thickness tells, what would center it.

Neither leaves a gap to change. Plies, resin, fiber and bleed change the laminate; core or bladder presses.
SI units; pressures are above ambient.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from laminate.formulas.roots import bracketed_root
from laminate.history.achieved import Causes, total
from laminate.history.bleed_from_thickness import RubberRun
from laminate.history.centring import AIMED, Aim, aim_of
from laminate.history.dependence import Dependence, hold_back
from laminate.history.pooled import Coverage, Covered, Difference, differences_of, pool
from laminate.press import cold
from laminate.press.names import FORCE, VOID
from laminate.press.press import press_of
from laminate.press.pressed_count import PressedCount
from laminate.press.shared_inputs import plain
from laminate.press.stack import ingredients
from laminate.press.state import State
from laminate.press.unstated import tool_not_judged
from laminate.press.windows import bleed_at_no_pressure, volume_for, volume_window
from laminate.values.input_key import Key
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.press.rooms import CoreShape, Room

BEYOND = "thinner than this core can press it: check core size and temperature, bulk modulus, coupons"
THICKER = (
    "thicker than with no bleed at all: check voids, whether the tool stayed shut, prepreg values, coupons"
)


Sizes = tuple[float, ...] | None
"""One size of a core in several states [m]; None where it has no such size."""


@dataclass(frozen=True, slots=True)
class At:
    """The zone in one state: thickness [m], fiber volume, pressures at gel and worst [Pa] where known.

    over: the same at the least and at the most bleed that the ± of the achieved bleed leaves open.
    """

    thickness: float
    fiber_volume: float
    gel: float | None
    worst: float | None
    over: tuple[At, At] | None = None


@dataclass(frozen=True, slots=True)
class CoreSize:
    """A core now, and as it keeps the pressure at gel after a change [m^3, m]; None: no such size."""

    core: str
    volume: tuple[float, float]
    width: Sizes
    dummy: Sizes


@dataclass(frozen=True, slots=True)
class Proposal:
    """One change alone [SI]: from what to what, the zone before and after, why it is refused."""

    what: str
    now: float
    then: float
    before: At
    after: At
    refused: str
    core: CoreSize | None


@dataclass(frozen=True, slots=True)
class CoreAlone:
    """Core sizes with which the zone as it came out is pressed and the tool holds; its thickness stays.

    volume, width: from where it presses as needed at the most bleed to where the tool holds at the least
    [m^3, m]; least, most: the zone at both, as it came out.
    """

    core: str
    now: float
    volume: tuple[float, float]
    width: Sizes
    least: At
    most: At


@dataclass(frozen=True, slots=True)
class RubberCorrection:
    """The answer for one zone under rubber or a bladder, from the latest batch.

    run: what the thickness tells; earlier: the same of the batches before; none_left_at: bleed at which no
    pressure is left; predicted: at the stated bleed; now: at the achieved one, nominal: of the part file's
    material; aims: middles of the limits and what a batch like this one has of it, the first is what the
    proposals bring about; check: why there is no proposal; differences: from what the stated bleed gives;
    depends_on: what has to be cleared up before the answer stands.
    """

    zone: str
    batch: str
    plies: int
    run: RubberRun
    earlier: tuple[RubberRun, ...]
    none_left_at: float | None
    predicted: At | None
    now: At
    aims: tuple[tuple[Aim, Covered], ...]
    check: str
    proposals: tuple[Proposal, ...]
    core_alone: CoreAlone | None
    limit_given: bool
    nominal: bool
    not_measured: tuple[str, ...]
    differences: tuple[Difference, ...]
    depends_on: tuple[Dependence, ...] = ()

    @property
    def bleed(self) -> float:
        """The bleed that the thickness tells of."""
        return self.run.bleed.value

    @property
    def from_batches(self) -> tuple[str, ...]:
        """The batch that the answer is from."""
        return (self.batch,)

    @property
    def change(self) -> bool:
        """Whether what is aimed at lies off its middle by more than its uncertainty."""
        return any(abs(now.value - aim.middle) > now.expanded for aim, now in self.aims)

    @property
    def worth_changing(self) -> bool | None:
        """Whether a change is worth it; None where what is aimed at may lie outside its limits."""
        if hold_back(self.depends_on):
            return None
        sure = all(aim.holds(now.value, now.expanded) for aim, now in self.aims[:1])
        return True if self.change else False if sure else None

    @property
    def able(self) -> list[Proposal]:
        """The proposals that are not refused."""
        return [proposal for proposal in self.proposals if not proposal.refused]

    def advises_like(self, other: object) -> bool:
        """Whether another answer proposes the same, from a bleed within the ± of this one."""
        if not isinstance(other, RubberCorrection) or self.check != other.check:
            return False
        same = self.worth_changing == other.worth_changing
        same &= [proposal.what for proposal in self.able[:1]] == [p.what for p in other.able[:1]]
        return same and abs(self.bleed - other.bleed) <= self.run.bleed.expanded


def correct_rubber(runs: list[RubberRun], *, nominal: bool = False) -> RubberCorrection:
    """The answer for one zone from its batches, the last one last.

    nominal: propose with the material of the part file, not with that of the last batch.
    """
    run = runs[-1]
    part, name = run.case.part, run.zone
    void = None if run.void_content is None else SIValue(run.void_content)
    press_from = partial(press_of, part, run.case.name, void_content=void)
    as_made = press_from(made=run.case.ingredients())
    press = press_from(made=ingredients(part)) if nominal else as_made
    ask = _Achieved(PressedCount(press, name, run.counts), run.bleed.value, run.bleed.expanded)
    state, now = State(as_made.at(), run.counts, {name: max(ask.bleed, 0.0)}), ask.at()
    by_room = run.room and state.pressure(run.room) is not None
    none_left = bleed_at_no_pressure(state, run.room, name) if by_room else None
    coverage = Coverage(part.limits.confidence, part.limits.coverage_factor)
    too_thin = none_left is not None and ask.bleed > none_left
    check = THICKER if run.thicker else BEYOND if too_thin else ""
    averages = _next_like(run, coverage)
    case = press.cases[name]
    aims = [(aim, averages[a]) for a in reversed(AIMED) if (aim := aim_of(case, a)) is not None]
    wanted = not check and bool(aims)
    return RubberCorrection(
        zone=name,
        batch=run.batch,
        plies=run.counts[name],
        run=run,
        earlier=tuple(runs[:-1]),
        none_left_at=none_left,
        predicted=None if press.stated(name) is None else ask.at(bleed=None),
        now=now,
        aims=tuple(aims),
        check=check,
        proposals=tuple(_proposals(ask, now, aims[0][0])) if wanted else (),
        core_alone=None if check else _core_alone(ask, now),
        limit_given=part.tool is not None and part.tool.pressure_limit is not None,
        nominal=nominal,
        not_measured=tuple(press.inputs.not_measured()),
        differences=differences_of([(run.batch, run.compared) for run in runs], coverage),
    )


def _next_like(run: RubberRun, coverage: Coverage) -> dict[str, Covered]:
    """Thickness and fiber volume of a batch like this one: what one batch does not tell of it, as stated.

    The fibers stay, so thickness times fiber volume does.
    """
    thick: Causes = run.thickness
    volume: Causes = run.fiber_volume
    if stated := run.compared.get("thickness"):
        anew = pool([stated.difference], coverage).anew(stated.predicted.parts)
        thick = total([thick, anew])
        volume = total([volume, anew.times(-volume.value / thick.value)])
    return {"thickness": coverage.of(thick), "fiber_volume": coverage.of(volume)}


@dataclass(frozen=True, slots=True)
class _Achieved:
    """A zone of the press with its counts and the bleed that was achieved, with its ±."""

    of: PressedCount
    bleed: float
    half: float

    def state(
        self,
        plies: int | None = None,
        bleed: float | str | None = "achieved",
        x: Mapping[Any, Any] | None = None,
        *,
        shift: float = 0.0,
        volume: tuple[str, float] | None = None,
    ) -> State:
        """The press after a change; shift: of the bleed; volume: of one core [m^3]."""
        counts = self.of.plies if plies is None else {**self.of.plies, self.of.zone: plies}
        used = self.bleed if isinstance(bleed, str) else bleed
        conditions = self.of.press.at(x)
        if volume is not None:
            conditions = conditions.with_volume(*volume)
        return State(conditions, counts, {self.of.zone: None if used is None else max(used + shift, 0.0)})

    def at(self, **change: Any) -> At:
        """The zone after a change, and over the ± of the achieved bleed."""
        plain = self._one(**change)
        if change.get("bleed", "achieved") is None:  # stated, not achieved
            return plain
        low, high = (self._one(**change, shift=shift) for shift in (-self.half, self.half))
        return replace(plain, over=(low, high))

    def _one(self, **change: Any) -> At:
        state = self.state(**change)
        part, pressures = state.attributes(self.of.zone, AIMED), self.of.pressures(state)
        gel, worst = (plain(pressures.get(moment)) for moment in ("gel", "worst"))
        return At(float(part["thickness"]), float(part["fiber_volume"]), gel, worst)

    def refused(self, **change: Any) -> str:
        """Why a change must not be made, '' where nothing speaks against it.

        Force and pressure limit must hold at the least bleed that the ± leaves open too.
        """
        state = self.state(**change)
        if state.pressed_by(self.of.zone) is None:
            return "not judged: the pressure is not known"
        both = (state, self.state(**change, shift=-self.half))
        if FORCE in state.x and not all(bool(at_bleed.stays_shut) for at_bleed in both):
            return "opens the tool"
        if not all(bool(at_bleed.within_pressure_limit) for at_bleed in both):
            return "above the pressure limit of the tool"
        if not bool(state.pressed(self.of.zone)):
            return "not pressed"
        if self.of.room is not None and self.of.room.open_ends:
            return "not judged: the ends are open"
        return f"not judged: no {', '.join(map(str, state.left_out))}" if state.left_out else ""

    def core(self, pressure: float | None, **change: Any) -> CoreSize | None:
        """The core that keeps the pressure at gel after a change; None without pressure, or for several."""
        room = self.of.room
        if room is None or pressure is None or pressure <= 0.0 or len(room.cores) != 1:
            return None
        (core,), state = room.cores, self.state(**change)
        now = float(room.core_volume(core, state.x))
        # of all that is to bleed: a core that keeps the pressure does not let the bleed stop
        bleed = {zone: state.stated(zone) for zone in room.zones}
        then = float(volume_for(state, core.name, pressure, bleed=bleed))
        width = _widths(room, core, (now, then), state)
        return CoreSize(core.name, (now, then), width, self._dummy(room, core, width))

    def _dummy(self, room: Room, core: CoreShape, widths: Sizes) -> Sizes:
        """Dummies that cast a core of some widths; None where the part does not say how it is cast."""
        x, walls = self.of.press.inputs.numbers(), 0
        if self.of.press.part.core[core.name].cast is not None and core.kind == room.kind == "box":
            walls = sum(entry.walls for entry in room.sides if entry.side in ("width", "all"))
        if widths is None or not walls or Key("core", core.name, "cast_temperature") not in x:
            return None
        return tuple(float(cold.dummy(room, core.name, width, walls, x)) for width in widths)


def _widths(room: Room, core: CoreShape, volumes: tuple[float, ...], state: State) -> Sizes:
    """The widths of a core of some volumes; None where it has none."""
    widths = [room.core_width(core, volume, state.x) for volume in volumes]
    return None if None in widths else tuple(float(width) for width in widths)


def _proposals(ask: _Achieved, now: At, aim: Aim) -> list[Proposal]:
    """Each change alone that brings the attribute to its middle, or by one ply nearer to it."""
    proposals: list[Proposal] = []

    def add(what: str, before: float, after: float, change: dict[str, Any], why: str = "") -> None:
        objection = why or ask.refused(**change)
        core = ask.core(now.gel, **change)
        proposals.append(Proposal(what, before, after, now, ask.at(**change), objection, core))

    def off(**change: Any) -> float:
        return float(getattr(ask.at(**change), aim.attribute)) - aim.middle

    case, plies, step = ask.of.case, ask.of.plies[ask.of.zone], 1 if off() < 0.0 else -1
    # at one bleed more plies are thicker, but of the same fiber volume
    if case.zone.fill_with and aim.attribute == "thickness":
        then, least = plies + step, max(case.fixed_plies, 1)
        while then + step >= least and abs(off(plies=then + step)) < abs(off(plies=then)):
            then += step
        if then >= least:
            why = "" if abs(off(plies=then)) < abs(off()) else "no nearer"
            add("ply_count", plies, then, {"plies": then}, why)
    state = ask.state()
    layup, void = state.layups[ask.of.zone], state.x.get(VOID, 0.0)
    thickness = aim.middle
    if aim.attribute == "fiber_volume":  # the fibers stay, so thickness times fiber volume does
        thickness = now.fiber_volume * now.thickness / aim.middle
    bleed, end = float(layup.bleed_of(thickness, void)), float(layup.end)
    if bleed <= end:
        less = "below no bleed: there is not so much resin" if bleed < 0.0 else ""
        add("bleed", max(ask.bleed, 0.0), max(bleed, 0.0), {"bleed": max(bleed, 0.0)}, less)
    x, laid = ask.of.press.inputs.numbers(), case.counted(plies - case.fixed_plies)

    def off_with(key: Key, value: float) -> float:
        return off(x={**x, key: value})

    for key in (Key("prepreg", name, what) for name in laid for what in ("resin_content", "areal_weight")):
        if (now_it_is := x.get(key)) is not None:
            ends = {"low": 0.75 * now_it_is, "high": 1.25 * now_it_is}
            value = bracketed_root(function=partial(off_with, key), **ends)
            if value is not None:
                add(f"{key.name} {key.quantity}", now_it_is, value, {"x": {**x, key: value}})
    return proposals


def _core_alone(ask: _Achieved, now: At) -> CoreAlone | None:
    """The core sizes that press the zone as it came out, the tool holding; None where no core does both."""
    room, state = ask.of.room, ask.state()
    if room is None or now.gel is None or len(room.cores) != 1 or len(room.zones) != 1:
        return None
    if room.open_ends or tool_not_judged(state):
        return None
    (core,), end = room.cores, float(state.layups[ask.of.zone].end)
    low, high = ({ask.of.zone: min(max(ask.bleed + shift, 0.0), end)} for shift in (-ask.half, ask.half))
    least, most = volume_window(ask.of.press, core.name, ask.of.plies, low, high)
    if most is None or most < least:
        return None
    size = float(room.core_volume(core, state.x))
    width = _widths(room, core, (size, least, most), state)
    ends = (ask.at(volume=(core.name, least)), ask.at(volume=(core.name, most)))
    return CoreAlone(core.name, size, (least, most), width, *ends)
