"""Readings that cannot be, seen while the specimen can still be weighed again.

`impossible` returns problems: nothing is computed until the cell is mended or the row excluded with a reason.
`unlikely` returns warnings, which stay in the report.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np

from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.methods import (
    AREAL,
    BEYOND,
    DENSITY_COLUMNS,
    EXTRACTION,
    Plan,
    Results,
    attributes,
    loss_masses,
)
from laminate.coupons.readings import CRUCIBLE, constants_of, needed, plan_of
from laminate.coupons.recipes import Inputs, Recipe
from laminate.coupons.slips import factor_words, known_factor
from laminate.coupons.table_checks import reading_scatter
from laminate.files.coupons import Coupon
from laminate.values.input_key import Name
from laminate.values.problems import Problem, wrong_order
from laminate.values.quantities import DEG_C, G_CM3, MM
from laminate.values.said import Figure, Said, between


class Order(NamedTuple):
    """Of two masses the one below the other; level: it may equal it; later: the larger is weighed later.

    A finding stands at the one that is weighed later.
    """

    small: str
    large: str
    level: bool = False
    later: bool = False


ORDERS = (
    Order("mass in liquid", "mass in air"),
    Order("mass in liquid", "saturated mass"),
    Order("dry mass", "saturated mass", level=True, later=True),
    Order("crucible mass", "crucible with residue", level=True, later=True),
    Order("crucible with residue", "crucible with specimen"),
    Order("crucible mass", "crucible with specimen", later=True),
    Order("residue mass", "specimen mass"),
    Order("fiber mass", "prepreg mass"),
    Order("dried mass", "prepreg mass", level=True),
    Order("backing mass", "prepreg mass"),
    Order("fiber mass", "dried mass"),
)
# a reading, and the sets of others of which one must be there
NEEDED: dict[str, tuple[tuple[str, ...], ...]] = {
    "mass in liquid": (("mass in air",), ("dry mass", "saturated mass")),
    "saturated mass": (("dry mass", "mass in liquid"),),
    "sinker mass in liquid": (("mass in liquid",),),
    "residue mass": (("specimen mass",), ("mass in air",)),
    "crucible again": (("crucible mass",),),
    "backing mass": (("prepreg mass",),),
    "fiber mass": (("prepreg mass",),),
    "dried mass": (("prepreg mass",),),
}
# readings in the order in which they are taken: those at the end may still have to come
SEQUENCES = (CRUCIBLE, ("dry mass", "saturated mass", "mass in liquid"), ("specimen mass", "residue mass"))
MISSING = "missing-reading"
OUTWEIGHS = "the residue cannot outweigh the coupon: are cells swapped or mistyped?"
NOISE = 4.0
"""Standard deviations of two readings by which weighings of nearly equal things may be in the wrong order."""
ALIKE = 0.01
"""Share by which nearly equal things may seem to be in the wrong order, however coarse the steps."""
WIDE = 6.0
LOOSE = 1.0 - 1e-9
"""Masks take a little more than the words need: these look again."""
COLDEST, HOTTEST, ROUNDED = 273.15, 313.15, 9
LIKELY_VOLUME = 0.6
"""Fiber volume that a slip of a factor is told against (common practice, no source)."""
OTHER_UNIT = 30.0
"""Times the mass in air from which a mass in liquid is one in another unit (common practice, no source)."""
RESIDUES = ("crucible with residue", "residue mass")
LOSS_BLANKS = ("blank fiber", "blank resin")


def _orders(coupon: Coupon, bench: Bench) -> Iterable[Problem]:
    sinks = not coupon.has("sinker mass in liquid")
    for small, large, level, later in ORDERS:
        if not coupon.has(small, large) or (small == "mass in liquid" and not sinks):
            continue
        low, high = coupon.mean(small), coupon.mean(large)
        if level or coupon.kind in LOSS_BLANKS:
            noise = NOISE * math.hypot(*(reading_scatter(coupon, name, bench) for name in (small, large)))
            low -= min(noise, ALIKE * high)
        if low < high:
            continue
        place, relation, other = (large, "above", small) if later else (small, "below", large)
        if small == "mass in liquid":
            lost = known_factor(low / high, "mass")[1]
            hint = "are the two cells swapped, or was a sinker weighed with it?"
            hint += f" or {lost}?" if low > 2 * high and lost else ""
            if low > OTHER_UNIT * high:
                hint = "is the unit in one of the two headings wrong?"
        elif small in RESIDUES:
            hint = OUTWEIGHS
        else:
            hint = "are cells swapped or mistyped?"
        yield _disordered(coupon, place, relation, other, hint)
    whole, residue = "mass in air", "residue mass"
    weighed_once = coupon.has(residue, whole) and not coupon.has("specimen mass")
    if weighed_once and coupon.mean(residue) >= coupon.mean(whole):
        yield _disordered(coupon, residue, "below", whole, OUTWEIGHS)


def _disordered(coupon: Coupon, column: str, relation: str, other: str, hint: str) -> Problem:
    """A reading that is not 'below' or 'above' another."""
    where, expected = f"not {relation} {other}", f"{column} {relation} {other}"
    cells = coupon.text(column), coupon.text(other)
    return wrong_order(coupon.file, coupon.place(column), cells[0], where, cells[1], expected, hint)


def margin_of(gauge: Gauge | None) -> float:
    """How far inside the range of the water formula a temperature must lie [K]; gauge: of the thermometer."""
    spreads = (gauge.repeatability, gauge.calibration) if gauge else ()
    return max(0.0, WIDE * math.hypot(*(spread.u for spread in spreads if spread is not None)) - BEYOND)


def maybe_disordered(x: Mapping[str, Any], count: int, margin: float) -> Any:
    """Rows (n,) whose weighings or water may be what `impossible` finds: a few more, never fewer.

    x: means by column (n,) [SI], NaN where there is none; count: of rows; margin: as of `margin_of`.
    """
    mask = np.zeros(count, bool)
    held = ~np.isnan(x.get("sinker mass in liquid", np.nan))
    for small, large, *_ in (*ORDERS, ("residue mass", "mass in air")):
        if small in x and large in x:
            mask |= (x[small] >= x[large] * LOOSE) & (~held if small == "mass in liquid" else True)
    if "mass in liquid" in x:
        mask |= x["mass in liquid"] <= 0.0
        if "sinker mass in liquid" in x and "mass in air" in x:
            lifted = x["mass in air"] + x["sinker mass in liquid"]
            mask |= lifted <= x["mass in liquid"] * (2.0 - LOOSE)
    if "liquid temperature" in x:
        water = x["liquid temperature"]
        mask |= (water <= COLDEST + margin + 1e-6) | (water >= HOTTEST - margin - 1e-6)
    return mask


def density_bounds(recipe: Recipe) -> tuple[float, float]:
    """Least and largest density [kg/m^3]: half the lightest constituent, and the densest; else a slip."""
    return 0.5 * recipe.constituents.lightest, 1.01 * recipe.constituents.heaviest


def maybe_no_laminate(results: Results, recipe: Recipe, count: int) -> Any:
    """Rows (n,) whose attributes may be what `impossible` finds: a few more, never fewer."""
    low, high = density_bounds(recipe)
    mask = np.zeros(count, bool)
    for (attribute, method), value in results.items():
        if attribute == "density":
            mask |= ~((value >= low * (2.0 - LOOSE)) & (value <= high * LOOSE))
        elif attribute == "fiber_content" or (attribute, method) == ("fiber_volume", AREAL):
            mask |= ~((value >= 0.0) & (value <= LOOSE))
        elif (attribute, method) == ("resin_content", EXTRACTION):
            mask |= ~((value > 1e-9) & (value < LOOSE))
    return mask


def _in_liquid(coupon: Coupon) -> Iterable[Problem]:
    """What floats, and what weighs more in the liquid than it can."""
    if coupon.mean("mass in liquid") <= 0.0:
        floats, hint = "a coupon that floats", "weigh it with a sinker, and fill in 'sinker mass in liquid'"
        if coupon.has("sinker mass in liquid"):
            floats, hint = f"{floats} with its sinker", "weigh it with a heavier sinker"
        mass_text, expected = f"'{coupon.text('mass in liquid')}', {floats}", "a mass above 0 in the liquid"
        yield coupon.problem("specimen-floats", "mass in liquid", mass_text, expected, hint)
    if coupon.has("sinker mass in liquid", "mass in air"):
        alone = coupon.mean("mass in air") + coupon.mean("sinker mass in liquid")
        if alone - coupon.mean("mass in liquid") <= 0.0:
            cell, other = coupon.text("mass in liquid"), coupon.text("sinker mass in liquid")
            relation = "not below the mass in air and the sinker's"
            expected, place = "coupon, sinker and wire weighed together in the liquid", "mass in liquid"
            yield wrong_order(coupon.file, coupon.place(place), cell, relation, other, expected)


def _liquid(coupon: Coupon, bench: Bench) -> Iterable[Problem]:
    if not coupon.has("mass in liquid"):
        return
    yield from _in_liquid(coupon)
    if coupon.has("liquid density") or bench.liquid_density is not None:
        return
    margin = margin_of(bench.gauge_of("liquid temperature", coupon))
    if bench.liquid != "water":
        expected = "its density in this column, or liquid_density in the batch file"
        beside = f"the liquid '{bench.liquid}', which is not 'water'"
        yield missing_reading(coupon, "mass in liquid", "liquid density", beside, expected)
    elif not coupon.has("liquid temperature"):
        expected = "the temperature of the water, or a 'liquid density'"
        yield missing_reading(coupon, "mass in liquid", "liquid temperature", "a mass in water", expected)
    elif not COLDEST + margin <= round(coupon.mean("liquid temperature"), ROUNDED) <= HOTTEST - margin:
        read, mean = coupon.text("liquid temperature"), coupon.mean("liquid temperature")
        temperature_text = Said(f"water at '{read}', ", Figure(mean, DEG_C))
        included = ", the uncertainty of the thermometer included" if margin else ""
        expected = Said("water from ", between(COLDEST, HOTTEST, DEG_C), included)
        hint = "is the unit in the heading right? for another liquid give its density"
        yield coupon.problem("water-temperature", "liquid temperature", temperature_text, expected, hint)


def awaited(coupon: Coupon) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The last reading of each sequence that a coupon has begun, and those that come after it.

    A blank without readings has begun with its name.
    """
    for sequence in SEQUENCES:
        there = [column for column in sequence if coupon.has(column)]
        if sequence[0] == "specimen mass" and coupon.has(*CRUCIBLE):
            continue
        least = 2 if sequence[-1] == "mass in liquid" else 1
        if least <= len(there) < len(sequence) and _begun(coupon, sequence):
            yield there[-1], sequence[len(there) :]
    if coupon.kind in LOSS_BLANKS and not coupon.numbers:  # as `sheet` writes it
        yield "specimen", SEQUENCES[-1]


