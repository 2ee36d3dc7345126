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
        peek.say(
            "wrong-order", ("tool", "maximum"), found, "the tool not hotter than the highest temperature"
        )
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
    want = "width, height and length; or diameter and length; or volume" + (
        "; or mass and density" if core else ""
    )
    if len(weighed) == 1:
        peek.say("missing-key", table, f"only {weighed[0]}", "mass and density together")
        return ""
    if weighed and given:
        peek.say(
            "both-given", (*table, weighed[0]), f"mass and {' and '.join(given)}", "one of them: " + want
        )
        return ""
    if weighed or given == ["volume"]:
        if "corner_radius" in here:
            found = "corner_radius beside " + ("mass" if weighed else "volume")
            peek.say("both-given", (*table, "corner_radius"), found, "the edges are in the volume")
        return "volume"
    if "volume" in given:
        peek.say(
            "both-given", (*table, "volume"), f"sizes and volume: {', '.join(given)}", "one of them: " + want
        )
        return ""
    kind, wanted = ("round", ("diameter", "length")) if "diameter" in given else ("box", DIRECTIONS)
    wrong = [key for key in given if key not in wanted]
    if wrong:
        peek.say(
            "both-given", (*table, wrong[0]), f"diameter and {' and '.join(wrong)}", "one of them: " + want
        )
        return ""
    if kind == "round" and "corner_radius" in here:
        peek.say("both-given", (*table, "corner_radius"), "corner_radius beside diameter", "a box, or none")
    freed = _by_clearance(peek, table, kind) if core else ()
    missing = [key for key in wanted if key not in given and key not in freed]
    for key in missing:
        peek.say("missing-key", table, f"{'core' if core else 'room'} without {key}", want)
    return "" if missing else kind


def _by_clearance(peek: Peek, table: tuple[str, ...], kind: str) -> tuple[str, ...]:
    """Sizes of a core that its clearance gives: the bare sides of its room."""
    here = peek.table(*table)
    if "clearance" not in here:
        return ()
    freed = ("height", "length") if kind == "box" else ("length",)
    given = [key for key in freed if key in here]
    if given:
        found = f"clearance and {' and '.join(given)}"
        peek.say("both-given", (*table, "clearance"), found, "one of them: clearance is to each bare side")
    sides = _sides(peek, str(here.get("room")))
    covered = [
        key for key in freed if any(side in (key, "all") for side, _, _, _ in sides if key != "length")
    ]
    covered += ["length"] if any(side == "length" for side, _, _, _ in sides) else []
    for key in dict.fromkeys(covered):
        found = f"clearance, where laminates lie on the {key}"
        peek.say(
            "clearance-of-laminate",
            (*table, "clearance"),
            found,
            f"the {key} of the core: clearance is to bare sides",
        )
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
    if not any(core.get("room") == name for core in _tables(peek, "core")):
        peek.say("room-without-core", table, "no core in this room", f'room = "{name}" in a [core.NAME]')
    if not any(zone.get("room") == name for zone in _tables(peek, "zone")):
        peek.say("room-without-zone", table, "no laminate in this room", f'room = "{name}" in a [zone.NAME]')


def _tables(peek: Peek, key: str) -> list[dict[str, Any]]:
    return [peek.table(key, name) for name in peek.table(key)]


def kind_of(here: dict[str, Any]) -> str:
    """Whether the keys of a room or core are those of a box, a round or a volume."""
    if "volume" in here or "mass" in here or "density" in here:
        return "volume"
    return "round" if "diameter" in here else "box"


