"""Numbers as people and programs read them: the unit beside them, digits as many as the ± supports."""

from __future__ import annotations

import math
import re

from laminate.values.quantities import ATTRIBUTES, US, Unit, shown, shown_difference

DIGITS_WITHOUT_SPREAD = 4
_QUOTED = re.compile(r"""(?<!\w)("[^"\n]*"|'[^'\n]*')(?!\w)""")
_TYPESET = (
    (re.compile(r"\bdeg([CF])\b"), r"°\1"),
    (re.compile(r"(?<=[A-Za-z])\^2\b"), "²"),
    (re.compile(r"(?<=[A-Za-z])\^3\b"), "³"),
    (re.compile(r"(?<=[A-Za-z])\^-1\b"), "⁻¹"),
)


def typeset(text: str) -> str:
    """A text with its units as a person writes them; what stands in quotes, to be typed, stays as it is.

    >>> typeset("1.79 g/cm^3 at 23 degC; write '1.79 g/cm^3'")
    "1.79 g/cm³ at 23 °C; write '1.79 g/cm^3'"
    """
    if "deg" not in text and "^" not in text:
        return text
    parts = _QUOTED.split(text)
    for at in range(0, len(parts), 2):
        for pattern, better in _TYPESET:
            parts[at] = pattern.sub(better, parts[at])
    return "".join(parts)


def typeset_text(value: object) -> object:
    """`typeset` for what a page shows, where it is plain text; what is markup already stays."""
    return typeset(value) if isinstance(value, str) and not hasattr(value, "__html__") else value


def in_units(unit: Unit, units: str = "metric") -> Unit:
    """The unit to show: the same, or with `units` 'us' its customary one."""
    return US.get(unit, unit) if units == "us" else unit


def unit_of(attribute: str, units: str = "metric") -> Unit:
    """The unit in which an attribute is shown."""
    known = ATTRIBUTES[attribute]
    return known.us if units == "us" else known.unit


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


def value_text(value: float, spread: float | None, unit: Unit) -> str:
    """The value alone [SI] in its unit, to the digits that its ± [SI] supports.

    >>> from laminate.values.quantities import PERCENT
    >>> value_text(0.57418, 0.0061, PERCENT)
    '57.42 %'
    """
    number = shown(value, unit)
    digits = fixed(number, decimals(number, None if not spread else shown_difference(spread, unit)))
    return f"{digits} {unit.text}".rstrip()


def spread_text(spread: float | None, unit: Unit) -> str:
    """A ± [SI] in its unit with two digits.

    >>> from laminate.values.quantities import MM
    >>> spread_text(0.0000123, MM)
    '0.012 mm'
    """
    if spread is None:
        return ""
    number = shown_difference(spread, unit)
    return f"{fixed(number, decimals(number, number))} {unit.text}".rstrip()


def text(value: float, spread: float | None, unit: Unit) -> str:
    """Value ± spread [SI] in their unit.

    >>> from laminate.values.quantities import PERCENT
    >>> text(0.57418, 0.0061, PERCENT)
    '57.42 ± 0.61 %'
    """
    return with_size(shown(value, unit), shown_difference(spread, unit) if spread else None, unit.text)


def with_size(number: float, size: float | None, unit: str = "") -> str:
    """A number and its ±, both in the unit already, to the digits that the ± supports.

    >>> with_size(1.65234, 0.0996, "g")
    '1.65 ± 0.10 g'
    """
    places = decimals(number, size)
    spread = f" ± {fixed(size, places)}" if size else ""
    return f"{fixed(number, places)}{spread} {unit}".rstrip()


def chance(share: float, places: int = 1) -> str:
    """A chance in percent to so many decimal places, never rounded to none or to certainty.

    >>> chance(0.97762), chance(1.0), chance(0.0), chance(0.98765, 2)
    ('97.8 %', 'over 99.9 %', 'under 0.1 %', '98.77 %')
    """
    step = 10.0**-places
    if 100.0 * share > 100.0 - step / 2.0:
        return f"over {100.0 - step:.{places}f} %"
    return f"under {step:.{places}f} %" if 100.0 * share < step / 2.0 else f"{100.0 * share:.{places}f} %"
