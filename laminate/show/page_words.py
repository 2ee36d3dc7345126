"""Numbers and names of `report`'s JSON as a page prints them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from laminate.show import numbers
from laminate.values.quantities import ATTRIBUTES, Unit

UNITS = {"degC": "°C", "g/m^2": "g/m²", "g/cm^3": "g/cm³"}
DASH = "–"
NO_BREAK = "\u00a0"


def unit(text: str) -> str:
    """A unit as it is printed.

    >>> unit("g/cm^3")
    'g/cm³'
    """
    return UNITS.get(text, text)


def quantity(value: float | None, spread: float | None, unit_text: str) -> str:
    """Value ± spread with its unit, a dash where there is no value; all in the unit named.

    >>> quantity(58.79190, 0.31420, "%")
    '58.79\xa0±\xa00.31\xa0%'
    """
    if value is None:
        return DASH
    return numbers.text(value, spread, Unit(unit(unit_text), 1.0)).replace(" ", NO_BREAK)


def alone(value: float | None, spread: float | None, unit_text: str) -> str:
    """A value without its ±, to the digits that it supports; a dash where there is none."""
    if value is None:
        return DASH
    return numbers.value_text(value, spread, Unit(unit(unit_text), 1.0)).replace(" ", NO_BREAK)


def spread(value: float | None, unit_text: str) -> str:
    """A ± alone with two digits and its unit."""
    if value is None:
        return DASH
    return numbers.spread_text(value, Unit(unit(unit_text), 1.0)).replace(" ", NO_BREAK)


def interval(values: Sequence[float], spread: float | None, unit_text: str) -> str:
    """From the least to the greatest of some values, to the digits that their ± supports.

    >>> interval([2.8720, 2.8663], 0.0037, "mm")
    '2.8663 to 2.8720\xa0mm'
    """
    low, high = min(values), max(values)
    places = numbers.decimals(high, spread)
    first, last = numbers.fixed(low, places), numbers.fixed(high, places)
    text = first if first == last else f"{first} to {last}"
    return f"{text}{NO_BREAK}{unit(unit_text)}".rstrip()


def bounds(limits: Mapping[str, float | None] | None, unit_text: str) -> str:
    """A pair of limits in words, '' where there is none.

    >>> bounds({"min": None, "max": 2.0}, "%"), bounds({"min": 54.0, "max": 64.0}, "%")
    ('at most 2\xa0%', '54 to 64\xa0%')
    """
    if limits is None:
        return ""
    low, high = limits["min"], limits["max"]
    if low is not None and high is not None:
        text = f"{low:.10g} to {high:.10g}"
    else:
        text = f"at least {low:.10g}" if low is not None else f"at most {high:.10g}"
    return f"{text}{NO_BREAK}{unit(unit_text)}".rstrip()


def chance(probability: float | None) -> str:
    """A chance in percent.

    >>> chance(0.98765), chance(None)
    ('98.77\xa0%', 'not said')
    """
    return "not said" if probability is None else numbers.chance(probability, 2).replace(" ", NO_BREAK)


def attribute(key: str) -> str:
    """The words of an attribute key."""
    known = ATTRIBUTES.get(key)
    return known.words if known else key.replace("_", " ")


def title(characteristic: Mapping[str, Any]) -> str:
    """What a characteristic is, in words.

    >>> title({"name": "prepreg.ud150.resin_content", "zone": None, "lot": "lot L2231"})
    'resin content by weight of prepreg ud150, lot L2231'
    >>> title({"name": "thickness", "zone": "web", "lot": None})
    'laminate thickness, zone web'
    """
    name = str(characteristic["name"])
    if name.startswith("prepreg."):
        key = name.rpartition(".")[2]
        name = f"{attribute(key)} of prepreg {name.removeprefix('prepreg.').removesuffix(f'.{key}')}"
    else:
        name = attribute(name) if name in ATTRIBUTES else name
    parts = [name, f"zone {characteristic['zone']}" if characteristic["zone"] else "", characteristic["lot"]]
    return ", ".join(part for part in parts if part)


def freedom(number: float | None) -> str:
    """Degrees of freedom; None are infinitely many.

    >>> freedom(2.0907), freedom(1132.6), freedom(None)
    ('2.1', 'over 1000', '∞')
    """
    if number is None:
        return "∞"
    return "over 1000" if number > 1000 else f"{number:.1f}" if number < 100 else f"{number:.0f}"


def factors(numbers_: Sequence[float]) -> str:
    """One coverage factor, or from the least to the greatest.

    >>> factors([1.95996, 1.95996]), factors([1.96, 2.78])
    ('1.96', '1.96 to 2.78')
    """
    low, high = f"{min(numbers_):.3g}", f"{max(numbers_):.3g}"
    return low if low == high else f"{low} to {high}"


def several(count: int, one: str, many: str = "") -> str:
    """A count and its noun.

    >>> several(1, "coupon"), several(3, "coupon")
    ('1 coupon', '3 coupons')
    """
    return f"{count} {one if count == 1 else many or f'{one}s'}"


def largest(values: Sequence[float | None]) -> float | None:
    """The largest of the numbers there are."""
    known = [value for value in values if value is not None and math.isfinite(value)]
    return max(known) if known else None
