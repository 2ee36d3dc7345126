"""Numbers that a record has in its own unit, as they are shown."""

from __future__ import annotations

from dataclasses import dataclass

from laminate import quantities
from laminate.quantities import NUMBER, Unit
from laminate.show.numbers import decimals, fixed

_UNITS = {
    unit.text: unit
    for unit in (
        quantities.MM,
        quantities.G_M2,
        quantities.G_CM3,
        quantities.PERCENT,
        quantities.DEG_C,
        quantities.MPA,
        quantities.KN,
        quantities.GRAM,
        quantities.KELVIN,
    )
}


def unit_named(text: str) -> Unit:
    """The unit of a text in a record; an unknown one stays as it is written."""
    return _UNITS.get(text) or (Unit(text, 1.0) if text else NUMBER)


def plain(text: str) -> str:
    """Text from a disk, without characters that would drive a terminal."""
    return "".join(char if char.isprintable() else ascii(char)[1:-1] for char in text)


def chance(share: float) -> str:
    """A chance to two digits, in percent.

    >>> chance(0.0213), chance(0.00001)
    ('2.1 %', 'under 0.1 %')
    """
    return "under 0.1 %" if share < 0.001 else f"{100.0 * share:.2g} %"


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
        if self.recorded is self.shown:
            return value
        return (value - self.recorded.offset) / self.recorded.per_si * self.shown.per_si + self.shown.offset

    def by(self, difference: float) -> float:
        """A difference in the unit shown."""
        return difference / self.recorded.per_si * self.shown.per_si

    def number(self, value: float, spread: float | None) -> str:
        """A value without its unit, to two digits of its spread."""
        size = self.by(spread) if spread else None
        return fixed(self.to(value), decimals(self.to(value), size))

    def text(self, value: float, spread: float | None) -> str:
        """A value with its unit."""
        return f"{self.number(value, spread)} {self.unit}".rstrip()

    def spread(self, spread: float | None) -> str:
        """A spread without its unit, – where there is none."""
        if spread is None:
            return "–"
        size = self.by(spread)
        return fixed(size, decimals(size, size))

    def step(self, value: float, spread: float) -> str:
        """A difference ± its standard uncertainty with its unit."""
        size = self.by(spread)
        places = decimals(self.by(value), size)
        return f"{fixed(self.by(value), places)} ± {fixed(size, places)} {self.unit}".rstrip()
