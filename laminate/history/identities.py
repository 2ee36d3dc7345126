"""Which causes of error of one batch are also causes of error of another: told by what each goes back to."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.press.case import core_name
from laminate.values.averages import SCATTER

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case, Lot
    from laminate.press.stack import Ingredients
    from laminate.values.units import Value

OF_READINGS = "readings of the coupon"
OF_LOTS = {
    "areal weight": ("fiber_areal_weight", "prepreg_areal_weight"),
    "resin content": ("resin_content",),
    "volatiles": ("volatiles",),
}


@dataclass(frozen=True, slots=True)
class Identities:
    """Names causes of error so that equal names are one cause, whatever the batch.

    case, measured: the batch; zone: of the part; made: the material values that were computed with.
    """

    case: Case
    measured: Measurement
    zone: str
    made: Ingredients

    def of(self, name: str, attribute: str = "") -> dict[str, float]:
        """The causes that an input goes back to, each with its share of the input's standard uncertainty.

        The squares of the shares sum to 1; there is one cause but where an input is the mean of several lots.
        """
        lots = self._lots(name)
        if len(lots) > 1:
            sizes = {self._of_lot(name, lot): share * self._value(name, lot).spread for lot, share in lots}
            whole = math.hypot(*sizes.values())
            return {cause: size / whole for cause, size in sizes.items()} if whole else {name: 1.0}
        return {self._one(name, attribute): 1.0}

    def _lots(self, name: str) -> list[tuple[Lot, float]]:
        """The lots that a material value is the mean of, with their shares of it."""
        for prepreg in {lot.prepreg for lot in self.case.batch.lot}:
            what = name.removeprefix(f"{prepreg} ")
            if what in OF_LOTS and what != name and self.made.origins.get(name, "").startswith("lot "):
                mine = [lot for lot in self.case.batch.lot if lot.prepreg == prepreg]
                shares = [lot.share.value if lot.share else 1.0 / len(mine) for lot in mine]
                return [(lot, share / sum(shares)) for lot, share in zip(mine, shares, strict=True)]
        return []

    def _value(self, name: str, lot: Lot) -> Value:
        keys = OF_LOTS[name.removeprefix(f"{lot.prepreg} ")]
        found: Value = next(v for key in keys if (v := getattr(lot, key)) is not None)
        return found

    def _of_lot(self, name: str, lot: Lot) -> str:
        certificate = f", certificate {lot.certificate}" if lot.certificate else ""
        return f"{name}: {self._value(name, lot).text} from lot {lot.number}{certificate}"

    def _one(self, name: str, attribute: str) -> str:
        batch = self.case.batch
        own = f"{name} of batch {batch.batch.id}"
        if name in (SCATTER, OF_READINGS):
            return f"{own}, {self.zone}, {attribute}"
        if name.endswith(" ply scatter"):
            return own
        if name.startswith("calibration of "):
            gauge = batch.instrument.get(name.removeprefix("calibration of "))
            if gauge is None or not gauge.identity:
                return name
            return f"{name} {gauge.identity}, certificate {gauge.certificate}, {gauge.calibrated}"
        if name in self.made.values:
            return f"{name}: {self.made.values[name].text} from {self.made.origins[name]}"
        for lot in batch.lot:
            # coupons that name their lot are evaluated with its values alone
            value = name.removesuffix(f", lot {lot.number}")
            if value != name and value.startswith(f"{lot.prepreg} "):
                return self._of_lot(value, lot)
        stated = self._stated()
        if name in stated:
            return f"{name}: {stated[name]}" if stated[name] else own
        core = self.case.part.zone[self.zone].core
        if core is not None and name == core_name(core, "width"):
            used = batch.core_used.get(core)
            return f"{name} {used.identity}" if used and used.identity else own
        return f"{name} of issue {batch.batch.part_issue}"

    def _stated(self) -> Mapping[str, str]:
        """Texts of what the laboratory states; '' where it was found in this batch alone."""
        bench = self.measured.bench
        values = {
            "residue share": bench.residue_share,
            "fiber loss": bench.fiber_loss,
            "air density": bench.air_density,
            "liquid density": bench.liquid_density,
            "wire diameter": bench.wire_diameter,
            "beaker diameter": bench.beaker_diameter,
        }
        return {name: value.text for name, value in values.items() if value is not None}
