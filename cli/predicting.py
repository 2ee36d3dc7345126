"""The engineer's `predict`: what plies become, from files or from options alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from laminate.front.options import OF_PREDICT

from .answers import give_out
from .keyed import keyed
from .options import AsJson, Options, Units, argument, flag, option, quantity

if TYPE_CHECKING:
    from laminate.press.prediction import Prediction


def _quantity(words: str) -> Any:
    return quantity(words)


@keyed(OF_PREDICT)
def predict(
    file: Annotated[
        Path | None, argument("FILE", "part.toml, or batch.toml for its lots and the plies laid up")
    ] = None,
    given: Any = None,
    void_content: Annotated[str | None, _quantity("of the cured laminate, by volume; default: 0 %")] = None,
    bleed: Annotated[str | None, _quantity("share of the resin that leaves; default: 0 %")] = None,
    plies: Annotated[
        list[str] | None, option("COUNT", "how many plies; with a file ZONE=COUNT; repeatable")
    ] = None,
    area: Annotated[str | None, _quantity("one face of the laminate, for the mass of the charge")] = None,
    units: Units = "metric",
    why: Annotated[bool, flag("--why", "where each ± comes from, and what is taken as exact")] = False,
    as_json: AsJson = False,
) -> None:
    """Predict ply thickness, fiber volume, thickness, density and mass.

    From a part file (or a batch file, whose lots override nominal values), or from options alone.
    """
    from laminate.files.toml import Area, MassFraction, VolumeFraction

    options = Options(units, why=why, as_json=as_json)
    void = options.quantity("--void-content", void_content, VolumeFraction)
    left = options.quantity("--bleed", bleed, MassFraction)
    face = options.quantity("--area", area, Area)
    for name, share in (("--void-content", void), ("--bleed", left)):
        if share is not None and share.value >= 1.0:
            options.say("wrong-value", name, f"'{share.text}'", "less than 100 %")
    if file is not None:
        from .engineer_input import refuse_beside_file

        refuse_beside_file(options, given)
        if face is not None:
            expected, hint = "no --area beside a file", "write it as the zone's area"
            options.say("option-beside-file", "--area", f"'{face.text}'", expected, hint)
        predictions = _of_file(options, file, plies or [], void, left)
    else:
        part = options.part(given, "predict")
        count = options.count("--plies", plies[0]) if plies else 1
        if plies and len(plies) > 1:
            from laminate.values.problems import given_twice

            first, again = plies[:2]
            options.problems.append(given_twice("", "--plies", f"'{again}'", f"as '{first}'", "one count"))
        options.check()
        from laminate.press.prediction import NOTHING, predict_zone

        assert part is not None
        left, void = left or NOTHING, void or NOTHING
        predictions = [predict_zone(part, "laminate", count, void_content=void, bleed=left, area=face)]
        predictions[0].zone = None
    from laminate.show.predict_json import ANSWER
    from laminate.show.predict_words import predict_document

    give_out(
        options,
        lambda: ANSWER.json(predictions if file is not None else predictions[0]),
        lambda: predict_document(predictions, units),
    )


def _of_file(options: Any, file: Path, plies: list[str], void: Any, left: Any) -> list[Prediction]:
    from laminate.front.calls import predicted_zones

    from .engineer_input import counts_of, read_file

    part, made, batch = read_file(file)
    counts = counts_of(options, part, plies)
    options.check()
    laid = dict(batch.batch.plies) if batch is not None else {}
    return predicted_zones(part, counts, laid, made, str(file), void_content=void, bleed=left)
