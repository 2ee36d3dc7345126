"""Rows that do not count: does it matter, and who approved it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.without_exclusions import not_excluded, with_every
from laminate.files.coupons import Coupon, Coupons
from laminate.files.method_names import METHODS, methods_in
from laminate.files.people import people_in, share_a_person
from laminate.judging.open_point import OpenPoint
from laminate.judging.planned import APPROVAL, unfinished
from laminate.judging.sampling import measured_by, retest_faults
from laminate.values.problems import Problem, Refused, refuse_all, too_few, unknown_name

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.files.batch import Exclusion
    from laminate.judging.characteristic import Characteristic
    from laminate.judging.evidence import BatchEvidence

RULE = 3


@dataclass(frozen=True)
class ExcludedRow:
    """A row that does not count: its reason, its operator, the approvals of it, and why it matters, '' where
    counting it changes nothing; retest: what replaces it, where that is no retest that the plan allows.
    """

    coupon: Coupon
    approvals: tuple[Exclusion, ...]
    matters: str = ""
    retest: str = ""

    @property
    def name(self) -> str:
        """The specimen."""
        return self.coupon.specimen

    @property
    def reason(self) -> str:
        """Why it does not count, as the table says it."""
        replaced = f"replaced by {self.retest}, which the plan does not allow" if self.retest else ""
        return self.coupon.word("excluded") or replaced


def check_exclusions(judged: BatchEvidence) -> None:
    """Raise `Refused` with every [[exclusion]] of an unknown specimen, or whose row is not excluded."""
    case, coupons = judged.case, {row.specimen: row for row in judged.rows}
    problems: list[Problem] = []
    for place, exclusion in enumerate(case.batch.exclusion, 1):
        where, coupon = f"exclusion[{place}].specimen", coupons.get(exclusion.specimen)
        if coupon is None:
            expected = "a coupon of the coupon table"
            problems.append(unknown_name(case.name, where, exclusion.specimen, expected, coupons))
        elif not coupon.word("excluded"):
            what = f"reasons to exclude '{exclusion.specimen}'"
            expected = f"one in the column 'excluded' of {coupon.file}, or no such table"
            problems.append(too_few(case.name, where, 0, what, expected))
    refuse_all(problems)


def excluded_rows(judged: BatchEvidence) -> list[ExcludedRow]:
    """Every excluded row without those that a planned retest replaces, and whether counting it is worse.

    Those that nobody approved in full are counted together as well, for two may fail together where neither
    does alone.
    """
    approvals = judged.case.batch.exclusion
    rows = [_excluded(s.coupon, approvals) for s in judged.specimens if s.excluded and not s.replaced_by]
    replaced = [s for s in judged.specimens if s.replaced_by and not _as_planned(judged, s)]
    rows += [_excluded(s.coupon, approvals, s.replaced_by) for s in replaced]
    rows += [_excluded(row, approvals) for row in judged.measured.others if row.word("excluded")]
    reasons = {name: _matters(judged, {name}) for name in sorted({row.name for row in rows})}
    open_ = {row.name for row in rows if any(faults(row))}
    if open_ and not any(reasons[name] for name in open_):
        reasons |= dict.fromkeys(open_, _matters(judged, open_))
    return [replace(row, matters=reasons[row.name]) for row in rows]


def _excluded(coupon: Coupon, approvals: Sequence[Exclusion], retest: str = "") -> ExcludedRow:
    of_it = tuple(approval for approval in approvals if approval.specimen == coupon.specimen)
    return ExcludedRow(coupon, of_it, retest=retest)


def _as_planned(judged: BatchEvidence, replaced: Specimen) -> bool:
    """Whether the plan allows what replaces a coupon: retests by every method that it was measured by.

    Tested prepreg has no plan: what replaces it takes an approval.
    """
    plan = judged.case.part.plan.get(replaced.zone or "")
    if plan is None:
        return False
    methods = [method for method in plan.measured_by if measured_by(replaced, method)]
    again = replaced.retest_round + 1
    there = [s for s in judged.specimens if (s.zone, s.retest_round) == (replaced.zone, again)]
    there = [s for s in there if s.counts or s.replaced_by]
    return not any(retest_faults([s for s in there if all(measured_by(s, m) for m in methods)], plan))


def _matters(judged: BatchEvidence, names: Collection[str]) -> str:
    """Why counting these rows gives a worse answer, '' where it does not."""
    others = [c for c in judged.measured.others if c.specimen in names]
    specimens = [s for s in judged.specimens if s.name in names]
    lacking = [s.name for s in specimens if _lacks(s, judged.characteristics)]
    lacking += [c.specimen for c in others if unfinished(c)]
    if lacking:
        return f"{', '.join(lacking)} cannot be computed"
    counted = with_every(judged.case, judged.measured, names)
    others = [c for c in others if c.word("excluded")]
    if others:
        try:
            rows = (not_excluded(row) if row.specimen in names else row for row in judged.rows)
            counted = measure_batch(judged.case, Coupons(tuple(rows), ()))
        except Refused:
            return "it cannot be computed"
        if {w.place for w in counted.warnings} & {p for c in others for p in c.places.values()}:
            return "its reading would be in doubt"
    if counted is None:
        return ""
    return "; ".join(f"{c.label} {c.decision}" for c in judged.worse(counted, judged.first_decided))


def _lacks(specimen: Specimen, decided: list[Characteristic]) -> bool:
    """Whether something that is decided in its zone cannot be computed of it."""
    only = methods_in(specimen.coupon.word("only"))
    there = [c for c in decided if c.method and c.zone == specimen.zone]
    there = [c for c in there if not specimen.prepreg or c.rule.prepreg == specimen.prepreg]
    wanted = {(c.rule.attribute, c.method) for c in there}
    return any(key not in specimen.every for key in wanted if not only or _parts(key[1]) <= {*only})


def _parts(words: str) -> set[str]:
    """The methods of a plan that a figure comes from, in whose words areal weight goes with thickness."""
    methods = {method for method in METHODS if method in words}
    return methods - {"areal weight"} if "thickness" in methods else methods


def faults(row: ExcludedRow) -> Iterator[tuple[str, str]]:
    """What its approval lacks, and the line that would mend it; nothing where it is approved in full."""
    if not row.approvals:
        yield "nobody approved it", f'[[exclusion]]: specimen = "{row.name}", {APPROVAL}'
        return
    operator = row.coupon.word("operator")
    if not people_in(operator):
        yield "its row names no operator", ""
    for approval in row.approvals:
        if share_a_person(operator, approval.approved_by):
            what = f"'{approval.approved_by}' measured it and approved it"
            yield what, "[[exclusion]]: approved_by of another person"
        other = _other_methods(row.coupon, approval.method)
        if approval.method and other:
            what = f"its exclusion names {approval.method} alone, but its row leaves out {', '.join(other)}"
            yield f"{what} too", "[[exclusion]]: no method, for all its readings"


def _other_methods(coupon: Coupon, method: str) -> list[str]:
    """The methods of a row besides one."""
    columns = {
        "immersion": ("mass in liquid",),
        "thickness": ("thickness",),
        coupon.word("method") or "digestion": ("residue mass", "crucible with residue"),
    }
    return [name for name, any_of in columns.items() if name != method and any(map(coupon.has, any_of))]


def exclusions_rule(judged: BatchEvidence, rows: list[ExcludedRow]) -> Iterator[OpenPoint]:
    """Exclusions that matter and that nobody approved in full."""
    for row in rows:
        lacking = list(faults(row)) if row.matters else []
        if not lacking:
            continue
        what = f"{row.name} is excluded ({row.reason}); if it counted: {row.matters}"
        of_row = f"{row.coupon.file}, row of {row.name}: operator"
        lines = [f"{judged.case.name}, {line}" if line else of_row for _, line in lacking]
        lines += [] if row.coupon.word("excluded") else [f"{row.coupon.file}, row of {row.name}: excluded"]
        whole = "; ".join([what, *(fault for fault, _ in lacking)])
        yield OpenPoint(RULE, whole, "; ".join(lines), True, f"exclusion.{row.name}")