def missing_reading(coupon: Coupon, place: str, column: str, beside: str, expected: str) -> Problem:
    """A cell that must not be empty beside another; column: one, or several with quotes between."""
    return coupon.problem(MISSING, place, f"no '{column}' beside {beside}", expected)


def waiting(coupon: Coupon) -> list[Problem]:
    """What a coupon still waits for."""
    return [
        coupon.problem(MISSING, last, f"waits for {' and '.join(map(repr, columns))}", "")
        for last, columns in awaited(coupon)
    ]


def _begun(coupon: Coupon, columns: tuple[str, ...]) -> bool:
    """Whether the first of the columns are there, and none that comes after one that is not."""
    there = [column for column in columns if coupon.has(column)]
    return tuple(there) == columns[: len(there)]


def _incomplete(coupon: Coupon) -> Iterable[Problem]:
    missing = [column for column in CRUCIBLE if not coupon.has(column)]
    if _begun(coupon, CRUCIBLE) and 0 < len(missing) < 3:
        return
    if 0 < len(missing) < 3 and not coupon.has("residue mass"):
        there = next(column for column in CRUCIBLE if coupon.has(column))
        expected = "the crucible empty, then with the specimen, then with the residue"
        yield missing_reading(coupon, there, "' and '".join(missing), f"'{there}'", expected)
    if coupon.kind in LOSS_BLANKS and coupon.numbers and missing and not coupon.has("specimen mass"):
        expected = "the masses of coupon and residue, or the three of the crucible"
        yield missing_reading(coupon, "specimen", "specimen mass", f"a {coupon.kind}", expected)


