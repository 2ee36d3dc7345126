"""Two thicknesses of the one coupon that was measured twice: their mean may hide that one of them is wrong.

Nothing tells yet how repeats of this laminate scatter, and two that differ by a slip make a mean that
everything allows, with a ± that covers it. What contradicted one of them alone contradicts it still.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import TWICE, Key, numbers
from laminate.coupons.copied import Finding
from laminate.coupons.expected import agreeing_within
from laminate.coupons.peers import Interval, intervals
from laminate.coupons.resolution import shown_step
from laminate.coupons.table_checks import REPEATS, unlike
from laminate.formulas.statistics import expanded_by_terms

if TYPE_CHECKING:
    from laminate.coupons.beside import Peers
    from laminate.coupons.measured import Specimen

COLUMN = "thickness"
SPREAD = f"{COLUMN}, spread of readings"
"""The source that two readings alone make, known from one degree of freedom."""
CONFIDENCE = 0.95
APART = 4.0
"""Two readings of one coupon are farther apart, in plausible standard deviations, once in 200 (normal)."""


def lone_repeats(peers: Peers) -> Iterator[Finding]:
    """Row and warning where one of two thicknesses alone does not fit, and the other and the mean do.

    Where several coupons have repeats, these tell how they scatter.
    """
    mask = peers.specimens.repeated().get(COLUMN)
    repeated = [] if mask is None else np.flatnonzero(mask & peers.specimens.counted).tolist()
    if len(repeated) != 1:
        return
    coupon = peers.specimens[repeated[0]].coupon
    labels, values = coupon.labelled(COLUMN), coupon.readings(COLUMN)
    middle = sum(values) / len(values)
    scatter = max(REPEATS["length"] * middle, shown_step(coupon, COLUMN, peers.bench))
    if len(values) != 2 or abs(values[0] - values[1]) <= APART * scatter:
        return
    [at] = repeated
    fits = [_fits(peers, at, value) for value in values]
    if all(fits) or not any(fits) or not _fits(peers, at, middle):
        return
    wrong = fits.index(False)
    texts = [coupon.texts[label] for label in labels]
    texts.pop(wrong)
    yield at, unlike(coupon, labels[wrong], texts, intervals(values, scatter, "")[wrong])


def _fits(peers: Peers, at: int, thickness: float) -> bool:
    """Whether nothing but its peers contradicts a specimen of this thickness alone [m]."""
    specimen, x = peers.specimens[at], peers.readings(at)
    alone: Mapping[Key, Any] = numbers({**x, COLUMN: thickness}, specimen)
    for key, sourced in peers.intervals(at).items():
        for source, interval in sourced:
            if source != "peers" and key in alone and float(alone[key]) != peers.quantities(at)[key]:
                known = _without_scatter(key, specimen) or interval
                if not known.holds(alone[key]):
                    return False
    return True


def _without_scatter(key: Key, specimen: Specimen) -> Interval | None:
    """What two methods may differ by where repeats say nothing of their scatter; None of another quantity."""
    if key[0] != "between" or key[1] not in TWICE:
        return None
    first, other = (specimen.every[key[1], method] for method in key[2:])
    sources = first.result.sources
    parts = first.result.contributions[:, first.row] - other.result.contributions[:, other.row]
    kept = [i for i, source in enumerate(sources) if str(source.name) != SPREAD]
    terms, dofs = [float(parts[i]) for i in kept], [sources[i].dof for i in kept]
    allowed = float(expanded_by_terms(contributions=terms, dofs=dofs, confidence=CONFIDENCE))
    return Interval(*agreeing_within(key[1], allowed), "")
