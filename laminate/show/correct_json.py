"""Predicted against achieved as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from laminate.show.measure_json import budget_json
from laminate.show.numbers import quantity_json
from laminate.show.pressed_json import CM3
from laminate.values.quantities import (
    ATTRIBUTES,
    G_M2,
    MM,
    MPA,
    NUMBER,
    PERCENT,
    Unit,
    shown,
    shown_difference,
)  # fmt: skip

if TYPE_CHECKING:
    from laminate.history.achieved import Compared
    from laminate.history.bled import Bled
    from laminate.history.centring import Centred, Centring, Change, Count
    from laminate.history.correcting import Correction, Difference, RubberZone, ZoneCorrection
    from laminate.history.rubber import At, CoreAlone, Proposal

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
    """One zone: differences, and what would center the next batch."""
    return {
        "zone": zone.zone,
        "plies": zone.plies,
        "next_is_like": zone.like,
        "differences": [difference_json(one) for one in zone.differences],
        "worth_changing": zone.change,
        **centring_json(zone.centring),
        "not_measured": list(zone.not_measured),
    }


def _over(found: At, key: str, unit: Unit) -> dict[str, Any] | None:
    """A number of a state, with its range over the ± of the achieved bleed where it has one."""
    value = getattr(found, key)
    if value is None:
        return None
    said = quantity_json(value, None, unit)
    if found.over is not None:
        ends = [shown(getattr(one, key), unit) for one in found.over]
        said |= {"low": min(ends), "high": max(ends)}
    return said


def _at(found: At | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "thickness": _over(found, "thickness", MM),
        "fiber_volume": _over(found, "fiber_volume", PERCENT),
        **_pressures(found),
    }


def _pressures(found: At) -> dict[str, Any]:
    return {"at_gel": _over(found, "gel", MPA), "at_worst": _over(found, "worst", MPA)}


def _size(what: str, value: float) -> dict[str, Any]:
    unit = NUMBER if what == "ply_count" else G_M2 if what.endswith("areal_weight") else PERCENT
    return quantity_json(value, None, unit)


def _now_then(found: tuple[float, float] | None, unit: Unit) -> dict[str, Any] | None:
    if found is None:
        return None
    return {"now": quantity_json(found[0], None, unit), "then": quantity_json(found[1], None, unit)}


def _bled(found: Bled) -> dict[str, Any]:
    return {"batch": found.batch, "bleed_achieved": quantity_json(found.bleed.value, found.bleed.u, PERCENT)}


def proposal_json(one: Proposal) -> dict[str, Any]:
    """One change alone, the zone before and after, and the core that keeps the pressure at gel."""
    core = one.core
    return {
        "what": one.what,
        "now": _size(one.what, one.now),
        "then": _size(one.what, one.then),
        "before": _at(one.before),
        "after": _at(one.after),
        "pressure_before": _pressures(one.before),
        "pressure_after": _pressures(one.after),
        "refused": one.refused or None,
        "core_width_to_keep_the_pressure": None
        if core is None or core.width is None
        else quantity_json(core.width[1], None, MM),
        "core_to_keep_the_pressure": None
        if core is None
        else {
            "core": core.core,
            "volume": _now_then(core.volume, CM3),
            "width": _now_then(core.width, MM),
            "dummy_thickness": _now_then(core.dummy, MM),
        },
    }


def _core_alone(found: CoreAlone | None) -> dict[str, Any] | None:
    if found is None:
        return None
    width = found.width and [quantity_json(one, None, MM) for one in found.width]
    return {
        "core": found.core,
        "volume": {"now": quantity_json(found.now, None, CM3)}
        | {k: quantity_json(v, None, CM3) for k, v in zip(("least", "most"), found.volume, strict=True)},
        "width": None if width is None else dict(zip(("now", "least", "most"), width, strict=True)),
        "at_least": _at(found.least),
        "at_most": _at(found.most),
    }


def rubber_json(found: RubberZone) -> dict[str, Any]:
    """One zone under rubber: the bleed that was achieved, and each change with its pressures.

    What only a gap has is null or empty.
    """
    zone, run = found.answer, found.answer.run
    aim = zone.aims[0][0] if zone.aims else None
    volume = run.fiber_volume
    return {
        "zone": zone.zone,
        "pressed_by": "rubber",
        "plies": zone.plies,
        "next_is_like": zone.batch,
        "differences": [difference_json(one) for one in found.differences],
        "worth_changing": zone.change,
        "proposal": PROPOSAL,
        "centre": [],
        "both_cannot_be_centred": None,
        "thickness_left_off": None,
        "between": None,
        "counts": [],
        "predicted": _at(zone.predicted),
        "achieved": {
            "thickness": quantity_json(run.thickness.value, run.thickness.u, MM),
            "fiber_volume": quantity_json(volume.value, volume.u, PERCENT),
            "void_content": None
            if run.void_content is None
            else quantity_json(run.void_content, None, PERCENT),
        },
        "bleed_achieved": quantity_json(zone.bleed, run.bled.bleed.u, PERCENT),
        "earlier_batches": [_bled(one) for one in zone.earlier],
        "bleed_at_no_pressure": None
        if zone.none_left_at is None
        else quantity_json(zone.none_left_at, None, PERCENT),
        "pressure_now": _pressures(zone.now),
        "pressure_limit_given": zone.limit_given,
        "aim": None if aim is None else quantity_json(aim.middle, None, ATTRIBUTES[aim.attribute].unit),
        "aim_of": None if aim is None else aim.attribute,
        "check": zone.check or None,
        "proposals": [proposal_json(one) for one in zone.proposals],
        "core_alone": _core_alone(zone.core_alone),
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
