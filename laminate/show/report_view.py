"""What the report page shows, in order: every text is made here, the template only places it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from laminate.show.blocks import Grid
from laminate.show.chart import source_of
from laminate.show.interval_drawing import drawing, groups_of
from laminate.show.page_words import (
    DASH,
    NO_BREAK,
    bounds,
    chance,
    factors,
    interval,
    largest,
    quantity,
    several,
    spread,
    title,
    unit,
)
from laminate.show.report_summary import (
    CONFORMS,
    FAILS,
    ahead,
    cause,
    every,
    in_doubt,
    least_certain,
    not_inside,
    open_words,
    rule_words,
)

WORTH_SAYING = 0.05
"""Shares of a variance below this [%] are not listed."""


def table(
    caption: str, columns: Sequence[str], rows: Sequence[Sequence[str]], *right: int, narrow: bool = False
) -> Grid:
    """A table of text; right: the columns that hold numbers."""
    cells = (tuple(cell.replace(NO_BREAK, " ") if narrow else cell for cell in row) for row in rows)
    return Grid(tuple(columns), tuple(cells), right, caption, narrow)


@dataclass(frozen=True)
class Block:
    """One characteristic: heading, facts as pairs, drawing and its description, tables, ways to decide it."""

    heading: str
    decision: str
    reason: str
    facts: tuple[tuple[str, str], ...]
    picture: str
    description: str
    tables: tuple[Grid, ...]
    ways: tuple[str, ...]


def headline(answer: Mapping[str, Any]) -> dict[str, Any]:
    """The answer in a few lines: what is said, why, how sure."""
    why = [*cause(answer), *open_words(answer)]
    if not why:
        count = several(len(answer["characteristics"]), "characteristic")
        readings = several(len(answer["process"]), "process reading")
        both = f"{count} and {readings}" if answer["process"] else count
        why = [f"Every one conforms: {both}."]
    words = {CONFORMS: "Conforms", FAILS: "Does not conform"}.get(answer["answer"], "Undecided")
    return {
        "words": words,
        "why": [answer["covers"]["text"], *why, *in_doubt(answer), *ahead(answer)],
        "sure": least_certain(answer),
    }


def _lines(row: Mapping[str, Any]) -> tuple[str, str]:
    """Limits and results, a line for each coupon and a line for the average, in the same order."""
    unit_text = row["limits"]["unit"]
    limits, results = [], []
    for which, words in (("individual", "each"), ("average", "average")):
        held, pair = row["result"][which], row["limits"][which]
        if pair is None:
            continue
        limits.append(f"{words}: {bounds(pair, unit_text)}")
        if held is None:
            results.append(f"{words}: no data")
            continue
        readings = held["readings"]
        if len(readings) == 1:
            value = quantity(readings[0]["value"], readings[0]["expanded_uncertainty"], unit_text)
        else:
            widest = largest([reading["expanded_uncertainty"] for reading in readings])
            value = interval([reading["value"] for reading in readings], widest, unit_text)
        results.append("; ".join([f"{words}: {value}", *not_inside(held)]))
    if len(limits) == 1 and (row["lot"] or not row["zone"]):
        return limits[0].partition(": ")[2], results[0].partition(": ")[2]
    return "\n".join(limits), "\n".join(results)


def summary(answer: Mapping[str, Any]) -> Grid:
    """Every characteristic and process reading in one row: limits, result, decision."""
    rows = [(title(row), *_lines(row), row["decision"]) for row in every(answer)]
    caption = "Every characteristic against its limits; ± is the expanded uncertainty"
    return table(caption, ("characteristic", "limits", "result", "decision"), rows)


def block(row: Mapping[str, Any], answer: Mapping[str, Any]) -> Block:
    """One characteristic in full."""
    unit_text = row["limits"]["unit"]
    facts = [("limits", _lines(row)[0])]
    facts.append(("result", _lines(row)[1]))
    if row["method"]:
        facts.append(("method", row["method"]))
    if row.get("source"):
        facts.append(("source", row["source"]))
    held = [row["result"][which] for which in ("individual", "average") if row["result"][which]]
    if held:
        facts.append(
            ("coverage factor", factors([r["coverage_factor"] for h in held for r in h["readings"]]))
        )
    facts.append(("chance that it is inside its limits", chance(row["probability_of_conformity"])))
    if row["risk_if_accepted"] is not None:
        accepted, rejected = chance(row["risk_if_accepted"]), chance(row["risk_if_rejected"])
        facts.append(
            (
                "risk",
                f"risk of accepting a bad batch: {accepted}\nrisk of rejecting a good batch: {rejected}",
            )
        )
    if row["decision"] != CONFORMS:
        facts.append(("its name for a concession", row["label"]))
    groups = groups_of(row)
    picture = ""
    if groups:
        picture = source_of(drawing(groups, unit(unit_text)))
    return Block(
        heading=title(row),
        decision=row["decision"],
        reason=row["reason"],
        facts=tuple(facts),
        picture=picture,
        description=_description(row, unit_text),
        tables=(*_readings(row, unit_text), *_budget(row, answer)),
        ways=tuple(way["text"] for way in row["to_decide"]),
    )


def _description(row: Mapping[str, Any], unit_text: str) -> str:
    limits, results = _lines(row)
    held = row["result"]["individual"]
    count = f"{several(len(held['readings']), 'value')}; " if held and len(held["readings"]) > 1 else ""
    said = f"{title(row)}: {count}results {results}, limits {limits}. Decision: {row['decision']}."
    return said.replace("\n", "; ")


def _readings(row: Mapping[str, Any], unit_text: str) -> list[Grid]:
    rows = []
    for which in ("individual", "average"):
        held = row["result"][which]
        for reading in held["readings"] if held else ():
            rows.append(
                (
                    reading["name"] if which == "average" or row["zone"] or row["lot"] else "reading",
                    quantity(reading["value"], reading["expanded_uncertainty"], unit_text),
                    spread(reading["guard_band"], unit_text) if reading["guard_band"] else "none",
                    reading["decision"],
                )
            )
    if not rows:
        return []
    columns = ("value of", "result ± U", "guard band", "decision")
    return [table("Each value with its expanded uncertainty U", columns, rows, 1, 2, narrow=True)]


def _budget(one: Mapping[str, Any], answer: Mapping[str, Any]) -> list[Grid]:
    """Where the uncertainty of a zone's average comes from."""
    zone = next((zone for zone in answer["zones"] if zone["zone"] == one["zone"]), None)
    rows = zone["budget"].get(one["name"], []) if zone and one["zone"] else []
    told = [
        (
            row["input"],
            f"{row['share']:.1f} %",
            spread(row["standard_uncertainty"], row["unit"]),
            spread(row["if_halved"], row["unit"]),
        )
        for row in rows
        if row["share"] >= WORTH_SAYING
    ]
    if not told:
        return []
    whole = zone["average"][one["name"]]["standard_uncertainty"] if zone else None
    of_all = f", {spread(whole, one['limits']['unit'])} in all" if whole is not None else ""
    caption = f"Where the standard uncertainty of the average comes from{of_all}"
    columns = ("input", "share", "contribution", "all, if this were half")
    return [table(caption, columns, told, 1, 2, 3, narrow=True)]


def facts(answer: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Which batch this is, and by which rule it was judged."""
    batch = answer["batch"]
    pairs = [
        ("part", f"{batch['part_number']} issue {batch['part_issue']}"),
        ("name", batch["part_name"]),
        ("batch", batch["id"]),
        ("molded", batch["molded"]),
        ("quantity", batch["quantity"]),
        ("serial numbers", batch["serials"]),
        ("press", batch["press"]),
        ("laboratory", batch["laboratory"]),
        ("procedure", batch["procedure"]),
        ("measured", batch["measured"]),
        ("records kept until", batch["retain_until"]),
        ("decision rule", rule_words(answer["decision_rule"])),
    ]
    return [(name, str(value)) for name, value in pairs if value is not None and value != ""]


def or_dash(value: object) -> str:
    """Text, or a dash where nothing was stated."""
    return DASH if value is None or value == "" else str(value)
