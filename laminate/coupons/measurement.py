"""What a set of coupon tables says: specimens, zones, and the evidence beside them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from laminate.coupons.instruments import Bench
from laminate.coupons.measured import Measured, Outlier, Specimen, ZoneResult, zone_result
from laminate.formulas.statistics import students_t
from laminate.values.averages import USUAL, Average
from laminate.values.problems import Problem

if TYPE_CHECKING:
    from laminate.coupons.adjustment import Adjustment
    from laminate.coupons.charge import Weighed
    from laminate.coupons.discrepancies import Discrepancy
    from laminate.coupons.grouped import Grouped
    from laminate.coupons.monte_check import Check
    from laminate.files.coupons import Coupon


@dataclass
class Measurement:
    """What a set of coupon tables says.

    grouped: the specimens as columns, where they are a large plain table; others: rows of blanks and check
    standards, the excluded too; blank_doubted: a blank is in open doubt; on_top: notes that stand directly
    under the answer.
    """

    specimens: Sequence[Specimen]
    prepregs: list[Specimen]
    zones: list[ZoneResult]
    whole: ZoneResult
    warnings: list[Problem]
    notes: list[str]
    confidence: float | None
    coverage_factor: float | None
    bench: Bench
    outliers: list[Outlier] = field(default_factory=list)
    not_measured: list[str] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    discrepancies: Sequence[Discrepancy] = ()
    adjustment: Adjustment | None = None
    charge: Weighed | None = None
    others: list[Coupon] = field(default_factory=list)
    blank_doubted: bool = False
    grouped: Grouped | None = None
    on_top: list[str] = field(default_factory=list)

    def of_prepreg(self, prepreg: str | None) -> ZoneResult:
        """The averages of the incoming tests of one prepreg."""
        return zone_result([s for s in self.prepregs if s.prepreg == prepreg], None, {})

    def expanded(self, measured: Average | Measured) -> tuple[float, float]:
        """Coverage factor and expanded uncertainty of an average or a specimen's value."""
        k = measured.coverage_factor(self.confidence, self.coverage_factor)
        u = measured.standard_uncertainty if isinstance(measured, Average) else measured.u
        return k, k * (u or 0.0)

    def reword(self, other: Callable[[Sequence[Problem]], list[Problem]]) -> None:
        """Say every warning otherwise."""
        self.warnings = other(self.warnings)
        if self.grouped is not None:
            self.grouped.warnings = {at: other(mine) for at, mine in self.grouped.warnings.items()}
            self.grouped.kept.clear()
        for specimen in (*(self.specimens if self.grouped is None else ()), *self.prepregs):
            specimen.warnings = other(specimen.warnings)

    def excluded(self) -> list[Specimen]:
        """The specimens that are excluded."""
        return [s for s in self._looked_at() if s.excluded]

    def apart(self) -> list[Specimen]:
        """The specimens of which two methods do not agree."""
        return [s for s in self._looked_at() if not all(a.agree for a in s.agreement)]

    def warned(self) -> Iterator[tuple[str, list[Problem]]]:
        """Name and warnings of every specimen that has some."""
        return ((s.name, s.warnings) for s in self._looked_at() if s.warnings)

    def _looked_at(self) -> Iterator[Specimen]:
        return (self.specimens[at] for at in self.suspects())

    def suspects(self) -> list[int]:
        """The rows that are warned of, excluded, or whose methods do not agree."""
        if self.grouped is None:
            return [
                at
                for at, s in enumerate(self.specimens)
                if s.warnings or not s.counts or not all(a.agree for a in s.agreement)
            ]
        excluded = np.flatnonzero(~self.grouped.counted).tolist()
        return sorted({*self.grouped.warnings, *excluded, *self.grouped.apart()})

    def widest(self) -> dict[str, float]:
        """The largest expanded uncertainty of an attribute, by its preferred method [SI]; 0 without any."""
        widest: dict[str, float] = {}
        if self.grouped is None:
            for s in self.specimens:
                for attribute, measured in s.best.items():
                    widest[attribute] = max(widest.get(attribute, 0.0), self.expanded(measured)[1])
            return widest
        for group in self.grouped.groups:
            for attribute, key in group.best.items():
                u, dof = group.figures.u[key], group.figures.dof[key]
                k = self.coverage_factor or students_t(confidence=self.confidence or USUAL, dof=dof)
                widest[attribute] = max(widest.get(attribute, 0.0), float(np.max(k * u)))
        return widest
