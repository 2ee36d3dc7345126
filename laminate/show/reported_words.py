"""A judged batch in words: the answer and what to know ahead, limits, what was measured, reasons."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from laminate.show.attribute_words import RESPONSIBILITY
from laminate.show.blocks import Block, Grid, Heading, Sentence, listing, sentences
from laminate.show.document import Document
from laminate.show.limits_drawing import between
from laminate.show.measured_words import notes, specimens_grid, zone_budgets
from laminate.show.numbers import decimals, fixed, with_size
from laminate.show.page_words import chance, title
from laminate.show.report_cycle import sentences as cycle_sentences
from laminate.show.report_summary import (
    CHANCE,
    CONFORMS,
    ahead,
    answer_line,
    cause,
    every,
    in_doubt,
    least_certain,
    low_chance,
    not_inside,
    open_ones,
    open_words,
    plain,
    rule_words,
)
from laminate.show.screenful import screenful
from laminate.show.trend_shown import Scale, scale_of
from laminate.values.said import in_units

if TYPE_CHECKING:
    from laminate.judging.reported import Report


def report_document(report: Report, answer: dict[str, Any], units: str) -> Document:
    """The answer of `report`: limits, budgets, specimens, instruments and assumptions."""
    held = every(answer)
    under = [*cause(answer), *in_doubt(answer)]
    under += open_words(answer)
    under += [f"What would decide it: {way.rstrip('.')}." for way in _ways(held, units)[:1]]
    under += [*ahead(answer), low_chance(answer)]
    said = [in_units(sentence, units) for sentence in under]
    told = [plain(sentence[:1].upper() + sentence[1:]) for sentence in said if sentence]
    rows, spare = _rows(answer, units)
    grid = Grid(("what", "limits", "result ± U", "|limits|", "decision"), tuple(rows))
    after = [
        f"Rule of the part: {plain(rule_words(answer['decision_rule']))}. Where each ± comes from: --why.",
        RESPONSIBILITY,
    ]
    parts, last = max(len(answer["covers"]["zones"]), 1), answer_line(answer, short=True)
    short = screenful(answer_line(answer), told, grid, after, spare=spare, parts=parts, last=last)
    first = [Sentence(answer_line(answer), strong=True), *sentences(told), *([grid] if rows else [])]

    def whole() -> list[Block]:
        return [*first, *sentences(after), *_details(report, answer, held, units)]

    return Document("Batch against its limits", answer["batch"], whole, short)


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


def _ways(held: list[Mapping[str, Any]], units: str) -> list[str]:
    """What would most likely decide what is undecided."""
    return [f"{title(c)}: {in_units(way['text'], units)}" for c in held for way in c["to_decide"]]


def _details(
    report: Report, answer: dict[str, Any], held: list[Mapping[str, Any]], units: str
) -> Iterator[Block]:
    """What a person looks up: chances, where each ± comes from, specimens, instruments, values, cores."""
    rows = tuple((title(c), c["method"] or "", plain(chance(c["probability_of_conformity"]))) for c in held)
    yield from (Heading("Chances"), Grid(("what", "by", "chance"), rows), Sentence(f"{CHANCE}."))
    yield from sentences([plain(least_certain(answer) or "")])
    measurement, limits = report.measurement, report.case.part.limits
    for zone in measurement.zones:
        keys = [key for key in ("fiber_volume", "void_content") if limits.of_zone(key, zone.zone)]
        yield from zone_budgets(zone, keys, units, named=len(measurement.zones) > 1)
    heading = "What would most likely decide it (retests only within the part's plan):"
    yield from listing(heading, _ways(held, units))
    yield from listing("Press cycle, from the log (for screening):", cycle_sentences(answer))
    instruments = [
        f"{i['name']} {i['identity'] or ''}".strip() + f": {i['state']}" for i in answer["instruments"]
    ]
    yield from listing("Instruments on the day of measuring:", instruments)
    if measurement.specimens:
        yield from (Heading("Coupons"), specimens_grid(measurement, measurement.specimens, units))
    yield from notes(measurement, units)
    other = [
        f"{v['input']}: {v['stated']} from {v['from']}" for v in answer["values"] if v["from"] != "part file"
    ]
    yield from listing("Values of this batch in place of nominal ones:", other)
    moldings = [
        f"core {name} ({used.identity}): {used.moldings} moldings of "
        f"{report.case.part.core[name].limit_moldings} allowed"
        for name, used in report.case.batch.core_used.items()
        if used.moldings is not None
        and name in report.case.part.core
        and report.case.part.core[name].limit_moldings
    ]
    yield from listing("Cores:", moldings)


def _rows(answer: Mapping[str, Any], units: str) -> tuple[list[tuple[str, ...]], list[int]]:
    """A row for each limit of each characteristic, and which of them conform without more to say."""
    rows: list[tuple[str, ...]] = []
    spare: list[int] = []
    for c in open_ones(answer) + [c for c in every(answer) if c["decision"] == CONFORMS]:
        for which, words in (("individual", "each"), ("average", "average")):
            limits, result = c["limits"][which], c["result"][which]
            if limits is None:
                continue
            said = _result(c, result, units)
            if c["decision"] == CONFORMS and not (result and not_inside(result)):
                spare.append(len(rows))
            decision = result["decision"] if result else c["decision"]
            bounds = _scale(c, units).limits(limits["min"], limits["max"])
            name = "" if rows and rows[-1][0] == brief_title(c) else brief_title(c)
            rows.append(
                (name or "  its average", f"{words} {bounds}", said, _drawing(limits, result), decision)
            )
    return rows, spare


def _drawing(limits: Mapping[str, Any], result: Mapping[str, Any] | None) -> str:
    readings = result["readings"] if result else []
    if not readings:
        return ""
    widest = max(reading["expanded_uncertainty"] for reading in readings)
    return between([reading["value"] for reading in readings], widest, limits["min"], limits["max"])


def _scale(c: Mapping[str, Any], units: str) -> Scale:
    return scale_of(c["name"].rpartition(".")[2], c["limits"]["unit"], units)


def _result(c: Mapping[str, Any], result: dict[str, Any] | None, units: str) -> str:
    """The average, or the individuals from least to greatest and those that are not inside, by name."""
    if result is None or not result["readings"]:
        return "none"
    readings, scale = result["readings"], _scale(c, units)
    low, high = (scale.to(pick(r["value"] for r in readings)) for pick in (min, max))
    spread = scale.by(max(r["expanded_uncertainty"] for r in readings))
    said = with_size(high, spread, scale.unit)
    if len(readings) > 1:
        first = fixed(low, decimals(high, spread))
        joint = "\n" if len(first) + len(said) > ONE_LINE else " "
        said = "\n".join([f"{first} to{joint}{said}", *not_inside(result)])
    return said
