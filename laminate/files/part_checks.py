"""What must agree between the keys of a part file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from difflib import SequenceMatcher
from itertools import pairwise
from typing import Any

from laminate.files.cycle_checks import check_part_cycle
from laminate.files.cycle_keys import SENSORS
from laminate.files.method_names import METHODS
from laminate.files.peek import Keys, Peek
from laminate.files.press_checks import IN_ROOM, core_too_wide
from laminate.files.reasons import is_reason
from laminate.files.slip_checks import check_slips
from laminate.values.problems import both_given, missing_key, unknown_key, unknown_name, unused_key
from laminate.values.quantities import ATTRIBUTES, G_CM3
from laminate.values.said import Figure, Said, between
from laminate.values.units import SIValue, Spread, Unreadable, parse, parse_spread

BASIS = "'as received', 'volatile-free' or 'with volatiles', as the certificate says"
RUBBER_GROWS = 150e-6
"""Linear expansion [1/K] from which a core is asked whether it is rubber: common practice, no source."""
LAYER_DENSITY = (10.0, 25000.0)
"""Areal weight over thickness [kg/m^3] from a foam to a metal: common practice, no source."""
FAR_FROM = {"resin": 5.0, "fiber": 10.0}
"""Factor by which a layer that counts as this may be denser or lighter: common practice, no source."""
OF_WHAT = "of the fiber alone, or of the prepreg"
ASKED: dict[str, tuple[str, tuple[str, ...]]] = {
    "fiber": ("fiber", ("density", "certificate")),
    "resin": ("resin", ("density", "liquid_density", "certificate")),
    "lot": ("prepreg", (
        "certificate", "fiber_areal_weight", "prepreg_areal_weight", "resin_content", "volatiles",
        "stored_humidity", "made", "expires", "out_time", "out_life", "gel_time",
    )),
    "core_used": ("core", ("identity", "moldings")),
    "instrument": ("instrument", (
        "identity", "repeatability", "calibration", "calibrated", "due", "certificate",
    )),
    "process": ("process", ("value", "source")),
    "batch": ("", ("molded", "quantity", "serials", "press", "retain_until")),
    "laboratory": ("", ("name", "procedure", "measured", "liquid", "air_density", "wires")),
    "charge": ("", ("mass", "part_and_trim")),
}  # fmt: skip
"""Table of a batch file -> table whose names it has ('' where it has none), and the keys to ask for."""


def check_part(peek: Peek) -> dict[str, dict[str, Spread]]:
    """Note every finding across keys; returns the pooled scatters of the plans."""
    _names(peek)
    _temperatures(peek)
    _prepregs(peek)
    _layers(peek)
    _materials(peek)
    check_slips(peek)
    _asks(peek)
    _zones(peek)
    peek.one_of("core.*", "temperature", "heating")
    for table, core in peek.tables("core.*"):
        _core(peek, table, core)
    check_part_cycle(peek)
    return {str(table[-1]): _plan(peek, table, plan) for table, plan in peek.tables("plan.*")}


NAMED = (
    ("prepreg.*.fiber", "fiber"), ("prepreg.*.resin", "resin"), ("layer.*.resin", "resin"),
    ("core.*.room", "room"), ("zone.*.core", "core"), ("zone.*.bladder", "bladder"), ("zone.*.room", "room"),
    ("zone.*.fill_with", "prepreg"), ("heat.core.*", "core"), ("cycle.*.core.*", "core"),
)  # fmt: skip
"""Where a name of a table stands, and of which."""


def _names(peek: Peek) -> None:
    """Names that must point to something: to a table of the file, or to one of a few words."""
    for pattern, table in NAMED:
        peek.names(pattern, peek.table(table), f"a [{table}.NAME] table")
    peek.names("plan.*", peek.table("zone"), "a zone")
    peek.names("zone.*.sensors.*", SENSORS, f"what a column reads: {', '.join(SENSORS)}")
    peek.names("plan.*.coupons.*", METHODS, f"one of {', '.join(METHODS)}")
    if peek.places("plan.*.repeats.*"):
        from laminate.files.table import NUMBERS  # tables of coupons are slow to load

        readings = [name for name, kind in NUMBERS.items() if kind != "number"]
        peek.names("plan.*.repeats.*", readings, "a column of readings")


def _temperatures(peek: Peek) -> None:
    order = ("room", "gel", "cure", "maximum")
    given = [("temperature", key) for key in order if peek.value("temperature", "temperature", key)]
    for low, high in pairwise(given):
        where = f"above {high[1]}"
        peek.above("temperature", low, high, where, f"{low[1]} not {where}")
    for table, _ in peek.tables("resin.*"):
        liquid, cured = (peek.value("density", *table, key) for key in ("liquid_density", "density"))
        if liquid and cured and liquid.above(cured):
            dense_liquid = f"'{liquid.text}', denser than the cured resin '{cured.text}'"
            expected = "a liquid density at gel temperature below the cured density"
            peek.say("liquid-above-cured", (*table, "liquid_density"), dense_liquid, expected)


def _prepregs(peek: Peek) -> None:
    weights = ("fiber_areal_weight", "prepreg_areal_weight")
    peek.one_of("prepreg.*", *weights, OF_WHAT)
    peek.needs("prepreg.*", weights, f"an areal weight {OF_WHAT}")
    for table, prepreg in peek.tables("prepreg.*"):
        resin, volatiles = (peek.value("fraction", *table, key) for key in ("resin_content", "volatiles"))
        if volatiles and volatiles.value > 0.0 and "resin_basis" not in prepreg:
            peek.note(missing_key, table, "resin_basis", BASIS)
        check_shares(peek, table, resin, volatiles, prepreg.get("resin_basis"))


def check_shares(
    peek: Peek, table: Keys, resin: SIValue | None, volatiles: SIValue | None, resin_basis: str | None
) -> None:
    """Resin and volatiles leave some fiber; a resin content that counts the volatiles leaves some resin."""
    if resin is None or volatiles is None:
        return
    contents = f"'{resin.text}' and volatiles '{volatiles.text}'"
    if resin.value + volatiles.value >= 1.0:
        peek.say("no-fiber", (*table, "resin_content"), contents, "less than 100 % together")
    elif resin_basis == "with volatiles" and volatiles.value > resin.value:
        expected = "volatiles below the resin content, which includes them"
        peek.say("no-resin", (*table, "resin_content"), contents, expected)


def _layers(peek: Peek) -> None:
    """Areal weight and thickness of a layer give a density that its kind of layer can have."""
    for table, layer in peek.tables("layer.*"):
        if "resin" in layer and layer.get("counts_as") != "resin":
            peek.note(unused_key, (*table, "resin"), "resin", 'it goes with counts_as = "resin"')
        weight = peek.value("areal_weight", *table, "areal_weight")
        thickness = peek.value("length", *table, "thickness")
        if weight is None or thickness is None or thickness.value <= 0.0:
            continue
        (low, high), what, alike = LAYER_DENSITY, "a layer", layer.get("counts_as")
        stated = [peek.value("density", *keys, "density") for keys, _ in peek.tables(f"{alike}.*")]
        known = [density.value for density in stated if density]
        if alike in FAR_FROM and known:
            low, high = max(low, min(known) / FAR_FROM[alike]), min(high, max(known) * FAR_FROM[alike])
            what = f"a layer that counts as {alike}"
        density = weight.value / thickness.value
        if not low <= density <= high:
            weighed = Said(f"'{weight.text}' in '{thickness.text}', ", Figure(density, G_CM3, 2))
            expected = Said(f"areal weight over thickness of {what} from ", between(low, high, G_CM3, 2))
            peek.say("impossible-layer", (*table, "thickness"), weighed, expected)


def _materials(peek: Peek) -> None:
    """Tools and cores have a material of the reference or their own expansion, zones may have one inside."""
    for pattern, before in (("core.*", ""), ("tool", ""), ("zone.*", "inner_")):
        if not before and (pattern != "tool" or peek.table("tool")):
            peek.needs(pattern, ("material", "expansion"), "a material of the reference, or its expansion")
        for keys, material in peek.places(f"{pattern}.{before}material"):
            if isinstance(material, str):
                _material(peek, keys, material, f"{before}expansion")


def _material(peek: Peek, keys: Keys, material: str, instead: str) -> None:
    """A material must be one of the reference; values given beside it override it.

    A core of a name of its own must not be hard by silence where it grows as hardly anything but rubber does.
    """
    from laminate.files.reference_tables import UnknownMaterial, find

    table = peek.table(*keys[:-1])
    overridden = table.get(instead) is not None
    try:
        find(material, "expansion")
    except UnknownMaterial as fault:
        silent = keys[0] == "core" and not table.get("acts_as")
        rubber = silent and "bulk_modulus" not in table and _grows_as_rubber(table.get(instead))
        if overridden and not rubber and not (silent and _mistyped(material, fault.near)):
            return
        expected = f"a material of the tables, or '{instead}'"
        if overridden:
            expected = 'a material of the tables, or acts_as = "rubber" or "hard" beside a name of your own'
        hint = f"did you mean '{fault.near[0]}'?" if fault.near else "'laminate materials' lists them"
        peek.say("unknown-material", keys, f"'{material}'", expected, hint)


def _grows_as_rubber(expansion: Any) -> bool:
    with suppress(Unreadable):
        return parse(expansion, "expansion").value >= RUBBER_GROWS
    return False


def _mistyped(material: str, near: Sequence[str]) -> bool:
    """Whether a name is a letter or two away from one that is known: it would change what a core acts as."""
    typed = material.casefold()
    return any(SequenceMatcher(None, typed, known.casefold()).ratio() >= 0.9 for known in near)


def _core(peek: Peek, table: Keys, core: dict[str, Any]) -> None:
    """A core by widths and volumes, which is in no room."""
    if "room" in core:
        return
    if core.keys().isdisjoint(IN_ROOM):
        for key, words in (("held", "'no', 'sides' or 'ends'"), ("width", 'a length, such as "30.64 mm"')):
            if key not in core:
                peek.note(missing_key, (*table, key), key, words, "or room = and the sizes of the core")
    volumes = [key for key in ("volume", "cavity_volume") if key in core]
    others = [key for key in ("laminate_area", "insert_volume") if key in core]
    if len(volumes) == 1 or (others and not volumes):
        lacking = "volume" if "volume" not in core else "cavity_volume"
        together = "volume and cavity_volume together; laminate_area and insert_volume need both"
        peek.note(missing_key, table, lacking, together)


def _zones(peek: Peek) -> None:
    if not peek.table("zone") and isinstance(peek.at("zone"), dict):
        peek.note(missing_key, ("zone",), "zone", "a table [zone.NAME]")
    for table, zone in peek.tables("zone.*"):
        if table[-1] in ("individual", "average"):
            reserved, expected = f"a zone named '{table[-1]}'", "another name: limits use this word"
            peek.say("reserved-name", table, reserved, expected)
        kinds = [key for key in ("gap", "core", "bladder", "room") if key in zone]
        if len(kinds) > 1:
            peek.note(both_given, (*table, kinds[1]), *kinds[:2], "one of gap, core, room or bladder")
        _cavity(peek, table, zone)
        _two_metals(peek, table, zone)
        _stack(peek, table, zone)


def _cavity(peek: Peek, table: Keys, zone: dict[str, Any]) -> None:
    """A cavity and its core stand together, and the core is smaller."""
    core = zone.get("core")
    if "core" in zone and "cavity" not in zone:
        peek.note(missing_key, table, "cavity", 'the cold width of the cavity, such as "38.60 mm"')
    if "cavity" in zone and "core" not in zone:
        peek.note(missing_key, table, "core", "the name of a [core.NAME] table, which cavity needs")
    width = peek.value("length", "core", core, "width") if isinstance(core, str) else None
    cavity = peek.value("length", *table, "cavity")
    if width and cavity and width.value >= cavity.value:
        sizes, what = (f"'{width.text}'", f"'{cavity.text}'"), f"cavity ({'.'.join(table)})"
        peek.note(core_too_wide, ("core", core, "width"), *sizes, what)


def _two_metals(peek: Peek, table: Keys, zone: dict[str, Any]) -> None:
    """Two half-widths and the material inside stand together."""
    needed = ("inner_material", "inner_half_width", "outer_half_width")
    metal = "inner_expansion" in zone or needed[0] in zone
    lacking = [key for key in needed if key not in zone and not (key == needed[0] and metal)]
    if 0 < len(lacking) < len(needed):
        peek.note(missing_key, table, lacking[0], f"{', '.join(needed[:2])} and {needed[2]} go together")
    inner, outer = ((*table, key) for key in needed[1:])
    peek.above("length", inner, outer, "not below the outer half-width", "a core inside the tool", level=True)


def _stack(peek: Peek, table: Keys, zone: dict[str, Any]) -> None:
    if not zone.get("stack") and "fill_with" not in zone:
        peek.note(missing_key, table, ("stack", "fill_with"), "the plies, or the prepreg that fills the gap")
    for index, entry in enumerate(peek.rows(*table, "stack")):
        keys = (*table, "stack", index)
        match = re.fullmatch(r"\s*(\d+)\s+(\S.*?)\s*", entry) if isinstance(entry, str) else None
        if match is None or int(match[1]) < 1:
            peek.say("unreadable-value", keys, repr(entry), 'a count and a name, such as "4 ud150"')
        else:
            peek.refers(keys, match[2], [*peek.table("prepreg"), *peek.table("layer")], "a prepreg or layer")


def _plan(peek: Peek, table: Keys, plan: dict[str, Any]) -> dict[str, Spread]:
    methods, by_method = plan.get("methods"), peek.table(*table, "coupons")
    for index, method in enumerate(peek.rows(*table, "methods")):
        if method not in METHODS:
            expected, place = f"one of {', '.join(METHODS)}", (*table, "methods", index)
            peek.note(unknown_name, place, method, expected, METHODS, listed=True)
    if by_method and methods is not None:
        hint = "name each method once: as a key of 'coupons', or in 'methods'"
        peek.note(both_given, (*table, "methods"), "methods", "coupons", hint)
    if "fields" in plan and "point count" not in (by_method or methods or ()):
        peek.note(unused_key, (*table, "fields"), "fields", "this plan has no 'point count'")
    _without_coupons(peek, table, plan)
    pooled: dict[str, Spread] = {}
    for key, text in peek.table(*table, "pooled_scatter").items():
        keys = (*table, "pooled_scatter", key)
        if key not in ATTRIBUTES:
            peek.note(unknown_key, keys, key, ATTRIBUTES)
            continue
        with peek.telling("unreadable-value", keys):
            pooled[key] = parse_spread(text, ATTRIBUTES[key].kind, relative_allowed=False)
    return pooled


def _without_coupons(peek: Peek, table: Keys, plan: dict[str, Any]) -> None:
    """A zone that another one stands for, or that nobody measures, has nothing but that."""
    for key in ("represented_by", "not_measured"):
        other = next((name for name in plan if name != key), None)
        if key in plan and other is not None:
            peek.note(both_given, (*table, other), key, other, f"{key} alone, or coupons")
    reason = plan.get("not_measured")
    if "not_measured" in plan and (not reason or (isinstance(reason, str) and not is_reason(reason))):
        peek.say("wrong-value", (*table, "not_measured"), repr(reason), "a reason in words")
    if "represented_by" in plan:
        plans = {name: {*peek.table("plan", name)} for name in peek.table("zone") if name != table[-1]}
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
