"""What must agree between the keys of a part file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import SequenceMatcher
from itertools import pairwise
from typing import Any

from laminate.files.cycle_checks import check_part_cycle
from laminate.files.method_names import METHODS
from laminate.files.press_checks import IN_ROOM, core_too_wide
from laminate.files.reasons import is_reason
from laminate.files.toml import Peek
from laminate.values.problems import (
    both_given,
    missing_key,
    unknown_key,
    unknown_name,
    unused_key,
    wrong_order,
)
from laminate.values.quantities import ATTRIBUTES
from laminate.values.units import Spread, Unreadable, parse_spread

BASIS = "'as received', 'volatile-free' or 'with volatiles', as the certificate says"
OF_WHAT = "of the fiber alone, or of the prepreg"
ASKED: dict[str, tuple[str, tuple[str, ...]]] = {
    "fiber": ("fiber", ("density", "certificate")),
    "resin": ("resin", ("density", "liquid_density", "certificate")),
    "lot": (
        "prepreg",
        (
            "certificate", "fiber_areal_weight", "prepreg_areal_weight", "resin_content", "volatiles",
            "stored_humidity", "made", "expires", "out_time", "out_life",
        ),
    ),
    "core_used": ("core", ("identity", "moldings")),
    "instrument": (
        "instrument", ("identity", "repeatability", "calibration", "calibrated", "due", "certificate")
    ),
    "process": ("process", ("value", "source")),
    "batch": ("", ("molded", "quantity", "serials", "press", "retain_until")),
    "laboratory": ("", ("name", "procedure", "measured", "liquid", "air_density", "wires")),
    "charge": ("", ("mass", "part_and_trim")),
}  # fmt: skip
"""Table of a batch file -> table whose names it has ('' where it has none), and the keys to ask for."""


def check_part(peek: Peek) -> dict[str, dict[str, Spread]]:
    """Note every finding across keys; returns the pooled scatters of the plans."""
    _temperatures(peek)
    for name in peek.table("resin"):
        _resin(peek, name)
    for name in peek.table("prepreg"):
        _prepreg(peek, name)
    for name in peek.table("core"):
        _core(peek, name)
    if peek.table("tool"):
        _expands(peek, ("tool",))
    _asks(peek)
    for name in peek.table("zone"):
        _zone(peek, name)
    check_part_cycle(peek)
    if not peek.table("zone") and isinstance(peek.at("zone"), dict):
        peek.note(missing_key, ("zone",), "zone", "a table [zone.NAME]")
    return {name: _plan(peek, name) for name in peek.table("plan")}


def _temperatures(peek: Peek) -> None:
    order = ("room", "gel", "cure", "maximum")
    values = [(key, peek.value("temperature", "temperature", key)) for key in order]
    given = [(key, value) for key, value in values if value is not None]
    for (below, low), (above, high) in pairwise(given):
        if low.value > high.value:
            keys, where = ("temperature", below), f"above {above}"
            peek.note(wrong_order, keys, low.text, where, high.text, f"{below} not {where}")


def _resin(peek: Peek, name: str) -> None:
    liquid = peek.value("density", "resin", name, "liquid_density")
    cured = peek.value("density", "resin", name, "density")
    if liquid and cured and liquid.value > cured.value:
        dense_liquid = f"'{liquid.text}', denser than the cured resin '{cured.text}'"
        expected = "a liquid density at gel temperature below the cured density"
        peek.say("liquid-above-cured", ("resin", name, "liquid_density"), dense_liquid, expected)


def _prepreg(peek: Peek, name: str) -> None:
    table = ("prepreg", name)
    prepreg = peek.table(*table)
    for key in ("fiber", "resin"):
        peek.refers((*table, key), prepreg.get(key), peek.table(key), f"a [{key}.NAME] table")
    weights = ("fiber_areal_weight", "prepreg_areal_weight")
    peek.one_of(table, *weights, OF_WHAT)
    if prepreg.keys().isdisjoint(weights):
        peek.note(missing_key, table, weights, f"an areal weight {OF_WHAT}")
    volatiles = peek.value("fraction", *table, "volatiles")
    if volatiles and volatiles.value > 0.0 and "resin_basis" not in prepreg:
        peek.note(missing_key, table, "resin_basis", BASIS)
    resin = peek.value("fraction", *table, "resin_content")
    if resin and volatiles and resin.value + volatiles.value >= 1.0:
        contents = f"'{resin.text}' and volatiles '{volatiles.text}'"
        peek.say("no-fiber", (*table, "resin_content"), contents, "less than 100 % together")


def _material(peek: Peek, table: tuple[Any, ...], key: str, instead: str) -> None:
    """A material must be one of the reference; values given beside it override it."""
    material = peek.at(*table, key)
    if not isinstance(material, str):
        return
    from laminate.files.reference_tables import UnknownMaterial, find

    overridden = peek.at(*table, instead) is not None
    try:
        find(material, "expansion")
    except UnknownMaterial as fault:
        if overridden and (
            table[0] != "core" or peek.at(*table, "acts_as") or not _mistyped(material, fault.near)
        ):
            return
        expected = f"a material of the tables, or '{instead}'"
        if overridden:
            expected = 'a material of the tables, or acts_as = "rubber" or "hard" beside a name of your own'
        hint = f"did you mean '{fault.near[0]}'?" if fault.near else "'laminate materials' lists them"
        peek.say("unknown-material", (*table, key), f"'{material}'", expected, hint)


def _mistyped(material: str, near: Sequence[str]) -> bool:
    """Whether a name is a letter or two away from one that is known: it would change what a core acts as."""
    typed = material.casefold()
    return any(SequenceMatcher(None, typed, known.casefold()).ratio() >= 0.9 for known in near)


def _core(peek: Peek, name: str) -> None:
    table = ("core", name)
    core = peek.table(*table)
    if "room" not in core and core.keys().isdisjoint(IN_ROOM):
        for key, words in (("held", "'no', 'sides' or 'ends'"), ("width", 'a length, such as "30.64 mm"')):
            if key not in core:
                hint = "or room = and the sizes of the core"
                peek.note(missing_key, (*table, key), key, words, hint)
    _expands(peek, table)
    peek.one_of(table, "temperature", "heating")
    volumes = [key for key in ("volume", "cavity_volume") if key in core]
    others = [key for key in ("laminate_area", "insert_volume") if key in core]
    if "room" not in core and (len(volumes) == 1 or (others and not volumes)):
        lacking = "volume" if "volume" not in core else "cavity_volume"
        beside = ", ".join([*volumes, *others])
        peek.note(missing_key, table, lacking, f"volume and cavity_volume together, beside {beside}")


def _expands(peek: Peek, table: tuple[str, ...]) -> None:
    """A tool or core has a material of the reference, or its own expansion."""
    if peek.table(*table).keys().isdisjoint(("material", "expansion")):
        expected = "a material of the reference, or its expansion"
        peek.note(missing_key, table, ("material", "expansion"), expected)
    _material(peek, table, "material", "expansion")


def _zone(peek: Peek, name: str) -> None:
    table = ("zone", name)
    zone = peek.table(*table)
    if name in ("individual", "average"):
        peek.say("reserved-name", table, f"a zone named '{name}'", "another name: limits use this word")
    kinds = [key for key in ("gap", "core", "bladder", "room") if key in zone]
    if len(kinds) > 1:
        peek.note(both_given, (*table, kinds[1]), *kinds[:2], "one of gap, core, room or bladder")
    if "core" in zone and "cavity" not in zone:
        expected = 'the cold width of the cavity, such as "38.60 mm"'
        peek.note(missing_key, table, "cavity", expected)
    if "cavity" in zone and "core" not in zone:
        peek.note(missing_key, table, "core", "the name of a [core.NAME] table, beside cavity")
    core = zone.get("core")
    if core is not None and peek.refers((*table, "core"), core, peek.table("core"), "a [core.NAME] table"):
        width, cavity = peek.value("length", "core", core, "width"), peek.value("length", *table, "cavity")
        if width and cavity and width.value >= cavity.value:
            sizes, what = (f"'{width.text}'", f"'{cavity.text}'"), f"cavity ({'.'.join(table)})"
            peek.note(core_too_wide, ("core", core, "width"), *sizes, what)
    bladders = peek.table("bladder")
    peek.refers((*table, "bladder"), zone.get("bladder"), bladders, "a [bladder.NAME] table")
    two = [key for key in ("inner_half_width", "outer_half_width") if key in zone]
    metal = [key for key in ("inner_material", "inner_expansion") if key in zone]
    if (two or metal) and not (len(two) == 2 and metal):
        needed = ("inner_material", "inner_half_width", "outer_half_width")
        lacking = next(key for key in needed if key not in zone and (key != needed[0] or not metal))
        peek.note(missing_key, table, lacking, f"{', '.join(needed[:2])} and {needed[2]} together")
    _material(peek, table, "inner_material", "inner_expansion")
    _stack(peek, table, zone)


def _stack(peek: Peek, table: tuple[str, str], zone: dict[str, Any]) -> None:
    prepregs, layers = list(peek.table("prepreg")), list(peek.table("layer"))
    peek.refers((*table, "fill_with"), zone.get("fill_with"), prepregs, "a [prepreg.NAME] table")
    if not zone.get("stack") and "fill_with" not in zone:
        expected = "the plies, or the prepreg that fills the gap"
        peek.note(missing_key, table, ("stack", "fill_with"), expected)
    for index, entry in enumerate(peek.rows(*table, "stack")):
        keys = (*table, "stack", index)
        match = re.fullmatch(r"\s*(\d+)\s+(\S.*?)\s*", entry) if isinstance(entry, str) else None
        if match is None or int(match[1]) < 1:
            peek.say("unreadable-value", keys, repr(entry), 'a count and a name, such as "4 ud150"')
        else:
            peek.refers(keys, match[2], [*prepregs, *layers], "a prepreg or layer")


def _plan(peek: Peek, zone: str) -> dict[str, Spread]:
    table = ("plan", zone)
    peek.refers(table, zone, peek.table("zone"), "a zone")
    methods = peek.at(*table, "methods")
    for index, method in enumerate(peek.rows(*table, "methods")):
        if method not in METHODS:
            expected, place = f"one of {', '.join(METHODS)}", (*table, "methods", index)
            peek.note(unknown_name, place, method, expected, METHODS, listed=True)
    _plan_of_methods(peek, table, methods)
    _without_coupons(peek, table, zone)
    pooled: dict[str, Spread] = {}
    for key, text in peek.table(*table, "pooled_scatter").items():
        keys = (*table, "pooled_scatter", key)
        if key not in ATTRIBUTES:
            peek.note(unknown_key, keys, key, ATTRIBUTES)
            continue
        try:
            pooled[key] = parse_spread(text, ATTRIBUTES[key].kind, relative_allowed=False)
        except Unreadable as fault:
            peek.say("unreadable-value", keys, fault.found, fault.expected, fault.hint)
    return pooled


def _plan_of_methods(peek: Peek, table: tuple[str, str], methods: Any) -> None:
    """Counts by method, and repeats by column."""
    by_method = peek.table(*table, "coupons")
    if by_method and methods is not None:
        hint = "name each method once: as a key of 'coupons', or in 'methods'"
        peek.note(both_given, (*table, "methods"), "methods", "coupons", hint)
    for method in by_method:
        peek.refers((*table, "coupons", method), method, METHODS, f"one of {', '.join(METHODS)}")
    for column in peek.table(*table, "repeats"):
        from laminate.files.coupons import NUMBERS  # tables of coupons are slow to load

        readings = [name for name, kind in NUMBERS.items() if kind != "number"]
        peek.refers((*table, "repeats", column), column, readings, "a column of readings")
    if peek.at(*table, "fields") is not None and "point count" not in (by_method or methods or ()):
        peek.note(unused_key, (*table, "fields"), "fields", "this plan has no 'point count'")


def _without_coupons(peek: Peek, table: tuple[str, str], zone: str) -> None:
    """A zone that another one stands for, or that nobody measures, has nothing but that."""
    plan = peek.table(*table)
    for key in ("represented_by", "not_measured"):
        other = next((name for name in plan if name != key), None)
        if key in plan and other is not None:
            peek.note(both_given, (*table, other), key, other, f"{key} alone, or coupons")
    reason = plan.get("not_measured")
    if "not_measured" in plan and (not reason or (isinstance(reason, str) and not is_reason(reason))):
        peek.say("wrong-value", (*table, "not_measured"), repr(reason), "a reason in words")
    if "represented_by" in plan:
        plans = {name: {*peek.table("plan", name)} for name in peek.table("zone") if name != zone}
        stands = [name for name, keys in plans.items() if not keys & {"represented_by", "not_measured"}]
        expected = "a zone with coupons in its own [plan.ZONE]"
        peek.refers((*table, "represented_by"), plan["represented_by"], stands, expected)


def _asks(peek: Peek) -> None:
    """What a batch must tell: table, name where the table has names, key."""
    for index, ask in enumerate(peek.rows("part", "asks")):
        keys = ("part", "asks", index)
        if not isinstance(ask, str):
            continue
        table, _, rest = ask.partition(".")
        name, _, key = rest.rpartition(".")
        if not peek.refers(keys, table, ASKED, f"a table of the batch file: {', '.join(ASKED)}"):
            continue
        naming_table, known = ASKED[table]
        peek.refers(keys, key, known, f"a key of [{table}]: {', '.join(known)}")
        if naming_table and not name:
            peek.say("wrong-value", keys, repr(ask), f'a name too, such as "{table}.NAME.{key}"')
        elif (naming_table and naming_table != table) or naming_table in ("fiber", "resin"):
            peek.refers(keys, name, peek.table(naming_table), f"a [{naming_table}.NAME] table of this file")
        elif not naming_table and name:
            peek.say("wrong-value", keys, repr(ask), f'"{table}.{key}", without a name')
