"""What a person must weigh beside the decision on a batch."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from laminate.coupons.groups import DOUBTFUL
from laminate.files.coupons import base_name
from laminate.judging.acceptance import within_allowance
from laminate.judging.doubts import count_serials
from laminate.judging.evidence import BLANKS
from laminate.judging.history_rules import accepted_outside, no_history
from laminate.judging.sampling import positions_missing
from laminate.press.unlikely import restated, unlike_kinds
from laminate.values.problems import near_hint
from laminate.values.quantities import ATTRIBUTES
from laminate.values.said import few

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.files.coupons import Coupon
    from laminate.judging.characteristic import Characteristic
    from laminate.judging.evidence import BatchEvidence

MOST_NAMES = 20
"""Coupons that one remark names."""


def remarks_of(judged: BatchEvidence) -> list[str]:
    """Unlikely densities, methods that differ, coupons outside, repeats, what has no limit or no history."""
    case, measured = judged.case, judged.measured
    return [
        *unlike_kinds(case.part, case.part.prepreg, case.ingredients()),
        *_methods(case, measured),
        *_allowed(judged.characteristics),
        *_positions(case, measured),
        *_fewer_repeats(case, measured),
        *_unlimited(case),
        *_restated(case),
        *_represented(case),
        *_untold(case),
        *_uncounted(case),
        *accepted_outside(judged),
    ]


def _methods(case: Case, measured: Measurement) -> list[str]:
    """Coupons whose methods differ by more than U of the difference, and not so far that it is a doubt."""
    differing: dict[tuple[str, tuple[str, str]], list[str]] = {}
    for specimen in measured.specimens:
        apart = [pair for pair in specimen.agreement if not pair.agree]
        if specimen.counts and apart and not any(pair.doubtful for pair in apart):
            first = min(apart, key=lambda pair: pair.attribute not in ("fiber_volume", "void_content"))
            differing.setdefault((first.attribute, first.methods), []).append(specimen.name)
    factor, confidence = case.part.limits.coverage_factor, case.part.limits.confidence
    sure = f"coverage factor {factor:g}" if confidence is None else f"{100 * confidence:g} %"
    return [
        f"methods differ by more than their uncertainty ({sure}), but within that at {100 * DOUBTFUL:g} %: "
        f"{ATTRIBUTES[attribute].words} by {method}, and by {other}: coupon {_some(names)}"
        for (attribute, (method, other)), names in differing.items()
    ]


def _allowed(characteristics: list[Characteristic]) -> Iterator[str]:
    """Coupons outside that the plan allows, and zones in which it allows all of them."""
    held = [(c, c.individual) for c in characteristics if c.individual is not None]
    for c, individual in held:
        for words in within_allowance(individual):
            yield f"{c.zone} {ATTRIBUTES[c.rule.attribute].words}: {words}"
    never = "the plan allows as many coupons outside as were cut, so its limits can never fail"
    for zone in dict.fromkeys(
        c.zone for c, individual in held if len(individual.readings) <= individual.allowed
    ):
        yield f"zone {zone}: {never}"


def _untold(case: Case) -> list[str]:
    """Tables, and rows of a table with a history, that were typed elsewhere than with `enter`."""
    tables, coupons = no_history(case)
    names = [*([", ".join(tables)] if tables else []), *([f"coupon {_some(coupons)}"] if coupons else [])]
    return [f"{name}: no history, as it was not typed in 'enter'" for name in names]


def _unlimited(case: Case) -> list[str]:
    held = {rule.attribute for rule in case.part.limits.rules if rule.process}
    unlimited = [name for name in case.batch.process if name not in held]
    return [f"process reading '{name}': the part has no limit for it" for name in unlimited]


def _restated(case: Case) -> Iterator[str]:
    """Values of lots and of the batch file far from those of the part file, and shares of blanks below 0."""
    yield from (words for _, words in restated(case.part, case.ingredients()))
    blank = case.batch.blank
    for name in BLANKS:
        share = blank and getattr(blank, name.replace(" ", "_"))
        if share and share.value < -2.0 * share.spread:
            yield f"[blank] {name.replace(' ', '_')} {share.text} is below 0: check its sign"


def _represented(case: Case) -> Iterator[str]:
    """Zones that another represents, and that were laid up with another count of plies."""
    plies = case.batch.batch.plies
    for zone, plan in case.part.plan.items():
        other = plan.represented_by
        if other and zone in plies and other in plies and plies[zone] != plies[other]:
            counts = f"laid up with {plies[zone]} plies, and zone {other}, which represents it, with"
            yield f"zone {zone} was {counts} {plies[other]}"


def _positions(case: Case, measured: Measurement) -> Iterator[str]:
    """Cells that hold no position of the plan, where none of its coupons is from one of these."""
    for zone, plan in case.part.plan.items():
        coupons = [s.coupon for s in measured.specimens if s.zone == zone and s.counts]
        missing = positions_missing(plan, coupons)
        unknown = [c for c in coupons if missing and positions_missing(plan, [c]) == plan.positions]
        cells = [_position(coupon, missing) for coupon in unknown]
        if cells:
            absent, known = ", ".join(missing), ", ".join(plan.positions)
            words = f"zone {zone}: no coupon from position {absent}; {few(cells)}. To settle it: in column "
            yield f"{words}'position' one of {known}"


def _position(coupon: Coupon, missing: list[str]) -> str:
    word = coupon.word("position")
    if not word:
        return f"coupon {coupon.specimen} has no position"
    near = near_hint(word, missing)
    return f"{coupon.file}: {coupon.place('position')} reads '{word}'" + (f" ({near})" if near else "")


def _fewer_repeats(case: Case, measured: Measurement) -> Iterator[str]:
    """Coupons with fewer readings of a column than most of their zone, and as many as the plan asks for."""
    for zone, plan in case.part.plan.items():
        coupons = [s.coupon for s in measured.specimens if s.zone == zone and s.counts]
        columns = dict.fromkeys(base_name(label) for coupon in coupons for label in coupon.numbers)
        for column in columns:
            counts = {c.specimen: len(c.readings(column)) for c in coupons if c.has(column)}
            usual, least = Counter(counts.values()).most_common(1)[0][0], plan.repeats_of(column)
            if fewer := [name for name, count in counts.items() if least <= count < usual]:
                key = f'[plan.{zone}] repeats = {{ "{column}" = {usual} }}'
                most = f"zone {zone}: {column} has {usual} readings on most coupons, fewer on {_some(fewer)}"
                yield f"{most}; {key} in the part file asks for all of them"


def _uncounted(case: Case) -> Iterator[str]:
    """Serials with numbers that cannot be counted."""
    head = case.batch.batch
    if head.quantity is not None and re.search(r"\d", head.serials) and count_serials(head.serials) is None:
        words = f"serials '{head.serials}' cannot be counted, so not compared with quantity {head.quantity}"
        yield f'{words}. To settle it: {case.name}, [batch]: serials = "A1 to A12, A15"'


def _some(names: list[str]) -> str:
    return few(names, MOST_NAMES)
