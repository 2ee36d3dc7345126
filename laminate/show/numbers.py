"""Numbers as people and programs read them: the unit beside them, digits as many as the ± supports."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from laminate.values.problems import marked
from laminate.values.quantities import (
    ATTRIBUTES,
    DEG_C,
    KN,
    MINUTE,
    MM,
    MPA,
    NUMBER,
    PERCENT,
    US,
    Unit,
    shown,
    shown_difference,
)
from laminate.values.said import Figure, Said, fixed, with_size

DASH = "–"
_BLANKS = "\n\u00a0\u2009\u202f\u3000"
"""Kept as they are: the ends of lines in a cell, and blanks that take room."""

_QUOTED = re.compile(r"""(?<!\w)("[^"\n]*"|'[^'\n]*')(?!\w)""")
_TYPED = re.compile(r"\bdeg[CF]\b|(?<=[A-Za-z])\^(?:2|3|-1)\b")
_TYPESET = {"degC": "°C", "degF": "°F", "^2": "²", "^3": "³", "^-1": "⁻¹"}


def typeset(text: str) -> str:
    """A text with its units as a person writes them; what stands in quotes, to be typed, stays as it is.

    Characters that would drive a terminal, or that nobody sees, are marked.

    >>> typeset("1.79 g/cm^3 at 23 degC; write '1.79 g/cm^3'")
    "1.79 g/cm³ at 23 °C; write '1.79 g/cm^3'"
    """
    text = marked(text, _BLANKS)
    if "deg" not in text and "^" not in text:
        return text
    parts = _QUOTED.split(text)
    for at in range(0, len(parts), 2):
        parts[at] = _TYPED.sub(lambda typed: _TYPESET[typed[0]], parts[at])
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


def value_text(value: float, spread: float | None, unit: Unit, *, bare: bool = False) -> str:
    """The value alone [SI] in its unit, to the digits that its ± [SI] supports; bare: without the unit.

    >>> from laminate.values.quantities import PERCENT
    >>> value_text(0.57418, 0.0061, PERCENT)
    '57.42 %'
    """
    return Figure(value, unit, 0, spread, bare, alone=True).text()


def spread_text(spread: float | None, unit: Unit, *, bare: bool = False) -> str:
    """A ± [SI] in its unit with two digits; bare: without the unit.

    >>> from laminate.values.quantities import MM
    >>> spread_text(0.0000123, MM)
    '0.012 mm'
    """
    return "" if spread is None else Figure(spread, unit, 0, spread, bare, True, alone=True).text()


def step_text(value: float, spread: float, unit: Unit) -> str:
    """A difference [SI] without its unit, to the digits that its ± [SI] supports, with its sign."""
    return f"{'+' if value > 0.0 else ''}{Figure(value, unit, 0, spread, True, True, alone=True).text()}"


def text(value: float, spread: float | None, unit: Unit, *, bare: bool = False) -> str:
    """Value ± spread [SI] in their unit; bare: without it.

    >>> from laminate.values.quantities import PERCENT
    >>> text(0.57418, 0.0061, PERCENT)
    '57.42 ± 0.61 %'
    """
    return Figure(value, unit, 0, spread, bare).text()


def column(value: float | None, unit: Unit, places: int) -> str:
    """A number [SI] without its unit, which the heading has; a dash where there is none.

    >>> column(1.5, NUMBER, 3), column(None, MM, 3)
    ('1.500', '–')
    """
    return DASH if value is None else fixed(shown(value, unit), places)


def span(values: Sequence[float], unit: Unit, places: int) -> str:
    """From the least to the greatest of some numbers [SI], without their unit; a dash where there is none.

    >>> span([0.0023, 0.0021], MM, 2), span([0.0021], MM, 2)
    ('2.10 to 2.30', '2.10')
    """
    ends = (column(pick(values), unit, places) for pick in (min, max)) if values else (DASH,)
    return " to ".join(dict.fromkeys(ends))


def minutes(seconds: float) -> str:
    """A time [s] in minutes to a tenth.

    >>> minutes(1000.0)
    '16.7 min'
    """
    return f"{column(seconds, MINUTE, 1)} {MINUTE.text}"


def percent(share: float) -> str:
    """A share in percent to three digits, which may pass 100 %; never rounded to none or to all of it.

    >>> percent(0.4523), percent(0.0002), percent(0.9996), percent(1.2)
    ('45.2 %', 'under 0.1 %', 'over 99.9 %', '120 %')
    """
    if 0.0 < share < 0.001:
        return "under 0.1 %"
    return "over 99.9 %" if 0.999 < share < 1.0 else f"{100.0 * share:.3g} %"


