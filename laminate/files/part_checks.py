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
from laminate.files.press_checks import IN_ROOM, core_too_wide
from laminate.files.raw_file import Keys, RawFile
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


def check_part(file: RawFile) -> dict[str, dict[str, Spread]]:
    """Note every finding across keys; returns the pooled scatters of the plans."""
    _names(file)
    _temperatures(file)
    _prepregs(file)
    _layers(file)
    _materials(file)
    check_slips(file)
    _asks(file)
    _zones(file)
    file.one_of("core.*", "temperature", "heating")
    for table, core in file.tables("core.*"):
        _core(file, table, core)
    check_part_cycle(file)
    return {str(table[-1]): _plan(file, table, plan) for table, plan in file.tables("plan.*")}


NAMED = (
    ("prepreg.*.fiber", "fiber"), ("prepreg.*.resin", "resin"), ("layer.*.resin", "resin"),
    ("core.*.room", "room"), ("zone.*.core", "core"), ("zone.*.bladder", "bladder"), ("zone.*.room", "room"),
    ("zone.*.fill_with", "prepreg"), ("heat.core.*", "core"), ("cycle.*.core.*", "core"),
)  # fmt: skip
"""Where a name of a table stands, and of which."""


def _names(file: RawFile) -> None:
    """Names that must point to something: to a table of the file, or to one of a few words."""
    for pattern, table in NAMED:
        file.names(pattern, file.table(table), f"a [{table}.NAME] table")
    file.names("plan.*", file.table("zone"), "a zone")
    file.names("zone.*.sensors.*", SENSORS, f"what a column reads: {', '.join(SENSORS)}")
    file.names("plan.*.coupons.*", METHODS, f"one of {', '.join(METHODS)}")
    if file.places("plan.*.repeats.*"):
        from laminate.files.table import NUMBERS  # tables of coupons are slow to load

        readings = [name for name, kind in NUMBERS.items() if kind != "number"]
        file.names("plan.*.repeats.*", readings, "a column of readings")


def _temperatures(file: RawFile) -> None:
    order = ("room", "gel", "cure", "maximum")
    given = [("temperature", key) for key in order if file.value("temperature", "temperature", key)]
    for low, high in pairwise(given):
        where = f"above {high[1]}"
        file.above("temperature", low, high, where, f"{low[1]} not {where}")
    for table, _ in file.tables("resin.*"):
        liquid, cured = (file.value("density", *table, key) for key in ("liquid_density", "density"))
        if liquid and cured and liquid.above(cured):
            dense_liquid = f"'{liquid.text}', denser than the cured resin '{cured.text}'"
            expected = "a liquid density at gel temperature below the cured density"
            file.say("liquid-above-cured", (*table, "liquid_density"), dense_liquid, expected)


def _prepregs(file: RawFile) -> None:
    weights = ("fiber_areal_weight", "prepreg_areal_weight")
    file.one_of("prepreg.*", *weights, OF_WHAT)
    file.needs("prepreg.*", weights, f"an areal weight {OF_WHAT}")
    for table, prepreg in file.tables("prepreg.*"):
        resin, volatiles = (file.value("fraction", *table, key) for key in ("resin_content", "volatiles"))
        if volatiles and volatiles.value > 0.0 and "resin_basis" not in prepreg:
            file.note(missing_key, table, "resin_basis", BASIS)
        check_shares(file, table, resin, volatiles, prepreg.get("resin_basis"))


def check_shares(
    file: RawFile, table: Keys, resin: SIValue | None, volatiles: SIValue | None, resin_basis: str | None
) -> None:
    """Resin and volatiles leave some fiber; a resin content that counts the volatiles leaves some resin."""
    if resin is None or volatiles is None:
        return
    contents = f"'{resin.text}' and volatiles '{volatiles.text}'"
    if resin.value + volatiles.value >= 1.0:
        file.say("no-fiber", (*table, "resin_content"), contents, "less than 100 % together")
    elif resin_basis == "with volatiles" and volatiles.value > resin.value:
        expected = "volatiles below the resin content, which includes them"
        file.say("no-resin", (*table, "resin_content"), contents, expected)