def _alone(coupon: Coupon) -> Iterable[Problem]:
    """Readings that say nothing without another that is missing."""
    for column, ways in NEEDED.items():
        if not coupon.has(column) or any(coupon.has(*way) for way in ways):
            continue
        if column == "saturated mass" and coupon.has("dry mass"):
            continue
        wanted = "' or '".join("' and '".join(name for name in way if not coupon.has(name)) for way in ways)
        yield missing_reading(coupon, column, wanted, f"'{column}'", "the readings that go together")
    if coupon.kind == "check standard" and coupon.numbers and not coupon.has("density"):
        yield missing_reading(coupon, "kind", "density", "a check standard", "its stated density")


def _counts(coupon: Coupon) -> Iterable[Problem]:
    for field in coupon.fields:
        counts = {"points": field.points, "fiber points": field.fiber, "void points": field.void}
        for column, count in counts.items():
            if count is not None and (2.0 * count) % 1.0:
                expected = f"whole points in field '{field.name}', or halves for those on an edge"
                text, place = f"{count:g} points", field.places[column]
                yield Problem("impossible-value", coupon.file, place, f"'{text}'", expected)


def _burning(coupon: Coupon, recipe: Recipe) -> Iterable[Problem]:
    burnt = coupon.kind == "specimen" and coupon.word("method") == "ignition"
    if burnt and "aramid" in recipe.constituents.fiber_kinds:
        hint = "aramid burns away with the matrix: the residue is not its fiber"
        yield coupon.problem("aramid-burnt", "method", "ignition of aramid fiber", "digestion", hint)


