"""Where the gap, the plies and the part of a zone contradict each other, so that no size can be proposed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.press.counts import lay
from laminate.press.shared_inputs import estimates

if TYPE_CHECKING:
    from laminate.history.achieved import ZoneRun
    from laminate.history.pooled import Difference

THICKER, UNFILLED, THINNER = "thicker", "unfilled", "thinner"


@dataclass(frozen=True, slots=True)
class Misfit:
    """What contradicts what, by more than its ± [m].

    kind: `THICKER`, a part than its hot gap, peeled layers counted: the tool did not close; `UNFILLED`, a hot
    gap than its plies fill: nothing presses them; `THINNER`, a part than its plies can be pressed to. actual,
    bound: the first and the second of these; excess: by how much, peeled layers counted.
    """

    kind: str
    actual: float
    bound: float
    excess: float
    expanded: float


def misfit_of(run: ZoneRun, differences: Sequence[Difference]) -> Misfit | None:
    """What contradicts what in a zone of the last batch, thicknesses taken over all; None where all fits."""
    if not run.case.has_gap:
        return None
    laid = lay(run.case, run.fill_plies, run.case.inputs.numbers())
    peeled = float(laid.layup.layers - laid.sums.layers.that_stay)

    def limits(y: Mapping[Any, Any]) -> dict[str, Any]:
        """Hot gap, what the plies lack of it, and the cold part pressed as far as it goes."""
        at, gap = lay(run.case, run.fill_plies, y), run.case.hot_gap(y)
        least = at.part(at.smallest, ("thickness",))["thickness"]
        return {"gap": gap, "lacking": gap - at.full, "least": least}

    of_gap = estimates(limits, run.case.inputs)
    gap, lacking, least = (of_gap[name] for name in ("gap", "lacking", "least"))
    thickness = next((d.achieved.mean for d in differences if d.attribute == "thickness"), None)
    if thickness is not None:
        value = thickness.value
        thicker, thinner = value + peeled - gap.value, least.value - value
        for kind, bound, excess in ((THICKER, gap, thicker), (THINNER, least, thinner)):
            expanded = math.hypot(thickness.expanded, bound.expanded or 0.0)
            if excess > expanded:
                return Misfit(kind, value, bound.value, excess, expanded)
    if lacking.value > (lacking.expanded or 0.0):
        full = gap.value - lacking.value
        return Misfit(UNFILLED, gap.value, full, lacking.value, lacking.expanded or 0.0)
    return None
