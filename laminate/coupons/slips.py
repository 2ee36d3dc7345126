"""What a person may have meant to write: every reading that is one slip of hand or eye away from a cell."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

_PLAIN = re.compile(r"([+-]?)(\d*)([.,]?)(\d*)")
_POWER = re.compile(r"[+-]?\d+[.,]?\d*[eE][+-]?\d{1,2}", re.ASCII)
# what a reading is multiplied with where it was written in another unit than the heading's
UNIT_FACTORS: dict[str, tuple[tuple[float, str], ...]] = {
    "mass": (
        (28.349523125, "ounces and grams mixed up"), (1000.0, "milligrams, grams or kilograms mixed up"),
    ),
    "length": ((25.4, "inches and millimeters mixed up"), (1000.0, "units that differ by 1000 mixed up")),
    "area": (
        (645.16, "square inches and square millimeters mixed up"),
        (6.4516, "square inches and cm^2 mixed up"),
    ),
    "density": ((1000.0, "kg/m^3 and g/cm^3 mixed up"), (27.67990471, "lb/in^3 and g/cm^3 mixed up")),
}  # fmt: skip
TRANSPOSED, MOVED = "two digits swapped", "the decimal point moved"
REPLACED, DROPPED, DOUBLED = "one digit wrong", "a digit dropped", "a digit too many"
NEAR = 0.25  # of the logarithm of a factor
_COST = {TRANSPOSED: 0, MOVED: 0, DROPPED: 1, DOUBLED: 1, REPLACED: 2}


@dataclass(frozen=True, slots=True)
class Slip:
    """A reading that may have been meant: text to write, its number, which slip made it, how rare that is."""

    text: str
    number: float
    how: str
    cost: int


def number_of(text: str) -> float | None:
    """The number of a cell written with point or comma, None for anything else.

    >>> number_of("2,143"), number_of("NA")
    (2.143, None)
    """
    try:
        number = float(text.strip().replace("\N{MINUS SIGN}", "-").replace(",", "."))
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def in_full(text: str) -> str:
    """The text of a cell, a number with a power of ten without that.

    >>> in_full("1.4410e+00"), in_full("9.763E-1"), in_full("1.44E2"), in_full("K1")
    ('1.4410', '0.9763', '144', 'K1')
    """
    plain = text.strip()
    return f"{Decimal(plain.replace(',', '.')):f}" if _POWER.fullmatch(plain) else plain


def decimals_of(text: str) -> int | None:
    """How many decimal places a cell is written with; None where it has no decimal sign.

    >>> decimals_of("1.4410"), decimals_of("144."), decimals_of("144")
    (4, 0, None)
    """
    match = _PLAIN.fullmatch(in_full(text))
    return len(match[4]) if match and match[3] and match[2] + match[4] else None


def one_slip_away(text: str, kind: str) -> Iterator[Slip]:
    """Every reading that one slip would have turned into `text`, each once, likely slips first.

    text: of the cell; kind: of its quantity ('mass', 'length', ...), for the units that get mixed up.

    >>> [m.text for m in one_slip_away("2.143", "length") if m.how == TRANSPOSED]
    ['1.243', '2.413', '2.134']
    """
    plain = text.strip()
    reading = number_of(plain)
    match = _PLAIN.fullmatch(plain)
    if reading is None or not match or reading == 0.0:
        return
    sign, digits, mark = match[1], match[2] + match[4], match[3]
    at = len(match[2])
    seen = {reading}

    def written(new: str, point: int, how: str) -> Iterator[Slip]:
        whole, rest = new[:point], new[point:]
        shown = f"{sign}{whole.lstrip('0') or '0'}{(mark or '.') + rest if rest else ''}"
        number = number_of(shown)
        if number is not None and number not in seen:
            seen.add(number)
            yield Slip(shown, number, how, _COST[how])

    for i in range(len(digits) - 1):
        new = digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]
        yield from written(new, at, TRANSPOSED)
    for shift in (-1, 1, -2, 2, -3, 3):
        point = at + shift
        padded = "0" * max(0, -point) + digits + "0" * max(0, point - len(digits))
        yield from written(padded, max(0, point), MOVED)
    for i in range(len(digits) + 1):
        for digit in "0123456789":
            yield from written(digits[:i] + digit + digits[i:], at + (1 if i < at else 0), DROPPED)
    if len(digits) > 1:
        for i in range(len(digits)):
            yield from written(digits[:i] + digits[i + 1 :], at - (1 if i < at else 0), DOUBLED)
    for i in range(len(digits)):
        for digit in "0123456789":
            yield from written(digits[:i] + digit + digits[i + 1 :], at, REPLACED)
    for factor, how in UNIT_FACTORS.get(kind, ()):
        for number in (reading * factor, reading / factor):
            if number not in seen:
                seen.add(number)
                yield Slip(f"{number:.5g}", number, how, 0)


def factor_words(ratio: float, kind: str) -> str:
    """What a reading that is `ratio` times its peers was probably mixed up with, '' for no known factor.

    >>> factor_words(25.1, "length"), factor_words(0.0101, "mass"), factor_words(3.0, "mass")
    ('a factor near 25.4: inches and millimeters mixed up', 'a factor near 100: the decimal point moved', '')
    """
    factor, how = known_factor(ratio, kind)
    return f"a factor near {factor:.4g}: {how}" if how else ""


def known_factor(ratio: float, kind: str) -> tuple[float, str]:
    """The known factor that a ratio lies near and how it comes about, '' for none."""
    size = max(ratio, 1.0 / ratio)
    known = [*UNIT_FACTORS.get(kind, ()), *((10.0**n, MOVED) for n in (1, 2, 3))]
    near = [(abs(math.log(size / factor)), factor, how) for factor, how in known]
    away, factor, how = min(near)
    return factor, how if away < NEAR else ""
