"""The allowed-signers file: who may sign with which key, in which namespaces, from when to when.

Format: ssh-keygen(1), section ALLOWED SIGNERS. Certificate authorities are not supported.
"""

from __future__ import annotations

import calendar
import codecs
import functools
import re
import time
from collections.abc import Iterable
from dataclasses import dataclass

from laminate.records.sshsig import KINDS, PublicKey, Unsound, bad_line, key_from_text, read_lines
from laminate.values.problems import Refused, did_you_mean, refusal

_FIRST_WORD = re.compile(rb'[ \t]*(?:"([^"]*)"|([^" \t]+))[ \t]+(.*)', re.DOTALL)
_FOREIGN = re.compile(rb"(ssh-|sk-|ecdsa-)[^ \t]*[ \t]")
"""A key of a kind that is not accepted, rather than options."""
_OPTION = re.compile(rb'([A-Za-z-]+)(?:="((?:\\"|\\(?!")|[^"\\])*)")?(,|[ \t]+|$)')
_OPTIONS = ("namespaces", "valid-after", "valid-before", "cert-authority")
_TIME = re.compile(r"(\d{4})(\d\d)(\d\d)(?:(\d\d)(\d\d)(\d\d)?)?(Z|UTC)?", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line: principals and namespaces are pattern lists, after and before are seconds since 1970 UTC."""

    line: int
    principals: bytes
    key: PublicKey
    namespaces: bytes | None = None
    after: int | None = None
    before: int | None = None


def read_allowed_signers(data: bytes, file: str) -> tuple[Entry, ...]:
    """Read an allowed-signers file; every line that cannot be used is named, and none is passed over.

    data: the bytes of the file; file: its name for messages. Raises Refused.
    """
    if data.startswith(codecs.BOM_UTF8):
        mark, hint = "a byte order mark", "save it without one"
        raise Refused(bad_line("bad-signer-line", file, 1, mark, "plain UTF-8", hint))
    entries = read_lines("bad-signer-line", data, _entry, file, "principals, options and a public key")
    if not entries:
        raise refusal("no-signers", file, "", "no signer", "at least one line with a key")
    return tuple(entries)


def _entry(number: int, text: bytes) -> Entry:
    if b"\0" in text:
        raise Unsound("a zero byte")
    words = _FIRST_WORD.fullmatch(text)
    if words is None:
        raise Unsound("no principals and key")
    principals = words[1] or words[2]
    if not principals:
        raise Unsound("no principals")
    options: dict[str, bytes] = {}
    rest = words[3]
    if rest.split(maxsplit=1)[0] not in KINDS and not _FOREIGN.match(rest):
        options, rest = _options(rest)
    key = key_from_text(rest)
    after, before = (_seconds(options.get(name), name) for name in ("valid-after", "valid-before"))
    if after is not None and before is not None and before <= after:
        raise Unsound("valid-before is not later than valid-after")
    return Entry(number, principals, key, options.get("namespaces"), after, before)


def _options(rest: bytes) -> tuple[dict[str, bytes], bytes]:
    options: dict[str, bytes] = {}
    at, separator = 0, b","
    while separator == b",":
        option = _OPTION.match(rest, at)
        if option is None:
            raise Unsound("options that cannot be read")
        name, separator, at = option[1].decode().lower(), option[3], option.end()
        if name == "cert-authority":
            raise Unsound("a certificate authority, which is not supported here")
        if name not in _OPTIONS:
            raise Unsound(f"the unknown option '{name}' ({did_you_mean(name, _OPTIONS)})")
        if option[2] is None:
            raise Unsound(f"the option '{name}' without a value in double quotes")
        if name in options:
            raise Unsound(f"the option '{name}' twice")
        options[name] = option[2].replace(b'\\"', b'"')
    return options, rest[at:]


def _seconds(text: bytes | None, name: str) -> int | None:
    if text is None:
        return None
    written = text.decode("utf-8", "replace")
    parts = _TIME.fullmatch(written)
    if parts is None:
        forms = "none of YYYYMMDD, YYYYMMDDHHMM, YYYYMMDDHHMMSS, with or without Z"
        raise Unsound(f'{name}="{written}", {forms}')
    year, month, day, hour, minute, second = (int(part or 0) for part in parts.groups()[:6])
    if not (1 <= month <= 12 and 1 <= day <= calendar.monthrange(max(year, 1), month)[1]) or year < 1970:
        raise Unsound(f'{name}="{written}", which is no date')
    if hour > 23 or minute > 59 or second > 59:
        raise Unsound(f'{name}="{written}", which is no time of day')
    moment = (year, month, day, hour, minute, second, 0, 0, 0)
    # Without Z ssh-keygen takes local time and leaves summer time out (tm_isdst = 0): 0:00 is 1:00 in summer.
    seconds = calendar.timegm(moment) if parts[7] else int(time.mktime(moment))
    if seconds <= 0:
        raise Unsound(f'{name}="{written}", which is too early')
    return seconds


def matches(word: bytes, patterns: bytes) -> bool:
    """Whether a word is in a list of patterns (ssh_config(5), section PATTERNS), byte by byte.

    >>> matches(b"Ann Lee", b"*Lee,!Bob*"), matches(b"Bob Lee", b"*Lee,!Bob*"), matches(b"Ann", b"ann")
    (True, False, False)
    """
    result = False
    for pattern in patterns.split(b","):
        if _expression(pattern.removeprefix(b"!")).fullmatch(word):
            if pattern.startswith(b"!"):
                return False
            result = True
    return result


@functools.lru_cache
def _expression(pattern: bytes) -> re.Pattern[bytes]:
    parts = re.split(rb"([*?])", re.sub(rb"\*+", b"*", pattern))
    expression = b"".join({b"*": b".*", b"?": b"."}.get(part) or re.escape(part) for part in parts)
    return re.compile(expression, re.DOTALL)


def why_not(
    entries: Iterable[Entry], *, name: str, key: PublicKey, namespace: str, at: int
) -> tuple[str, str] | None:
    """Why nobody allowed this signature, as a code and a sentence; None where a line allows it.

    name: as the statement gives it; key: that signed; namespace: of the signature;
    at: the claimed time [s since 1970 UTC].
    """
    known = [entry for entry in entries if matches(name.encode(), entry.principals)]
    if not known:
        others = {entry.principals for entry in entries if entry.key.blob == key.blob}
        names = ", ".join(sorted(other.decode("utf-8", "replace") for other in others))
        listed = f"; the key is listed for {names}" if others else ""
        return "unknown-signer", f"no line of the allowed-signers file names '{name}'{listed}"
    with_key = [entry for entry in known if entry.key.blob == key.blob]
    if not with_key:
        words = f"'{name}' is listed in the allowed-signers file, but not with the key {key.fingerprint}"
        return "unknown-key", words
    permitted = [e for e in with_key if e.namespaces is None or matches(namespace.encode(), e.namespaces)]
    if not permitted:
        lines = ", ".join(str(entry.line) for entry in with_key)
        return "wrong-namespace", f"line {lines} allows '{name}' this key, but not for '{namespace}'"
    reasons = [_when(entry, at) for entry in permitted]
    if None in reasons:
        return None
    words = "; ".join(reason for reason in reasons if reason)
    return "outside-validity", f"{words} (the time is as the signer claims it)"


def _when(entry: Entry, at: int) -> str | None:
    claimed = f"line {entry.line}: the claimed time {utc(at)} is"
    if entry.after is not None and at < entry.after:
        return f"{claimed} before valid-after, {utc(entry.after)}"
    if entry.before is not None and at > entry.before:
        return f"{claimed} after valid-before, {utc(entry.before)}"
    return None


def utc(seconds: int) -> str:
    """A moment [s since 1970 UTC] as statements write it.

    >>> utc(0)
    '1970-01-01T00:00:00Z'
    """
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(seconds))
