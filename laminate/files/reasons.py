"""What is a reason: words, and more than a yes or no; and what each of several is about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

NOTHING_STATED = (
    "n/a", "n.a.", "na", "none", "nil", "nothing", "tbd", "tba", "unknown", "not known", "not told",
    "not recorded",
)  # fmt: skip
"""What stands in a cell that must not be empty, and says nothing."""

_EMPTY = ("nan", "null", "<na>", "nat")
"""What programs write into a cell that is empty."""
NO_REASONS = ("no", "n", "yes", "y", "x", "true", "false", "0", "1", "-", "ok", *_EMPTY, *NOTHING_STATED)


def is_stated(text: str) -> bool:
    """Whether a text names something: an identity, a number, serials.

    >>> is_stated("BAL-02"), is_stated("1"), is_stated(" ? "), is_stated("N/A")
    (True, True, False, False)
    """
    plain = " ".join(text.casefold().split())
    return plain not in NOTHING_STATED and any(sign.isalnum() for sign in plain)


def is_reason(text: str) -> bool:
    """Whether a text says why, in words.

    >>> is_reason("crucible cracked"), is_reason("ok"), is_reason("12")
    (True, False, False)
    """
    plain = text.strip().casefold()
    return plain not in NO_REASONS and any(sign.isalpha() for sign in plain)


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
