"""A large plain table measured as it was read, by columns: no coupon is made of most rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.blanks import blamed_on, open_doubts, with_blanks
from laminate.coupons.checks import impossible, suspects
from laminate.coupons.evaluation import evaluated, row_of, told_of, waiting_notes
from laminate.coupons.grouped import Alike, Grouped, chunks_of
from laminate.coupons.groups import Chooser
from laminate.coupons.listed import alike_rows
from laminate.coupons.measured import Rows, Specimen, zone_result
from laminate.coupons.measurement import Measurement
from laminate.coupons.monte_check import MOST_GROUPS
from laminate.coupons.resolution import too_long, with_steps
from laminate.values.problems import Problem, refuse_all
from laminate.values.sequences import LazySequence

if TYPE_CHECKING:
    from laminate.coupons.instruments import Bench
    from laminate.files.coupons import Coupon
    from laminate.files.plain_table import PlainTable


def measure_plain(table: PlainTable, bench: Bench, made_of: Chooser, confidence: float) -> Measurement | None:
    """Evaluate a plain table as `evaluation.measure` does, None where its rows have to be read one by one.

    made_of: as of `measure`, of a coupon in the place of all that have its readings. Raises `Refused` with
    every impossible reading.
    """
    kinds = np.array([word in ("", "specimen") for word in table.word("kind")])
    parts, problems = alike_rows(table), list[Problem]()
    long = (too_long(c).any() for label, c in table.columns.items() if label not in table.unwritten)
    if any(long) or not kinds.any():
        return None
    bench, waits = with_steps(bench, table, parts), waiting_notes(table, parts)
    others = [table.coupon(at) for at in np.flatnonzero(~kinds).tolist()]
    counted = kinds & table.counted()
    beside = [(rows[counted[rows]], first) for rows, first in parts]
    bench, notes, warnings = with_blanks(others, bench, table, beside, problems)
    places, kept = np.cumsum(kinds) - 1, [(rows, first) for rows, first in parts if kinds[rows[0]]]
    alike = [Alike.of(places[rows], first, made_of(first), bench) for rows, first in kept]
    if problems or any(part.plan.prepreg or _own_balance(part.first, bench) for part in alike):
        return None
    table = table.rows(kinds)
    zones, doubts = [zone or None for zone in table.word("zone")], open_doubts(others, warnings)
    grouped = Grouped(table, bench, alike, zones, (confidence, None))
    for at in np.flatnonzero(suspects(table, alike, bench)).tolist():
        specimen = grouped[at]
        if faults := impossible(specimen.coupon, bench, specimen.recipe):
            if specimen.excluded:
                return None
            problems += blamed_on(doubts, faults, specimen.coupon, bench, specimen.recipe)
    refuse_all(sorted(dict.fromkeys(problems), key=row_of))
    evaluated(grouped, MOST_GROUPS, {}, blank_doubted=bool(doubts))
    # rows of one group may differ in whether their methods can be compared
    if not all(pair.known.all() for group in grouped.groups for pair in group.figures.agreements):
        return None
    names, chunks = table.words["specimen"], [*chunks_of(grouped)]
    results = [
        zone_result(_Rows(grouped, rows), zone, {}, Rows(names, [c for c in chunks if c.zone == zone]))
        for zone, rows in grouped.zones
    ]
    whole = results[0] if len(results) == 1 else zone_result(grouped, None, {}, Rows(names, chunks))
    notes = [*(f"{table.file}: {note}" for note in table.notes), *notes, *waits]
    measured = Measurement(
        grouped, [], results, whole, warnings, notes, confidence, None, bench, grouped=grouped,
        discrepancies=grouped.discrepancies, others=others, blank_doubted=bool(doubts),
    )  # fmt: skip
    return told_of(grouped, measured)


def _own_balance(first: Coupon, bench: Bench) -> bool:
    """Whether rows name another of the instruments than the balance that weighs the others."""
    named = {first.word("balance"), first.word("liquid balance")}
    return not named.isdisjoint({*bench.gauges} - {"balance"})


class _Rows(LazySequence[Specimen]):
    """Some rows of a table, made when asked for."""

    def __init__(self, grouped: Grouped, rows: Any) -> None:
        self.grouped, self.rows = grouped, rows

    def __len__(self) -> int:
        return len(self.rows)

    def item(self, at: int) -> Specimen:
        """That at a place."""
        return self.grouped[int(self.rows[at])]
