"""The answer of `predict` in words: each zone in a line, one table of all, what it stands on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from laminate.press.prediction import Prediction
from laminate.show.attribute_words import exact_sentence
from laminate.show.blocks import Block, Grid, Sentence, listing, sentences
from laminate.show.budget import budget
from laminate.show.document import Document
from laminate.show.engineer_text import plies
from laminate.show.numbers import text, unit_of
from laminate.show.page_words import capital
from laminate.show.predict_json import estimate
from laminate.values.input_key import in_words
from laminate.values.quantities import ATTRIBUTES
from laminate.values.said import say_in
from laminate.values.sequences import by_key

FIRST = ("fiber_volume", "cured_ply_thickness", "thickness", "density")


def predict_document(predictions: Sequence[Prediction], units: str) -> Document:
    """The answer of `predict`; predictions: of each zone, or the one of a laminate without a name."""
    cells = [_cells(prediction, units) for prediction in predictions]
    answers = [
        f"{_name(prediction)}: fiber volume {texts['fiber volume']}, "
        f"cured ply {texts['cured ply thickness']}, laminate {texts['laminate thickness']}, "
        f"density {texts['density']}."
        for prediction, texts in zip(predictions, cells, strict=True)
    ]
    brief = [f"{answer.partition(', cured' if predictions[0].zone else ',')[0]}." for answer in answers]
    last = [Sentence(answer, strong=True) for answer in brief]
    sure = any(each.standard_uncertainty(key) for each in predictions for key in each.attributes)
    heading = "value ± (95 %)" if sure else "value"
    several = len(predictions) > 1
    columns = [f"{prediction.zone}: {heading}" if several else heading for prediction in predictions]
    words = dict.fromkeys(word for texts in cells for word in texts)
    rows = tuple((word, *(texts.get(word, "") for texts in cells)) for word in words)
    origins = list(_origins(predictions))
    first: list[Block] = [Sentence(answer, strong=True) for answer in answers]
    first += [*sentences([*dict.fromkeys(_why(predictions, units))]), Grid(("what", *columns), rows)]
    exact = list(dict.fromkeys(name for prediction in predictions for name in prediction.not_measured))
    count = "1 input has no ± and is" if len(exact) == 1 else f"{len(exact)} inputs have no ± and are"
    note = sentences([f"{count} assumed exact: see --why."] if exact else [])

    def whole() -> Iterator[Block]:
        yield from first
        for prediction in predictions:
            zone = prediction.zone or "" if several else ""
            for key in FIRST[:2]:
                yield from budget(prediction.contributions(key), key, units, zone)
        yield from (*origins, *listing("Assumptions", exact_sentence(exact)))

    return Document("Cured laminate", "", whole, [*first, *origins, *note, *last])


def _name(prediction: Prediction) -> str:
    count = plies(prediction.plies)
    return f"Zone {prediction.zone}, {count}" if prediction.zone else count


def _cells(prediction: Prediction, units: str) -> dict[str, str]:
    """Each attribute in words with its value and ± at 95 %."""
    cells = {}
    for key in (*FIRST, *(key for key in prediction.attributes if key not in FIRST)):
        of = estimate(prediction, key)
        cells[ATTRIBUTES[key].words] = text(of.value, of.expanded, unit_of(key, units))
        if key == "mass" and prediction.walls > 1:
            whole = of.times(prediction.walls)
            cells["mass of both walls"] = text(whole.value, whole.expanded, unit_of(key, units))
    return cells


def _why(predictions: Sequence[Prediction], units: str) -> Iterator[str]:
    """Why these counts, and what to look at."""
    alike = len({prediction.why for prediction in predictions}) == 1
    for prediction in predictions:
        why = prediction.why
        if why and not alike:
            yield f"Zone {prediction.zone}: {why}."
        elif why and prediction is predictions[0]:
            yield f"{capital(why)}."
        for warning in prediction.warnings:
            yield f"Warning: {say_in(warning, units)}."
    if any(prediction.why for prediction in predictions):
        yield "No bleed is counted: state one with --bleed. 'laminate fill' computes how the tool closes."


def _origins(predictions: Sequence[Prediction]) -> Iterator[Block]:
    """Which values a lot gave."""
    names = [(in_words(prediction.origins), prediction.origins) for prediction in predictions]
    by_origin = by_key((origin, words[key]) for words, origins in names for key, origin in origins.items())
    lots = {origin: dict.fromkeys(names) for origin, names in by_origin.items() if origin != "part file"}
    given = [f"{origin}: {', '.join(names)}" for origin, names in lots.items()]
    yield from listing("Values of this batch, in place of those of the part file:", given)
