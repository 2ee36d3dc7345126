"""The mean of n coupons as the true mean of the sampled part or batch: what averages out, what does not."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas.statistics import degrees_of_factor, expanded_by_terms, scatters_more, students_t
from laminate.values.uncertainty import ROUNDING

if TYPE_CHECKING:
    from laminate.values.input_key import Name
    from laminate.values.uncertainty import Array, Result, Source

SCATTER = "scatter between coupons"
USUAL = 0.95
"""The confidence of degrees of freedom where the rule fixes a coverage factor."""


def _expanded(terms: Sequence[tuple[float, float]], confidence: float) -> float:
    """What standard uncertainties make together, each with the Student's t of its degrees of freedom."""
    sizes, dofs = [size for size, _ in terms], [dof for _, dof in terms]
    return float(expanded_by_terms(contributions=sizes, dofs=dofs, confidence=confidence))


@dataclass(frozen=True, slots=True)
class Scatter:
    """What the mean of n coupons has from errors that each coupon has alone; variances [SI squared].

    seen: s^2 of the coupons, or of the plan, with the resolution of their readings; dof: of s; own: what the
    readings alone would scatter, source by source, each with its degrees of freedom; n: the count of coupons;
    pooled: whether s is the plan's.
    """

    seen: float
    dof: float
    own: tuple[tuple[float, float], ...]
    n: int
    pooled: bool = False
    weight: float = 1.0

    @property
    def variance(self) -> float:
        """Part of the variance of the mean."""
        return self.weight**2 * max(self.seen, math.fsum(v for v, _ in self.own)) / self.n

    def expanded(self, confidence: float) -> float:
        """Part of U squared: s with its Student's t, or the readings each with its own, whichever is more."""
        t = float(students_t(confidence=confidence, dof=self.dof))
        of_readings = _expanded([(math.sqrt(v), dof) for v, dof in self.own], confidence)
        return self.weight**2 * max(t**2 * self.seen, of_readings**2) / self.n

    def of_count(self, n: int) -> Scatter:
        """The same scatter of so many coupons."""
        return replace(self, n=n, dof=self.dof if self.pooled else float(n - 1))


@dataclass(frozen=True, slots=True)
class Average:
    """The mean of n rows as the true mean of the sampled part or batch, SI units.

    contributions: name -> signed contribution to the mean, the scatter of the rows among them as `SCATTER`;
    dofs: name -> degrees of freedom; standard_deviation: of the rows, None for one; scatters: what stands
    behind `SCATTER`, one a zone; outdone: whether the rows scatter more than the scatter that was stated.
    standard_uncertainty is None where one row shows no scatter.
    """

    value: float
    n: int
    standard_deviation: float | None
    contributions: dict[Name, float] = field(default_factory=dict)
    dofs: dict[Name, float] = field(default_factory=dict)
    scatters: tuple[Scatter, ...] = ()
    outdone: bool = False

    @property
    def standard_uncertainty(self) -> float | None:
        """u with ``u^2 = max(s^2 + q^2, own^2)/n + sum over shared sources of u_j^2``; None for one row."""
        return self.u if SCATTER in self.contributions else None

    @property
    def u(self) -> float:
        """The standard uncertainty of what is known."""
        return math.hypot(*self.contributions.values())

    def expanded(self, confidence: float | None, fixed: float | None = None) -> float:
        """U, each term with the Student's t of its own (Banerjee), or u with a fixed factor.

        ``U^2 = max(t^2 (s^2 + q^2), sum (t_i own_i)^2)/n + sum (t_j u_j)^2``. Raises ValueError where
        neither a confidence nor a factor is given.
        """
        if fixed is not None:
            return fixed * self.u
        if confidence is None:
            raise ValueError("a coverage factor needs a confidence or a fixed factor")
        names = [name for name in self.contributions if name != SCATTER or not self.scatters]
        shared = _expanded([(self.contributions[name], self.dofs[name]) for name in names], confidence)
        alone = (scatter.expanded(confidence) for scatter in self.scatters)
        return math.sqrt(math.fsum(alone) + shared**2)

    def degrees_of_freedom(self, confidence: float | None = USUAL) -> float:
        """The degrees of freedom at which Student's t makes U of u; infinite where U is 1.96 u at 95 %."""
        if self.u == 0.0:
            return math.inf
        wanted = confidence or USUAL
        return float(degrees_of_factor(factor=self.expanded(wanted) / self.u, confidence=wanted))

    def coverage_factor(self, confidence: float | None, fixed: float | None = None) -> float:
        """U over u for the confidence, or the fixed factor.

        Raises ValueError where neither is given.
        """
        if fixed is not None:
            return fixed
        if self.u == 0.0 and confidence is not None:
            return float(students_t(confidence=confidence, dof=math.inf))
        return self.expanded(confidence) / self.u

    def of_count(self, n: int) -> Average:
        """The same mean and scatter with so many coupons; of one zone."""
        scatters = tuple(scatter.of_count(n) for scatter in self.scatters)
        return _with_scatter(replace(self, n=n, scatters=scatters))


def _with_scatter(mean: Average) -> Average:
    """The average with `SCATTER` as its scatters say."""
    variance = math.fsum(scatter.variance for scatter in mean.scatters)
    dof = min(scatter.dof for scatter in mean.scatters)
    contributions = {**mean.contributions, SCATTER: math.sqrt(variance)}
    return replace(mean, contributions=contributions, dofs={**mean.dofs, SCATTER: dof})


