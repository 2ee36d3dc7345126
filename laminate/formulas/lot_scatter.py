"""How far single values scatter when lots, or batches, differ from one another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np


class Components(NamedTuple):
    """Standard deviations: between lots, inside them, and of a single value of any lot."""

    between: float
    within: float
    total: float


def variance_components(*, lots: Sequence[Sequence[float]]) -> Components:
    """Scatter between lots and inside them, from the mean squares of the one-way analysis of variance.

    ``s_w^2 = MS_w``, ``s_b^2 = (MS_b - MS_w)/n_0``, 0 where it is below, ``n_0 = (N - sum n_i^2/N)/(k - 1)``,
    ``s^2 = s_b^2 + s_w^2`` (moments, random effects: JCGM 100:2008, H.5.2.2 for lots of one size).

    lots : values of each lot, two lots or more, more values than lots

    Raises ValueError for fewer.

    >>> [round(part, 4) for part in variance_components(lots=[[1.0, 2.0, 3.0], [5.0, 6.0, 7.0]])]
    [2.7689, 1.0, 2.9439]
    """
    groups = [np.asarray(lot, dtype=float) for lot in lots]
    sizes = np.array([group.size for group in groups])
    k, total = len(groups), int(sizes.sum())
    if k < 2 or total <= k or not sizes.all():
        raise ValueError("scatter between lots needs two lots or more, and more values than lots")
    mean = np.concatenate(groups).mean()
    between = float(sum(group.size * (group.mean() - mean) ** 2 for group in groups)) / (k - 1)
    within = float(sum(((group - group.mean()) ** 2).sum() for group in groups)) / (total - k)
    size = float((total - (sizes**2).sum() / total) / (k - 1))
    apart = max((between - within) / size, 0.0)
    return Components(apart**0.5, within**0.5, (apart + within) ** 0.5)
