"""Evidence beside a measurement, as JSON: inputs that would reconcile its methods, and the weighed charge."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.show.measure_json import budget_json, input_json
from laminate.show.numbers import quantity_json
from laminate.values.quantities import ATTRIBUTES, DEG_C, KELVIN, Unit, shown, shown_difference

if TYPE_CHECKING:
    from laminate.coupons.adjustment import Adjustment
    from laminate.coupons.charge import Weighed
    from laminate.coupons.discrepancies import Discrepancy
    from laminate.coupons.measurement import Measurement

EVIDENCE = "evidence only: no value was changed by it"


def _step(unit: Unit) -> Unit:
    """The unit of a difference."""
    return KELVIN if unit == DEG_C else unit


def _discrepancy(one: Discrepancy) -> dict[str, Any]:
    unit = ATTRIBUTES[one.attribute].unit
    return {
        "specimen": one.specimen,
        "attribute": one.attribute,
        "methods": list(one.methods),
        "difference": shown_difference(one.difference, unit),
        "standard_uncertainty": shown_difference(one.u, unit),
        "unit": unit.text,
        "suspects": [
            {
                **input_json(s.input),
                "value": None if s.value is None else shown(s.value, s.unit),
                "reconciled": None if s.reconciled is None else shown(s.reconciled, s.unit),
                "shift": shown_difference(s.shift, _step(s.unit)),
                "unit": s.unit.text,
                "standard_uncertainties": s.standard_uncertainties,
                "text": s.sentence(),
            }
            for s in one.suspects
        ],
    }


def _adjustment(found: Adjustment) -> dict[str, Any]:
    return {
        "note": EVIDENCE,
        "chi_squared": found.chi_squared,
        "degrees_of_freedom": found.degrees_of_freedom,
        "p": found.p,
        "conditions": found.conditions,
        "void_contents_held_to_zero": found.no_voids,
        "inputs": [
            {
                **input_json(one.input),
                "value": None if one.value is None else shown(one.value, one.unit),
                "adjusted": None if one.adjusted is None else shown(one.adjusted, one.unit),
                "standard_uncertainty": shown_difference(one.u, _step(one.unit)),
                "adjusted_standard_uncertainty": shown_difference(one.adjusted_u, _step(one.unit)),
                "shift_in_u": one.shift_in_u,
                "unit": one.unit.text,
            }
            for one in found.inputs
        ],
        "means": {
            key: {
                "before": shown(before, ATTRIBUTES[key].unit),
                "after": shown(after, ATTRIBUTES[key].unit),
                "unit": ATTRIBUTES[key].unit.text,
            }
            for key, (before, after) in found.means.items()
        },
    }


def reconciliation_json(measurement: Measurement) -> dict[str, Any]:
    """Which inputs would reconcile methods that disagree, and what a least-squares adjustment says."""
    adjusted = measurement.adjustment
    return {
        "discrepancies": [_discrepancy(one) for one in measurement.discrepancies],
        "adjustment": None if adjusted is None else _adjustment(adjusted),
    }


def charge_json(charge: Weighed | None) -> dict[str, Any] | None:
    """Resin content by weighing the charge, null where the batch has none or it cannot tell."""
    if charge is None:
        return None
    unit = ATTRIBUTES["resin_content"].unit
    return {
        "prepreg": charge.prepreg,
        "resin_content": quantity_json(charge.resin_content, charge.u, unit),
        "mass_left": quantity_json(charge.left, None, ATTRIBUTES["mass"].unit),
        "budget": budget_json(charge.contributions, unit),
        "not_measured": list(charge.exact),
    }
