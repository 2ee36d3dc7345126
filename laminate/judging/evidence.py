"""What a deciding figure is computed from: readings of its specimens, their instruments, constants."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.instruments import UNMEASURED
from laminate.coupons.methods import IMMERSION, POINTS, SATURATED, Key, attributes
from laminate.coupons.readings import columns_of, needed
from laminate.files.coupons import IN_LIQUID
from laminate.formulas.conformity import CONFORMS
from laminate.judging.acceptance import RANK
from laminate.judging.characteristics import characteristics_of
from laminate.values.input_key import Name
from laminate.values.uncertainty import STEP

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen, ZoneResult
    from laminate.coupons.measurement import Measurement
    from laminate.curing.answers import ZoneCycle
    from laminate.files.batch import Case, Instrument
    from laminate.files.coupons import Coupon
    from laminate.judging.characteristic import Characteristic

BLANKS = ("residue share", "fiber loss")


@dataclass(frozen=True)
class Evidence:
    """What one specimen gives to a characteristic.

    columns: those whose readings move its value; constants: the other inputs that do, by name.
    """

    characteristic: Characteristic
    specimen: Specimen
    columns: tuple[str, ...]
    constants: frozenset[Name]

    @property
    def immersed(self) -> bool:
        """Whether a weighing in liquid decides."""
        weighed = any(column in IN_LIQUID for column in self.columns)
        return weighed and self.specimen.plan.density in (IMMERSION, SATURATED)

    @property
    def by_loss(self) -> bool:
        """Whether a loss of matrix decides."""
        return not self.constants.isdisjoint(BLANKS)


@dataclass(eq=False)
class BatchEvidence:
    """A batch as it is judged, which every rule looks at.

    case, measured: its files and what they give; cycles: what its logs say, by zone; characteristics: what
    was measured, held to the limits.
    """

    case: Case
    measured: Measurement
    cycles: Mapping[str, ZoneCycle]

    def __post_init__(self) -> None:
        self.characteristics = characteristics_of(self.case, self.measured)
        self.first_decided = self.decisions()

    def decisions(self) -> dict[tuple[str, str], str]:
        """The decision on each characteristic, by label and lot."""
        return {(c.label, c.lot): c.decision for c in self.characteristics}

    def worse(self, other: Measurement, before: Mapping[tuple[str, str], str]) -> list[Characteristic]:
        """What is decided worse of another measurement of the batch than it was before."""
        later = characteristics_of(self.case, other)
        return [c for c in later if RANK[c.decision] > RANK[before.get((c.label, c.lot), CONFORMS)]]

    @property
    def rows(self) -> list[Coupon]:
        """Every row of the coupon tables: of specimens, incoming tests, blanks and check standards."""
        return [*(s.coupon for s in self.specimens), *self.measured.others]

    @property
    def specimens(self) -> list[Specimen]:
        """Those of the laminate, then those of incoming tests."""
        return [*self.measured.specimens, *self.measured.prepregs]

    @cached_property
    def fed(self) -> list[Evidence]:
        """Every specimen that counts for a characteristic, with the inputs that move what is held there."""
        known: dict[Any, dict[Key, frozenset[Name]]] = {}
        evidence: list[Evidence] = []
        for characteristic in self.characteristics:
            attribute, result = characteristic.rule.attribute, self.result_of(characteristic)
            if result is None or attribute not in result.methods:
                continue
            key = (attribute, result.methods[attribute])
            for specimen in result.counted(attribute):
                group = (specimen.plan, id(specimen.recipe))
                if group not in known:
                    known[group] = moved_by(specimen, self.measured)
                moved = known[group].get(key, frozenset())
                columns = tuple(c for c in needed(specimen.plan) if c in moved and specimen.coupon.has(c))
                columns = ("points",) if key[1] == POINTS else columns
                evidence.append(Evidence(characteristic, specimen, columns, moved - set(columns)))
        return evidence

    def result_of(self, characteristic: Characteristic) -> ZoneResult | None:
        """The averages that a characteristic holds: of its zone, or of the incoming tests of its prepreg."""
        if characteristic.rule.prepreg is not None:
            return self.measured.of_prepreg(characteristic.rule.prepreg)
        zones = self.measured.zones if characteristic.zone else []
        return next((zone for zone in zones if zone.zone == characteristic.zone), None)

    def read_by(self, evidence: Evidence) -> Iterator[tuple[str, str]]:
        """Column of every reading that an instrument gave, and its name, '' where none is stated."""
        for column in evidence.columns:
            if column not in UNMEASURED:
                yield column, self.measured.bench.gauge(column, evidence.specimen.coupon)

    @property
    def gauges(self) -> dict[str, Instrument]:
        """The stated instruments that gave deciding readings."""
        names = dict.fromkeys(name for evidence in self.fed for _, name in self.read_by(evidence))
        stated = self.case.batch.instrument
        return {name: stated[name] for name in names if name in stated}


def moved_by(specimen: Specimen, measured: Measurement) -> dict[Key, frozenset[Name]]:
    """Attribute and method -> names of the inputs that move it, for the readings of one specimen."""
    plan, recipe = specimen.plan, specimen.recipe
    if not specimen.every or all(method == POINTS for _, method in specimen.every):
        return {}
    x, _, _ = columns_of([specimen.coupon], plan, recipe, measured.bench)
    # row i moves input i alone
    steps = STEP * 1j * np.eye(len(x))
    moved: dict[Any, Any] = {name: value + step for (name, value), step in zip(x.items(), steps, strict=True)}
    volatile = next((n for n in recipe.values if getattr(n, "quantity", "") == "volatiles"), None)
    if plan.volatiles and volatile is not None:
        moved["volatiles"] = moved[volatile]
    return {
        key: frozenset(name for name, slope in zip(x, np.imag(value).ravel(), strict=False) if slope != 0.0)
        for key, value in attributes(moved, plan, recipe).items()
    }
