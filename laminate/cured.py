"""What a stack becomes once it is cured and cold: formula 6 and the attributes held to limits."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.formulas import ply

if TYPE_CHECKING:
    from laminate.stack import Sums


def cured(sums: Sums, *, bleed: Any, void_content: Any) -> dict[str, Any]:
    """Attributes of the cured, cold zone.

    sums: the stack before bleed; bleed: b, mass fraction of the resin that left; void_content: V_v.
    Returns the attributes of the glossary by key [SI]. A layer counts as resin, fiber or neither.
    """
    resin = ply.resin_kept(resin_areal_weight=sums.resin, bleed=bleed)
    resin_thickness = ply.resin_kept(resin_areal_weight=sums.resin_thickness, bleed=bleed)
    bare = sums.fiber_thickness + resin_thickness + sums.layers_that_stay
    thickness = ply.thickness(void_free_thickness=bare, void_content=void_content)
    mass = sums.fiber + resin + sums.layer_mass
    others = sums.layer_mass - sums.layer_resin - sums.layer_fiber
    fiber = sums.fiber + sums.layer_fiber
    in_plies = (sums.fiber_thickness + resin_thickness) / (1 - void_content)
    return {
        "thickness": thickness,
        "cured_ply_thickness": in_plies / max(sums.plies, 1),
        "fiber_volume": (sums.fiber_thickness + sums.layer_fiber_thickness) / thickness,
        "resin_volume": (resin_thickness + sums.layer_resin_thickness) / thickness,
        "void_content": void_content,
        "fiber_content": fiber / mass,
        "resin_content": 1 - (fiber + others) / mass,
        "density": mass / thickness,
        "areal_weight": sums.fiber / max(sums.plies, 1),
    }
