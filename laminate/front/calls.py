"""The questions as functions: plain values in, an `Answer` out. Each runs what its command runs."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from numbers import Real
from pathlib import Path
from typing import TYPE_CHECKING, Any

from laminate.front.answer import Answer
from laminate.front.argument_text import call_text, file_text, or_nothing
from laminate.front.options import OF_PREDICT, part_of_options
from laminate.values.problems import Problem, Refused, near_hint

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.part import Part
    from laminate.press.prediction import Prediction
    from laminate.press.stack import Ingredients

CALL = "call"
MOST_SHOWN = 5000
"""Coupons that are measured one by one to be shown; a larger table shows its first rows."""


def read_part(source: Part | Mapping[str, Any] | str | Path) -> Part:
    """Read and check a part file.

    Parameters
    ----------
    source : path of part.toml, a mapping with the tables of one (quantities as text or `Value`), or a part

    Returns
    -------
    Part : checked and frozen; its tables are attributes, quantities are in SI units

    Raises
    ------
    Refused : with every finding, each with its key path

    Examples
    --------
    >>> from importlib.resources import files
    >>> part = read_part(files("laminate.examples") / "mast" / "part.toml")
    >>> part.part.number, sorted(part.zone)
    ('MAST-04', ['skin', 'web'])
    """
    from laminate.files import part as model

    if isinstance(source, model.Part):
        return source
    if isinstance(source, Mapping):
        return model.part_of(call_text(source), "part")
    return model.read_part(Path(source))[0]


def read_batch(source: str | Path) -> Case:
    """Read and check a batch file with the part that it names.

    Parameters
    ----------
    source : path of batch.toml

    Returns
    -------
    Case : `case.part` and `case.batch`, checked and frozen, quantities in SI units

    Raises
    ------
    Refused : with every finding in both files, each with its key path

    Examples
    --------
    >>> from importlib.resources import files
    >>> case = read_batch(files("laminate.examples") / "mast" / "batch.toml")
    >>> case.batch.batch.plies["web"]
    20
    """
    from laminate.files.batch import read_batch as read

    return read(Path(source), str(source))


def material_of(source: Any) -> tuple[Part, Ingredients | None, Case | None]:
    """A part, with the lots of its batch where a batch file is named."""
    if isinstance(source, str | Path):
        from laminate.files.toml import load

        if "batch" in load(Path(source), str(source))[0]:
            case = read_batch(source)
            return case.part, case.ingredients(), case
    return read_part(source), None, None


def humidity_of(batch: Any) -> Any:
    """The highest relative humidity that the lots of a batch were stored at, None where none says it."""
    stored = [lot.stored_humidity for lot in batch.lot if lot.stored_humidity is not None] if batch else []
    return max(stored, key=lambda value: value.value, default=None)


def counts_of(plies: Any, part: Part) -> dict[str, int]:
    """Counts by zone of a count or a mapping.

    Raises `Refused` for one count of several zones, an unknown zone, or fewer plies than a zone has fixed.
    """
    from laminate.press.stack import fixed_plies

    if plies is None:
        return {}
    if not isinstance(plies, Mapping):
        if len(part.zone) > 1:
            expected = f"a count for each zone: {', '.join(part.zone)}"
            raise Refused(Problem("wrong-value", "", "plies", repr(plies), expected))
        plies = dict.fromkeys(part.zone, plies)
    names_of(list(plies), part.zone, "plies")
    return {zone: whole(n, "plies", max(fixed_plies(part, part.zone[zone]), 1)) for zone, n in plies.items()}


def names_of(asked: str | Sequence[str] | None, known: Collection[str], place: str) -> list[str] | None:
    """The names asked for, None for all. Raises `Refused` for a name that is not known."""
    names = [asked] if isinstance(asked, str) else list(dict.fromkeys(asked or ()))
    expected = f"one of {', '.join(known)}" if known else "a part that has one"
    problems = [
        Problem("unknown-name", "", place, f"'{name}'", expected, near_hint(str(name), known))
        for name in names
        if name not in known
    ]
    if problems:
        raise Refused(problems)
    return names or None


def whole(given: Any, place: str, least: int = 1) -> int:
    """A count. Raises `Refused` for what is not a whole number, or is too small."""
    number = float(given) if isinstance(given, Real) and not isinstance(given, bool) else -1.0
    if number < least or not number.is_integer():
        expected = f"a whole number, {least} or more"
        raise Refused(Problem("wrong-value", "", place, f"{given!r}", expected))
    return int(number)


def quantity_of(given: Any, place: str, kind: Any) -> Any:
    """One quantity of a call, checked like that of a file."""
    from laminate.files.toml import read_as

    return None if given is None else read_as(kind, or_nothing(file_text(given), kind), place)


def share_of(given: Any, place: str, kind: Any) -> Any:
    """A share of a call. Raises `Refused` where it is not less than the whole."""
    share = quantity_of(given, place, kind)
    if share is not None and share.value >= 1.0:
        raise Refused(Problem("wrong-value", "", place, f"'{share.text}'", "less than 100 %"))
    return share


def predict(
    source: Any = None,
    *,
    plies: Any = None,
    void_content: Any = None,
    bleed: Any = None,
    area: Any = None,
    **material: Any,
) -> Answer:
    """Predict cured ply thickness, fiber volume, laminate thickness, density, areal weights and mass.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with `material`
    plies : how many plies; for a source with several zones a mapping zone -> count. Without it the plies that
        the batch laid up, else those that `fill` says to use
    void_content, bleed : of the cured laminate by volume; share of the resin that leaves; 0 where None
    area : one face of the laminate, for the mass
    material : `fiber_areal_weight` or `prepreg_areal_weight`, `resin_content`, `fiber_density`,
        `resin_density`, `volatiles` with `resin_basis`; each as text with its unit, a `Value`, a quantity of
        a unit library, or (number, unit)

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
    >>> p = predict(fiber_areal_weight="134 g/m^2", resin_content="35 %", fiber_density="1.79 g/cm^3",
    ...             resin_density="1.30 g/cm^3")
    >>> round(p.fiber_volume.value, 2)  # HexPly 8552 product data: 57.42 %
    57.42
    """
    from laminate.files.toml import Area, MassFraction, VolumeFraction
    from laminate.press.prediction import NOTHING, predict_zone
    from laminate.show.predict_json import prediction_json
    from laminate.show.predict_words import predict_document

    beside = {"source": source, "void_content": void_content, "bleed": bleed, "area": area}
    material = call_text({**material, **beside})
    source = material.pop("source")
    void = share_of(material.pop("void_content"), "void_content", VolumeFraction) or NOTHING
    left = share_of(material.pop("bleed"), "bleed", MassFraction) or NOTHING
    face = quantity_of(material.pop("area"), "area", Area)
    if source is None:
        part = part_of_options(known_options(material, OF_PREDICT), "predict")
        count = whole(1 if plies is None else plies, "plies")
        made = predict_zone(part, "laminate", count, void_content=void, bleed=left, area=face)
        made.zone = None
        return Answer("predict", prediction_json(made), [made], predict_document)
    refuse_beside_source(material)
    part, lots, case = material_of(source)
    counts, laid = counts_of(plies, part), dict(case.batch.batch.plies) if case is not None else {}
    zones = predicted_zones(part, counts, laid, lots, void_content=void, bleed=left)
    answer = {"zones": [prediction_json(zone) for zone in zones]}
    return Answer("predict", answer, zones, predict_document)


def predicted_zones(
    part: Part,
    asked: Mapping[str, int],
    laid: Mapping[str, int],
    lots: Ingredients | None,
    name: str = CALL,
    *,
    void_content: Any = None,
    bleed: Any = None,
) -> list[Prediction]:
    """The zones asked for, all where none is, with these plies, else those laid up, else those of `fill`."""
    from laminate.press.filling import fill as filled
    from laminate.press.prediction import NOTHING, predict_part
    from laminate.press.stack import ingredients

    wanted = list(asked) or list(part.zone)
    counts = {zone: (count, "plies as laid up in this batch") for zone, count in laid.items()}
    counts |= {zone: (count, "plies as asked for") for zone, count in asked.items()}
    if missing := [zone for zone in wanted if zone not in counts]:
        answer = filled(part, name, zones=missing, made=lots, inverse=False)
        counts |= {zone.zone: (zone.best.plies, _advice_of(zone)) for zone in answer.zones}
    return predict_part(
        part,
        {zone: counts[zone] for zone in part.zone if zone in wanted},
        made=lots or ingredients(part),
        void_content=void_content or NOTHING,
        bleed=bleed or NOTHING,
    )


def _advice_of(zone: Any) -> str:
    """What `fill` says of the count that it finds best."""
    if zone.advised:
        return "the ply count that 'laminate fill' says to use"
    if zone.use:
        return "a count that fits the gap, which 'laminate fill' says not to lay up"
    grade, count = getattr(zone, "grade", ""), zone.best.plies
    nearest = "1 ply comes nearest" if count == 1 else f"{count} plies come nearest"
    if grade == "risky":
        return "the best count of 'laminate fill', which is risky"
    return (
        f"'laminate fill' needs the bleed first; {nearest}"
        if grade == "state the bleed"
        else f"no count fits; {nearest}"
    )


def known_options(given: Mapping[str, Any], known: Mapping[str, Any]) -> dict[str, Any]:
    """The options, all of them known: a misspelled one is a wrong call."""
    from laminate.values.problems import did_you_mean

    for name in given:
        if name not in known:
            raise TypeError(f"no parameter '{name}'; {did_you_mean(name, list(known))}")
    return dict(given)


def refuse_beside_source(given: Mapping[str, Any]) -> None:
    """Raise `Refused` for options beside a part, which says them."""
    problems = [
        Problem("option-beside-file", "", name, f"'{value}'", "no material beside a part", "the part says it")
        for name, value in given.items()
        if value is not None
    ]
    if problems:
        raise Refused(problems)


def measure(source: Any, **options: Any) -> Answer:
    """Fiber volume, resin content, void content, density and thickness of coupons, each with its uncertainty.

    Parameters
    ----------
    source : a DataFrame with the columns of a coupon table (units in the headings: "mass in air [g]"), the
        path of one or a list of them, or the path of batch.toml alone
    options : `fiber_density`, `resin_density`, `fiber_areal_weight`, `plies`, `fiber` (its kind),
        `air_density`, `liquid_density`, `balance`, `balance_calibration`, `thermometer`, `micrometer`,
        `caliper`, `balance_resolution` and so on, `residue_share`, `fiber_loss`, `confidence`; as of the
        command

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
    >>> import pandas as pd
    >>> df = pd.DataFrame({"specimen": ["A"], "mass in air [g]": ["3.697"], "mass in liquid [g]": ["1.636"],
    ...     "liquid density [g/cm^3]": ["1.000"], "method": ["ignition"], "specimen mass [g]": ["3.697"],
    ...     "residue mass [g]": ["2.595"]})
    >>> m = measure(df, fiber_density="2.5 g/cm^3", resin_density="1.2 g/cm^3", air_density=0)
    >>> round(m["A"].void_content.value, 2)  # Kaw, Mechanics of Composite Materials, ch. 3
    5.08
    """
    from laminate.front.measuring import answer_of, document_of

    if source is None or isinstance(source, Mapping):
        raise TypeError(f"a DataFrame or a path is measured, not {type(source).__name__}")
    answer = answer_of(source, options)
    few = len(answer["specimens"]) <= MOST_SHOWN
    return Answer("measure", answer, (source, options), document_of if few else None)
