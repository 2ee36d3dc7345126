"""What lies on one wall of a zone, as thicknesses: fiber, liquid and cured resin, layers, packed bed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.formulas import press
from laminate.formulas.number import choose, real_part
from laminate.press.cured import cured

if TYPE_CHECKING:
    from collections.abc import Collection

    from laminate.press.case import ZoneCase
    from laminate.press.names import Numbers
    from laminate.press.stack import Sums


@dataclass(frozen=True, slots=True)
class Layup:
    """The laminate of one wall by the cold area it was laid up on [m].

    fiber: f; liquid: l, hot resin before bleed; cured: r, the same cured; layers: y, solid layers in the gap;
    laid_up: u; packed: p, of the fiber bed alone; end: e_b, most resin that can leave [0..1]; sums: of the
    stack, None where only thicknesses are known.
    """

    fiber: Any
    liquid: Any
    cured: Any
    layers: Any
    laid_up: Any
    packed: Any
    end: Any
    sums: Sums | None = None

    @classmethod
    def of_thickness(cls, full: Any, laid_up: Any = None, bled: Any = None) -> Layup:
        """A laminate known by its thickness alone: liquid full, as laid up, bled to its limit [m]."""
        least = full if bled is None else bled
        liquid = full - least
        up = full if laid_up is None else laid_up
        return cls(least, liquid, liquid, 0.0, up, least, 0.0 if bled is None else 1.0)

    def thickness(self, bleed: Any) -> Any:
        """Hot and liquid, once so much has bled [m]."""
        return press.laminate_thickness(fiber=self.fiber, resin=self.liquid, layers=self.layers, bleed=bleed)

    @property
    def locked(self) -> Any:
        """Gelled as it was laid up: never thinner than full of its resin, whatever a bulk factor says [m]."""
        full = self.thickness(0.0)
        return choose(real_part(self.laid_up) > real_part(full), self.laid_up, full)

    def bleed_for(self, thickness: Any) -> Any:
        """Bleed at which the hot liquid laminate is so thick [m]; below 0 a shortfall; 0 without resin."""
        some = real_part(self.liquid) > 0
        spare = choose(some, thickness - self.fiber - self.layers, 1.0)
        return 1.0 - spare / choose(some, self.liquid, 1.0)

    def within(self, bleed: Any) -> Any:
        """A bleed cut to 0 and the end of bleed."""
        most = choose(real_part(bleed) > real_part(self.end), self.end, bleed)
        return choose(real_part(most) > 0.0, most, 0.0)

    def attributes(self, bleed: Any, void_content: Any = 0.0, only: Collection[str] | None = None) -> Any:
        """Attributes of the cured, cold part by key, as of `cured.cured`; needs the sums of the stack."""
        if self.sums is None:
            raise ValueError("a laminate known by its thickness alone has no attributes")
        return cured(self.sums, bleed=bleed, void_content=void_content, only=only)

    def bleed_of(self, thickness: Any, void_content: Any = 0.0) -> Any:
        """Bleed that a cured thickness tells of."""
        stays = self.sums.layers.that_stay if self.sums is not None else self.layers
        return press.bleed_of_thickness(
            thickness=thickness, void_content=void_content, fiber=self.fiber, resin=self.cured, layers=stays
        )

    def bleed_for_volume(self, fiber_volume: float, void_content: Any = 0.0) -> float | None:
        """Bleed at which the cured part has this fiber volume, below 0 a shortfall; None without resin."""
        if self.sums is None or not self.sums.resin_thickness:
            return None
        fiber = self.sums.fiber_thickness + self.sums.layers.fiber_thickness
        return float(self.bleed_of(fiber / fiber_volume, void_content))


def lay_up(case: ZoneCase, fill_plies: int, x: Numbers) -> Layup:
    """So many filling plies in a zone; `x`: the numbers by name."""
    sums = case.sums(fill_plies, x)
    packed = case.packed_fibers(fill_plies, x, sums)
    fiber, liquid, limit = sums.fiber_thickness, sums.liquid_thickness, case.zone.bleed_limit.value
    end = press.end_of_bleed(bleed_limit=limit, fiber=fiber, packed=packed, resin=liquid)
    return Layup(
        fiber=fiber,
        liquid=liquid,
        cured=sums.resin_thickness,
        layers=sums.layers.in_gap,
        laid_up=sums.bulk_thickness + sums.layers.in_gap,
        packed=packed,
        end=end,
        sums=sums,
    )
