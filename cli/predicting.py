"""The engineer's `predict`: what plies become, from files or from options alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from laminate.front.options import OF_PREDICT
from laminate.values.input_key import in_words

from .answers import AsJson, Units, print_json
from .keyed import keyed

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.prediction import Prediction
    from laminate.press.stack import Ingredients

FIRST = ("fiber_volume", "cured_ply_thickness", "thickness", "density")


def _quantity(words: str) -> Any:
    return typer.Option(metavar="QUANTITY", help=words, show_default=False)


@keyed(OF_PREDICT)
def predict(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE",
            help="part.toml, or batch.toml for its lots and the plies laid up",
            show_default=False,
        ),
    ] = None,
    given: Any = None,
    void_content: Annotated[str | None, _quantity("of the cured laminate, by volume; default: 0 %")] = None,
    bleed: Annotated[str | None, _quantity("share of the resin that leaves; default: 0 %")] = None,
    plies: Annotated[
        list[str] | None,
        typer.Option(
            metavar="COUNT",
            help="how many plies; with a file ZONE=COUNT; repeatable",
            show_default=False,
        ),
    ] = None,
    area: Annotated[str | None, _quantity("one face of the laminate, for the mass of the charge")] = None,
    units: Units = "metric",
    why: Annotated[
        bool, typer.Option("--why", help="where each ± comes from, and what is taken as exact")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Predict ply thickness, fiber volume, thickness, density and mass.

    From a part file (or a batch file, whose lots override nominal values), or from options alone.
    """
    from laminate.files.toml import Area, MassFraction, VolumeFraction

    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    void = options.quantity("--void-content", void_content, VolumeFraction)
    left = options.quantity("--bleed", bleed, MassFraction)
    face = options.quantity("--area", area, Area)
    for option, share in (("--void-content", void), ("--bleed", left)):
        if share is not None and share.value >= 1.0:
            options.say("wrong-value", option, f"'{share.text}'", "less than 100 %")
    if file is not None:
        _refuse_material(options, given, face is not None)
        predictions = _of_file(options, file, plies or [], void, left)
        print_json({"zones": _json(predictions)}) if as_json else _screen(predictions, units, why)
        return
    part = options.part(given, "predict")
    count = options.count("--plies", plies[0]) if plies else 1
    if plies and len(plies) > 1:
        options.say("given-twice", "--plies", ", ".join(plies), "one count")
    options.check()
    from laminate.press.prediction import NOTHING, predict_zone

    assert part is not None
    made = predict_zone(
        part, "laminate", count, void_content=void or NOTHING, bleed=left or NOTHING, area=face
    )
    made.zone = None
    print_json(_json([made])[0]) if as_json else _screen([made], units, why)


def _json(predictions: list[Prediction]) -> list[dict[str, Any]]:
    from laminate.show.predict_json import prediction_json

    return [prediction_json(prediction) for prediction in predictions]


def _refuse_material(options: Any, given: dict[str, str | None], area: bool) -> None:
    for name, text in given.items():
        if text is not None:
            options.say(
                "option-beside-file",
                "--" + name.replace("_", "-"),
                f"'{text}'",
                "no material option beside a file",
                "the file says it",
            )
    if area:
        options.say(
            "option-beside-file",
            "--area",
            "an area",
            "no --area beside a file",
            "write it as the zone's area",
        )


def _of_file(options: Any, file: Path, plies: list[str], void: Any, left: Any) -> list[Prediction]:
    from laminate.press.prediction import NOTHING, predict_part
    from laminate.press.stack import ingredients

    from .engineer_input import counts_of, read_file

    part, made, batch = read_file(file)
    laid = dict(batch.batch.plies) if batch is not None else {}
    counts = counts_of(options, part, plies)
    options.check()
    said = {zone: (count, "plies as asked for") for zone, count in counts.items()}
    said = {**{zone: (count, "plies as laid up in this batch") for zone, count in laid.items()}, **said}
    wanted = list(counts) or list(part.zone)
    missing = [zone for zone in wanted if zone not in said]
    if missing:
        said |= _from_fill(part, str(file), missing, made)
    ordered = {zone: said[zone] for zone in part.zone if zone in wanted}
    return predict_part(
        part, ordered, made=made or ingredients(part), void_content=void or NOTHING, bleed=left or NOTHING
    )


def _from_fill(
    part: Part, file: str, zones: list[str], made: Ingredients | None
) -> dict[str, tuple[int, str]]:
    """The counts that `fill` says to use, or comes nearest to."""
    from laminate.press.filling import fill

    answer = fill(part, file, zones=zones, made=made, inverse=False)
    return {zone.zone: (zone.best.plies, _advice_of(zone)) for zone in answer.zones}


