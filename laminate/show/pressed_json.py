"""The answer of `fill` for programs, of a zone under rubber or a bladder, and of the press."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from laminate.show.engineer_text import plain, quantity
from laminate.show.measure_json import input_json
from laminate.show.pressed_words import advice
from laminate.values.quantities import ATTRIBUTES, DEG_C, KN, MM, MPA, PERCENT, Unit, shown

if TYPE_CHECKING:
    from laminate.press.pressed import Band, PressedChance, PressedFill, PressedRow, PressForces, VolumeWindow
    from laminate.press.steam import Steam

CHANCES = ("pressed", "holds", "within_limits", "all", "within_average", "within_individual")
CM3 = Unit("cm^3", 1e6)


def _band(found: Band | None, unit: Unit) -> dict[str, Any] | None:
    if found is None:
        return None
    value, low, high = (shown(one, unit) if math.isfinite(one) else None for one in found)
    return {"value": value, "unit": unit.text, "low": low, "high": high}


def _finite(value: float | None, unit: Unit) -> dict[str, Any] | None:
    """A quantity; null where laminates leave the cores no room, so that no pressure is high enough."""
    return plain(value if value is not None and math.isfinite(value) else None, unit)


def _chance(chance: PressedChance) -> dict[str, Any]:
    told = {name: getattr(chance, name) for name in CHANCES}
    return {"fills": None, "closes": None, **told, "reason": chance.reason or None}


def row_json(row: PressedRow) -> dict[str, Any]:
    """One ply count; what only a gap has is null."""
    attributes = {key: quantity(found, ATTRIBUTES[key].unit) for key, found in row.part.items()}
    window = row.window
    return {
        "plies": row.plies,
        "fill_plies": row.fill_plies,
        "fill_ratio": None,
        "fill_ratio_standard_uncertainty": None,
        "fiber_volume": attributes.pop("fiber_volume"),
        "fiber_volume_in_gap": None,
        "resin_to_bleed": None,
        "thickness": attributes.pop("thickness"),
        "thickness_if_gap_holds": None,
        "void_if_gap_holds": None,
        "verdict": row.verdict,
        "chance": _chance(row.chance),
        "sampling_error": {name: row.chance.error(name) for name in CHANCES},
        "pressure_at_gel": _band(row.pressure_at_gel, MPA),
        "pressure_at_worst": _band(row.pressure_at_worst, MPA),
        "bleed": _band(row.bleed, PERCENT),
        "bleed_window": None
        if window is None
        else {
            "tool_holds_from": None if row.left_out else plain(window.holds, PERCENT),
            "presses_up_to": plain(window.presses, PERCENT),
            "end_of_bleed": plain(window.end, PERCENT),
            "empty": None if row.left_out and not window.empty else window.empty,
        },
        "bleed_at_no_pressure": plain(row.none_left_at, PERCENT),
        **attributes,
        "outside_limits": list(row.outside),
        **({"bleed_range": [_end(end) for end in row.ends]} if row.ends else {}),
    }


def _end(end: dict[str, float]) -> dict[str, Any]:
    units = {"thickness": MM, "fiber_volume": PERCENT}
    return {key: plain(end[key], unit) for key, unit in units.items()}


def core_sizes_json(one: VolumeWindow) -> dict[str, Any]:
    """Sizes of a core with which it presses as needed and the tool holds."""
    width = one.width
    return {
        "core": one.core,
        "volume": plain(one.now, CM3),
        "least_volume": plain(one.low, CM3),
        "most_volume": plain(one.high, CM3),
        "width": plain(width[0], MM) if width else None,
        "least_width": plain(width[1], MM) if width else None,
        "most_width": plain(width[2], MM) if width and one.high is not None else None,
    }


def steam_json(found: Steam | None) -> dict[str, Any] | None:
    """Water vapor against resin pressure."""
    if found is None:
        return None
    return {
        "temperature": plain(found.temperature, DEG_C),
        "stored_humidity": plain(found.humidity, PERCENT),
        "stored_humidity_stated": found.stated,
        "water_vapor_pressure": plain(found.water, MPA),
        "resin_pressure_at_most": plain(found.resin, MPA),
        "pressures": "absolute",
        "steam_can_open_voids": found.possible,
    }


def zone_json(zone: PressedFill) -> dict[str, Any]:
    """One zone; what only a gap has is null."""
    stated = zone.bleed_stated
    nothing = dict.fromkeys(
        ("closing_window", "bleed_limit_with_a_count_for_any_gap", "gap_for_wanted", "order", "chance_wanted")
    )
    return {
        "zone": zone.zone,
        "fill_with": zone.fill_with,
        "fixed_plies": zone.fixed_plies,
        "pressed_by": zone.pressed_by,
        "walls": zone.walls,
        "hot_gap": None,
        "cold_gap": None,
        "core": zone.core,
        "core_shared_with": list(zone.core_shared_with),
        "bladder_pressure": plain(zone.bladder, MPA),
        "bleed_limit": plain(zone.bleed_limit, PERCENT),
        "bleed_stated": None
        if stated is None
        else {
            "value": shown(stated[0], PERCENT),
            "unit": "%",
            "standard_uncertainty": shown(stated[1], PERCENT),
        },
        "packing_limit": plain(zone.packing_limit, PERCENT),
        "wanted_pressure": plain(zone.wanted, MPA),
        "needed_pressure": plain(zone.needed, MPA),
        "use": zone.use.plies if zone.use else None,
        "best": zone.best.plies,
        "grade": zone.grade,
        "missing_for_use": list(zone.missing),
        "why": advice(zone, "metric"),
        "supposed": [*zone.beside, *zone.supposed],
        "not_measured": list(zone.not_measured),
        "counts": [row_json(row) for row in zone.rows],
        "core_sizes": [core_sizes_json(one) for one in zone.cores],
        "moves_the_chance": [{**input_json(name), "chance_if_halved": share} for name, share in zone.moves],
        "steam": steam_json(zone.steam),
        "nearest": [],
        "tolerance_for_chance": [],
        **nothing,
    }


def press_json(found: PressForces | None) -> dict[str, Any] | None:
    """The press at the counts that are advised; a force without end is null."""
    if found is None:
        return None
    return {
        "clamp_force": plain(found.clamp_force, KN),
        "opening_force": {
            "at_gel": _finite(found.at_gel, KN),
            "at_worst": _finite(found.at_worst, KN),
            **({} if found.cold is None else {"shut_cold": _finite(found.cold, KN)}),
        },
        "worst_moment": found.worst_moment,
        "gives_way_at": plain(found.gives_way_at, DEG_C),
        "pressure_limit": plain(found.pressure_limit, MPA),
        "left_to_close": _finite(found.left_to_close, MPA),
        "chance_holds": found.chance_holds,
        "left_out": list(found.left_out),
    }
