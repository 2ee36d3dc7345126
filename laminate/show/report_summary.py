"""What is said of a judged batch ahead of every table, in the same words on the screen and on the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from laminate.show.page_words import NO_BREAK, chance, title
from laminate.values.said import Said

CONFORMS, FAILS, UNDECIDED = "conforms", "does not conform", "undecided"
INCOMPLETE = "incomplete: "
CERTAIN = 0.99
"""Chances above this are not told ahead."""
DECLARED = {
    "traceable": "Not traceable",
    "not recorded": "Not recorded",
    "none": "Not run",
    "exact": "Taken as exact",
}
CHANCE = (
    "The chance is that the whole characteristic is inside its limits, each coupon and the average at once; "
    "before measuring, every true value was held equally likely (a flat prior)"
)


def every(answer: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """All characteristics, those of the process last."""
    return [*answer["characteristics"], *answer["process"]]


def cause(answer: Mapping[str, Any]) -> list[str]:
    """Why the batch as a whole is undecided, whatever its characteristics are, and what to write for it."""
    word = "Cause" if answer["answer"] == UNDECIDED else "Besides"
    lines = {one["what"]: one["say"] for one in answer["held_back"]}
    lacking = [reason for reason in answer["reasons"] if reason.startswith(INCOMPLETE)]
    first = [INCOMPLETE + "; ".join(reason.removeprefix(INCOMPLETE) for reason in lacking)] if lacking else []
    rest = [_reason(word, reason, lines.get(reason)) for reason in answer["reasons"] if reason not in lacking]
    to_write = [f"To write in {line}" for reason in lacking if (line := lines.get(reason))]
    return [*first, *to_write, *rest]


def _reason(word: str, reason: str, line: str | None) -> str:
    return Said(f"{word}: ", reason, "." + (f" To write in {line}" if line else ""))


SAID = {
    CONFORMS: "conforms",
    FAILS: "does not conform",
    UNDECIDED: "is undecided: it can neither be accepted nor rejected on what was measured",
}


def answer_line(answer: Mapping[str, Any], *, short: bool = False) -> str:
    """The answer about the batch, and what it covers; short: the answer alone."""
    batch = answer["batch"]
    named = f"Batch {batch['id']} of {batch['part_number']} issue {batch['part_issue']}"
    if short:
        return f"{named} {SAID[answer['answer']].partition(':')[0]}."
    return f"{named} {SAID[answer['answer']]}. {answer['covers']['text']}"


def in_doubt(answer: Mapping[str, Any]) -> list[str]:
    """What is still to be measured: look at it before deciding."""
    return [f"{note[:1].upper()}{note[1:]}." for note in answer["notes"] if note.startswith("not finished")]


def ahead(answer: Mapping[str, Any]) -> list[str]:
    """Permission, amendment, what was left out and what it would change, what must be weighed."""
    lines: list[str] = []
    concession, replaces = answer["concession"], answer["replaces"]
    if concession:
        names = ", ".join(concession["characteristics"])
        lines.append(
            f"Concession {concession['number']} of {concession['authority']} for {names}: "
            f"{concession['reason']}"
        )
        open_ones = [name for name in _unmet(answer) if name not in concession["characteristics"]]
        lines += [f"This concession does not cover {', '.join(open_ones)}."] if open_ones else []
    if replaces:
        lines.append(f"Amended: this replaces the record {replaces['record']}. Reason: {replaces['reason']}")
    lines += [*_left_out(answer), *_approvals(answer), *_with_every(answer), *_accepted(answer)]
    lines += _corrected(answer)
    lines += [f"{DECLARED[one['key']]}: {one['of']}: {one['reason']}." for one in answer["declared"]]
    lines += [f"{unseen[:1].upper()}{unseen[1:]}." for unseen in answer["not_judged"]]
    return [*lines, *(f"Note: {remark}." for remark in answer["remarks"])]


def _unmet(answer: Mapping[str, Any]) -> list[str]:
    """What does not conform or is undecided, by the names that a concession uses."""
    named = answer["concession"]["characteristics"] if answer["concession"] else []
    unmet = [
        plan if (plan := f"plan.{one['zone']}") in named and _by_plan_alone(one) else one["label"]
        for one in every(answer)
        if one["decision"] != CONFORMS
    ]
    unmet += [f"instrument.{one['name']}" for one in answer["instruments"] if one["undecided_because"]]
    unmet += [f"core.{one['core']}" for one in answer["batch"]["cores"] if one["undecided_because"]]
    unmet += [one["name"] if one["concession"] else one["what"] for one in answer["held_back"]]
    return list(dict.fromkeys(unmet))


def _by_plan_alone(one: Mapping[str, Any]) -> bool:
    """Whether it is undecided for want of planned coupons or readings alone."""
    decided = {part["decision"] for which in ("individual", "average") if (part := one["result"][which])}
    return bool(one["decision"] == UNDECIDED and decided == {CONFORMS})


def least_certain(answer: Mapping[str, Any]) -> str:
    """The characteristic with the least chance to be inside its limits, '' where none has one."""
    known = [one for one in every(answer) if one["probability_of_conformity"] is not None]
    if not known:
        return ""
    least = min(known, key=lambda one: float(one["probability_of_conformity"]))
    p = chance(least["probability_of_conformity"])
    return f"Lowest chance: {title(least)}, {p}.{_all(answer)}"


def not_inside(held: Mapping[str, Any]) -> list[str]:
    """The coupons of a result that are outside a limit, and those too close to one, by name."""
    lines = []
    for decision, words in ((FAILS, "outside"), (UNDECIDED, "too close")):
        some = [one["name"] for one in held["readings"] if one["decision"] == decision]
        lines += [f"{words}: {', '.join(some)}"] if some and len(held["readings"]) > 1 else []
    return lines


def low_chance(answer: Mapping[str, Any]) -> str:
    """The lowest chance and that of all at once, where one of them is not certain; else ''."""
    chances = [one["probability_of_conformity"] for one in every(answer)] + [answer["chance_of_all"]]
    known = [float(p) for p in chances if p is not None]
    return least_certain(answer) if known and min(known) < CERTAIN else ""


def _all(answer: Mapping[str, Any]) -> str:
    """The chance that all limits are met at once, and how two attributes that share readings go together."""
    p = answer["chance_of_all"]
    count = len(every(answer))
    said = f" Chance that all {count} hold at once: {chance(p)}." if p is not None and count > 1 else ""
    for one in answer["correlations"]:
        zone = f" in {one['zone']}" if one["zone"] else ""
        first, second = (attribute.replace("_", " ") for attribute in one["of"])
        said += f" Correlation of {first} and {second}{zone}: {one['value']:.2f}."
    return said


def names(ones: Sequence[Mapping[str, Any]]) -> str:
    """Several characteristics in a row, told apart though each has a comma of its own."""
    return "; ".join(title(one) for one in ones)


def _left_out(answer: Mapping[str, Any]) -> list[str]:
    ones = [*answer["specimens"], *answer["prepreg"]]
    excluded = [f"{one['specimen']} ({one['excluded']})" for one in ones if one["excluded"]]
    replaced = [
        f"{one['specimen']} by {one['replaced_by']}"
        for one in ones
        if one["replaced_by"] and not one["excluded"]
    ]
    said = [f"Excluded, and not decided on: {', '.join(excluded)}."] if excluded else []
    return said + ([f"Replaced by a retest: {', '.join(replaced)}."] if replaced else [])


def _approvals(answer: Mapping[str, Any]) -> list[str]:
    """Who approved that a row does not count, and rows of blanks and check standards that do not."""
    approvals = [
        f"Excluded, {one['kind']}: {one['specimen']} ({one['reason']})."
        for one in answer["exclusions"]
        if one["kind"] != "specimen"
    ]
    return approvals + [
        f"Exclusion of {one['specimen']} approved by {by['approved_by']} on {by['date']}, {by['number']}: "
        f"{by['cause']}."
        for one in answer["exclusions"]
        for by in one["approvals"]
    ]


def _accepted(answer: Mapping[str, Any]) -> list[str]:
    told = dict.fromkeys(f"{one['specimen']} ({one['reason']})" for one in answer["accepted"])
    return [f"Doubts accepted: {', '.join(told)}."] if told else []


def _corrected(answer: Mapping[str, Any]) -> list[str]:
    """Every reading that was corrected, counted and listed."""
    ones = answer["corrections"]
    if not ones:
        return []
    told = "; ".join(
        f"{one['specimen']}, {one['column']}: {one['old']} to {one['new'] or 'nothing'} "
        f"({one['why'] or 'no reason'}; {one['who'] or 'nobody named'})"
        for one in ones
    )
    return [f"{len(ones)} {'reading was' if len(ones) == 1 else 'readings were'} corrected: {told}."]


def _with_every(answer: Mapping[str, Any]) -> list[str]:
    other = answer["with_every_specimen"]
    if other is None:
        return []
    pairs = zip(answer["characteristics"], other["characteristics"], strict=False)
    changed = [
        f"{title(one)}: {with_all['decision']} instead of {one['decision']}"
        for one, with_all in pairs
        if one["decision"] != with_all["decision"]
    ]
    same = "the same: " if other["answer"] == answer["answer"] else ""
    why = f" ({'; '.join(changed)})" if changed else ""
    start = "With every coupon the answer would be" + (" " if same else ": ")
    return [f"{start}{same}{other['answer']}{why}."]


def plain(text: str) -> str:
    """The same with ordinary blanks, for a screen."""
    return text.replace(NO_BREAK, " ")
