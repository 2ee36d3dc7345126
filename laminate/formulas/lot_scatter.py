"""How far single values scatter when lots, or batches, differ from one another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from . import special


class BetweenLots(NamedTuple):
    """One-way analysis of variance: ratio of mean squares and the chance of it without a lot effect."""

    ratio: float
    chance: float


class _MeanSquares(NamedTuple):
    """Mean squares between lots and inside them, and the size of each lot (k)."""

    between: float
    within: float
    sizes: np.ndarray


def _mean_squares(lots: Sequence[Sequence[float]]) -> _MeanSquares:
    sizes = np.array([len(lot) for lot in lots])
    k, total = len(sizes), int(sizes.sum())
    if k < 2 or total <= k or not sizes.all():
        raise ValueError("scatter between lots needs two lots or more, and more values than lots")
    values = np.concatenate(lots)
    means = np.add.reduceat(values, np.cumsum(sizes) - sizes) / sizes
    between = (sizes * (means - values.mean()) ** 2).sum() / (k - 1)
    within = ((values - np.repeat(means, sizes)) ** 2).sum() / (total - k)
    return _MeanSquares(float(between), float(within), sizes)


def between_lots_f(*, lots: Sequence[Sequence[float]]) -> BetweenLots:
    """Test for scatter between lots before their values are pooled: F of the one-way analysis of variance.

    ``F = [sum n_i (mean_i - mean)^2/(k-1)]/[sum (n_i - 1) s_i^2/(N-k)]``; a small chance speaks against
    pooling (CMH-17 volume 1, chapter 8).

    lots : values of each lot, two lots or more, more values than lots

    Raises ValueError for fewer. Without any scatter inside the lots the ratio is infinite, or 0 if all are
    equal.

    >>> found = between_lots_f(lots=[[1.0, 2.0, 3.0], [2.0, 3.0, 4.0]])
    >>> round(found.ratio, 3), round(found.chance, 3)
    (1.5, 0.288)
    """
    between, within, sizes = _mean_squares(lots)
    if within == 0:
        return BetweenLots(np.inf, 0.0) if between > 0 else BetweenLots(0.0, 1.0)
    ratio = between / within
    return BetweenLots(ratio, float(special.fdtrc(len(sizes) - 1, sizes.sum() - len(sizes), ratio)))


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
    between, within, sizes = _mean_squares(lots)
    size = float((sizes.sum() - (sizes**2).sum() / sizes.sum()) / (len(sizes) - 1))
    apart = max((between - within) / size, 0.0)
    return Components(apart**0.5, within**0.5, (apart + within) ** 0.5)


class Consistency(NamedTuple):
    """Chi-square of values about their mean, its degrees of freedom, and the chance of more without cause."""

    chi_square: float
    dof: int
    chance: float


def consistency(
    *, values: Sequence[float], covariance: Sequence[Sequence[float]] | np.ndarray, dof: float = np.inf
) -> Consistency:
    """Test whether values of one quantity scatter by more than their stated uncertainties let them.

    ``chi2 = r' (P C P)^+ r``, ``r = P y``, ``P = I - 1/n``, against chi-square with the rank of ``P C P`` as
    degrees of freedom: what all values share cancels (general form of the consistency test of Cox, Metrologia
    39 (2002) 589; from memory).

    values : y, two or more
    covariance : C, of the values
    dof : degrees of freedom of C where it was estimated from scatter: then F takes the place of chi-square

    Raises ValueError for fewer. Values that may not differ at all and do have an infinite chi-square.

    >>> found = consistency(values=[1.0, 3.0], covariance=[[1.0, 0.0], [0.0, 1.0]])
    >>> round(found.chi_square, 6), found.dof, round(found.chance, 4)
    (2.0, 1, 0.1573)
    """
    y, known = np.asarray(values, dtype=float), np.asarray(covariance, dtype=float)
    n = y.size
    if n < 2:
        raise ValueError(f"a test of scatter needs 2 values or more, got {n}")
    centred = np.eye(n) - np.full((n, n), 1.0 / n)
    rest, allowed = centred @ y, centred @ known @ centred
    sizes, axes = np.linalg.eigh((allowed + allowed.T) / 2.0)
    kept = sizes > 1e-12 * max(float(np.abs(known).max()), np.finfo(float).tiny)
    along = axes.T @ rest
    unexplained = float(np.abs(along[~kept]).max(initial=0.0))
    if unexplained > 1e-9 * max(float(np.abs(y).max()), np.finfo(float).tiny):
        return Consistency(np.inf, int(kept.sum()), 0.0)
    chi_square, rank = float((along[kept] ** 2 / sizes[kept]).sum()), int(kept.sum())
    if not rank:
        return Consistency(chi_square, 0, 1.0)
    endless = bool(np.isinf(dof))
    chance = special.chdtrc(rank, chi_square) if endless else special.fdtrc(rank, dof, chi_square / rank)
    return Consistency(chi_square, rank, float(chance))
