"""The answer of `core` for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.show.core_words import cautions
from laminate.show.engineer_text import difference, plain, quantity
from laminate.show.numbers import quantity_json
from laminate.show.pressed_json import core_sizes_json, press_json, steam_json
from laminate.values.quantities import DEG_C, KELVIN, KN, MM, MPA

if TYPE_CHECKING:
    from laminate.press.core_results import CoreAnswer, CoreInZone, Pressure
    from laminate.press.pressing import Cores

STATES, MOMENTS = ("lowest", "nominal", "locked_maximum", "expected"), ("at_gel", "at_maximum")


def _pressure(found: Pressure | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        **quantity_json(found.value, found.u, MPA),
        "from": found.low * MPA.per_si,
        "to": found.high * MPA.per_si,
        "gap_closed": found.value > 0.0,
        "chance_above_clamp": found.above_clamp,
    }


def _pressures(zone: CoreInZone) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for state in STATES:
        values = {m: _pressure((zone.pressure or {}).get(f"{state} {m}")) for m in MOMENTS}
        found[state] = values if any(values.values()) else None
    for key, state in (("worst", "nominal"), ("expected_worst", "expected")):
        found[key] = _pressure((zone.pressure or {}).get(f"{state} worst"))
    reasons = [r for r in (zone.reason, zone.nominal_reason) if r]
    return {**found, "reason": "; ".join(reasons) or None}


def _zone(zone: CoreInZone) -> dict[str, Any]:
    return {
        "zone": zone.zone,
        "plies": zone.plies or None,
        "plies_fit": zone.plies_fit,
        "contact_temperature": quantity(zone.contact, DEG_C),
        "contact_temperature_together": quantity(zone.contact_together, DEG_C),
        "liquid_full_temperature": quantity(zone.liquid_full, DEG_C),
        "window": {
            "contact_to_liquid_full": difference(zone.window, KELVIN),
            "locked_reaches_clamp_temperature": plain(zone.clamp_reached, DEG_C),
        },
        "pressure": _pressures(zone),
        "locked_pressure_per_kelvin": difference(zone.locked_per_kelvin, MPA),
        "gap_wanted": plain(zone.gap, MM),
        "cold_width_for_gap": quantity(zone.cold_width, MM),
        "cold_width_across": zone.across,
        "dummy_thickness": quantity(zone.dummy, MM),
        "pull_out_clearance": quantity(zone.pull_out, MM),
        "not_measured": list(zone.not_measured),
    }


def core_json_one(core: CoreAnswer) -> dict[str, Any]:
    """One core: the zone that governs at the top, every zone below."""
    governing = _zone(core.governing)
    limit = core.clamp_limit
    return {
        "core": core.core,
        **_in_press(core),
        "held": core.held,
        "material": core.material,
        **governing,
        "mean_temperature": quantity(core.mean_temperature, DEG_C),
        "mean_temperature_by_time": [
            {
                "time": {"value": t / 60.0, "unit": "min", "standard_uncertainty": None},
                "mean": plain(mean, DEG_C),
            }
            for t, mean in core.warming
        ],
        "highest_temperature": plain(core.highest_temperature, DEG_C),
        "free_growth": quantity(core.free_growth, MM),
        "width": quantity(core.width, MM),
        "clamp_limit": quantity(limit, MPA),
        "clamp_reason": core.clamp_reason or None,
        "tool_opens": _tool_opens(core),
        "locked_tool_opens": core.locked_opens,
        "pressure_with_clamp": plain(core.with_clamp(), MPA),
        "balance": core.balance,
        "moldings": core.moldings,
        "limit_moldings": core.limit_moldings,
        "past_limit_of_moldings": core.worn,
        "screening_only": True,
        "steam": steam_json(core.steam),
        "cautions": cautions(core, "metric"),
        "zones": [_zone(zone) for zone in core.zones],
    }


def _tool_opens(core: CoreAnswer) -> bool | None:
    """Whether the clamp gives way at a nominal pressure; None where that is not known."""
    shut = core.in_press.stays_shut
    return None if shut is None else not shut


def _in_press(core: CoreAnswer) -> dict[str, Any]:
    """What the press says; of a hard core no pressure."""
    found = core.in_press
    resin, water, need = found.vapor or (None, None, None)
    return {
        "worst_moment": found.worst_moment,
        "expected_worst_moment": found.expected_moment,
        "tool_holds": found.holds,
        "missing_for_use": list(found.missing),
        "within_pressure_limit": found.within_limit,
        "chance_tool_does_not_hold": found.opens,
        "chance_over": None if found.opens is None else "stated bleed" if found.stated else "no bleed",
        "clamp_limit_at_maximum": plain(found.limits["at_maximum"], MPA),
        "vapor": None
        if not core.rubber
        else {
            "resin_pressure_absolute": plain(resin, MPA),
            "water_vapor_pressure": plain(water, MPA),
            "needed_above_ambient": plain(need, MPA),
        },
        "vapor_before_pressure": None
        if found.vapor_first is None
        else {
            "presses_from": plain(found.vapor_first[0], DEG_C),
            "water_vapor_pressure": plain(found.vapor_first[1], MPA),
            "pressures": "absolute",
        },
        "cold_clearance": {way: plain(left, MM) for way, left in found.clearance.items()},
        "volume_window": [core_sizes_json(one) for one in found.windows],
        "press": press_json(found.forces),
        "supposed": list(found.supposed),
    }


def core_json(found: Cores) -> dict[str, Any]:
    """The answer for every core."""
    tool = found.part.tool
    force = tool.clamp_force if tool else None
    return {
        "part": {"number": found.part.part.number, "issue": found.part.part.issue},
        "clamp_force": None if force is None else quantity_json(force.value, force.u, KN),
        "press": next((press_json(c.in_press.forces) for c in found.cores), None),
        "cores": [core_json_one(core) for core in found.cores],
        "draws": found.draws,
        "seed": found.seed,
    }
