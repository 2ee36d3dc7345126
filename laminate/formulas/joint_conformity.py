"""Probability that all individuals are inside the limits at once, shared inputs moving them together."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import count, islice
from typing import Any, NamedTuple

import numpy as np

from . import special
from .number import bounds, within

FARTHEST = 8.5
"""Standard deviations of a shared direction beyond which nothing is counted: 2e-17."""
REACHES = {1: FARTHEST, 2: 6.0, 3: 5.0}
"""The same where several directions remain: 2e-9 and 6e-7."""
NODES = 8
MOST_VALUES = 30_000_000
"""Most normal integrals in one answer; beyond, the lattice is quicker."""
MOST_NODES = 60_000
"""More nodes than these, and the lattice is quicker where it can be had."""
MOST_ON_LATTICE = 100
SURE = 1e-12
"""Individuals whose chances to be outside add up to less are left out."""
WEAK, FOLDED = 0.3, 2e-5
"""A shared direction is weak below this share of every own part; by so much may folding change the answer."""
DRAWS = 32767
SEED = 0
"""The lattice needs none: it is the same always."""
SINGULAR = 1e-5
"""Own part, as a share of the whole, that stands for none where a covariance must be inverted."""


class Mean(NamedTuple):
    """An average that is held beside its individuals.

    own : standard uncertainty that it shares with none of them; shared : signed contribution of each shared
    source (m); dof : of the whole, or infinite; minimum, maximum : its limits, None where there is none
    """

    value: float
    own: float
    shared: np.ndarray
    dof: float
    minimum: float | None
    maximum: float | None


class Held(NamedTuple):
    """Quantities that are held to limits: values and own standard uncertainties (n), what they share (m, n).

    lows, highs : limits of each (n), infinite where there is none
    """

    values: np.ndarray
    own: np.ndarray
    shared: np.ndarray
    lows: np.ndarray
    highs: np.ndarray

    def with_mean(self, mean: Mean) -> Held:
        """The same with their average as one more."""
        low, high = bounds(mean.minimum, mean.maximum)
        shared = np.asarray(mean.shared, dtype=float)[: len(self.shared)]
        alone = (np.append(self.values, mean.value), np.append(self.own, mean.own))
        limits = (np.append(self.lows, low), np.append(self.highs, high))
        return Held(*alone, np.column_stack([self.shared, shared]), *limits)


def _inside_at(nodes: Nodes, values: np.ndarray, low: float, high: float, allowed_outside: int) -> np.ndarray:
    """Chance at each node that all but the allowed ones of the individuals are inside, in blocks."""
    n, inside = values.size, np.empty(len(nodes.weights))
    step = max(1, 1_000_000 // max(n, 1))
    for start in range(0, inside.size, step):
        block = slice(start, start + step)
        chances = _inside(values + nodes.offsets[block, :n], nodes.own[:n], low, high)
        inside[block] = _at_most(chances, allowed_outside)
    return inside


def joint_probability(
    *,
    values: np.ndarray,
    own: np.ndarray,
    shared: np.ndarray,
    minimum: float | None,
    maximum: float | None,
    allowed_outside: int = 0,
    mean: Mean | None = None,
) -> float | None:
    """Probability that n individuals are all inside the limits, given what was measured and a flat prior.

    Each true value is ``v_i + own_i e_i + sum_k shared_ki z_k`` with independent standard normal e and z
    (JCGM 106:2012, 7, for several quantities). Directions that are weak beside all that is own are taken as
    own; along one to three that remain the integral is by Gauss-Legendre panels, within 1e-4. Where more
    remain each individual is conditioned on those before it (Genz, J. Comput. Graph. Stat. 1 (1992) 141, from
    memory) on a fixed lattice, with no chance in it: within 1e-4 for ten individuals, 2e-3 for a hundred;
    None for more, where it cannot be said.

    values : v, measured (n)
    own : standard uncertainty of each that it shares with no other (n), 0 or more
    shared : signed contribution of each shared source to each individual (m, n); an empty array where none
    minimum : lower limit, None where there is none
    maximum : upper limit, None where there is none
    allowed_outside : how many of the individuals may be outside
    mean : their average, to be inside limits of its own as well; what it shares and its own are stretched
        together, so that alone it has Student's t; given what is shared it is independent of the individuals

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
    low, high = bounds(minimum, maximum)
    open_ = _not_sure(measured, np.hypot(alone, np.sqrt((together**2).sum(axis=0))), low, high)
    measured, alone, together = measured[open_], alone[open_], together[:, open_]
    if mean is None and not open_.any():
        return 1.0
    counted = mean is not None or allowed_outside > 0
    limits = np.full(measured.size, low), np.full(measured.size, high)
    held = Held(measured, alone, together, *limits)
    nodes = _common_nodes(held if mean is None else held.with_mean(mean), allowed_outside, lattice=counted)
    if nodes is None:
        if counted or measured.size > MOST_ON_LATTICE:
            return None
        return _one_after_another(measured, alone, together, low, high)
    inside = _inside_at(nodes, measured, low, high, allowed_outside)
    if mean is not None:
        inside *= _mean_inside(mean, nodes.offsets[:, measured.size], float(nodes.own[measured.size]))
    return min(max(float(nodes.weights @ inside), 0.0), 1.0)


