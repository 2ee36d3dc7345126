"""What a stack becomes once it is cured and cold: formula 6 and the attributes held to limits."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TYPE_CHECKING, Any

from laminate.formulas import ply

if TYPE_CHECKING:
    from laminate.press.stack import Sums


PREDICTED = (
    "thickness", "cured_ply_thickness", "fiber_volume", "resin_volume", "void_content", "fiber_content",
    "resin_content", "density", "areal_weight",
)  # fmt: skip
"""Attributes that follow from a stack; others, such as open voids, only a laboratory tells."""


def cured(
    sums: Sums, *, bleed: Any, void_content: Any, only: Collection[str] | None = None
) -> dict[str, Any]:
    """Attributes of the cured, cold zone.

    sums: the stack before bleed; bleed: b, mass fraction of the resin that left; void_content: V_v; only:
    keys wanted, all where None. Returns the attributes of the glossary by key [SI]. A layer counts as resin,
    fiber or neither.
    """
    resin_thickness = ply.resin_kept(resin_areal_weight=sums.resin_thickness, bleed=bleed)
    bare = sums.fiber_thickness + resin_thickness + sums.layers.that_stay
    thickness = ply.thickness(void_free_thickness=bare, void_content=void_content)
    plies = max(sums.plies, 1)

    def mass() -> Any:
        return sums.fiber + ply.resin_kept(resin_areal_weight=sums.resin, bleed=bleed) + sums.layers.mass

    results: dict[str, Callable[[], Any]] = {
        "thickness": lambda: thickness,
        "cured_ply_thickness": lambda: (thickness - sums.layers.that_stay - sums.layers.melted) / plies,
        "fiber_volume": lambda: (sums.fiber_thickness + sums.layers.fiber_thickness) / thickness,
        "resin_volume": lambda: (resin_thickness + sums.layers.resin_thickness) / thickness,
        "void_content": lambda: void_content,
        "fiber_content": lambda: (sums.fiber + sums.layers.fiber) / mass(),
        "resin_content": lambda: 1 - (sums.fiber + sums.layers.mass - sums.layers.resin) / mass(),
        "density": lambda: mass() / thickness,
        "areal_weight": lambda: sums.fiber / plies,
    }
    return {key: formula() for key, formula in results.items() if only is None or key in only}
