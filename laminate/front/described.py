"""The part that options describe where there is no file: it goes through the rules of a part file.

A problem is told at the option that stands for its key.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from laminate.front.options import (
    CORE,
    FILL,
    CoreHeat,
    CoreSizes,
    CoreVolumes,
    Laminate,
    Material,
    RoomSizes,
    Stacked,
    table,
)
from laminate.values.problems import Problem, Refused, both_given

if TYPE_CHECKING:
    from laminate.files.part import Part

NAME = "options"
CORE_TABLE, ROOM_TABLE, ZONE = ("core", "core"), ("room", "room"), ("zone", "laminate")
KEYS = {**FILL.without_file, **CORE.without_file}
"""Every option that describes a part."""
MATERIAL, LAMINATE, ROOM, SIZES, STACK = (
    tuple(table(*groups))
    for groups in ([Material], [Laminate], [RoomSizes], [CoreSizes, CoreHeat, CoreVolumes], [Stacked])
)

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


class PartFromOptions:
    """The options of one call: the part that they describe, and what is missing or wrong.

    given: option -> quantity, word or count, as text; command: predict, fill or core; place: an option as the
    caller wrote it.
    """

    def __init__(self, given: Mapping[str, Any], command: str, place: Callable[[str], str]) -> None:
        self.given, self.command, self.place = given, command, place
        self.problems: list[Problem] = []
        self.room = any(name in given for name in ROOM)
        self.core = command == "core" or self.room or any(name in given for name in SIZES)
        self.stack = any(name in given for name in STACK)
        self.material = any(name in given for name in MATERIAL)

    def say(self, code: str, option: str, found: str, expected: str, hint: str = "") -> None:
        """Note a finding."""
        self.problems.append(Problem(code, "", self.place(option), found, expected, hint))

    def path(self, option: str) -> tuple[str, ...]:
        """The key that an option stands for: areas and pressures belong to the room, else to core or zone."""
        path = KEYS[option].path
        if option == "tool_temperature" and self.at_gel == option:
            return KEYS["gel_temperature"].path
        if self.room or path[:2] != ROOM_TABLE:
            return path
        return (*(CORE_TABLE if self.core and option == "projected_area" else ZONE), path[-1])

    def needed(self) -> list[str]:
        """Options without which nothing can be said."""
        keys = ["stack"] if self.by_thickness else ["resin_content", "fiber_density", "resin_density"]
        if self.command == "predict":
            return keys
        if not self.core:
            others = {*self.given} & {*KEYS} - {*IN_PAIRS[0]}
            of_tool = any(KEYS[name].path[:1] == ("tool",) for name in others)
            return ["gap", *keys, *(reversed(IN_PAIRS[0]) if of_tool else ())]
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
            self.say("missing-option", weights[0], "nothing", expected)
            self.problems.insert(0, self.problems.pop())
        places_named = {problem.place for problem in self.problems}
        for group in IN_PAIRS:
            there = [self.place(name) for name in group if name in given]
            for name in group if there else ():
                if name not in given and self.place(name) not in places_named:
                    self.say("missing-option", name, "nothing", f"{there[0]} needs a value for it")

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
        pairs += [("gap", name) for name in (*SIZES, *ROOM)]
        pairs += [("room_width", name) for name in ("cavity", "held")] if self.room else []
        pairs += [("core_temperature", "platen_temperature")]
        for option, other in pairs:
            if option in self.given and other in self.given:
                self.problems.append(both_given("", self.place(other), self.place(option), self.place(other)))

    def tables(self) -> dict[str, Any]:
        """The tables of a part file."""
        zone: dict[str, Any] = {"stack": ["1 stack"]} if self.by_thickness else {"fill_with": "ply"}
        raw: dict[str, Any] = {"format": 1, "part": {"number": "", "issue": ""}}
        raw |= {"fiber": {}, "resin": {}, "prepreg": {}}
        if not self.by_thickness:
            raw |= {"fiber": {"fiber": {"kind": "other"}}, "resin": {"resin": {}}}
            raw["prepreg"] = {"ply": {"fiber": "fiber", "resin": "resin"}}
        raw["zone"] = {"laminate": zone}
        if self.by_thickness:
            raw["layer"] = {"stack": {"areal_weight": "1 kg/m^2 (exact)", "counts_as": "neither"}}
        if self.room:
            raw["core"] = {"core": {"room": "room"}}
            zone |= {"room": "room", "side": "width"}
        elif self.core:
            zone["core"] = "core"
        for name, value in self.given.items():
            if path := self.path(name):
                inner = raw
                for key in path[:-1]:
                    inner = inner.setdefault(key, {})
                inner[path[-1]] = value
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

    def part(self) -> Part | None:
        """One laminate in one zone, 'laminate', with a core or without; None where something is wrong."""
        from laminate.files.part import part_of

        self.missing()
        self.clashes()
        try:
            part = part_of(self.tables(), NAME)
        except Refused as refusal:
            self.problems += self.told(refusal.problems)
            return None
        return None if self.problems else part
