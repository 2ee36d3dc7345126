"""What a set of coupon tables says: specimens, zones, and the evidence beside them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from laminate.coupons.instruments import Bench
from laminate.coupons.measured import Measured, Outlier, Specimen, ZoneResult, zone_result
from laminate.values.averages import Average
from laminate.values.problems import Problem

if TYPE_CHECKING:
    from laminate.coupons.adjustment import Adjustment
    from laminate.coupons.charge import Weighed
    from laminate.coupons.discrepancies import Discrepancy
    from laminate.coupons.monte_check import Check
    from laminate.files.coupons import Coupon


@dataclass
class Measurement:
    """What a set of coupon tables says.

    others: rows of blanks and check standards, the excluded too; blank_doubted: a blank is in open doubt;
    fed: the characteristics that were judged, and what they rest on: kept by `judging.evidence.evidence_of`.
    """

    specimens: list[Specimen]
    prepregs: list[Specimen]
    zones: list[ZoneResult]
    whole: ZoneResult
    outliers: list[Outlier]
    warnings: list[Problem]
    notes: list[str]
    not_measured: list[str]
    confidence: float | None
    coverage_factor: float | None
    bench: Bench
    checks: list[Check] = field(default_factory=list)
    discrepancies: list[Discrepancy] = field(default_factory=list)
    adjustment: Adjustment | None = None
    charge: Weighed | None = None
    others: list[Coupon] = field(default_factory=list)
    blank_doubted: bool = False
    fed: tuple[object, list[Any]] | None = field(default=None, init=False, repr=False, compare=False)

    def of_prepreg(self, prepreg: str) -> ZoneResult:
        """The averages of the incoming tests of one prepreg."""
        return zone_result([s for s in self.prepregs if s.prepreg == prepreg], None, {})

    def expanded(self, measured: Average | Measured) -> tuple[float, float]:
        """Coverage factor and expanded uncertainty of an average or a specimen's value."""
        k = measured.coverage_factor(self.confidence, self.coverage_factor)
        u = measured.standard_uncertainty if isinstance(measured, Average) else measured.u
        return k, k * (u or 0.0)
