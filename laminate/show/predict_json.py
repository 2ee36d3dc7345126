"""The answer of `predict`: its keys, in JSON and its schema."""

from __future__ import annotations

from laminate.press.prediction import Prediction
from laminate.press.shared_inputs import NORMAL, Estimate
from laminate.show.budget import BUDGET
from laminate.show.fields import (
    COUNT,
    QUANTITY,
    TEXT,
    TEXTS,
    any_of,
    by_attribute,
    by_name,
    from_single,
    in_unit,
    merged,
    rows,
    table,
)
from laminate.values.input_key import in_words
from laminate.values.quantities import ATTRIBUTES


def _of_walls(prediction: Prediction) -> Estimate | None:
    if "mass" not in prediction.attributes:
        return None
    return estimate(prediction, "mass").times(prediction.walls)


def estimate(prediction: Prediction, key: str) -> Estimate:
    """An attribute with its ± and its coverage factor."""
    u = prediction.standard_uncertainty(key)
    return Estimate(prediction.value(key), u, prediction.coverage_factor(key) if u else NORMAL)


def _origins(prediction: Prediction) -> dict[str, str] | None:
    """Where each value comes from, where not all are of the part file."""
    words = in_words(prediction.origins)
    origins = {words[key]: origin for key, origin in prediction.origins.items()}
    return origins if set(origins.values()) - {"part file"} else None


PREDICTION = table(
    zone=TEXT("zone", left_out=True),
    plies=COUNT,
    plies_from=TEXT(lambda prediction: prediction.why or None, left_out=True),
    attributes=merged(by_attribute(QUANTITY))(
        lambda prediction: {key: estimate(prediction, key) for key in prediction.attributes}
    ),
    mass_of_all_walls=in_unit(QUANTITY, ATTRIBUTES["mass"].unit)(_of_walls, left_out=True),
    budget=by_attribute(BUDGET)(
        lambda prediction: {key: prediction.contributions(key) for key in prediction.attributes}
    ),
    not_measured=TEXTS,
    warnings=TEXTS(lambda prediction: prediction.warnings or None, left_out=True),
    values_from=by_name(TEXT)(_origins, left_out=True),
)
ANSWER = any_of(
    lambda predictions: predictions[0].zone is not None,
    table(zones=rows(PREDICTION)(lambda predictions: predictions)),
    from_single(PREDICTION),
)
"""Of a part its zones, of options one laminate."""
