"""The inputs of a press by name, and its rooms: of [room], or mapped from the keys of older part files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.files.press_checks import APART, MIXED, several_cores
from laminate.press.case import ZoneCase, take_core, take_stack, temperatures
from laminate.press.material import acts_as_rubber, take_modulus
from laminate.press.names import COMPLIANCE, CURE, FORCE, GEL, MAXIMUM, PRESSURE_LIMIT, TOOL_MAXIMUM, VOID
from laminate.press.rooms import CoreShape, Room, Side, directions
from laminate.press.shared_inputs import SharedInputs
from laminate.press.stack import Ingredients, ingredients
from laminate.values.input_key import Key, Name
from laminate.values.problems import Problem, Refused, missing_key
from laminate.values.quantities import MPA
from laminate.values.said import Figure, Said
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Part, Zone


def zone_case(
    part: Part, name: str, file: str, made: Ingredients | None = None, void_content: SIValue | None = None
) -> ZoneCase:
    """The zone with all its inputs; raises `Refused` where the part does not say enough for a gap."""
    zone, inputs, room = part.zone[name], SharedInputs(), None
    if zone.bladder is None:
        if zone.gap is None and zone.core is None and zone.room is None:
            expected = "a length; or cavity and core, room and side, or bladder"
            raise Refused(missing_key(file, f"zone.{name}", "gap", expected))
        temperatures(part, inputs, file, [name])
        take_gap(name, zone, inputs)
        room = _beside(part, name, inputs, file)
    case = ZoneCase(part, name, made or ingredients(part), inputs, room)
    take_stack(case)
    inputs.values[VOID] = void_content or SIValue(0.0)
    inputs.exact.add(VOID)
    return case


def _beside(part: Part, name: str, inputs: SharedInputs, file: str) -> Room | None:
    """The room that a zone shares with cores, with the sizes across the zone alone."""
    zone, taken = part.zone[name], SharedInputs()
    if zone.room is not None:
        room = new_room(part, zone.room, taken, file)
    elif zone.core is not None:
        room = old_room(part, zone.core, taken, file)
    else:
        return None
    across = room.directions_of(name)
    tables = (room.sizes, *(core.sizes for core in room.cores))
    sizes: set[Name] = {table[what] for table in tables for what in across}
    sizes |= {side.share for side in room.sides if not side.areas}
    for core in room.cores:
        take_core(part, core.name, inputs)
    inputs.values |= {name: value for name, value in taken.values.items() if name in sizes}
    inputs.exact |= taken.exact
    return room


def take_gap(name: str, zone: Zone, inputs: SharedInputs) -> None:
    """Take the gap of a zone between tool halves."""
    if zone.gap is None:
        return
    inputs.values[Key("zone", name, "gap")] = zone.gap
    if zone.outer_half_width is not None and zone.inner_half_width is not None:
        inputs.values[Key("zone", name, "outer_half_width")] = zone.outer_half_width
        inputs.values[Key("zone", name, "inner_half_width")] = zone.inner_half_width
        key, place = Key("zone", name, "inner_expansion"), f"zone.{name}.inner_material"
        inputs.expansion(key, zone.inner_material, zone.inner_expansion, place)


def take_cycle(part: Part, inputs: SharedInputs, file: str) -> None:
    """Take the temperatures of the cycle, the tool and the press."""
    cycle, tool = part.temperature, part.tool
    zones = [name for name, zone in part.zone.items() if zone.bladder is None]
    if zones:
        temperatures(part, inputs, file, zones)
    if cycle is not None:
        inputs.take({GEL: inputs.values.get(GEL, cycle.gel), CURE: cycle.cure, MAXIMUM: cycle.maximum})
    highest = _highest(part)
    if highest is not None and MAXIMUM not in inputs.values:
        inputs.notes[MAXIMUM] = f"{MAXIMUM}: not given, taken as {highest.text}: an exotherm goes above it"
    rubber = any(acts_as_rubber(core) for core in part.core.values())
    if highest is not None and rubber and (tool is None or tool.maximum is None):
        lags = "a tool cooler than its core gives more pressure"
        inputs.steady[TOOL_MAXIMUM] = f"{TOOL_MAXIMUM}: not given, taken as the maximum temperature: {lags}"
    if tool is None:
        return
    limits = ("maximum", "clamp_force", "pressure_limit", "compliance")
    inputs.take({Key("tool", "", what): getattr(tool, what) for what in limits})
    inputs.exact |= {FORCE, PRESSURE_LIMIT}
    if not tool.compliance.value:
        inputs.notes[COMPLIANCE] = f"{COMPLIANCE}: taken as 0, a rigid tool, so the pressure is overestimated"


def take_areas(part: Part, inputs: SharedInputs) -> None:
    """Take projected areas, stated bleed and pressures of bladders."""
    for table, items in (("core", part.core), ("zone", part.zone), ("room", part.room)):
        inputs.take({Key(table, name, "projected_area"): item.projected_area for name, item in items.items()})
    inputs.take({Key("bladder", name, "pressure"): table.pressure for name, table in part.bladder.items()})
    for name, zone in part.zone.items():
        inputs.take({Key("zone", name, "bleed"): zone.bleed, Key("zone", name, "area"): zone.area})


def _highest(part: Part) -> SIValue | None:
    """The highest temperature of the cycle that is stated."""
    cycle = part.temperature
    stated = (cycle.maximum, cycle.cure, cycle.gel) if cycle else ()
    return next((value for value in stated if value is not None), None)


def _take_core(part: Part, name: str, inputs: SharedInputs) -> None:
    core = part.core[name]
    take_core(part, name, inputs)
    taken = {what: getattr(core, what) for what in ("width", "height", "length", "diameter", "clearance")}
    rubber = acts_as_rubber(core)
    if rubber:  # a hard core fills its sizes, whatever it weighs
        more = (
            "mass", "density", "corner_radius", "maximum", "volume", "cavity_volume",
            "laminate_area", "insert_volume", "insert_expansion",
        )  # fmt: skip
        taken |= {what: getattr(core, what) for what in more}
    if rubber and core.cast is not None:
        taken |= {"cast_temperature": core.cast.temperature, "cure_shrinkage": core.cast.cure_shrinkage}
    inputs.take({Key("core", name, what): value for what, value in taken.items()})
    if rubber:
        if core.insert_volume is not None and core.insert_expansion is None:
            label = Key("core", name, "insert_expansion")
            inputs.notes[label] = f"{label}: not given, taken as that of the tool: more gives more pressure"
        highest, label = _highest(part), Key("core", name, "maximum")
        if highest is not None and core.maximum is None:
            taken_as = "taken as the maximum temperature, or its own at gel where that is higher"
            inputs.steady[label] = f"{label}: not given, {taken_as}: a hotter core gives more pressure"
        take_modulus(inputs, core, name, highest.value if highest is not None else 0.0)


def _if_given(part: Part, core: str, what: str) -> Name:
    """The key of an input of a core, '' where it is not given."""
    return Key("core", core, what) if getattr(part.core[core], what) is not None else ""


def _shape(part: Part, name: str) -> CoreShape:
    core, bare = part.core[name], tuple[str, ...]()
    kind = "mass" if core.mass is not None else "volume"
    sizes: tuple[str, ...] = ("mass", "density") if core.mass is not None else ("volume",)
    if core.mass is None and core.volume is None:
        kind = "box" if core.diameter is None else "round"
        sizes = directions(kind)
        bare = sizes[1:] if core.clearance is not None else ()
    return CoreShape(name, kind, {what: Key("core", name, what) for what in sizes if what not in bare}, bare)


def new_room(part: Part, name: str, inputs: SharedInputs, file: str) -> Room:
    """A room of the file."""
    room = part.room[name]
    names = ("width", "height", "length", "diameter", "volume")
    sizes = {what: value for what in names if (value := getattr(room, what)) is not None}
    given = {**sizes, "corner_radius": room.corner_radius}
    inputs.take({Key("room", name, what): value for what, value in given.items()})
    kind = "volume" if "volume" in sizes else "round" if "diameter" in sizes else "box"
    cores = [core for core, table in part.core.items() if table.room == name]
    acts = {acts_as_rubber(part.core[core]) for core in cores}
    if len(acts) > 1:
        raise Refused(several_cores(file, f"core.{cores[1]}.acts_as", cores, MIXED, APART))
    rubber, shapes = acts.pop(), tuple(_shape(part, core) for core in cores)
    bulky = [shape.name for shape in shapes if kind == "volume" or shape.kind in ("volume", "mass")]
    if bulky and not rubber:
        expected = "the sizes of a hard core and of its room: a gap comes from them, not from a volume"
        raise Refused(missing_key(file, f"core.{bulky[0]}", ("width", "diameter"), expected))
    sides = []
    for zone, table in part.zone.items():
        if table.room != name:
            continue
        share, area = Key("zone", zone, "share"), Key("zone", zone, "area") if kind == "volume" else ""
        inputs.values[share] = table.share
        inputs.exact.add(share)
        sides.append(Side(zone, str(table.side or "volume"), table.walls, share, area=area))
    for core in cores:
        _take_core(part, core, inputs)
    growth = part.tool.expansion if part.tool is not None else None
    if growth is not None and growth.value == 0.0 and any(part.core[c].insert_expansion for c in cores):
        text, expected = growth.text, "an expansion other than 0: the growth of an insert is scaled by it"
        raise Refused(Problem("impossible-value", file, "tool.expansion", f"'{text}'", expected))
    if rubber and "ends" not in room.model_fields_set:
        inputs.notes[Key("room", name, "ends")] = f"ends of room {name}: not given, taken as closed"
    keys = {what: Key("room", name, what) for what in sizes}
    opens, open_ends = room.opens or "", room.ends == "open"
    whole = Key("room", name, "projected_area") if room.projected_area is not None else ""
    return Room(
        name, kind, keys, tuple(sides), shapes, rubber=rubber, opens=opens, area=whole, open_ends=open_ends
    )


def _one_width(part: Part, core: str, zones: list[str], file: str) -> None:
    """Refuse several zones that take one core by its one width, unless they are places along it."""
    cavities = {zone: part.zone[zone].cavity for zone in zones}
    sizes = {value.value for value in cavities.values() if value is not None}
    same = len(sizes) == 1 and all(part.zone[zone].area is not None for zone in zones)
    if len(zones) < 2 or same:
        return
    words = [f"{zone} (cavity {value.text})" for zone, value in cavities.items() if value is not None]
    expected = "[room.X] width, height, length, the same of the core, and side = ... in each zone"
    actual = f"zones {' and '.join(words)} both take it by its one width"
    raise Refused(Problem("one-width", file, f"core {core}", actual, expected))


def _old_volume_room(part: Part, core: str, zones: list[str], area: Name, file: str) -> Room:
    """The room of a rubber core given by volumes."""
    whole = _if_given(part, core, "laminate_area")
    if whole and len(zones) > 1:
        actual, expected = "laminate_area of a core with several zones", "area in each zone"
        raise Refused(Problem("laminate-area", file, f"core.{core}.laminate_area", actual, expected))
    bare = [zone for zone in zones if not whole and part.zone[zone].area is None]
    if bare:
        expected = "the area of the laminate, as the core is given by volumes"
        raise Refused([missing_key(file, f"zone.{z}", "area", expected) for z in bare])
    walls = {zone: 1 if whole else part.zone[zone].walls for zone in zones}
    sides = [Side(z, "volume", n, area=whole or Key("zone", z, "area")) for z, n in walls.items()]
    shape = CoreShape(core, "volume", {"volume": Key("core", core, "volume")})
    sizes = {"volume": Key("core", core, "cavity_volume")}
    return Room(core, "volume", sizes, tuple(sides), (shape,), area=area, old=True)


def old_room(part: Part, core: str, inputs: SharedInputs, file: str) -> Room:
    """The room that the keys of an older part file describe; the inputs tell what is supposed on the way."""

    def suppose(words: str) -> None:
        inputs.supposed.append(Said(f"core {core}: ", words))

    table, zones = part.core[core], [name for name, zone in part.zone.items() if zone.core == core]
    rubber = acts_as_rubber(table)
    by_volume = table.volume is not None
    if table.held in ("sides", "ends") and not rubber:
        actual = f"a hard core ({table.material or 'no bulk modulus'}) held '{table.held}'"
        expected = 'held = "no": it does not flow into its sides, or acts_as = "rubber"'
        raise Refused(Problem("hard-core-held", file, f"core.{core}.held", actual, expected))
    if not by_volume:
        _one_width(part, core, zones, file)
    for zone in zones:
        cavity = part.zone[zone].cavity
        assert cavity is not None  # beside a core: checked as the file was read
        inputs.values[Key("zone", zone, "cavity")] = cavity
    _take_core(part, core, inputs)
    area = Key("core", core, "projected_area") if table.projected_area is not None else ""
    if area:
        suppose("the projected area is taken as that of core and laminates together")
    if rubber and table.insert_thickness is not None and (by_volume or table.held == "ends"):
        suppose("insert_thickness is not used here, only insert_volume: give that")
    if rubber and (table.offset.value or table.offset.u):
        suppose("its offset has no effect: rubber presses both sides alike")
    if by_volume and rubber:
        suppose("thickness and pressure come from the balance of volumes")
        return _old_volume_room(part, core, zones, area, file)
    places = tuple(Key("zone", zone, "area") for zone in zones) if len(zones) > 1 else ()
    ends = table.held == "ends"
    side = "round" if ends else "width"
    sides = [
        Side(z, side, part.zone[z].walls, share=Key("zone", z, "area") if places else "", areas=places)
        for z in zones
    ]
    if places:
        suppose(f"zones {' and '.join(zones)} are taken as places along one core")
    kind, size = ("round", "diameter") if ends else ("box", "width")
    shapes = (CoreShape(core, kind, {size: Key("core", core, "width")}),)
    free = rubber and table.held == "no"
    if free:
        suppose("its free sides take up what the laminate does not: for a pressure give [room] sizes")
    elif rubber:
        hint = "give [room] sizes; the laminate counts by its mass, and pressures by widths alone were about "
        widths = "no clearance and sharp edges are assumed: ", hint, Figure(1e6, MPA), " higher"
        suppose(Said(*widths))
    sizes = {size: Key("zone", zones[0], "cavity")}
    insert = "" if ends else _if_given(part, core, "insert_thickness")
    return Room(
        core, kind, sizes, tuple(sides), shapes, free=free, insert=insert, rubber=rubber, area=area, old=True
    )
