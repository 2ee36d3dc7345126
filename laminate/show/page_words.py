"""Names and counts of `report`'s JSON as a page prints them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from laminate.show import numbers
from laminate.values.quantities import ATTRIBUTES

Json = Mapping[str, Any]
"""An answer as it stands in JSON, or a table of it."""


def chance(probability: float | None) -> str:
    """A chance in percent.

    >>> chance(0.98765), chance(None)
    ('98.77 %', 'not said')
    """
    return "not said" if probability is None else numbers.chance(probability, 2)


def attribute(key: str) -> str:
    """The words of an attribute key."""
    known = ATTRIBUTES.get(key)
    return known.words if known else key.replace("_", " ")


def title(characteristic: Json) -> str:
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
    return " to ".join(dict.fromkeys(f"{end:.3g}" for end in (min(numbers_), max(numbers_))))


def several(count: int, noun: str, many: str = "") -> str:
    """A count and its noun.

    >>> several(1, "coupon"), several(3, "coupon")
    ('1 coupon', '3 coupons')
    """
    return f"{count} {noun if count == 1 else many or f'{noun}s'}"


def capital(text: str) -> str:
    """The same with a capital at its beginning."""
    return f"{text[:1].upper()}{text[1:]}"
