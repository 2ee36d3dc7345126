"""A value as a person writes it: number, unit, standard uncertainty."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cache
from numbers import Real
from typing import Any

from laminate.values.problems import Problem, Refused, refusal, wrong_word
from laminate.values.units import SIValue, Unreadable, kind_of, parse, scale
from laminate.values.value_text import Shape, halves, read

LEAST: dict[str, Callable[[Any], bool]] = {
    "value": lambda value: abs(value) <= sys.float_info.max,
    "u": lambda u: 0.0 <= u <= sys.float_info.max,
    "dof": lambda dof: dof > 0.0,
}
"""What a number of a `Value` must be."""
SHAPES = ("normal", "rectangular")


@dataclass(frozen=True, slots=True)
class Value:
    """A number with its unit and its standard uncertainty.

    Parameters
    ----------
    value : number in `unit`
    unit : as the files spell it, such as "mm", "%", "g/cm^3", "degC"; '' for a plain number
    u : standard uncertainty in `unit` (for a temperature in degrees of its scale), None where none was given
    dof : degrees of freedom of `u`
    shape : distribution, "normal" or "rectangular": a tolerance, whose half-width is sqrt(3) times `u`
    answer : the keys of the answer that it stands in, None where a person gives it: in an answer a `u` of
        None is one that is not known, with which `judge` lets nothing conform

    Raises
    ------
    Refused : where `value` or `u` is no number, `u` is negative, `dof` is not above 0, or the unit is not
        known

    Examples
    --------
    >>> import laminate as lam
    >>> t = lam.Value(2.856, "mm", u=0.012)
    >>> t.to("in").u < 0.001
    True
    >>> lam.Value.parse("1.79 g/cm^3 ± 0.01 (k=2)").u
    0.005
    """

    value: float
    unit: str = ""
    u: float | None = None
    dof: float = math.inf
    shape: Shape = field(default="normal", repr=False, kw_only=True)
    answer: Mapping[str, Any] | None = field(default=None, repr=False, compare=False, kw_only=True)

    def __post_init__(self) -> None:
        for name in ("value", "u", "dof"):
            number = getattr(self, name)
            if number is None and name == "u":
                continue
            good = isinstance(number, Real | Decimal) and not isinstance(number, bool)
            plain = number if isinstance(number, int) else float(number) if good else math.nan  # of numpy too
            if not (good and LEAST[name](plain)):
                expected = "a plain number; u 0 or more, dof above 0"
                raise refusal("wrong-value", "", name, repr(number), expected)
            object.__setattr__(self, name, plain)
        if self.unit == "1":  # of a plain number in an answer
            object.__setattr__(self, "unit", "")
        if self.shape not in SHAPES:
            raise Refused(wrong_word("", "shape", self.shape, SHAPES))
        if fault := _unknown_unit(self.unit):
            raise Refused(Problem("unreadable-value", "", "unit", fault.found, fault.expected, fault.hint))

    @classmethod
    def parse(cls, text: str) -> Value:
        """Read a value as the files write it.

        Parameters
        ----------
        text : number, unit, and what the ± means: "1.79 g/cm^3 ± 0.01 (k=2)"

        Returns
        -------
        Value : in the unit of the text, with its standard uncertainty

        Raises
        ------
        Refused : where it cannot be read
        """
        kind = kind_of(text) if isinstance(text, str) else "number"
        try:
            if kind is None:  # the unit is not known, or what stands behind the ±
                number = halves(text, "number", text)[0]
                kind = kind_of(number)
                if kind is None and (unit := read(number, "number", text).unit):
                    raise _unknown(unit)
            inner = parse(text, kind := kind or "number")
        except Unreadable as fault:
            raise _refused(fault) from None
        factor, offset = scale(inner.unit, kind) if inner.unit else (1.0, 0.0)
        u = None if inner.u is None else _round(inner.u / factor)
        shape: Shape = "rectangular" if inner.shape == "rectangular" and u else "normal"
        return cls(_round((inner.value - offset) / factor), inner.unit, u, inner.dof, shape=shape)

    @property
    def kind(self) -> str:
        """What is measured: length, density, fraction, ..."""
        return self._inner()[0]

    def _inner(self) -> tuple[str, SIValue]:
        kind = (kind_of(self.text) if self.unit else None) or "number"
        return kind, parse(self.text, kind)

    @property
    def text(self) -> str:
        """As the files write it: "2.856 mm ± 0.012 (standard)"."""
        number = f"{self.value!r} {self.unit}".rstrip()
        if self.u is None:
            return number
        return f"{number} ± {self._size!r} {self._meaning(f'{Decimal(repr(self.dof)).normalize():f}')}"

    @property
    def _size(self) -> float:
        """What stands behind the ±."""
        u = self.u or 0.0
        return float(f"{u * math.sqrt(3.0):.13g}") if self.shape == "rectangular" else u

    def _meaning(self, dof: str) -> str:
        if self.shape == "rectangular":
            return "(tolerance)"
        return "(standard)" if math.isinf(self.dof) else f"(standard, dof={dof})"

    @property
    def si(self) -> float:
        """The number in coherent SI units: kg, m, s, K, Pa; a share from 0 to 1."""
        return self._inner()[1].value

    @property
    def ufloat(self) -> Any:
        """The number with its standard uncertainty, of the `uncertainties` library; in `unit`.

        Each time it is a new variable, independent of all others: keep it in a name to use it twice.
        """
        from uncertainties import ufloat

        return ufloat(self.value, self.u) if self.u else self.value

    def to(self, unit: str) -> Value:
        """The same value in another unit of its kind.

        Parameters
        ----------
        unit : such as "in"

        Returns
        -------
        Value : with its uncertainty in that unit

        Raises
        ------
        Refused : where the unit is of another kind
        """
        if not isinstance(unit, str):
            raise TypeError(f"a unit is text, not {type(unit).__name__}")
        kind = self.kind
        try:
            factor, offset = scale(self.unit, kind) if self.unit else (1.0, 0.0)
            other, other_offset = scale(unit, kind) if unit or kind != "number" else (1.0, 0.0)
        except Unreadable as fault:
            raise _refused(fault) from None
        number = (self.value * factor + offset - other_offset) / other
        u = None if self.u is None else _round(self.u * factor / other)
        return replace(self, value=_round(number), unit=unit, u=u)

    def __str__(self) -> str:
        """Value ± standard uncertainty or tolerance, to the digits that it supports, as the files take it."""
        if not self.u:
            return f"{self.value:.6g} {self.unit}".rstrip()
        from laminate.values.said import with_size

        meaning = self._meaning(f"{self.dof:g}")
        if self.kind == "temperature" and self.si == self.value:  # what is K behind a ± may be a difference
            return f"({with_size(self.value, self._size, '')}) {self.unit} {meaning}"
        return f"{with_size(self.value, self._size, self.unit)} {meaning}"

    def __format__(self, spec: str) -> str:
        """The number alone in the given format, then its unit; without one as `str` says it."""
        return f"{format(self.value, spec)} {self.unit}".rstrip() if spec else str(self)


@cache
def _unknown_unit(unit: str) -> Unreadable | None:
    """What is wrong with a unit that no file may have."""
    return None if not unit or kind_of(f"1 {unit}") else _unknown(unit)


def _unknown(unit: str) -> Unreadable:
    return Unreadable(f"the unknown unit '{unit}'", 'a unit of the files, such as "mm", "%" or "g/cm^3"')


def _refused(fault: Unreadable) -> Refused:
    """The refusal of a text or a unit that cannot be read."""
    return Refused(Problem("unreadable-value", "", "", fault.found, fault.expected, fault.hint))


def _round(number: float) -> float:
    """A converted number without the dust of its last binary digit."""
    return float(f"{number:.14g}")