def margin(value: float, units: str, spread: float | None = None) -> str:
    """A margin of pressure [Pa] with its ±, else to a kilopascal or a tenth of a psi; a shortfall says so.

    >>> margin(230.4e3, "metric"), margin(-230.4e3, "us"), margin(230.4e3, "metric", 12e3)
    ('0.230 MPa', '33.4 psi short', '0.230 ± 0.012 MPa')
    """
    unit = in_units(MPA, units)
    words = f"{column(abs(value), unit, 3 if unit is MPA else 1)} {unit.text}"
    if spread:
        words = text(abs(value), spread, unit)
    return f"{words} short" if value < 0.0 else words


PLACES = {"in": 4, "%": 1, "MPa": 1} | dict.fromkeys(("degC", "degF", "K", "psi", "kN", "lbf", ""), 0)
"""Decimal places of what has no ± of its own; of other units, such as mm, three."""


def size(value: float | None, units: str, unit: Unit = MM, *, bare: bool = False) -> str:
    """A length [m], or another quantity [SI], without ± of its own: to the micrometer or a tenth of a mil.

    bare: without its unit; a dash where there is none.
    """
    if value is None:
        return DASH
    shown_unit = in_units(unit, units)
    number = shown(value, shown_unit)
    places = PLACES.get(shown_unit.text, 3) + (shown_unit.text == "MPa" and abs(number) < 1.0)
    return f"{fixed(number, places)} {'' if bare else shown_unit.text}".rstrip()


def in_percent(share: float | None, *, bare: bool = False) -> str:
    """A share in percent to a tenth; as `size` writes it."""
    return size(share, "metric", PERCENT, bare=bare)


mpa, kn, degrees = (partial(size, unit=unit) for unit in (MPA, KN, DEG_C))
"""A pressure [Pa], a force [N], a temperature [K] as `size` writes them."""


def past(value: float, start: float, units: str, unit: Unit = MM) -> float:
    """A number [SI] half a step of `size` farther from another, so that it is rounded away from that.

    >>> size(past(0.0013364, 0.0015, "metric"), "metric"), size(past(0.0015742, 0.0015, "metric"), "metric")
    ('1.336 mm', '1.575 mm')
    """
    shown_unit = in_units(unit, units)
    step = 10.0 ** -PLACES.get(shown_unit.text, 3) / shown_unit.per_si
    return value + math.copysign(0.5 * step, value - start)


def body(lengths: Sequence[float], units: str) -> str:
    """The sizes [m] of a body with their unit, without zeros at their ends.

    >>> body([0.03, 0.0405, 0.2], "metric")
    '30 × 40.5 × 200 mm'
    """
    numbers = (size(length, units, bare=True).rstrip("0").rstrip(".") for length in lengths)
    return f"{' × '.join(numbers)} {in_units(MM, units).text}"


def change(value: float, units: str) -> str:
    """A difference of lengths [m] with its sign."""
    return f"{'+' if value > 0.0 else ''}{size(value, units)}"


def chance(share: float, places: int = 1) -> str:
    """A chance in percent to so many decimal places, never rounded to none or to certainty.

    >>> chance(0.97762), chance(1.0), chance(0.0), chance(0.98765, 2)
    ('97.8 %', 'over 99.9 %', 'under 0.1 %', '98.77 %')
    """
    step = 10.0**-places
    if 100.0 * share > 100.0 - step / 2.0:
        return f"over {100.0 - step:.{places}f} %"
    return f"under {step:.{places}f} %" if 100.0 * share < step / 2.0 else f"{100.0 * share:.{places}f} %"


def bare_chance(share: float | None, places: int = 1) -> str:
    """A chance for a column in percent; a dash where there is none.

    >>> bare_chance(0.97762), bare_chance(1.0, 0), bare_chance(None)
    ('97.8', '>99', '–')
    """
    if share is None:
        return DASH
    return chance(share, places).replace("over ", ">").replace("under ", "<").removesuffix(" %")


_RECORDED = {unit.text: unit for unit in (*US, PERCENT)}


def unit_named(text: str) -> Unit:
    """The unit of a text in a record; an unknown one stays as it is written."""
    return _RECORDED.get(text) or (Unit(text, 1.0) if text else NUMBER)


