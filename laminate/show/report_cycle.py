"""What the logs of a judged batch say of its press cycle, from the answer's own keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from laminate.show.blocks import Grid
from laminate.show.numbers import chance
from laminate.show.report_tables import table


def sentences(answer: Mapping[str, Any]) -> list[str]:
    """One sentence a zone: its verdict, the chance and why."""
    lines = []
    for zone in _zones(answer):
        both = zone["chance"]["both"]
        sure = "" if both is None else f", chance {chance(both)}"
        why = f": {'; '.join(zone['why'])}" if zone["why"] else ""
        lines.append(f"{zone['zone']}: {zone['verdict']}{sure}{why}")
    return lines


def tables(answer: Mapping[str, Any]) -> list[Grid]:
    """The moments of each zone, and what must be weighed."""
    tables: list[Grid] = []
    columns = ("moment", "time [min]", "laminate [degC]", "resin, absolute [MPa]")
    for zone, sentence in zip(_zones(answer), sentences(answer), strict=True):
        rows = [
            (
                event["event"],
                f"{event['time']['value']:.1f}",
                _number(event["temperature"], 1),
                _number(event["resin_pressure_absolute"], 3),
            )
            for event in zone["events"]
        ]
        tables.append(table(sentence, columns, rows or [("no moment is known", "", "", "")]))
        remarks = [*zone["mended"], *zone["left_out"], *zone["warnings"], *zone["screening"]]
        tables.append(table(f"{zone['zone']}: to be weighed", ("what",), [(words,) for words in remarks]))
    return tables


def _zones(answer: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    return answer["cycle"]["zones"] if answer.get("cycle") else []


def _number(row: Mapping[str, Any] | None, places: int) -> str:
    return "" if row is None else f"{row['value']:.{places}f}"
