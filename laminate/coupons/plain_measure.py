"""A large plain table measured by columns: the same answer as coupon by coupon, in less time and memory."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.adjustment import solved
from laminate.coupons.blanks import Masses, blamed_on, masses_of, open_doubts, untold_blanks, with_blanks
from laminate.coupons.checks import MISSING, impossible, unlikely, waiting
from laminate.coupons.copied import FEW, untold_words
from laminate.coupons.doubt_reasons import answer
from laminate.coupons.evaluation import Chooser, check_notes, row_of, waiting_words
from laminate.coupons.groups import evaluate
from laminate.coupons.measured import Rows, Specimen, outliers, scatter_notes, zone_result
from laminate.coupons.measurement import Measurement
from laminate.coupons.mistakes import beside_cells, told_of
from laminate.coupons.plain_checks import Unlike, maybe_impossible, table_warnings
from laminate.coupons.plain_group import Alike, Grouped, alike_rows, chunks_of, means_of
from laminate.coupons.pooling import Cell, doubted_repeats, pooling_words
from laminate.coupons.readings import plan_of
from laminate.coupons.resolution import with_plain_steps
from laminate.values.input_key import in_words
from laminate.values.problems import Problem, refuse_all
from laminate.values.sequences import LazySequence

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.files.coupons import Coupon
    from laminate.files.plain_table import PlainTable


def measure_plain(table: PlainTable, bench: Bench, made_of: Chooser, confidence: float) -> Measurement | None:
    """Evaluate a plain table as `evaluation.measure` does, None where columns cannot tell all of it.

    made_of: as of `measure`, of a coupon in the place of all that have its readings. Raises `Refused` with
    every impossible reading.
    """
    kinds = np.array([word in ("", "specimen") for word in table.words.get("kind", [""] * len(table))])
    parts, problems = alike_rows(table), list[Problem]()
    stepped = with_plain_steps(bench, table, parts)
    if stepped is None or not kinds.any():
        return None
    waits = _waiting(table, parts)
    others = [table.coupon(at) for at in np.flatnonzero(~kinds).tolist()]
    places, table = np.cumsum(kinds) - 1, table.rows(kinds)
    parts = [places[part] for part in parts if kinds[part[0]]]
    firsts = [table.coupon(int(part[0])) for part in parts]
    excluded = np.array(list(map(bool, table.words.get("excluded", [""] * len(table)))))
    counted = [(part[~excluded[part]], first) for part, first in zip(parts, firsts, strict=True)]
    bench, notes, warnings = with_blanks(others, stepped, *_beside(table, counted), problems)
    alike = _alike(parts, firsts, bench, made_of)
    if problems or alike is None:
        return None
    grouped, doubts = Grouped(table, bench, alike), open_doubts(others, warnings)
    with np.errstate(all="ignore"):  # of rows that are impossible
        grouped.read(())
    for at in np.flatnonzero(maybe_impossible(grouped)).tolist():
        specimen = grouped[at]
        if faults := impossible(specimen.coupon, grouped.bench, specimen.recipe):
            if specimen.excluded:
                return None
            problems += blamed_on(doubts, faults, specimen.coupon, grouped.bench, specimen.recipe)
    refuse_all(sorted(dict.fromkeys(problems), key=row_of))
    if not _warned(grouped, confidence, blank_doubted=bool(doubts)):
        return None
    measurement = _measurement(grouped, confidence, [*notes, *waits])
    measurement.warnings[:0] = warnings
    measurement.others, measurement.blank_doubted = others, bool(doubts)
    return measurement


def _warned(grouped: Grouped, confidence: float, *, blank_doubted: bool) -> bool:
    """Evaluate the rows and find their warnings; False where columns cannot tell all of it."""
    left_out: set[Cell] = set()
    while True:
        grouped.read(left_out)
        evaluate(grouped.groups, confidence)
        # rows of one group may differ in whether their methods can be compared
        if not all(pair.known.all() for group in grouped.groups for pair in group.figures.agreements):
            return False
        grouped.kept.clear()
        unlike = Unlike(grouped)
        if not unlike.whole:
            return False
        mistakes = told_of(unlike, blank_doubted=blank_doubted)
        warnings = _answered(grouped, beside_cells(table_warnings(grouped), mistakes, grouped))
        doubted = doubted_repeats((grouped[at].coupon, mine) for at, mine in warnings.items())
        if doubted <= left_out:
            grouped.warnings = warnings
            grouped.kept.clear()
            return True
        left_out |= doubted


def _beside(table: PlainTable, counted: Sequence[tuple[Any, Coupon]]) -> tuple[set[str], Masses]:
    """What blanks are compared with; counted: rows with the same readings, and a coupon of each."""

    def masses() -> dict[str, list[float]]:
        columns: dict[str, list[float]] = {}
        for rows, first in counted:
            for name, mass in masses_of(means_of(table, first, rows)).items():
                columns.setdefault(name, []).extend(mass.tolist())
        return columns

    return {first.word("method") for rows, first in counted if rows.size} - {""}, masses


def _alike(
    parts: Sequence[Any], firsts: Sequence[Coupon], bench: Bench, made_of: Chooser
) -> list[Alike] | None:
    """The rows with their recipe and plan; None where these wait for a reading that they need."""
    alike: list[Alike] = []
    for rows, first in zip(parts, firsts, strict=True):
        made = made_of(first)
        plan = plan_of(first, bench, basis=made.basis)
        named = {first.word("balance"), first.word("liquid balance")} & {*bench.gauges} - {"balance"}
        codes = {problem.code for problem in impossible(first, bench, made.recipe)}
        if plan.prepreg or named or codes & {MISSING, "aramid-burnt"}:
            return None
        alike.append(Alike(rows, first, made.recipe, plan))
    return alike


def _waiting(table: PlainTable, parts: Sequence[Any]) -> list[str]:
    """What is still to be weighed, and of which specimens."""
    excluded, who = table.words.get("excluded", [""] * len(table)), dict[str, list[int]]()
    for part in parts:
        for awaited in waiting(table.coupon(int(part[0]))):
            rows = [at for at in part.tolist() if not excluded[at]]
            if rows:
                who.setdefault(awaited.found, []).extend(rows)
    names = {what: [table.words["specimen"][at] for at in sorted(rows)] for what, rows in who.items()}
    return waiting_words({what: names[what] for what in sorted(who, key=lambda what: min(who[what]))})


def _answered(grouped: Grouped, warned: Mapping[int, list[Problem]]) -> dict[int, list[Problem]]:
    """Row -> its warnings, those about how it was measured before the others, with the row's reasons."""
    warnings: dict[int, list[Problem]] = {}
    for part in grouped.alike:
        if any(unlikely(part.first, part.plan, grouped.bench, part.recipe)):
            for at in part.rows.tolist():
                warnings[at] = [*unlikely(grouped[at].coupon, part.plan, grouped.bench, part.recipe)]
    for at, mine in warned.items():
        warnings[at] = [*warnings.get(at, ()), *mine]
    return {at: answer(grouped[at].coupon, mine) for at, mine in sorted(warnings.items())}


