"""What `report` was asked: each characteristic with limits, results, picture and where its ± comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from laminate.formulas.conformity import CONFORMS
from laminate.show.blocks import Entry, Facts, Grid, Sentence, items
from laminate.show.budget import budget_grid
from laminate.show.chart import Picture
from laminate.show.interval_drawing import Group, Row, drawing
from laminate.show.numbers import bounds, interval, quantity, spread, typeset
from laminate.show.page_words import Json, chance, factors, several, title
from laminate.show.report_summary import every, not_inside, rule_words
from laminate.show.report_tables import listing
from laminate.values.said import Said, joined


def held_to(row: Json) -> Iterator[tuple[str, Json, Json | None]]:
    """What each pair of limits of a characteristic is for, the pair, and the result held to it."""
    for which, words in (("individual", "each"), ("average", "average")):
        if row["limits"][which] is not None:
            yield words, row["limits"][which], row["result"][which]


def result_words(row: Json, held: Json) -> Said:
    """The average, or the individuals from least to greatest with the largest ±."""
    readings = held["readings"]
    widest = max(reading["expanded_uncertainty"] for reading in readings)
    return interval([reading["value"] for reading in readings], widest, row["limits"]["unit"], key_of(row))


def key_of(row: Json) -> str:
    """The attribute that a characteristic is of."""
    return str(row["name"]).rpartition(".")[2]


def _lines(row: Json) -> tuple[str, str]:
    """Limits and results, a line for each coupon and a line for the average, in the same order."""
    limits, results = [], []
    pairs = list(held_to(row))
    for words, pair, held in pairs:
        named = "" if len(pairs) == 1 and (row["lot"] or not row["zone"]) else f"{words}: "
        limits.append(Said(named, bounds(pair, row["limits"]["unit"], key_of(row))))
        values = (
            "no data" if held is None else joined("; ", [result_words(row, held), *not_inside(row, held)])
        )
        results.append(Said(named, values))
    return joined("\n", limits), joined("\n", results)


def summary(answer: Json) -> Grid:
    """Every characteristic and process reading in one row: limits, result, decision."""
    rows = [(title(row), *_lines(row), row["decision"]) for row in every(answer)]
    caption = "Every characteristic against its limits; ± is the expanded uncertainty"
    return Grid(("characteristic", "limits", "result", "decision"), tuple(rows), (), caption)


def entry(row: Json, answer: Json) -> Entry:
    """One characteristic in full."""
    blocks = [Sentence(Said(f"Decision: {row['decision']}; ", row["reason"], "."))]
    if row["to_decide"]:
        blocks.append(Sentence("What would decide it", strong=True))
        blocks += items(way["text"] for way in row["to_decide"])
    tables = (*_readings(row), *_budget(row, answer))
    more = "Each value, and where its uncertainty comes from"
    return Entry(title(row), (*blocks, Facts(tuple(_facts(row)))), tables, more, lambda: _figure(row))


def _facts(row: Json) -> Iterator[tuple[str, str]]:
    limits, results = _lines(row)
    yield from (("limits", limits), ("result", results))
    yield from ((name, row[name]) for name in ("method", "source") if row.get(name))
    readings = [reading for _, _, held in held_to(row) if held for reading in held["readings"]]
    if readings:
        yield "coverage factor", factors([reading["coverage_factor"] for reading in readings])
    yield "chance that it is inside its limits", chance(row["probability_of_conformity"])
    if row["risk_if_accepted"] is not None:
        yield "risk of accepting a bad batch", chance(row["risk_if_accepted"])
        yield "risk of rejecting a good batch, if it were rejected", chance(row["risk_if_rejected"])
    if row["decision"] != CONFORMS:
        yield "its name for a concession", row["label"]


def _figure(row: Json) -> Picture | None:
    groups = [
        Group(tuple(_drawn(row, held["readings"])), limits["min"], limits["max"], words == "average")
        for words, limits, held in held_to(row)
        if held is not None
    ]
    if not groups:
        return None
    limits, results = _lines(row)
    held = row["result"]["individual"]
    count = f"{several(len(held['readings']), 'value')}; " if held and len(held["readings"]) > 1 else ""
    words = f"{count}results {results}, limits {limits}. Decision: {row['decision']}."
    return Picture(drawing(groups, typeset(row["limits"]["unit"])), title(row), words.replace("\n", "; "))


def _drawn(row: Json, readings: Iterable[Json]) -> Iterator[Row]:
    """Each reading as it is drawn; one with no name of its own is called so."""
    for reading in readings:
        name = "reading" if reading["name"] == row["name"] else reading["name"]
        yield Row(name, reading["value"], reading["expanded_uncertainty"], reading["guard_band"])


def _readings(row: Json) -> list[Grid]:
    unit, named = row["limits"]["unit"], row["zone"] or row["lot"]
    rows = [
        (
            reading["name"] if words == "average" or named else "reading",
            quantity(reading["value"], reading["expanded_uncertainty"], unit),
            spread(reading["guard_band"], unit) if reading["guard_band"] else "none",
            reading["decision"],
        )
        for words, _, held in held_to(row)
        for reading in (held["readings"] if held else ())
    ]
    columns = ("value of", "result ± U", "guard band", "decision")
    grids = listing("Each value with its expanded uncertainty U", columns, rows, 1, 2)
    return [replace(grid, narrow=True) for grid in grids]


def _budget(row: Json, answer: Json) -> list[Grid]:
    """Where the uncertainty of a zone's average comes from."""
    zone = next((zone for zone in answer["zones"] if row["zone"] and zone["zone"] == row["zone"]), None)
    lines = zone["budget"].get(row["name"], []) if zone else []
    if zone is None or not lines:
        return []
    whole = zone["average"][row["name"]]["standard_uncertainty"]
    of_all = [", ", spread(whole, row["limits"]["unit"]), " in all"] if whole is not None else []
    caption = Said("Where the standard uncertainty of the average comes from", *of_all)
    return [replace(budget_grid(lines, caption), narrow=True)]


def facts(answer: Json) -> Facts:
    """Which batch this is, and by which rule it was judged."""
    batch = answer["batch"]
    pairs = [
        ("part", f"{batch['part_number']} issue {batch['part_issue']}"),
        ("name", batch["part_name"]),
        ("batch", batch["id"]),
        *((key, batch[key]) for key in ("molded", "quantity")),
        ("serial numbers", batch["serials"]),
        *((key, batch[key]) for key in ("press", "laboratory", "procedure", "measured")),
        ("records kept until", batch["retain_until"]),
        ("decision rule", rule_words(answer["decision_rule"])),
    ]
    return Facts(tuple((name, str(value)) for name, value in pairs if value is not None and value != ""))
