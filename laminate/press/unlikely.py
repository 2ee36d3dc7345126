"""Values that hardly any part has, or that contradict each other: slips of digit, unit or key."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from laminate.files.slip_checks import tabulated_range
from laminate.formulas import ply
from laminate.formulas.cavity import CLOSE_PACKED
from laminate.press import stack
from laminate.press.case import core_temperature
from laminate.press.material import RUBBER_MODULUS, acts_as_rubber, of_tables
from laminate.press.names import COMPLIANCE, CURE, GEL, MAXIMUM, ROOM, TOOL, TOOL_T
from laminate.values.input_key import Key
from laminate.values.quantities import CM2, DEG_C, G_CM3, GPA, KELVIN, MM, MPA, NUMBER, PER_K, PERCENT
from laminate.values.said import Figure, Said, between
from laminate.values.units import SIValue, scale

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.case import ZoneCase

    Doubt = tuple[Key, Said]

# Common practice, no source.
FIBERS = {"glass": (2000.0, 2800.0), "carbon": (1500.0, 2300.0), "aramid": (1300.0, 1600.0)}
"""Densities that a kind of fiber has, hollow ones apart [kg/m^3]."""
FACES: dict[str, list[tuple[float, *tuple[str, ...]]]] = {
    "box": [(1.0, "width", "height"), (1.0, "width", "length"), (1.0, "height", "length")],
    "round": [(1.0, "diameter", "length"), (math.pi / 4.0, "diameter", "diameter")],
}
"""Areas of a room as seen from each side: a factor, and the sizes that it multiplies."""
LIQUID = (0.80, 0.98)
"""Of a resin as it gels, density over that cured and cold: it has shrunk neither by cure nor by cooling."""
ROOMS = (278.15, 313.15)
"""Temperature at which sizes of a tool are measured [K]."""
HOTTER = 10.0
"""Least rise over room temperature at which the resin of a prepreg gels [K]."""
DENSEST_LAYER = 9000.0
"""Of copper mesh, areal weight over thickness [kg/m^3]."""
EXPANSIONS = {"rubber": (100e-6, 400e-6), "a hard core": (0.5e-6, 220e-6), "a tool": (0.5e-6, 34e-6)}
"""Linear [1/K]. Silicone is tabulated at 200 to 300e-6 /K, PTFE up to 216e-6 /K; the rest from memory: filled
epoxy of tools up to 34e-6 /K, below steel by volume."""
DIFFUSIVITIES = {
    "rubber": (5e-8, 8e-7, "0.05 to 0.8 mm^2/s"),
    "a hard core": (5e-8, 2e-4, "0.05 to 200 mm^2/s"),
}
"""Of heat [m^2/s]: filled silicone 6e-7, aluminium 7e-5, graphite 2e-4, from memory."""
NEAR_SIZE = 0.1
"""So far may the heated thickness of a core be from a size of it; no source."""
LONGEST, GELS_SOON = 8 * 3600.0, 363.15
"""No resin that gels so hot [K] takes longer to gel [s]; no source."""
HOTTER_PLATEN = 5.0
"""So much may a platen be above the highest temperature of tool and core [K]; no source."""
CARBON = -1e-6
"""Least of a tool whose material is named: carbon along its fibers, from memory [1/K]."""
RISES = (5.0, 20.0)
"""Of the bulk modulus of rubber with pressure [-]; about 10 is tabulated, the rest from memory."""
TOOL_APART = 40.0
"""Most that a tool is colder or hotter than its laminate as that gels, no source [K]."""
SOFTEST = 1e-9
"""Largest compliance of a tool: 0.1 % of the volume of a room for each MPa, no source [1/Pa]."""
CLOSES_UP = 3e4
"""Pressure over ambient that hardly less than closes a laminate up, no source [Pa]."""
MOST_RESIN, STRUCTURAL = 0.60, 0.06
"""Most resin by weight of a prepreg with so much fiber [kg/m^2], from memory; films and veils have more."""
AREA = 1.5
"""Largest factor between a projected area and the face of the room that it is of, no source."""
FAR = 3.5
"""Standard uncertainties of both that a lot's value may lie from the part's unasked."""
LOTS = {"areal_weight": 0.04, "resin_content": 0.08, "density": 0.02}
"""So far over the part's value lies an ordinary lot, however well both are known [-]; a density that has a ±
does not."""
ROUNDED = 5e-5
"""Half-width of a cold size without ±, beside half of its last digit [m]."""


def unlike_kinds(part: Part, prepregs: Iterable[str], made: stack.Ingredients | None = None) -> list[str]:
    """What is unlikely of the densities of prepregs; made: material values, those of the part where None."""
    values = (made or stack.ingredients(part)).values
    pairs = dict.fromkeys((part.prepreg[name].fiber, part.prepreg[name].resin) for name in prepregs)
    sentences: list[str] = []
    for fiber, resin in pairs:
        densities = [values[Key(*of, "density")] for of in (("fiber", fiber), ("resin", resin))]
        sentences += unlike_densities((fiber, resin), part.fiber[fiber].kind, *densities)
    return [*dict.fromkeys(sentences)]


def unlike_densities(
    names: tuple[str, str], kind: str, fiber: SIValue, resin: SIValue | None
) -> Iterator[str]:
    """That fibers of a kind have no such density, or that it is below that of a known resin [kg/m^3]."""
    low, high = FIBERS.get(kind, (0.0, math.inf))
    if resin is not None and fiber.value < resin.value:
        below = f"{names[0]} density {fiber.text} is below that of {names[1]}, {resin.text}: "
        yield below + "hardly any fiber is lighter than its resin; check whether the two were exchanged"
    elif not low <= fiber.value <= high:
        text = f"{names[0]} density {fiber.text} is not that of {kind}, "
        yield Said(text, between(low, high, G_CM3, 2), ": check digits and unit")


def unlikely(case: ZoneCase) -> dict[Key, Said]:
    """What must be checked before a count of the zone is used, a sentence by the key where it is written."""
    return {
        key: words
        for doubts in (
            _materials,
            _cores,
            _expansions,
            _heating,
            _lagging,
            _hotter,
            _room,
            _press,
            _gap,
            _lots,
        )
        for key, words in doubts(case)
    }


def _materials(case: ZoneCase) -> Iterator[Doubt]:
    """Of the resins, layers and forms that lie in the zone."""
    part, values = case.part, case.made.values
    for name in stack.names_of(part, case.name):
        if name.quantity == "liquid_density" and name in values:
            liquid, cured = values[name], values[name._replace(quantity="density")]
            low, high = LIQUID
            if not low * cured.value <= liquid.value <= high * cured.value:
                has = Said(" is unusual beside the cured density ", cured.text)
                usual = between(low * cured.value, high * cured.value, G_CM3, 3)
                yield name, Said(f"{name} {liquid.text}", has, ": as it gels usually ", usual, "; check both")
    for item in stack.items_of(case.zone):
        if item in part.layer:
            layer = part.layer[item]
            density = layer.areal_weight.value / layer.thickness.value
            if density > DENSEST_LAYER:
                weighs = Said(f"layer {item} has a density of ", Figure(density, G_CM3, 2), ", above copper")
                yield Key("layer", item, "thickness"), Said(weighs, ": check areal weight and thickness")
        elif (limit := part.prepreg[item].packing_limit) is not None and limit.value > CLOSE_PACKED:
            most = Said(": round fibers side by side fill ", Figure(CLOSE_PACKED, PERCENT, 3), " at most")
            yield Key("prepreg", item, "packing_limit"), Said(f"{item} packing limit {limit.text}", most)
    yield from _rich(part, stack.prepregs_of(part, case.zone), case.made)


def _rich(part: Part, prepregs: Iterable[str], made: stack.Ingredients) -> Iterator[Doubt]:
    """Resin contents of structural prepregs that may be their fiber contents."""
    for name in (name for name in prepregs if part.prepreg[name].form != "mat"):
        content, weight = (
            made.values[Key("prepreg", name, what)] for what in ("resin_content", "areal_weight")
        )
        fiber = weight.value * (1.0 - content.value if name in made.of_prepreg else 1.0)
        if content.value > MOST_RESIN and fiber >= STRUCTURAL:
            most = Said(", hardly any has more than ", Figure(MOST_RESIN, PERCENT, 2))
            yield (
                Key("prepreg", name, "resin_content"),
                Said(f"{name} resin content {content.text}", most, ": check whether it is that of the fiber"),
            )


def _cores(case: ZoneCase) -> Iterator[Doubt]:
    """Bulk moduli of rubber that no rubber has, as one in MPa for GPa; also those along temperature."""
    low, high = RUBBER_MODULUS
    for name in case.cores:
        core, heat = case.part.core[name], case.part.heat.core.get(name)
        made_of = of_tables(core)
        if core.acts_as == "hard" and made_of.get("acts_as") == "rubber":
            yields = f"{name}: {made_of['name']} yields and presses, and is no hard core: leave acts_as out"
            yield Key("core", name, "acts_as"), Said(yields)
        values = [core.bulk_modulus, *(value for _, value in (heat.bulk_modulus if heat else ()))]
        for value in values if acts_as_rubber(core) else ():
            if value is not None and not low <= value.value <= high:
                none = f"{name}: a bulk modulus of {value.text} is not that of rubber: silicone rubber has "
                of_silicone = between(0.6e9, 1.2e9, GPA)
                usual = Said("about ", of_silicone, " at room temperature, less when hot (no source)")
                rests = ": check value and unit, as every pressure rests on it"
                yield Key("core", name, "bulk_modulus"), Said(none, usual, rests)
        rise, (least, most) = core.bulk_modulus_rise, RISES
        if rise is not None and acts_as_rubber(core) and not least <= rise.value <= most:
            none = f"{name}: a bulk_modulus_rise of {rise.text} is not that of rubber, about 10 ("
            usual = Said(between(least, most, NUMBER), "; no source): check its digits")
            yield Key("core", name, "bulk_modulus_rise"), Said(none, usual)


def _expansions(case: ZoneCase) -> Iterator[Doubt]:
    """Expansions that no tool or core has, as one of volume; those of a tabulated material are refused."""
    part = case.part
    tool = part.tool.material if part.tool is not None else None
    inner = Key("zone", case.name, "inner_expansion")
    tables = {TOOL: ("a tool", tool), inner: ("a hard core", case.zone.inner_material)}
    for name in case.cores:
        kind = "rubber" if acts_as_rubber(part.core[name]) else "a hard core"
        tables[Key("core", name, "expansion")] = kind, part.core[name].material
    for key, (kind, material) in tables.items():
        value, (low, high) = case.inputs.values.get(key), EXPANSIONS[kind]
        if value is None or key in case.inputs.notes:
            continue
        if kind == "a tool" and material:
            low = CARBON
        unknown = tabulated_range(str(material), value.value) == (value.value, value.value)
        if unknown and not low <= value.value <= high:
            usual = between(low, high, PER_K)
            hint = ": check digits and unit"
            if value.value > high:
                hint += ", and that it is linear, a third of that by volume"
            if kind == "rubber":
                hint += ', or write acts_as = "hard" where the core does not yield'
            elif low > value.value > CARBON:
                hint += ", and name its material"
            yield key, Said(f"{key} {value.text} is not that of {kind}, ", usual, " (no source)", hint)


def _heating(case: ZoneCase) -> Iterator[Doubt]:
    """What heats cores through both faces, against their sizes, the gel and the highest temperature."""
    gel, maximum = map(case.inputs.values.get, (GEL, MAXIMUM))
    for name in case.cores:
        core = case.part.core[name]
        heat, heated = core.heating, f"core {name} is heated"
        if heat is None:
            continue
        sizes = [s for s in (core.width, core.height, core.diameter) if s is not None]
        row = [width.value for each in case.cores if (width := case.part.core[each].width) is not None]
        near = [*(s.value for s in sizes), sum(row)]  # a row of cores passes its heat on
        unlike = all(abs(heat.thickness.value - size) > NEAR_SIZE * size for size in near)
        if sizes and unlike and core.clearance is None:
            has = " and ".join(s.text for s in sizes)
            words = f"{heated} as {heat.thickness.text} thick, but has {has}: check which, as it warms by it"
            yield Key("core", name, "heating.thickness"), Said(words)
        kind = "rubber" if acts_as_rubber(core) else "a hard core"
        low, high, usual = DIFFUSIVITIES[kind]
        if not low <= heat.diffusivity.value <= high:
            words = f"{heated} with a diffusivity of {heat.diffusivity.text}, not that of {kind}, "
            yield Key("core", name, "heating.diffusivity"), Said(f"{words}{usual} (memory): check the unit")
        if heat.time.value > LONGEST and gel is not None and gel.value > GELS_SOON:
            words = (
                f"{heated} for {heat.time.text} until the resin gels, at {gel.text}: check number and unit"
            )
            yield Key("core", name, "heating.time"), Said(words)
        known = HOTTER_PLATEN + heat.platen.spread + (maximum.spread if maximum is not None else 0.0)
        if maximum is not None and heat.platen.value - maximum.value > known:
            words = f"{heated} by a platen of {heat.platen.text}, above {MAXIMUM} {maximum.text}: check both"
            yield Key("core", name, "heating.platen"), Said(words)


def _lagging(case: ZoneCase) -> Iterator[Doubt]:
    """Hottest means of cores that lag the laminate's cure by more than they lagged its gel."""
    for name in case.cores:
        key, values = Key("core", name, "maximum"), case.inputs.values
        hottest, cure, gel = map(values.get, (key, CURE, GEL))
        if hottest is None or cure is None or gel is None:
            continue
        at_gel = core_temperature(case.part.core[name], name, case.inputs.numbers())
        known = math.hypot(hottest.spread, cure.spread)
        if cure.value - hottest.value > max(gel.value - at_gel, 0.0) + known:
            lags = f"{key} {hottest.text} is below {CURE} {cure.text}, by more than the core lags at gel: "
            yield key, Said(lags, "it can press harder after gel than computed; check its digits")


