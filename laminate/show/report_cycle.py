"""What the logs of a judged batch say of its press cycle, from the answer's own keys."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from laminate.press.shared_inputs import NORMAL
from laminate.show.blocks import Grid
from laminate.show.cycle_words import verdict_words
from laminate.show.numbers import quantity
from laminate.show.page_words import Json
from laminate.show.report_tables import listing


def tables(answer: Json) -> Iterator[Grid]:
    """The moments of each zone, and what must be weighed."""
    columns: dict[str, Any] = {
        "moment": "event",
        "time ± (95 %)": lambda row: _time(row["time"]),
        "laminate": lambda row: _quantity(row["temperature"]),
        "resin, absolute": lambda row: _quantity(row["resin_pressure_absolute"]),
    }
    for zone in answer["cycle"]["zones"]:
        sentence = verdict_words(zone["zone"], zone["verdict"], zone["chance"]["both"], zone["why"])
        moments = listing(sentence, zone["events"], columns, 1, 2, 3)
        yield from moments or [Grid(("moment",), (("no moment is known",),), caption=sentence)]
        rows = [(words,) for key in ("mended", "left_out", "warnings", "screening") for words in zone[key]]
        yield Grid(("what",), tuple(rows), (), f"{zone['zone']}: to be weighed")


def _time(row: Json) -> str:
    u, unit = row["standard_uncertainty"], row["unit"]
    return quantity(row["value"], NORMAL * u, unit) if u else f"{row['value']:.1f} {unit}"


def _quantity(row: Json | None) -> str:
    return "" if row is None else quantity(row["value"], None, row["unit"])
