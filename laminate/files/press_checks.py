"""What must agree between rooms, their cores, their zones and the tool of a part file."""

from __future__ import annotations

from typing import Any

from laminate.files.toml import Peek

SIZES = ("width", "height", "length", "diameter", "volume")
DIRECTIONS = ("width", "height", "length")


def check_press(peek: Peek) -> None:
    """Note every finding across the keys of the press."""
    _maxima(peek)
    for name in peek.table("room"):
        _room(peek, name)
    for name in peek.table("core"):
        _core(peek, name)
    for name in peek.table("zone"):
        _zone(peek, name)
    for name in peek.table("room"):
        _cover(peek, name)
        _cores_of(peek, name)


def _maxima(peek: Peek) -> None:
    highest = peek.value("temperature", "temperature", "maximum")
    tool = peek.value("temperature", "tool", "maximum")
    if tool and highest and tool.value > highest.value:
        found = f"'{tool.text}', above [temperature] maximum '{highest.text}'"
        expected = "the tool not hotter than the highest temperature"
        peek.say("wrong-order", ("tool", "maximum"), found, expected)
    for name in peek.table("core"):
        own, mean = (peek.value("temperature", "core", name, key) for key in ("maximum", "temperature"))
        if own and mean and own.value < mean.value:
            found = f"'{own.text}', below its temperature '{mean.text}'"
            keys = ("core", name, "maximum")
            peek.say("wrong-order", keys, found, "its hottest mean, not below its temperature at gel")


def _sizes(peek: Peek, table: tuple[str, ...], *, core: bool) -> str:
    """Note findings in the sizes of a room or core; returns 'box', 'round', 'volume', or '' where unclear."""
    here = peek.table(*table)
    given = [key for key in SIZES if key in here]
    weighed = [key for key in ("mass", "density") if core and key in here]
    want = "width, height and length; or diameter and length; or volume"
    want += "; or mass and density" if core else ""
    if len(weighed) == 1:
        peek.say("missing-key", table, f"only {weighed[0]}", "mass and density together")
        return ""
    kind, wanted = ("round", ("diameter", "length")) if "diameter" in given else ("box", DIRECTIONS)
    wrong = [key for key in given if key not in wanted]
    clash = ""
    if weighed and given:
        clash, found = weighed[0], f"mass and {' and '.join(given)}"
    elif "volume" in given and len(given) > 1:
        clash, found = "volume", f"sizes and volume: {', '.join(given)}"
    elif wrong and "volume" not in given:
        clash, found = wrong[0], f"diameter and {' and '.join(wrong)}"
    if clash:
        peek.say("both-given", (*table, clash), found, f"one of them: {want}")
        return ""
    radius = (*table, "corner_radius") if "corner_radius" in here else ()
    if weighed or "volume" in given:
        if radius:
            found = "corner_radius beside " + ("mass" if weighed else "volume")
            peek.say("both-given", radius, found, "the edges are in the volume")
        return "volume"
    if kind == "round" and radius:
        peek.say("both-given", radius, "corner_radius beside diameter", "a box, or none")
    freed = _by_clearance(peek, table, kind) if core else ()
    missing = [key for key in wanted if key not in given and key not in freed]
    for key in missing:
        peek.say("missing-key", table, f"{'core' if core else 'room'} without {key}", want)
    return "" if missing else kind


def _by_clearance(peek: Peek, table: tuple[str, ...], kind: str) -> tuple[str, ...]:
    """Sizes of a core that its clearance gives: the bare sides of its room."""
    here, keys = peek.table(*table), (*table, "clearance")
    if "clearance" not in here:
        return ()
    freed = ("height", "length") if kind == "box" else ("length",)
    if given := [key for key in freed if key in here]:
        found = f"clearance and {' and '.join(given)}"
        peek.say("both-given", keys, found, "one of them: clearance is to each bare side")
    sides = {side for side, _, _, _ in _sides(peek, str(here.get("room")))}
    for key in freed:
        if key in sides or (key == "height" and "all" in sides):
            found = f"clearance, where laminates lie on the {key}"
            expected = f"the {key} of the core: clearance is to bare sides"
            peek.say("clearance-of-laminate", keys, found, expected)
    return freed


def _room(peek: Peek, name: str) -> None:
    table = ("room", name)
    here = peek.table(*table)
    kind = _sizes(peek, table, core=False)
    if "opens" in here and "projected_area" in here:
        peek.say("both-given", (*table, "opens"), "both opens and projected_area", "one of them")
    if "opens" in here and kind in ("round", "volume"):
        peek.say("wrong-word", (*table, "opens"), f"opens of a {kind} room", "projected_area")
    if here.get("ends") == "open" and kind == "volume":
        peek.say("ends-of-volume", (*table, "ends"), "open ends of a volume", "the sizes of the room")
    if not any(core.get("room") == name for _, core in peek.tables("core")):
        peek.say("room-without-core", table, "no core in this room", f'room = "{name}" in a [core.NAME]')
    if not any(zone.get("room") == name for _, zone in peek.tables("zone")):
        peek.say("room-without-zone", table, "no laminate in this room", f'room = "{name}" in a [zone.NAME]')


def kind_of(here: dict[str, Any]) -> str:
    """Whether the keys of a room or core are those of a box, a round or a volume."""
    if "volume" in here or "mass" in here or "density" in here:
        return "volume"
    return "round" if "diameter" in here else "box"


