"""A file whose tables may be half readable, and the rules between its keys that hold for many tables."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from laminate.values.problems import Problem, both_given, missing_key, unknown_name, wrong_order
from laminate.values.units import SIValue, Unreadable, parse

Keys = tuple[Any, ...]


def path_text(parts: Iterable[Any]) -> str:
    """A key path as it would be typed: zone.web.gap, process."cure temperature".value, lot[2].number."""
    text = ""
    for part in parts:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            key = str(part) if re.fullmatch(r"[A-Za-z0-9_-]+", str(part)) else f'"{part}"'
            text += f".{key}" if text else key
    return text


def _within(content: Any, part: str) -> Iterable[tuple[Any, Any]]:
    """Key and content of what stands in a table or list under one part of a pattern."""
    if isinstance(content, list):
        return [entry for entry in enumerate(content) if part in ("*", str(entry[0]))]
    if not isinstance(content, Mapping):
        return ()
    return content.items() if part == "*" else [(part, content[part])] if part in content else ()


class RawFile:
    """A lenient view of a raw file, so that checks across keys run whatever else is wrong with it.

    A pattern such as `zone.*.core` means that key of every zone.
    """

    def __init__(self, raw: Mapping[str, Any], name: str) -> None:
        self.raw, self.name = raw, name
        self.problems: list[Problem] = []

    def places(self, pattern: str) -> list[tuple[Keys, Any]]:
        """Key path and content of whatever stands at a pattern."""
        places: list[tuple[Keys, Any]] = [((), self.raw)]
        for part in pattern.split("."):
            places = [((*at, key), inner) for at, content in places for key, inner in _within(content, part)]
        return places

    def tables(self, pattern: str) -> list[tuple[Keys, dict[str, Any]]]:
        """Key path and content of each table at a pattern."""
        places = self.places(pattern)
        return [(keys, dict(content)) for keys, content in places if isinstance(content, Mapping)]

    def at(self, *keys: str | int) -> Any:
        """What stands at a key path, None where nothing does."""
        current: Any = self.raw
        for key in keys:
            there = isinstance(current, Mapping) and key in current
            if isinstance(current, list) and isinstance(key, int):
                there = key < len(current)
            if not there:
                return None
            current = current[key]
        return current

    def table(self, *keys: str | int) -> dict[str, Any]:
        """The table at a key path, empty where there is none."""
        raw = self.at(*keys)
        return dict(raw) if isinstance(raw, Mapping) else {}

    def rows(self, *keys: str | int) -> list[Any]:
        """The list at a key path, empty where there is none."""
        raw = self.at(*keys)
        return raw if isinstance(raw, list) else []

    def value(self, kind: str, *keys: str | int) -> SIValue | None:
        """The value at a key path, None where there is none or it cannot be read (said elsewhere)."""
        text = self.at(*keys)
        try:
            return parse(text, kind) if text is not None else None
        except Unreadable:
            return None

    def say(self, code: str, keys: Iterable[Any], found: str, expected: str, hint: str = "") -> None:
        """Note a finding."""
        self.problems.append(Problem(code, self.name, path_text(keys), found, expected, hint))

    def note(self, make: Callable[..., Problem], keys: Iterable[Any], *words: Any, **more: Any) -> None:
        """Note a finding that one function words, given the file, the place and the words."""
        self.problems.append(make(self.name, path_text(keys), *words, **more))

    @contextmanager
    def telling(self, code: str, keys: Iterable[Any]) -> Iterator[None]:
        """Note what cannot be read inside the block as a finding; the block ends there."""
        try:
            yield
        except Unreadable as fault:
            self.say(code, keys, fault.found, fault.expected, fault.hint)

    def refers(self, keys: Keys, target: Any, known: Iterable[str], what: str) -> bool:
        """Note a finding where a name points to nothing; True where it points to something."""
        names = list(known)
        if isinstance(target, str) and target not in names:
            self.note(unknown_name, keys, target, f"the name of {what}", names)
        return isinstance(target, str) and target in names

    def names(self, pattern: str, known: Iterable[str], what: str) -> None:
        """Note each name at a pattern that points to nothing: the keys of tables where it ends in `*`."""
        for keys, content in self.places(pattern):
            self.refers(keys, keys[-1] if pattern.endswith("*") else content, known, what)

    def needs(self, pattern: str, keys: str | Collection[str], words: str, *, beside: str = "") -> None:
        """Note each table without a key, or without any of several; beside: only where it has this one."""
        several = {keys} if isinstance(keys, str) else {*keys}
        for table, content in self.tables(pattern):
            if (not beside or beside in content) and several.isdisjoint(content):
                self.note(missing_key, table, keys, words)

    def one_of(self, pattern: str, first: str, second: str, hint: str = "") -> None:
        """Note each table that has both of two keys that exclude each other, at the second one."""
        for table, content in self.tables(pattern):
            if first in content and second in content:
                self.note(both_given, (*table, second), first, second, hint)

    def above(
        self, kind: str, keys: Keys, other: Keys, relation: str, expected: str, *, level: bool = False
    ) -> None:
        """Note a value that is above that at other keys; level: also one that equals it."""
        value, most = self.value(kind, *keys), self.value(kind, *other)
        if value and most and (not most.above(value) if level else value.above(most)):
            self.note(wrong_order, keys, value.text, relation, most.text, expected)

    def order(self, keys: Keys, day: Any, start: Any, event: str) -> None:
        """Note a finding where a day is before that of an event; days of unlike kinds are not compared."""
        alike = isinstance(day, dt.date | str) and type(day) is type(start)
        if alike and day < start:
            self.note(wrong_order, keys, day, f"before {event} on", start, "a later date")
