"""What the logs of a judged batch say of its press cycle, from the answer's own keys."""

from __future__ import annotations

from collections.abc import Iterator

from laminate.press.shared_inputs import NORMAL
from laminate.show.blocks import Grid
from laminate.show.cycle_words import verdict_words
from laminate.show.numbers import quantity
from laminate.show.page_words import Json
from laminate.show.report_tables import listing


def tables(answer: Json) -> Iterator[Grid]:
    """The moments of each zone, and what must be weighed."""
    columns = ("moment", "time ± (95 %)", "laminate", "resin, absolute")
    for zone in answer["cycle"]["zones"]:
        sentence = verdict_words(zone["zone"], zone["verdict"], zone["chance"]["both"], zone["why"])
        moments = listing(sentence, columns, map(_moment, zone["events"]), 1, 2, 3)
        yield from moments or [Grid(("moment",), (("no moment is known",),), caption=sentence)]
        rows = [(words,) for key in ("mended", "left_out", "warnings", "screening") for words in zone[key]]
        yield Grid(("what",), tuple(rows), (), f"{zone['zone']}: to be weighed")


def _moment(row: Json) -> tuple[str, ...]:
    time, u = row["time"], row["time"]["standard_uncertainty"]
    known = quantity(time["value"], NORMAL * u, time["unit"]) if u else f"{time['value']:.1f} {time['unit']}"
    return row["event"], known, _quantity(row["temperature"]), _quantity(row["resin_pressure_absolute"])


def _quantity(row: Json | None) -> str:
    return "" if row is None else quantity(row["value"], None, row["unit"])
