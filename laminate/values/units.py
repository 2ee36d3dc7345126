"""From what people write to a number in coherent units, and what its ± means.

`parse` reads a value ("1.79 g/cm^3 ± 0.01 (k=2)"), `parse_spread` an uncertainty that stands alone
("0.1 mg (standard)"), `column_unit` the unit in the heading of a table. The only room that knows pint,
which is handed nothing but the expression of an allow-listed unit: numbers and spellings are read here.
"""

from __future__ import annotations

import math
import re
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import Any, Literal

from laminate.values.input_key import Name
from laminate.values.unit_names import DEFINITIONS, KINDS, PLAIN, WORDS
from laminate.values.value_text import (
    FORMS,
    MEANINGS,
    alone,
    clean,
    halves,
    not_text,
    read,
    short,
    sized,
    stray_brackets,
    without_exact,
)
from laminate.values.value_text import Shape as Shape
from laminate.values.value_text import Unreadable as Unreadable

SAME = 1e-8
"""Two values that differ by no more than this share of them are the same: of a temperature, 3e-6 K."""


@dataclass(frozen=True, slots=True, repr=False)
class SIValue:
    """A number in coherent SI units with what was said of its uncertainty.

    value: [SI unit of its kind; temperatures in K, fractions 0 to 1]; u: standard uncertainty [same unit],
    None where none was stated, 0.0 where it was said to be exact; dof: its degrees of freedom; shape:
    distribution that the words stand for; unit and text: as written; relative: the ± was a share of the
    value; shared: uncertain numbers that move other inputs of the call too, each with the signed change of
    this value for one standard uncertainty of it.
    """

    value: float
    u: float | None = None
    dof: float = math.inf
    shape: Shape = "exact"
    unit: str = ""
    text: str = ""
    relative: bool = False
    shared: tuple[tuple[Name, float], ...] = ()

    def __repr__(self) -> str:
        """The number in SI units, and as it was written."""
        return f"SIValue({self.value!r}, {self.text!r})"

    @property
    def spread(self) -> float:
        """Standard uncertainty, 0.0 where none was stated."""
        return self.u or 0.0

    @property
    def own(self) -> float:
        """The part of the standard uncertainty that moves nothing else."""
        left = self.spread**2 - math.fsum(move * move for _, move in self.shared)
        return math.sqrt(left) if left > 1e-12 * self.spread**2 else 0.0

    @property
    def half_width(self) -> float:
        """Half-width of the rectangular distribution, for a `(tolerance)`."""
        return self.spread * math.sqrt(3.0)

    def above(self, other: SIValue) -> bool:
        """Whether it is larger, past what is lost where one of them is converted, as 212 degF to 100 degC."""
        return self.value > other.value and not math.isclose(self.value, other.value, rel_tol=SAME)

    @property
    def basis(self) -> Literal["mass", "volume"] | None:
        """What a percentage was said to be a share of: "wt %" the mass, "vol %" the volume, "%" neither."""
        return _basis(self.unit)


@dataclass(frozen=True, slots=True)
class Spread:
    """A standard uncertainty that stands alone; `relative` where it is a share of the reading."""

    u: float
    relative: bool = False
    dof: float = math.inf
    shape: Shape = "normal"
    text: str = ""


LARGEST = 1e300

# capitals that would change the size of a unit are never forgiven
_OTHER_PREFIX = re.compile(r"\b(mPa|gPa|Mm|Mg|Ml|mN)\b")


@lru_cache(4096)
def _fold(unit: str) -> str:
    """One spelling for the many ways to write the same unit."""
    text = re.sub(r"\s+", " ", re.sub(r"(?<=[A-Za-z])\.", "", clean(unit))).replace("''", "in")
    text = "in" if text == '"' else text
    text = re.sub(r"[A-Za-z]+", lambda word: WORDS.get(word[0].lower(), word[0]), text)
    text = re.sub(r"(?:°|\bdeg) ?([CFcf])\b", lambda degree: f"deg{degree[1].upper()}", text)
    text = re.sub(r"(?i)\bsq(?:uare)? ?(mm|cm|m|in|ft|yd)\b", r"\1^2", text)
    text = re.sub(r"(?i)\bcu(?:bic)? ?(mm|cm|m|in|ft|yd)\b", r"\1^3", text)
    text = re.sub(r"(?i)\b(mm|cm|dm|m|in|ft|yd)([23])\b", r"\1^\2", text)
    text = re.sub(r"(?<=[A-Za-z])-(?=[123]\b)", "^-", text)
    text = re.sub(r"(?<=\w) ([A-Za-z]+)\^-([123])\b", r"/\1^\2", text)
    text = re.sub(r"\^1\b", "", text)
    return text.replace(" ", "")


