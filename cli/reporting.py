"""Quality's `report`: a batch against the limits of its part, on the screen and as files to keep."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from laminate.problems import Problem, Refused

from . import tables, wording
from .answers import print_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from laminate.report import Report

NO = 1
SAID = {
    "conforms": "conforms to every limit of its part",
    "does not conform": "does not conform",
    "undecided": "is undecided: it can neither be accepted nor rejected on what was measured",
}


def report(
    batch: Annotated[Path, typer.Argument(metavar="BATCH", help="batch.toml")],
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="write record.json and report.html there", show_default=False),
    ] = None,
    html: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="write the report as one HTML file", show_default=False),
    ] = None,
    units: Annotated[
        str, typer.Option(metavar="WORD", help="metric, or us for inches and pounds on the screen")
    ] = "metric",
    as_json: Annotated[bool, typer.Option("--json", help="the answer as JSON, metric")] = False,
) -> None:
    """Report whether a batch meets the limits of its part, with the risk of a wrong decision.

    Exit status 1 where it does not conform or is undecided. The files decide; no option changes a limit.
    """
    from laminate.report import report as judged
    from laminate.show.report_json import report_json

    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    options.check()
    found = judged(batch)
    answer = report_json(found.case, found.judgement, found.measurement, found.digests())
    written = [*(_keep(found, out) if out else []), *([_page(answer, html)] if html else [])]
    if as_json:
        print_json({**answer, **({"written": [str(path) for path in written]} if written else {})})
    else:
        screen(found, answer, units)
        for path in written:
            tables.paragraph(f"Written: {path}")
    if answer["answer"] != "conforms":
        raise typer.Exit(NO)


def _keep(found: Report, folder: Path) -> list[Path]:
    """Write the sealed record and its page; a record that somebody signed is never replaced by another."""
    import json

    from laminate.canonical import sha256
    from laminate.durable import write_whole
    from laminate.record import seal
    from laminate.show.report_page import page
    from laminate.signing.signed_beside import signed_beside

    sealed = seal(found)
    digest, record = sha256(sealed), folder / "record.json"
    signed = signed_beside(record, digest)
    if signed and (not record.is_file() or record.read_bytes() != sealed):
        hint = "nothing was written; name a new folder, and in [replaces] the record that this one replaces"
        expected = "a folder without signatures of another record"
        raise Refused(Problem("signed-record", str(record), "", "another record, signed", expected, hint))
    write_whole(record, sealed)
    write_whole(folder / "report.html", page(json.loads(sealed), digest, signed).encode())
    return [record, folder / "report.html"]


def _page(answer: dict[str, Any], path: Path) -> Path:
    from laminate.durable import write_whole
    from laminate.show.report_page import page

    write_whole(path, page(answer, None).encode())
    return path


def screen(found: Report, answer: dict[str, Any], units: str) -> None:
    """Print a judged batch: the answer, characteristics against limits, what was measured, the reasons."""
    from . import measured_screen

    batch = answer["batch"]
    tables.paragraph(
        f"Batch {batch['id']} of {batch['part_number']} issue {batch['part_issue']} {SAID[answer['answer']]}."
    )
    held = [*answer["characteristics"], *answer["process"]]
    bad = [c for c in held if c["decision"] == "does not conform"]
    open_ = [c for c in held if c["decision"] == "undecided"]
    for words, some in (("Does not conform", bad), ("Undecided", open_)):
        if some:
            tables.paragraph(f"{words}: {', '.join(_name(c) for c in some)}.")
    left_out = [f"{s['specimen']} ({s['excluded']})" for s in answer["specimens"] if s["excluded"]]
    if left_out:
        tables.paragraph(f"Excluded, and not decided on: {', '.join(left_out)}.")
    rule = answer["decision_rule"]
    guard = "simple acceptance, no guard band" if rule["guard"] == 0 else f"guard band {rule['guard']:g} x U"
    k = (
        f"k = {rule['coverage_factor']:g}"
        if rule["coverage_factor"]
        else f"{rule['confidence']:g} % confidence"
    )
    tables.paragraph(
        f"Decision rule of the part: {guard}, U at {k}. Probability of conformity with a flat prior."
    )
    print()
    _limits_table(held, units)
    _zones(found, units)
    wording.print_list(
        "Why:",
        [f"{_name(c)}: {c['reason']}" for c in held if c["decision"] != "conforms"] + answer["reasons"],
    )
    wording.print_list("Not judged:", answer["not_judged"])
    ways = [f"{_name(c)}: {_way(c, way, units)}" for c in held for way in c["to_decide"]]
    wording.print_list("What would most likely decide it (retests only within the part's plan):", ways)
    _instruments(answer)
    print()
    if found.measurement.specimens:
        measured_screen.specimens_table(found.measurement, found.measurement.specimens, units)
    measured_screen.notes(found.measurement, units)
    other = [
        f"{v['input']}: {v['stated']} from {v['from']}" for v in answer["values"] if v["from"] != "part file"
    ]
    wording.print_list("Values of this batch in place of nominal ones:", other)
    _risks(found)
    if answer["concession"]:
        c = answer["concession"]
        tables.paragraph(
            f"Concession {c['number']} by {c['authority']} for "
            f"{', '.join(c['characteristics'])}: {c['reason']}"
        )
    print()
    tables.paragraph(wording.RESPONSIBILITY)


def _name(characteristic: dict[str, Any]) -> str:
    prepreg, _, key = characteristic["name"].rpartition(".")
    words = key.replace("_", " ") + (
        f", {prepreg.replace('.', ' ')}" if prepreg.startswith("prepreg.") else ""
    )
    zone = f", zone {characteristic['zone']}" if characteristic["zone"] else ""
    return f"{words}{zone}" + (f", {characteristic['lot']}" if characteristic["lot"] else "")


def _way(c: dict[str, Any], way: dict[str, Any], units: str) -> str:
    """What would decide it, the sizes in the units shown."""
    text = str(way["text"])
    if "coupons" in way or way["contribution_needed"] is None:
        return text
    metric, wanted = (unit.text for unit in _unit(c, units))
    for size in (way["contribution_now"], way["contribution_needed"]):
        new = _converted(size, c, units, difference=True)
        text = text.replace(f"± {size:.2g} {metric}".rstrip(), f"± {new:.2g} {wanted}".rstrip(), 1)
    return text


def _limits_table(held: list[dict[str, Any]], units: str) -> None:
    rows = []
    for c in held:
        for which in ("individual", "average"):
            bounds = c["limits"][which]
            if bounds is None:
                continue
            result = c["result"][which]
            rows.append([
                _name(c), which, _bounds(bounds, c, units), _result(c, result, units),
                result["decision"] if result else c["decision"], _chance(result),
            ])  # fmt: skip
    tables.table(["what", "limit on", "limits", "result ± U", "decision", "probability"], rows)


def _unit(c: dict[str, Any], units: str) -> Any:
    from laminate.quantities import ATTRIBUTES, DEG_C, Unit
    from laminate.show.numbers import in_units

    key = c["name"].rpartition(".")[2]
    if key in ATTRIBUTES:
        return ATTRIBUTES[key].unit, wording.unit_of(key, units)
    unit = DEG_C if c["limits"]["unit"] == "degC" else Unit(c["limits"]["unit"], 1.0)
    return unit, in_units(unit, units)


def _converted(number: float, c: dict[str, Any], units: str, *, difference: bool = False) -> float:
    """A number of the answer, metric, in the unit shown."""
    metric, wanted = _unit(c, units)
    if difference:
        return float(number / metric.per_si * wanted.per_si)
    return float((number - metric.offset) / metric.per_si * wanted.per_si + wanted.offset)


def _bounds(bounds: dict[str, Any], c: dict[str, Any], units: str) -> str:
    unit = _unit(c, units)[1].text
    low, high = (
        None if bounds[k] is None else f"{_converted(bounds[k], c, units):.5g}" for k in ("min", "max")
    )
    text = f"{low} to {high}" if low and high else f"min {low}" if low else f"max {high}"
    return f"{text} {unit}".rstrip()


def _result(c: dict[str, Any], result: dict[str, Any] | None, units: str) -> str:
    """The average, or the individuals from least to greatest, and one between them that does not conform."""
    from laminate.quantities import Unit
    from laminate.show.numbers import text

    if result is None or not result["readings"]:
        return "none"
    readings = result["readings"]
    unit = Unit(_unit(c, units)[1].text, 1.0)

    def said(reading: dict[str, Any]) -> str:
        value, spread = reading["value"], reading["expanded_uncertainty"]
        return text(_converted(value, c, units), _converted(spread, c, units, difference=True), unit)

    if len(readings) == 1:
        return said(readings[0])
    low, high = min(readings, key=lambda r: r["value"]), max(readings, key=lambda r: r["value"])
    other = [r for r in readings if r["decision"] != "conforms" and r is not low and r is not high]
    also = f"; {other[0]['decision']}: {said(other[0])} ({other[0]['name']})" if other else ""
    return f"{said(low)} to {said(high)}, {len(readings)} coupons{also}"


def _chance(result: dict[str, Any] | None) -> str:
    if result is None or result["probability_of_conformity"] is None:
        return ""
    p = 100.0 * result["probability_of_conformity"]
    return "above 99.99 %" if p > 99.99 else "below 0.01 %" if p < 0.01 else f"{p:.4g} %"


def _zones(found: Report, units: str) -> None:
    from laminate.show.measure_json import contributions_of

    for zone in found.measurement.zones:
        for key in ("fiber_volume", "void_content"):
            if key in zone.averages and found.case.part.limits.of_zone(key, zone.zone):
                if len(found.measurement.zones) > 1:
                    print(f"\nZone {zone.zone}")
                wording.print_budget(contributions_of(zone, key), key, units)


def _instruments(answer: dict[str, Any]) -> None:
    said = [f"{i['name']} {i['identity'] or ''}".strip() + f": {i['state']}" for i in answer["instruments"]]
    wording.print_list("Instruments on the day of measuring:", said)


def _risks(found: Report) -> None:
    moldings = [
        f"core {name} ({used.identity}): {used.moldings} moldings of "
        f"{found.case.part.core[name].limit_moldings} allowed"
        for name, used in found.case.batch.core_used.items()
        if used.moldings is not None
        and name in found.case.part.core
        and found.case.part.core[name].limit_moldings
    ]
    wording.print_list("Cores:", moldings)


COMMANDS: dict[str, Callable[..., None]] = {"report": report}
