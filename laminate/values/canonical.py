"""Canonical JSON (RFC 8785), so that equal content is equal bytes and a digest means something."""

from __future__ import annotations

import hashlib
import json
import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from decimal import Decimal
from typing import Any

DIGITS = 12
"""Significant digits that a floating-point number keeps."""

_SAFE = 2**53 - 1
_TEXT = rb'"[^"\\]*+(?:\\.[^"\\]*+)*+"'
_ALIKE = rb"\d{1,15}+(?:\.(?!0(?!\d))\d++)?+(?:e-(?![56](?!\d))\d++)?+(?![\d.e])"
_SMALL = rb"\d(?:\.\d++)?+e-[56](?!\d)"
_NUMBER = re.compile(rb'((?:%b|[^"\d]++|%b)*+)(?:(%b)|(\d)|\Z)' % (_TEXT, _ALIKE, _SMALL))
"""What orjson spells as RFC 8785 does, then a number from 1e-6 to 1e-4, which it spells with an exponent, or
one that takes a closer look: a whole one with .0 or of 16 digits or more, one with a positive exponent.
"""
_ASTRAL = re.compile(rb"[\xf0-\xff]")
"""The first byte of a character beyond U+FFFF in UTF-8: keys with one are in another order."""


def canonical(content: object) -> bytes:
    """Write content as canonical JSON (RFC 8785, section 3.2), floats at 12 significant digits.

    content: what JSON knows: None, bool, int, float, str, lists and dictionaries with text keys.

    >>> canonical({"b": 1.0, "a": 2 / 3, "µ": [True, None]})
    b'{"a":0.666666666667,"b":1,"\\xc2\\xb5":[true,null]}'

    Raises ValueError, with the place: a number not finite, a whole number beyond 2^53 - 1, or content
    is of no kind JSON knows.
    """
    import rfc8785

    plain = rounded(content)
    return _written(plain) or rfc8785.dumps(plain)


def rounded(content: object) -> Any:
    """Content with its numbers as canonical JSON keeps them, and nothing in it that JSON does not know.

    >>> rounded({"a": 2 / 3, "b": (1.0, True)})
    {'a': 0.666666666667, 'b': [1, True]}

    Raises ValueError as `canonical` does.
    """
    return _rounded(content, ())


def _rounded(content: object, path: tuple[Any, ...]) -> Any:
    """path: the path of what holds it, and its own key or row; () at the top."""
    if content is None or isinstance(content, (str, bool)):
        return content
    if isinstance(content, float):
        if not math.isfinite(content):
            raise ValueError(f"{_place(path) or 'the number'}: {content} is not a finite number")
        kept = float(f"{content:.{DIGITS - 1}e}")
        return int(kept) if kept.is_integer() and abs(kept) <= _SAFE else kept
    if isinstance(content, int):
        if abs(content) > _SAFE:
            where = _place(path) or "the number"
            raise ValueError(f"{where}: {content} has more digits than a JSON number keeps")
        return content
    if isinstance(content, (dict, Mapping)):
        for key in content:
            if not isinstance(key, str):
                raise ValueError(f"{_place(path) or 'the object'}: the key {key!r} is not text")
        return {key: _rounded(value, (path, key)) for key, value in content.items()}
    if isinstance(content, (list, tuple, Sequence)) and not isinstance(content, (bytes, bytearray)):
        return [_rounded(value, (path, row)) for row, value in enumerate(content)]
    raise ValueError(f"{_place(path) or 'the content'}: {type(content).__name__} has no place in JSON")


def _place(path: tuple[Any, ...]) -> str:
    """A path in words, as `a.b[0]`."""
    if not path:
        return ""
    before, step = _place(path[0]), path[1]
    if isinstance(step, int):
        return f"{before}[{step}]"
    return f"{before}.{step}" if before else step


def sha256(data: bytes) -> str:
    """SHA-256 (FIPS 180-4) of bytes, in hexadecimal.

    >>> sha256(b"abc")  # FIPS 180-4 example, as published by NIST
    'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'
    """
    return hashlib.sha256(data).hexdigest()


def read_canonical(data: bytes) -> object:
    """Read JSON that must be in canonical form already: one content, one sequence of bytes.

    >>> read_canonical(b'{"a":1}')
    {'a': 1}
    >>> read_canonical(b'{"a":1,"a":2}')
    Traceback (most recent call last):
    ValueError: the key 'a' stands twice in one object

    Raises ValueError in plain words.
    """
    import orjson
    import rfc8785

    content: Any
    with suppress(ValueError):
        if _written(content := orjson.loads(data)) == data:
            return content
    try:
        content = json.loads(
            data.decode("utf-8"), object_pairs_hook=_once, parse_constant=_no_constant, parse_int=_whole
        )
        again = rfc8785.dumps(content)
    except UnicodeDecodeError:
        raise ValueError("it is not UTF-8 text") from None
    except json.JSONDecodeError as error:
        raise ValueError(f"no JSON (line {error.lineno}, column {error.colno}: {error.msg})") from None
    except RecursionError:
        raise ValueError("it is nested too deeply") from None
    if again != data:
        raise ValueError("it is JSON, but not in the canonical form of RFC 8785")
    return content


def _written(content: object) -> bytes | None:
    """JSON by orjson, which sorts keys and writes most numbers as RFC 8785 does; None where it may not."""
    import orjson

    try:
        data = orjson.dumps(content, option=orjson.OPT_SORT_KEYS)
        return None if _ASTRAL.search(data) else _NUMBER.sub(_respelled, data)
    except (ValueError, TypeError, RecursionError):
        return None


def _respelled(match: re.Match[bytes]) -> bytes:
    before, small, other = match.groups()
    if other:
        raise ValueError("a number that RFC 8785 may spell otherwise")
    return bytes(before + f"{Decimal(small.decode()):f}".encode() if small else before)


def read_json(data: bytes) -> object:
    """Read JSON of whatever form. Raises ValueError."""
    import orjson

    return orjson.loads(data)


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    content = dict(pairs)
    if len(content) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(f"the key '{twice}' stands twice in one object")
    return content


def _no_constant(word: str) -> object:
    raise ValueError(f"{word} is not a JSON number")


def _whole(digits: str) -> int | float:
    if len(digits.lstrip("-")) <= 16 and abs(int(digits)) <= _SAFE:
        return int(digits)
    return float(digits)