def average(parts: Iterable[Result], *, pooled_deviation: tuple[float, float] | None = None) -> Average:
    """Mean of all rows of the parts; shared sources are gathered by name and do not average out.

    parts: results of one attribute [SI], each of (n_i,) rows; pooled_deviation: standard deviation [SI] and
    its degrees of freedom, in place of the scatter of these rows unless they scatter more by the F test.
    Source: ``u^2 = max(s^2 + q^2, own^2)/n + sum (mean dy/dx)^2 u^2``, q of the rounding of the readings;
    JCGM 100:2008, 4.2.3, F.1.1 and F.2.2.1. Raises ValueError where there is no row.
    """
    sums = [(r.value, r.sources, r.contributions.sum(1), np.square(r.contributions).sum(1)) for r in parts]
    return of_parts(sums, pooled_deviation=pooled_deviation)


def of_parts(
    parts: Sequence[tuple[Array, Sequence[Source], Array, Array]],
    pooled_deviation: tuple[float, float] | None,
) -> Average:
    """As `average`; parts: values, sources, contributions of each summed over the rows, and their squares.

    What was seen of one scatter in different rows is pooled, with the degrees of freedom of all
    (Welch-Satterthwaite: JCGM 100:2008, G.4.1); what was stated once keeps its degrees of freedom.
    """
    n = sum(len(values) for values, *_ in parts)
    if n == 0:
        raise ValueError("an average needs one row or more")
    values = np.concatenate([values for values, *_ in parts])
    contributions: dict[Name, float] = {}
    dofs: dict[Any, float] = {}
    own_errors: dict[Name, dict[Hashable, float]] = {}
    rounding = 0.0
    for _, sources, sums, squares in parts:
        for source, whole, square in zip(sources, sums.tolist(), squares.tolist(), strict=True):
            name, estimate = source.name, source.estimate
            if source.shared:
                contributions[name] = contributions.get(name, 0.0) + whole / n
            else:
                seen = own_errors.setdefault(name, {})
                seen[estimate] = seen.get(estimate, 0.0) + square / n
            dofs[name, estimate] = min(dofs.get((name, estimate), math.inf), source.dof)
            rounding += square / n if source.rounded else 0.0
    floor = tuple(
        _pooled([(variance, dofs[name, estimate]) for estimate, variance in seen.items()])
        for name, seen in own_errors.items()
        if any(seen.values())
    )
    deviation = float(values.std(ddof=1)) if n > 1 else None
    kept = {name: dofs[name, None] for name in contributions}
    mean = Average(float(values.mean()), n, deviation, contributions, kept)
    return scattered(mean, floor, rounding, pooled_deviation)


def _pooled(terms: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The sum of variances that were seen independently, and its degrees of freedom (Welch-Satterthwaite)."""
    variance = math.fsum(v for v, _ in terms)
    if len(terms) == 1:
        return terms[0]
    spread = math.fsum(v**2 / dof for v, dof in terms)
    return variance, variance**2 / spread if spread else math.inf


def scattered(
    mean: Average,
    floor: tuple[tuple[float, float], ...],
    rounding: float,
    pooled_deviation: tuple[float, float] | None = None,
) -> Average:
    """A mean of what its rows share, with what their scatter adds.

    floor: mean variances of the rows' own errors, each with its degrees of freedom; rounding: mean variance
    of the rounding of the rows' readings; pooled_deviation: as of `average`.
    """
    n, deviation = mean.n, mean.standard_deviation
    if deviation is not None and deviation <= ROUNDING * abs(mean.value):
        deviation = 0.0
        mean = replace(mean, standard_deviation=deviation)
    if pooled_deviation is not None:
        stated, freedom = pooled_deviation
        if deviation is None or not scatters_more(
            deviation=deviation, dof=n - 1.0, stated=stated, stated_dof=freedom
        ):
            seen = stated**2 + rounding
            return _with_scatter(replace(mean, scatters=(Scatter(seen, freedom, floor, n, True),)))
        mean = replace(mean, outdone=True)
    if deviation is None:
        return mean
    return _with_scatter(replace(mean, scatters=(Scatter(deviation**2 + rounding, n - 1.0, floor, n),)))


def over_zones(means: Sequence[Average], values: Sequence[float]) -> Average:
    """The mean over several zones: each adds its terms by its share of the coupons; zones are not pooled.

    means: of the zones; values: of all their coupons. Where a zone shows no scatter, neither does the whole.
    """
    n = sum(mean.n for mean in means)
    contributions: dict[Name, float] = {}
    dofs: dict[Name, float] = {}
    for mean in means:
        for name, part in mean.contributions.items():
            if name != SCATTER:
                contributions[name] = contributions.get(name, 0.0) + mean.n / n * part
                dofs[name] = min(dofs.get(name, math.inf), mean.dofs[name])
    deviation = float(np.std(values, ddof=1)) if n > 1 else None
    whole = Average(math.fsum(m.n * m.value for m in means) / n, n, deviation, contributions, dofs)
    if any(not mean.scatters for mean in means):
        return whole
    scatters = tuple(replace(s, weight=mean.n / n * s.weight) for mean in means for s in mean.scatters)
    return _with_scatter(replace(whole, scatters=scatters))
