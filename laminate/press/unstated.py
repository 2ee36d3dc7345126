"""What a part file leaves open that moves the answer of press or gap: silence never buys a better one."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.files.raw_file import path_text
from laminate.press import stack
from laminate.press.case import ZoneCase, form_supposed
from laminate.press.cold import closed_directions
from laminate.press.counts import closes_cold
from laminate.press.names import MAXIMUM, TOOL_MAXIMUM
from laminate.press.unlikely import unlikely
from laminate.values.input_key import Key, Name

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.conditions import Press
    from laminate.press.names import Numbers
    from laminate.press.rooms import Room
    from laminate.press.shared_inputs import SharedInputs
    from laminate.press.state import State
    from laminate.values.units import SIValue

    States = Callable[[Numbers], State]

STEP = 1e-5
MOVED = 1e-9
"""Least relative change of a number, for a relative change of `STEP` of an input, that counts as moved."""


HEATING = {
    "heating.thickness": "heated_thickness",
    "heating.diffusivity": "diffusivity",
    "heating.time": "heating_time",
    "heating.platen": "platen_temperature",
}
OPTIONS = {
    "tool": ("clamp_force", "pressure_limit", "compliance", "tool_expansion"),
    "prepreg": ("volatiles", "form", "bulk_factor", "packing_limit"),
    "resin": ("liquid_density",),
    "zone": ("walls", "wanted_pressure", "projected_area", "bleed", "bleed_limit"),
    "room": ("wanted_pressure", "projected_area", "room_corner_radius"),
    "core": (
        "projected_area", "bulk_modulus", "bulk_modulus_rise", "insert_expansion",
        "core_temperature", "core_expansion", "core_corner_radius", *HEATING.values(),
    ),
    "temperature": ("gel_temperature", "maximum_temperature", "room_temperature"),
}  # fmt: skip
"""What states the keys of a table in a call by options, `-` for `_`; some name the table too."""


def asked_by_options(part: Part) -> bool:
    """Whether the part stands for the options of one call, not for a file with a part number and issue."""
    return not (part.part.number or part.part.issue)


def as_asked(part: Part, keys: Iterable[Key]) -> list[str]:
    """Where what is not stated is written; of a call by options the options that state it."""
    if asked_by_options(part):
        return list(dict.fromkeys(option for key in keys for option in _options(key)))
    paths = ((key.table, key.name, *key.quantity.split(".")) for key in keys)
    return list(dict.fromkeys(path_text(filter(None, path)) for path in paths))


def _options(key: Key) -> list[str]:
    """The option that states a key, none where no option does."""
    names = (
        HEATING.get(key.quantity, key.quantity),
        f"{key.table}_{key.quantity}",
        f"{key.quantity}_{key.table}",
    )
    return [f"--{name.replace('_', '-')}" for name in OPTIONS.get(key.table, ()) if name in names]


def not_likely(cases: Iterable[ZoneCase]) -> list[str]:
    """What is stated of zones and must be checked first, as it is unlikely, by the keys that are written."""
    names = [as_asked(case.part, (_written(case, key) for key in unlikely(case))) for case in cases]
    return [f"a likely value of {name}" for name in dict.fromkeys(chain(*names))]


def _written(case: ZoneCase, key: Key) -> Key:
    """The key as the files spell it: an areal weight is one of the fiber or of the prepreg."""
    of = "prepreg" if key.name in case.made.of_prepreg else "fiber"
    return key._replace(quantity=f"{of}_areal_weight") if key.quantity == "areal_weight" else key


def shape_not_stated(case: ZoneCase) -> list[str]:
    """Keys of a hard core that may make its gaps look wider, or even, where they are left out."""
    if not case.cores or asked_by_options(case.part):
        return []
    keys = [] if "walls" in case.zone.model_fields_set else [Key("zone", case.name, "walls")]
    first = case.part.core[case.cores[0]]  # in a room it lies in the middle, and has no such key
    if first.room is None and "offset" not in first.model_fields_set:
        keys.append(Key("core", case.cores[0], "offset"))
    for core in case.cores:
        table = case.part.core[core]
        if table.temperature is None and table.heating is None:
            keys.append(Key("core", core, "temperature"))
    if closed_directions(case.room, case.name):  # as laid up a stack is thicker than cured
        plies = stack.prepregs_of(case.part, case.zone)
        keys += _left_out({("prepreg", name): case.part.prepreg[name] for name in plies}, "bulk_factor")
    return as_asked(case.part, keys)


def not_stated(state: State, at: States, zone: str, held: Collection[str] = ()) -> list[str]:
    """What must be said before anybody may rely on the press: keys left out, and inputs that need a ±.

    state: of the press; at: the same on other numbers; zone: under rubber or a bladder; held: attributes that
    its limits speak of. Left out are keys whose usual value may be the better one. A ± is needed, or
    `(exact)`: else the chances count a number as exact that nobody calls so.
    """
    press = state.press
    part, room = press.part, press.room_of(zone)
    rubber = [room for room in press.rooms if room.rubber]
    held_by = ("clamp_force", "pressure_limit")
    keys = [Key("tool", "", key) for key in held_by if getattr(part.tool, key, None) is None]
    by_options = asked_by_options(part)
    areas = [str(missing) for missing in state.left_out if missing.what != "clamp force"]
    words = ["--projected-area"] if by_options and areas else areas
    for rubber_room in rubber:  # every room of rubber pushes on the one clamp
        if rubber_room.kind == "box" and rubber_room.name not in part.room:
            of_room = f"[room] width, height, length, corner_radius for {rubber_room.name}"
            sizes = f"room sizes and edges: {of_room}"
            words += ["--room-width", "--room-height", "--room-length"] if by_options else [sizes]
    zones = [z for room in rubber for z in room.zones] if room is not None else [zone]
    keys += _taken(state, zones)
    if rubber and not _hottest_stated(press, rubber):
        keys.append(Key("temperature", "", "maximum"))
    if part.tool is not None and room is not None:
        stated = part.tool.model_fields_set
        keys += [Key("tool", "", key) for key in ("compliance", "closes") if key not in stated]
    spreads = (f"± of {name}" for name in _without_spread(state, at, zone, held))
    doubts = not_likely(press.cases[zone] for zone in zones)
    return [*as_asked(part, keys), *dict.fromkeys(words), *doubts, *spreads]


def _taken(state: State, zones: Iterable[str]) -> list[Key]:
    """Keys of every room of rubber, and of the plies of zones, that are left out and taken as usual."""
    press = state.press
    keys = [key for room in press.rooms if room.rubber for key in _room_keys(press.part, room)]
    plies = all(layup.sums is not None for layup in state.layups.values())
    return keys + (material_keys([press.cases[zone] for zone in zones]) if plies else [])


def presses_less(state: State) -> bool:
    """Whether rubber may press harder than computed, on a key left out or on a value that is unlikely."""
    zones = [zone for room in state.press.rooms if room.rubber for zone in room.zones]
    left_out = any(key.quantity in ("walls", "liquid_density") for key in _taken(state, zones))
    return left_out or any(unlikely(state.press.cases[zone]) for zone in zones)


def tool_not_judged(state: State) -> bool:
    """Whether nobody may say that the tool holds: a force is not known, or may be more than computed."""
    return bool(state.left_out) or presses_less(state)


def _room_keys(part: Part, room: Room) -> list[Key]:
    """Keys of a room of rubber, its cores and walls that are left out."""
    keys = list[Key]()
    if room.kind == "box" and room.name in part.room:
        boxes = [core.name for core in room.cores if core.kind == "box"]
        edges = {("core", name): part.core[name] for name in boxes}
        keys += _left_out({("room", room.name): part.room[room.name], **edges}, "corner_radius")
    for core in room.cores:
        table = part.core[core.name]
        bare = table.temperature is None and table.heating is None
        keys += [Key("core", core.name, "temperature")] if bare else []
        names = ["expansion", "bulk_modulus", "bulk_modulus_at"]
        names += ["insert_expansion"] if table.insert_volume is not None else []
        keys += [Key("core", core.name, key) for key in names if getattr(table, key) is None]
    whole = any(part.core[core.name].laminate_area is not None for core in room.cores)  # of all walls
    return keys + _left_out({("zone", z): part.zone[z] for z in room.zones if not whole}, "walls")


def _left_out(tables: Mapping[tuple[str, str], Any], key: str) -> list[Key]:
    """The key of each table that does not write it."""
    return [Key(*place, key) for place, table in tables.items() if key not in table.model_fields_set]


def material_keys(cases: Iterable[ZoneCase]) -> list[Key]:
    """Keys of prepregs and resins that are left out and taken as usual."""
    keys = list[Key]()
    for case in cases:
        part, stated = case.part, _volatiles_stated(case)
        for name in stack.prepregs_of(part, case.zone):
            prepreg = part.prepreg[name]
            free = prepreg.resin_basis == "volatile-free"
            left_out = {
                "volatiles": not free and Key("prepreg", name, "volatiles") not in stated,
                "bulk_factor": closes_cold(case) and "bulk_factor" not in prepreg.model_fields_set,
                "ply_scatter": prepreg.ply_scatter is None,
                "form": form_supposed(prepreg),
            }
            keys += [Key("prepreg", name, what) for what, gone in left_out.items() if gone]
        liquids = [key for key in stack.names_of(part, case.name) if key.quantity == "liquid_density"]
        keys += [key for key in liquids if key not in case.made.values]
    return keys


def _volatiles_stated(case: ZoneCase) -> set[Key]:
    """Volatiles that the part file or a lot states."""
    written = {key for key, origin in case.made.origins.items() if origin != stack.NOMINAL}
    tables = case.part.prepreg.items()
    return written | {Key("prepreg", n, "volatiles") for n, t in tables if "volatiles" in t.model_fields_set}


def _hottest_stated(press: Press, rubber: Iterable[Room]) -> bool:
    """Whether the highest temperatures are stated, of the cycle or of tool and every core of rubber apart."""
    apart = [TOOL_MAXIMUM, *(Key("core", core.name, "maximum") for room in rubber for core in room.cores)]
    return MAXIMUM in press.inputs.values or all(name in press.inputs.values for name in apart)


def _nominal(name: Name) -> bool:
    """Whether an input is one that drawings and cycles state without a ±: length, area, shear, set point."""
    return isinstance(name, Key) and (
        name.quantity in ("length", "projected_area", "shear", "bulk_modulus_rise")
        or (name.table == "temperature" and name.quantity != "gel")
    )


def bare_inputs(known: SharedInputs) -> dict[Name, SIValue]:
    """Inputs that carry no ± and are not called exact, but those that drawings and cycles state so."""
    return {
        name: value
        for name, value in known.values.items()
        if value.u is None and name not in known.exact and not _nominal(name)
    }


def _without_spread(state: State, at: States, zone: str, held: Collection[str]) -> list[str]:
    """Inputs that carry no ±, are not called exact, and move pressures, force or what a limit is held to."""
    x, bare = state.press.inputs.numbers(), list(bare_inputs(state.press.inputs))
    steps = STEP * np.eye(1 + len(bare))[1:]  # as they stand, then each of them moved
    stepped = {name: x[name] * (1.0 + step) for name, step in zip(bare, steps, strict=True)}
    numbers = _numbers(at({**x, **stepped}), zone, held)
    table = np.array([np.broadcast_to(np.asarray(number, dtype=float), 1 + len(bare)) for number in numbers])
    moved = (np.abs(table[:, 1:] - table[:, :1]) > MOVED * np.abs(table[:, :1])).any(axis=0)
    return [str(name) for name, matters in zip(bare, moved, strict=True) if matters]


def _numbers(state: State, zone: str, held: Collection[str]) -> list[Any]:
    """What the verdict and the chances of a zone rest on."""
    names = [room.name for room in state.rubber]
    numbers = [pressure for name in names for pressure in (state.pressure(name), state.worst(name))]
    pressure = state.pressed_by(zone)
    numbers += [state.worst_force, state.conditions.needed(zone)]
    numbers += [] if pressure is None else [pressure]
    attributes = state.attributes(zone, held).values() if held else ()
    return [*numbers, *attributes]