def _core(peek: Peek, name: str) -> None:
    table = ("core", name)
    here = peek.table(*table)
    if "room" not in here:
        news = ("height", "length", "diameter", "mass", "density", "corner_radius", "clearance")
        for key in (key for key in news if key in here):
            peek.say(
                "missing-key",
                (*table, key),
                f"{key} of a core without a room",
                'room = "NAME" and [room.NAME]',
            )
        return
    old = ("held", "cavity_volume", "laminate_area", "insert_thickness", "projected_area", "offset")
    for key in (key for key in old if key in here):
        peek.say(
            "both-given",
            (*table, key),
            f"{key} of a core in a room",
            "sizes of the room and of the core alone",
        )
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
            peek.say(
                "missing-key",
                (*table, key),
                f"{key} of a zone without a room",
                'room = "NAME" and [room.NAME]',
            )
        return
    room = here["room"]
    if not peek.refers((*table, "room"), room, peek.table("room"), "a [room.NAME] table"):
        return
    if "wanted_pressure" in here:
        peek.say(
            "both-given",
            (*table, "wanted_pressure"),
            "wanted_pressure of a zone in a room",
            f"it in [room.{room}]",
        )
    kind, side = kind_of(peek.table("room", str(room))), here.get("side")
    wanted = {"box": (*DIRECTIONS, "all"), "round": ("round", "length"), "volume": ()}[kind]
    if kind == "volume":
        if "area" not in here:
            peek.say(
                "missing-key", table, "no key 'area'", "the area of the laminate, as its room is a volume"
            )
        if side is not None:
            peek.say("wrong-word", (*table, "side"), f"side '{side}' of a room by volume", "area alone")
    elif side not in wanted:
        found = f"no key 'side' in a {kind} room" if side is None else f"side '{side}' in a {kind} room"
        peek.say("wrong-word", (*table, "side"), found, f"one of {', '.join(wanted)}")
    if side in ("all", "round") and here.get("walls", 1) != 2:
        found = f"side {side}, walls = {here.get('walls', 1)}"
        peek.say("wrong-value", (*table, "walls"), found, "walls = 2, or width and height apart")


def _bleed(peek: Peek, table: tuple[str, ...]) -> None:
    bleed, limit = (peek.value("fraction", *table, key) for key in ("bleed", "bleed_limit"))
    most = limit.value if limit else 0.0
    if bleed and bleed.value > most:
        found = f"bleed '{bleed.text}' above bleed_limit '{limit.text if limit else '0 %'}'"
        peek.say("bleed-above-limit", (*table, "bleed"), found, "a bleed not above bleed_limit")


def _sides(peek: Peek, room: str) -> list[tuple[str, str, float, float]]:
    """Side, zone, walls and share of every laminate of a room."""
    sides = []
    for name in peek.table("zone"):
        here = peek.table("zone", name)
        if here.get("room") != room or not isinstance(here.get("side"), str):
            continue
        share = peek.value("fraction", "zone", name, "share")
        walls = here.get("walls", 1)
        walls = float(walls) if isinstance(walls, int) and 1 <= walls <= 2 else 1.0
        sides.append((here["side"], name, walls, share.value if share else 1.0))
    return sides


def _cover(peek: Peek, room: str) -> None:
    cores = sum(1 for core in _tables(peek, "core") if core.get("room") == room)
    for direction in (*DIRECTIONS, "round"):
        reach = (direction, "all") if direction in ("width", "height") else (direction,)
        here = [entry for entry in _sides(peek, room) if entry[0] in reach]
        most = 2.0 + (max(cores - 1, 0) if direction == "width" else 0)
        total = sum(walls * share for _, _, walls, share in here)
        if total > most + 1e-9:
            found = f"side {direction}: walls x share {100.0 * total:.4g} %"
            expected = f"at most {100.0 * most:.4g} %, one more for each further core"
            peek.say("too-many-walls", ("zone", here[-1][1], "walls"), found, expected)


def _acts(here: dict[str, Any]) -> str | None:
    """What a core acts as where that can be seen in the file alone."""
    if here.get("acts_as") in ("rubber", "hard"):
        return str(here["acts_as"])
    return None


def _cores_of(peek: Peek, room: str) -> None:
    names = [name for name in peek.table("core") if peek.table("core", name).get("room") == room]
    if len(names) > 1 and kind_of(peek.table("room", room)) != "box":
        kind = kind_of(peek.table("room", room))
        found = f"cores {' and '.join(names)} in a {'round room' if kind == 'round' else 'room by volume'}"
        peek.say(
            "several-cores",
            ("core", names[1], "room"),
            found,
            "one core, or a room of width, height and length",
        )
    acts = {_acts(peek.table("core", name)) for name in names}
    if {"rubber", "hard"} <= acts:
        found = f"cores {' and '.join(names)} of one room, one rubber and one hard"
        peek.say("several-cores", ("core", names[1], "acts_as"), found, "a room each: this is not modeled")
