"""Who a cell names: the people in it, and the form in which two spellings of one name are equal."""

from __future__ import annotations

import re
import unicodedata

from laminate.files.reasons import is_stated

_IN_NAMES = ".'’-‐‑/"
"""Signs that may stand within one name, or in 'n/a': points, apostrophes, hyphens, strokes."""
_LISTED = re.compile(r"[;,/&+\t\r\n]|\s{2,}|\b(?:and|und|plus)\b", re.IGNORECASE)
"""What parts the names of a list; a stroke stands in 'n/a' too."""
_BETWEEN = re.compile(
    r";|\s{2,}|\s[-‐‑]|[-‐‑]\s|\b(?:and|und|plus)\b|\s(?-i:et|con|mit|with|y|e|i|og|och|en)\s"
    r"|(?-i:(?<=\b[A-Z]{2})[\W_]+(?=[A-Z]{2}\b))",
    re.IGNORECASE,
)
"""What may part two names; single spaces and hyphens do so between initials of two capitals, JM KM."""
_TITLES = re.compile(r"\A(?:(?:dr|prof|ing|dipl|mr|mrs|ms|mx|herr|frau)\b[.-]*\s*)+(?=\w)", re.IGNORECASE)
_SURNAME_FIRST = re.compile(r"\A([\w’' -]+),([\w.’' -]+)\Z")


def same_person(name: str) -> str:
    """The form in which two spellings of one name are equal: capitals, spaces, points, titles do not count.

    >>> same_person("ann  LEE") == same_person("Dr. Ann Lee") == same_person("Ann-Lee")
    True
    """
    folded = _TITLES.sub("", unicodedata.normalize("NFKC", name).casefold().strip())
    return unicodedata.normalize("NFKC", re.sub(r"[\W_]", "", folded) or "".join(folded.split()))


def share_a_person(first: str, other: str) -> bool:
    """Whether somebody may be named in both texts: a whole name of either is a name, or a part, of the other.

    >>> share_a_person("JM | KM", "KM"), share_a_person("JM (lab)", "KM (lab)")
    (True, False)
    >>> share_a_person("Lee, A.", "A. Lee")
    True
    """
    return any(_listed(text) & people_in(beside) for text, beside in ((first, other), (other, first)))


def _listed(text: str) -> set[str]:
    """The whole names of a text, each as `same_person`, and all of it as one name."""
    return {same_person(name) for name in (*_orders(text), *_LISTED.split(text)) if is_stated(name)}


def _orders(text: str) -> tuple[str, ...]:
    """A text, and the same with the surname last where a comma may follow it: 'Lee, A.'."""
    return text, _SURNAME_FIRST.sub(r"\2 \1", text)


def people_in(text: str) -> set[str]:
    """Everybody whom a text may name, each as `same_person`, and all of it as one name; nobody if none.

    >>> sorted(people_in("JM | Ann-Lee, n/a")), people_in("unknown; n/a")
    (['annlee', 'jm', 'jmannleena'], set())
    """
    normal = unicodedata.normalize("NFKC", text)
    parts = _BETWEEN.split("".join(";" if _parts_names(sign) else sign for sign in normal))
    names = [name for part in parts if is_stated(part) for name in part.split("/") if is_stated(name)]
    return {same_person(name) for name in (*_orders(text), *names)} if names else set()


def _parts_names(sign: str) -> bool:
    """Whether a sign parts two names: punctuation, a symbol or a line end, and none that one may have."""
    return unicodedata.category(sign)[0] in "PSC" and sign not in _IN_NAMES
