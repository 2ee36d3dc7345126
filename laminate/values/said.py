"""Sentences that carry their quantities: text in metric units, to be said in others too."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Self

from laminate.values.input_key import Name
from laminate.values.quantities import US, Unit, shown, shown_difference

DIGITS_WITHOUT_SPREAD = 4


@dataclass(frozen=True, slots=True)
class Figure:
    """A quantity inside a sentence.

    value: [SI]; unit: metric, shown; digits: significant ones, 0: as many as its ± supports; u: a ± of it
    [SI], to two digits; bare: its unit stands with the next one; difference: a step, not a point of its
    scale; us: the customary unit where it is not the usual one; written: the number as it is said in metric
    units, where that is not by digits; down: rounded to its digits towards zero; alone: its ± is not said.
    """

    value: float
    unit: Unit
    digits: int = 4
    u: float | None = None
    bare: bool = False
    difference: bool = False
    us: Unit | None = None
    written: str = ""
    down: bool = False
    alone: bool = False

    def text(self, units: str = "metric") -> str:
        """The number with its unit; units: 'metric' or 'us'.

        >>> from laminate.values.quantities import DEG_C, MM
        >>> Figure(0.0029, MM).text(), Figure(0.0254, MM).text("us"), Figure(293.15, DEG_C).text("us")
        ('2.9 mm', '1 in', '68 degF')
        >>> Figure(0.0003061, MM, 2).text(), Figure(0.0003061, MM, 2, down=True).text()
        ('0.31 mm', '0.3 mm')
        """
        unit = (self.us or US.get(self.unit, self.unit)) if units == "us" else self.unit
        size = (shown_difference if self.difference else shown)(self.value, unit)
        if not self.digits:
            u = shown_difference(self.u, unit) if self.u else None
            return with_size(size, u, "" if self.bare else unit.text, alone=self.alone)
        if self.down and size:
            step = 10.0 ** (math.floor(math.log10(abs(size))) - self.digits + 1)
            size = math.trunc(size / step) * step
        number = self.written if self.written and unit is self.unit else ""
        number = number or f"{size:.{self.digits}g}"
        if self.u is not None:
            number += f" ± {shown_difference(self.u, unit):.2g}"
        # digits are wanted, not powers
        if "e" in number and 1e-6 < abs(size) < 1e9:
            places = max(0, self.digits - 1 - math.floor(math.log10(abs(size))))
            number = f"{size:.{places}f}"
        space = "" if unit.text.startswith("e") else " "  # a power of ten is part of the number
        return number if self.bare else f"{number}{space}{unit.text}".rstrip()


def decimals(value: float, spread: float | None) -> int:
    """Decimal places worth showing: two digits of the ±, else four digits of the value."""
    size = spread if spread else value
    if not size or not math.isfinite(size):
        return 2
    digits = 2 if spread else DIGITS_WITHOUT_SPREAD
    # rounding may carry into another digit (0.0996 -> 0.10), so look at the rounded size
    exponent = int(f"{abs(size):.{digits - 1}e}".partition("e")[2])
    return max(0, digits - 1 - exponent)


def fixed(number: float, places: int) -> str:
    """A number with so many decimal places, never '-0.00'."""
    text = f"{number:.{places}f}"
    return text[1:] if text.startswith("-") and float(text) == 0.0 else text


def with_size(number: float, size: float | None, unit: str = "", *, alone: bool = False) -> str:
    """A number and its ±, both in the unit already, to the digits that the ± supports; alone: without the ±.

    >>> with_size(1.65234, 0.0996, "g")
    '1.65 ± 0.10 g'
    """
    places = decimals(number, size)
    spread = f" ± {fixed(size, places)}" if size and not alone else ""
    return f"{fixed(number, places)}{spread} {unit}".rstrip()


class Said(str):
    """A sentence made of texts and figures. It is its own text, in metric units."""

    __slots__ = ("parts",)
    parts: tuple[str | Figure, ...]

    def __new__(cls, *parts: str | Figure) -> Self:
        """Join texts, sentences and figures."""
        made = super().__new__(cls, "".join([p if isinstance(p, str) else p.text() for p in parts]))
        if Said in map(type, parts):
            parts = tuple(p for part in parts for p in (part.parts if isinstance(part, Said) else (part,)))
        made.parts = parts
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        """What a copy is made of."""
        return Said, self.parts


class NoSpread(str):
    """The sentence of an input that is given without ±, with the input's key, its value [SI] and its text.

    >>> str(NoSpread("core width", 0.012, "12 mm"))
    'core width 12 mm: no ± stated'
    """

    __slots__ = ("name", "value", "written")
    name: Name
    value: float
    written: str

    def __new__(cls, name: Name, value: float, written: str) -> Self:
        """Say that an input carries no ±."""
        made = super().__new__(cls, f"{name} {written}: no ± stated")
        made.name, made.value, made.written = name, value, written
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        """What a copy is made of."""
        return NoSpread, (self.name, self.value, self.written)


def between(low: float, high: float, unit: Unit, digits: int = 4, us: Unit | None = None) -> Said:
    """Two figures with one unit.

    >>> from laminate.values.quantities import G_CM3
    >>> str(between(800.0, 9000.0, G_CM3))
    '0.8 to 9 g/cm^3'
    """
    return Said(Figure(low, unit, digits, bare=True, us=us), " to ", Figure(high, unit, digits, us=us))


def beyond(value: float, low: float, high: float, unit: Unit, digits: int = 4) -> tuple[Figure, Said]:
    """A value outside two others, and these, with so many digits that it is seen to be outside.

    >>> from laminate.values.quantities import MM
    >>> figure, within = beyond(0.00023722, 0.00021497, 0.00023718, MM)
    >>> figure.text(), str(within)
    ('0.23722 mm', '0.21497 to 0.23718 mm')
    """
    near = low if value < low else high

    def alike(units: str) -> bool:
        return Figure(value, unit, digits).text(units) == Figure(near, unit, digits).text(units)

    while digits < 9 and (alike("metric") or alike("us")):
        digits += 1
    return Figure(value, unit, digits), between(low, high, unit, digits)


def joined(separator: str, texts: Sequence[str]) -> Said:
    """Texts with a separator between, their figures kept."""
    parts = [part for text in texts for part in (separator, text)]
    return Said(*parts[1:])


def say_in(text: str, units: str) -> str:
    """A text in a system of units, 'metric' or 'us': its figures are said in it, the rest stays.

    >>> from laminate.values.quantities import MM
    >>> say_in(Said("a gap of ", Figure(0.0254, MM)), "us"), say_in("a gap of '25.4 mm'", "us")
    ('a gap of 1 in', "a gap of '25.4 mm'")
    """
    if units != "us" or not isinstance(text, Said):
        return text
    return "".join(part.text("us") if isinstance(part, Figure) else part for part in text.parts)


def few(items: Sequence[str], most: int = 10) -> str:
    """The items in a row of words, the rest as a count.

    >>> few(["B7", "B8", "B9"], 2)
    'B7, B8 and 1 more'
    """
    shown = ", ".join(items[:most])
    return shown if len(items) <= most else f"{shown} and {len(items) - most} more"
