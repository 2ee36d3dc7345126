"""A core in its room, from the state of the press: touch, pressures over all tolerances, sizes.

A hard core leaves gaps, and the laminate sets the pressure: there is none to tell.

The nominal laminate is liquid full, the lowest has bled to its end, the expected one has bled as stated, the
locked maximum gelled as it was laid up. SI units; pressures are above ambient.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas.press import AMBIENT
from laminate.formulas.roots import bracketed_root
from laminate.formulas.water import water_vapor_pressure
from laminate.press import cold
from laminate.press.advice import core_windows, forces
from laminate.press.case import core_temperature
from laminate.press.core_results import CoreAnswer, CoreInZone, Pressure
from laminate.press.inputs import zone_case
from laminate.press.layup import Layup
from laminate.press.names import HUMIDITY, ROOM
from laminate.press.pressed import FAR_ENDS
from laminate.press.pressed_count import PressedCount
from laminate.press.shared_inputs import Estimate, SharedInputs, estimates, plain
from laminate.press.state import State
from laminate.press.steam import Steam, steam
from laminate.press.unstated import not_stated, presses_less, tool_not_judged
from laminate.press.windows import touch, volume_for
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from laminate.files.part import Core
    from laminate.press.conditions import Press
    from laminate.press.names import Numbers
    from laminate.press.room_question import RoomQuestion
    from laminate.press.rooms import CoreShape, Room

STATES = ("lowest", "nominal", "locked_maximum", "expected")
NO_ROOM = "laminate and inserts leave the core no room in a rigid cavity"


def _names(ask: RoomQuestion) -> tuple[str, ...]:
    """The states that can be told."""
    if ask.layups is not None:
        layups = ask.layups(ask.press.inputs.numbers()).values()
        return STATES[:3] if any(float(layup.end) > 0.0 for layup in layups) else STATES[1:3]
    return STATES if ask.bleed_stated else STATES[:3]


def _drawn(ask: RoomQuestion, names: tuple[str, ...]) -> dict[str, Pressure] | str:
    press = ask.press
    plain = {n: float(v) for n, v in ask.pressures(press.inputs.numbers(), names).items()}
    if not all(map(math.isfinite, plain.values())):
        return NO_ROOM
    clamp = ask.state().clamp_limit(ask.room.name) is not None
    drawn = press.simulate(lambda c: ask.pressures(c.x, names, clamp=clamp))
    pressures, sources = {}, press.inputs.sources()
    spreads = all(source.dof > 2.0 for source in sources)  # draws from fewer degrees have no deviation
    for name, value in plain.items():
        sample = np.asarray(drawn[name], dtype=float)
        with np.errstate(invalid="ignore"):  # infinite where there is no room
            low, high = np.quantile(sample, FAR_ENDS)
        if not (math.isfinite(low) and math.isfinite(high)):
            return f"over the stated tolerances {NO_ROOM}"
        above = float(drawn[f"{name} above"].astype(bool).mean()) if clamp else None
        u = float(sample.std()) if sources and spreads and np.all(np.isfinite(sample)) else 0.0
        pressures[name] = Pressure(value, u or None, float(low), float(high), above)
    return pressures


def _touches(ask: RoomQuestion, zone: str) -> dict[str, Estimate | None]:
    def formula(x: Numbers) -> dict[str, Any]:
        state, room = ask.state(x), ask.room.name
        return {
            "contact": touch(state, room, zone),
            "contact_together": touch(state, room, zone, together=True),
            "liquid_full": touch(state, room, zone, liquid=True),
        }

    plain = formula(ask.press.inputs.numbers())
    finite = [name for name, value in plain.items() if math.isfinite(float(value))]
    temperatures = estimates(lambda x: {n: v for n, v in formula(x).items() if n in finite}, ask.press.inputs)
    return {name: temperatures.get(name) for name in plain}


def _sizes(ask: RoomQuestion, core: CoreShape, zone: str, gap: float) -> dict[str, Estimate | None]:
    """Cold size for a hot gap without pressure, the dummy for it, and what is left to pull the core out.

    Of a hard core the size across the zone.
    """
    press, room = ask.press, ask.room
    across, walls = _across(room, zone), press.part.zone[zone].walls

    def formula(x: Numbers) -> dict[str, Any]:
        sizes: dict[str, Any] = {}
        width = None
        if not room.rubber:
            case = press.cases[zone]
            more = (case.hot_gap(x) - gap) * room.walls(across, zone, x) / case.growths(x)[core.name]
            width = room.core_size(core, across, x) + more
        elif not room.free:
            laid = {**(ask.layups(x) if ask.layups else {}), zone: Layup.of_thickness(gap)}
            state = State(press.at(x), ask.plies, 0.0, laid=laid)
            width = room.core_width(core, volume_for(state, core.name, 0.0), x)
        if width is not None:
            sizes["cold_width"] = width
            dimension = core.kind if core.kind != "box" else "width" if room.rubber else across
            sizes["now"] = room.core_size(core, "diameter" if dimension == "round" else dimension, x)
            if not room.rubber:
                sizes["growth"] = sizes["now"] * (press.cases[zone].growths(x)[core.name] - 1.0)
            if press.part.core[core.name].cast is not None and room.rubber and room.kind == "box":
                sizes["dummy"] = cold.dummy(room, core.name, width, walls, x)
        state = ask.state(x, None)
        hot = {z: layup.thickness(0.0) for z, layup in state.layups.items()} if ask.layups else None
        left = cold.pull_out(state, room.name, hot)
        if left:
            sizes["pull_out"] = left.get(across, next(iter(left.values())))
        return sizes

    known = estimates(formula, press.inputs)
    return {name: known.get(name) for name in ("now", "cold_width", "dummy", "pull_out", "growth")}


def _across(room: Room, zone: str) -> str:
    """The direction that a zone takes from, the first of two; the width where its room is a volume."""
    return next(iter(room.directions_of(zone)), "width")


def _known(ask: RoomQuestion, zone: str) -> SharedInputs:
    """What the answer stands on: of the whole press, beside a hard core of the zone alone."""
    press = ask.press
    if ask.room.rubber or ask.layups is not None:
        return press.inputs
    return zone_case(press.part, zone, press.file, press.made).inputs


def _why_none(ask: RoomQuestion, core: CoreShape) -> str:
    """Why no pressure can be told; '' where it can."""
    known = ask.press.inputs.values
    if not ask.room.rubber:
        made = ask.press.part.core[core.name].material or core.name
        return f"{made} is a hard core: its growth is fixed, and the laminate sets the pressure"
    if Key("core", core.name, "bulk_modulus") not in known:
        return "no bulk modulus is given"
    if Key("core", core.name, "bulk_modulus_rise") not in known:
        return "no rise of the bulk modulus with pressure is given"
    if ask.room.free:
        return "held 'no' and widths alone: the core can grow out at its free sides; give room sizes"
    return ""


def core_in_room(
    ask: RoomQuestion, name: str, zone: str, gap_wanted: float | None, *, fits: bool
) -> CoreInZone:
    """One core against one zone of its room."""
    state, core = ask.state(), next(core for core in ask.room.cores if core.name == name)
    touches = _touches(ask, zone)
    contact, full = touches["contact"], touches["liquid_full"]
    solved = _why_none(ask, core) or _drawn(ask, _names(ask))
    pressures, reason = (None, solved) if isinstance(solved, str) else (solved, "")
    layup = state.layups[zone]
    gap = float(layup.thickness(0.5 * layup.end)) if gap_wanted is None else gap_wanted
    hottest = float(state.conditions.core_temperature(core.name, ask.last))
    per_kelvin, reached = _locked(ask, hottest) if pressures is not None else (None, None)
    return CoreInZone(
        zone=zone,
        plies=ask.plies.get(zone, 0),
        plies_fit=fits,
        **touches,
        window=full.value - contact.value if full and contact else None,
        pressure=pressures,
        reason=reason,
        locked_per_kelvin=per_kelvin,
        clamp_reached=reached,
        gap=gap,
        gap_asked=gap_wanted is not None,
        across=_across(ask.room, zone) if not ask.room.rubber else "width",
        **_sizes(ask, core, zone, gap),
        not_measured=tuple(_known(ask, zone).not_measured()),
    )


def _locked(ask: RoomQuestion, top: float) -> tuple[float, float | None]:
    """Rise of the locked pressure about a temperature [Pa/K], and where it reaches the clamp's [K]."""
    state, room = ask.state(), ask.room.name
    laid = state.locked_thickness(ask.room)

    def locked(temperature: float) -> float:
        return float(state.together(room, temperature, laid))

    limit, start = plain(state.clamp_limit(room, ask.last)), float(state.x[ROOM])
    reached = None
    if limit is not None and locked(start) < limit:
        reached = bracketed_root(function=lambda t: locked(t) - limit, low=start, high=start + 400.0)
    return locked(top + 0.5) - locked(top - 0.5), reached