def _hotter(case: ZoneCase) -> Iterator[Doubt]:
    """A temperature of the tool at gel that those of the cycle contradict."""
    tool, gel, highest = map(case.inputs.values.get, (TOOL_T, GEL, MAXIMUM))
    if case.part.tool is None or tool is None or gel is None:
        return
    if case.part.tool.maximum is None and highest is not None and tool.above(highest):
        above = f"{TOOL_T} {tool.text} is above {MAXIMUM} {highest.text}, the highest of tool and core"
        yield TOOL_T, Said(f"{above}: check both")
    elif abs(tool.value - gel.value) > TOOL_APART:
        apart = Said(" is more than ", Figure(TOOL_APART, KELVIN), f" from {GEL} {gel.text}: ")
        yield TOOL_T, Said(f"{TOOL_T} {tool.text}", apart, "check number and unit")


def _press(case: ZoneCase) -> Iterator[Doubt]:
    """A tool that gives way as none does, a pressure that presses nothing, an area that no face has."""
    gives, wanted, room = case.inputs.values.get(COMPLIANCE), case.wanted, case.room
    if gives is not None and gives.value > SOFTEST:
        most = Figure(SOFTEST * 1e6, PERCENT, 1)
        volume = Said(" takes up more than ", most, " of the room's volume for each MPa")
        yield COMPLIANCE, Said(f"{COMPLIANCE} {gives.text}", volume, ": check its unit")
    if wanted is not None and 0.0 < wanted.value < CLOSES_UP:
        of = ("zone", case.name) if case.zone.room is None else ("room", case.zone.room)
        least = Said("; hardly less than ", Figure(CLOSES_UP, MPA), " closes a laminate up (no source)")
        yield Key(*of, "wanted_pressure"), Said(f"{case.name}: wanted_pressure is {wanted.text}", least)
    area, x = case.inputs.values.get(room.area) if room is not None else None, case.inputs.numbers()
    if room is None or area is None or not {*room.sizes.values()} <= x.keys():
        return
    sides = FACES.get(room.kind, []) if {*room.directions} == {*room.sizes} else []
    faces = [factor * math.prod(room.size(what, x) for what in sizes) for factor, *sizes in sides]
    near = any(face / AREA < area.value < face * AREA for face in faces)
    if (
        faces and not near and area.value < max(faces)
    ):  # more than a face, as of several rooms, is on the safe side
        areas = Said("its faces have ", between(min(faces), max(faces), CM2), "; check it")
        key = Key("room", room.name, "projected_area")
        yield key, Said(f"{key} {area.text} is that of no face of its room: ", areas)


