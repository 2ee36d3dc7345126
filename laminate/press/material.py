"""What a core is made of: whether it yields, and its bulk modulus."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.values.input_key import Key
from laminate.values.quantities import DEG_C
from laminate.values.said import Figure, Said
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Core
    from laminate.press.shared_inputs import SharedInputs

RUBBER_MODULUS = (1e8, 3e9)
"""Of any rubber [Pa]; silicone rubber has 0.6 to 1.2 GPa, others up to about 2 (no source)."""


def acts_as_rubber(core: Core) -> bool:
    """Whether a core yields under pressure and so sets it: as said, by its material, or by a bulk modulus.

    A material that the tables do not have says nothing.
    """
    if core.acts_as is not None:
        return bool(core.acts_as == "rubber")
    if entry := of_tables(core):
        return entry.get("acts_as") == "rubber"
    return core.bulk_modulus is not None or bool(core.held in ("sides", "ends"))


def of_tables(core: Core) -> dict[str, Any]:
    """What the tables say of its material (`name`, `acts_as`, `compressed_as`); empty where they do not."""
    from laminate.files.reference_tables import catalog_entry

    return {} if core.material is None else catalog_entry(core.material)


def take_modulus(inputs: SharedInputs, core: Core, name: str, hottest: float) -> None:
    """Bulk modulus of a rubber and its rise: given, or of the tables; left out where neither says.

    hottest: the highest temperature that it is used at [K].
    """
    for what, given in (("bulk_modulus", core.bulk_modulus), ("bulk_modulus_rise", core.bulk_modulus_rise)):
        label = Key("core", name, what)
        if given is not None:
            inputs.values[label] = given
        elif alike := of_tables(core).get("compressed_as"):
            from laminate.files.reference_tables import find

            inputs.tabulated(label, find(alike, label.quantity))
        elif what == "bulk_modulus_rise" and core.bulk_modulus is not None:
            inputs.values[label] = SIValue(10.0)
            inputs.notes[label] = f"{label}: not given, taken as 10 (silicone rubber; no source)"
    at, label = core.bulk_modulus_at, Key("core", name, "bulk_modulus")
    note = label._replace(quantity="bulk_modulus_at")
    if core.bulk_modulus is not None and at is None:
        inputs.notes[note] = f"{label}: the temperature it was measured at is not stated"
    elif core.bulk_modulus is not None and at is not None and hottest - at.value > 5.0:
        measured, used = (Figure(k, DEG_C, written=f"{k - 273.15:.0f}") for k in (at.value, hottest))
        softer = ", where rubber is softer: the highest pressure is overestimated"
        at_which = Said(f"{label}: measured at ", measured, ", used up to ", used)
        inputs.notes[note] = Said(at_which, softer)
        less = " it presses less well than computed"
        inputs.steady[note] = Said(f"{label}: above ", measured, less)
