"""Predicted against achieved as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from laminate.show.measure_json import budget_json
from laminate.show.numbers import quantity_json
from laminate.values.quantities import ATTRIBUTES, MM, shown_difference

if TYPE_CHECKING:
    from laminate.history.centring import Centred, Centring, Change, Count
    from laminate.history.correcting import Correction, Difference, ZoneCorrection
    from laminate.history.loop import Compared

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


def correction_json(found: Correction) -> dict[str, Any]:
    """The whole answer of `correct`."""
    return {
        "part_number": found.part_number,
        "batches": list(found.batches),
        "material_of_next": "part file" if found.nominal else f"batch {found.batches[-1]}",
        "difference_is": "predicted minus achieved",
        "zones": [zone_json(zone) for zone in found.zones],
        "notes": list(found.notes),
    }
