"""Part and coupons as functions, `predict` and `measure`: plain values in, an answer out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Unpack

from laminate.front.answer import Answer, AnswerLayout, named
from laminate.front.call import Call
from laminate.front.options import MEASURE, PREDICT, Measure, Predict
from laminate.front.picture import is_quantity

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.prediction import Prediction
    from laminate.press.stack import Ingredients

    Plies = Mapping[str, int]


class PredictAnswer(Answer):
    """The answer of `predict`: one row an attribute of a zone."""

    _layout = AnswerLayout(keys="predict_json", document="predict_words.predict_document")

    def _rows(self) -> list[dict[str, Any]]:
        return [
            {**named(zone), "attribute": name, **quantity}
            for zone in self._data.get("zones", [self._data])
            for name, quantity in zone.items()
            if is_quantity(quantity)
        ]


@PREDICT.takes
def predict(source: Any = None, **options: Unpack[Predict]) -> Answer:
    """Predict cured ply thickness, fiber volume, laminate thickness, density, areal weights and mass.

    A quantity is text with its unit, a `Value`, a quantity of a unit library, or (number, unit). Plies are a
    count, or a mapping zone -> count; without them those that the batch laid up, else those that `fill` finds
    best, of whatever grade.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with a material

    Returns
    -------
    Answer : attributes as `Value`: `answer.fiber_volume.value`, `answer.thickness.to("mil")`

    Raises
    ------
    Refused : with every finding, at the name of its parameter or key
    TypeError : for a parameter that does not exist

    Notes
    -----
    Ply thickness ``t = (m_f/rho_f + (1 - b) m_r/rho_r)/(1 - V_v)``, fiber volume ``m_f/(rho_f t)`` (the
    definitions; ASTM D3171). The ± is of first order (JCGM 100:2008).

    Examples
    --------
    >>> import laminate as lam
    >>> p = lam.predict(fiber_areal_weight="134 g/m^2", resin_content="35 %", fiber_density="1.79 g/cm^3",
    ...             resin_density="1.30 g/cm^3")
    >>> round(p.fiber_volume.value, 2)  # HexPly 8552 product data: 57.42 %
    57.42
    """
    return predicted(Call(PREDICT, source, options))


def predicted(call: Call) -> Answer:
    """The answer of `predict` to a call."""
    from laminate.files.toml import Area, MassFraction, VolumeFraction
    from laminate.press.prediction import NOTHING, predict_zone

    call.read()
    void, bleed = call.share("void_content", VolumeFraction), call.share("bleed", MassFraction)
    shares: dict[str, Any] = {"void_content": void or NOTHING, "bleed": bleed or NOTHING}
    area, counts = call.quantity("area", Area), call.zone_counts()
    if call.source is None:
        plies = counts.get("laminate", 1)
        laminate = call.answer(lambda part, _: predict_zone(part, "laminate", plies, area=area, **shares))
        laminate.zone = None
        return PredictAnswer([laminate])
    if area is not None:
        expected, hint = f"no {call.place('area')} with a file", "write it as the zone's area"
        call.say("option-beside-file", "area", f"'{area.text}'", expected, hint)
    laid = dict(call.batch.batch.plies) if call.batch is not None else {}
    return PredictAnswer(call.answer(_zones, asked=counts, laid=laid, lots=call.made, **shares))


def _zones(
    part: Part, name: str, *, asked: Plies, laid: Plies, lots: Ingredients | None, **shares: Any
) -> list[Prediction]:
    """The zones asked for, all where none is, with these plies, else those laid up, else those of `fill`."""
    from laminate.press.filling import fill as filled
    from laminate.press.prediction import no_ply, predict_zone
    from laminate.press.stack import fixed_plies, ingredients
    from laminate.show.fill_words import advised_words
    from laminate.values.problems import refuse_all

    wanted = list(asked) or list(part.zone)
    counts = {zone: (count, "plies as laid up in this batch") for zone, count in laid.items()}
    counts |= {zone: (count, "plies as asked for") for zone, count in asked.items()}
    if missing := [zone for zone in wanted if zone not in counts]:
        answer = filled(part, name, zones=missing, made=lots, inverse=False)
        counts |= {zone.zone: (zone.best.plies, advised_words(zone)) for zone in answer.zones}
    made = lots or ingredients(part)
    predictions = []
    for zone in (zone for zone in part.zone if zone in wanted):
        count, why = counts[zone]
        fill_plies = count - fixed_plies(part, part.zone[zone])
        predictions.append(predict_zone(part, zone, fill_plies, made=made, why=why, **shares))
    refuse_all([problem for prediction in predictions for problem in no_ply(prediction, name)])
    return predictions


@MEASURE.takes
def measure(source: Any, **options: Unpack[Measure]) -> Answer:
    """Fiber volume, resin content, void content, density and thickness of coupons, each with its uncertainty.

    Parameters
    ----------
    source : a DataFrame with the columns of a coupon table (units in the headings: "mass in air [g]"), the
        path of one or a list of them, or the path of batch.toml alone

    Returns
    -------
    Answer : `answer.to_frame()` has one row a specimen, `answer.average["void_content"]` the mean

    Raises
    ------
    Refused : with every finding, at its row label and column, or its parameter
    TypeError : for an option that does not exist

    Notes
    -----
    Density by immersion (ASTM D792), contents by digestion or ignition (ASTM D3171), voids ``1 - rho sum
    (w_i/rho_i)`` (ASTM D2734), points counted (ASTM E562). The ± is of first order (JCGM 100:2008), checked
    by Monte Carlo on the same formula (JCGM 101:2008).

    Examples
    --------
    >>> import laminate as lam
    >>> import pandas as pd
    >>> df = pd.DataFrame({"specimen": ["A"], "mass in air [g]": ["3.697"], "mass in liquid [g]": ["1.636"],
    ...     "liquid density [g/cm^3]": ["1.000"], "method": ["ignition"], "specimen mass [g]": ["3.697"],
    ...     "residue mass [g]": ["2.595"]})
    >>> m = lam.measure(df, fiber_density="2.5 g/cm^3", resin_density="1.2 g/cm^3", air_density=0)
    >>> round(m["A"].void_content.value, 2)  # Kaw, Mechanics of Composite Materials, ch. 3
    5.08
    """
    from laminate.front.measuring import measure_answer

    column = hasattr(source, "to_frame") and not hasattr(source, "columns")
    if source is None or isinstance(source, Mapping | bytes | float | int) or column:
        raise TypeError(f"a DataFrame or a path is measured, not {type(source).__name__}")
    return measure_answer(source, options)
