"""What a gap leaves unstated, tried at its unfavorable usual value: silence buys no better grade."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from laminate.files.slip_checks import tabulated_range
from laminate.formulas.cavity import PACKING_LIMITS
from laminate.press.counts import FITS, chance_of_all, closes_cold, counts_near, verdict
from laminate.press.names import scatter_name
from laminate.press.unstated import (
    as_asked,
    asked_by_options,
    bare_inputs,
    material_keys,
    not_likely,
    shape_not_stated,
)
from laminate.values.input_key import Key, Name, quantity_of
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.press.case import ZoneCase

TRIAL = 5_000
LESS = 0.01
"""Least change of a chance by the ± of one input that is told."""

# Common practice, no source: what a shop meets that has not measured it.
LIQUIDS = (0.90, 0.91, 0.92, 0.93, 0.94, 0.95)  # of the density of the cured resin
VOLATILES = 0.01
SCATTER = SIValue(0.0, 0.02, shape="normal")
BULK = 1.15
SHEAR = SIValue(math.radians(5.0))  # of plies laid over a gentle curve
LOOSE = PACKING_LIMITS["woven"]  # a form that packs no closer
RELATIVE = {
    "density": 0.01, "liquid_density": 0.02, "areal_weight": 0.03, "expansion": 0.05, "thickness": 0.1,
    "bulk_factor": 0.03, "bulk_modulus": 0.2,
}  # fmt: skip
ABSOLUTE = {"resin_content": 0.02, "volatiles": 0.003, "temperature": 5.0, "gel": 5.0, "offset": 1e-4}
SIZE = 5e-5
"""Half-widths of what carries no ±: relative, absolute [SI], and of a cold size [m]."""


class Unstated(NamedTuple):
    """What is not stated and costs a count its grade; least: chance of all that grades it, one grade less.

    assumed_exact: inputs of the part file that count as exact, as they carry no ±.
    """

    names: tuple[str, ...]
    least: float
    assumed_exact: tuple[str, ...] = ()


def unstated(case: ZoneCase, fill_plies: int, now: float) -> Unstated:
    """What would bring the chance of a count below a grade, of all that a gap leaves unstated.

    now: its chance of all as the part file stands. Of a call by options only what an option states, by its
    option: there a chance stands on the stated tolerances.
    """
    names = [*shape_not_stated(case), *not_likely([case])]
    if now < 0.5:  # another value may give another count
        keys = [key for key in dict.fromkeys(material_keys([case])) if key.quantity in _ASKED]
        return Unstated((*names, *as_asked(case.part, keys)), now)
    few, quick = min(case.inputs.draws, TRIAL), asked_by_options(case.part)

    def chance(other: ZoneCase) -> float:
        return chance_of_all(other.of_draws(few), fill_plies)

    marks = (case.part.limits.chance, 0.5)

    def costs(share: float) -> bool:
        return any(share < mark <= now for mark in marks)

    least = min(now, 0.5) if names else now
    for key, other in _keys(case, quick=quick):
        share = chance(other)
        if costs(share):
            names += as_asked(case.part, [key])
        least = min(least, share)
    bare = [] if quick else without_spread(case)
    share = chance(with_usual_spread(case, bare)) if bare else now
    if costs(share):
        each = {name: chance(with_usual_spread(case, [name])) for name in bare}
        without = chance(case)
        costing = [name for name, alone in each.items() if alone < without - LESS] or bare
        names += [f"± of {name}" for name in sorted(costing, key=each.__getitem__)]
    least = min(least, share)
    typed = [str(name) for name in bare if counts_as_exact(case, name)]
    return Unstated(tuple(names), max(least, 0.5) if quick or now >= marks[0] else least, tuple(typed))


def fit_not_known(case: ZoneCase) -> list[str]:
    """Values of the prepreg that are left out beside a hard core, where with a usual one no count fits."""
    if not case.cores or asked_by_options(case.part):
        return []
    usual = list(_keys(case, quick=True))
    resins = [key for key, _ in usual if key.quantity == "liquid_density"]
    usual += [(key, _light(case, key.name, share)) for key in resins for share in LIQUIDS[1:]]
    nowhere = [key for key, other in usual if all(verdict(other, n) != FITS for n in counts_near(other))]
    return as_asked(case.part, nowhere)


def _keys(case: ZoneCase, *, quick: bool) -> Iterator[tuple[Key, ZoneCase]]:
    """Every key that is left out, with the zone as it would be were it unfavorable."""
    for key in dict.fromkeys(material_keys([case])):
        if not quick or key.quantity in _ASKED:
            yield key, at_unfavorable(case, key)
    shear = Key("zone", case.name, "shear")
    if shear in case.inputs.notes and not quick:
        yield shear, case.with_values({shear: SHEAR})
    tool = case.part.tool
    if tool is not None and "closes" not in tool.model_fields_set and not quick:
        closes = Key("tool", "", "closes")
        yield closes, case.with_key(closes, "cold")


_ASKED = ("liquid_density", "volatiles", "bulk_factor")
"""What a call by options is asked for: no option states a scatter, and a form has its packing limit."""


def _light(case: ZoneCase, resin: str, share: float = LIQUIDS[0]) -> ZoneCase:
    cured = case.inputs.values[Key("resin", resin, "density")]
    return case.with_values({Key("resin", resin, "liquid_density"): SIValue(share * cured.value)})


_UNFAVORABLE: dict[str, Callable[[ZoneCase, str], ZoneCase]] = {
    "liquid_density": _light,
    "volatiles": lambda case, name: case.with_values({Key("prepreg", name, "volatiles"): SIValue(VOLATILES)}),
    "bulk_factor": lambda case, name: case.with_values({Key("prepreg", name, "bulk_factor"): SIValue(BULK)}),
    "ply_scatter": lambda case, name: case.with_values({scatter_name(case.name, name): SCATTER}),
    "form": lambda case, name: case.with_key(Key("prepreg", name, "packing_limit"), SIValue(LOOSE)),
}


def at_unfavorable(case: ZoneCase, key: Key) -> ZoneCase:
    """The zone with the unfavorable usual value of a key of `material_keys`."""
    return _UNFAVORABLE[key.quantity](case, key.name)


def usual_half(name: Name, value: SIValue) -> float:
    """Half-width that an input usually has [SI]; 0 where none is known of it."""
    if not isinstance(name, Key):
        return 0.0
    what = name.quantity
    if what in ABSOLUTE or what.endswith("temperature"):
        return ABSOLUTE.get(what, ABSOLUTE["temperature"])
    if what in RELATIVE:
        return RELATIVE[what] * abs(value.value)
    return SIZE if name.table in ("zone", "room", "core") and what not in _NO_SIZE else 0.0


_NO_SIZE = (
    "area", "share", "bleed", "shear", "bulk_modulus_rise", "heating_time", "diffusivity",
)  # fmt: skip


def _half(case: ZoneCase, name: Any) -> float:
    """Half-width that an input of a zone usually has; of a tabulated expansion as far as the tables reach."""
    value = case.inputs.values[name]
    half = usual_half(name, value)
    material = case.part.core[name.name].material if isinstance(name, Key) and name.table == "core" else None
    if material is None or name.quantity != "expansion" or name not in case.inputs.notes:
        return half
    low, high = tabulated_range(material, value.value)
    return max(half, value.value - low, high - value.value)


def counts_as_exact(case: ZoneCase, name: Name) -> bool:
    """Whether an input is typed without a ±; a bulk factor matters in a tool that is shut cold alone."""
    typed = bool(case.inputs.values[name].text) and name not in case.inputs.notes
    return typed and (closes_cold(case) or quantity_of(name) != "bulk factor")


def without_spread(case: ZoneCase) -> list[Name]:
    """Inputs of a zone that carry no ±, and usually have one."""
    return [name for name, value in bare_inputs(case.inputs).items() if usual_half(name, value)]


def with_usual_spread(case: ZoneCase, names: list[Name] | None = None) -> ZoneCase:
    """The zone with the usual ± on inputs that carry none; names: of these, all of them where None."""
    values = case.inputs.values
    names = without_spread(case) if names is None else names
    spread = {name: _half(case, name) / 3.0**0.5 for name in names}
    return case.with_values({n: replace(values[n], u=u, shape="rectangular") for n, u in spread.items()})
