"""Which causes of error of one batch are also causes of error of another: told by what each goes back to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.coupons.resolution import SUFFIX
from laminate.files.batch import OF_LOTS, shares_of
from laminate.values.averages import SCATTER
from laminate.values.input_key import LOT, Key, Name

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case, Lot
    from laminate.press.stack import Ingredients
    from laminate.values.units import SIValue

OF_READINGS = "readings of the coupon"
STATED = ("residue share", "fiber loss", "air density", "liquid density", "wire diameter", "beaker diameter")
"""What the laboratory states of its bench."""
OF_PRESS = ("temperature", "tool", "core", "room", "bladder", "zone", "scatter", "supposed")


@dataclass(frozen=True, slots=True)
class Identities:
    """Names causes of error so that equal names are one cause, whatever the batch.

    case, measured: the batch; zone: of the part; made: the material values that were computed with.
    """

    case: Case
    measured: Measurement
    zone: str
    made: Ingredients

    def of(self, name: Name, attribute: str = "") -> dict[str, float]:
        """The causes that an input goes back to, each with its share of the input's standard uncertainty.

        The squares of the shares sum to 1; there is one cause but where an input is the mean of several lots.
        """
        lots = self._lots(name) if isinstance(name, Key) else []
        if isinstance(name, Key) and len(lots) > 1:
            sizes = {self._of_lot(name, lot): share * self._value(name, lot).spread for lot, share in lots}
            whole = math.hypot(*sizes.values())
            if not whole:
                return {self._said(name): 1.0}
            return {cause: size / whole for cause, size in sizes.items()}
        return {self._one(name, attribute): 1.0}

    def _said(self, name: Name) -> str:
        """The input in words that no input of another table has in any batch."""
        if not isinstance(name, Key):
            return name
        return f"{name}, {name.table} {name.name!r}" if name.name else str(name)

    def _lots(self, key: Key) -> list[tuple[Lot, float]]:
        """The lots that a material value is the mean of, with their shares of it."""
        mine = [lot for lot in self.case.batch.lot if lot.prepreg == key.name]
        whole = key.table == "prepreg" and key.quantity in OF_LOTS
        if not whole or not mine or not self.made.origins.get(key, "").startswith("lot "):
            return []
        return list(zip(mine, shares_of(mine), strict=True))

    def _value(self, key: Key, lot: Lot) -> SIValue:
        value = lot.certified(key.quantity)
        assert value is not None  # values of several lots are those that each of them says
        return value

    def _of_lot(self, key: Key, lot: Lot) -> str:
        certificate = f", certificate {lot.certificate}" if lot.certificate else ""
        return f"{self._said(key)}: {self._value(key, lot).text} from {lot.called}{certificate}"

    def _of_key(self, key: Key) -> str:
        """The cause of a value that a file's table names."""
        batch, input_words = self.case.batch, self._said(key)
        if key.table in OF_PRESS:
            return self._of_press(key)
        if key.table == "instrument":
            gauge = batch.instrument.get(key.name)
            if gauge is None or not gauge.identity:
                return input_words
            return f"{key} {gauge.identity}, certificate {gauge.certificate}, {gauge.calibrated}"
        if key in self.made.values:
            return f"{input_words}: {self.made.values[key].text} from {self.made.origins[key]}"
        # coupons that name their lot are evaluated with its values alone
        prepreg, _, quantity = key.quantity.rpartition(".")
        for lot in batch.lot:
            if key.table == LOT and (lot.number, lot.prepreg) == (key.name, prepreg):
                return self._of_lot(Key("prepreg", prepreg, quantity), lot)
        return f"{input_words} of batch {batch.batch.id}"

    def _of_press(self, key: Key) -> str:
        """The cause of a size, a temperature or a scatter of the press."""
        batch = self.case.batch.batch
        of_batch = f"{key} of batch {batch.id}"
        if key.table == "scatter" or (key.table, key.quantity) == ("zone", "bleed"):
            return of_batch  # what it is differs from batch to batch
        core = self.case.part.zone[self.zone].core
        if core is not None and key == Key("core", core, "width"):
            used = self.case.batch.core_used.get(core)
            return f"{self._said(key)} {used.identity}" if used and used.identity else of_batch
        return f"{self._said(key)} of issue {batch.part_issue}"

    def _one(self, name: Name, attribute: str) -> str:
        if isinstance(name, Key):
            return self._of_key(name)
        batch = self.case.batch
        of_batch = f"{name} of batch {batch.batch.id}"
        if name in (SCATTER, OF_READINGS):
            return f"{of_batch}, {self.zone}, {attribute}"
        if name.endswith(SUFFIX):  # what it is differs from batch to batch
            return of_batch
        stated = getattr(self.measured.bench, name.replace(" ", "_")) if name in STATED else None
        if stated is not None:  # without a text it was found in this batch alone
            return f"{name}: {stated.text}" if stated.text else of_batch
        return f"{name} of issue {batch.batch.part_issue}"
