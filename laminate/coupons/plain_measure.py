"""A large plain table measured by columns: the same answer as coupon by coupon, in less time and memory."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.blanks import split_blanks
from laminate.coupons.checks import impossible, unlikely, waiting
from laminate.coupons.comparisons import readings_of
from laminate.coupons.copied import untold_words
from laminate.coupons.discrepancies import Discrepancy, discrepancies
from laminate.coupons.doubt_reasons import about
from laminate.coupons.evaluation import OUTLIERS_FROM, check_notes, row_of, scatter_notes
from laminate.coupons.measured import Outlier, ZoneResult
from laminate.coupons.measurement import Measurement
from laminate.coupons.mistakes import told_better
from laminate.coupons.peers import MANY
from laminate.coupons.plain_checks import Unlike, copies_of, maybe_impossible, table_warnings
from laminate.coupons.plain_group import (
    Group,
    adjust_group,
    averaged,
    disagreeing,
    evaluate,
    plain_group,
    without_repeats,
)
from laminate.coupons.pooling import pooling_words
from laminate.coupons.resolution import plain_steps
from laminate.coupons.swaps import MOST, find_swaps
from laminate.files.coupons import base_name
from laminate.formulas.statistics import critical_normed_residual, normed_residuals
from laminate.values.averages import Average, over_zones
from laminate.values.input_key import in_words
from laminate.values.problems import Problem, Refused

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.recipes import Recipe
    from laminate.files.plain_table import PlainTable


@dataclass
class PlainMeasurement:
    """What a plain table says: its measurement, its specimens as a group, warnings by row."""

    measurement: Measurement
    group: Group
    warnings: dict[int, list[Problem]] = field(default_factory=dict)


def measure_plain(
    table: PlainTable,
    bench: Bench,
    recipe_of: Callable[[int | None], Recipe],
    plies: int | None,
    confidence: float,
) -> PlainMeasurement | None:
    """Evaluate a plain table as `evaluation.measure` does, None where columns cannot tell all of it.

    recipe_of: recipe of a count of plies; plies: of every coupon, where the table does not say. Raises
    `Refused` with every impossible reading.
    """
    group = _group(table, bench, recipe_of, plies)
    if group is None:
        return None
    problems = [
        problem
        for at in np.flatnonzero(maybe_impossible(group)).tolist()
        for problem in impossible(group[at].coupon, group.bench, group.recipe)
    ]
    if problems:
        raise Refused(sorted(dict.fromkeys(problems), key=row_of))
    group.made.clear()
    left_out: dict[str, set[int]] = {}
    while True:
        if not evaluate(group, confidence) or not group.figures.value:
            return None
        warnings = _warnings(group)
        if warnings is None:
            return None
        doubted = _doubted_repeats(group, warnings)
        if all(rows <= left_out.get(column, set()) for column, rows in doubted.items()):
            break
        for column, rows in doubted.items():
            left_out.setdefault(column, set()).update(rows)
        group = without_repeats(group, left_out)
    apart = [
        discrepancy for at in disagreeing(group) for discrepancy in discrepancies(group[at], group.bench)
    ]
    return PlainMeasurement(_measurement(group, apart, confidence, left_out), group, warnings)


def _group(
    table: PlainTable, bench: Bench, recipe_of: Callable[[int | None], Recipe], plies: int | None
) -> Group | None:
    """The rows as one group; None where these are not all of one recipe, or wait for something."""
    first = table.coupon(0)
    counted = table.columns.get("plies")
    if counted is not None:
        if (counted.cells != counted.cells[0]).any():
            return None
        plies = int(counted.number[0])
    if "method" in table.words and len(set(table.words["method"])) > 1:
        return None
    recipe = recipe_of(plies)
    problems: list[Problem] = []
    _, bench, notes, told = split_blanks([first], bench, problems)
    whole = [
        one for one in impossible(first, bench, recipe) if one.code in ("missing-reading", "aramid-burnt")
    ]
    if notes or told or problems or whole or waiting(first):
        return None
    basis = "as received" if first.has("dried mass") else "with volatiles"
    steps = plain_steps(table, bench)
    if steps is None:
        return None
    bench = replace(bench, steps=steps)
    group = plain_group(table, recipe, bench, basis)
    if group.plan.prepreg or unlikely(first, group.plan, bench, recipe):
        return None
    small = any(len(rows) <= MANY for rows in group.zones().values())
    return None if small else group


def _doubted_repeats(group: Group, warnings: dict[int, list[Problem]]) -> dict[str, set[int]]:
    """Repeated column -> the rows of which a doubt is about a reading of it."""
    columns = Counter(map(base_name, group.table.columns))
    doubted: dict[str, set[int]] = {}
    for at, mine in warnings.items():
        for warning in mine:
            column = base_name(about(group[at].coupon, warning)[0])
            if columns[column] > 1:
                doubted.setdefault(column, set()).add(at)
    return doubted


def _warnings(group: Group) -> dict[int, list[Problem]] | None:
    """Row -> its warnings, in the order in which `mistakes.warn` puts them."""
    unlike, cells = Unlike(group), table_warnings(group)
    if not unlike.whole:
        return None
    mistakes = unlike.warnings()
    fitting = np.ones(len(group), bool)
    fitting[list(mistakes)] = False
    left = [rows[fitting[rows]].tolist() for rows in group.zones().values()]
    few = [at for rows in left if len(rows) <= MOST for at in rows]
    inputs = {at: readings_of(group[at], group.bench) for at in few}
    swaps = find_swaps(group, inputs, {at: unlike.quantities(at) for at in few})
    mistakes |= {at: [swapped] for at, swapped in swaps}
    problems: dict[int, list[Problem]] = {}
    for at in sorted({*cells, *mistakes}):
        mine = mistakes.get(at, [])
        looked = any(warning.code != "rows-alike" for warning in cells.get(at, ())) and mine
        kept = [w for w in cells.get(at, ()) if not looked or not told_better(w, group[at].coupon, mine)]
        problems[at] = [*kept, *mine]
    return problems


def _measurement(
    group: Group, discrepancies: list[Discrepancy], confidence: float, left_out: Mapping[str, set[int]]
) -> Measurement:
    zones = [_zone(group, zone, at, rows) for at, (zone, rows) in enumerate(group.zones().items())]
    whole = zones[0] if len(zones) == 1 else _whole(group, zones)
    notes = [f"{group.table.file}: {note}" for note in group.table.notes] + check_notes(group.checks)
    for at, (zone, rows) in enumerate(zip(zones, group.zones().values(), strict=True)):
        notes += scatter_notes(zone, _own_variances(group, zone, at, len(rows)))
    names = group.table.words["specimen"]
    told = {column: [names[at] for at in sorted(rows)] for column, rows in left_out.items()}
    notes += pooling_words(told) + untold_words(copies_of(group), len(group))
    return Measurement(
        [],
        [],
        zones,
        whole,
        [outlier for zone, rows in group.zones().items() for outlier in _outliers(group, zone, rows)],
        [],
        [*notes, *dict.fromkeys(group.recipe.notes)],
        [*in_words(dict.fromkeys(group.exact)).values()],
        confidence,
        None,
        group.bench,
        group.checks,
        discrepancies,
        adjust_group(group) if discrepancies else None,
    )


def _zone(group: Group, zone: str | None, at: int, rows: Any) -> ZoneResult:
    result = ZoneResult(zone, [])
    for attribute, key in group.best.items():
        result.methods[attribute] = key[1]
        result.averages[attribute] = averaged(group, key, at, rows)
        result.left_out[attribute] = 0
    return result


def _whole(group: Group, zones: list[ZoneResult]) -> ZoneResult:
    result = ZoneResult(None, [], methods=dict(zones[0].methods), left_out=dict(zones[0].left_out))
    for attribute, key in group.best.items():
        means: list[Average] = [zone.averages[attribute] for zone in zones]
        result.averages[attribute] = over_zones(means, group.figures.value[key].tolist())
    return result


def _own_variances(group: Group, zone: ZoneResult, at: int, count: int) -> dict[str, float]:
    variances: dict[str, float] = {}
    for attribute in zone.averages:
        own = [i for i, source in enumerate(group.sources) if not source.shared]
        variances[attribute] = float(group.figures.squares[group.best[attribute]][at][own].sum()) / count
    return variances


def _outliers(group: Group, zone: str | None, rows: Any) -> list[Outlier]:
    outliers: list[Outlier] = []
    for (attribute, method), column in group.figures.value.items():
        values = column[rows]
        if len(values) < OUTLIERS_FROM or values.max() == values.min():
            continue
        critical = critical_normed_residual(n=len(values))
        residuals = np.abs(normed_residuals(values=values))
        at = int(residuals.argmax())
        if residuals[at] > critical:
            name = group.table.words["specimen"][int(np.arange(len(group))[rows][at])]
            outliers.append(Outlier(attribute, zone, method, name, float(residuals[at]), critical))
    return outliers
