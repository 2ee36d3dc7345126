"""What states no ± buys no 'pressed in time': that must hold with a usual ± in its place too."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import CANNOT
from laminate.curing.draws import rank_correlation
from laminate.values.input_key import Name
from laminate.values.said import NoSpread

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from laminate.curing.answers import ZoneCycle
    from laminate.curing.draws import Columns, Inputs

NAMED = 4
"""Most inputs whose ± is asked for at once."""
LEAST = 0.05
"""An input with a smaller rank correlation moves nothing that counts."""


def not_stated(columns: Columns) -> list[NoSpread]:
    """A sentence for each input in words that was typed without a ±."""
    bare = columns.bare.items()
    return [NoSpread(name, value.value, value.text) for name, value in bare if isinstance(name, str)]


def checked(answered: Callable[..., list[ZoneCycle]]) -> list[ZoneCycle]:
    """Answers; what was pressed in time only for want of a ± is answered with usual ones in its place.

    answered: gives the answers; with usual=True, computed with a usual ± where none is stated. Where one is
    replaced, all that are open are, so that the humidities of a plan are read from the same draws.
    """
    answers = answered()
    if not any(answer.good and _bare(answer) for answer in answers):
        return answers
    pairs = list(zip(answers, answered(usual=True), strict=True))
    if not any(answer.good and _bare(answer) and not other.good for answer, other in pairs):
        return answers
    return [other if _open(answer, other) else answer for answer, other in pairs]


def _bare(answer: ZoneCycle) -> bool:
    return any(isinstance(line, NoSpread) for line in answer.not_measured)


def _open(answer: ZoneCycle, other: ZoneCycle) -> bool:
    """Whether the answer with the usual ± is taken: only of what is not late, and if no better."""
    return answer.good or (answer.verdict == CANNOT and not other.good)


def ask_for(inputs: Inputs, bare: Iterable[Name], slack: np.ndarray) -> list[str]:
    """Which ± to write first, those that move the pressure or the vapor margin most, in at most one sentence.

    inputs: draws of everything, of these with a usual ±; bare: what states none; slack: draws of what keeps
    the verdict open.
    """
    there = np.isfinite(slack)
    moved = {name: abs(rank_correlation(inputs[name][there], slack[there])) for name in bare}
    most = sorted((name for name in moved if moved[name] > LEAST), key=lambda name: -moved[name])[:NAMED]
    names = ", ".join(map(str, most))
    asks = f"write the ± of {names}: with a usual ± (common practice) the answer stays open"
    return [asks] if most else []
