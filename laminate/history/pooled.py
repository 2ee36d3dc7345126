"""One number from several batches: their mean, what uncertainty they share, and whether they scatter."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

import numpy as np

from laminate.formulas.lot_scatter import consistency
from laminate.formulas.statistics import expanded_by_terms, students_t, welch_satterthwaite
from laminate.history.achieved import ATTRIBUTES, Causes, Compared, total
from laminate.values.averages import USUAL

LEVEL = 0.05
"""Chance below which batches are said to scatter by more than is stated; common practice, no source."""
BETWEEN = "scatter between batches"
ANEW = ", anew in each batch"


@dataclass(frozen=True, slots=True)
class Covered(Causes):
    """A number with its causes and the coverage factor of its own; what is computed from it has another."""

    factor: float

    @property
    def expanded(self) -> float:
        """Expanded uncertainty."""
        return self.factor * self.u


@dataclass(frozen=True, slots=True)
class Coverage:
    """How expanded uncertainties are formed: a confidence, or a fixed factor."""

    confidence: float | None
    fixed: float | None

    def of(self, causes: Causes) -> Covered:
        """A number with its coverage factor k."""
        factor, confidence = self.fixed, self.confidence or USUAL
        names = [name for name, part in causes.parts.items() if part]
        if factor is None and names:
            contributions, dofs = ([row[name] for name in names] for row in (causes.parts, causes.dofs))
            terms = expanded_by_terms(contributions=contributions, dofs=dofs, confidence=confidence)
            factor = float(terms) / causes.u
        elif factor is None:
            factor = float(students_t(confidence=confidence, dof=math.inf))
        return Covered(causes.value, causes.parts, causes.dofs, factor)


@dataclass(frozen=True, slots=True)
class Pooled:
    """The mean of several batches.

    chance: of so much scatter between them if what is stated were all, None of one batch; scatters: whether
    that is too small, so that the scatter seen takes the place of what is stated for each batch alone.
    """

    mean: Covered
    values: tuple[float, ...]
    chance: float | None
    scatters: bool

    def anew(self, causes: Collection[str]) -> Causes:
        """What the next batch may differ by as far as batches do not show it: zero, with its ±.

        Each of these causes that the mean has may act anew in every batch: of one, which tells no scatter,
        all of it counts, of n that agree 1/sqrt(n). Of batches that scatter the mean has what is seen.
        """
        share = 0.0 if self.scatters else 1.0 / math.sqrt(len(self.values))
        parts = {f"{cause}{ANEW}": share * self.mean.parts.get(cause, 0.0) for cause in causes}
        return Causes(0.0, parts, dict.fromkeys(parts, math.inf))


def scatter_of(causes: Causes) -> float:
    """The standard uncertainty that scatter between batches adds, stated or seen."""
    parts = (part for name, part in causes.parts.items() if name == BETWEEN or name.endswith(ANEW))
    return math.hypot(*parts)


def _own(batches: Sequence[Causes], shared: set[str]) -> tuple[list[float], float]:
    """The variance of each batch from causes of its own, and the degrees of freedom of these variances.

    What was estimated from scatter is pooled over the batches: of three or four coupons each alone it is too
    uncertain to say whether batches scatter by more.
    """
    known, seen, dofs = list[float](), list[float](), list[float]()
    for batch in batches:
        parts = {name: part for name, part in batch.parts.items() if name not in shared and part}
        scatter = [name for name in parts if math.isfinite(batch.dofs[name])]
        known.append(math.fsum(part**2 for name, part in parts.items() if name not in scatter))
        if scatter:
            values, each = [parts[name] for name in scatter], [batch.dofs[name] for name in scatter]
            seen.append(math.fsum(part**2 for part in values))
            dofs.append(float(welch_satterthwaite(contributions=values, dofs=each)))
    if not seen:
        return known, math.inf
    variance = math.fsum(v * d for v, d in zip(seen, dofs, strict=True)) / math.fsum(dofs)
    share = variance / (variance + fmean(known))
    return [variance + known_variance for known_variance in known], math.fsum(dofs) / share**2


def pool(batches: Sequence[Causes], coverage: Coverage) -> Pooled:
    """The mean of one or more batches; causes that several share do not average out, those of one batch do.

    u^2 = sum (mean contribution)^2; where the batches scatter by more than their own causes let them, s^2/n
    with n - 1 degrees of freedom in place of these (JCGM 100:2008, 4.2.3). Raises ValueError where there is
    none.
    """
    if not batches:
        raise ValueError("a mean needs a batch")
    n = len(batches)
    mean = total(batch.times(1.0 / n) for batch in batches)
    values = tuple(batch.value for batch in batches)
    if n == 1:
        return Pooled(coverage.of(mean), values, None, False)
    shared = [name for name in mean.parts if sum(name in batch.parts for batch in batches) > 1]
    table = np.array([[batch.parts.get(name, 0.0) for name in shared] for batch in batches])
    variances, dof = _own(batches, set(shared))
    agreement = consistency(values=values, covariance=table @ table.T + np.diag(variances), dof=dof)
    if agreement.chance >= LEVEL:
        return Pooled(coverage.of(mean), values, agreement.chance, False)
    parts = {name: mean.parts[name] for name in shared} | {BETWEEN: stdev(values) / math.sqrt(n)}
    dofs = {name: mean.dofs[name] for name in shared} | {BETWEEN: float(n - 1)}
    return Pooled(coverage.of(Causes(fmean(values), parts, dofs)), values, agreement.chance, True)


@dataclass(frozen=True, slots=True)
class Difference:
    """One attribute of a zone over the batches: predicted minus achieved.

    batches: the name of each and its comparison; depends: whether it means something depends on what has to
    be cleared up first.
    """

    attribute: str
    batches: tuple[tuple[str, Compared], ...]
    predicted: Pooled
    achieved: Pooled
    difference: Pooled
    depends: bool = False

    @property
    def means_something(self) -> bool:
        """Whether it is more than its expanded uncertainty."""
        return abs(self.difference.mean.value) > self.difference.mean.expanded

    @property
    def side(self) -> int:
        """-1 or 1 where it means something, by its sign; else 0."""
        return int(math.copysign(1.0, self.difference.mean.value)) if self.means_something else 0

    @property
    def real(self) -> bool | None:
        """The same, None where that is open."""
        return None if self.depends else self.means_something


def differences_of(
    batches: Sequence[tuple[str, Mapping[str, Compared]]], coverage: Coverage
) -> tuple[Difference, ...]:
    """Every attribute over the batches; each with its name and its comparisons by attribute."""
    differences = []
    for attribute in ATTRIBUTES:
        pairs = tuple((batch, compared[attribute]) for batch, compared in batches if attribute in compared)
        if pairs:
            predicted, achieved, difference = (
                pool([getattr(comparison, which) for _, comparison in pairs], coverage)
                for which in ("predicted", "achieved", "difference")
            )
            differences.append(Difference(attribute, pairs, predicted, achieved, difference))
    return tuple(differences)