def _at_most(inside: np.ndarray, allowed: int) -> np.ndarray:
    """Chance (N) that no more than `allowed` of n independent events (N, n) are outside."""
    if not allowed:
        return np.asarray(inside.prod(axis=-1))
    counts = np.zeros((len(inside), allowed + 1))
    counts[:, 0] = 1.0
    for p in inside.T:
        out = counts * (1.0 - p)[:, None]
        counts = counts * p[:, None]
        counts[:, 1:] += out[:, :-1]
    return np.asarray(counts.sum(axis=1))


def _mean_inside(mean: Mean, offsets: np.ndarray, unshared: float) -> np.ndarray:
    """Chance (N) of an average to be inside its limits, given what is shared.

    Student's t is a normal quantity over ``s = sqrt(chi squared/dof)``, and inside limits L it is where the
    normal one is inside ``s (L - value)``: smooth in s, so Gauss-Legendre panels over the density of s do.
    """
    low, high = (limit - mean.value for limit in bounds(mean.minimum, mean.maximum))
    spread = max(unshared, SINGULAR * float(np.abs(offsets).max(initial=0.0)))
    if math.isinf(mean.dof):
        return _inside(offsets, np.asarray(spread), low, high)
    ends = np.sqrt(2.0 * special.gammaincinv(mean.dof / 2.0, np.array([1e-10, 1.0 - 1e-10])) / mean.dof)
    far = max((abs(limit) for limit in (low, high) if math.isfinite(limit)), default=0.0)
    panels = int(min(max((ends[1] - ends[0]) * far / max(2.0 * spread, 1e-300), 6), 60))
    s, weights = _gauss(np.linspace(ends[0], ends[1], panels + 1), NODES)
    log_density = (mean.dof - 1.0) * np.log(s) - mean.dof * s**2 / 2.0
    density = np.exp(log_density - log_density.max()) * weights
    total, step = np.zeros(offsets.size), max(1, 100_000 // offsets.size)
    for start in range(0, s.size, step):
        at = s[start : start + step, None]
        total += density[start : start + step] @ _inside(offsets, np.asarray(spread), low * at, high * at)
    return np.asarray(total / density.sum())


class Nodes(NamedTuple):
    """Where an integral over what is shared is evaluated: offsets (N, n), weights (N), own parts left (n)."""

    offsets: np.ndarray
    weights: np.ndarray
    own: np.ndarray


def _not_sure(values: np.ndarray, whole: np.ndarray, low: float, high: float) -> np.ndarray:
    """The individuals that may be outside, those left out adding up to less than `SURE`."""
    spread = np.where(whole > 0, whole, 1.0)
    outside = special.ndtr((low - values) / spread) + special.ndtr((values - high) / spread)
    outside = np.where(whole > 0, outside, np.where(within(values, low, high), 0.0, 1.0))
    order = np.argsort(outside)
    open_ = np.ones(values.size, dtype=bool)
    open_[order[np.cumsum(outside[order]) < SURE]] = False
    return open_


def _common_nodes(held: Held, allowed: int, *, lattice: bool) -> Nodes | None:
    """Nodes over the directions that individuals share, each the sharper the smaller own parts are beside it.

    allowed : how many may be outside. Where more than three directions remain, or too many nodes would be
    needed: None, or those of the lattice, of at most a hundred.
    """
    whole = np.sqrt(held.own**2 + (held.shared**2).sum(axis=0))
    scale = np.where(whole > 0, whole, 1.0)
    strength, axes = np.linalg.svd(held.shared / scale, full_matrices=False)[1:]
    kept = strength > 1e-9 * strength.max(initial=0.0)
    directions = (strength[kept, None] * axes[kept]) * scale
    directions, left = _folded(directions, held, scale, allowed)
    rank, size = len(directions), held.values.size
    if rank == 0:
        return Nodes(np.zeros((1, size)), np.ones(1), left)
    grids, nodes = [], math.inf
    if rank <= max(REACHES):
        grids = [_panels(direction, held._replace(own=left), rank) for direction in directions]
        nodes = math.prod(z.size for z, _ in grids)
    if nodes > MOST_NODES and (size <= MOST_ON_LATTICE or nodes * size > MOST_VALUES):
        if not lattice or size > MOST_ON_LATTICE + 1:
            return None
        points, weights = _lattice(rank)
        return Nodes(special.ndtri(np.clip(points, 1e-300, 1 - 1e-16)) @ directions, weights, left)
    z = np.stack([axis.ravel() for axis in np.meshgrid(*(z for z, _ in grids), indexing="ij")], axis=1)
    weights = np.ones(1)
    for _, density in grids:
        weights = np.outer(weights, density).ravel()
    return Nodes(z @ directions, weights, left)


def _folded(
    directions: np.ndarray, held: Held, whole: np.ndarray, allowed: int
) -> tuple[np.ndarray, np.ndarray]:
    """The directions that count, and the own parts with those that do not.

    What folding leaves out is the correlation of each pair: to first order ``(sum a)^2/2 - sum a^2/2``,
    a the move of the logarithm of each chance with the direction (Plackett, Biometrika 41 (1954) 351, from
    memory). Where some may be outside, the chance that one more or one less of the others is makes up for no
    part of it: the moves of the chances themselves are summed.
    """
    up, down = (held.highs - held.values) / whole, (held.lows - held.values) / whole
    chance = np.maximum(special.ndtr(up) - special.ndtr(down), 1e-12)
    slope = (np.exp(-(up**2) / 2) - np.exp(-(down**2) / 2)) / math.sqrt(2 * math.pi) / chance / whole
    all_ = float(chance.prod()) if not allowed else 1.0
    slope = slope if not allowed else slope * chance
    change, folded = 0.0, held.own.copy()
    for last in range(len(directions), 0, -1):
        direction = directions[last - 1]
        moves = slope * direction
        products = moves.sum() ** 2 if not allowed else np.abs(moves).sum() ** 2
        change += all_ * abs(float(products - (moves**2).sum())) / 2
        if change > FOLDED or np.any(np.abs(direction) > WEAK * held.own):
            return directions[:last], folded
        folded = np.hypot(folded, direction)
    return directions[:0], folded


def _panels(direction: np.ndarray, held: Held, rank: int) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights along one standard normal direction, panels as narrow as its steepest step needs."""
    reach = REACHES[rank]
    steep = np.abs(direction) > held.own
    size = np.where(steep, direction, 1.0)[steep]
    width = held.own[steep] / np.abs(size)
    edges = np.linspace(-reach, reach, round(2 * reach) + 1)
    if steep.any():
        finest = float(width.min())
        even = math.ceil(2 * reach / finest) if finest > 0 else math.inf
        if rank > 1 or even < 12 * size.size:
            edges = np.linspace(-reach, reach, int(min(max(even, 2 * reach), 4000)) + 1)
        else:
            cuts = [edges]
            for limit in (held.lows[steep], held.highs[steep]):
                known = np.isfinite(limit)
                crossing = (limit[known] - held.values[steep][known]) / size[known]
                steps = width[known, None] * np.array([-6.0, -3.0, -1.0, 1.0, 3.0, 6.0])
                cuts.append((crossing[:, None] + steps).ravel())
            edges = np.unique(np.clip(np.concatenate(cuts), -reach, reach))
    z, weights = _gauss(edges, NODES if rank < 3 else 4)
    return z, np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi) * weights


def _gauss(edges: np.ndarray, each: int) -> tuple[np.ndarray, np.ndarray]:
    """Gauss-Legendre nodes of the panels between some edges, so many in each, and their weights."""
    nodes, weights = special.roots_legendre(each)
    half = np.diff(edges)[:, None] / 2
    return (edges[:-1, None] + half + half * nodes).ravel(), (half * weights).ravel()


def _inside(values: np.ndarray, unshared: np.ndarray, low: Any, high: Any) -> np.ndarray:
    """Chance of each value to be inside; on a limit counts as inside."""
    spread = np.where(unshared > 0, unshared, 1.0)
    inside = special.ndtr((high - values) / spread) - special.ndtr((low - values) / spread)
    return np.asarray(np.where(unshared > 0, inside, within(values, low, high)))


@lru_cache(2)
def _lattice(dimensions: int) -> tuple[np.ndarray, np.ndarray]:
    """Points (DRAWS, dimensions) between 0 and 1, and their weights.

    Folded, the lattice is periodic; with triangular weights its error falls with the square of the number.
    """
    n = np.arange(1, DRAWS + 1)
    points = 1 - np.abs(2 * ((0.5 + n[:, None] * _irrationals(dimensions)) % 1.0) - 1)
    return points, np.minimum(n, DRAWS + 1 - n) / ((DRAWS + 1) / 2) ** 2


def _one_after_another(
    values: np.ndarray, unshared: np.ndarray, shared: np.ndarray, low: float, high: float
) -> float:
    """Integrate the multivariate normal over the limits, individual by individual, the least likely first."""
    variance = unshared**2 + (shared**2).sum(axis=0)
    fixed = variance == 0
    if not _inside(values[fixed], unshared[fixed], low, high).all():
        return 0.0
    values, shared, whole = values[~fixed], shared[:, ~fixed], variance[~fixed] ** 0.5
    alone = np.maximum(unshared[~fixed], SINGULAR * whole)
    order = np.argsort(special.ndtr((high - values) / whole) - special.ndtr((low - values) / whole))
    values, covariance = values[order], (np.diag(alone**2) + shared.T @ shared)[np.ix_(order, order)]
    factor = np.linalg.cholesky(covariance)
    lattice, weights = _lattice(values.size)
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
    primes = (n for n in count(2) if all(n % divisor for divisor in range(2, math.isqrt(n) + 1)))
    return np.asarray(np.sqrt(list(islice(primes, number))))
