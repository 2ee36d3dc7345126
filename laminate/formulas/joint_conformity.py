"""Probability that all individuals are inside the limits at once, shared inputs moving them together."""

from __future__ import annotations

import math

import numpy as np

from . import special

FARTHEST = 8.5
"""Standard deviations of a shared source beyond which nothing is counted: 2e-17."""
NODES = 8
DRAWS = 32767
SINGULAR = 1e-5
"""Own part, as a share of the whole, that stands for none where a covariance must be inverted."""


def joint_probability(
    *,
    values: np.ndarray,
    own: np.ndarray,
    shared: np.ndarray,
    minimum: float | None,
    maximum: float | None,
) -> float:
    """Probability that n individuals are all inside the limits, given what was measured and a flat prior.

    Each true value is ``v_i + own_i e_i + sum_k shared_ki z_k`` with independent standard normal e and z
    (JCGM 106:2012, 7, for several quantities). Where one direction carries all that is shared, the integral
    is exact to rounding, by Gauss-Legendre panels that follow its steps. Otherwise each individual is
    conditioned on those before it (Genz, J. Comput. Graph. Stat. 1 (1992) 141, from memory) on a fixed
    lattice, with no chance in it: within 1e-4 for ten individuals, 2e-3 for a hundred.

    values : v, measured (n)
    own : standard uncertainty of each that it shares with no other (n), 0 or more
    shared : signed contribution of each shared source to each individual (m, n); an empty array where none
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none

    Raises ValueError where shapes differ.

    Two individuals at the limit, nothing shared: a quarter; all shared: a half.

    >>> round(joint_probability(values=[0.0, 0.0], own=[1.0, 1.0], shared=[], minimum=0.0, maximum=None), 6)
    0.25
    >>> round(joint_probability(values=[0.0, 0.0], own=[0.0, 0.0], shared=[[1.0, 1.0]], minimum=0.0,
    ...                         maximum=None), 6)
    0.5
    """
    measured, alone = np.asarray(values, dtype=float), np.asarray(own, dtype=float)
    together = np.asarray(shared, dtype=float)
    together = together.reshape(-1, measured.size) if together.size else np.zeros((0, measured.size))
    if measured.ndim != 1 or alone.shape != measured.shape:
        raise ValueError("values and own uncertainties are one number an individual")
    low = -math.inf if minimum is None else minimum
    high = math.inf if maximum is None else maximum
    strength, axes = np.linalg.svd(together, full_matrices=False)[1:]
    rank = int((strength > 1e-9 * strength.max(initial=0.0)).sum())
    if rank == 0:
        return float(_all_inside(measured, alone, low, high))
    if rank == 1:
        return _along(measured, alone, strength[0] * axes[0], low, high)
    return _one_after_another(measured, alone, together, low, high)


def _all_inside(values: np.ndarray, own: np.ndarray, low: float, high: float) -> np.ndarray:
    """Product over individuals (last axis) of the chance to be inside; on a limit counts as inside."""
    spread = np.where(own > 0, own, 1.0)
    inside = special.ndtr((high - values) / spread) if math.isfinite(high) else np.ones_like(values)
    if math.isfinite(low):
        inside = inside - special.ndtr((low - values) / spread)
    product: np.ndarray = np.where(own > 0, inside, (values >= low) & (values <= high)).prod(axis=-1)
    return product


def _along(values: np.ndarray, own: np.ndarray, direction: np.ndarray, low: float, high: float) -> float:
    """Integrate over one standard normal source, panels cut where an individual crosses a limit steeply."""
    steep = np.abs(direction) > own
    size, width = direction[steep], own[steep] / np.abs(direction[steep])
    cuts = [np.linspace(-FARTHEST, FARTHEST, 18)]
    for limit in (low, high):
        if math.isfinite(limit):
            crossing = (limit - values[steep]) / size
            cuts.append(
                (crossing[:, None] + width[:, None] * np.array([-6.0, -3.0, -1.0, 1.0, 3.0, 6.0])).ravel()
            )
    edges = np.unique(np.clip(np.concatenate(cuts), -FARTHEST, FARTHEST))
    nodes, weights = special.roots_legendre(NODES)
    half = np.diff(edges)[:, None] / 2
    z = (edges[:-1, None] + half + half * nodes).ravel()
    density = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi) * (half * weights).ravel()
    return float(np.sum(density * _all_inside(values + z[:, None] * direction, own, low, high)))


def _one_after_another(
    values: np.ndarray, own: np.ndarray, shared: np.ndarray, low: float, high: float
) -> float:
    """Integrate the multivariate normal over the limits, individual by individual, the least likely first."""
    variance = own**2 + (shared**2).sum(axis=0)
    fixed = variance == 0
    if not _all_inside(values[fixed], own[fixed], low, high):
        return 0.0
    values, shared, whole = values[~fixed], shared[:, ~fixed], variance[~fixed] ** 0.5
    alone = np.maximum(own[~fixed], SINGULAR * whole)
    order = np.argsort(special.ndtr((high - values) / whole) - special.ndtr((low - values) / whole))
    values, covariance = values[order], (np.diag(alone**2) + shared.T @ shared)[np.ix_(order, order)]
    factor = np.linalg.cholesky(covariance)
    count = np.arange(1, DRAWS + 1)
    # Folded, the lattice is periodic; with triangular weights its error falls with the square of the number.
    lattice = 1 - np.abs(2 * ((0.5 + count[:, None] * _irrationals(values.size)) % 1.0) - 1)
    weights = np.minimum(count, DRAWS + 1 - count) / ((DRAWS + 1) / 2) ** 2
    drawn, chance = np.zeros((DRAWS, values.size)), weights
    for place, value in enumerate(values):
        mean, spread = value + drawn[:, :place] @ factor[place, :place], factor[place, place]
        below, upto = special.ndtr((low - mean) / spread), special.ndtr((high - mean) / spread)
        chance = chance * (upto - below)
        share = below + lattice[:, place] * (upto - below)
        drawn[:, place] = special.ndtri(np.clip(share, 1e-300, 1 - 1e-16))
    return float(chance.sum())


def _irrationals(number: int) -> np.ndarray:
    """Square roots of the first primes, the steps of Richtmyer's lattice."""
    primes: list[int] = []
    candidate = 2
    while len(primes) < number:
        if all(candidate % prime for prime in primes):
            primes.append(candidate)
        candidate += 1
    roots: np.ndarray = np.sqrt(np.array(primes, dtype=float))
    return roots
