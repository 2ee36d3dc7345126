"""A judged batch on the screen: the answer and what to know ahead, limits, what was measured, reasons."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from laminate.show.page_words import chance, title
from laminate.show.report_ahead import (
    CHANCE,
    CONFORMS,
    FAILS,
    UNDECIDED,
    ahead,
    cause,
    every,
    in_doubt,
    least_certain,
    names,
    plain,
)
from laminate.show.report_cycle import sentences as cycle_sentences

from . import tables, wording

if TYPE_CHECKING:
    from laminate.judging.reported import Report

SAID = {
    "conforms": "conforms to every limit of its part",
    "does not conform": "does not conform",
    "undecided": "is undecided: it can neither be accepted nor rejected on what was measured",
}


def screen(found: Report, answer: dict[str, Any], units: str) -> None:
    """Print a judged batch: the answer, characteristics against limits, what was measured, the reasons."""
    from . import measured_screen

    batch = answer["batch"]
    tables.paragraph(
        f"Batch {batch['id']} of {batch['part_number']} issue {batch['part_issue']} "
        f"{SAID[answer['answer']]}. {answer['covers']['text']}"
    )
    held = every(answer)
    bad = [c for c in held if c["decision"] == FAILS]
    open_ = [c for c in held if c["decision"] == UNDECIDED]
    told = [
        f"{words}: {names(some)}."
        for words, some in (("Does not conform", bad), ("Undecided", open_))
        if some
    ]
    for sentence in (*cause(answer), *in_doubt(answer), *told, *ahead(answer), least_certain(answer)):
        if sentence:
            tables.paragraph(plain(sentence))
    tables.paragraph(_rule(answer["decision_rule"]))
    print()
    _limits_table(held, units)
    _zones(found, units)
    wording.print_list(
        "Why:",
        [f"{title(c)}: {c['reason']}" for c in held if c["decision"] != CONFORMS],
    )
    ways = [f"{title(c)}: {_way(c, way, units)}" for c in held for way in c["to_decide"]]
    wording.print_list("What would most likely decide it (retests only within the part's plan):", ways)
    wording.print_list("Press cycle, from the log (for screening):", cycle_sentences(answer))
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
    print()
    tables.paragraph(wording.RESPONSIBILITY)


def _way(c: Mapping[str, Any], way: Mapping[str, Any], units: str) -> str:
    """What would decide it, the sizes in the units shown."""
    text = str(way["text"])
    if "coupons" in way or way["contribution_needed"] is None:
        return text
    metric, wanted = (unit.text for unit in _unit(c, units))
    for size in (way["contribution_now"], way["contribution_needed"]):
        new = _converted(size, c, units, difference=True)
        text = text.replace(f"± {size:.2g} {metric}".rstrip(), f"± {new:.2g} {wanted}".rstrip(), 1)
    return text


def _rule(rule: dict[str, Any]) -> str:
    guard = "simple acceptance, no guard band" if rule["guard"] == 0 else f"guard band {rule['guard']:g} x U"
    k = (
        f"k = {rule['coverage_factor']:g}"
        if rule["coverage_factor"]
        else f"{rule['confidence']:g} % confidence"
    )
    return f"Decision rule of the part: {guard}, U at {k}."


def _limits_table(held: list[Mapping[str, Any]], units: str) -> None:
    """Each characteristic with its decision and chance once, and a line for each of its limits."""
    rows = []
    for c in held:
        first = [title(c), c["decision"], plain(chance(c["probability_of_conformity"]))]
        for which, words in (("individual", "each"), ("average", "average")):
            bounds = c["limits"][which]
            if bounds is None:
                continue
            said = _result(c, c["result"][which], units)
            rows.append([first[0], words, _bounds(bounds, c, units), said, *first[1:]])
            first = ["", "", ""]
    tables.table(["what", "limit on", "limits", "result ± U", "decision", "chance"], rows)
    tables.paragraph(f"{CHANCE}.")


def _unit(c: Mapping[str, Any], units: str) -> Any:
    from laminate.show.numbers import in_units
    from laminate.values.quantities import ATTRIBUTES, DEG_C, Unit

    key = c["name"].rpartition(".")[2]
    if key in ATTRIBUTES:
        return ATTRIBUTES[key].unit, wording.unit_of(key, units)
    unit = DEG_C if c["limits"]["unit"] == "degC" else Unit(c["limits"]["unit"], 1.0)
    return unit, in_units(unit, units)


def _converted(number: float, c: Mapping[str, Any], units: str, *, difference: bool = False) -> float:
    """A number of the answer, metric, in the unit shown."""
    metric, wanted = _unit(c, units)
    if difference:
        return float(number / metric.per_si * wanted.per_si)
    return float((number - metric.offset) / metric.per_si * wanted.per_si + wanted.offset)


def _bounds(bounds: dict[str, Any], c: Mapping[str, Any], units: str) -> str:
    unit = _unit(c, units)[1].text
    low, high = (
        None if bounds[k] is None else f"{_converted(bounds[k], c, units):.5g}" for k in ("min", "max")
    )
    text = f"{low} to {high}" if low and high else f"min {low}" if low else f"max {high}"
    return f"{text} {unit}".rstrip()


def _result(c: Mapping[str, Any], result: dict[str, Any] | None, units: str) -> str:
    """The average, or the individuals from least to greatest, and one between them that does not conform."""
    from laminate.show.numbers import text
    from laminate.values.quantities import Unit

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
