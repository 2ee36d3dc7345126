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
    """Predict cured ply thickness, fiber volume, laminate thickness, density, areal weight and mass.

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
        found = _of_file(options, file, plies or [], void, left)
        print_json({"zones": _json(found)}) if as_json else _screen(found, units, why)
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


def _json(found: list[Prediction]) -> list[dict[str, Any]]:
    from laminate.show.predict_json import prediction_json

    return [prediction_json(one) for one in found]


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

    found = fill(part, file, zones=zones, made=made, inverse=False)
    said = {}
    for one in found.zones:
        row = one.best
        nearest = "1 ply comes nearest" if row.plies == 1 else f"{row.plies} plies come nearest"
        why = "the plies that `fill` says to use" if one.advised else f"no count fits; {nearest}"
        if one.use and not one.advised:
            why = "plies that fit the gap, which `fill` says not to lay up"
        said[one.zone] = (row.plies, why)
    return said


def _screen(found: list[Prediction], units: str, why: bool) -> None:
    from laminate.values.quantities import ATTRIBUTES

    from . import tables, wording

    for one in found:

        def spread(key: str, one: Prediction = one) -> float | None:
            u = one.standard_uncertainty(key)
            return one.coverage_factor(key) * u if u else None

        def said(key: str, one: Prediction = one) -> str:
            return wording.attribute_text(key, one.value(key), spread(key, one), units)

        if one is not found[0]:
            print()
        name = (
            f"Zone {one.zone}, {one.plies} plies"
            if one.zone
            else f"{one.plies} {'ply' if one.plies == 1 else 'plies'}"
        )
        tables.paragraph(
            f"{name}: fiber volume {said('fiber_volume')}, cured ply {said('cured_ply_thickness')}, "
            f"laminate {said('thickness')}, density {said('density')}."
        )
        if one.why:
            tables.paragraph(
                f"{one.why[0].upper()}{one.why[1:]}. No resin has bled unless --bleed says so; "
                "`laminate fill` says what the tool closes on."
            )
        for warning in one.warnings:
            tables.paragraph(f"Warning: {warning}" if warning.endswith("?") else f"Warning: {warning}.")
        print()
        rest = [key for key in one.attributes if key not in FIRST]
        sure = any(spread(key) for key in one.attributes)
        heading = "value ± (95 %)" if sure else "value"
        rows = [[ATTRIBUTES[key].words, said(key)] for key in (*FIRST, *rest)]
        if "mass" in one.attributes and one.walls > 1:
            u = spread("mass")
            whole = one.walls * one.value("mass"), None if u is None else one.walls * u
            rows.append([f"mass of all {one.walls} walls", wording.attribute_text("mass", *whole, units)])
        tables.table(["what", heading], rows)
        for key in ("fiber_volume", "cured_ply_thickness") if why else ():
            wording.print_budget(one.contributions(key), key, units)
        words = in_words(one.origins)
        other = [f"{words[key]}: {said}" for key, said in one.origins.items() if said != "part file"]
        wording.print_list("Values that are not the part file's:", other)
        if why:
            wording.print_list("Assumptions", wording.exact_sentence(one.not_measured))
        elif one.not_measured:
            tables.paragraph(f"{len(one.not_measured)} inputs without ± are taken as exact: see --why.")
