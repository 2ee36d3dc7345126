"""One attribute held against its limits: what a batch is judged by."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from laminate.files.limits import Rule
from laminate.formulas.conformity import UNDECIDED
from laminate.judging.acceptance import Acceptance
from laminate.judging.deciding import Way
from laminate.values.averages import Average

if TYPE_CHECKING:
    from laminate.coupons.measured import Measured


@dataclass
class Characteristic:
    """One attribute of a zone, a prepreg or the process, held against its limits.

    decision, reasons in words; probability of conformity with a flat prior, None where it cannot be said;
    ways: what would decide it; average_of: the mean; individual and average: what was held, None where the
    rule has no such limit or there is nothing to hold; figures: what each coupon gave, by its name.
    """

    name: str
    zone: str | None
    rule: Rule
    method: str = ""
    individual: Acceptance | None = None
    average: Acceptance | None = None
    average_of: Average | None = None
    decision: str = UNDECIDED
    reasons: list[str] = field(default_factory=list)
    probability: float | None = None
    ways: list[Way] = field(default_factory=list)
    lot: str = ""
    figures: dict[str, Measured] = field(default_factory=dict)

    @property
    def held(self) -> list[tuple[str, Acceptance]]:
        """What was held, under 'individual' and 'average'."""
        both = (("individual", self.individual), ("average", self.average))
        return [(which, acceptance) for which, acceptance in both if acceptance is not None]

    @property
    def label(self) -> str:
        """The name that a concession uses: thickness.web, or the bare name."""
        return f"{self.name}.{self.zone}" if self.zone else self.name