def recorded(value: float, unit: Unit, u: float | None = None, digits: int = 0, **how: Any) -> Figure:
    """A number of an answer, with unit and ± as they stand there, as a figure; how: as of `Figure`."""
    zero = 0.0 if how.get("difference") else unit.offset
    return Figure((value - zero) / unit.per_si, unit, digits, u / unit.per_si if u else None, **how)


@dataclass(frozen=True, slots=True)
class Scale:
    """From the unit of a record to the unit shown."""

    recorded: Unit
    shown: Unit

    @property
    def unit(self) -> str:
        """The unit shown."""
        return self.shown.text

    def to(self, value: float) -> float:
        """A value in the unit shown."""
        return shown(recorded(value, self.recorded).value, self.shown)

    def by(self, difference: float) -> float:
        """A difference in the unit shown."""
        return shown_difference(difference / self.recorded.per_si, self.shown)

    def number(self, value: float | None, spread: float | None) -> str:
        """A value without its unit, to two digits of its spread, – where there is none."""
        size = self.by(spread) if spread else None
        return DASH if value is None else with_size(self.to(value), size, alone=True)

    def text(self, value: float, spread: float | None) -> str:
        """A value with its unit."""
        return f"{self.number(value, spread)} {self.unit}".rstrip()

    def limits(self, low: float | None, high: float | None) -> str:
        """A pair of limits as it was set, without its unit."""
        least, most = (None if limit is None else f"{self.to(limit):.6g}" for limit in (low, high))
        return f"{least} to {most}" if least and most else f"min {least}" if least else f"max {most}"

    def spread(self, spread: float | None) -> str:
        """A spread without its unit, – where there is none."""
        return DASH if spread is None else with_size(self.by(spread), self.by(spread), alone=True)

    def step(self, value: float, spread: float) -> str:
        """A difference ± its standard uncertainty with its unit."""
        return with_size(self.by(value), self.by(spread), self.unit)


def scale_of(name: str, unit: str, units: str) -> Scale:
    """How numbers of an attribute, or of what else has the name, are shown; unit: of the record."""
    known, metric = ATTRIBUTES.get(name), unit_named(unit)
    us = known.us if known and known.unit is metric else US.get(metric, metric)
    return Scale(metric, us if units == "us" else metric)


def quantity(value: float | None, spread: float | None, unit: str, *, alone: bool = False) -> str:
    """Value ± spread of an answer with its unit, a dash where there is no value; alone: without the ±.

    >>> quantity(58.79190, 0.31420, "%"), quantity(58.79190, 0.31420, "%", alone=True)
    ('58.79 ± 0.31 %', '58.79 %')
    """
    return DASH if value is None else Said(recorded(value, unit_named(unit), spread, alone=alone))


def spread(value: float | None, unit: str) -> str:
    """A ± of an answer alone, with two digits and its unit.

    >>> spread(0.0123, "mm")
    '0.012 mm'
    """
    if value is None:
        return DASH
    return Said(recorded(value, unit_named(unit), value, alone=True, difference=True))


def interval(values: Sequence[float], size: float | None, unit: str, key: str = "") -> Said:
    """From the least to the greatest of some values of an attribute, with their largest ±.

    >>> interval([2.8720, 2.8663], 0.0037, "mm"), interval([2.8720], 0.0037, "mm")
    ('2.8663 to 2.8720 ± 0.0037 mm', '2.8720 ± 0.0037 mm')
    """
    scale = scale_of(key, unit, "us")
    low, high = (recorded(pick(values), scale.recorded, size, us=scale.shown) for pick in (min, max))
    first = replace(low, alone=True, bare=True)
    same = first.text() == replace(high, alone=True, bare=True).text()
    return Said(high) if same else Said(first, " to ", high)


def bounds(limits: Mapping[str, float | None], unit: str, key: str = "", *, bare: bool = False) -> Said:
    """A pair of limits in words; bare: in a few, without the unit.

    >>> bounds({"min": None, "max": 2.0}, "%"), bounds({"min": 54.0, "max": 64.0}, "%", bare=True)
    ('at most 2 %', '54 to 64')
    """
    scale = scale_of(key, unit, "us")
    ends = [
        recorded(limit, scale.recorded, digits=6, us=scale.shown, bare=bare, written=f"{limit:.10g}")
        for limit in (limits["min"], limits["max"])
        if limit is not None
    ]
    if len(ends) == 2:
        return Said(replace(ends[0], bare=True), " to ", ends[1])
    words = ("at most ", "max ") if limits["min"] is None else ("at least ", "min ")
    return Said(words[bare], *ends)
