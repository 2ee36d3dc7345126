"""What is a reason: words, and more than a yes or no; and what each of several is about."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

NOTHING_STATED = (
    "n/a", "n.a", "na", "none", "nil", "nothing", "tbd", "tba", "unknown", "not known", "not told",
    "not recorded",
)  # fmt: skip
"""What stands in a cell that must not be empty, and says nothing."""

_EMPTY = ("nan", "null", "<na>", "nat")
"""What programs write into a cell that is empty."""
NO_REASONS = (
    "no", "yes", "true", "false", "ok", "tbc", "todo", "to do", "later", "pending", "not yet",
    "to be checked", "to be confirmed", "k.a", *_EMPTY, *NOTHING_STATED,
)  # fmt: skip


_READING = re.compile(
    r"(?:[a-z]{1,2}[\s,]+){0,3}[+\-\N{MINUS SIGN}]?\s*\d+"
    r"(?:[.,]\d+\s*\S{0,3}|(?:[.,]\d+)?\s*(?:(?:deg|°) ?[cfk]|[mkuµμ]?g|[mcuµμ]?m|in|mil|lb|oz|%))",
    re.I,
)
"""A number with decimals or a unit, behind what a balance sends before it."""


def is_reading(text: str) -> bool:
    """Whether a text is what an instrument sends, and neither a name nor a reason: it has decimals or a unit.

    >>> [is_reading(text) for text in ("N + 1.4425 g", "US,GS,+0001.44 g", "22.8 degC", "JM", "T 4711")]
    [True, True, True, False, False]
    """
    return _READING.fullmatch(text.strip()) is not None


def is_stated(text: str) -> bool:
    """Whether a text names something: an identity, a number, serials.

    >>> is_stated("BAL-02"), is_stated("1"), is_stated(" ? "), is_stated("N/A")
    (True, True, False, False)
    """
    return _plain(text) not in NOTHING_STATED and any(sign.isalnum() for sign in text)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split()).strip(" .?!")


def is_reason(text: str) -> bool:
    """Whether a text says why, in words.

    >>> [is_reason(text) for text in ("crucible cracked", "ok", "12", "+ 1.4427 g", "tbc", "xxx")]
    [True, False, False, False, False, False]
    """
    plain = _plain(text)
    repeated = plain.isascii() and len({*plain}) < 2
    return not (plain in NO_REASONS or repeated or is_reading(text)) and any(map(str.isalpha, plain))


SHIFTED = "column-shifted"
"""Code of readings that were pasted a row off: one cause of all of them."""

# findings about a result rather than a cell, and what a reason calls them
RESULTS = {
    "negative-void-content": "void content",
    "methods-disagree": "methods",
    "weighed-twice": "one piece",
}
SEPARATOR = ";"


@dataclass(frozen=True, slots=True)
class Reason:
    """A reason, and what it is about: the label of a cell and what it read, '' where it does not say."""

    about: str
    reads: str
    words: str


def reasons_in(text: str, labels: Iterable[str]) -> list[Reason]:
    """The reasons of a text, with ';' between; labels: of the cells that they may be about.

    >>> [reason] = reasons_in("plies 20: counted; twice", ["plies"])
    >>> reason.about, reason.reads, reason.words
    ('plies', '20', 'counted; twice')
    """
    known = sorted({*labels, *RESULTS.values()}, key=len, reverse=True)
    reasons: list[Reason] = []
    for part in filter(None, (part.strip() for part in text.split(SEPARATOR))):
        head, colon, words = part.partition(":")
        named = _named(" ".join(head.split()), known) if colon else None
        if named is not None:
            reasons.append(Reason(*named, words.strip()))
        elif reasons:
            reasons[-1] = replace(reasons[-1], words=f"{reasons[-1].words}{SEPARATOR} {part}")
        else:
            reasons.append(Reason("", "", part))
    return reasons


def _named(head: str, labels: Iterable[str]) -> tuple[str, str] | None:
    """What the words before a colon name, None where they are part of the reason."""
    for label in labels:
        if head.casefold() == label.casefold():
            return label, ""
        if head.casefold().startswith(f"{label.casefold()} "):
            reads = head[len(label) :].strip()
            return (label, reads) if reads[:1].isdigit() or reads[:1] in "+-." else None
    return None


def gives_reasons(text: str, labels: Iterable[str]) -> bool:
    """Whether a text is a reason, or several, each with words beside the label of what it is about.

    >>> [gives_reasons(text, ()) for text in ("methods: weighed again", "methods: ...", "methods: methods")]
    [True, False, False]
    """
    known = {label.casefold() for label in (*labels, *RESULTS.values())}
    words = [reason.words for reason in reasons_in(text, labels)]
    return is_reason(text) and all(is_reason(each) and each.casefold() not in known for each in words)
