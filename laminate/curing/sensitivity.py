"""Which input keeps a verdict open most, and how well it must be known to decide."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import Matters
from laminate.curing.draws import rank_correlation

if TYPE_CHECKING:
    from laminate.curing.draws import Inputs

ONE_SIDED = 1.6448536269514722
FEWEST = 100


def what_matters(inputs: Inputs, slack: np.ndarray, edge: float | None) -> Matters | None:
    """The input with the largest rank correlation to what keeps the verdict open.

    inputs: draws by name; slack: draws of what is open, such as time to gel [s], or pressure above vapor
    [Pa]; edge: the value of it that decides, None where that is not known.
    """
    there = np.isfinite(slack)
    if there.sum() < FEWEST or not inputs:
        return None
    correlations = {name: rank_correlation(values[there], slack[there]) for name, values in inputs.items()}
    name = max(correlations, key=lambda candidate: abs(correlations[candidate]))
    r = correlations[name]
    if r == 0.0:
        return None
    sentence = f"{name} matters most"
    if edge is not None:
        margin = float(np.mean(slack[there])) - edge
        allowed = (abs(margin) / ONE_SIDED) ** 2 - float(np.var(slack[there])) * (1.0 - r * r)
        if allowed <= 0.0:
            sentence += "; a smaller ± of it alone does not settle the verdict"
        else:
            share = min(math.sqrt(allowed) / (float(np.std(slack[there])) * abs(r)), 1.0)
            sentence += f": {100.0 * share:.0f} % of its ± would decide, if its value stays the same"
    return Matters(str(name), r, sentence)