def _core(peek: Peek, name: str) -> None:
    table = ("core", name)
    here = peek.table(*table)
    if "room" not in here:
        for key in ("height", "length", "diameter", "mass", "density", "corner_radius", "clearance"):
            if key in here:
                found = f"{key} of a core without a room"
                peek.say("missing-key", (*table, key), found, 'room = "NAME" and [room.NAME]')
        return
    for key in ("held", "cavity_volume", "laminate_area", "insert_thickness", "projected_area", "offset"):
        if key in here:
            found, expected = f"{key} of a core in a room", "sizes of the room and of the core alone"
            peek.say("both-given", (*table, key), found, expected)
    if not peek.refers((*table, "room"), here["room"], peek.table("room"), "a [room.NAME] table"):
        return
    kind = _sizes(peek, table, core=True)
    room = kind_of(peek.table("room", str(here["room"])))
    if kind == "round" and room == "box":
        peek.say("wrong-size", (*table, "diameter"), "a diameter in a box", "width, height and length")
    if kind == "box" and room == "round":
        peek.say("wrong-size", (*table, "width"), "a width in a round room", "diameter and length")


def _zone(peek: Peek, name: str) -> None:
    table = ("zone", name)
    here = peek.table(*table)
    _bleed(peek, table)
    core = here.get("core")
    if isinstance(core, str) and "room" in peek.table("core", core):
        found = f"a zone against core {core}, which is in a room"
        peek.say("both-given", (*table, "core"), found, "room = and side = in the zone")
    if "room" not in here:
        for key in (key for key in ("side", "share") if key in here):
            found = f"{key} of a zone without a room"
            peek.say("missing-key", (*table, key), found, 'room = "NAME" and [room.NAME]')
        return
    room, walls = here["room"], here.get("walls", 1)
    if not peek.refers((*table, "room"), room, peek.table("room"), "a [room.NAME] table"):
        return
    if "wanted_pressure" in here:
        found = "wanted_pressure of a zone in a room"
        peek.say("both-given", (*table, "wanted_pressure"), found, f"it in [room.{room}]")
    kind, side = kind_of(peek.table("room", str(room))), here.get("side")
    wanted = {"box": (*DIRECTIONS, "all"), "round": ("round", "length"), "volume": ()}[kind]
    if kind == "volume":
        if "area" not in here:
            expected = "the area of the laminate, as its room is a volume"
            peek.say("missing-key", table, "no key 'area'", expected)
        if side is not None:
            peek.say("wrong-word", (*table, "side"), f"side '{side}' of a room by volume", "area alone")
    elif side not in wanted:
        found = f"no key 'side' in a {kind} room" if side is None else f"side '{side}' in a {kind} room"
        peek.say("wrong-word", (*table, "side"), found, f"one of {', '.join(wanted)}")
    if side in ("all", "round") and walls != 2:
        expected = "walls = 2, or width and height apart"
        peek.say("wrong-value", (*table, "walls"), f"side {side}, walls = {walls}", expected)


def _bleed(peek: Peek, table: tuple[str, ...]) -> None:
    bleed, limit = (peek.value("fraction", *table, key) for key in ("bleed", "bleed_limit"))
    most = limit.value if limit else 0.0
    if bleed and bleed.value > most:
        found = f"bleed '{bleed.text}' above bleed_limit '{limit.text if limit else '0 %'}'"
        peek.say("bleed-above-limit", (*table, "bleed"), found, "a bleed not above bleed_limit")


def _sides(peek: Peek, room: str) -> list[tuple[str, str, float, float]]:
    """Side, zone, walls and share of every laminate of a room."""
    sides = []
    for (_, name), here in peek.tables("zone"):
        if here.get("room") == room and isinstance(here.get("side"), str):
            share = peek.value("fraction", "zone", name, "share")
            walls = here.get("walls", 1)
            walls = float(walls) if isinstance(walls, int) and 1 <= walls <= 2 else 1.0
            sides.append((here["side"], str(name), walls, share.value if share else 1.0))
    return sides


def _cover(peek: Peek, room: str) -> None:
    cores = sum(1 for _, core in peek.tables("core") if core.get("room") == room)
    for direction in (*DIRECTIONS, "round"):
        reach = (direction, "all") if direction in ("width", "height") else (direction,)
        here = [entry for entry in _sides(peek, room) if entry[0] in reach]
        most = 2.0 + (max(cores - 1, 0) if direction == "width" else 0)
        total = sum(walls * share for _, _, walls, share in here)
        if total > most + 1e-9:
            found = f"side {direction}: walls x share {100.0 * total:.4g} %"
            expected = f"at most {100.0 * most:.4g} %, one more for each further core"
            peek.say("too-many-walls", ("zone", here[-1][1], "walls"), found, expected)


def _cores_of(peek: Peek, room: str) -> None:
    cores = {str(keys[-1]): core for keys, core in peek.tables("core") if core.get("room") == room}
    names, kind = list(cores), kind_of(peek.table("room", room))
    if len(names) > 1 and kind != "box":
        found = f"cores {' and '.join(names)} in a {'round room' if kind == 'round' else 'room by volume'}"
        expected = "one core, or a room of width, height and length"
        peek.say("several-cores", ("core", names[1], "room"), found, expected)
    if {"rubber", "hard"} <= {str(core.get("acts_as")) for core in cores.values()}:
        found = f"cores {' and '.join(names)} of one room, one rubber and one hard"
        peek.say("several-cores", ("core", names[1], "acts_as"), found, "a room each: this is not modeled")
