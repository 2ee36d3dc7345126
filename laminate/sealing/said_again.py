"""Whether two answers say the same, and in words where they do not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import orjson

RELATIVE = 1e-9
"""How far two numbers may differ, relative to the larger."""

LEFT_OVER = 1e-12
"""And how far in the unit shown: what is left where nearly equal numbers are subtracted; no source."""

MOST_SHOWN = 20
_SAID = ("text", "reason", "reasons", "remarks", "notes", "warnings", "found", "expected", "hint")
WORDING = frozenset((*_SAID, "state", "prior"))
"""Keys of words alone: another version may word them otherwise, so only the same version is held to them."""

_NAMES = ("label", "specimen", "input", "file", "zone", "core", "attribute", "name", "number")


def differences(said: Any, again: Any, *, strict: bool) -> list[str]:
    """What an earlier answer says otherwise than a new one, a sentence each; empty where they agree.

    strict: what only the new answer says, and how a thing is worded, are differences too.

    >>> differences({"answer": "conforms", "n": 3.0}, {"answer": "undecided", "n": 3.0 + 1e-12}, strict=True)
    ["answer: the record says 'conforms', computed again it is 'undecided'"]
    """
    found = list(_walk(said, again, "", strict))
    more = len(found) - MOST_SHOWN
    return [*found[:MOST_SHOWN], *([f"and {more} more"] if more > 0 else [])]


def _walk(said: Any, again: Any, place: str, strict: bool) -> Iterator[str]:
    if isinstance(said, Mapping) and isinstance(again, Mapping):
        for key in said:
            if key in WORDING and not strict:
                continue
            inner = f"{place}.{key}" if place else str(key)
            if key in again:
                yield from _walk(said[key], again[key], inner, strict)
            else:
                yield f"{inner}: the record says {_shown(said[key])}, computed again nothing is said of it"
        for key in again:
            if key not in said and strict:
                inner = f"{place}.{key}" if place else str(key)
                yield f"{inner}: the record says nothing of it, computed again it is {_shown(again[key])}"
    elif _is_list(said) and _is_list(again):
        if len(said) != len(again):
            yield f"{place}: the record lists {len(said)}, computed again there are {len(again)}"
            return
        names = Counter(map(_name, said))
        for number, (one, other) in enumerate(zip(said, again, strict=True), 1):
            name = _name(one)
            shown = f"{name}, {number}" if name and names[name] > 1 else name or str(number)
            yield from _walk(one, other, f"{place}[{shown}]", strict)
    elif not _same(said, again):
        yield f"{place}: the record says {_shown(said)}, computed again it is {_shown(again)}"


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, (str, bytes))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _same(said: Any, again: Any) -> bool:
    if _is_number(said) and _is_number(again):
        return bool(abs(said - again) <= max(RELATIVE * max(abs(said), abs(again)), LEFT_OVER))
    return bool(type(said) is type(again) and said == again)


def _name(row: Any) -> str:
    """What a row of a list is called."""
    if not isinstance(row, Mapping):
        return ""
    return next((str(row[key])[:80] for key in _NAMES if isinstance(row.get(key), str)), "")


def _shown(value: Any) -> str:
    if isinstance(value, str):
        text = repr(value)
    elif _is_number(value):
        text = f"{value:.12g}"
    elif isinstance(value, Mapping) or _is_list(value):
        text = orjson.dumps(value).decode()
    else:
        text = "nothing" if value is None else "true" if value else "false"
    return text if len(text) <= 80 else f"{text[:76]} ..."
