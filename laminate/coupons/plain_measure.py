"""A large plain table measured by columns: the same answer as coupon by coupon, in less time and memory."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.coupons.blanks import split_blanks
from laminate.coupons.checks import impossible, unlikely, waiting
from laminate.coupons.copied import untold_words
from laminate.coupons.discrepancies import Discrepancy, discrepancies
from laminate.coupons.doubt_reasons import about
from laminate.coupons.evaluation import check_notes, farthest, row_of, scatter_notes
from laminate.coupons.groups import evaluate
from laminate.coupons.measured import Outlier, ZoneResult
from laminate.coupons.measurement import Measurement
from laminate.coupons.methods import Key, preferred
from laminate.coupons.mistakes import beside_cells, told_of
from laminate.coupons.plain_checks import Unlike, copies_of, maybe_impossible, table_warnings
from laminate.coupons.plain_group import Grouped, Part, adjust_groups, averaged, disagreeing
from laminate.coupons.pooling import pooling_words
from laminate.coupons.resolution import plain_steps
from laminate.files.coupons import LOSS_METHODS, base_name
from laminate.values.averages import over_zones
from laminate.values.input_key import in_words
from laminate.values.problems import Problem, Refused

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.coupons.recipes import Recipe
    from laminate.files.plain_table import PlainTable


@dataclass
class PlainMeasurement:
    """What a plain table says: its measurement, its specimens in groups, warnings by row."""

    measurement: Measurement
    grouped: Grouped
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
    grouped = _grouped(table, bench, recipe_of, plies)
    if grouped is None:
        return None
    problems = [
        problem
        for at in np.flatnonzero(maybe_impossible(grouped)).tolist()
        for problem in impossible(grouped[at].coupon, grouped.bench, grouped[at].recipe)
    ]
    if problems:
        raise Refused(sorted(dict.fromkeys(problems), key=row_of))
    left_out: dict[str, set[int]] = {}
    while True:
        if left_out:
            grouped.read(left_out)
        evaluate(grouped.groups, confidence)
        if not all(group.figures.value for group in grouped.groups) or not grouped.alike:
            return None
        grouped.made.clear()
        unlike = Unlike(grouped)
        if not unlike.whole:
            return None
        warnings = beside_cells(table_warnings(grouped), told_of(unlike), grouped)
        doubted = _doubted_repeats(grouped, warnings)
        if all(rows <= left_out.get(column, set()) for column, rows in doubted.items()):
            break
        for column, rows in doubted.items():
            left_out.setdefault(column, set()).update(rows)
    apart = [
        discrepancy
        for at in disagreeing(grouped)
        for discrepancy in discrepancies(grouped[at], grouped.bench)
    ]
    return PlainMeasurement(_measurement(grouped, apart, confidence, left_out), grouped, warnings)


def _grouped(
    table: PlainTable, bench: Bench, recipe_of: Callable[[int | None], Recipe], plies: int | None
) -> Grouped | None:
    """The rows in groups of one recipe and method; None where these wait for something."""
    first = table.coupon(0)
    keys = np.zeros((2, len(table)))
    if "plies" in table.columns:
        keys[0] = table.columns["plies"].number
    if "method" in table.words:
        keys[1] = [LOSS_METHODS.index(word) for word in table.words["method"]]
    distinct, firsts, of = np.unique(keys, axis=1, return_index=True, return_inverse=True)
    order = np.argsort(firsts)
    counts = distinct[0, order].tolist()
    known = {counted: recipe_of(int(counted) or plies) for counted in dict.fromkeys(counts)}
    problems: list[Problem] = []
    _, bench, notes, warnings = split_blanks([first], bench, problems)
    steps = plain_steps(table, bench)
    if notes or warnings or problems or steps is None:
        return None
    bench = replace(bench, steps=steps)
    basis = "as received" if first.has("dried mass") else "with volatiles"
    grouped = Grouped(
        table, bench, [known[counted] for counted in counts], np.argsort(order)[of.reshape(-1)], basis
    )
    for group, first_coupon in zip(grouped.groups, grouped.firsts, strict=True):
        codes = ("missing-reading", "aramid-burnt")
        if any(problem.code in codes for problem in impossible(first_coupon, bench, group.recipe)) or waiting(
            first_coupon
        ):
            return None
        if group.plan.prepreg or unlikely(first_coupon, group.plan, bench, group.recipe):
            return None
    grouped.read({})
    return grouped


def _doubted_repeats(grouped: Grouped, warnings: dict[int, list[Problem]]) -> dict[str, set[int]]:
    """Repeated column -> the rows of which a doubt is about a reading of it."""
    columns = Counter(map(base_name, grouped.table.columns))
    doubted: dict[str, set[int]] = {}
    for at, mine in warnings.items():
        for warning in mine:
            column = base_name(about(grouped[at].coupon, warning)[0])
            if columns[column] > 1:
                doubted.setdefault(column, set()).add(at)
    return doubted


def _measurement(
    grouped: Grouped, discrepancies: list[Discrepancy], confidence: float, left_out: Mapping[str, set[int]]
) -> Measurement:
    parts, names = grouped.parts, grouped.table.words["specimen"]
    zones = [
        _averages([(at, zone_parts)], zone)
        for at, (zone, zone_parts) in enumerate(zip(grouped.zones, parts, strict=True))
    ]
    whole = zones[0] if len(zones) == 1 else _averages([*enumerate(parts)], None)
    checks = [check for group in grouped.groups for check in group.checks]
    notes = [f"{grouped.table.file}: {note}" for note in grouped.table.notes] + check_notes(checks)
    for at, (zone, zone_parts) in enumerate(zip(zones, parts, strict=True)):
        notes += scatter_notes(zone, _own_variances(zone_parts, zone, at))
    names_by_column = {column: [names[at] for at in sorted(rows)] for column, rows in left_out.items()}
    notes += pooling_words(names_by_column) + untold_words(copies_of(grouped), len(grouped))
    notes += dict.fromkeys(note for group in grouped.groups for note in group.recipe.notes)
    exact = dict.fromkeys(name for group in grouped.groups for name in group.exact)
    outliers = [
        outlier
        for zone, zone_parts in zip(grouped.zones, parts, strict=True)
        for outlier in _outliers(zone_parts, zone, names)
    ]
    return Measurement(
        [], [], zones, whole, outliers, [], notes, [*in_words(exact).values()], confidence, None,
        grouped.bench, checks, discrepancies, adjust_groups(grouped) if discrepancies else None,
    )  # fmt: skip


def _keys(parts: Iterable[Part]) -> list[Key]:
    return list(dict.fromkeys(key for group, _ in parts for key in group.figures.value))


def _averages(zones: Sequence[tuple[int, list[Part]]], name: str | None) -> ZoneResult:
    """The averages of a zone, or over several; zones: place and groups of each."""
    result = ZoneResult(name, [])
    every = sorted((part for _, parts in zones for part in parts), key=lambda part: int(part[0].rows[0]))
    count = sum(len(rows) for _, rows in every)
    for attribute, key in preferred(_keys(zones[0][1] if len(zones) == 1 else every)).items():
        zones_with_key = [
            (at, parts) for at, parts in zones if any(key in group.figures.value for group, _ in parts)
        ]
        values = [
            group.figures.value[key][rows]
            for _, parts in zones_with_key
            for group, rows in parts
            if key in group.figures.value
        ]
        means = [averaged(parts, key, at) for at, parts in zones_with_key]
        result.methods[attribute] = key[1]
        result.averages[attribute] = (
            means[0] if len(means) == 1 else over_zones(means, np.concatenate(values).tolist())
        )
        result.left_out[attribute] = count - sum(map(len, values))
    return result


def _own_variances(parts: Iterable[Part], zone: ZoneResult, at: int) -> dict[str, float]:
    variances: dict[str, float] = {}
    for attribute, mean in zone.averages.items():
        key, total = (attribute, zone.methods[attribute]), 0.0
        for group, _ in parts:
            if key in group.figures.value:
                own_sources = [i for i, source in enumerate(group.sources) if not source.shared]
                total += float(group.figures.squares[key][at][own_sources].sum())
        variances[attribute] = total / mean.n
    return variances


def _outliers(parts: Sequence[Part], zone: str | None, names: Sequence[str]) -> Iterator[Outlier]:
    for key in _keys(parts):
        parts_with_key = [(group, rows) for group, rows in parts if key in group.figures.value]
        places = np.concatenate([group.rows[rows] for group, rows in parts_with_key])
        values = np.concatenate([group.figures.value[key][rows] for group, rows in parts_with_key])[
            np.argsort(places)
        ]
        if far := farthest(values.tolist()):
            yield Outlier(key[0], zone, key[1], names[int(np.sort(places)[far[0]])], *far[1:])
