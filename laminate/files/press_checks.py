"""What must agree between rooms, their cores, their zones and the tool of a part file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from laminate.files.raw_file import Keys, RawFile
from laminate.values.problems import Problem, both_given, missing_key, wrong_order, wrong_word
from laminate.values.said import Figure, Said

ROOM = 'room = "NAME" and [room.NAME]'
MIXED, APART = "room of one rubber and one hard core", "a room each: this is not modeled"
HOTTEST = "the highest mean temperature of the core, not below that at gel"
SIZES = ("width", "height", "length", "diameter", "volume")
IN_ROOM = ("height", "length", "diameter", "mass", "density", "corner_radius", "clearance")
MEANT_FOR_ROOM = ("room", *IN_ROOM, "side", "share")
"""Keys of a core or zone that say something in a room alone."""
DIRECTIONS = ("width", "height", "length")


def core_too_wide(file: str, place: str, core: Figure | str, room: Figure | str, what: str) -> Problem:
    """A core as large as its room, or larger; what: the room, in which direction."""
    core_in_room = Said("a core of ", core, f" in a {what} of ", room)
    return Problem("core-too-wide", file, place, core_in_room, "a core smaller than its room")


def several_cores(file: str, place: str, names: Sequence[str], room: str, expected: str) -> Problem:
    """Cores that one room cannot hold together."""
    return Problem("several-cores", file, place, f"cores {' and '.join(names)} in a {room}", expected)


def wrong_size(file: str, place: str, what: str, where: str, expected: str) -> Problem:
    """A size that a room or core of this shape cannot have."""
    return Problem("wrong-size", file, place, Said(what, " in ", where), expected)


def check_press(file: RawFile) -> None:
    """Note every finding across the keys of the press."""
    _maxima(file)
    for table, room in file.tables("room.*"):
        _room(file, table, room)
    for table, core in file.tables("core.*"):
        _core(file, table, core)
    for table, zone in file.tables("zone.*"):
        _zone(file, table, zone)
    for (_, name), _ in file.tables("room.*"):
        _cover(file, name)
        _cores_of(file, name)


def _maxima(file: RawFile) -> None:
    expected, above = "the tool not hotter than the highest temperature", "above [temperature] maximum"
    file.above("temperature", ("tool", "maximum"), ("temperature", "maximum"), above, expected)
    for table, _ in file.tables("core.*"):
        maximum, mean = (file.value("temperature", *table, key) for key in ("maximum", "temperature"))
        if maximum and mean and mean.above(maximum):
            keys, below = (*table, "maximum"), "below its temperature"
            file.note(wrong_order, keys, maximum.text, below, mean.text, HOTTEST)


def _sizes(file: RawFile, table: Keys, *, core: bool) -> str:
    """Note findings in the sizes of a room or core; returns 'box', 'round', 'volume', or '' where unclear."""
    room_or_core = file.table(*table)
    given = [key for key in SIZES if key in room_or_core]
    weighed = [key for key in ("mass", "density") if core and key in room_or_core]
    want = "width, height and length; or diameter and length; or volume"
    want += "; or mass and density" if core else ""
    if len(weighed) == 1:
        lacking = "density" if weighed == ["mass"] else "mass"
        file.note(missing_key, table, lacking, "mass and density go together")
        return ""
    kind, wanted = ("round", ("diameter", "length")) if "diameter" in given else ("box", DIRECTIONS)
    clashes: list[tuple[str, str]] = [(key, other) for key in weighed for other in given]
    clashes += [("volume", other) for other in given if "volume" in given and other != "volume"]
    clashes += [(key, "diameter") for key in given if key not in (*wanted, "volume")]
    if clashes:
        file.note(both_given, (*table, clashes[0][0]), *clashes[0], want)
        return ""
    edgeless = "mass" if weighed else next((key for key in ("volume", "diameter") if key in given), "")
    if edgeless and "corner_radius" in room_or_core:
        why = "only a box has edges" if edgeless == "diameter" else "a volume has no edges"
        file.note(both_given, (*table, "corner_radius"), "corner_radius", edgeless, why)
    if weighed or "volume" in given:
        return "volume"
    freed = _by_clearance(file, table, kind) if core else ()
    missing = [key for key in wanted if key not in given and key not in freed]
    for key in missing:
        file.note(missing_key, table, key, want)
    return "" if missing else kind


def _by_clearance(file: RawFile, table: Keys, kind: str) -> tuple[str, ...]:
    """Sizes of a core that its clearance gives: the bare sides of its room."""
    core, keys = file.table(*table), (*table, "clearance")
    if "clearance" not in core:
        return ()
    freed = ("height", "length") if kind == "box" else ("length",)
    if given := [key for key in freed if key in core]:
        file.note(both_given, keys, "clearance", given[0], "clearance is the distance to each bare side")
    sides = {side for side, _, _, _ in _sides(file, str(core.get("room")))}
    for key in freed:
        if key in sides or (key == "height" and "all" in sides):
            clearance_to_laminate = f"clearance, where laminates lie on the {key}"
            expected = f"the {key} of the core: clearance is the distance to a bare side"
            file.say("clearance-of-laminate", keys, clearance_to_laminate, expected)
    return freed


def _room(file: RawFile, table: Keys, room: dict[str, Any]) -> None:
    name, kind = str(table[-1]), _sizes(file, table, core=False)
    if "opens" in room and "projected_area" in room:
        file.note(both_given, (*table, "opens"), "opens", "projected_area")
    if "opens" in room and kind in ("round", "volume"):
        expected = "projected_area in its place: only a box opens along a side"
        file.say("wrong-word", (*table, "opens"), f"'{room['opens']}'", expected)
    if room.get("ends") == "open" and kind == "volume":
        file.say("ends-of-volume", (*table, "ends"), "open ends of a volume", "the sizes of the room")
    for key, code, what in (("core", "room-without-core", "core"), ("zone", "room-without-zone", "laminate")):
        occupants = [occupant for _, occupant in file.tables(f"{key}.*")]
        meant = [each for each in occupants if not each.keys().isdisjoint(MEANT_FOR_ROOM)]
        rooms = {str(each.get("room")) for each in meant}
        if rooms <= {*file.table("room")} - {name}:  # an unknown one is told where it stands
            lack, expected = f"no {what} in this room", f'room = "{name}" in a [{key}.NAME]'
            file.say(code, table, lack, expected)


def kind_of(room_or_core: dict[str, Any]) -> str:
    """Whether the keys of a room or core are those of a box, a round or a volume."""
    if not room_or_core.keys().isdisjoint(("volume", "mass", "density")):
        return "volume"
    return "round" if "diameter" in room_or_core else "box"


def _room_of(file: RawFile, table: Keys, core_or_zone: dict[str, Any]) -> str:
    """The kind of the room that a core or zone is in, '' where it is in none that there is."""
    room, of_zone = core_or_zone.get("room"), ("side", "share")
    keys = [key for key in (of_zone if table[0] == "zone" else (*IN_ROOM, *of_zone)) if key in core_or_zone]
    if keys and "room" not in core_or_zone:
        file.note(missing_key, (*table, keys[0]), "room", f"{ROOM}, which {', '.join(keys)} needs")
    there = isinstance(room, str) and room in file.table("room")
    return kind_of(file.table("room", str(room))) if there else ""


def _core(file: RawFile, table: Keys, core: dict[str, Any]) -> None:
    room = _room_of(file, table, core)
    for key in ("held", "cavity_volume", "laminate_area", "insert_thickness", "projected_area", "offset"):
        if key in core and "room" in core:
            file.note(both_given, (*table, key), key, "room", "a core in a room has nothing but its sizes")
    kind = _sizes(file, table, core=True) if room else ""
    if kind == "round" and room == "box":
        file.note(wrong_size, (*table, "diameter"), "a diameter", "a box", "width, height and length")
    if kind == "box" and room == "round":
        file.note(wrong_size, (*table, "width"), "a width", "a round room", "diameter and length")


def _zone(file: RawFile, table: Keys, zone: dict[str, Any]) -> None:
    _bleed(file, table, zone)
    core, room = zone.get("core"), _room_of(file, table, zone)
    if isinstance(core, str) and "room" in file.table("core", core):
        hint = f"core {core} is in a room: write room = and side = in the zone"
        file.note(both_given, (*table, "core"), "core", "room", hint)
    if not room:
        return
    side, walls = zone.get("side"), zone.get("walls", 1)
    if "wanted_pressure" in zone and "gap" not in zone:  # else which of the two it is is said first
        hint = f"write wanted_pressure in [room.{zone['room']}]"
        file.note(both_given, (*table, "wanted_pressure"), "wanted_pressure", "room", hint)
    wanted = (*DIRECTIONS, "all") if room == "box" else ("round", "length")
    if room == "volume":
        if "area" not in zone:
            file.note(missing_key, table, "area", "the area of the laminate, as its room is given by volume")
        if side is not None:
            file.say("wrong-word", (*table, "side"), f"'{side}'", "its area alone, as its room is a volume")
    elif side not in wanted:
        file.note(wrong_word, (*table, "side"), side or "", wanted)
    if side in ("all", "round") and walls != 2:
        expected = f'walls = 2 beside side = "{side}", or width and height apart'
        file.say("wrong-value", (*table, "walls"), repr(walls), expected)


def _bleed(file: RawFile, table: Keys, zone: dict[str, Any]) -> None:
    bleed, limit = (file.value("fraction", *table, key) for key in ("bleed", "bleed_limit"))
    if limit is None and "bleed_limit" in zone:
        return  # said of the limit itself
    most = limit.value if limit else 0.0
    if bleed and bleed.value > most:
        allowed = f"above bleed_limit '{limit.text}'" if limit else "without a bleed_limit, which is 0 % then"
        expected = "a bleed not above bleed_limit"
        file.say("bleed-above-limit", (*table, "bleed"), f"bleed '{bleed.text}' {allowed}", expected)


def _sides(file: RawFile, room: str) -> Iterator[tuple[str, str, float, float]]:
    """Side, zone, walls and share of every laminate of a room."""
    for (_, name), zone in file.tables("zone.*"):
        if zone.get("room") == room and isinstance(zone.get("side"), str):
            share = file.value("fraction", "zone", name, "share")
            walls = zone.get("walls", 1)
            walls = float(walls) if isinstance(walls, int) and 1 <= walls <= 2 else 1.0
            yield zone["side"], str(name), walls, share.value if share else 1.0


def _cover(file: RawFile, room: str) -> None:
    cores = sum(1 for _, core in file.tables("core.*") if core.get("room") == room)
    for direction in (*DIRECTIONS, "round"):
        reach = (direction, "all") if direction in ("width", "height") else (direction,)
        laminates = [entry for entry in _sides(file, room) if entry[0] in reach]
        most = 2.0 + (max(cores - 1, 0) if direction == "width" else 0)
        total = sum(walls * share for _, _, walls, share in laminates)
        if total > most + 1e-9:
            excess_walls = f"side {direction}: walls x share {100.0 * total:.4g} %"
            expected = f"at most {100.0 * most:.4g} %, one wall more for each further core"
            file.say("too-many-walls", ("zone", laminates[-1][1], "walls"), excess_walls, expected)


def _cores_of(file: RawFile, room: str) -> None:
    cores = {str(keys[-1]): core for keys, core in file.tables("core.*") if core.get("room") == room}
    names, kind = list(cores), kind_of(file.table("room", room))
    if len(names) > 1 and kind != "box":
        what = "round room" if kind == "round" else "room by volume"
        expected = "one core, or a room of width, height and length"
        file.note(several_cores, ("core", names[1], "room"), names, what, expected)
    if {"rubber", "hard"} <= {str(core.get("acts_as")) for core in cores.values()}:
        file.note(several_cores, ("core", names[1], "acts_as"), names, MIXED, APART)