@lru_cache(4096)
def _find(unit: str, kind: str) -> str | None:
    """The pint expression of a unit within a kind; capitals are forgiven where that is unambiguous."""
    units, folded = KINDS[kind].units, _fold(unit)
    if folded in units:
        return units[folded]
    if _OTHER_PREFIX.search(folded):
        return None
    matches = {expression for name, expression in units.items() if name.casefold() == folded.casefold()}
    return matches.pop() if len(matches) == 1 else None


def _basis(unit: str) -> Literal["mass", "volume"] | None:
    folded = _fold(unit).casefold()
    if "%" not in folded and "ppm" not in folded:
        return None
    if "wt" in folded or "w/w" in folded:
        return "mass"
    return "volume" if "vol" in folded or "v/v" in folded else None


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(None)
    registry.load_definitions(DEFINITIONS.strip().splitlines())
    return registry


@cache
def _linear(expression: str, coherent: str) -> tuple[float, float]:
    """Factor and offset so that SI = number * factor + offset."""
    above, *below = (_plain(part) for part in expression.split("/"))
    factor = above / math.prod(below)
    if math.isfinite(factor):
        return float(f"{factor:.15g}"), 273.15 if expression == "degC" else 0.0
    return _by_registry(expression, coherent)


def _plain(part: str) -> float:
    """The size of a metric unit with its power, NaN for any other."""
    name, _, power = part.partition("**")
    return PLAIN.get(name, math.nan) ** int(power or 1)


def _by_registry(expression: str, coherent: str) -> tuple[float, float]:
    """The same, by the unit library."""
    quantity = _registry().Quantity
    offset = 0.0
    if expression in ("degC", "degF"):
        offset = float(quantity(0.0, expression).to(coherent).magnitude)
        expression = f"delta_{expression}"
    factor = float(quantity(1.0, expression).to(coherent).magnitude)
    return float(f"{factor:.15g}"), float(f"{offset:.15g}")


def _wrong_unit(unit: str, kind: str, written: str) -> Unreadable:
    known = KINDS[kind]
    knowing = [other for other in KINDS if other != "temperature_difference" and _find(unit, other)]
    others = " or ".join(KINDS[other].words for other in knowing)
    of_kinds = f"'{written}', {others}" if others else f"'{written}'"
    if kind == "force" and _fold(unit).casefold() in ("t", "ton", "tons", "tonne", "tonnes"):
        hint = "metric, long and short tons differ by 12 %: write tf (1000 kgf), kN or lbf"
        return Unreadable(f"'{written}'", known.expected, hint)
    if kind == "number":
        return Unreadable(of_kinds, "a plain number, without a unit")
    if kind == "temperature_difference" and _find(unit, "temperature"):
        return Unreadable(f"'{written}'", known.expected, "a temperature difference is written in K")
    if others:
        return Unreadable(of_kinds, known.expected)
    hint = f"units known here: {', '.join(list(known.units)[:9])}"
    return Unreadable(f"the unknown unit '{unit}' in '{written}'", known.expected, hint)


def scale(unit: str, kind: str, written: str | None = None) -> tuple[float, float]:
    """Factor and offset of a unit: SI = number * factor + offset.

    unit: spelling [text]; kind: what it measures; written: the text around it, for the message. Raises
    `Unreadable` for a unit that is not of the kind.

    >>> scale("oz/yd^2", "areal_weight")[0]  # kg/m^2; NIST SP 811: 3.390 575 E-02
    0.0339057474748823
    """
    expression = _find(unit, kind)
    if expression is None:
        raise _wrong_unit(unit, kind, unit if written is None else written)
    return _linear(expression, KINDS[kind].coherent)


def column_unit(unit: str, kind: str) -> tuple[float, float]:
    """Factor and offset of the unit in a table heading; an empty unit is refused except for plain numbers.

    unit: what stands in the brackets [text]; kind: what the column holds. Raises `Unreadable`.

    >>> column_unit("MM", "length"), column_unit("", "number")
    ((0.001, 0.0), (1.0, 0.0))
    """
    if kind == "number":
        if unit.strip() in ("", "-", "1"):
            return 1.0, 0.0
        raise Unreadable(f"the unit '{unit}'", "a plain number, without a unit")
    if not unit.strip():
        words, example = kind_words(kind)
        expected = f"the unit of {words} in brackets, such as [{example.partition(' ')[2]}]"
        raise Unreadable("no unit in the heading", expected)
    return scale(unit, kind)


