"""Words and tables that several answers share: attributes with their ±, budgets, warnings, notes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from laminate.show.blocks import Block, Grid, Heading
from laminate.show.numbers import fixed, spread_text, text, unit_of
from laminate.values.input_key import Name, in_words
from laminate.values.problems import Answered, Problem
from laminate.values.quantities import ATTRIBUTES

RESPONSIBILITY = (
    "Limits, methods and release stay with the governing specification, local codes and authorized staff."
)


def attribute_text(key: str, value: float, spread: float | None, units: str) -> str:
    """An attribute with its ± in its unit."""
    return text(value, spread, unit_of(key, units))


def budget(contributions: Mapping[Name, float], key: str, units: str, zone: str = "") -> list[Block]:
    """Where the ± of an attribute comes from, largest first: what, ± in the result, share, if halved.

    zone: is named, where there are several.
    """
    variance = math.fsum(c * c for c in contributions.values())
    unit = unit_of(key, units)
    rows, words = [], in_words(contributions)
    for name, c in sorted(contributions.items(), key=lambda item: -abs(item[1])):
        share = 100.0 * c * c / variance if variance else 0.0
        if share >= 0.05:
            halved = spread_text(math.sqrt(max(variance - 0.75 * c * c, 0.0)), unit)
            rows.append((words[name], spread_text(abs(c), unit), f"{fixed(share, 1)} %", halved))
    if not rows:
        return []
    whole = f"standard, {spread_text(math.sqrt(variance), unit)} in all"
    what = ATTRIBUTES[key].words + (f" of zone {zone}" if zone else "")
    return [
        Heading(f"Where the ± of the {what} comes from ({whole})", detail=True),
        Grid(("what", "standard ±", "share", "total if halved"), tuple(rows), (1, 2, 3)),
    ]


def warning_text(warning: Problem, units: str) -> str:
    """A warning as one sentence, with the reason with which it was accepted instead of advice."""
    if isinstance(warning, Answered):
        return f"{replace(warning, hint='').sentence(units)} [accepted: {warning.reason}]"
    return warning.sentence(units)


def exact_sentence(names: Iterable[str]) -> list[str]:
    """The sentence that names inputs without a ±."""
    exact = list(names)
    readings = "Readings keep the ± of their last decimal."
    return [f"Assumed exact, as no ± is stated: {', '.join(exact)}. {readings}"] if exact else []