def _judged(state: State) -> tuple[bool | None, bool | None]:
    """Whether clamp and walls hold: what is left out could only add force, so a no stands without it."""
    if not state.rubber:
        return None, None
    shut = None if state.stays_shut and tool_not_judged(state) else bool(state.stays_shut)
    limited = state.press.part.tool is not None and state.press.part.tool.pressure_limit is not None
    within: bool | None = bool(state.within_pressure_limit) if limited else None
    unknown = any(missing.what in ("pressure", "plies") for missing in state.left_out)
    if within and (unknown or presses_less(state)):
        within = None
    return shut, within


def _vapor_first(ask: RoomQuestion, state: State) -> tuple[float, float] | None:
    """Where rubber begins to press only after the water in the laminate boils in the gas of the cavity."""
    tool = ask.press.part.tool
    if not ask.room.rubber or tool is None or tool.evacuated:
        return None
    at = float(touch(state, ask.room.name, together=True))
    hottest = max(float(state.conditions.core_temperature(core.name, ask.last)) for core in ask.room.cores)
    if not float(state.x[ROOM]) < at <= hottest:
        return None
    water = float(state.x[HUMIDITY] * water_vapor_pressure(temperature=at))
    return (at, water) if water > AMBIENT else None


def _growth(ask: RoomQuestion, core: CoreShape) -> dict[str, Estimate]:
    """Of a core: its mean temperature at gel, and of its size across the growth, free and in the tool."""
    press, room, name = ask.press, ask.room, core.name

    def formula(y: Numbers) -> dict[str, Any]:
        at = press.at(y)
        mean = at.core_temperature(name, "gel")
        grown = at.core_growth_at(name, mean)
        sizes = {"mean": mean}
        across = "diameter" if core.kind == "round" else "width"
        if across in core.sizes or across in core.bare or Key("core", name, "width") in y:
            sized = core.kind in ("box", "round")
            width = room.core_size(core, across, y) if sized else y[Key("core", name, "width")]
            sizes |= {"width": width, "growth": width * (grown - 1.0)}
            if not room.rubber:
                sizes["movement"] = width * (grown - 1.0)
            elif not room.free:
                sizes["movement"] = width * (grown**3 / at.growth("gel") ** 2 - 1.0)
        return sizes

    return estimates(formula, press.inputs)


