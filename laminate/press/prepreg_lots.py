"""What the certificates of a prepreg's lots say of one attribute, on the basis that the part file uses."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.formulas import ply
from laminate.values.uncertainty import Scalars, deviation, nominal
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.batch import Case, Lot


def lot_values(case: Case, prepreg: str, attribute: str) -> list[tuple[str, SIValue]]:
    """Number and value [SI] of every lot that states the attribute, or what it follows from.

    attribute: areal_weight, prepreg_areal_weight, resin_content or volatiles.
    """
    basis = case.part.prepreg[prepreg].resin_basis or "as received"
    lots = [lot for lot in case.batch.lot if lot.prepreg == prepreg]
    values = [(lot.number, _value(case, lot, attribute, basis)) for lot in lots]
    return [(number, value) for number, value in values if value is not None]


def _value(case: Case, lot: Lot, attribute: str, basis: str) -> SIValue | None:
    direct = {
        "areal_weight": lot.fiber_areal_weight,
        "prepreg_areal_weight": lot.prepreg_areal_weight,
        "volatiles": lot.volatiles,
        "resin_content": lot.resin_content if lot.resin_basis == basis else None,
    }[attribute]
    if direct is not None or attribute == "volatiles" or lot.resin_content is None or lot.resin_basis is None:
        return direct
    scalars = Scalars()
    resin = scalars.take("resin content", lot.resin_content)
    volatile = scalars.take("volatiles", lot.volatiles or case.part.prepreg[lot.prepreg].volatiles)
    shares = {"resin_content": resin, "volatiles": volatile, "resin_basis": lot.resin_basis}
    number: Any = None
    if attribute == "resin_content":
        resin_mass = ply.resin_areal_weight(prepreg_areal_weight=1.0, **shares)
        number = {
            "as received": resin_mass,
            "with volatiles": resin_mass + volatile,
            "volatile-free": resin_mass / (1.0 - volatile),
        }[basis]
    elif attribute == "areal_weight" and lot.prepreg_areal_weight is not None:
        total = scalars.take("areal weight", lot.prepreg_areal_weight)
        number = ply.fiber_areal_weight(prepreg_areal_weight=total, **shares)
    elif attribute == "prepreg_areal_weight" and lot.fiber_areal_weight is not None:
        fiber = scalars.take("areal weight", lot.fiber_areal_weight)
        number = ply.prepreg_areal_weight(fiber_areal_weight=fiber, **shares)
    if number is None:
        return None
    return SIValue(nominal(number), deviation(number), shape="normal", text=f"from {lot.called}")
