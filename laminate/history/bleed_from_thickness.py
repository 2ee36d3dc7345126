"""What the thickness of a zone that rubber pressed tells: how much resin has bled. SI units."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from laminate.history.achieved import (
    Causes,
    Compared,
    achieved,
    as_measured,
    compared,
    plies_of,
    total,
    with_causes,
)
from laminate.history.identities import Identities
from laminate.history.pooled import Coverage, Covered
from laminate.press.conditions import Press
from laminate.press.press import press_of
from laminate.press.pressed_zone import is_pressed
from laminate.press.state import State
from laminate.values.problems import Problem, Refused

if TYPE_CHECKING:
    from laminate.coupons.measured import ZoneResult
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.press.layup import Layup

    Layups = Callable[[Mapping[Any, Any]], Layup]


@dataclass(frozen=True, slots=True)
class RubberRun:
    """A zone of one batch under rubber or a bladder, with what its coupons tell.

    room: of rubber, '' under a bladder; void_content: of the coupons, None where they do not tell and none is
    supposed; fiber_volume: that of so thick a zone; thicker: than with no bleed, by more than the ± of the
    coupons; bleed: that the thickness tells of; compared: with the prediction at the stated bleed, empty
    where none is stated.
    """

    case: Case
    zone: str
    room: str
    counts: Mapping[str, int]
    thickness: Covered
    void_content: float | None
    fiber_volume: Covered
    thicker: bool
    bleed: Covered
    compared: Mapping[str, Compared]

    @property
    def batch(self) -> str:
        """The batch."""
        return self.case.batch.batch.id


def rubber_run(case: Case, measured: Measurement, zone: ZoneResult) -> RubberRun | None:
    """What coupons of a zone under rubber or a bladder tell, None between rigid faces. Raises `Refused`."""
    name, part = zone.zone or "", case.part
    if not (part.zone[name].core or part.zone[name].room or part.zone[name].bladder):
        return None
    made = case.ingredients()
    press = press_of(part, case.name, made=made)
    if not is_pressed(press, name):
        return None
    room = press.room_of(name)
    plies_of(case, name)
    if "thickness" not in zone.averages:
        lacking, expected = "no coupons to compare", "the thickness of coupons, which tells how much has bled"
        raise Refused(Problem("nothing-to-compare", case.name, f"zone.{name}", lacking, expected))
    counts = {z: n for z, n in case.batch.batch.plies.items() if z in part.zone}
    identities = Identities(case, measured, name, made)
    coverage = Coverage(part.limits.confidence, part.limits.coverage_factor)
    thick = coverage.of(achieved(zone, "thickness", identities))
    void = achieved(zone, "void_content", identities) if "void_content" in zone.averages else None

    def layup(y: Mapping[Any, Any]) -> Layup:
        return press.layups(counts, y)[name]

    bleed, volume = map(coverage.of, _bleed_and_volume(press, layup, thick, void, identities))
    share = None if void is None else max(void.value, 0.0)
    least = thick.value - thick.expanded
    thicker = float(layup(press.inputs.numbers()).bleed_of(least, share or 0.0)) < 0.0
    beside: dict[str, Compared] = {}
    if press.stated(name) is not None:

        def predicted(y: Mapping[Any, Any]) -> dict[str, Any]:
            return as_measured(State(press.at(y), counts).attributes(name))

        beside = compared(zone, with_causes(predicted, press.inputs, identities), identities)
    where = room.name if room else ""
    return RubberRun(case, name, where, counts, thick, share, volume, thicker, bleed, beside)


def _bleed_and_volume(
    press: Press, layup: Layups, thick: Causes, void: Causes | None, identities: Identities
) -> tuple[Causes, Causes]:
    """Bleed and fiber volume that a cured thickness and its voids tell of, over material and coupons.

    Voids below none are readings of none.
    """
    x = press.inputs.numbers()

    def formula(y: Mapping[Any, Any], h: Any, v: Any) -> dict[str, Any]:
        laid = layup(y)
        bleed = laid.bleed_of(h, v)
        return {"bleed": bleed, "fiber_volume": laid.attributes(bleed, v, ("fiber_volume",))["fiber_volume"]}

    v = 0.0 if void is None else max(void.value, 0.0)
    of_material = with_causes(lambda y: formula(y, thick.value, v), press.inputs, identities)
    tiny = 1e-30j
    by_thickness, by_void = formula(x, thick.value + tiny, v), formula(x, thick.value, v + tiny)
    results = []
    for name in ("bleed", "fiber_volume"):
        terms = [of_material[name]]
        for cause, moved in ((thick, by_thickness), (void, by_void)):
            if cause is not None:
                slope = float(getattr(moved[name], "imag", 0.0)) / 1e-30
                terms.append(replace(cause, value=0.0).times(slope))
        results.append(total(terms))
    return results[0], results[1]
