"""What a deciding figure is computed from: readings of its specimens, their instruments, constants."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.methods import IMMERSION, POINTS, SATURATED, Key, attributes
from laminate.coupons.readings import columns_of, needed
from laminate.files.coupons import IN_LIQUID
from laminate.values.input_key import Name, of_quantity
from laminate.values.uncertainty import STEP

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen, ZoneResult
    from laminate.coupons.measurement import Measurement
    from laminate.judging.characteristic import Characteristic

BLANKS = ("residue share", "fiber loss")
UNREAD = ("plies", "points", "fiber points", "void points")
"""Columns that no instrument reads."""


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


def evidence_of(measured: Measurement, characteristics: list[Characteristic]) -> list[Evidence]:
    """Every specimen that counts for a characteristic, with the inputs that move what is held there.

    Kept with the measurement, for most rules ask for it.
    """
    if measured.fed is None or measured.fed[0] is not characteristics:
        measured.fed = (characteristics, _evidence(measured, characteristics))
    return measured.fed[1]


def _evidence(measured: Measurement, characteristics: list[Characteristic]) -> list[Evidence]:
    known: dict[Any, dict[Key, frozenset[Name]]] = {}
    evidence: list[Evidence] = []
    for characteristic in characteristics:
        result = result_of(measured, characteristic)
        if result is None or characteristic.rule.attribute not in result.methods:
            continue
        key = (characteristic.rule.attribute, result.methods[characteristic.rule.attribute])
        for specimen in result.counted(characteristic.rule.attribute):
            group = (specimen.plan, id(specimen.recipe))
            if group not in known:
                known[group] = moved_by(specimen, measured)
            moved = known[group].get(key, frozenset())
            columns = tuple(c for c in needed(specimen.plan) if c in moved and specimen.coupon.has(c))
            columns = ("points",) if key[1] == POINTS else columns
            evidence.append(Evidence(characteristic, specimen, columns, moved - set(columns)))
    return evidence


def result_of(measured: Measurement, characteristic: Characteristic) -> ZoneResult | None:
    """The averages that a characteristic holds: of its zone, or of the incoming tests of its prepreg."""
    if characteristic.rule.prepreg is not None:
        return measured.of_prepreg(characteristic.rule.prepreg)
    return (
        next((zone for zone in measured.zones if zone.zone == characteristic.zone), None)
        if characteristic.zone
        else None
    )


def moved_by(specimen: Specimen, measured: Measurement) -> dict[Key, frozenset[Name]]:
    """Attribute and method -> names of the inputs that move it, for the readings of one specimen."""
    plan, recipe = specimen.plan, specimen.recipe
    if not specimen.every or all(method == POINTS for _, method in specimen.every):
        return {}
    x, _, _ = columns_of([specimen.coupon], plan, recipe, measured.bench)
    # row i moves input i alone
    steps = STEP * 1j * np.eye(len(x))
    moved: dict[Any, Any] = {name: value + step for (name, value), step in zip(x.items(), steps, strict=True)}
    volatile = next((n for n in recipe.values if of_quantity(n, "prepreg", "volatiles")), None)
    if plan.volatiles and volatile is not None:
        moved["volatiles"] = moved[volatile]
    return {
        key: frozenset(name for name, slope in zip(x, np.imag(value).ravel(), strict=False) if slope != 0.0)
        for key, value in attributes(moved, plan, recipe).items()
    }


def read_by(evidence: Evidence, measured: Measurement) -> Iterator[tuple[str, str]]:
    """Column of every reading that an instrument gave, and its name, '' where none is stated."""
    for column in evidence.columns:
        if column not in UNREAD:
            yield column, measured.bench.gauge(column, evidence.specimen.coupon)


def gauges_of(fed: list[Evidence], measured: Measurement) -> list[str]:
    """The names of the instruments that gave deciding readings, each once, '' where none is stated."""
    return list(dict.fromkeys(name for evidence in fed for _, name in read_by(evidence, measured)))
