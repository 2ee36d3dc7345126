"""A prediction as JSON with the contract's keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.show.measure_json import budget_json
from laminate.show.numbers import quantity_json
from laminate.values.input_key import in_words
from laminate.values.quantities import ATTRIBUTES

if TYPE_CHECKING:
    from laminate.press.prediction import Prediction


def prediction_json(prediction: Prediction) -> dict[str, Any]:
    """Attributes of one zone or of the plies given, plies, budget, and inputs without a ±."""
    found: dict[str, Any] = {} if prediction.zone is None else {"zone": prediction.zone}
    found["plies"] = prediction.plies
    if prediction.why:
        found["plies_from"] = prediction.why
    for key in prediction.attributes:
        u = prediction.standard_uncertainty(key)
        found[key] = quantity_json(prediction.value(key), u, ATTRIBUTES[key].unit)
    if "mass" in prediction.attributes:
        u, walls = prediction.standard_uncertainty("mass"), prediction.walls
        said = quantity_json(
            walls * prediction.value("mass"), None if u is None else walls * u, ATTRIBUTES["mass"].unit
        )
        found["mass_of_all_walls"] = said
    found["budget"] = {
        key: budget_json(prediction.contributions(key), ATTRIBUTES[key].unit) for key in prediction.attributes
    }
    found["not_measured"] = prediction.not_measured
    if prediction.warnings:
        found["warnings"] = prediction.warnings
    if any(origin != "part file" for origin in prediction.origins.values()):
        words = in_words(prediction.origins)
        found["values_from"] = {words[key]: origin for key, origin in prediction.origins.items()}
    return found
