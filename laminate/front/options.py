"""The options of `predict`, `fill` and `core` without a file: each stands for one key of a part file.

The part that they describe goes through the rules of a part file; a problem is told at the option that stands
for its key.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from laminate.front.given import file_text, one_variable_each
from laminate.values.problems import Problem, Refused

if TYPE_CHECKING:
    from laminate.files.part import Part

NAME = "options"
MATERIAL = {
    "fiber_areal_weight": ("prepreg", "ply", "fiber_areal_weight"),
    "prepreg_areal_weight": ("prepreg", "ply", "prepreg_areal_weight"),
    "resin_content": ("prepreg", "ply", "resin_content"),
    "fiber_density": ("fiber", "fiber", "density"),
    "resin_density": ("resin", "resin", "density"),
    "volatiles": ("prepreg", "ply", "volatiles"),
    "resin_basis": ("prepreg", "ply", "resin_basis"),
}
GAP = {
    "gap": ("zone", "laminate", "gap"),
    "bleed_limit": ("zone", "laminate", "bleed_limit"),
    "packing_limit": ("prepreg", "ply", "packing_limit"),
    "form": ("prepreg", "ply", "form"),
    "bulk_factor": ("prepreg", "ply", "bulk_factor"),
    "tool_expansion": ("tool", "expansion"),
    "gel_temperature": ("temperature", "gel"),
    "room_temperature": ("temperature", "room"),
    "liquid_density": ("resin", "resin", "liquid_density"),
}
KEYS: dict[str, tuple[str, ...]] = {**MATERIAL, **GAP}
NEEDED = {
    "resin_content": 'the resin content by weight, such as "35 %"',
    "fiber_density": 'a density, such as "1.79 g/cm^3"',
    "resin_density": 'the cured density, such as "1.30 g/cm^3"',
    "gap": 'the cold gap, such as "3 mm", or a part file',
}
START: dict[str, Any] = {
    "format": 1,
    "part": {"number": "", "issue": ""},
    "fiber": {"fiber": {"kind": "other"}},
    "resin": {"resin": {}},
    "prepreg": {"ply": {"fiber": "fiber", "resin": "resin"}},
    "zone": {"laminate": {"fill_with": "ply"}},
}


def part_of_options(given: Mapping[str, Any], *, spelled: bool = False) -> Part:
    """The part that options describe: one prepreg in one zone, 'laminate'.

    given: option -> quantity, word or None, names as in `KEYS`; spelled: places of problems as typed on the
    command line (`--fiber-density`). Raises `Refused` with every finding, each at its option.
    """
    from laminate.files.part import part_of

    def place(option: str) -> str:
        return f"--{option.replace('_', '-')}" if spelled else option

    stated = {name: value for name, value in given.items() if value is not None}
    one_variable_each(stated)
    problems = [
        Problem("missing-option", "", place(name), "nothing", words)
        for name, words in NEEDED.items()
        if name not in stated and (name != "gap" or "gap" in given)
    ]
    weights = [name for name in ("fiber_areal_weight", "prepreg_areal_weight") if name in stated]
    if not weights:
        expected = 'the areal weight of a ply, such as "134 g/m^2", or a part file'
        problems.insert(0, Problem("missing-option", "", place("fiber_areal_weight"), "nothing", expected))
    for name, other in (("gel_temperature", "tool_expansion"), ("tool_expansion", "gel_temperature")):
        if name not in stated and other in stated:
            expected = f"a value for it beside {place(other)}"
            problems.append(Problem("missing-option", "", place(name), "nothing", expected))
    raw = _copy(START)
    for name, value in stated.items():
        table = raw
        for key in KEYS[name][:-1]:
            table = table.setdefault(key, {})
        table[KEYS[name][-1]] = file_text(value, place(name))
    if "temperature" in raw:
        raw["temperature"].setdefault("room", "23 degC")
    options = {".".join(path): place(name) for name, path in KEYS.items()}
    options["prepreg.ply"] = place("resin_basis")  # volatiles without it
    try:
        part = part_of(raw, NAME)
    except Refused as refusal:
        missing = {problem.place for problem in problems}
        told = [
            replace(p, file="", place=options.get(p.place, p.place))
            for p in refusal.problems
            if weights or p.place != "prepreg.ply"
        ]
        # a key that is missing is told by the option that is missing
        problems += [p for p in told if p.place not in missing and p.place in options.values()] or (
            [] if problems else told
        )
    if problems:
        raise Refused(problems)
    return part


def _copy(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: _copy(value) if isinstance(value, Mapping) else value for key, value in table.items()}
