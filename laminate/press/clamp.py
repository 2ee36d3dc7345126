"""The pressure at which the clamp lets the tool open."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from laminate.formulas.expanding_core import clamp_pressure
from laminate.press.known import Estimate, Known, estimates

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.values.units import Value


def clamp_limit(part: Part) -> tuple[Estimate | None, str, tuple[str, ...]]:
    """Pressure at which the tool opens when it acts alike on all projected area, why there is none, what is
    left out.

    A bladder's force is taken from the clamp's first. From `expanding_core.clamp_pressure`.
    """
    force = part.tool.clamp_force if part.tool else None
    if force is None:
        return None, "no clamp force is given", ()
    values: dict[Any, Value] = {"force": force}
    areas, bladders, left_out = [], [], []
    for table, items in (("core", part.core), ("zone", part.zone)):
        for name, item in items.items():
            against_core = table == "zone" and getattr(item, "core", None) is not None
            if item.projected_area is None:
                left_out += [] if against_core else [f"{table} {name}"]
                continue
            label = f"{table} {name}"
            values[label] = item.projected_area
            bladder = getattr(item, "bladder", None)
            if bladder is None:
                areas.append(label)
            else:
                values[f"{label} pressure"] = part.bladder[bladder].pressure
                bladders.append(label)
    if not any(label.startswith("core ") for label in areas):
        return None, "no projected area of a core is given", tuple(left_out)

    def formula(x: Mapping[Any, Any]) -> dict[str, Any]:
        held = sum(x[f"{label} pressure"] * x[label] for label in bladders)
        return {"limit": clamp_pressure(force=x["force"] - held, area=sum(x[a] for a in areas))}

    return estimates(formula, Known(values))["limit"], "", tuple(left_out)