def impossible(coupon: Coupon, bench: Bench, recipe: Recipe) -> list[Problem]:
    """Every finding in a coupon's readings that no laminate could give."""
    problems = [
        *_orders(coupon, bench),
        *_liquid(coupon, bench),
        *_incomplete(coupon),
        *_alone(coupon),
        *_counts(coupon),
        *_burning(coupon, recipe),
    ]
    plan = plan_of(coupon, bench)
    if not problems and coupon.kind == "specimen":
        problems += _no_laminate(coupon, plan, bench, recipe)
    return [coupon.located(problem) for problem in problems]


def _no_laminate(coupon: Coupon, plan: Plan, bench: Bench, recipe: Recipe) -> Iterator[Problem]:
    """Readings of which each may be, and that no laminate gives together."""
    x: dict[Name, float] = {column: coupon.mean(column) for column in needed(plan) if coupon.has(column)}
    x |= {name: value.value for name, value in constants_of(plan, recipe, bench, [coupon]).items()}
    computed = attributes(x, plan, recipe)
    low, high = density_bounds(recipe)
    rho = float(computed["density", plan.density]) if plan.density else low
    if not low <= rho <= high:
        column = DENSITY_COLUMNS[plan.density][-1]
        names = [name for name in needed(plan) if coupon.has(name)]
        cells = [f"'{coupon.text(n)}' ({n})" for n in names if not n.startswith(("resid", "crucible"))]
        density_text = Said("a density of ", Figure(rho, G_CM3), f" from {', '.join(cells)}")
        expected = Said("from ", between(low, high, G_CM3, 3), ", which the constituents allow")
        hint = "weigh again: are cells swapped, or a digit or unit wrong?"
        yield coupon.problem("impossible-density", column, density_text, expected, hint)
    yield from _contents(coupon, plan, computed, x, bench)


