"""Whether two answers say the same, and in words where they do not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import orjson

from laminate.values.problems import Refused

RELATIVE = 1e-9
"""How far two numbers may differ, relative to the larger."""

LEFT_OVER = 1e-12
"""And how far in the unit shown: what is left where nearly equal numbers are subtracted; no source."""

MOST_SHOWN = 20
CHANCES = frozenset(
    ("probability_of_conformity", "risk_if_accepted", "risk_if_rejected", "chance_of_all", "chance")
)
CHANCE_APART = 2e-4
"""How far chances of other formulas may lie apart: integrals over shared causes are computed to this."""

_SAID = ("text", "reason", "reasons", "remarks", "notes", "found", "expected", "hint", "what", "say")
WORDING = frozenset((*_SAID, "state", "prior", "matters"))
"""Keys of words alone: another version may word them otherwise, so only the same version is held to them."""

_OF_PEOPLE = frozenset(("concession", "replaces", "exclusions", "accepted", "corrections", "declared"))
"""Keys below which a `reason` is a person's own: no version may say it otherwise."""

_NAMES = ("label", "specimen", "input", "file", "zone", "core", "attribute", "name", "number")


@dataclass(frozen=True, slots=True)
class Rejudged:
    """A record judged again.

    findings: what stands against it, in words; content: what is said of its inputs today, as a record would
    have it, None where they cannot be judged; notes: where it differs without standing against it; foreign:
    another version of the program made it; apart: and words or chances of it differ.
    """

    findings: tuple[str, ...]
    content: dict[str, Any] | None = None
    notes: tuple[str, ...] = ()
    foreign: bool = False
    apart: bool = False

    @property
    def sound(self) -> bool:
        """Whether all that it says is computed of its inputs."""
        return self.content is not None and not self.findings


Recompute = Callable[[bytes], Rejudged]
"""Judges the inputs inside a record again."""


def rejudge(recompute: Recompute, data: bytes) -> Rejudged:
    """A record judged again; whatever goes wrong stands against this record alone, and stops no other."""
    try:
        return recompute(data)
    except Refused as refusal:
        sentences = (problem.sentence() for problem in refusal.problems)
        return Rejudged(tuple(f"it cannot be computed again: {sentence}" for sentence in sentences))
    except Exception as error:  # noqa: BLE001 (bytes of strangers: anything may be inside)
        return Rejudged((f"it cannot be computed again: internal fault ({type(error).__name__})",))


def differences(recorded: Any, again: Any, *, wording: bool = True, chances: bool = False) -> list[str]:
    """What an earlier answer says otherwise than a new one, a sentence each; empty where they agree.

    A key that only one of them has is a difference. wording: how a thing is worded is held to as well;
    chances: chances may lie `CHANCE_APART` apart.

    >>> differences({"answer": "conforms", "n": 3.0}, {"answer": "undecided", "n": 3.0 + 1e-12})
    ["answer: the record says 'conforms', computed again it is 'undecided'"]
    """
    if _written_alike(recorded, again):
        return []
    differing = list(_walk(recorded, again, "", _Strictness(wording, chances)))
    more = len(differing) - MOST_SHOWN
    return [*differing[:MOST_SHOWN], *([f"and {more} more"] if more > 0 else [])]


def _written_alike(recorded: Any, again: Any) -> bool:
    """Whether both are the same bytes as JSON, which tells `true` from 1 and costs little."""
    try:
        earlier, later = (orjson.dumps(each, option=orjson.OPT_SORT_KEYS) for each in (recorded, again))
    except TypeError:
        return False
    return earlier == later


class _Strictness(NamedTuple):
    wording: bool
    chances: bool
    people: bool = False

    def to_words(self, key: str) -> bool:
        """Whether what stands under a key must be the same to the word."""
        return self.wording or key not in WORDING or (self.people and key == "reason")


def _walk(recorded: Any, again: Any, place: str, held: _Strictness) -> Iterator[str]:
    if isinstance(recorded, Mapping) and isinstance(again, Mapping):
        for key in {**recorded, **again}:
            inner = f"{place}.{key}" if place else str(key)
            if key not in again:
                yield f"{inner}: the record says {_shown(recorded[key])}, computed again it is missing"
            elif key not in recorded:
                yield f"{inner}: it is missing in the record, computed again it is {_shown(again[key])}"
            elif key in CHANCES and held.chances and _near(recorded[key], again[key]):
                continue
            elif held.to_words(key) or not _alike(recorded[key], again[key]):
                within = held._replace(people=True) if key in _OF_PEOPLE else held
                yield from _walk(recorded[key], again[key], inner, within)
    elif _is_list(recorded) and _is_list(again):
        if len(recorded) != len(again):
            yield f"{place}: the record lists {len(recorded)}, computed again there are {len(again)}"
            return
        names = Counter(map(_name, recorded))
        for number, (item, item_again) in enumerate(zip(recorded, again, strict=True), 1):
            name = _name(item)
            shown = f"{name}, {number}" if name and names[name] > 1 else name or str(number)
            yield from _walk(item, item_again, f"{place}[{shown}]", held)
    elif not _same(recorded, again):
        yield f"{place}: the record says {_shown(recorded)}, computed again it is {_shown(again)}"


def _near(recorded: Any, again: Any) -> bool:
    return _is_number(recorded) and _is_number(again) and bool(abs(recorded - again) <= CHANCE_APART)


def _alike(recorded: Any, again: Any) -> bool:
    """Whether two wordings are of one shape: text for text, and as many of them."""
    if _is_list(recorded) and _is_list(again):
        return len(recorded) == len(again) and all(isinstance(text, str) for text in recorded)
    return isinstance(recorded, str) and isinstance(again, str) and bool(recorded) == bool(again)


def _is_list(value: Any) -> bool:
    return isinstance(value, Sequence) and not isinstance(value, (str, bytes))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _same(recorded: Any, again: Any) -> bool:
    if _is_number(recorded) and _is_number(again):
        return bool(abs(recorded - again) <= max(RELATIVE * max(abs(recorded), abs(again)), LEFT_OVER))
    texts = isinstance(recorded, str) and isinstance(again, str)
    return bool((texts or type(recorded) is type(again)) and recorded == again)


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
