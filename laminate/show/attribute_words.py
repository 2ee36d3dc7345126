"""Words and tables that several answers share: attributes with their ±, budgets, warnings, notes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from laminate.values.problems import Answered, Problem

BRIEF_LOCKS = (
    "A locked core can overload clamp, bolts and tool. Never run the tool hotter than planned; let it cool "
    "before clamp or bolts are loosened."
)
HOT = "Hot tooling: let it cool, and the pressure with it, before clamp or bolts are loosened."
RESPONSIBILITY = (
    "Limits, methods and release stay with the governing specification, local codes and authorized staff."
)


def warning_text(warning: Problem, units: str) -> str:
    """A warning as one sentence, with the reason with which it was accepted instead of advice."""
    if isinstance(warning, Answered):
        return f"{replace(warning, hint='').sentence(units)} [accepted: {warning.reason}]"
    return warning.sentence(units)


def exact_sentence(names: Iterable[str], *, readings: bool = False) -> list[str]:
    """The sentence that names inputs without a ±; readings: whether some have that of their last decimal."""
    exact = list(names)
    more = " Readings keep the ± of their last decimal." if readings else ""
    return [f"Assumed exact, as no ± is stated: {', '.join(exact)}.{more}"] if exact else []