def _room(case: ZoneCase) -> Iterator[Doubt]:
    """A room temperature at which nobody measures a tool."""
    room, gel, (low, high) = *map(case.inputs.values.get, (ROOM, GEL)), ROOMS
    if room is not None and gel is not None and gel.value < room.value + HOTTER:
        words = Said(f"{GEL} {gel.text} is less than ", Figure(HOTTER, KELVIN), f" above {ROOM} {room.text}")
        yield GEL, Said(words, ": check number and unit")
    if room is not None and not low <= room.value <= high:
        at, usual = Figure(room.value, DEG_C, 3), between(low, high, DEG_C)
        words = Said(f"{ROOM} {room.text}, ", at, " is not one at which tools are measured, ", usual)
        yield ROOM, Said(words, ": check number and unit")


def _gap(case: ZoneCase) -> Iterator[Doubt]:
    """A gap that is not what its two half-widths leave, within their ±."""
    zone = case.zone
    if zone.gap is None or zone.outer_half_width is None or zone.inner_half_width is None:
        return
    sizes = (zone.gap, zone.outer_half_width, zone.inner_half_width)
    left = sizes[1].value - sizes[2].value
    if abs(sizes[0].value - left) > math.fsum(map(_open, sizes)):
        of = Said(f"{case.name} gap {sizes[0].text} is not what its half-widths leave, ", Figure(left, MM))
        yield Key("zone", case.name, "gap"), Said(of, ": check the three, or write a ± where one is rounded")