def _missing_unit(number: float, kind: str, written: str) -> Unreadable:
    if not math.isfinite(number):
        return Unreadable(f"'{written}'", KINDS[kind].finite)
    words, example = kind_words(kind)
    meant = f"{number * 100.0:.6g} % or {number:.6g} %" if abs(number) <= 1.0 else f"{number:.6g} %"
    hint = f"did you mean {meant}?" if kind == "fraction" and number else ""
    return Unreadable(f"'{written}' without a unit", f'{words} with its unit, such as "{example}"', hint)


def _checked(value: SIValue, kind: str) -> SIValue:
    """The value, refused where no quantity can have it."""
    if not (math.isfinite(value.value) and math.isfinite(value.spread * value.spread)):
        raise Unreadable(f"'{value.text}'", KINDS[kind].finite)
    if kind == "temperature" and value.value < -1e-9:
        raise Unreadable(f"'{value.text}'", "a temperature above absolute zero, -273.15 degC")
    return value


class SharedText(str):
    """A value as the files write it, and what moves it together with other inputs, in its unit."""

    shared: tuple[tuple[Name, float], ...] = ()


def parse(text: str | float | int, kind: str) -> SIValue:
    """Read a value: number first, then its unit, then ± and what the ± means.

    text: as written; a plain number only where `kind` is 'number'. Returns the value in coherent SI units.
    Raises `Unreadable` for another kind of quantity, an unknown unit, a bare ±, NaN or an infinity.
    Meaning of the forms: JCGM 100:2008, 4.3 and 7.2.2.

    >>> value = parse("1.79 g/cm^3 ± 0.01 (k=2)", "density")
    >>> value.value, value.u, value.shape
    (1790.0, 5.0, 'normal')
    >>> parse("1.612(3) g/ml", "density").spread
    3.0
    """
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise not_text(text, kind)
    if not isinstance(text, str):
        number = float(text) if abs(text) < LARGEST else math.inf
        if kind != "number":
            raise _missing_unit(number, kind, f"{text}")
        return _checked(SIValue(number, text=f"{text}"), kind)
    if isinstance(text, SharedText) and text.shared:
        value = parse(str(text), kind)
        factor = scale(value.unit, kind)[0] if value.unit else 1.0
        return replace(value, shared=tuple((name, move * factor) for name, move in text.shared))
    written = short(text, kind)
    head, tail, enclosed = halves(text, kind, written)
    number, digits, unit = read(head, kind, written)
    unit, exact = without_exact(unit) if tail is None else (unit, False)
    if digits is not None and (exact or tail is not None):
        other = "(exact)" if exact else "a ±"
        raise Unreadable(f"'{written}'", f"either digits in brackets or {other}, not both")
    if tail is not None:
        return _checked(_with_spread(number, unit, tail, kind, written, enclosed=enclosed), kind)
    words = stray_brackets(unit)
    if not exact and words is not None and _find(unit, kind) is None:
        raise Unreadable(f"'{written}'", f"a ± before '({words})', or nothing after the unit")
    factor, offset = _factor(number, unit, kind, written)
    u = 0.0 if exact else None if digits is None else digits * factor
    shape: Shape = "exact" if digits is None else "normal"
    return _checked(SIValue(number * factor + offset, u, shape=shape, unit=unit, text=written), kind)


def _factor(number: float, unit: str, kind: str, written: str) -> tuple[float, float]:
    if kind == "number" and not unit:
        return 1.0, 0.0
    if not unit:
        raise _missing_unit(number, kind, written)
    return scale(unit, kind, written)


