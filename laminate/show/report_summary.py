"""What is said of a judged batch ahead of every table, in the same words on the screen and on the page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from laminate.files.csv_table import forgiven
from laminate.formulas.conformity import CONFORMS, FAILS, UNDECIDED
from laminate.judging.acceptance import MISFIT, MISFIT_AT
from laminate.show.page_words import Json, capital, chance, several, title
from laminate.values.said import Said
from laminate.values.sequences import by_key

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


def every(answer: Json) -> list[Json]:
    """All characteristics, those of the process last."""
    return [*answer["characteristics"], *answer["process"]]


def open_ones(answer: Json) -> list[Json]:
    """What does not conform, then what is undecided."""
    ones = [row for row in every(answer) if row["decision"] != CONFORMS]
    return sorted(ones, key=lambda row: row["decision"] != FAILS)


def open_words(answer: Json) -> Iterator[str]:
    """The same as sentences, each with its reason."""
    for row in open_ones(answer):
        decided = SAID[row["decision"]].partition(":")[0]
        yield Said(f"{capital(title(row))} {decided}: ", row["reason"], ".")


def ways(answer: Json) -> list[str]:
    """What would decide what is undecided, a sentence each."""
    return [
        Said(f"What would decide it: {title(row)}: ", way["text"], "" if way["text"].endswith(".") else ".")
        for row in every(answer)
        for way in row["to_decide"]
    ]


def rule_words(rule: Json) -> str:
    """By which rule a batch is judged."""
    factor, confidence = rule["coverage_factor"], rule["confidence"]
    sure = f"{confidence:g} % confidence" if factor is None else f"coverage factor {factor:g}"
    if not rule["guard"]:
        return f"simple acceptance, no guard band ({sure})"
    return f"guard band of {rule['guard']:g} × the expanded uncertainty ({sure})"


def cause(answer: Json) -> list[str]:
    """Why the batch as a whole is undecided, whatever its characteristics are, and what to write for it."""
    word = "Cause" if answer["answer"] == UNDECIDED else "Besides"
    lines = {reason["what"]: reason["say"] for reason in answer["held_back"]}
    lacking = [reason for reason in answer["reasons"] if reason.startswith(INCOMPLETE)]
    first = [INCOMPLETE + "; ".join(reason.removeprefix(INCOMPLETE) for reason in lacking)] if lacking else []
    asked = [line for reason in lacking if (line := lines.get(reason))]  # an approval is asked for once
    settle = {what: f" To settle it: {line}" for what, line in lines.items() if line and line not in asked}
    others = [reason for reason in answer["reasons"] if reason not in lacking]
    rest = [Said(f"{word}: ", reason, f".{settle.get(reason, '')}") for reason in others]
    return [*first, *(f"To settle it: {line}" for line in asked), *rest]


SAID = {
    CONFORMS: "conforms",
    FAILS: "does not conform",
    UNDECIDED: "is undecided: what was measured shows neither that it conforms nor that it does not",
}


def answer_line(answer: Json, *, short: bool = False) -> str:
    """The answer about the batch, and what it covers; short: the answer alone."""
    batch = answer["batch"]
    named = f"Batch {batch['id']} of {batch['part_number']} issue {batch['part_issue']}"
    if short:
        return f"{named} {SAID[answer['answer']].partition(':')[0]}."
    decided = SAID[answer["answer"]]
    if answer["answer"] == UNDECIDED and (causes := answer["reasons"]):
        decided = f"is undecided: {several(len(causes), 'cause')} to settle first"
    return f"{named} {decided}. {answer['covers']['text']}"


def in_doubt(answer: Json) -> list[str]:
    """What is still to be measured: look at it before deciding."""
    return [f"{capital(note)}." for note in answer["notes"] if note.startswith("not finished")]


def ahead(answer: Json) -> Iterator[str]:
    """Permission, amendment, what was left out and what it would change, what must be weighed."""
    concession, replaces = answer["concession"], answer["replaces"]
    if concession:
        from laminate.records.rules import record_of

        names = concession["characteristics"]
        start = f"Concession {concession['number']} of {concession['authority']} for {', '.join(names)}"
        yield f"{start}: {concession['reason'].rstrip('.')}."
        if bare := [name for name in record_of(answer).unmet if name not in names]:
            yield f"This concession does not cover {', '.join(bare)}."
    if replaces:
        reason = replaces["reason"].rstrip(".")
        yield f"Amended: this replaces the record {replaces['record']}. Reason: {reason}."
    yield from (*_left_out(answer), *_approvals(answer), *_with_every(answer))
    doubts = dict.fromkeys(f"{row['specimen']} ({row['reason']})" for row in answer["accepted"])
    yield from (*_listed("Doubts accepted", doubts), *_corrected(answer))
    yield from (f"{DECLARED[row['key']]}: {row['of']}: {row['reason']}." for row in answer["declared"])
    yield from (f"{capital(unseen)}." for unseen in answer["not_judged"])
    yield from (f"Note: {remark}." for remark in (*answer["remarks"], *forgiven(answer["notes"])))


def least_certain(answer: Json) -> str:
    """The characteristic with the least chance to be inside, unless all but certain, and that of all."""
    known = [row for row in every(answer) if row["probability_of_conformity"] is not None]
    if not known:
        return ""
    least = min(known, key=lambda row: float(row["probability_of_conformity"]))
    p = float(least["probability_of_conformity"])
    lowest = f"Lowest chance: {title(least)}, {chance(p)}." if p < CERTAIN else ""
    return f"{lowest}{_all(answer)}".strip()


def not_inside(row: Json, held: Json) -> list[str]:
    """The coupons of a result that are outside a limit or not decided, by name, each with why."""

    def why(reading: Json) -> str:
        misfit_at = MISFIT_AT * reading["expanded_uncertainty"] / reading["coverage_factor"]
        if MISFIT in row["reason"] and reading["value"] < misfit_at:
            return "below zero"
        return "outside" if reading["decision"] == FAILS else "too close"

    some = [reading for reading in held["readings"] if reading["decision"] != CONFORMS]
    groups = by_key((why(reading), reading["name"]) for reading in some if len(held["readings"]) > 1)
    return [f"{words}: {', '.join(groups[words])}" for words in sorted(groups)]


def low_chance(answer: Json) -> str:
    """The lowest chance and that of all at once, where one of them is not certain; else ''."""
    chances = [row["probability_of_conformity"] for row in every(answer)] + [answer["chance_of_all"]]
    known = [float(p) for p in chances if p is not None]
    return least_certain(answer) if known and min(known) < CERTAIN else ""


def _all(answer: Json) -> str:
    """The chance that all limits are met at once, and how the errors of two attributes go together."""
    p = answer["chance_of_all"]
    count = len(every(answer))
    text = f" Chance that all {count} hold at once: {chance(p)}." if p is not None and count > 1 else ""
    for correlation in answer["correlations"]:
        zone = f" in {correlation['zone']}" if correlation["zone"] else ""
        first, second = (attribute.replace("_", " ") for attribute in correlation["of"])
        text += f" Correlation of the errors of {first} and {second}{zone}: {correlation['value']:.2f}."
    return text


def _left_out(answer: Json) -> list[str]:
    ones = [*answer["specimens"], *answer["prepreg"]]
    excluded = [f"{row['specimen']} ({row['excluded']})" for row in ones if row["excluded"]]
    others = [row for row in ones if row["replaced_by"] and not row["excluded"]]
    replaced = [f"{row['specimen']} by {row['replaced_by']}" for row in others]
    return _listed("Excluded from the decision", excluded) + _listed("Replaced by a retest", replaced)


def _listed(words: str, names: Iterable[str], between: str = ", ") -> list[str]:
    """A sentence with some names, none where there are none."""
    texts = between.join(names)
    return [f"{words}: {texts}."] if texts else []


def _approvals(answer: Json) -> Iterator[str]:
    """Who approved that a row does not count, and rows of blanks and check standards that do not."""
    others = [row for row in answer["exclusions"] if row["kind"] != "specimen"]
    yield from (f"Excluded, {row['kind']}: {row['specimen']} ({row['reason']})." for row in others)
    for row in answer["exclusions"]:
        for by in row["approvals"]:
            whose = f"approved by {by['approved_by']} on {by['date']}, {by['number']}"
            yield f"Exclusion of {row['specimen']} {whose}: {by['cause']}."


def _corrected(answer: Json) -> list[str]:
    """Every reading that was corrected, counted and listed."""
    changes = [
        f"{row['specimen']}, {row['column']}: {row['old']} to {row['new'] or 'nothing'} "
        f"({row['why'] or 'no reason'}; {row['who'] or 'nobody named'})"
        for row in answer["corrections"]
    ]
    return _listed(f"{several(len(changes), 'reading was', 'readings were')} corrected", changes, "; ")


def _with_every(answer: Json) -> Iterator[str]:
    if (other := answer["with_every_specimen"]) is None:
        return
    pairs = zip(answer["characteristics"], other["characteristics"], strict=False)
    unlike = [(row, again) for row, again in pairs if row["decision"] != again["decision"]]
    changed = [f"{title(row)}: {again['decision']} instead of {row['decision']}" for row, again in unlike]
    why = f" ({'; '.join(changed)})" if changed else ""
    same = " the same:" if other["answer"] == answer["answer"] else ":"
    yield f"With every coupon the answer would be{same} {other['answer']}{why}."
