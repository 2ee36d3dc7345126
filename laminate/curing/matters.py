"""Which input keeps a verdict open most, and how well it must be known to decide."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import Matters
from laminate.curing.draws import rank_correlation

if TYPE_CHECKING:
    from laminate.curing.answers import ZoneCycle
    from laminate.curing.scenario import Drawn, Outcome

ONE_SIDED = 1.6448536269514722


def what_matters(drawn: Drawn, worst: Outcome, found: ZoneCycle) -> Matters | None:
    """The input with the largest rank correlation to what is open: time to gel, or pressure above vapor."""
    pressed = found.event("pressed")
    by_time = float(np.mean(worst.pressed)) <= float(np.mean(worst.above))
    slack = worst.first if by_time else worst.slack
    there = np.isfinite(slack)
    if there.sum() < 100 or not drawn.inputs:
        return None
    correlations = {
        name: rank_correlation(values[there], slack[there]) for name, values in drawn.inputs.items()
    }
    name = max(correlations, key=lambda one: abs(correlations[one]))
    r = correlations[name]
    if r == 0.0:
        return None
    margin = float(np.mean(slack[there])) - (pressed.time.value if by_time and pressed else 0.0)
    if by_time and pressed is None:
        return Matters(name, r, f"{name} matters most")
    allowed = (abs(margin) / ONE_SIDED) ** 2 - float(np.var(slack[there])) * (1.0 - r * r)
    if allowed <= 0.0:
        return Matters(name, r, f"{name} matters most, and not even exact it would decide alone")
    share = min(math.sqrt(allowed) / (float(np.std(slack[there])) * abs(r)), 1.0)
    return Matters(name, r, f"{name} matters most: {share:.0%} of its ± would decide, if its value stays")