def _steam(press: Press, zone: CoreInZone) -> Steam | None:
    """Steam held against the pressure of a zone; None where there is no pressure or no cure temperature."""
    pressure, tool = zone.pressure, press.part.tool
    if not pressure:
        return None
    resin = min(pressure["nominal at_gel"].value, pressure["nominal at_maximum"].value)
    lowest = min((p.value for n, p in pressure.items() if n.startswith("lowest ")), default=None)
    return steam(press, resin=resin, lowest=lowest, evacuated=tool is not None and tool.evacuated)


def _vapor(ask: RoomQuestion, zone: str) -> tuple[Estimate, Estimate, Estimate]:
    """At gel: absolute resin pressure, that of the water in it, and what is needed above ambient [Pa]."""

    def formula(x: Numbers) -> dict[str, Any]:
        expected = ask.state(x, None)
        needed, water = expected.conditions.needed(zone), expected.conditions.vapor
        return {"resin": expected.resin_pressure(zone), "water": water, "needed": needed}

    known = estimates(formula, ask.press.inputs)
    return known["resin"], known["water"], known["needed"]


def core_answer(ask: RoomQuestion, name: str, zones: list[CoreInZone], moldings: int | None) -> CoreAnswer:
    """The answer for one core, from the state of the press; zones: against each zone of its room."""
    press, room, state = ask.press, ask.room, ask.state()
    core = next(core for core in room.cores if core.name == name)
    if not room.rubber:  # the first one that is touched governs
        zones = sorted(zones, key=lambda zone: zone.contact.value if zone.contact else math.inf)
    sizes, known = _growth(ask, core), state.pressure(room.name) is not None
    shut, within = _judged(state)
    opens, stated = None, ask.stated
    if known and not room.open_ends and not tool_not_judged(state):
        drawn = press.simulate(lambda c: {"holds": ask.state(c.x, None if stated else 0.0).holds})
        opens = float(np.mean(~drawn["holds"].astype(bool)))
    of_plies, zone = known and ask.layups is None, room.zones[0]
    windows = core_windows(PressedCount(press, zone, ask.plies)) if of_plies else []
    open_keys = not_stated(state, lambda x: ask.state(x, None), zone) if known else []
    return CoreAnswer(
        core=name,
        ask=ask,
        state=state,
        zones=tuple(zones),
        width=sizes.get("width"),
        mean_temperature=sizes["mean"],
        free_growth=sizes.get("growth"),
        movement=sizes.get("movement"),
        warming=_warming(press.part.core[name], name, state.x),
        moldings=moldings,
        steam=_steam(press, zones[0]),
        expected_moment=ask.state(bleed=None).worst_moment(room.name) if ask.bleed_stated else None,
        stays_shut=shut,
        within_limit=within,
        opens=opens,
        limits={word: plain(state.clamp_limit(room.name, at)) for word, at in ask.moments.items()},
        clearance={k: float(v) for k, v in cold.clearance(state, room.name).items()},
        windows=tuple(window for window in windows if window.core == name),
        vapor=_vapor(ask, zone) if of_plies else None,
        forces=forces(ask.state, 1.0 - opens if opens is not None and stated else None),
        vapor_first=_vapor_first(ask, state),
        missing=(*open_keys, *(f"zone.{zone}.plies" for zone in ask.supposed)),
    )


def _warming(core: Core, name: str, x: Numbers) -> tuple[tuple[float, float], ...]:
    """Mean temperature of a core between platens over time [s, K]."""
    if core.heating is None:
        return ()
    key, whole = Key("core", name, "heating_time"), core.heating.time.value
    times = (whole * share / 20.0 for share in range(31))
    return tuple((time, float(core_temperature(core, name, {**x, key: time}))) for time in times)
