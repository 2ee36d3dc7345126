"""Doubts that nobody has answered: about readings, and about methods that differ."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.coupons.doubt_reasons import about, of_row, reasons, written
from laminate.coupons.table_checks import REPEATED, heading_apart
from laminate.files.coupons import NUMBERS, Coupon, base_name
from laminate.files.reasons import RESULTS, SHIFTED
from laminate.values.problems import Answered, Problem
from laminate.values.said import Said
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement

_WRITTEN = {
    "method-not-stated": "write 'ignition' or 'digestion' in the column 'method'",
    "name-made-date": "write the name again as text",
    "struck-through": "write the name again as text, without the line, or say why in 'excluded'",
    "cell-comment": "move the comment into 'remark'",
    "number-in-two-cells": "write the number into one cell, a whole one with .0",
}
"""What mends a doubt about a cell that no measuring would."""


@dataclass(frozen=True)
class Doubt:
    """One open doubt about a row: what it is of, '' for the whole row, and the words."""

    coupon: Coupon
    column: str
    what: str
    say: str


def every_doubt(measured: Measurement) -> list[Doubt]:
    """Every open doubt, of readings first, then of what methods give."""
    return [*_of_warnings(measured), *_of_methods(measured)]


def doubted(measured: Measurement) -> set[str]:
    """The names of the rows that have an open doubt, of a reading or of what methods give."""
    return {doubt.coupon.specimen for doubt in every_doubt(measured)}


def _of_warnings(measured: Measurement) -> Iterator[Doubt]:
    for coupon in measured.others:  # a blank in doubt is asked about before what it enters
        if not coupon.word("excluded"):
            yield from _open(coupon, of_row(coupon, measured.warnings))
    for specimen in (*measured.specimens, *measured.prepregs):
        if specimen.counts:
            yield from _open(specimen.coupon, specimen.warnings)


def _open(coupon: Coupon, warnings: list[Problem]) -> Iterator[Doubt]:
    for warning in warnings:
        if isinstance(warning, Answered):
            continue
        label, _ = about(coupon, warning)
        column = base_name(label) if base_name(label) in NUMBERS else ""
        what = Said(f"open doubt, {warning.file}: {warning.place}: ", warning.found)
        weighed = NUMBERS.get(column) == "mass" and warning.code not in RESULTS
        again = f"{'weigh' if weighed else 'measure'} it again"
        again = again if column else _WRITTEN.get(warning.code, again)
        if warning.code == REPEATED and heading_apart(coupon, label):
            again = f"correct the unit in the heading of '{label}', or {again}"
        say = f"{warning.file}, row of {coupon.specimen}: {again}, or accepted = "
        say += written(coupon, [warning], "...")
        if warning.code == SHIFTED:  # one cause of all its rows
            what = Said(f"open doubt, {warning.file}: ", warning.found)
            say = f"{warning.file}, column {label}: move it back, or accepted = {label}: ... in these rows"
        yield Doubt(coupon, column, what, say)


def _of_methods(measured: Measurement) -> Iterator[Doubt]:
    """Methods that disagree beyond 99.9 %, and voids below zero, where no warning has told it."""
    by_name = {specimen.name: specimen for specimen in measured.specimens if specimen.counts}
    differ = [discrepancy for discrepancy in measured.discrepancies if discrepancy.doubtful]
    if measured.blank_doubted:  # the blank is held back already: no specimen is accused of what it gives
        losses = {specimen.plan.loss for specimen in by_name.values()} - {""}
        differ = [d for d in differ if not any(loss in m for loss in losses for m in d.methods)]
    for first, *_ in by_key((discrepancy.specimen, discrepancy) for discrepancy in differ).values():
        specimen = by_name.get(first.specimen)
        if specimen is None or any(w.code in RESULTS for w in specimen.warnings):
            continue
        known = {reason.about for reason in reasons(specimen.coupon)}
        if {*RESULTS.values()} & known or ("" in known and not specimen.warnings):
            continue
        if doubt := next(_open(specimen.coupon, specimen.warnings), None):
            yield replace(doubt, column="")  # a reading in doubt is why they disagree: one cause, told once
            continue
        several, file = len(first.methods) > 1, specimen.coupon.file
        how = f"{first.attribute.replace('_', ' ')} by {' and '.join(first.methods)} "
        what = f"open doubt, {file}: {specimen.name}: {how}{'disagree' if several else 'below zero'}"
        label = RESULTS["methods-disagree" if several else "negative-void-content"]
        say = f"{file}, row of {specimen.name}: measure it again, or accepted = {label}: ..."
        yield Doubt(specimen.coupon, "", what, say)
