"""Probability that all individuals are inside the limits at once, shared inputs moving them together."""

from __future__ import annotations

import math

import numpy as np
from scipy import special

FARTHEST = 8.5
"""Standard deviations of a shared source beyond which nothing is counted: 2e-17."""
NODES = 12
DRAWS = 1021
NEGLIGIBLE = 1e-9


def joint_probability(
    *,
    values: np.ndarray,
    own: np.ndarray,
    shared: np.ndarray,
    minimum: float | None,
    maximum: float | None,
) -> float:
    """Probability that n individuals are all inside the limits, given what was measured and a flat prior.

    Each true value is ``v_i + own_i e_i + sum_k shared_ki z_k`` with independent standard normal e and z. The
    own part is integrated exactly, the strongest shared direction by Gauss-Legendre panels that follow its
    steps, the weaker ones by a fixed lattice of 1021 points (no chance in it). JCGM 106:2012, 7, for several
    quantities.

    values : v, measured (n)
    own : standard uncertainty of each that it shares with no other (n), 0 or more
    shared : signed contribution of each shared source to each individual (m, n); an empty array where none
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none

    Better than 1e-4; exact to rounding with one shared direction. Raises ValueError where shapes differ.

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
    directions = _strongest_first(together)
    if not directions.size:
        return float(_all_inside(measured, alone, low, high))
    if len(directions) == 1:
        return _along(measured, alone, directions[0], low, high)
    offsets = _lattice(len(directions) - 1) @ directions[1:]
    return float(np.mean([_along(measured + offset, alone, directions[0], low, high) for offset in offsets]))


def _strongest_first(shared: np.ndarray) -> np.ndarray:
    """Turn the sources so that as few as possible directions carry them, the strongest first."""
    if not shared.any():
        return np.zeros((0, shared.shape[1]))
    _, strength, axes = np.linalg.svd(shared, full_matrices=False)
    kept = strength > NEGLIGIBLE * strength[0]
    turned: np.ndarray = strength[kept, None] * axes[kept]
    return turned


def _all_inside(values: np.ndarray, own: np.ndarray, low: float, high: float) -> np.ndarray:
    """Product over individuals (last axis) of the chance to be inside; on a limit counts as inside."""
    spread = np.where(own > 0, own, 1.0)
    inside = special.ndtr((high - values) / spread) - special.ndtr((low - values) / spread)
    product: np.ndarray = np.where(own > 0, inside, (values >= low) & (values <= high)).prod(axis=-1)
    return product


def _along(values: np.ndarray, own: np.ndarray, direction: np.ndarray, low: float, high: float) -> float:
    """Integrate over one standard normal source, panels cut where an individual crosses a limit."""
    moved = direction != 0
    size = np.where(moved, direction, 1.0)
    steps = np.array([-8.0, -4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0, 8.0])
    cuts = [np.linspace(-FARTHEST, FARTHEST, 18)]
    for limit in (low, high):
        if math.isfinite(limit):
            crossing, width = ((limit - values) / size)[moved], (own / np.abs(size))[moved]
            cuts.append((crossing[:, None] + width[:, None] * steps).ravel())
    edges = np.unique(np.clip(np.concatenate(cuts), -FARTHEST, FARTHEST))
    nodes, weights = special.roots_legendre(NODES)
    half = np.diff(edges)[:, None] / 2
    z = (edges[:-1, None] + half + half * nodes).ravel()
    density = np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi) * (half * weights).ravel()
    return float(np.sum(density * _all_inside(values + z[:, None] * direction, own, low, high)))


def _lattice(dimensions: int) -> np.ndarray:
    """Standard normal points of a Kronecker lattice (generalised golden ratio), folded to be periodic."""
    ratio = 2.0
    for _ in range(60):
        ratio = (1 + ratio) ** (1 / (dimensions + 1))
    steps = ratio ** -np.arange(1.0, dimensions + 1)
    points = (0.5 + steps * np.arange(1, DRAWS + 1)[:, None]) % 1.0
    folded = 1 - np.abs(2 * points - 1)
    normal: np.ndarray = special.ndtri(np.clip(folded, 1e-12, 1 - 1e-12))
    return normal