def _measurement(grouped: Grouped, confidence: float, notes: Sequence[str]) -> Measurement:
    names, chunks = grouped.table.words["specimen"], [*chunks_of(grouped)]
    every = Rows(names, chunks)
    zones = [
        zone_result(_Rows(grouped, rows), zone, {}, Rows(names, [c for c in chunks if c.zone == zone]))
        for zone, rows in grouped.zones.items()
    ]
    whole = zones[0] if len(zones) == 1 else zone_result(grouped, None, {}, every)
    checks = [check for group in grouped.groups for check in group.checks]
    notes = [*(f"{grouped.table.file}: {note}" for note in grouped.table.notes), *notes]
    notes += untold_blanks(grouped.bench, (group.plan for group in grouped.groups)) + check_notes(checks)
    notes += [note for zone in zones for note in scatter_notes(zone)]
    notes += _pooling(grouped)
    count = int(grouped.counted.sum())
    notes += untold_words(grouped.copies, count) if count > FEW else []
    notes += dict.fromkeys(note for group in grouped.groups for note in group.recipe.notes)
    exact = dict.fromkeys(name for group in grouped.groups for name in group.exact)
    far = [outlier for zone in zones for outlier in outliers(zone)]
    warnings = [warning for mine in grouped.warnings.values() for warning in mine]
    differ = grouped.discrepancies
    terms = [term for group in grouped.groups for term in group.figures.conditions]
    return Measurement(
        grouped, [], zones, whole, far, warnings, notes, [*in_words(exact).values()], confidence, None,
        grouped.bench, checks, differ, solved(terms, grouped, grouped.bench, every) if differ else None,
        grouped=grouped,
    )  # fmt: skip


def _pooling(grouped: Grouped) -> list[str]:
    """Whose repeats do not tell how a column scatters."""
    without: list[tuple[int, int, str, list[int]]] = []
    for order, (column, repeated) in enumerate(grouped.repeated().items()):
        if rows := np.flatnonzero(repeated & ~grouped.sound[column]).tolist():
            without.append((rows[0], order, column, rows))
    names = grouped.table.words["specimen"]
    return pooling_words({column: [names[at] for at in rows] for _, _, column, rows in sorted(without)})


class _Rows(LazySequence[Specimen]):
    """Some rows of a table, made when asked for."""

    def __init__(self, grouped: Grouped, rows: Any) -> None:
        self.grouped, self.rows = grouped, rows

    def __len__(self) -> int:
        return len(self.rows)

    def item(self, at: int) -> Specimen:
        """That at a place."""
        return self.grouped[int(self.rows[at])]