def _layers(file: RawFile) -> None:
    """Areal weight and thickness of a layer give a density that its kind of layer can have."""
    for table, layer in file.tables("layer.*"):
        if "resin" in layer and layer.get("counts_as") != "resin":
            file.note(unused_key, (*table, "resin"), "resin", 'it goes with counts_as = "resin"')
        weight = file.value("areal_weight", *table, "areal_weight")
        thickness = file.value("length", *table, "thickness")
        if weight is None or thickness is None or thickness.value <= 0.0:
            continue
        (low, high), what, alike = LAYER_DENSITY, "a layer", layer.get("counts_as")
        stated = [file.value("density", *keys, "density") for keys, _ in file.tables(f"{alike}.*")]
        known = [density.value for density in stated if density]
        if alike in FAR_FROM and known:
            low, high = max(low, min(known) / FAR_FROM[alike]), min(high, max(known) * FAR_FROM[alike])
            what = f"a layer that counts as {alike}"
        density = weight.value / thickness.value
        if not low <= density <= high:
            weighed = Said(f"'{weight.text}' in '{thickness.text}', ", Figure(density, G_CM3, 2))
            expected = Said(f"areal weight over thickness of {what} from ", between(low, high, G_CM3, 2))
            file.say("impossible-layer", (*table, "thickness"), weighed, expected)


def _materials(file: RawFile) -> None:
    """Tools and cores have a material of the reference or their own expansion, zones may have one inside."""
    for pattern, before in (("core.*", ""), ("tool", ""), ("zone.*", "inner_")):
        if not before and (pattern != "tool" or file.table("tool")):
            file.needs(pattern, ("material", "expansion"), "a material of the reference, or its expansion")
        for keys, material in file.places(f"{pattern}.{before}material"):
            if isinstance(material, str):
                _material(file, keys, material, f"{before}expansion")


def _material(file: RawFile, keys: Keys, material: str, instead: str) -> None:
    """A material must be one of the reference; values given beside it override it.

    A core of a name of its own must not be hard by silence where it grows as hardly anything but rubber does.
    """
    from laminate.files.reference_tables import UnknownMaterial, find

    table = file.table(*keys[:-1])
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
        file.say("unknown-material", keys, f"'{material}'", expected, hint)


def _grows_as_rubber(expansion: Any) -> bool:
    with suppress(Unreadable):
        return parse(expansion, "expansion").value >= RUBBER_GROWS
    return False


def _mistyped(material: str, near: Sequence[str]) -> bool:
    """Whether a name is a letter or two away from one that is known: it would change what a core acts as."""
    typed = material.casefold()
    return any(SequenceMatcher(None, typed, known.casefold()).ratio() >= 0.9 for known in near)


def _core(file: RawFile, table: Keys, core: dict[str, Any]) -> None:
    """A core by widths and volumes, which is in no room."""
    if "room" in core:
        return
    if core.keys().isdisjoint(IN_ROOM):
        for key, words in (("held", "'no', 'sides' or 'ends'"), ("width", 'a length, such as "30.64 mm"')):
            if key not in core:
                file.note(missing_key, (*table, key), key, words, "or room = and the sizes of the core")
    volumes = [key for key in ("volume", "cavity_volume") if key in core]
    others = [key for key in ("laminate_area", "insert_volume") if key in core]
    if len(volumes) == 1 or (others and not volumes):
        lacking = "volume" if "volume" not in core else "cavity_volume"
        together = "volume and cavity_volume together; laminate_area and insert_volume need both"
        file.note(missing_key, table, lacking, together)


def _zones(file: RawFile) -> None:
    if not file.table("zone") and isinstance(file.at("zone"), dict):
        file.note(missing_key, ("zone",), "zone", "a table [zone.NAME]")
    for table, zone in file.tables("zone.*"):
        if table[-1] in ("individual", "average"):
            reserved, expected = f"a zone named '{table[-1]}'", "another name: limits use this word"
            file.say("reserved-name", table, reserved, expected)
        kinds = [key for key in ("gap", "core", "bladder", "room") if key in zone]
        if len(kinds) > 1:
            file.note(both_given, (*table, kinds[1]), *kinds[:2], "one of gap, core, room or bladder")
        _cavity(file, table, zone)
        _two_metals(file, table, zone)
        _stack(file, table, zone)


def _cavity(file: RawFile, table: Keys, zone: dict[str, Any]) -> None:
    """A cavity and its core stand together, and the core is smaller."""
    core = zone.get("core")
    if "core" in zone and "cavity" not in zone:
        file.note(missing_key, table, "cavity", 'the cold width of the cavity, such as "38.60 mm"')
    if "cavity" in zone and "core" not in zone:
        file.note(missing_key, table, "core", "the name of a [core.NAME] table, which cavity needs")
    width = file.value("length", "core", core, "width") if isinstance(core, str) else None
    cavity = file.value("length", *table, "cavity")
    if width and cavity and width.value >= cavity.value:
        sizes, what = (f"'{width.text}'", f"'{cavity.text}'"), f"cavity ({'.'.join(table)})"
        file.note(core_too_wide, ("core", core, "width"), *sizes, what)


