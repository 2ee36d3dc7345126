"""The reasons with which a row answers warnings about it: each answers what it names, and nothing else.

`accepted` holds one reason or several with ';' between. `thickness 2: on a ridge` answers a warning about
that cell, `thickness 2 2.868: on a ridge` only as long as the cell reads so. A reason that names nothing
answers the only warning that there is, or all about one cell; of several it answers none, since nobody can
tell which was meant.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from laminate.files.coupons import Coupon
from laminate.files.entries import as_typed
from laminate.files.reasons import RESULTS, SEPARATOR, Reason, reasons_in
from laminate.values.problems import Answered, Problem
from laminate.values.said import Figure, Said, joined


def about(coupon: Coupon, warning: Problem) -> tuple[str, str]:
    """What a reason must name to answer a warning: label of a cell, or a result; and what the cell reads."""
    if warning.code in RESULTS:
        parts = warning.found.parts if isinstance(warning.found, Said) else ()
        weighed = (part.text() for part in parts if isinstance(part, Figure))
        return RESULTS[warning.code], next(weighed, "") if RESULTS[warning.code] == "one piece" else ""
    for label, place in coupon.places.items():
        if place == warning.place:
            return label, coupon.texts.get(label, "")
    for field in coupon.fields:
        if warning.place in field.places.values():
            return f"field {field.name}".strip(), ""
    return "specimen", ""


def of_row(coupon: Coupon, warnings: Iterable[Problem]) -> list[Problem]:
    """The warnings whose cell is one of a row's."""
    places = {*coupon.places.values()}
    return [warning for warning in warnings if warning.file == coupon.file and warning.place in places]


def reasons(coupon: Coupon) -> list[Reason]:
    """The reasons that stand in a row's `accepted`."""
    return reasons_in(coupon.word("accepted"), coupon.labels())


def written(coupon: Coupon, warnings: Sequence[Problem], words: str) -> str:
    """The text of `accepted` in which one reason answers each of the warnings."""
    named = dict.fromkeys(" ".join(filter(None, about(coupon, warning))) for warning in warnings)
    return f"{SEPARATOR} ".join(f"{name}: {words}" for name in named)


def may_be_answered(coupon: Coupon, warning: Problem) -> bool:
    """Whether a reason of the row names what a warning is about, or nothing, so that nothing is hidden."""
    known = reasons(coupon)
    return any(not r.about for r in known) or _reason(coupon, warning, known) is not None


def _reason(coupon: Coupon, warning: Problem, known: Sequence[Reason]) -> Reason | None:
    label, reads = about(coupon, warning)
    same = [r for r in known if r.about == label and (not r.reads or as_typed(reads, r.reads))]
    return same[0] if same else None


def answer(coupon: Coupon, warnings: Sequence[Problem]) -> list[Problem]:
    """The warnings about a row, those that it answers with their reason."""
    known = reasons(coupon)
    with_reasons = [(warning, _reason(coupon, warning, known)) for warning in warnings]
    problems = [_answered(warning, reason.words) if reason else warning for warning, reason in with_reasons]
    open_ = [at for at, warning in enumerate(problems) if not isinstance(warning, Answered)]
    plain = [reason for reason in known if not reason.about]
    alike = len({about(coupon, problems[at]) for at in open_}) == 1
    for at in open_:
        still = _answered(problems[at], plain[0].words) if plain and alike else None
        problems[at] = still or _still_open(coupon, problems[at], known, len(open_))
    return problems


def _answered(warning: Problem, words: str) -> Answered:
    return Answered(**{key: getattr(warning, key) for key in warning.as_json()}, reason=words)


def _still_open(coupon: Coupon, warning: Problem, known: Sequence[Reason], count: int) -> Problem:
    """Say why a row's reason does not answer a warning."""
    label, _ = about(coupon, warning)
    stale = next((reason for reason in known if reason.about == label), None)
    if stale is not None:
        why_open = f"the reason '{stale.words}' was given when it read '{stale.reads}'"
    elif any(not reason.about for reason in known):
        why_open = (
            f"the reason in 'accepted' does not say which of {count} warnings it answers: '{label}: ...' is "
            "about this one"
        )
    else:
        return warning
    return replace(warning, hint=joined("; ", [*filter(None, (warning.hint, why_open))]))
