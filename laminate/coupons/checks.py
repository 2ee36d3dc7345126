"""Readings that cannot be, seen while the specimen can still be weighed again.

`impossible` returns problems: nothing is computed until the cell is mended or the row excluded with a reason.
`suspects` marks by the same checks the rows of a table of which it would. `unlikely` returns warnings,
which stay in the report.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.listed import means_of
from laminate.coupons.methods import (
    AREAL,
    BEYOND,
    DENSITY_COLUMNS,
    EXTRACTION,
    Plan,
    attributes,
    loss_masses,
)
from laminate.coupons.readings import COLDEST, CRUCIBLE, HOTTEST, constants_of, needed, plan_of
from laminate.coupons.recipes import Inputs, Recipe
from laminate.coupons.slips import factor_words, known_factor
from laminate.coupons.table_checks import reading_scatter
from laminate.files.coupons import Coupon, Field, base_name
from laminate.values.problems import Problem, wrong_order
from laminate.values.quantities import DEG_C, G_CM3, MM
from laminate.values.said import Figure, Said, between

if TYPE_CHECKING:
    from laminate.coupons.grouped import Alike
    from laminate.files.plain_table import CouponTable


Fault = tuple[Any, Callable[[], Problem]]
"""Whether readings cannot be, of each row (n,) or of all, and the finding about a single coupon."""


class Readings(NamedTuple):
    """Rows that have the same readings, or one coupon alone.

    first: the coupon of the first, or the one; x: means of the readings by column (n,) or numbers [SI].
    """

    first: Coupon
    x: dict[str, Any]
    bench: Bench
    recipe: Recipe


class Order(NamedTuple):
    """Of two masses the one below the other; level: it may equal it; later: the larger is weighed later.

    A finding stands at the one that is weighed later. unless: a reading beside which they may lie otherwise.
    """

    small: str
    large: str
    level: bool = False
    later: bool = False
    unless: str = ""


ORDERS = (
    Order("mass in liquid", "mass in air", unless="sinker mass in liquid"),
    Order("mass in liquid", "saturated mass", unless="sinker mass in liquid"),
    Order("dry mass", "saturated mass", level=True, later=True),
    Order("crucible mass", "crucible with residue", level=True, later=True),
    Order("crucible with residue", "crucible with specimen"),
    Order("crucible mass", "crucible with specimen", later=True),
    Order("residue mass", "specimen mass"),
    Order("fiber mass", "prepreg mass"),
    Order("dried mass", "prepreg mass", level=True),
    Order("backing mass", "prepreg mass"),
    Order("fiber mass", "dried mass"),
    Order("residue mass", "mass in air", unless="specimen mass"),
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
ROUNDING = 5e-10
LIKELY_VOLUME = 0.6
"""Fiber volume that a slip of a factor is told against (common practice, no source)."""
OTHER_UNIT = 30.0
"""Times the mass in air from which a mass in liquid is one in another unit (common practice, no source)."""
RESIDUES = ("crucible with residue", "residue mass")
LOSS_BLANKS = ("blank fiber", "blank resin")


def _orders(rows: Readings) -> Iterator[Fault]:
    coupon, x = rows.first, rows.x
    for order in ORDERS:
        if not coupon.has(order.small, order.large) or coupon.has(order.unless):
            continue
        low, high = x[order.small], x[order.large]
        if order.level or coupon.kind in LOSS_BLANKS:
            masses = (order.small, order.large)
            scatter = (reading_scatter(coupon, name, rows.bench, x[name]) for name in masses)
            low = low - np.minimum(NOISE * np.hypot(*scatter), ALIKE * high)
        yield low >= high, partial(_disordered, coupon, order)


def _disordered(coupon: Coupon, order: Order) -> Problem:
    small, large = order.small, order.large
    column, relation, other = (large, "above", small) if order.later else (small, "below", large)
    hint = OUTWEIGHS if small in RESIDUES else "are cells swapped or mistyped?"
    if small == "mass in liquid":
        ratio = coupon.mean(small) / coupon.mean(large)
        lost = known_factor(ratio, "mass")[1]
        hint = "are the two cells swapped, or was a sinker weighed with it?"
        hint += f" or {lost}?" if ratio > 2.0 and lost else ""
        if ratio > OTHER_UNIT:
            hint = "is the unit in one of the two headings wrong?"
    return _other_order(coupon, column, f"{relation} {other}", other, f"{column} {relation} {other}", hint)


def _other_order(
    coupon: Coupon, column: str, relation: str, other: str, expected: str, hint: str = ""
) -> Problem:
    """A reading that does not stand to others as it must; other: the column whose cell is shown beside it."""
    cells = coupon.text(column), f"not {relation}", coupon.text(other)
    return wrong_order(coupon.file, coupon.place(column), *cells, expected, hint)


def _in_liquid(rows: Readings) -> Iterator[Fault]:
    """What floats, and what weighs more in the liquid than it can."""
    coupon, x = rows.first, rows.x
    if coupon.has("mass in liquid"):
        yield x["mass in liquid"] <= 0.0, partial(_floating, coupon)
    if coupon.has("mass in liquid", "sinker mass in liquid", "mass in air"):
        beside, relation = "sinker mass in liquid", "below the mass in air and the sinker's"
        expected = "coupon, sinker and wire weighed together in the liquid"
        lost = x["mass in air"] + x[beside] - x["mass in liquid"]
        yield lost <= 0.0, partial(_other_order, coupon, "mass in liquid", relation, beside, expected)


def _of_prepreg(rows: Readings) -> Iterator[Fault]:
    """What weighs more than the prepreg did without its backing."""
    coupon, x = rows.first, rows.x
    for column, most in (("fiber mass", 1.0 - 1e-9), ("dried mass", 1.0 + ALIKE)):
        if coupon.has("prepreg mass", "backing mass", column):
            whole, reading = x["prepreg mass"], x[column]
            net, relation = (
                whole - x["backing mass"],
                "below the prepreg mass less its backing of",
            )
            wrong = (reading > most * net) & (reading < whole) & (net > 0.0)
            hint = "was it weighed with its backing, or is a cell mistyped?"
            expected = f"{column} below prepreg mass minus backing mass"
            yield wrong, partial(_other_order, coupon, column, relation, "backing mass", expected, hint)


def _floating(coupon: Coupon) -> Problem:
    floats, hint = "a coupon that floats", "weigh it with a sinker, and fill in 'sinker mass in liquid'"
    if coupon.has("sinker mass in liquid"):
        floats, hint = f"{floats} with its sinker", "weigh it with a heavier sinker"
    mass_text, expected = f"'{coupon.text('mass in liquid')}', {floats}", "a mass above 0 in the liquid"
    return coupon.problem("specimen-floats", "mass in liquid", mass_text, expected, hint)


def _liquid(rows: Readings) -> Iterator[Fault]:
    coupon, bench = rows.first, rows.bench
    stated = coupon.has("liquid density") or bench.liquid_density is not None
    if stated or not coupon.has("mass in liquid"):
        return
    if bench.liquid != "water":
        expected = "its density in this column, or liquid_density in the batch file"
        beside = f"the liquid '{bench.liquid}', which is not 'water'"
        yield _missing(coupon, "mass in liquid", "liquid density", beside, expected)
    elif not coupon.has("liquid temperature"):
        expected = "the temperature of the water, or a 'liquid density'"
        yield _missing(coupon, "mass in liquid", "liquid temperature", "a mass in water", expected)
    else:
        water, margin = rows.x["liquid temperature"], _margin(bench.gauge_of("liquid temperature", coupon))
        inside = COLDEST + margin - ROUNDING, HOTTEST - margin + ROUNDING
        yield (water < inside[0]) | (water > inside[1]), partial(_not_water, coupon, margin)


def _margin(gauge: Gauge) -> float:
    """How far inside the range of the water formula a temperature must lie [K]; gauge: of the thermometer."""
    spreads = (spread.u for spread in (gauge.repeatability, gauge.calibration) if spread is not None)
    return max(0.0, WIDE * math.hypot(*spreads) - BEYOND)


def _not_water(coupon: Coupon, margin: float) -> Problem:
    read, mean = coupon.text("liquid temperature"), coupon.mean("liquid temperature")
    temperature_text = Said(f"water at '{read}', ", Figure(mean, DEG_C))
    included = ", the uncertainty of the thermometer included" if margin else ""
    expected = Said("water from ", between(COLDEST, HOTTEST, DEG_C), included)
    hint = "is the unit in the heading right? for another liquid give its density"
    return coupon.problem("water-temperature", "liquid temperature", temperature_text, expected, hint)


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


def _missing(coupon: Coupon, place: str, column: str, beside: str, expected: str) -> Fault:
    """The same of all rows that have the same readings."""
    return True, partial(missing_reading, coupon, place, column, beside, expected)


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


def _incomplete(rows: Readings) -> Iterator[Fault]:
    coupon = rows.first
    missing = [column for column in CRUCIBLE if not coupon.has(column)]
    if _begun(coupon, CRUCIBLE) and 0 < len(missing) < 3:
        return
    if 0 < len(missing) < 3 and not coupon.has("residue mass"):
        there = next(column for column in CRUCIBLE if coupon.has(column))
        expected = "the crucible empty, then with the specimen, then with the residue"
        yield _missing(coupon, there, "' and '".join(missing), f"'{there}'", expected)
    if coupon.kind in LOSS_BLANKS and coupon.numbers and missing and not coupon.has("specimen mass"):
        expected = "the masses of coupon and residue, or the three of the crucible"
        yield _missing(coupon, "specimen", "specimen mass", f"a {coupon.kind}", expected)


def _alone(rows: Readings) -> Iterator[Fault]:
    """Readings that say nothing without another that is missing."""
    coupon = rows.first
    for column, ways in NEEDED.items():
        if not coupon.has(column) or any(coupon.has(*way) for way in ways):
            continue
        if column == "saturated mass" and coupon.has("dry mass"):
            continue
        wanted = "' or '".join("' and '".join(name for name in way if not coupon.has(name)) for way in ways)
        yield _missing(coupon, column, wanted, f"'{column}'", "the readings that go together")
    if coupon.kind == "check standard" and coupon.numbers and not coupon.has("density"):
        yield _missing(coupon, "kind", "density", "a check standard", "its stated density")


def _counts(rows: Readings) -> Iterator[Fault]:
    for field in rows.first.fields:
        counts = {"points": field.points, "fiber points": field.fiber, "void points": field.void}
        for column, count in counts.items():
            if count is not None and (2.0 * count) % 1.0:
                yield (
                    True,
                    partial(_not_whole, rows.first, field, f"'{count:g} points'", field.places[column]),
                )


def _not_whole(coupon: Coupon, field: Field, text: str, place: str) -> Problem:
    expected = f"whole points in field '{field.name}', or halves for those on an edge"
    return Problem("impossible-value", coupon.file, place, text, expected)


def _burning(rows: Readings) -> Iterator[Fault]:
    burnt = rows.first.kind == "specimen" and rows.first.word("method") == "ignition"
    yield burnt and "aramid" in rows.recipe.constituents.fiber_kinds, partial(_burnt_away, rows.first)


def _burnt_away(coupon: Coupon) -> Problem:
    hint = "aramid burns away with the matrix: the residue is not its fiber"
    return coupon.problem("aramid-burnt", "method", "ignition of aramid fiber", "digestion", hint)


def _no_laminate(rows: Readings) -> Iterator[Fault]:
    """Readings of which each may be, and that no laminate gives together."""
    coupon, bench, recipe = rows.first, rows.bench, rows.recipe
    plan = plan_of(coupon, bench)
    x: dict[Any, Any] = {name: rows.x[name] for name in needed(plan) if coupon.has(name)}
    x |= {name: value.value for name, value in constants_of(plan, recipe, bench, [coupon]).items()}
    computed = attributes(x, plan, recipe)
    if plan.density:
        rho, made_of = computed["density", plan.density], recipe.constituents
        low, high = 0.5 * made_of.lightest, 1.01 * made_of.heaviest  # beyond these it is a slip
        wrong = np.logical_not((low <= rho) & (rho <= high))
        yield wrong, partial(_no_density, coupon, plan, rho, (low, high))
    if plan.loss:
        content = computed["fiber_content", plan.loss]
        column = "crucible with residue" if plan.crucible else "residue mass"
        wrong = (content > 1.0) | (content < 0.0)
        if np.any(content < 0.0):
            wrong &= (content > 0.0) | _unlike_neat_resin(coupon, column, plan, x, bench)
        yield wrong, partial(_no_content, coupon, column, content)
    if (resin := computed.get(("resin_content", EXTRACTION))) is not None:
        wrong = np.logical_not((resin > 0.0) & (resin < 1.0))
        hint = "weigh again: are cells swapped, or a digit or a unit wrong?"
        of_resin = "resin content", resin, "from 0 to 100 %", hint
        yield wrong, partial(_too_much, coupon, "fiber mass", *of_resin)
    if (volume := computed.get(("fiber_volume", AREAL))) is not None:
        yield volume > 1.0, partial(_too_thin, coupon, volume)


def _no_density(coupon: Coupon, plan: Plan, rho: float, within: tuple[float, float]) -> Problem:
    names = [name for name in needed(plan) if coupon.has(name)]
    cells = [f"'{coupon.text(n)}' ({n})" for n in names if not n.startswith(("resid", "crucible"))]
    density_text = Said("a density of ", Figure(rho, G_CM3), f" from {', '.join(cells)}")
    expected = Said("from ", between(*within, G_CM3, 3), ", which the constituents allow")
    hint = "weigh again: are cells swapped, or a digit or unit wrong?"
    column = DENSITY_COLUMNS[plan.density][-1]
    return coupon.problem("impossible-density", column, density_text, expected, hint)


def _no_content(coupon: Coupon, column: str, content: float) -> Problem:
    hint = "weigh again: is the residue that of another specimen, or a blank or a digit wrong?"
    expected = "less than 100 %" if content > 1.0 else "more than 0 %"
    return _too_much(coupon, column, "fiber content", content, expected, hint)


def _unlike_neat_resin(coupon: Coupon, column: str, plan: Plan, x: Inputs, bench: Bench) -> Any:
    """Whether the residue in a column is not what neat resin leaves, within the scatter of both."""
    specimen, residue = loss_masses(x, plan)
    weighed = reading_scatter(coupon, column, bench, x[column]) / specimen
    noise = NOISE * np.hypot(bench.residue_share.u or 0.0, weighed)
    return abs(residue / specimen - x["residue share"]) > noise


def _too_thin(coupon: Coupon, volume: float) -> Problem:
    """More fiber than there is room for."""
    thickness = coupon.mean("thickness")
    taken = Figure(volume * thickness, MM)
    expected = Said("more than ", taken, ", which the fibers of its plies alone take")
    factor = factor_words(volume / LIKELY_VOLUME, "length")
    again = "measure again: is a digit, the unit or the count of plies wrong?"
    hint = "; ".join(filter(None, (factor, again)))
    return _too_much(coupon, "thickness", "thickness", Figure(thickness, MM), expected, hint)


def _too_much(
    coupon: Coupon, column: str, what: str, figure: Figure | float, expected: str, hint: str
) -> Problem:
    """A figure that no laminate has; what: its name, figure: its value, or a share."""
    shown = figure if isinstance(figure, Figure) else f"{100.0 * figure:.4g} %"
    figure_text = Said(f"a {what} of ", shown, f" from '{coupon.text(column)}'")
    return coupon.problem("impossible-content", column, figure_text, expected, hint)


CHECKS: tuple[Callable[[Readings], Iterator[Fault]], ...] = (
    _orders,
    _in_liquid,
    _of_prepreg,
    _liquid,
    _incomplete,
    _alone,
    _counts,
    _burning,
)
"""What no coupon can read; a check that is added stops a single coupon, large tables and frames alike."""


def impossible(coupon: Coupon, bench: Bench, recipe: Recipe) -> list[Problem]:
    """Every finding in a coupon's readings that no laminate could give."""
    means = {name: coupon.mean(name) for name in map(base_name, coupon.numbers)}
    rows = Readings(coupon, means, bench, recipe)
    problems = [say() for check in CHECKS for wrong, say in check(rows) if wrong]
    if not problems and coupon.kind == "specimen":
        problems = [say() for wrong, say in _no_laminate(rows) if wrong]
    return [coupon.located(problem) for problem in problems]


def suspects(table: CouponTable, alike: Sequence[Alike], bench: Bench) -> Any:
    """The rows (n,) of specimens of which `impossible` finds something, by the same checks."""
    mask = np.zeros(len(table), bool)
    with np.errstate(all="ignore"):
        for part in alike:
            rows = Readings(part.first, means_of(table, part.first, part.rows), bench, part.made.recipe)
            for check in CHECKS:
                for wrong, _ in check(rows):
                    mask[part.rows] |= wrong
            if "liquid temperature" in rows.x:  # beyond these ends it is found already
                rows.x["liquid temperature"] = np.clip(rows.x["liquid temperature"], COLDEST, HOTTEST)
            for wrong, _ in _no_laminate(rows):
                mask[part.rows] |= wrong
    return mask


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