def _two_metals(file: RawFile, table: Keys, zone: dict[str, Any]) -> None:
    """Two half-widths and the material inside stand together."""
    needed = ("inner_material", "inner_half_width", "outer_half_width")
    metal = "inner_expansion" in zone or needed[0] in zone
    lacking = [key for key in needed if key not in zone and not (key == needed[0] and metal)]
    if 0 < len(lacking) < len(needed):
        file.note(missing_key, table, lacking[0], f"{', '.join(needed[:2])} and {needed[2]} go together")
    inner, outer = ((*table, key) for key in needed[1:])
    file.above("length", inner, outer, "not below the outer half-width", "a core inside the tool", level=True)


def _stack(file: RawFile, table: Keys, zone: dict[str, Any]) -> None:
    if not zone.get("stack") and "fill_with" not in zone:
        file.note(missing_key, table, ("stack", "fill_with"), "the plies, or the prepreg that fills the gap")
    for index, entry in enumerate(file.rows(*table, "stack")):
        keys = (*table, "stack", index)
        match = re.fullmatch(r"\s*(\d+)\s+(\S.*?)\s*", entry) if isinstance(entry, str) else None
        if match is None or int(match[1]) < 1:
            file.say("unreadable-value", keys, repr(entry), 'a count and a name, such as "4 ud150"')
        else:
            file.refers(keys, match[2], [*file.table("prepreg"), *file.table("layer")], "a prepreg or layer")


def _plan(file: RawFile, table: Keys, plan: dict[str, Any]) -> dict[str, Spread]:
    methods, by_method = plan.get("methods"), file.table(*table, "coupons")
    for index, method in enumerate(file.rows(*table, "methods")):
        if method not in METHODS:
            expected, place = f"one of {', '.join(METHODS)}", (*table, "methods", index)
            file.note(unknown_name, place, method, expected, METHODS, listed=True)
    if by_method and methods is not None:
        hint = "name each method once: as a key of 'coupons', or in 'methods'"
        file.note(both_given, (*table, "methods"), "methods", "coupons", hint)
    if "fields" in plan and "point count" not in (by_method or methods or ()):
        file.note(unused_key, (*table, "fields"), "fields", "this plan has no 'point count'")
    _without_coupons(file, table, plan)
    pooled: dict[str, Spread] = {}
    for key, text in file.table(*table, "pooled_scatter").items():
        keys = (*table, "pooled_scatter", key)
        if key not in ATTRIBUTES:
            file.note(unknown_key, keys, key, ATTRIBUTES)
            continue
        with file.telling("unreadable-value", keys):
            pooled[key] = parse_spread(text, ATTRIBUTES[key].kind, relative_allowed=False)
    return pooled


def _without_coupons(file: RawFile, table: Keys, plan: dict[str, Any]) -> None:
    """A zone that another one stands for, or that nobody measures, has nothing but that."""
    for key in ("represented_by", "not_measured"):
        other = next((name for name in plan if name != key), None)
        if key in plan and other is not None:
            file.note(both_given, (*table, other), key, other, f"{key} alone, or coupons")
    reason = plan.get("not_measured")
    if "not_measured" in plan and (not reason or (isinstance(reason, str) and not is_reason(reason))):
        file.say("wrong-value", (*table, "not_measured"), repr(reason), "a reason in words")
    if "represented_by" in plan:
        plans = {name: {*file.table("plan", name)} for name in file.table("zone") if name != table[-1]}
        stands = [name for name, keys in plans.items() if not keys & {"represented_by", "not_measured"}]
        expected = "a zone with coupons in its own [plan.ZONE]"
        file.refers((*table, "represented_by"), plan["represented_by"], stands, expected)


def _asks(file: RawFile) -> None:
    """What a batch must tell: table, name where the table has names, key."""
    for index, ask in enumerate(file.rows("part", "asks")):
        keys = ("part", "asks", index)
        if not isinstance(ask, str):
            continue
        table, _, rest = ask.partition(".")
        name, _, key = rest.rpartition(".")
        if not file.refers(keys, table, ASKED, f"a table of the batch file: {', '.join(ASKED)}"):
            continue
        naming_table, known = ASKED[table]
        file.refers(keys, key, known, f"a key of [{table}]: {', '.join(known)}")
        if naming_table and not name:
            file.say("wrong-value", keys, repr(ask), f'a name too, such as "{table}.NAME.{key}"')
        elif (naming_table and naming_table != table) or naming_table in ("fiber", "resin"):
            file.refers(keys, name, file.table(naming_table), f"a [{naming_table}.NAME] table of this file")
        elif not naming_table and name:
            file.say("wrong-value", keys, repr(ask), f'"{table}.{key}", without a name')
