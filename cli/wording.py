"""Words and rows that several screens share: attributes with their ±, budgets, warnings, notes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

from laminate.show.numbers import fixed, spread_text, text
from laminate.values.input_key import Name, in_words
from laminate.values.problems import Answered, Problem
from laminate.values.quantities import ATTRIBUTES, Unit

from . import tables

RESPONSIBILITY = (
    "Limits, methods and release stay with the governing specification, local codes and authorized staff."
)


def unit_of(key: str, units: str) -> Unit:
    """The unit in which an attribute is shown."""
    attribute = ATTRIBUTES[key]
    return attribute.us if units == "us" else attribute.unit


def attribute_text(key: str, value: float, spread: float | None, units: str) -> str:
    """An attribute with its ± in its unit."""
    return text(value, spread, unit_of(key, units))


def budget_rows(contributions: Mapping[Name, float], key: str, units: str) -> list[list[str]]:
    """Rows of where a ± comes from, largest first: what, ± in the result, share, if halved."""
    variance = math.fsum(c * c for c in contributions.values())
    unit = unit_of(key, units)
    rows, words = [], in_words(contributions)
    for name, c in sorted(contributions.items(), key=lambda item: -abs(item[1])):
        share = 100.0 * c * c / variance if variance else 0.0
        if share < 0.05:
            continue
        halved = math.sqrt(max(variance - 0.75 * c * c, 0.0))
        rows.append(
            [words[name], spread_text(abs(c), unit), f"{fixed(share, 1)} %", spread_text(halved, unit)]
        )
    return rows


def print_budget(contributions: Mapping[Name, float], key: str, units: str) -> None:
    """Print where the ± of an attribute comes from (standard uncertainties)."""
    rows = budget_rows(contributions, key, units)
    if not rows:
        return
    whole = math.sqrt(math.fsum(c * c for c in contributions.values()))
    words = ATTRIBUTES[key].words
    print()
    tables.paragraph(
        f"Where the ± of the {words} comes from (standard, {spread_text(whole, unit_of(key, units))} in all)"
    )
    tables.table(["what", "standard ±", "share", "total if halved"], rows, right=[1, 2, 3])


def print_list(heading: str, sentences: Iterable[str]) -> None:
    """Print a heading and a sentence a line, nothing where there is none."""
    listed = list(sentences)
    if listed:
        print()
        for line in tables.folded(heading):
            print(tables.strong(line))
        for sentence in listed:
            tables.paragraph(f"- {sentence}", indent=2)


def warning_text(warning: Problem, units: str) -> str:
    """A warning as one sentence, with the reason with which it was accepted instead of advice."""
    if isinstance(warning, Answered):
        return f"{replace(warning, hint='').sentence(units)} [accepted: {warning.reason}]"
    return warning.sentence(units)


def exact_sentence(names: Iterable[str]) -> list[str]:
    """The sentence that names inputs without a ±."""
    texts = list(names)
    told = "They are taken as exact, but for the last decimal of readings."
    return [f"No ± was stated for: {', '.join(texts)}. {told}"] if texts else []
