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
from typing import Annotated, Literal

from pydantic import AfterValidator, ConfigDict, Field, TypeAdapter

from laminate.files.toml import read_fields
from laminate.values.problems import Problem, did_you_mean, near_hint

FORMAT: Literal[1] = 1
ROLES = ("prepared", "reviewed", "released", "rejected")
LONGEST_NAME = 180
"""Most characters of a name as part of a file name, so that the whole stays below the usual 255."""

LONGEST_GOODS = 2000
"""Most characters on what becomes of the goods."""

_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)


class Malformed(ValueError):
    """A statement, name, role or time that is not in its form; says why in words."""


@dataclass(frozen=True, slots=True, order=True)
class Earlier:
    """A signature that was there already: its role, its name, and the SHA-256 of its two files."""

    __pydantic_config__ = ConfigDict(extra="forbid")
    role: Role
    name: Name
    statement: Digest
    signature: Digest


@dataclass(frozen=True, slots=True)
class Statement:
    """What is signed.

    record: SHA-256 of the record; role: one of `ROLES`; name: of the signer; time: as the signer claims it
    [UTC]; earlier: the signatures already there; goods: what becomes of them, where they are rejected;
    concession: SHA-256 of the record's concession in canonical form, where a record that has one is released.
    """

    __pydantic_config__ = ConfigDict(extra="forbid")
    record: Digest
    role: Role
    name: Name
    time: Moment
    earlier: tuple[Earlier, ...] = ()
    goods: Goods | None = None
    concession: Digest | None = None
    format: Literal[1] = FORMAT

    def write(self) -> bytes:
        """The statement as canonical JSON: with texts and one small number alone, sorted keys are all."""
        import orjson

        fields = {key: value for key in self.__slots__ if (value := getattr(self, key)) is not None}
        earlier = [asdict(each) for each in self.earlier]
        return orjson.dumps({**fields, "earlier": earlier}, option=orjson.OPT_SORT_KEYS)

    @property
    def seconds(self) -> int:
        """The claimed time [s since 1970 UTC]."""
        return seconds(self.time)


def read_statement(data: bytes) -> Statement:
    """Read a statement; anything but exactly its form raises Malformed, in words."""
    try:
        statement = read_fields(_STATEMENT, data)
    except ValueError as error:
        raise Malformed(str(error)) from None
    if (statement.goods is not None) != (statement.role == "rejected"):
        raise Malformed("what becomes of the goods belongs to 'rejected', and to it alone")
    if statement.concession is not None and statement.role != "released":
        raise Malformed("a concession belongs to 'released' alone")
    if list(statement.earlier) != sorted({*statement.earlier}):
        raise Malformed("'earlier' is not in order")
    if statement.write() != data:
        raise Malformed("it is not written as such a statement is")
    return statement


def _in_form(proper: Callable[[str], str]) -> AfterValidator:
    """The validator of a text that must be in its proper form already."""

    def take(text: str) -> str:
        if proper(text) != text:
            raise Malformed("it is not in its proper form")
        return text

    return AfterValidator(take)


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


def _moment(text: str) -> str:
    seconds(text)
    return text


Digest = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Role = Annotated[str, _in_form(checked_role)]
Name = Annotated[str, _in_form(checked_name)]
Goods = Annotated[str, _in_form(checked_goods)]
Moment = Annotated[str, AfterValidator(_moment)]
_STATEMENT = TypeAdapter(Statement)


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
