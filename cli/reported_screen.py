"""A judged batch on the screen: the answer and what to know ahead, limits, what was measured, reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from laminate.show.limits_drawing import between
from laminate.show.page_words import chance, title
from laminate.show.report_cycle import sentences as cycle_sentences
from laminate.show.report_summary import (
    CHANCE,
    CONFORMS,
    FAILS,
    ahead,
    answer_line,
    cause,
    every,
    in_doubt,
    least_certain,
    low_chance,
    not_inside,
    plain,
)
from laminate.values.said import in_units

from . import brief, tables, wording

if TYPE_CHECKING:
    from pathlib import Path

    from laminate.judging.reported import Report


def screen(
    report: Report, answer: dict[str, Any], units: str, why: bool = False, written: Sequence[Path] = ()
) -> None:
    """Print a judged batch on one screen; why: with budgets, specimens, instruments and assumptions."""
    held = every(answer)
    under = [*cause(answer), *in_doubt(answer)]
    under += [f"{title(c)} {_is(c['decision'])}: {c['reason']}." for c in _open(held)]
    under += [*ahead(answer), low_chance(answer)]
    said = [in_units(sentence, units) for sentence in under]
    rows, spare = _rows(held, units)
    shown = brief.Screen(
        answer_line(answer),
        [plain(sentence[:1].upper() + sentence[1:]) for sentence in said if sentence],
        ("what", "limits", "result ± U", "|limits|", "decision"),
        rows,
        spare,
        [
            f"{_rule(answer['decision_rule'])} What each ± comes from, and more: --why.",
            wording.RESPONSIBILITY,
        ],
        max(len(answer["covers"]["zones"]), 1),
        answer_line(answer, short=True),
        [str(path) for path in written],
    )
    brief.show(shown, (lambda: _details(report, answer, held, units)) if why else None)


ONE_LINE = 20
"""Characters of a result, above which it stands on two lines."""


def brief_title(c: Mapping[str, Any]) -> str:
    """What a characteristic is, in the fewest words: quantity, zone or prepreg, lot."""
    name, lot = str(c["name"]), str(c["lot"] or "").removeprefix("lot ")
    if name.startswith("prepreg."):
        _, prepreg, key = name.split(".", 2)
        return " ".join(filter(None, [f"{_short(key)}, {prepreg}", lot]))
    return f"{_short(name)}, {c['zone']}" if c["zone"] else _short(name)


def _short(key: str) -> str:
    return key.replace("_", " ")


def _open(held: list[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """What does not conform, then what is undecided."""
    return sorted((c for c in held if c["decision"] != CONFORMS), key=lambda c: c["decision"] != FAILS)


def _is(decision: str) -> str:
    return decision if decision == FAILS else f"is {decision}"


def _details(report: Report, answer: dict[str, Any], held: list[Mapping[str, Any]], units: str) -> None:
    """What a person looks up: chances, where each ± comes from, specimens, instruments, values, cores."""
    from . import measured_screen

    print()
    rows = [[title(c), c["method"] or "", plain(chance(c["probability_of_conformity"]))] for c in held]
    tables.table(["what", "by", "chance"], rows)
    tables.paragraph(f"{CHANCE}.")
    if sure := least_certain(answer):
        tables.paragraph(plain(sure))
    _zones(report, units)
    ways = [f"{title(c)}: {in_units(way['text'], units)}" for c in held for way in c["to_decide"]]
    wording.print_list("What would most likely decide it (retests only within the part's plan):", ways)
    wording.print_list("Press cycle, from the log (for screening):", cycle_sentences(answer))
    _instruments(answer)
    print()
    if report.measurement.specimens:
        measured_screen.specimens_table(report.measurement, report.measurement.specimens, units)
    measured_screen.notes(report.measurement, units)
    other = [
        f"{v['input']}: {v['stated']} from {v['from']}" for v in answer["values"] if v["from"] != "part file"
    ]
    wording.print_list("Values of this batch in place of nominal ones:", other)
    _risks(report)


def _rule(rule: dict[str, Any]) -> str:
    guard = "simple acceptance, no guard band" if rule["guard"] == 0 else f"guard band {rule['guard']:g} x U"
    k = (
        f"k = {rule['coverage_factor']:g}"
        if rule["coverage_factor"]
        else f"{rule['confidence']:g} % confidence"
    )
    return f"Rule of the part: {guard}, U at {k}."


def _rows(held: list[Mapping[str, Any]], units: str) -> tuple[list[Sequence[str]], frozenset[int]]:
    """A row for each limit of each characteristic, and which of them conform without more to say."""
    rows: list[Sequence[str]] = []
    spare: set[int] = set()
    for c in _open(held) + [c for c in held if c["decision"] == CONFORMS]:
        for which, words in (("individual", "each"), ("average", "average")):
            limits, result = c["limits"][which], c["result"][which]
            if limits is None:
                continue
            said = _result(c, result, units)
            if c["decision"] == CONFORMS and not (result and not_inside(result)):
                spare.add(len(rows))
            decision = result["decision"] if result else c["decision"]
            bounds = _bounds(limits, c, units)
            name = "" if rows and rows[-1][0] == brief_title(c) else brief_title(c)
            rows.append(
                (name or "  its average", f"{words} {bounds}", said, _drawing(limits, result), decision)
            )
    return rows, frozenset(spare)


def _drawing(limits: Mapping[str, Any], result: Mapping[str, Any] | None) -> str:
    readings = result["readings"] if result else []
    if not readings:
        return ""
    widest = max(reading["expanded_uncertainty"] for reading in readings)
    return between([reading["value"] for reading in readings], widest, limits["min"], limits["max"])


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
    low, high = (
        None if bounds[k] is None else f"{_converted(bounds[k], c, units):.5g}" for k in ("min", "max")
    )
    return f"{low} to {high}" if low and high else f"min {low}" if low else f"max {high}"


def _result(c: Mapping[str, Any], result: dict[str, Any] | None, units: str) -> str:
    """The average, or the individuals from least to greatest and those that are not inside, by name."""
    from laminate.show.numbers import decimals, fixed, text
    from laminate.values.quantities import Unit

    if result is None or not result["readings"]:
        return "none"
    readings = result["readings"]
    unit = Unit(_unit(c, units)[1].text, 1.0)
    low, high = (_converted(pick(r["value"] for r in readings), c, units) for pick in (min, max))
    widest = max(r["expanded_uncertainty"] for r in readings)
    spread = _converted(widest, c, units, difference=True)
    said = text(high, spread, unit)
    if len(readings) > 1:
        first = fixed(low, decimals(high, spread))
        joint = "\n" if len(first) + len(said) > ONE_LINE else " "
        said = "\n".join([f"{first} to{joint}{said}", *not_inside(result)])
    return said


def _zones(answer: Report, units: str) -> None:
    from laminate.show.measure_json import contributions_of

    for zone in answer.measurement.zones:
        for key in ("fiber_volume", "void_content"):
            if key in zone.averages and answer.case.part.limits.of_zone(key, zone.zone):
                if len(answer.measurement.zones) > 1:
                    print(f"\nZone {zone.zone}")
                wording.print_budget(contributions_of(zone, key), key, units)


def _instruments(answer: dict[str, Any]) -> None:
    said = [f"{i['name']} {i['identity'] or ''}".strip() + f": {i['state']}" for i in answer["instruments"]]
    wording.print_list("Instruments on the day of measuring:", said)


def _risks(answer: Report) -> None:
    moldings = [
        f"core {name} ({used.identity}): {used.moldings} moldings of "
        f"{answer.case.part.core[name].limit_moldings} allowed"
        for name, used in answer.case.batch.core_used.items()
        if used.moldings is not None
        and name in answer.case.part.core
        and answer.case.part.core[name].limit_moldings
    ]
    wording.print_list("Cores:", moldings)
