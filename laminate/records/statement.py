"""What a person signs: one statement on one record in one role, and the names of the two files it makes."""

from __future__ import annotations

import datetime as dt
import functools
import re
import unicodedata
import urllib.parse
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from laminate.values.canonical import read_json
from laminate.values.problems import Problem, did_you_mean, near_hint

FORMAT = 1
ROLES = ("prepared", "reviewed", "released", "rejected")
LONGEST_NAME = 180
"""Most characters of a name as part of a file name, so that the whole stays below the usual 255."""

LONGEST_GOODS = 2000
"""Most characters on what becomes of the goods."""

_DIGEST = re.compile(r"[0-9a-f]{64}")
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)


class Malformed(ValueError):
    """A statement, name, role or time that is not in its form; says why in words."""


@dataclass(frozen=True, slots=True, order=True)
class Earlier:
    """A signature that was there already: its role, its name, and the SHA-256 of its two files."""

    role: str
    name: str
    statement: str
    signature: str


@dataclass(frozen=True, slots=True)
class Statement:
    """What is signed.

    record: SHA-256 of the record; role: one of `ROLES`; name: of the signer; time: as the signer claims it
    [UTC]; earlier: the signatures already there; goods: what becomes of them, where they are rejected;
    concession: SHA-256 of the record's concession in canonical form, where a record that has one is released.
    """

    record: str
    role: str
    name: str
    time: str
    earlier: tuple[Earlier, ...] = ()
    goods: str | None = None
    concession: str | None = None

    def write(self) -> bytes:
        """The statement as canonical JSON: with texts and one small number alone, sorted keys are all."""
        import orjson

        fields = {key: value for key in self.__slots__ if (value := getattr(self, key)) is not None}
        earlier = [asdict(each) for each in self.earlier]
        return orjson.dumps({"format": FORMAT, **fields, "earlier": earlier}, option=orjson.OPT_SORT_KEYS)

    @property
    def seconds(self) -> int:
        """The claimed time [s since 1970 UTC]."""
        return seconds(self.time)


def read_statement(data: bytes) -> Statement:
    """Read a statement; anything but exactly its form raises Malformed, in words."""
    try:
        content = read_json(data)
    except ValueError as error:
        raise Malformed(f"no JSON ({error})") from None
    needed = {"format", "record", "role", "name", "time", "earlier"}
    fields = _object(content, "it", needed, {"goods", "concession"})
    if type(fields["format"]) is not int or fields["format"] != FORMAT:
        raise Malformed(f"its format is {fields['format']!r}, and {FORMAT} is known")
    role = checked_role(_text(fields, "role"))
    name, time = _name(fields), _text(fields, "time")
    seconds(time)
    goods = fields.get("goods")
    if (goods is not None) != (role == "rejected"):
        raise Malformed("what becomes of the goods belongs to 'rejected', and to it alone")
    if goods is not None and checked_goods(_text(fields, "goods")) != goods:
        raise Malformed("what becomes of the goods is not in its proper form")
    if "concession" in fields and role != "released":
        raise Malformed("a concession belongs to 'released' alone")
    record, earlier = _digest(fields, "record"), _earlier(fields["earlier"])
    concession = _digest(fields, "concession") if "concession" in fields else None
    statement = Statement(record, role, name, time, earlier, goods, concession)
    if statement.write() != data:
        raise Malformed("it is not written as such a statement is")
    return statement


def _earlier(content: object) -> tuple[Earlier, ...]:
    if not isinstance(content, list):
        raise Malformed("'earlier' is not a list")
    earlier: list[Earlier] = []
    for row in content:
        fields = _object(row, "an entry of 'earlier'", {"role", "name", "statement", "signature"}, set())
        role, name = checked_role(_text(fields, "role")), _name(fields)
        earlier.append(Earlier(role, name, _digest(fields, "statement"), _digest(fields, "signature")))
    if earlier != sorted(set(earlier)):
        raise Malformed("'earlier' is not in order")
    return tuple(earlier)


def _object(content: object, what: str, needed: set[str], optional: set[str]) -> dict[str, Any]:
    if not isinstance(content, dict):
        raise Malformed(f"{what} is not an object")
    for key in sorted(content.keys() - needed - optional):
        hint = did_you_mean(key, needed | optional)
        raise Malformed(f"{what} has the unknown key '{key}'" + (f" ({hint})" if hint else ""))
    for key in sorted(needed - content.keys()):
        raise Malformed(f"{what} lacks the key '{key}'")
    return content