def _with_spread(number: float, unit: str, tail: str, kind: str, written: str, *, enclosed: bool) -> SIValue:
    """A value with its ±; `enclosed` where a bracket puts one unit behind both."""
    bare = Unreadable(f"'{written}', whose ± does not say what it means", FORMS)
    (size, _, spread_unit), meaning = sized(tail, kind, written, bare, "after the ±")
    if not unit and spread_unit and (enclosed or kind != "number"):
        if kind == "temperature" and not enclosed and _find(spread_unit, "temperature_difference"):
            raise _missing_unit(number, kind, written)
        unit, spread_unit = spread_unit, ""
    factor, offset = _factor(number, unit, kind, written)
    value = number * factor + offset
    relative = _is_share(spread_unit, kind)
    if relative:
        half = size * scale(spread_unit, "fraction")[0] * abs(value)
    elif spread_unit:
        _compatible(unit, spread_unit, kind, written)
        half = size * scale(spread_unit, kind, written)[0]
    else:
        half = size * factor
    return SIValue(value, half / meaning.divisor, meaning.dof, meaning.shape, unit, written, relative)


def _is_share(unit: str, kind: str) -> bool:
    """Whether a ± is a share of its value."""
    return kind not in ("fraction", "temperature") and _find(unit, "fraction") is not None


def _compatible(unit: str, spread_unit: str, kind: str, written: str) -> None:
    """Refuse a ± whose unit can be read in two ways beside the unit of its value."""
    if kind == "temperature" and _find(spread_unit, kind) is None:
        raise Unreadable(f"'{written}'", "the ± of a temperature in K or in the unit of the value")
    if kind != "fraction":
        return
    if _find(unit, kind) == "ppm" != _find(spread_unit, kind):
        raise Unreadable(f"'{written}'", "the ± in ppm, as the value")
    bases = {_basis(unit), _basis(spread_unit)} - {None}
    if len(bases) > 1:
        raise Unreadable(f"'{written}'", "value and ± both of the mass (wt %) or both of the volume (vol %)")


SPREADS = {"mass": "0.1 mg", "length": "0.002 mm", "temperature_difference": "0.1 K"}
"""Examples of a ± that stands alone."""


def parse_spread(text: str, kind: str, *, relative_allowed: bool = True) -> Spread:
    """Read an uncertainty that stands alone, such as the repeatability of a balance.

    text: "0.1 mg (standard)", "0.003 mm (k=2)", "0.01 % (standard)" (of the reading); kind: of the reading.
    Returns a standard uncertainty [SI unit of the kind, or a share of the reading]. Raises `Unreadable`.

    >>> parse_spread("0.1 mg (standard)", "mass").u
    1e-07
    """
    if not isinstance(text, str):
        words, example = kind_words(kind)
        example = SPREADS.get(kind, example)
        raise Unreadable(f"{text}", f'the ± of {words} and what it means, such as "{example} (standard)"')
    if kind == "temperature":  # in the units of differences, as well as in degC and degF
        with suppress(Unreadable):
            return parse_spread(text, "temperature_difference", relative_allowed=False)
    written = short(text, kind)
    head, tail, _ = halves(text, kind, written)
    if tail is not None and head and (value := parse(text, kind)).value == 0.0:  # nothing, give or take
        return Spread(value.spread, False, value.dof, value.shape, written)
    bare = Unreadable(f"'{written}', which does not say what it means", MEANINGS)
    plain, exact = without_exact(alone(text))
    if exact:
        number, _, unit = read(plain, kind, written)
        _factor(number, unit, kind, written)
        if number != 0.0:
            raise Unreadable(f"'{written}'", "0 before (exact), or another meaning of the number", MEANINGS)
        return Spread(0.0, shape="exact", text=written)
    (size, _, unit), meaning = sized(alone(text), kind, written, bare, "before its meaning")
    relative = relative_allowed and _is_share(unit, kind)
    u = size * _factor(size, unit, "fraction" if relative else kind, written)[0] / meaning.divisor
    if not math.isfinite(u):
        raise Unreadable(f"'{written}'", KINDS[kind].finite)
    return Spread(u, relative, meaning.dof, meaning.shape, written)


def kind_words(kind: str) -> tuple[str, str]:
    """What a kind is called, and an example of it."""
    return KINDS[kind].words, KINDS[kind].example


def kind_of(text: str) -> str | None:
    """The kind of quantity that the unit of a written value says, None where it says none.

    A unit behind value and ± is that of both, so that "1.8 ± 0.4 % (k=2)" is a share, as answers show it.

    >>> kind_of("126 degC ± 1 (tolerance)"), kind_of("0.7 MPa"), kind_of("3")
    ('temperature', 'pressure', 'number')
    """
    for kind in ("number", *(name for name in KINDS if name not in ("number", "temperature_difference"))):
        with suppress(Unreadable):
            return "fraction" if parse(text, kind).relative and kind == "number" else kind
    return None
