"""The options of `predict`, `fill` and `core` without a file: each stands for one key of a part file.

The part that they describe goes through the rules of a part file; a problem is told at the option that stands
for its key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from laminate.front.argument_text import call_text
from laminate.values.problems import Problem, Refused, both_given, wrong_order

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.pressing import Stacks
    from laminate.values.units import Value

Path = tuple[str, ...]


class Option(NamedTuple):
    """An option: the key of a part file that it stands for, what help says of it, what it takes."""

    path: Path
    help: str
    metavar: str = "QUANTITY"
    kind: type = str


NAME = "options"
CORE_TABLE, ROOM_TABLE, ZONE = ("core", "core"), ("room", "room"), ("zone", "laminate")
PLY, RESIN = ("prepreg", "ply"), ("resin", "resin")
MATERIAL = {
    "fiber_areal_weight": Option((*PLY, "fiber_areal_weight"), 'of a ply: "134 g/m^2"'),
    "prepreg_areal_weight": Option((*PLY, "prepreg_areal_weight"), "of a ply, fiber and resin"),
    "resin_content": Option((*PLY, "resin_content"), 'by weight: "35 %"'),
    "fiber_density": Option(("fiber", "fiber", "density"), '"1.79 g/cm^3 ± 0.01 (k=2)"'),
    "resin_density": Option((*RESIN, "density"), "cured, at room temperature"),
    "volatiles": Option((*PLY, "volatiles"), "by weight; then say the resin basis too"),
    "resin_basis": Option(
        (*PLY, "resin_basis"), "'as received', 'volatile-free' or 'with volatiles'", "WORDS"
    ),
}
LAMINATE = {
    "bleed": Option((*ZONE, "bleed"), 'of the resin, expected: "3 % ± 2 (tolerance)"'),
    "bleed_limit": Option((*ZONE, "bleed_limit"), "share of the resin that can bleed; default: 0 %"),
    "packing_limit": Option((*PLY, "packing_limit"), "fiber volume the form packs to, in place of its own"),
    "form": Option((*PLY, "form"), "unidirectional, non-crimp, woven or mat; packing limit", "WORD"),
    "bulk_factor": Option((*PLY, "bulk_factor"), "laid-up over cured thickness"),
    "liquid_density": Option((*RESIN, "liquid_density"), "of the resin at gel temperature"),
}
CYCLE = {
    "gel_temperature": Option(("temperature", "gel"), "of the laminate when the resin gels"),
    "maximum_temperature": Option(("temperature", "maximum"), "of tool and core, exotherm included"),
    "room_temperature": Option(("temperature", "room"), "default: 23 degC"),
    "tool_temperature": Option(("tool", "temperature"), "when the resin gels; default: that of the laminate"),
    "tool_expansion": Option(("tool", "expansion"), 'linear: "23.6e-6 /K"'),
    "clamp_force": Option(("tool", "clamp_force"), 'of the press: "600 kN"'),
    "pressure_limit": Option(("tool", "pressure_limit"), "what walls, end plates and bolts of the tool hold"),
    "compliance": Option(("tool", "compliance"), "share of the room gained per pressure"),
    "projected_area": Option((*ROOM_TABLE, "projected_area"), "core and laminates, seen by the clamp"),
    "wanted_pressure": Option((*ROOM_TABLE, "wanted_pressure"), 'at gel, above ambient: "0.3 MPa"'),
}
GAP = {"gap": Option((*ZONE, "gap"), 'cold gap between tool halves: "3 mm"')}
ROOM = {
    "room_width": Option((*ROOM_TABLE, "width"), "cold, bare tool, across the laminates"),
    "room_height": Option((*ROOM_TABLE, "height"), "cold, bare tool"),
    "room_length": Option((*ROOM_TABLE, "length"), "cold, bare tool"),
    "core_height": Option((*CORE_TABLE, "height"), "cold; beside --room-height"),
    "core_length": Option((*CORE_TABLE, "length"), "cold; beside --room-length"),
    "room_corner_radius": Option((*ROOM_TABLE, "corner_radius"), "of its four long edges"),
    "core_corner_radius": Option((*CORE_TABLE, "corner_radius"), "of its four long edges"),
}
CORE = {
    "cavity": Option((*ZONE, "cavity"), 'cold width of the cavity, without room sizes: "38.6 mm"'),
    "core_width": Option((*CORE_TABLE, "width"), "cold, across the laminate; a diameter held by ends"),
    "walls": Option((*ZONE, "walls"), "laminates the core lies on, 1 or 2", "COUNT", int),
    "held": Option((*CORE_TABLE, "held"), "no, sides or ends, beside --cavity; no default", "WORD"),
    "core_material": Option((*CORE_TABLE, "material"), "of the tables", "NAME"),
    "core_expansion": Option((*CORE_TABLE, "expansion"), 'linear: "265e-6 /K ± 5e-6 (tolerance)"'),
    "core_temperature": Option((*CORE_TABLE, "temperature"), "mean, when the resin gels"),
    "core_maximum": Option((*CORE_TABLE, "maximum"), "its own hottest mean, in a room of sizes"),
    "bulk_modulus": Option((*CORE_TABLE, "bulk_modulus"), 'of the hot core: "0.85 GPa ± 0.2 (tolerance)"'),
    "bulk_modulus_rise": Option(
        (*CORE_TABLE, "bulk_modulus_rise"), "with pressure; about 10 for silicone rubber"
    ),
    "cast_temperature": Option((*CORE_TABLE, "cast", "temperature"), "at which it is cast over a dummy"),
    "cure_shrinkage": Option((*CORE_TABLE, "cast", "cure_shrinkage"), "linear, of the core, as it is cast"),
    "platen_temperature": Option((*CORE_TABLE, "heating", "platen"), "for a core heated through both faces"),
    "start_temperature": Option((*CORE_TABLE, "heating", "start"), "of the core on the platens"),
    "heating_time": Option((*CORE_TABLE, "heating", "time"), "until the resin gels"),
    "heated_thickness": Option((*CORE_TABLE, "heating", "thickness"), "of the core between the platens"),
    "diffusivity": Option((*CORE_TABLE, "heating", "diffusivity"), 'thermal: "0.11 mm^2/s"'),
    "core_volume": Option((*CORE_TABLE, "volume"), "cold; balance of volumes, needs the next two"),
    "cavity_volume": Option((*CORE_TABLE, "cavity_volume"), "cold"),
    "laminate_area": Option((*CORE_TABLE, "laminate_area"), "all of it, for its volume"),
    "insert_volume": Option((*CORE_TABLE, "insert_volume"), "of what else lies in the cavity, cold"),
    "insert_expansion": Option((*CORE_TABLE, "insert_expansion"), "linear"),
    "limit_moldings": Option((*CORE_TABLE, "limit_moldings"), "uses of a core", "COUNT", int),
}
STACK = {
    "stack": Option(("layer", "stack", "thickness"), "in place of the prepreg: one wall, liquid full"),
    "stack_laid_up": Option((), "the same as laid up; contact, locked maximum"),
    "stack_bled": Option((), "the same bled to its limit; lowest pressure"),
}
OF_PREDICT = MATERIAL
OF_FILL = {**GAP, **LAMINATE, **CYCLE, **ROOM, **CORE, **MATERIAL}
OF_CORE = {**CORE, **ROOM, **CYCLE, **STACK, **LAMINATE, **MATERIAL}
KEYS: dict[str, Option] = {**OF_FILL, **OF_CORE}

NEEDED = {
    "resin_content": 'the resin content by weight, such as "35 %"',
    "fiber_density": 'a density, such as "1.79 g/cm^3"',
    "resin_density": 'the cured density, such as "1.30 g/cm^3"',
    "gap": 'the cold gap, such as "3 mm", the sizes of a room and its core, or a part file',
    "room_width": 'a cold size of the bare tool, such as "38.6 mm"',
    "room_height": 'a cold size of the bare tool, such as "60 mm"',
    "room_length": 'a cold size of the bare tool, such as "600 mm"',
    "core_width": 'its cold width, such as "30.64 mm"',
    "core_height": 'its cold height, such as "59.9 mm"',
    "core_length": 'its cold length, such as "599.5 mm"',
    "cavity": 'its cold width, such as "38.6 mm", the sizes of a room, or a part file',
    "held": "'no', 'sides' or 'ends'; there is no default",
    "walls": "1, or 2 where the core lies on two laminates",
    "tool_expansion": 'a linear expansion, such as "23.6e-6 /K"',
    "gel_temperature": 'the temperature of the laminate when the resin gels, such as "120 degC"',
    "core_expansion": "a linear expansion, or the material of the core",
    "stack": 'the thickness on one wall, liquid full, such as "3.00 mm", or the prepreg and its plies',
}
IN_PAIRS = (
    ("gel_temperature", "tool_expansion"),
    ("cast_temperature", "cure_shrinkage"),
    ("platen_temperature", "start_temperature", "heating_time", "heated_thickness", "diffusivity"),
    ("core_volume", "cavity_volume", "laminate_area"),
)
OTHER_PLACES = {
    "prepreg.ply": "resin_basis",  # volatiles without it
    "core.core": "core_width",
    "core.core.heating": "platen_temperature",
    "room.room": "room_width",
    "zone.laminate": "gap",
}


class _Call:
    """The options of one call: what they describe, and what is missing or wrong."""

    def __init__(self, given: Mapping[str, Any], command: str, *, spelled: bool) -> None:
        self.given = call_text({name: value for name, value in given.items() if value is not None})
        self.spelled, self.problems = spelled, list[Problem]()
        self.command = command
        self.room = any(name in self.given for name in ROOM)
        self.core = command == "core" or self.room or any(name in self.given for name in CORE)
        self.stack = any(name in self.given for name in STACK)
        self.material = any(name in self.given for name in MATERIAL)

    def place(self, option: str) -> str:
        """An option as the caller wrote it."""
        return f"--{option.replace('_', '-')}" if self.spelled else option

    def say(self, code: str, option: str, found: str, expected: str, hint: str = "") -> None:
        """Note a finding."""
        self.problems.append(Problem(code, "", self.place(option), found, expected, hint))

    def disordered(self, option: str, value: Value, relation: str, other: str, than: Value) -> None:
        """Note a finding on two options out of order; relation: 'above' or 'below'."""
        where = f"{relation} {self.place(other)}"
        self.problems.append(
            wrong_order("", self.place(option), value.text, where, than.text, f"not {where}")
        )

    def path(self, option: str) -> Path:
        """The key that an option stands for: areas and pressures belong to the room, else to core or zone."""
        path = KEYS[option].path
        if option == "tool_temperature" and self.at_gel == option:
            return KEYS["gel_temperature"].path
        if self.room or path[:2] != ROOM_TABLE:
            return path
        return (*(CORE_TABLE if self.core and option == "projected_area" else ZONE), path[-1])

    def needed(self) -> list[str]:
        """Options without which nothing can be said."""
        keys = ["stack"] if self.command == "core" and not self.material else []
        if not keys:
            keys = ["resin_content", "fiber_density", "resin_density"]
        if self.command == "predict":
            return keys
        if not self.core:
            return ["gap", *keys]
        sizes = ["core_width", "walls", "tool_expansion", "gel_temperature", "core_expansion"]
        if self.room:
            return [*(name for name in ROOM if name in NEEDED), *sizes, *keys]
        return ["cavity", *sizes, "held", *keys]

    def missing(self) -> None:
        """Note every option that is missing, alone or beside another."""
        given = {**self.given, **({"gel_temperature": ""} if self.at_gel in self.given else {})}
        for name in self.needed():
            if name in given or (name == "core_expansion" and "core_material" in given):
                continue
            self.say("missing-option", name, "nothing", NEEDED[name])
        weights = ("fiber_areal_weight", "prepreg_areal_weight")
        if not self.by_thickness and not any(name in given for name in weights):
            expected = 'the areal weight of a ply, such as "134 g/m^2", or a part file'
            self.problems.insert(
                0, Problem("missing-option", "", self.place(weights[0]), "nothing", expected)
            )
        places_named = {problem.place for problem in self.problems}
        for group in IN_PAIRS:
            there = [name for name in group if name in given]
            for name in group if there else ():
                if name not in given and self.place(name) not in places_named:
                    self.say(
                        "missing-option", name, "nothing", f"a value for it beside {self.place(there[0])}"
                    )

    @property
    def at_gel(self) -> str:
        """The option that says the temperature at gel: beside a core that of the tool will do."""
        return "gel_temperature" if "gel_temperature" in self.given or not self.core else "tool_temperature"

    @property
    def by_thickness(self) -> bool:
        """Whether the laminate is given by its thickness, not by its prepreg."""
        return self.command == "core" and not self.material

    def clashes(self) -> None:
        """Note options that cannot stand beside each other."""
        pairs = [("stack", name) for name in (*MATERIAL, *LAMINATE)] if self.stack else []
        pairs += [("gap", name) for name in (*CORE, *ROOM)]
        pairs += [("room_width", name) for name in ("cavity", "held")] if self.room else []
        pairs += [("core_temperature", "platen_temperature")]
        for option, other in pairs:
            if option in self.given and other in self.given:
                self.problems.append(both_given("", self.place(other), self.place(option), self.place(other)))

    def tables(self) -> dict[str, Any]:
        """The tables of a part file."""
        zone: dict[str, Any] = {"fill_with": "ply"}
        raw: dict[str, Any] = {
            "format": 1,
            "part": {"number": "", "issue": ""},
            "fiber": {"fiber": {"kind": "other"}},
            "resin": {"resin": {}},
            "prepreg": {"ply": {"fiber": "fiber", "resin": "resin"}},
            "zone": {"laminate": zone},
        }
        if self.by_thickness:
            raw |= {"fiber": {}, "resin": {}, "prepreg": {}}
            raw["layer"] = {"stack": {"areal_weight": "1 kg/m^2", "counts_as": "neither"}}
            zone.pop("fill_with")
            zone["stack"] = ["1 stack"]
        if self.room:
            raw["core"] = {"core": {"room": "room"}}
            zone |= {"room": "room", "side": "width"}
        elif self.core:
            zone["core"] = "core"
        for name, value in self.given.items():
            path = self.path(name)
            if not path:
                continue
            table = raw
            for key in path[:-1]:
                table = table.setdefault(key, {})
            table[path[-1]] = value
        if "temperature" in raw:
            raw["temperature"].setdefault("room", "23 degC")
        return raw

    def told(self, refused: Sequence[Problem]) -> list[Problem]:
        """Problems of the part file at the options that stand for its keys."""
        exact = {".".join(self.path(name)): name for name in KEYS if self.path(name)}
        near = {**OTHER_PLACES, **({"zone.laminate": "cavity"} if self.core and not self.room else {})}
        names = exact if self.problems else {**near, **exact}
        missing = {problem.place for problem in self.problems}
        problems = [
            replace(
                p, file="", place=self.place(names[p.place]), found=p.found.replace(" (zone.laminate)", "")
            )
            for p in refused
            if p.place in names and not (self.problems and p.code == "missing-key")
        ]
        # a key that is missing is told by the option that is missing
        named = [p for p in problems if p.place not in missing]
        return named or ([] if self.problems else [replace(p, file="") for p in refused])


def part_of_options(given: Mapping[str, Any], command: str = "fill", *, spelled: bool = False) -> Part:
    """The part that options describe: one laminate in one zone, 'laminate', with a core or without.

    given: option -> quantity, word or None, names as in `KEYS`; command: predict, fill or core; spelled:
    places of problems as typed on the command line (`--fiber-density`). Raises `Refused` with every finding,
    each at its option.
    """
    from laminate.files.part import part_of

    call = _Call(given, command, spelled=spelled)
    call.missing()
    call.clashes()
    try:
        part = part_of(call.tables(), NAME)
    except Refused as refusal:
        call.problems += call.told(refusal.problems)
    if call.problems:
        raise Refused(call.problems)
    return part


@contextmanager
def at_options(given: Mapping[str, Any], command: str, *, spelled: bool = False) -> Iterator[None]:
    """Raise problems of the part that options describe at the options that stand for its keys."""
    try:
        yield
    except Refused as refusal:
        raise Refused(_Call(given, command, spelled=spelled).told(refusal.problems)) from None


def stacks_of_options(given: Mapping[str, Any], *, spelled: bool = False) -> Stacks | None:
    """The thicknesses of a laminate that is not given by its prepreg; None where it is. Raises `Refused`."""
    call = _Call(given, "core", spelled=spelled)
    if not call.stack:
        return None
    from laminate.files import toml
    from laminate.press.pressing import Stacks

    full, laid_up, bled = (_length(call, name, toml.Length) for name in STACK)
    if full and bled and bled.value > full.value:
        call.disordered("stack_bled", bled, "above", "stack", full)
    if laid_up and bled and laid_up.value < bled.value:
        call.disordered("stack_laid_up", laid_up, "below", "stack_bled", bled)
    if call.problems:
        raise Refused(call.problems)
    return Stacks(full, laid_up, bled) if full else None


def _length(call: _Call, name: str, kind: Any) -> Any:
    """A length of the options, None where it is not given or, with its finding noted, cannot be read."""
    from laminate.files.toml import read_as

    if name not in call.given:
        return None
    try:
        return read_as(kind, call.given[name], call.place(name))
    except Refused as refusal:
        if name != "stack":  # that one is read with the part
            call.problems += refusal.problems
        return None