def _contents(coupon: Coupon, plan: Plan, contents: Results, x: Inputs, bench: Bench) -> Iterator[Problem]:
    """More fiber than there is room or mass for, or less than none: by loss of matrix, and by thickness."""
    content = float(contents.get(("fiber_content", plan.loss), 0.0))
    column = "crucible with residue" if plan.crucible else "residue mass"
    if content > 1.0 or (content < 0.0 and _unlike_neat_resin(coupon, column, plan, x, bench)):
        hint = "weigh again: is the residue that of another specimen, or a blank or a digit wrong?"
        expected = "less than 100 %" if content > 1.0 else "more than 0 %"
        yield _too_much(coupon, column, "fiber content", f"{100.0 * content:.4g} %", expected, hint)
    resin = float(contents.get(("resin_content", EXTRACTION), 0.5))
    if not 0.0 < resin < 1.0:
        hint = "weigh again: are cells swapped, or a digit or a unit wrong?"
        percent = f"{100.0 * resin:.4g} %"
        yield _too_much(coupon, "fiber mass", "resin content", percent, "from 0 to 100 %", hint)
    volume = float(contents.get(("fiber_volume", AREAL), 0.0))
    if volume > 1.0:
        thickness, taken = Figure(x["thickness"], MM), Figure(volume * x["thickness"], MM)
        expected = Said("more than ", taken, ", which the fibers of its plies alone take")
        factor = factor_words(volume / LIKELY_VOLUME, "length")
        again = "measure again: is a digit, the unit or the count of plies wrong?"
        hint = "; ".join(filter(None, (factor, again)))
        yield _too_much(coupon, "thickness", "thickness", thickness, expected, hint)


def _unlike_neat_resin(coupon: Coupon, column: str, plan: Plan, x: Inputs, bench: Bench) -> bool:
    """Whether the residue in a column is not what neat resin leaves, within the scatter of both."""
    specimen, residue = (float(mass) for mass in loss_masses(x, plan))
    weighed = reading_scatter(coupon, column, bench) / specimen
    noise = NOISE * math.hypot(bench.residue_share.u or 0.0, weighed)
    return abs(residue / specimen - float(x["residue share"])) > noise


def _too_much(
    coupon: Coupon, column: str, what: str, figure: Figure | str, expected: str, hint: str
) -> Problem:
    """A figure that no laminate has; what: its name, figure: its value."""
    figure_text = Said(f"a {what} of ", figure, f" from '{coupon.text(column)}'")
    return coupon.problem("impossible-content", column, figure_text, expected, hint)


def unlikely(coupon: Coupon, plan: Plan, bench: Bench, recipe: Recipe) -> Iterator[Problem]:
    """Warnings about how a coupon was measured."""
    if plan.loss and not coupon.word("method"):
        expected = "'ignition' or 'digestion' in the column 'method'"
        yield coupon.problem("method-not-stated", "specimen", "a loss of matrix without its method", expected)
    blank = bench.fiber_loss.u is not None or bench.fiber_loss.value != 0.0
    if plan.loss == "ignition" and "carbon" in recipe.constituents.fiber_kinds and not blank:
        burnt, expected = "ignition of carbon fiber without a blank", "a blank run on bare fiber"
        hint = "carbon oxidizes: the fiber content reads low"
        yield coupon.problem("carbon-burnt", "method", burnt, expected, hint)
