"""What is wrong with text that is no TOML, said so that the person who typed it can mend it."""

from __future__ import annotations

import re

_OPEN_QUOTE = re.compile(
    r"Illegal character|Found invalid character|Unterminated string|Expected ['\"]['\"]+"
)
_PLACE = re.compile(r"line (\d+), column (\d+)")
DEEPEST = 64
"""Most brackets within each other, or names in a dotted key; no file of people has a tenth of it."""

MOST_DIGITS = 300
"""Most letters and digits of a number or a name."""

_TOKEN = re.compile(
    r"(?P<dotted>(?:(?:[\w-]+|\"[^\"\n]*\"|'[^'\n]*')[ \t]*\.[ \t]*){64})"
    + r"|#[^\n]*|\"\"\"(?:\\.|[^\\])*?\"\"\"|'{3}.*?'{3}|(?!\"{3})\"(?:\\.|[^\"\\\n])*\"|(?!'{3})'[^'\n]*'"
    + r"|(?P<quote>[\"'])|(?P<word>[\w-]+)|(?P<open>[\[{])|(?P<close>[\]}])",
    re.DOTALL,
)
_A_LINE = "one key = value per line, text and values with a unit in quotes"
_WORDS = (
    ("Cannot overwrite a value", "a key that is given above already", "each key once"),
    ("Cannot declare", "a table that is given above already", "each table once"),
    ("Invalid value", "a value that is no number, date, list or table", 'text in quotes: key = "value"'),
    ("Unclosed array", "a list that is not closed", "a ] after its last entry"),
    ("Expected '=' after a key", "a key without = and a value", "key = value, text in quotes"),
    ("Expected newline", "more after the value", _A_LINE),
    ("Expected ']'", "a table name that is not closed", "a ] after the name of the table"),
    ("Unescaped '\\'", "a backslash in double quotes", "the text in single quotes, or two backslashes"),
)


def explained(text: str, fault: str) -> tuple[str, str, str]:
    """Place, what was found and what was expected.

    text: of the file; fault: the sentence of the reader, with its place at the end.
    """
    message, _, place = fault.partition(" (at ")
    place = place.rstrip(")")
    if _OPEN_QUOTE.match(message) and (start := unclosed_quote(text)) is not None:
        return _place(text, start), "a quote that opens here and is not closed", "the same quote at its end"
    if message.startswith("Invalid date"):
        return place, f"{_word_at(text, place)}: there is no such day or time", "a date such as 2026-11-18"
    for start_of_message, actual, expected in _WORDS:
        if message.startswith(start_of_message):
            return place, actual, expected
    return place, message[:1].lower() + message[1:], "TOML: key = value, text in quotes"


def too_deep(text: str) -> tuple[str, str, str] | None:
    """Place, what was found and what is expected where lists, tables or keys are nested beyond any use."""
    depth = 0
    for token in _TOKEN.finditer(text):
        depth = depth + 1 if token["open"] else max(depth - 1, 0) if token["close"] else depth
        if token["dotted"]:
            excess, expected = f"a key of more than {DEEPEST} names", "a key as this kind of file has them"
        elif len(token["word"] or "") > MOST_DIGITS:
            excess = f"a number or a name of more than {MOST_DIGITS} letters and digits"
            expected = "one as people write it"
        elif depth > DEEPEST:
            excess, expected = f"more than {DEEPEST} brackets within each other", "at most a list of tables"
        else:
            continue
        return _place(text, token.start()), excess, expected
    return None


def unclosed_quote(text: str) -> int | None:
    """Where the first quote stands that its line, or for three quotes the file, does not close.

    >>> unclosed_quote('a = "b"  # it is "so\\nc = "d')
    25
    """
    return next((token.start() for token in _TOKEN.finditer(text) if token["quote"]), None)


def _place(text: str, at: int) -> str:
    before = text[:at]
    return f"line {before.count(chr(10)) + 1}, column {at - before.rfind(chr(10))}"


def _word_at(text: str, place: str) -> str:
    match = _PLACE.search(place)
    if match is None:
        return "a date"
    line = text.split("\n")[int(match[1]) - 1][int(match[2]) - 1 :]
    return line.split("#")[0].strip().split(",")[0]
