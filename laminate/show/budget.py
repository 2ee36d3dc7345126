"""Where a ± comes from: each source with its share, for people and as JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from operator import itemgetter
from typing import Any, NamedTuple

from laminate.show.blocks import Block, Grid, Heading, columned
from laminate.show.fields import FIGURE, KEY, STEP, TEXT, UNIT, rows, table
from laminate.show.numbers import spread, spread_text, unit_of
from laminate.values.input_key import Name, in_words
from laminate.values.quantities import ATTRIBUTES
from laminate.values.said import fixed
from laminate.values.uncertainty import ROUNDING

WORTH_SAYING = 0.05
"""Shares of a variance below this [%] are not listed."""


class Share(NamedTuple):
    """A part of a standard uncertainty: its source, size and share [%], the whole if it were half."""

    source: Name
    words: str
    size: float
    percent: float
    if_halved: float


def shares(contributions: Mapping[Any, float]) -> Iterator[Share]:
    """Parts of a standard uncertainty but rounding, largest first; contributions: source -> signed [SI]."""
    variance, words = math.fsum(c * c for c in contributions.values()), in_words(contributions)
    for name, c in sorted(contributions.items(), key=lambda item: -abs(item[1])):
        if abs(c) > ROUNDING * math.sqrt(variance):
            halved = math.sqrt(max(variance - 0.75 * c * c, 0.0))
            yield Share(name, words[name], abs(c), 100.0 * c * c / variance, halved)


# if_halved: the standard uncertainty of the result if this source were half as large
CONTRIBUTION = table(
    "contribution",
    input=TEXT("words"),
    key=KEY("source"),
    share=FIGURE("percent"),
    standard_uncertainty=STEP("size"),
    if_halved=STEP,
    unit=UNIT,
)
BUDGET = replace(
    rows(CONTRIBUTION),
    make=lambda contributions, unit: [CONTRIBUTION.make(share, unit) for share in shares(contributions)],
)


def budget(contributions: Mapping[Name, float], key: str, units: str, zone: str = "") -> list[Block]:
    """Where the ± of an attribute comes from, largest first: what, ± in the result, share, if halved.

    zone: is named, where there are several.
    """
    unit = unit_of(key, units)
    grid = budget_grid(BUDGET.make(contributions, unit))
    whole = f"standard, {spread_text(math.hypot(*contributions.values()), unit)} in all"
    what = ATTRIBUTES[key].words + (f" of zone {zone}" if zone else "")
    heading = Heading(f"Where the ± of the {what} comes from ({whole})", detail=True)
    return [heading, grid] if grid.rows else []


def budget_grid(lines: Iterable[Mapping[str, Any]], caption: str = "") -> Grid:
    """The parts of a standard uncertainty that are worth saying, as an answer has them, a row each."""
    columns: dict[str, Callable[[Mapping[str, Any]], str]] = {
        "input": itemgetter("input"),
        "standard ±": lambda line: spread(line["standard_uncertainty"], line["unit"]),
        "share": lambda line: f"{fixed(line['share'], 1)} %",
        "total if halved": lambda line: spread(line["if_halved"], line["unit"]),
    }
    listed = [line for line in lines if line["share"] >= WORTH_SAYING]
    return columned(listed, columns, 1, 2, 3, caption=caption)
