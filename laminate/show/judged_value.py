"""One value held against limits, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from laminate.show.blocks import Sentence, sentences
from laminate.show.document import Document
from laminate.show.numbers import Scale, unit_named
from laminate.show.page_words import capital, chance
from laminate.values.said import with_size


def judged_document(answer: Mapping[str, Any], units: str) -> Document:
    """The decision with the value and the limits, then its reasons; in the units that the caller gave."""
    value, k = answer["value"], answer["coverage_factor"]
    u = value["standard_uncertainty"]
    shown = with_size(value["value"], k * u if u else None, value["unit"])
    unit = unit_named(value["unit"])
    limits = Scale(unit, unit).limits(*(answer.get(key, {}).get("value") for key in ("min", "max")))
    lines = [f"{capital(reason)}." for reason in answer["reasons"]]
    lines += [f"Chance that it is inside its limits: {chance(answer['probability_of_conformity'])}."]
    lines += [f"± is the expanded uncertainty, k = {with_size(k, None)}."] if u else []
    decided = f"{capital(answer['decision'])}: {shown}; limits: {limits} {unit.text}".rstrip()
    blocks = (Sentence(f"{decided}.", strong=True), *sentences(lines))
    return Document("Value against limits", "", lambda: blocks, blocks)