def _text(fields: dict[str, Any], key: str) -> str:
    if not isinstance(fields[key], str):
        raise Malformed(f"'{key}' is not text")
    return str(fields[key])


def _name(fields: dict[str, Any]) -> str:
    name = _text(fields, "name")
    if checked_name(name) != name:
        raise Malformed("a name is not in its proper form")
    return name


def _digest(fields: dict[str, Any], key: str) -> str:
    if not _DIGEST.fullmatch(_text(fields, key)):
        raise Malformed(f"'{key}' is not a SHA-256 of 64 lower-case hexadecimal digits")
    return str(fields[key])


def checked_role(role: str) -> str:
    """The role, where it is one of `ROLES`; else raises Malformed with the nearest one."""
    if role not in ROLES:
        raise Malformed(f"the role '{role}' is unknown ({did_you_mean(role, ROLES)})")
    return role


def checked_name(name: str) -> str:
    """A person's name in its proper form: composed letters (Unicode NFC), single spaces, none at the ends.

    >>> checked_name("  Ann   Lee ")
    'Ann Lee'

    Raises Malformed: no letter, a slash, an unprintable character, or too long for a file name.
    """
    proper = _proper(name, "the name")
    if not any(char.isalpha() for char in proper):
        raise Malformed("the name has no letter")
    if "/" in proper or "\\" in proper:
        raise Malformed("the name has a slash or a backslash")
    if len(_encoded(proper)) > LONGEST_NAME:
        raise Malformed("the name is too long for a file name")
    return proper


def checked_goods(goods: str) -> str:
    """What becomes of the goods, in its proper form; raises Malformed where nothing is said."""
    proper = _proper(goods, "what becomes of the goods")
    if not any(char.isalnum() for char in proper):
        raise Malformed("what becomes of the goods is not said")
    if len(proper) > LONGEST_GOODS:
        raise Malformed(f"what becomes of the goods takes more than {LONGEST_GOODS} characters")
    return proper


def _proper(text: str, what: str) -> str:
    proper = " ".join(unicodedata.normalize("NFC", text).split())
    if not proper.isprintable():
        raise Malformed(f"{what} has a character that cannot be printed")
    return proper


@functools.lru_cache
def seconds(moment: str) -> int:
    """A moment as statements write it, in seconds since 1970 UTC.

    >>> seconds("1970-01-02T00:00:00Z")
    86400

    Raises Malformed where it is no such moment.
    """
    try:
        if not _TIME.fullmatch(moment):
            raise ValueError
        instant = dt.datetime.fromisoformat(moment)
        since = int(instant.timestamp())
        if since < 0 or instant.isoformat() != moment.replace("Z", "+00:00"):
            raise ValueError
    except ValueError:
        raise Malformed(f"the time '{moment}' is no moment like 2026-11-20T09:30:00Z (UTC)") from None
    return since


@functools.lru_cache
def _encoded(name: str) -> str:
    encoded = urllib.parse.quote(name, safe="")  # leaves letters, digits and -_.~
    return encoded.replace("_", "%5F").replace(".", "%2E").replace("~", "%7E").replace("%20", "_")


def statement_name(record: Path, role: str, name: str) -> str:
    """The file name of a statement; its signature has `.sig` after it.

    Letters without accents, digits and hyphens stay; a space becomes _; all else becomes % and two
    hexadecimal digits a byte, so that two names never share a file and no name leaves its folder.

    >>> statement_name(Path("out/record.json"), "reviewed", "J. Müller")
    'record.reviewed.J%2E_M%C3%BCller.statement'
    """
    return f"{record.stem}.{role}.{_encoded(name)}.statement"


def checked_signer(role: str, name: str, problems: list[Problem]) -> str:
    """The proper form of a name that is to sign in a role; what is wrong with either goes to the problems."""
    if role not in ROLES:
        roles, hint = f"one of {', '.join(ROLES)}", near_hint(role, ROLES)
        problems.append(Problem("bad-call", "", "--role", f"'{role}'", roles, hint))
    return checked("--name", checked_name, name, "the name of who signs", problems)


def checked(
    place: str, proper: Callable[[str], str], text: str, expected: str, problems: list[Problem]
) -> str:
    """The proper form of what an option gave, or the text with a problem where it has none."""
    try:
        return proper(text)
    except Malformed as error:
        fault, hint = (f"'{text}'", str(error)) if text.strip() else ("nothing", "")
        problems.append(Problem("bad-call", "", place, fault, expected, hint))
        return text
