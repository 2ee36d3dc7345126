"""From what people write to a number in coherent units, and what its ± means.

`parse` reads a value ("1.79 g/cm^3 ± 0.01 (k=2)"), `parse_spread` an uncertainty that stands alone
("0.1 mg (standard)"), `column_unit` the unit in the heading of a table. The only room that knows pint: numbers
are read here, and pint is handed nothing but an allow-listed unit.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

Shape = Literal["exact", "normal", "rectangular"]

NORMAL_95 = 1.959963984540054
FORMS = (
    "(tolerance), (standard), (standard, dof=9), (k=2) or (95 %) after it, or 1.790(5) for a standard "
    "uncertainty in the last digits"
)

# kind -> (what it is called, an example, spelling of each unit -> the expression that pint is handed)
_AREAL = {
    "g/m^2": "gram/meter**2",
    "gsm": "gram/meter**2",
    "kg/m^2": "kilogram/meter**2",
    "mg/cm^2": "milligram/centimeter**2",
    "g/cm^2": "gram/centimeter**2",
    "oz/yd^2": "ounce/yard**2",
    "oz/ft^2": "ounce/foot**2",
    "lb/ft^2": "pound/foot**2",
}
_DENSITY = {
    "g/cm^3": "gram/centimeter**3",
    "g/cc": "gram/centimeter**3",
    "g/ml": "gram/milliliter",
    "g/l": "gram/liter",
    "kg/l": "kilogram/liter",
    "kg/m^3": "kilogram/meter**3",
    "lb/in^3": "pound/inch**3",
    "lb/ft^3": "pound/foot**3",
}
_LENGTH = {
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "um": "micrometer",
    "micron": "micrometer",
    "microns": "micrometer",
    "in": "inch",
    "inch": "inch",
    "inches": "inch",
    "ft": "foot",
    "mil": "milliinch",
    "mils": "milliinch",
    "thou": "milliinch",
}
_MASS = {
    "g": "gram",
    "mg": "milligram",
    "ug": "microgram",
    "kg": "kilogram",
    "lb": "pound",
    "lbs": "pound",
    "oz": "ounce",
}
_FRACTION = {
    "%": "percent",
    "wt %": "percent",
    "wt%": "percent",
    "% wt": "percent",
    "vol %": "percent",
    "vol%": "percent",
    "% vol": "percent",
    "weight %": "percent",
    "mass %": "percent",
    "volume %": "percent",
    "percent": "percent",
    "pct": "percent",
    "ppm": "ppm",
}
_DEGREES = {
    "degC": "degC",
    "°C": "degC",
    "deg C": "degC",
    "C": "degC",
    "celsius": "degC",
    "degF": "degF",
    "°F": "degF",
    "deg F": "degF",
    "F": "degF",
    "fahrenheit": "degF",
    "K": "kelvin",
}
_EXPANSION = {
    "/K": "1/kelvin",
    "1/K": "1/kelvin",
    "K^-1": "1/kelvin",
    "ppm/K": "ppm/kelvin",
    "1e-6/K": "ppm/kelvin",
    "um/m/K": "ppm/kelvin",
    "um/(m K)": "ppm/kelvin",
    "/degC": "1/kelvin",
    "1/degC": "1/kelvin",
    "/°C": "1/kelvin",
    "ppm/degC": "ppm/kelvin",
    "ppm/°C": "ppm/kelvin",
    "1e-6/degC": "ppm/kelvin",
    "/degF": "1/delta_degF",
    "1/degF": "1/delta_degF",
    "/°F": "1/delta_degF",
    "ppm/degF": "ppm/delta_degF",
    "1e-6/degF": "ppm/delta_degF",
    "in/in/degF": "1/delta_degF",
    "uin/in/degF": "ppm/delta_degF",
}
_PRESSURE = {
    "Pa": "pascal",
    "hPa": "hectopascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "GPa": "gigapascal",
    "N/mm^2": "newton/millimeter**2",
    "bar": "bar",
    "mbar": "millibar",
    "psi": "psi",
    "ksi": "1000*psi",
    "Msi": "1e6*psi",
}
_COMPLIANCE = {
    "MPa^-1": "1/megapascal",
    "1/MPa": "1/megapascal",
    "/MPa": "1/megapascal",
    "GPa^-1": "1/gigapascal",
    "1/GPa": "1/gigapascal",
    "/GPa": "1/gigapascal",
    "Pa^-1": "1/pascal",
    "1/Pa": "1/pascal",
    "1/psi": "1/psi",
    "psi^-1": "1/psi",
    "/psi": "1/psi",
    "%/MPa": "percent/megapascal",
}
_FORCE = {
    "N": "newton",
    "kN": "kilonewton",
    "MN": "meganewton",
    "lbf": "pound_force",
    "kip": "1000*pound_force",
    "tf": "1000*kilogram*9.80665*meter/second**2",
}
_AREA = {
    "mm^2": "millimeter**2",
    "cm^2": "centimeter**2",
    "m^2": "meter**2",
    "in^2": "inch**2",
    "sq in": "inch**2",
    "ft^2": "foot**2",
}
_VOLUME = {
    "mm^3": "millimeter**3",
    "cm^3": "centimeter**3",
    "cc": "centimeter**3",
    "ml": "milliliter",
    "l": "liter",
    "m^3": "meter**3",
    "in^3": "inch**3",
}
_TIME = {"s": "second", "min": "minute", "h": "hour", "hr": "hour", "hours": "hour", "minutes": "minute"}
_DIFFUSIVITY = {"mm^2/s": "millimeter**2/second", "m^2/s": "meter**2/second", "cm^2/s": "centimeter**2/second"}
_ANGLE = {"deg": "degree", "°": "degree", "degrees": "degree", "rad": "radian"}

_KINDS: dict[str, tuple[str, str, dict[str, str], str]] = {
    # kind: (name in words, example, units, coherent unit)
    "areal_weight": ("an areal weight", "150 g/m^2", _AREAL, "kilogram/meter**2"),
    "density": ("a density", "1.79 g/cm^3", _DENSITY, "kilogram/meter**3"),
    "length": ("a length", "2.95 mm", _LENGTH, "meter"),
    "mass": ("a mass", "3.1004 g", _MASS, "kilogram"),
    "fraction": ("a percentage", "35 %", _FRACTION, "dimensionless"),
    "temperature": ("a temperature", "125 degC", _DEGREES, "kelvin"),
    "temperature_difference": ("a temperature difference in K", "0.2 K", {"K": "kelvin", "mK": "millikelvin"}, "kelvin"),
    "angle": ("an angle", "20 deg", _ANGLE, "radian"),
    "expansion": ("a linear expansion", "23.6e-6 /K", _EXPANSION, "1/kelvin"),
    "pressure": ("a pressure or modulus", "0.85 GPa", _PRESSURE, "pascal"),
    "compliance": ("a compliance", "0.0002 MPa^-1", _COMPLIANCE, "1/pascal"),
    "force": ("a force", "600 kN", _FORCE, "newton"),
    "area": ("an area", "0.031 m^2", _AREA, "meter**2"),
    "volume": ("a volume", "12 cm^3", _VOLUME, "meter**3"),
    "time": ("a time", "40 min", _TIME, "second"),
    "diffusivity": ("a thermal diffusivity", "0.11 mm^2/s", _DIFFUSIVITY, "meter**2/second"),
    "number": ("a plain number", "1.10", {}, "dimensionless"),
}  # fmt: skip


class Unreadable(ValueError):
    """A text that is not a value of the kind asked for: what was found, what is expected, what would mend it."""

    def __init__(self, found: str, expected: str, hint: str = "") -> None:
        self.found, self.expected, self.hint = found, expected, hint
        super().__init__(f"found {found}, expected {expected}" + (f"; {hint}" if hint else ""))


@dataclass(frozen=True, slots=True)
class Value:
    """A number in coherent SI units with what was said of its uncertainty.

    value: [SI unit of its kind; temperatures in K, fractions 0 to 1]; u: standard uncertainty [same unit], None
    where none was stated; dof: its degrees of freedom; shape: distribution that the words stand for; unit and
    text: as written; relative: the ± was a share of the value.
    """

    value: float
    u: float | None = None
    dof: float = math.inf
    shape: Shape = "exact"
    unit: str = ""
    text: str = ""
    relative: bool = False

    @property
    def spread(self) -> float:
        """Standard uncertainty, 0.0 where none was stated."""
        return self.u or 0.0

    @property
    def half_width(self) -> float:
        """Half-width of the rectangular distribution, for a `(tolerance)`."""
        return self.spread * math.sqrt(3.0)


@dataclass(frozen=True, slots=True)
class Spread:
    """A standard uncertainty that stands alone; `relative` where it is a share of the reading."""

    u: float
    relative: bool = False
    dof: float = math.inf
    shape: Shape = "normal"
    text: str = ""


_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_VALUE = re.compile(rf"\s*(?P<number>{_NUMBER})(?:\((?P<digits>\d+)\)(?P<exponent>[eE][+-]?\d+)?)?(?P<rest>.*)", re.S)
_MEANING = re.compile(r"\(([^()]*)\)\s*$")


@cache
def _registry():  # type: ignore[no-untyped-def]
    import pint

    registry = pint.UnitRegistry(cache_folder=None)
    registry.define("milliinch = 0.001 * inch")
    return registry


@cache
def _scale(expression: str, coherent: str) -> tuple[float, float]:
    """Factor and offset so that SI = number * factor + offset."""
    registry = _registry()
    if expression in ("degC", "degF"):
        zero, one = (float(registry.Quantity(x, expression).to("kelvin").magnitude) for x in (0.0, 1.0))
        factor = 1.0 if expression == "degC" else 5.0 / 9.0
        return factor, zero if abs(one - zero - factor) < 1e-9 else math.nan
    return float(f"{registry.Quantity(1.0, expression).to(coherent).magnitude:.15g}"), 0.0


def _fold(unit: str) -> str:
    """One spelling for the many ways to write the same unit."""
    text = unit.strip().replace("µ", "u").replace("μ", "u").replace("²", "^2").replace("³", "^3").replace("℃", "°C")
    text = text.replace("⁻¹", "^-1").replace("**", "^").replace("·", " ").replace("º", "°").replace("''", "in")
    text = re.sub(r"\bsq\.?\s*(yd|in|ft|cm|m)\b", r"\1^2", text)
    text = re.sub(r"\bcu\.?\s*(in|ft|cm)\b", r"\1^3", text)
    text = re.sub(r"(?i)\b(mm|cm|m|in|ft|yd)([23])\b", r"\1^\2", text)
    text = re.sub(r"\s*([/^])\s*", r"\1", text)
    text = re.sub(r"\s+", " ", text)
    return text if text not in ('"', "″", "”") else "in"


def _find(unit: str, kind: str) -> str | None:
    """The pint expression of a unit within a kind; capitals forgiven where that is unambiguous."""
    units = _KINDS[kind][2]
    folded = _fold(unit)
    for text in (folded, re.sub(r"^10\^-6", "1e-6", folded), folded.replace(" ", "")):
        if text in units:
            return units[text]
    matches = {expression for name, expression in units.items() if name.casefold() == folded.casefold()}
    return matches.pop() if len(matches) == 1 else None


def _kinds_of(unit: str) -> list[str]:
    return [words for kind, (words, *_rest) in _KINDS.items() if kind != "temperature_difference" and _find(unit, kind)]


def _wrong_unit(unit: str, kind: str, written: str) -> Unreadable:
    words, example, units, _ = _KINDS[kind]
    expected = f"{words}, such as \"{example}\""
    if kind == "temperature_difference" and _find(unit, "temperature"):
        return Unreadable(f"'{written}'", expected, "a temperature difference is written in K")
    others = _kinds_of(unit)
    if others:
        return Unreadable(f"'{written}', {' or '.join(others)}", expected)
    known = ", ".join(list(units)[:8])
    return Unreadable(f"the unknown unit '{unit}' in '{written}'", expected, f"units known here: {known}" if known else "")


def _missing_unit(kind: str, written: str) -> Unreadable:
    words, example, *_ = _KINDS[kind]
    return Unreadable(f"'{written}' without a unit", f'{words} with its unit, such as "{example}"')


def scale(unit: str, kind: str) -> tuple[float, float]:
    """Factor and offset of a unit: SI = number * factor + offset.

    unit: spelling [text]; kind: what it measures. Raises `Unreadable` for a unit that is not of the kind.

    >>> scale("oz/yd^2", "areal_weight")[0]  # kg/m^2
    0.03390574...
    """
    expression = _find(unit, kind)
    if expression is None:
        raise _wrong_unit(unit, kind, unit)
    return _scale(expression, _KINDS[kind][3])


def column_unit(unit: str, kind: str) -> tuple[float, float]:
    """Factor and offset of the unit in a table heading; an empty unit is refused except for plain numbers."""
    if kind == "number":
        if unit.strip() in ("", "-", "1"):
            return 1.0, 0.0
        raise Unreadable(f"the unit '{unit}'", "a plain number, without a unit")
    if not unit.strip():
        raise Unreadable("no unit in the heading", f"the unit of {_KINDS[kind][0]} in brackets, such as [{_KINDS[kind][1].split()[-1]}]")
    return scale(unit, kind)


def in_unit(value: float, unit: str, kind: str) -> float:
    """A coherent SI value in another unit, for showing."""
    factor, offset = scale(unit, kind) if kind != "number" else (1.0, 0.0)
    return (value - offset) / factor


def _clean(text: str) -> str:
    return text.replace("−", "-").replace("–", "-").replace("\u00a0", " ").replace("\u202f", " ").strip()


def _number(text: str, kind: str, written: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise Unreadable(f"'{written}'", f"a finite number, as in \"{_KINDS[kind][1]}\"")
    return number


def _split_number(text: str, kind: str, written: str) -> tuple[str, str, str | None, str]:
    """Number, unit text, digits in brackets, as text."""
    words, example, *_ = _KINDS[kind]
    match = _VALUE.fullmatch(text)
    expected = f'{words}, number first, such as "{example}"'
    if match is None:
        if re.match(r"[+-]?(nan|inf)", text, re.I):
            raise Unreadable(f"'{written}'", f'a finite number, as in "{example}"')
        raise Unreadable(f"'{written}'", expected)
    rest = match["rest"]
    if re.match(r"[,.]\d", rest):
        raise Unreadable(f"'{written}'", expected, "write the decimal sign as a point, and no thousands separator")
    if re.match(r"\d|\s*[+-]?\d+(?!e-6)", rest) and not re.match(r"\s*(1e-6|10\^-6|1/)", rest):
        raise Unreadable(f"'{written}'", expected)
    number = match["number"] + (match["exponent"] or "")
    return number, rest.strip(), match["digits"], match["number"]


def _from_digits(mantissa: str, exponent_text: str, digits: str) -> float:
    """Standard uncertainty of the shorthand 1.790(5): in units of the last digit."""
    base, _, exponent = mantissa.lower().partition("e")
    decimals = len(base.partition(".")[2])
    power = int(exponent or 0) + (int(exponent_text.lower().lstrip("e") or 0) if exponent_text else 0)
    return int(digits) * 10.0 ** (power - decimals)


@dataclass(frozen=True, slots=True)
class _Meaning:
    divisor: float
    dof: float
    shape: Shape


def _meaning(text: str, written: str) -> _Meaning:
    """What the words in brackets say of the number before them."""
    shape: Shape | None = None
    divisor, dof, said_dof = 1.0, math.inf, False
    quantile: float | None = None
    for part in (piece.strip() for piece in text.split(",")):
        key, _, number = (piece.strip() for piece in part.partition("="))
        folded = key.casefold()
        if folded in ("tolerance", "standard") and not number and shape is None:
            shape = "rectangular" if folded == "tolerance" else "normal"
            divisor = math.sqrt(3.0) if folded == "tolerance" else 1.0
        elif folded in ("k", "dof") and re.fullmatch(_NUMBER, number) and float(number) > 0.0:
            if folded == "dof" and not said_dof:
                dof, said_dof = float(number), True
            elif folded == "k" and shape is None:
                shape, divisor = "normal", float(number)
            else:
                break
        elif re.fullmatch(rf"{_NUMBER}\s*%", part) and 0.0 < float(part[:-1]) < 100.0 and shape is None:
            shape, quantile = "normal", float(part[:-1]) / 100.0
        else:
            break
    else:
        if shape is not None and not (shape == "rectangular" and said_dof):
            if quantile is not None:
                divisor = _coverage(quantile, dof)
            return _Meaning(divisor, dof, shape)
    raise Unreadable(f"'({text})' in '{written}'", f"what the ± means: {FORMS}")


def _coverage(confidence: float, dof: float) -> float:
    if math.isinf(dof):
        from statistics import NormalDist

        return NormalDist().inv_cdf(0.5 + confidence / 2.0)
    from scipy.special import stdtrit

    return float(stdtrit(dof, 0.5 + confidence / 2.0))


def parse(text: str | float | int, kind: str) -> Value:
    """Read a value: number first, then its unit, then ± and what the ± means.

    text: as written; a plain number only where `kind` is 'number'. Returns the value in coherent SI units.
    Raises `Unreadable` for another kind of quantity, an unknown unit, a bare ±, NaN or an infinity.
    Meaning of the forms: JCGM 100:2008, 4.3 and 7.2.2.

    >>> parse("1.79 g/cm^3 ± 0.01 (k=2)", "density")
    Value(value=1790.0, u=5.0, dof=inf, shape='normal', unit='g/cm^3', ...)
    >>> parse("1.612(3) g/ml", "density").spread
    3.0
    """
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        words, example, *_ = _KINDS[kind]
        raise Unreadable(f"{text!r}", f'{words}, such as "{example}"')
    if not isinstance(text, str):
        if kind != "number":
            raise _missing_unit(kind, f"{text!r}")
        return Value(_number(repr(text), kind, f"{text!r}"), text=repr(text))
    written = text.strip()
    cleaned = _clean(text).replace("+/-", "±").replace("+-", "±")
    head, sign, tail = cleaned.partition("±")
    enclosed = re.fullmatch(r"\(([^()±]+)±([^()±]+)\)\s*([^()±]*)(\([^()]*\))?", cleaned)
    if enclosed:
        head, sign, tail = enclosed[1], "±", f"{enclosed[2]} {enclosed[3]} {enclosed[4] or ''}"
    if "±" in tail:
        raise Unreadable(f"'{written}'", f'one ±, as in "{_KINDS[kind][1]} ± 0.1 (standard)"')
    number_text, unit, digits, mantissa = _split_number(head.strip(), kind, written)
    number = _number(number_text, kind, written)
    stray = _MEANING.search(unit)
    if stray and not sign and kind != "number" and _find(unit, kind) is None:
        raise Unreadable(f"'{written}'", f"a ± before '({stray[1]})', or nothing after the unit")
    if not sign:
        return _plain(number, unit, digits, mantissa, number_text, kind, written)
    if digits is not None:
        raise Unreadable(f"'{written}'", "either digits in brackets or a ±, not both")
    return _with_spread(number, unit, tail, kind, written)


def _linear(unit: str, kind: str, written: str) -> tuple[float, float]:
    if kind == "number":
        if unit:
            others = _kinds_of(unit)
            raise Unreadable(f"'{written}'" + (f", {' or '.join(others)}" if others else ""), "a plain number, without a unit")
        return 1.0, 0.0
    if not unit:
        raise _missing_unit(kind, written)
    if _find(unit, kind) is None:
        raise _wrong_unit(unit, kind, written)
    return scale(unit, kind)


def _plain(number: float, unit: str, digits: str | None, mantissa: str, number_text: str, kind: str, written: str) -> Value:
    factor, offset = _linear(unit, kind, written)
    value = Value(number * factor + offset, unit=unit, text=written)
    if digits is None:
        return value
    u = _from_digits(mantissa, number_text[len(mantissa) :], digits) * factor
    return replace(value, u=u, shape="normal")


def _with_spread(number: float, unit: str, tail: str, kind: str, written: str) -> Value:
    meaning_text = _MEANING.search(tail)
    if meaning_text is None:
        raise Unreadable(f"'{written}', whose ± does not say what it means", f"{FORMS}")
    size_text, own_unit, digits, _ = _split_number(tail[: meaning_text.start()].strip(), kind, written)
    if digits is not None:
        raise Unreadable(f"'{written}'", "a plain number after the ±")
    size, meaning = _number(size_text, kind, written), _meaning(meaning_text[1].strip(), written)
    if size < 0.0:
        raise Unreadable(f"'{written}'", "a positive number after the ±")
    if not unit and own_unit and (kind != "number"):
        unit, own_unit = own_unit, ""
    factor, offset = _linear(unit, kind, written)
    value, relative = number * factor + offset, False
    spread_kind = "temperature_difference" if kind == "temperature" else kind
    if not own_unit or _fold(own_unit) == _fold(unit):
        half = size * factor
    elif kind != "fraction" and _find(own_unit, "fraction") is not None:
        if kind == "temperature":
            raise Unreadable(f"'{written}'", "the ± of a temperature in K or in the unit of the value")
        half, relative = size * scale(own_unit, "fraction")[0] * abs(value), True
    elif kind == "temperature" and _find(own_unit, kind) is not None:
        half = size * scale(own_unit, kind)[0]
    else:
        half = size * _linear(own_unit, spread_kind, written)[0]
    return Value(value, half / meaning.divisor, meaning.dof, meaning.shape, unit, written, relative)


def parse_spread(text: str, kind: str, *, relative_allowed: bool = True) -> Spread:
    """Read an uncertainty that stands alone, such as the repeatability of a balance.

    text: "0.1 mg (standard)", "0.003 mm (k=2)", "0.01 % (standard)" (of the reading); kind: of the reading.
    Returns a standard uncertainty [SI unit of the kind, or a share of the reading]. Raises `Unreadable`.

    >>> parse_spread("0.1 mg (standard)", "mass").u
    1e-07
    """
    words, example, *_ = _KINDS[kind]
    if not isinstance(text, str):
        raise Unreadable(f"{text!r}", f'{words} and what it means, such as "{example} (standard)"')
    written = text.strip()
    cleaned = _clean(text).replace("+/-", "±").lstrip("±").strip()
    meaning_text = _MEANING.search(cleaned)
    if meaning_text is None:
        raise Unreadable(f"'{written}', which does not say what it means", "(tolerance), (standard), (standard, dof=9), (k=2) or (95 %) after it")
    number_text, unit, digits, _ = _split_number(cleaned[: meaning_text.start()].strip(), kind, written)
    if digits is not None:
        raise Unreadable(f"'{written}'", "a plain number before its meaning")
    size, meaning = _number(number_text, kind, written), _meaning(meaning_text[1].strip(), written)
    if size < 0.0:
        raise Unreadable(f"'{written}'", "a positive number")
    relative = kind != "fraction" and relative_allowed and _find(unit, "fraction") is not None
    if relative:
        factor = scale(unit, "fraction")[0]
    else:
        factor = _linear(unit, "temperature_difference" if kind == "temperature" else kind, written)[0]
    return Spread(size * factor / meaning.divisor, relative, meaning.dof, meaning.shape, written)


def kind_words(kind: str) -> tuple[str, str]:
    """What a kind is called, and an example of it."""
    words, example, *_ = _KINDS[kind]
    return words, example


def kind_of(text: str) -> str | None:
    """The kind of quantity that the unit of a written value says, None where it says none.

    >>> kind_of("126 degC ± 1 (tolerance)"), kind_of("0.7 MPa"), kind_of("3")
    ('temperature', 'pressure', 'number')
    """
    for kind in ("number", *(k for k in _KINDS if k not in ("number", "temperature_difference"))):
        try:
            parse(text, kind)
        except Unreadable:
            continue
        return kind
    return None