def _advice_of(zone: Any) -> str:
    """What `fill` says of the count that it finds best."""
    if zone.advised:
        return "the plies that `fill` says to use"
    if zone.use:
        return "plies that fit the gap, which `fill` says not to lay up"
    grade, count = getattr(zone, "grade", ""), zone.best.plies
    nearest = "1 ply comes nearest" if count == 1 else f"{count} plies come nearest"
    if grade == "risky":
        return "the best count of `fill`, which is risky"
    return (
        f"`fill` needs the bleed first; {nearest}"
        if grade == "state the bleed"
        else f"no count fits; {nearest}"
    )


def _name(prediction: Prediction) -> str:
    count = "1 ply" if prediction.plies == 1 else f"{prediction.plies} plies"
    return f"Zone {prediction.zone}, {count}" if prediction.zone else count


def _cells(prediction: Prediction, units: str) -> dict[str, str]:
    """Each attribute in words with its value and ± at 95 %."""
    from laminate.values.quantities import ATTRIBUTES

    from .wording import attribute_text

    cells = {}
    for key in (*FIRST, *(key for key in prediction.attributes if key not in FIRST)):
        u = prediction.standard_uncertainty(key)
        spread = prediction.coverage_factor(key) * u if u else None
        cells[ATTRIBUTES[key].words] = attribute_text(key, prediction.value(key), spread, units)
        if key == "mass" and prediction.walls > 1:
            whole = prediction.walls * prediction.value(key), spread and prediction.walls * spread
            cells[f"mass of all {prediction.walls} walls"] = attribute_text(key, *whole, units)
    return cells


def _screen(predictions: list[Prediction], units: str, why: bool) -> None:
    """Print the answer of each zone, one table of all, what it stands on, and the answer again."""
    from . import tables, wording

    cells = [_cells(prediction, units) for prediction in predictions]
    lines = [
        f"{_name(prediction)}: fiber volume {said['fiber volume']}, cured ply {said['cured ply thickness']}, "
        f"laminate {said['laminate thickness']}, density {said['density']}."
        for prediction, said in zip(predictions, cells, strict=True)
    ]
    for line in lines:
        tables.paragraph(line, bold=True)
    for prediction in predictions:
        if prediction.why:
            zone = f"Zone {prediction.zone}: " if len({other.why for other in predictions}) > 1 else ""
            told = f"{zone}{prediction.why}." if zone else f"{prediction.why[0].upper()}{prediction.why[1:]}."
            if zone or prediction is predictions[0]:
                tables.paragraph(told)
        for warning in prediction.warnings:
            tables.paragraph(f"Warning: {warning}" if warning.endswith("?") else f"Warning: {warning}.")
    if any(prediction.why for prediction in predictions):
        tables.paragraph("No bleed is counted unless --bleed states it. `fill` says what the tool closes on.")
    print()
    sure = any(
        prediction.standard_uncertainty(key) for prediction in predictions for key in prediction.attributes
    )
    told = "value ± (95 %)" if sure else "value"
    columns = (
        [told] if len(predictions) == 1 else [f"{prediction.zone}: {told}" for prediction in predictions]
    )
    words = list(dict.fromkeys(word for said in cells for word in said))
    tables.table(["what", *columns], [[word, *(said.get(word, "") for said in cells)] for word in words])
    for prediction in predictions if why else ():
        if len(predictions) > 1:
            print(f"\nZone {prediction.zone}")
        for key in ("fiber_volume", "cured_ply_thickness"):
            wording.print_budget(prediction.contributions(key), key, units)
    _origins(predictions, why)
    of_lots = any(
        origin != "part file" for prediction in predictions for origin in prediction.origins.values()
    )
    if len(predictions) > 1 or why or of_lots:
        print()
        for line in lines:
            tables.paragraph(
                f"{line.partition(',')[0] if not predictions[0].zone else line.partition(', cured')[0]}.",
                bold=True,
            )


def _origins(predictions: list[Prediction], why: bool) -> None:
    """Print which values a lot gave, and which carry no ±."""
    from . import tables, wording

    said: dict[str, list[str]] = {}
    for prediction in predictions:
        words = in_words(prediction.origins)
        for key, origin in prediction.origins.items():
            if origin != "part file" and words[key] not in said.setdefault(origin, []):
                said[origin].append(words[key])
    given = [f"{origin}: {', '.join(names)}" for origin, names in said.items() if names]
    wording.print_list("Values of this batch, in place of those of the part file:", given)
    exact = list(dict.fromkeys(name for prediction in predictions for name in prediction.not_measured))
    if why:
        wording.print_list("Assumptions", wording.exact_sentence(exact))
    elif exact:
        count = "1 input has" if len(exact) == 1 else f"{len(exact)} inputs have"
        tables.paragraph(f"{count} no ± and {'is' if len(exact) == 1 else 'are'} assumed exact: see --why.")
