"""Specimens whose names are one number, written with and without leading zeros."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Any, Protocol

from laminate.values.problems import Problem


class Readings(Protocol):
    """What tells whether two specimens are one: name, file, places, numbers, words, fields of points."""

    specimen: str
    file: str
    places: dict[str, str]
    numbers: dict[str, float]
    words: dict[str, str]
    fields: list[Any]


def same_but_for_zeros(coupons: Iterable[Readings]) -> tuple[list[Problem], list[tuple[str, str]]]:
    """Findings for two names that may be one specimen, notes for two that are not.

    One specimen may be in two tables, as text `0101` in the one and as the number 101 in the other: where
    both have readings that would stand beside each other in one row, nobody can tell, and it is a finding.
    Where a cell would hold two contents they are two, and the note (file, words) says so.
    """
    groups: dict[str, list[Readings]] = {}
    for coupon in coupons:
        if coupon.specimen.isdecimal():
            groups.setdefault(coupon.specimen.lstrip("0"), []).append(coupon)
    problems: list[Problem] = []
    notes: list[tuple[str, str]] = []
    for group in groups.values():
        for first, second in pairwise(group):
            place, first_place = second.places["specimen"], f"{first.file}: {first.places['specimen']}"
            if _read(first) and _read(second) and not _contrary(first, second):
                alike = f"'{second.specimen}', and '{first.specimen}' in {first_place}"
                hint = "write it alike in both, with its zeros; if they are two, give one another name"
                expected = "one name for one coupon"
                problems.append(Problem("same-name", second.file, place, alike, expected, hint))
            else:
                names = f"'{second.specimen}' and '{first.specimen}' ({first_place})"
                notes.append((second.file, f"{place}: {names} are two coupons"))
    return problems, notes


def _read(coupon: Readings) -> bool:
    return bool(coupon.numbers or coupon.fields)


def _contrary(first: Readings, second: Readings) -> bool:
    """Whether one cell would hold two contents."""
    merged = ("remark", "operator", "time", "field")
    return (
        any(second.numbers.get(label, number) != number for label, number in first.numbers.items())
        or any(second.words.get(name, w) != w for name, w in first.words.items() if name not in merged)
        or bool({field.name for field in first.fields} & {field.name for field in second.fields})
    )
