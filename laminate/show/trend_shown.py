"""Numbers that a record has in its own unit, as they are shown."""

from __future__ import annotations

from dataclasses import dataclass

from laminate.show.numbers import decimals, fixed, with_size
from laminate.values import quantities
from laminate.values.quantities import ATTRIBUTES, NUMBER, US, Unit

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

    def limits(self, low: float | None, high: float | None) -> str:
        """A pair of limits as it was set, without its unit."""
        least, most = (None if limit is None else f"{self.to(limit):.6g}" for limit in (low, high))
        return f"{least} to {most}" if least and most else f"min {least}" if least else f"max {most}"

    def spread(self, spread: float | None) -> str:
        """A spread without its unit, – where there is none."""
        if spread is None:
            return "–"
        size = self.by(spread)
        return fixed(size, decimals(size, size))

    def step(self, value: float, spread: float) -> str:
        """A difference ± its standard uncertainty with its unit."""
        return with_size(self.by(value), self.by(spread), self.unit)


def scale_of(name: str, unit: str, units: str) -> Scale:
    """How numbers of an attribute, or of what else has the name, are shown; unit: of the record."""
    known, metric = ATTRIBUTES.get(name), unit_named(unit)
    us = known.us if known and known.unit is metric else US.get(metric, metric)
    return Scale(metric, us if units == "us" else metric)
