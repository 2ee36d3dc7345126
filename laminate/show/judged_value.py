"""One value held against limits, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from laminate.show.blocks import Sentence, sentences
from laminate.show.document import Document
from laminate.show.numbers import with_size
from laminate.show.page_words import chance


def judged_document(answer: Mapping[str, Any], units: str) -> Document:
    """The decision with the value and the limits, then its reasons; in the units that the caller gave."""
    value, k = answer["value"], answer["coverage_factor"]
    u = value["standard_uncertainty"]
    shown = with_size(value["value"], k * u if u else None, value["unit"])
    limits = " and ".join(
        f"{words} {answer[key]['value']:.6g} {answer[key]['unit']}".rstrip()
        for key, words in (("min", "at least"), ("max", "at most"))
        if key in answer
    )
    decision = answer["decision"]
    lines = [f"{reason[:1].upper()}{reason[1:]}." for reason in answer["reasons"]]
    lines += [f"Chance that it is inside its limits: {chance(answer['probability_of_conformity'])}."]
    lines += [f"± is the expanded uncertainty, k = {k:.3g}."] if u else []
    blocks = (
        Sentence(f"{decision[:1].upper()}{decision[1:]}: {shown}, wanted {limits}.", strong=True),
        *sentences(lines),
    )
    return Document("Value against limits", "", lambda: blocks, blocks)
