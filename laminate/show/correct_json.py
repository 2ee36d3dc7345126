"""Predicted against achieved as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from laminate.show.measure_json import budget_json
from laminate.show.numbers import quantity_json
from laminate.values.quantities import ATTRIBUTES, G_M2, MM, MPA, NUMBER, PERCENT, shown_difference

if TYPE_CHECKING:
    from laminate.history.centring import Centred, Centring, Change, Count
    from laminate.history.correcting import Correction, Difference, ZoneCorrection
    from laminate.history.loop import Compared
    from laminate.history.rubber import At, RubberCorrection

PROPOSAL = "proposed; the person who owns the part file decides"


def _difference(value: float, u: float | None, attribute: str) -> dict[str, Any]:
    unit = ATTRIBUTES[attribute].unit
    return {
        "value": shown_difference(value, unit),
        "unit": unit.text,
        "standard_uncertainty": None if u is None else shown_difference(u, unit),
    }


def _then(values: Mapping[str, float]) -> dict[str, Any]:
    return {name: quantity_json(value, None, ATTRIBUTES[name].unit) for name, value in values.items()}


def compared_json(batch: str, one: Compared) -> dict[str, Any]:
    """One attribute of one batch."""
    unit, found = ATTRIBUTES[one.attribute].unit, one.difference
    return {
        "batch": batch,
        "method": one.method,
        "coupons": one.coupons,
        "predicted": quantity_json(one.predicted.value, one.predicted.u, unit),
        "achieved": quantity_json(one.achieved.value, one.achieved.u, unit),
        "difference": _difference(found.value, found.u, one.attribute),
    }


def difference_json(one: Difference) -> dict[str, Any]:
    """One attribute over the batches; the difference is predicted minus achieved."""
    unit, mean = ATTRIBUTES[one.attribute].unit, one.difference.mean
    return {
        "attribute": one.attribute,
        "predicted": quantity_json(one.predicted.mean.value, one.predicted.mean.u, unit),
        "achieved": quantity_json(one.achieved.mean.value, one.achieved.mean.u, unit),
        "difference": {
            **_difference(mean.value, mean.u, one.attribute),
            "expanded_uncertainty": shown_difference(one.k * mean.u, unit),
            "coverage_factor": one.k,
        },
        "means_something": one.means_something,
        "between_batches": {
            "chance": one.difference.chance,
            "scatters_more_than_stated": one.difference.scatters,
        },
        "batches": [compared_json(batch, compared) for batch, compared in one.batches],
        "budget": budget_json(one.budget(), unit),
    }


def change_json(change: Change) -> dict[str, Any]:
    """One size, changed alone; cold."""
    return {
        "size": change.size.replace(" ", "_"),
        "now": quantity_json(change.now, None, MM),
        "then": quantity_json(change.then, None, MM),
        "change": quantity_json(change.change, change.u, MM),
    }


def centred_json(one: Centred) -> dict[str, Any]:
    """How one attribute would come to its middle."""
    aim = one.aim
    unit = ATTRIBUTES[aim.attribute].unit
    return {
        "attribute": aim.attribute,
        "aim": quantity_json(aim.middle, None, unit),
        "aim_is_the_middle_of": aim.words,
        "now": quantity_json(one.now.value, one.now.u, unit),
        "coverage_factor": one.k,
        "off_by_more_than_its_uncertainty": one.means_something,
        "hot_gap": None if one.hot_gap is None else quantity_json(one.hot_gap, None, MM),
        "hindrance": one.hindrance or None,
        "changes": [change_json(change) for change in one.changes],
        "then": _then(one.then),
    }


def count_json(count: Count) -> dict[str, Any]:
    """So many plies in the gap as it is."""
    return {
        "plies": count.plies,
        "verdict": count.verdict,
        "then": _then(count.then),
        "outside": list(count.outside),
    }


def centring_json(found: Centring) -> dict[str, Any]:
    """Everything that could be changed in one zone."""
    between = found.between
    return {
        "proposal": PROPOSAL,
        "centre": [centred_json(one) for one in found.aims],
        "both_cannot_be_centred": found.cannot_both,
        "thickness_left_off": None if found.apart is None else quantity_json(found.apart[0], None, MM),
        "between": None
        if between is None or between.hot_gap is None
        else {
            "hot_gap": quantity_json(between.hot_gap, None, MM),
            "changes": [change_json(change) for change in between.changes],
            "then": _then(between.then),
        },
        "counts": [count_json(count) for count in found.counts],
    }


def zone_json(zone: ZoneCorrection) -> dict[str, Any]:
    """One zone: differences, and what would centre the next batch."""
    return {
        "zone": zone.zone,
        "plies": zone.plies,
        "next_is_like": zone.like,
        "differences": [difference_json(one) for one in zone.differences],
        "worth_changing": zone.change,
        **centring_json(zone.centring),
        "not_measured": list(zone.not_measured),
    }


def _at(found: At | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "thickness": quantity_json(found.thickness, None, MM),
        "fiber_volume": quantity_json(found.fiber_volume, None, PERCENT),
        **_pressures(found),
    }


def _pressures(found: At) -> dict[str, Any]:
    return {
        "at_gel": None if found.gel is None else quantity_json(found.gel, None, MPA),
        "at_worst": None if found.worst is None else quantity_json(found.worst, None, MPA),
    }


def _size(what: str, value: float) -> dict[str, Any]:
    unit = NUMBER if what == "ply_count" else G_M2 if what.endswith("areal_weight") else PERCENT
    return quantity_json(value, None, unit)


def rubber_json(zone: RubberCorrection) -> dict[str, Any]:
    """One zone under rubber: the bleed that was achieved, and each change with its pressures."""
    volume = zone.fiber_volume
    return {
        "zone": zone.zone,
        "pressed_by": "rubber",
        "plies": zone.plies,
        "next_is_like": zone.batch,
        "differences": [],
        "predicted": _at(zone.predicted),
        "achieved": {
            "thickness": quantity_json(zone.achieved.value, zone.achieved.u, MM),
            "fiber_volume": None if volume is None else quantity_json(volume.value, volume.u, PERCENT),
        },
        "bleed_achieved": quantity_json(zone.bleed, zone.u, PERCENT),
        "bleed_at_no_pressure": None
        if zone.none_left_at is None
        else quantity_json(zone.none_left_at, None, PERCENT),
        "pressure_now": _pressures(zone.now),
        "aim": None if zone.aim is None else quantity_json(zone.aim, None, MM),
        "check": zone.beyond or None,
        "proposals": [
            {
                "what": one.what,
                "now": _size(one.what, one.now),
                "then": _size(one.what, one.then),
                "before": _at(one.before),
                "after": _at(one.after),
                "pressure_before": _pressures(one.before),
                "pressure_after": _pressures(one.after),
                "refused": one.refused or None,
                "core_width_to_keep_the_pressure": None
                if one.core_width is None
                else quantity_json(one.core_width, None, MM),
            }
            for one in zone.proposals
        ],
        "not_measured": list(zone.not_measured),
    }


def correction_json(found: Correction) -> dict[str, Any]:
    """The whole answer of `correct`."""
    return {
        "part_number": found.part_number,
        "batches": list(found.batches),
        "material_of_next": "part file" if found.nominal else f"batch {found.batches[-1]}",
        "difference_is": "predicted minus achieved",
        "zones": [
            *(zone_json(zone) for zone in found.zones),
            *(rubber_json(zone) for zone in found.rubber),
        ],
        "notes": list(found.notes),
    }
