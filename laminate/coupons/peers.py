"""What a reading should be like: an interval from its peers, and a plausible scatter where they are few."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from laminate.formulas.statistics import students_t

CHANCE = 1e-3
"""Chance that a good reading falls outside its interval, two-sided."""
WEIGHT = 8.0
"""Degrees of freedom that the plausible scatter is worth beside that of the peers."""
MANY = 40
COVERAGE = 4.0
"""Standard deviations beyond which a reading does not fit its prediction."""
ONE_LEVEL = 0.3
"""So near, beside how far both are from the rest, lie two coupons of one other make."""
LOOSE = 1.0 - 1e-9
"""Masks take a little more than the words need: these look again."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Where a good reading lies: from low to high, around center, and what says so in words.

    peer: the coupon that says so, where it is a single one.
    """

    low: float
    center: float
    high: float
    words: str
    peer: str = ""

    def holds(self, value: Any) -> Any:
        """Whether a value, or each of a column, lies inside."""
        return (self.low <= value) & (value <= self.high)

    def distance(self, value: Any) -> Any:
        """How far a value, or each of a column, lies from the center, in half-widths of the side it lies on.

        >>> float(Interval(1.0, 2.0, 4.0, "").distance(3.0))
        0.5
        """
        with np.errstate(all="ignore"):
            far = np.abs(value - self.center) / self._side(value)
        return np.where(np.isfinite(far), far, np.inf)

    def beyond(self, value: Any, scatter: Any) -> Any:
        """Whether a value, or each of a column, lies outside by more than its own scatter explains.

        scatter: standard deviation of each from steps and repeatability of its readings.
        """
        return ~(np.abs(value - self.center) <= np.hypot(self._side(value), COVERAGE * scatter))

    def _side(self, value: Any) -> Any:
        """How far it reaches from its center on the side of a value, or of each of a column."""
        return np.where(value >= self.center, self.high - self.center, self.center - self.low)


def factor(near: int, others: int) -> float:
    """Coverage factor of the interval that others give, of which so many are near.

    Each of more than three values has its share of the chance: in a long table one lies far out by chance.
    """
    chance = CHANCE * 2.0 / max(others, 2)
    return float(students_t(confidence=1.0 - chance, dof=WEIGHT + near - 1))


def scatter_left(count: int) -> float:
    """Share of the variance that stays where the farthest from the median of so many, 4 or more, is left out.

    Fitted to 200 000 simulated normal samples of each of 4 to 39 within 0.03.

    >>> round(scatter_left(4), 2), round(scatter_left(12), 2)
    (0.36, 0.7)
    """
    return 1.0 - 4.54 / (count + 3.14)


def from_others(others: Any, scatter: Any) -> tuple[Any, Any]:
    """Center and half-width of the interval for one more value of a few, or of each row (n,) for one more.

    others: of like specimens (k,) or (n, k); scatter: the plausible standard deviation between them. The
    median is the center. The scatter of the others is pooled with the plausible one; of four or more the
    farthest is left out of it, so that a second slip does not hide the first, and what that takes from it is
    added again.

    >>> center, half = from_others([1.54, 1.55], 0.006)
    >>> round(float(center), 3), round(float(half), 3)
    (1.545, 0.036)
    """
    near, left = np.sort(np.asarray(others, dtype=float)), 1.0
    count, center = near.shape[-1], np.median(near, axis=-1)
    if count >= 4:
        farthest = np.abs(near - center[..., None]).argmax(axis=-1)[..., None]
        near = near[np.arange(count) != farthest].reshape(*near.shape[:-1], count - 1)
        left = scatter_left(count)
    return center, _half_width(near, left, count, scatter)


def _half_width(near: Any, left: float, count: int, scatter: Any) -> Any:
    """Of the interval that those near (n, k) give, of so many; left: share of the variance that they keep."""
    n = near.shape[-1]
    squares = WEIGHT * scatter**2 + np.square(near - near.mean(axis=-1, keepdims=True)).sum(axis=-1) / left
    return factor(n, count) * np.sqrt(squares / (WEIGHT + n - 1) * (1.0 + 1.0 / n))


def without_several(value: float, others: Any, scatter: float) -> float:
    """Half-width where several of the others (k,) are far off by themselves; infinite where none are.

    As many as are outside the interval of the rest, the most first, so that they do not hide each other
    (Rosner, Technometrics 25 (1983) 165, from memory); fewer than half, and with the value not each near
    another of them: these are of other makes.
    """
    values, center, count = np.asarray(others), float(np.median(others)), len(others)
    by_distance = values[np.argsort(np.abs(values - center))]
    if count < 7 or abs(by_distance[-2] - center) < 2.0 * scatter:
        return math.inf
    for out in range((count - 3) // 2, 1, -1):
        near, far = by_distance[:-out], by_distance[-out:]
        half = float(_half_width(near, scatter_left(count - out + 1), count, scatter))
        if abs(far[0] - center) > half:
            steps = np.diff(np.sort([*far, value]), prepend=-math.inf, append=math.inf)
            lonely = np.minimum(steps[:-1], steps[1:]) > ONE_LEVEL * np.abs(far - center).mean()
            return half if lonely.any() else math.inf
    return math.inf


def intervals(values: Any, scatter: float, words: str, *, several: bool = False) -> list[Interval | None]:
    """The interval that its peers give for each value; None where there is no other.

    values: of like specimens (n,); scatter: plausible standard deviation; words: who the peers are; several:
    more than one of a few may be far off.
    """
    sample = np.asarray(values, dtype=float)
    n = len(sample)
    if n < 2:
        return [None] * n
    if n > MANY:
        center = float(np.median(sample))
        deviation = 1.4826 * float(np.median(np.abs(sample - center)))
        size = math.sqrt((WEIGHT * scatter**2 + n * deviation**2) / (WEIGHT + n))
        # among many good ones some lie far out: the chance is that of one in the whole table
        half = float(students_t(confidence=1.0 - CHANCE * MANY / n / 4.0, dof=math.inf)) * size
        return [Interval(center - half, center, center + half, words)] * n
    others = [np.delete(sample, i) for i in range(n)]
    centers, halves = from_others(others, scatter)
    if several:
        halves = np.minimum(halves, [*map(without_several, sample, others, [scatter] * n)])
    both = zip(centers.tolist(), halves.tolist(), strict=True)
    return [Interval(center - half, center, center + half, words) for center, half in both]