def _open(size: SIValue) -> float:
    """How far a cold size may be from what is written: twice its u, else half of its last digit more [m]."""
    if size.u is not None:
        return 2.0 * size.u
    decimals = re.match(r"[^.]*\.(\d+)", size.text)
    last_digit = 10.0 ** -len(decimals[1] if decimals else "")
    return ROUNDED + 0.5 * last_digit * scale(size.unit or "m", "length")[0]


def _lots(case: ZoneCase) -> Iterator[Doubt]:
    """Areal weights and resin contents of the lots of the zone, densities that its batch states."""
    names = stack.names_of(case.part, case.name)
    for name, words in restated(case.part, case.made):
        if name in names and name.quantity in LOTS:
            yield name._replace(table="lot") if name.table == "prepreg" else name, words


def restated(part: Part, made: stack.Ingredients) -> Iterator[Doubt]:
    """Values of lots and of a batch file far from those of the part file; made: with those of the batch."""
    nominal = stack.ingredients(part)
    for name, value in made.values.items():
        usual, of_part = nominal.values.get(name), name.name in nominal.of_prepreg
        if usual is None or made.origins[name] == stack.NOMINAL:
            continue
        unlike, there = name.quantity == "areal_weight" and (name.name in made.of_prepreg) != of_part, usual
        if name.quantity == "resin_content" and made.bases[name.name] != nominal.bases[name.name]:
            continue
        spread, least = usual.spread, LOTS.get(name.quantity, 0.0)
        least = 0.0 if spread and name.quantity == "density" else least
        if unlike:
            share = _fiber_share(nominal, name.name)
            factor = share if of_part else 1.0 / share
            there, spread = replace(usual, value=factor * usual.value), factor * spread
        far = max(FAR * math.hypot(value.spread, spread), least * there.value)
        if (spread or least) and abs(value.value - there.value) > far:
            of, other = (" of the fiber", " of the prepreg")[:: 1 if of_part else -1] if unlike else ("", "")
            text = f"{name} {value.text}{of} ({made.origins[name]}) is far from {usual.text}{other} of the"
            which = ", and whether fiber or prepreg" if unlike else ""
            yield name, Said(f"{text} part file: check its digits", which)


def _fiber_share(nominal: stack.Ingredients, prepreg: str) -> float:
    """Fiber of a prepreg by weight, as the part file has it."""
    shares = {w: nominal.values[Key("prepreg", prepreg, w)].value for w in ("resin_content", "volatiles")}
    basis = nominal.bases[prepreg]
    return float(ply.fiber_areal_weight(prepreg_areal_weight=1.0, resin_basis=basis, **shares))
