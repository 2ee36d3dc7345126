"""What a part file leaves open that moves the answer of press or gap: silence never buys a better one."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.press import stack
from laminate.press.case import ZoneCase, assumptions_of
from laminate.press.counts import closes_cold
from laminate.press.names import MAXIMUM, TOOL_MAXIMUM, core_name
from laminate.values.input_key import Key, Name

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.rooms import Room
    from laminate.press.setup import Setup
    from laminate.press.shared_inputs import SharedInputs
    from laminate.press.state import State

STEP = 1e-5
MOVED = 1e-9
"""Least relative change of a number, for a relative change of `STEP` of an input, that counts as moved."""


OPTIONS = {
    **{
        ("tool", key): f"--{key.replace('_', '-')}" for key in ("clamp_force", "pressure_limit", "compliance")
    },
    ("prepreg", "volatiles"): "--volatiles",
    ("prepreg", "form"): "--form",
    ("prepreg", "bulk_factor"): "--bulk-factor",
    ("zone", "walls"): "--walls",
    ("zone", "bleed"): "--bleed",
    **{
        ("core", key): f"--core-{key.replace('_', '-')}"
        for key in ("temperature", "expansion", "corner_radius")
    },
    ("core", "bulk_modulus"): "--bulk-modulus",
    ("room", "corner_radius"): "--room-corner-radius",
    ("resin", "liquid_density"): "--liquid-density",
    ("temperature", "maximum"): "--maximum-temperature",
}
"""What states a key in a call by options, by table and key; others no option states."""


def asked_by_options(part: Part) -> bool:
    """Whether the part stands for the options of one call, not for a file with a part number and issue."""
    return not (part.part.number or part.part.issue)


def as_asked(part: Part, names: Iterable[str]) -> list[str]:
    """Names of what is not stated; of a call by options those that an option states, by the option."""
    if not asked_by_options(part):
        return list(names)
    found = list[str]()
    for name in names:
        path = (name.partition(".")[0], name.rpartition(".")[2])
        if name.startswith("projected area"):
            found.append("--projected-area")
        elif name.startswith("room sizes"):
            found += ["--room-width", "--room-height", "--room-length"]
        elif path in OPTIONS or "." not in name or name.startswith("± of "):
            found.append(OPTIONS.get(path, name))
    return list(dict.fromkeys(found))


def shape_not_stated(case: ZoneCase) -> list[str]:
    """Keys without which nobody knows the gaps beside a hard core: as usual they may look wider, or even."""
    if not case.cores or asked_by_options(case.part):
        return []
    found = [] if "walls" in case.zone.model_fields_set else [f"zone.{case.name}.walls"]
    first = case.part.core[case.cores[0]]  # in a room it lies in the middle, and has no such key
    if first.room is None and "offset" not in first.model_fields_set:
        found.append(f"core.{case.cores[0]}.offset")
    for core in case.cores:
        own = case.part.core[core]
        if own.temperature is None and own.heating is None:
            found.append(f"core.{core}.temperature")
    return found


def not_stated(
    state: State, at: Callable[[Mapping[Any, Any]], State], zone: str, held: Collection[str] = ()
) -> list[str]:
    """What must be said before anybody may rely on the press: keys left out, and inputs that need a ±.

    state: of the press; at: the same on other numbers; zone: under rubber or a bladder; held: attributes that
    its limits speak of. Left out are keys whose usual value may be the better one. A ± is needed, or
    `(exact)`: else the chances count a number as exact that nobody calls so.
    """
    press = state.press
    part, room = press.part, press.room_of(zone)
    rubber = [room for room in press.rooms if room.rubber]
    keys = [
        f"tool.{key}"
        for key in ("clamp_force", "pressure_limit")
        if part.tool is None or getattr(part.tool, key) is None
    ]
    keys += [words for words in state.left_out if words != "clamp force"]
    for one in rubber:  # every room of rubber pushes on the one clamp
        keys += [*_edges(press, one), *_room_keys(press, one)]
    zones = [z for zone in rubber for z in zone.zones] if room is not None else [zone]
    if all(layup.sums is not None for layup in state.layups.values()):
        keys += material_keys([press.cases[zone] for zone in zones])
    if rubber and not _hottest_stated(press):
        keys.append("temperature.maximum")
    if part.tool is not None and room is not None:
        keys += [f"tool.{key}" for key in ("compliance", "closes") if key not in part.tool.model_fields_set]
    spreads = (f"± of {name}" for name in _without_spread(state, at, zone, held))
    return as_asked(part, [*dict.fromkeys(keys), *spreads])


def _edges(press: Setup, room: Room) -> list[str]:
    """Sizes and edges of a box that nothing states."""
    part = press.part
    if room.kind != "box":
        return []
    if room.name not in part.room:
        return [f"room sizes and edges: [room] width, height, length, corner_radius for {room.name}"]
    bare = [] if "corner_radius" in part.room[room.name].model_fields_set else [f"room.{room.name}"]
    bare += [
        f"core.{core.name}"
        for core in room.cores
        if core.kind == "box" and "corner_radius" not in part.core[core.name].model_fields_set
    ]
    return [f"{place}.corner_radius" for place in bare]


def _room_keys(press: Setup, room: Room) -> list[str]:
    part, keys = press.part, list[str]()
    for core in room.cores:
        own = part.core[core.name]
        if own.temperature is None and own.heating is None:
            keys.append(f"core.{core.name}.temperature")
        keys += [
            f"core.{core.name}.{key}"
            for key in ("expansion", "bulk_modulus", "bulk_modulus_at")
            if getattr(own, key) is None
        ]
    return keys + [
        f"zone.{side.zone}.walls"
        for side in room.sides
        if "walls" not in part.zone[side.zone].model_fields_set
    ]


def material_keys(cases: Iterable[ZoneCase]) -> list[str]:
    """Keys of prepregs and resins that are left out and taken as usual."""
    keys = list[str]()
    for case in cases:
        part, stated = case.part, _volatiles_stated(case)
        for name in case.counted(1):
            prepreg = part.prepreg.get(name)
            if prepreg is None:
                continue
            free = prepreg.resin_basis == "volatile-free"
            if not free and Key("prepreg", name, "volatiles") not in stated:
                keys.append(f"prepreg.{name}.volatiles")
            if closes_cold(case) and "bulk_factor" not in prepreg.model_fields_set:
                keys.append(f"prepreg.{name}.bulk_factor")
            if prepreg.ply_scatter is None:
                keys.append(f"prepreg.{name}.ply_scatter")
            if any(note.startswith(f"form of {name}:") for note in assumptions_of(case)):
                keys.append(f"prepreg.{name}.form")
        keys += [
            f"resin.{label.name}.liquid_density"
            for label in stack.names_of(part, case.zone)
            if label.quantity == "liquid_density" and label not in case.made.values
        ]
    return keys


def _volatiles_stated(case: ZoneCase) -> set[Key]:
    """Volatiles that the part file or a lot states."""
    own = {
        Key("prepreg", name, "volatiles")
        for name, table in case.part.prepreg.items()
        if "volatiles" in table.model_fields_set
    }
    return own | {key for key, origin in case.made.origins.items() if origin != stack.NOMINAL}


def _hottest_stated(press: Setup) -> bool:
    """Whether the highest temperatures are stated, of the cycle or of tool and every core apart."""
    known = press.inputs.values
    cores = [core.name for room in press.rooms if room.rubber for core in room.cores]
    return MAXIMUM in known or (
        TOOL_MAXIMUM in known and all(core_name(core, "maximum") in known for core in cores)
    )


def _nominal(name: Name) -> bool:
    """Whether an input is one that drawings and cycles state without a ±: a length, an area, a set point."""
    return isinstance(name, Key) and (
        name.quantity in ("length", "projected_area", "bulk_modulus_rise")
        or (name.table == "temperature" and name.quantity != "gel")
    )


def bare_inputs(known: SharedInputs) -> list[Name]:
    """Inputs that carry no ± and are not called exact, but those that drawings and cycles state so."""
    return [
        name
        for name, value in known.values.items()
        if value.u is None and name not in known.exact and not _nominal(name)
    ]


def _without_spread(
    state: State, at: Callable[[Mapping[Any, Any]], State], zone: str, held: Collection[str]
) -> list[str]:
    """Inputs that carry no ±, are not called exact, and move pressures, force or what a limit is held to."""
    x, bare = state.press.inputs.numbers(), bare_inputs(state.press.inputs)
    steps = STEP * np.eye(1 + len(bare))[1:]  # as they stand, then each of them moved
    numbers = _numbers(
        at({**x, **{n: x[n] * (1.0 + step) for n, step in zip(bare, steps, strict=True)}}), zone, held
    )
    table = np.array([np.broadcast_to(np.asarray(number, dtype=float), 1 + len(bare)) for number in numbers])
    moved = (np.abs(table[:, 1:] - table[:, :1]) > MOVED * np.abs(table[:, :1])).any(axis=0)
    return [str(name) for name, matters in zip(bare, moved, strict=True) if matters]


def _numbers(state: State, zone: str, held: Collection[str]) -> list[Any]:
    """What the verdict and the chances of a zone rest on."""
    rooms = [room for room in state.rooms if room.rubber and state.pressure(room.name) is not None]
    numbers = [pressure for room in rooms for pressure in (state.pressure(room.name), state.worst(room.name))]
    own = state.pressed_by(zone)
    numbers += [state.worst_force, state.needed(zone), 0.0 if own is None else own]
    told = state.attributes(zone, held).values() if held else ()
    return [*numbers, *told]
