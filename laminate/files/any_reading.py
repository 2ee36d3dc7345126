"""Readings of whatever kind their unit says: the errors and the step of an instrument, a process reading."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, TypeVar

from pydantic import WithJsonSchema

from laminate.files.batch_checks import instrument_spread, instrument_step
from laminate.files.toml import reads
from laminate.values.units import SIValue, Spread, Unreadable, kind_of, parse

READING_KINDS = ("mass", "length", "temperature_difference", "density", "area", "pressure", "force", "number")
ANY_READING = 'a mass, length, temperature, density, area, pressure or force, such as "0.1 mg (standard)"'


Read = TypeVar("Read")


def _of_any_kind(text: Any, read: Callable[[Any, str], Read]) -> Read:
    """What is read of whatever kind its unit says. Raises `Unreadable`."""
    faults: list[Unreadable] = []
    for kind in READING_KINDS:
        try:
            return read(text, kind)
        except Unreadable as unreadable:
            faults.append(unreadable)
    messages = {(fault.found, fault.expected, fault.hint) for fault in faults}
    if len(messages) == 1:  # what is wrong is not the kind of quantity
        raise faults[0]
    raise Unreadable(faults[0].found, ANY_READING)


def _reading(text: Any) -> SIValue:
    return parse(text, (kind_of(text) if isinstance(text, str) else None) or "number")


AnyStep = Annotated[
    float, reads(lambda text: _of_any_kind(text, instrument_step)), WithJsonSchema({"type": "string"})
]
AnySpread = Annotated[
    Spread, reads(lambda text: _of_any_kind(text, instrument_spread)), WithJsonSchema({"type": "string"})
]
AnyReading = Annotated[SIValue, reads(_reading), WithJsonSchema({"type": ["string", "number"]})]
