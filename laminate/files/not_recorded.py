"""Words that stand where a value would: a reason in words, and 'not recorded: reason'."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import AfterValidator, PlainValidator, WithJsonSchema

from laminate.files.reasons import is_reason, is_stated
from laminate.files.toml import as_typed, check_range, misread
from laminate.values.units import SIValue, Unreadable, kind_words, parse

NOT_RECORDED = "not recorded"
UNTRACED = "no"
OR = f'or "{NOT_RECORDED}: " and why'


@dataclass(frozen=True, slots=True)
class NotRecorded:
    """What a shop has no record of, and why."""

    reason: str


def after(text: Any, word: str) -> str | None:
    """The reason behind `word:` [text], None where the text does not start so."""
    if not isinstance(text, str):
        return None
    head, colon, tail = text.partition(":")
    return tail.strip() if colon and " ".join(head.split()).casefold() == word else None


def _says(enough: Callable[[str], bool], expected: str) -> AfterValidator:
    """The validator of a text that must say something."""

    def take(text: str) -> str:
        if not enough(text):
            raise misread("wrong-value", repr(text), expected)
        return text.strip()

    return AfterValidator(take)


def _untraced(text: str) -> str:
    reason = after(text, UNTRACED)
    if reason is None or not is_reason(reason):
        example = "no: checked with weight W-3, 100 g, before use"
        raise misread("wrong-value", repr(text), f'why it is not traceable, such as "{example}"')
    return reason


def _or_not_recorded(read: Callable[[Any], Any], expected: str) -> Callable[[Any], Any]:
    def take(text: Any) -> Any:
        reason = after(text, NOT_RECORDED)
        if reason is None:
            return read(text)
        if not is_reason(reason):
            raise misread("wrong-value", repr(text), f"{expected}, {OR}")
        return NotRecorded(reason)

    return take


def _day(text: Any) -> dt.date:
    if type(text) is dt.date:
        return text
    try:
        return dt.date.fromisoformat(text if isinstance(text, str) else "")
    except ValueError:
        raise misread("wrong-type", as_typed(text), f"a date such as 2026-11-18, {OR}") from None


def _duration(text: Any) -> SIValue:
    words, _ = kind_words("time")
    try:
        value = parse(text, "time")
        check_range(value, words, 0.0, None, "of 0 or more")
    except Unreadable as fault:
        expected = f'a time, such as "12 d" or "40 h", {OR}'
        raise misread("unreadable-value", fault.found, expected, fault.hint) from None
    return value


Words = Annotated[str, _says(is_reason, "a text in words")]
Named = Annotated[str, _says(is_stated, "a number or name, in quotes")]
Untraced = Annotated[
    str,
    AfterValidator(_untraced),
    WithJsonSchema({"type": "string", "pattern": "^ *[Nn][Oo] *:.", "description": '"no: " and why'}),
]
Day = Annotated[
    dt.date | NotRecorded,
    PlainValidator(_or_not_recorded(_day, "a date such as 2026-11-18")),
    WithJsonSchema({"type": "string", "description": f"a date, {OR}"}),
]
Duration = Annotated[
    SIValue | NotRecorded,
    PlainValidator(_or_not_recorded(_duration, 'a time, such as "12 d"')),
    WithJsonSchema({"type": "string", "description": f'a time, such as "12 d", {OR}'}),
]
