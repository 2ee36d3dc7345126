"""The answer of `fill` for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.press.filling import ZoneFill
from laminate.show import pressed_json
from laminate.show.engineer_text import difference, plain, quantities, quantity
from laminate.show.fill_answer import grade, opener_words, why
from laminate.show.measure_json import input_json
from laminate.show.numbers import quantity_json
from laminate.show.pressed_json import steam_json
from laminate.values.quantities import ATTRIBUTES, G_M2, GRAM, M2, MM, MPA, NUMBER, PERCENT

if TYPE_CHECKING:
    from collections.abc import Callable

    from laminate.press.charge_list import ChargeList
    from laminate.press.closing_window import ClosingWindow, Opener
    from laminate.press.counts import Row
    from laminate.press.filling import Fill
    from laminate.press.inverse import GapWanted, Order, ToleranceWanted

CHANCES = ("fills", "closes", "within_limits", "all", "within_average", "within_individual")
OPENER_UNITS = {"bleed limit": PERCENT, "bulk factor": NUMBER, "ply count": NUMBER}


def _told(row: Row, found: Callable[[str], float]) -> dict[str, float | None]:
    """A number for each chance; whether a gap closes that is not judged is not known, nor all together."""
    unknown = ("closes", "all") if row.verdict == "not judged" else ()
    return {name: None if name in unknown else found(name) for name in CHANCES}


def row_json(row: Row) -> dict[str, Any]:
    """One ply count."""
    attributes = {key: quantity(found, ATTRIBUTES[key].unit) for key, found in row.part.items()}
    fill = row.fill_ratio
    found: dict[str, Any] = {
        "plies": row.plies,
        "fill_plies": row.fill_plies,
        "fill_ratio": fill.value if fill else None,
        "fill_ratio_standard_uncertainty": fill.u if fill else None,
        "fiber_volume": attributes.pop("fiber_volume"),
        "fiber_volume_in_gap": quantity(row.fiber_volume_in_gap, PERCENT),
    }
    if row.bleed is not None:
        short = row.bleed.value < 0.0
        amount = row.bleed._replace(value=-row.bleed.value) if short else row.bleed
        found["shortfall" if short else "resin_to_bleed"] = quantity(amount, PERCENT)
    found |= {
        "thickness": attributes.pop("thickness"),
        "thickness_if_gap_holds": quantity(row.thickness_if_gap_holds, MM),
        "void_if_gap_holds": quantity(row.void_if_gap_holds, PERCENT),
        "verdict": row.verdict,
        "pressure_at_gel": None,
        "pressure_at_worst": None,
        "bleed": quantity(row.bleed, PERCENT) if row.bleed is not None and row.bleed.value >= 0.0 else None,
        "bleed_window": None,
        "bleed_at_no_pressure": None,
        "chance": {**_told(row, lambda name: getattr(row.chance, name)), "pressed": None, "holds": None},
        "sampling_error": _told(row, row.chance.error),
        **attributes,
        "outside_limits": list(row.outside),
    }
    for name, values in (("sides", row.sides), ("bleed_range", row.ends)):
        if values:
            units = {"hot_gap": MM, "thickness": MM, "fiber_volume": PERCENT}
            found[name] = [{k: plain(v, units[k]) for k, v in one.items() if k in units} for one in values]
    return found


def _opener(opener: Opener) -> dict[str, Any]:
    unit = OPENER_UNITS.get(opener.what, MM)
    return {
        "change": opener.what.replace(" ", "_"),
        "plies": opener.plies,
        "from": plain(opener.now, unit),
        "to": plain(opener.needed, unit),
        "by": difference(opener.change, unit),
        "words": opener_words(opener, "metric"),
    }


def _window(window: ClosingWindow | None) -> dict[str, Any] | None:
    if window is None:
        return None
    return {
        "plies": window.plies,
        "open": window.open,
        "smallest_hot_gap": quantity(window.smallest_hot_gap, MM),
        "largest_hot_gap": quantity(window.largest_hot_gap, MM),
        "smallest_cold_gap": quantity(window.smallest_cold_gap, MM),
        "smallest_hot_gap_set_by": window.governs,
        "cold_shortfall": plain(window.shortfall, MM),
        "cold_sizes_for_middle": quantities(window.middle, MM),
        "what_opens_it": [_opener(opener) for opener in window.what_opens_it],
    }


def _gap(found: GapWanted | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "plies": found.plies,
        "fiber_volume": plain(found.fiber_volume, PERCENT),
        "hot_gap": plain(found.hot_gap, MM),
        "cold_sizes": quantities(found.sizes, MM),
        "resin_to_bleed" if found.bleed >= 0.0 else "shortfall": plain(abs(found.bleed), PERCENT),
        "possible": not found.hindrance,
        "hindrance": found.hindrance or None,
    }


def _order(found: Order | None) -> dict[str, Any] | None:
    if found is None:
        return None
    low, high = found.resin_content or (None, None)
    volume_low, volume_high = found.fiber_volume_there or (None, None)
    weight = "prepreg_areal_weight" if found.of_prepreg else "areal_weight"
    return {
        "plies": found.plies,
        "prepreg": found.prepreg,
        "fiber_volume_wanted": plain(found.fiber_volume, PERCENT),
        weight: plain(found.areal_weight, G_M2),
        "resin_to_bleed": plain(found.bleed, PERCENT),
        "possible": (found.areal_weight is not None and not found.hindrance) if found.fiber_volume else None,
        "hindrance": found.hindrance or None,
        "resin_content_from": plain(low, PERCENT),
        "resin_content_to": plain(high, PERCENT),
        "fiber_volume_at_resin_content_from": plain(volume_low, PERCENT),
        "fiber_volume_at_resin_content_to": plain(volume_high, PERCENT),
    }  # fmt: skip


def _tolerance(found: ToleranceWanted) -> dict[str, Any]:
    return {
        **input_json(found.input),
        "stated": found.stated or None,
        "factor_on_tolerance": found.factor,
        "chance_if_exact": found.best,
        "sampling_error": found.error,
    }


def zone_json(zone: ZoneFill) -> dict[str, Any]:
    """One zone."""
    rule = zone.bleed_rule
    return {
        "zone": zone.zone,
        "fill_with": zone.fill_with,
        "fixed_plies": zone.fixed_plies,
        "pressed_by": "hard" if zone.core else "matched",
        "walls": zone.walls,
        "wanted_pressure": plain(zone.wanted, MPA),
        "bleed_stated": None,
        "grade": grade(zone),
        "missing_for_use": list(zone.left_out),
        "left_to_close": plain(zone.left_to_close, MPA),
        "hot_gap": quantity(zone.hot_gap, MM),
        "cold_gap": quantity(zone.cold_gap, MM),
        "core": zone.core,
        "core_shared_with": list(zone.core_shared_with),
        "bladder_pressure": plain(zone.bladder, MPA),
        "bleed_limit": plain(zone.bleed_limit, PERCENT),
        "packing_limit": plain(zone.packing_limit, PERCENT),
        "use": zone.use.plies if zone.use else None,
        "why": why(zone, "metric"),
        "not_measured": list(zone.not_measured),
        "counts": [row_json(row) for row in zone.rows],
        "closing_window": _window(zone.window),
        "nearest": [
            {
                "plies": near.plies,
                "verdict": near.verdict,
                "hot_gap_change": difference(near.change, MM),
                "cold_gap_as_laid_up": plain(near.laid_up, MM),
                "cold_sizes_to_fit": quantities(near.to_fit, MM),
                "cold_sizes_to_middle": quantities(near.to_middle, MM),
            }
            for near in zone.nearest
        ],
        "bleed_limit_with_a_count_for_any_gap": plain(rule.limit, PERCENT) if rule else None,
        "gap_for_wanted": _gap(zone.gap_wanted),
        "order": _order(zone.order),
        "chance_wanted": zone.chance_wanted,
        "tolerance_for_chance": [_tolerance(need) for need in zone.tolerances],
        "steam": steam_json(zone.steam),
    }


def _charge(found: ChargeList) -> dict[str, Any]:
    """What is laid up at the counts above, before anything bleeds."""
    return {
        "zones": [
            {
                "zone": one.zone,
                "plies": one.plies,
                "walls": one.walls,
                "area": None if one.area is None else quantity_json(one.area.value, one.area.u, M2),
                "mass": quantity(one.mass, GRAM),
                "mass_of_all_walls": quantity(one.mass_of_all_walls, GRAM),
            }
            for one in found.zones
        ],
        "mass_of_part": quantity(found.mass, GRAM),
        "left_out": list(found.left_out),
    }


def fill_json(found: Fill) -> dict[str, Any]:
    """The answer for every zone."""
    return {
        "part": {"number": found.part.part.number, "issue": found.part.part.issue},
        "zones": [
            zone_json(z) if isinstance(z, ZoneFill) else pressed_json.zone_json(z) for z in found.zones
        ],
        "press": pressed_json.press_json(found.press),
        "charge": _charge(found.charge),
        "draws": found.draws,
        "seed": found.seed,
    }
