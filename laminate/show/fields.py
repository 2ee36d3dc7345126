"""What stands in an answer, said once: under each key its JSON Schema, and how its value is made."""

from __future__ import annotations

import json
import math
import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from dataclasses import field as of_class
from datetime import date
from functools import partial
from operator import attrgetter, itemgetter
from typing import Any

from laminate.press.shared_inputs import NORMAL
from laminate.values.input_key import Key
from laminate.values.quantities import ATTRIBUTES, NUMBER, Unit, shown, shown_difference

Schema = dict[str, Any]
Make = Callable[[Any, Unit], Any]

first, second, third = itemgetter(0), itemgetter(1), itemgetter(2)
_DEFINITIONS: dict[str, Schema] = {}
_REF = "#/$defs/"


@dataclass(frozen=True, slots=True)
class Field:
    """What stands under one key of an answer.

    schema: its JSON Schema; make: its value from what was computed and the unit of its table; read: what was
    computed, from the owner of the table (None: its attribute of the key's name); left_out: whether the key
    is missing where that is None; merged: whether the keys of its value stand in the owner's table itself;
    members: of a table, or of the tables of a list, what stands under its keys; unit: in which its numbers
    are shown, where that is one.
    """

    schema: Schema
    make: Make = lambda value, unit: value
    read: Callable[[Any], Any] | None = None
    left_out: bool = False
    merged: bool = False
    members: Mapping[str, Field] = of_class(default_factory=dict)
    unit: Unit | None = None

    def __call__(self, source: str | Callable[[Any], Any], *, left_out: bool = False) -> Field:
        """The same from another attribute (`a.b` of a part of the owner), or computed from the owner."""
        read = attrgetter(source) if isinstance(source, str) else source
        return replace(self, read=read, left_out=left_out)

    def json(self, owner: Any) -> dict[str, Any]:
        """The whole answer, of a table."""
        return dict(self.make(owner, NUMBER))


def table(name: str = "", /, **fields: Field) -> Field:
    """An object with these keys and no other; name: of its definition where a schema refers to it."""
    rows = [(key, field, field.read or attrgetter(key), field.make) for key, field in fields.items()]

    def make(owner: Any, unit: Unit) -> dict[str, Any]:
        values: dict[str, Any] = {}
        for key, member, read, made in rows:
            value = read(owner)
            if member.merged:
                values |= made(value, unit)
            elif value is not None or not member.left_out:
                values[key] = made(value, unit)
        return values

    schema: Schema = {"type": "object", "properties": {}, "required": [], "additionalProperties": False}
    members: dict[str, Field] = {}
    for key, field in fields.items():
        members |= field.members if field.merged else {key: field}
        one_key = {"properties": {key: field.schema}, "required": [] if field.left_out else [key]}
        keys = field.schema if field.merged else one_key
        schema["properties"] |= keys["properties"]
        schema["required"] += keys.get("required", [])
    if name:
        assert name not in _DEFINITIONS, name
        _DEFINITIONS[name] = schema
        schema = {"$ref": _REF + name}
    return Field(schema, make, members=members)


def _either(members: Mapping[str, Field], others: Mapping[str, Field]) -> dict[str, Field]:
    """What stands under each key of one table or the other."""
    both = dict(others) | dict(members)
    for key in members.keys() & others.keys():
        field, other = members[key], others[key]
        inner = _either(field.members, other.members)
        both[key] = replace(field, members=inner, unit=field.unit or other.unit)
    return both


def grouped(**fields: Field) -> Field:
    """An object that groups keys of the owner itself."""
    return table(**fields)(lambda owner: owner)


def any_of(is_first: Callable[[Any], bool], field: Field, other: Field) -> Field:
    """The one where it holds, else the other."""

    def make(value: Any, unit: Unit) -> Any:
        return (field if is_first(value) else other).make(value, unit)

    both = _either(field.members, other.members)
    return Field({"anyOf": [field.schema, other.schema]}, make, members=both, unit=field.unit or other.unit)


def within(path: str | Callable[[Any], Any], /, **fields: Field) -> dict[str, Field]:
    """The same fields, read from a part of the owner."""
    part = attrgetter(path) if isinstance(path, str) else path

    def inner(read: Callable[[Any], Any]) -> Callable[[Any], Any]:
        return lambda owner: read(part(owner))

    return {key: replace(field, read=inner(field.read or attrgetter(key))) for key, field in fields.items()}


def schema_of(field: Field) -> Schema:
    """The JSON Schema of an answer, with the definitions that it refers to."""
    wanted: dict[str, Schema] = {}
    waiting = [field.schema]
    while waiting:
        names = re.findall(f'"{re.escape(_REF)}([^"]+)"', json.dumps(waiting.pop()))
        added = {name: _DEFINITIONS[name] for name in names if name not in wanted}
        wanted |= added
        waiting += added.values()
    top = wanted.get(str(field.schema.get("$ref", "")).removeprefix(_REF), field.schema)
    return {**top, **({"$defs": dict(sorted(wanted.items()))} if wanted else {})}


def rows(field: Field, unit: Unit | None = None, **bounds: int) -> Field:
    """A list; unit: of its tables, where they do not have that of the list's owner; bounds: of its length."""
    schema = {"type": "array", "items": field.schema, **bounds}
    return Field(
        schema, lambda values, of: [field.make(value, unit or of) for value in values], members=field.members
    )


def in_its_unit(field: Field) -> Field:
    """From a pair: what was computed, and the unit in which it is shown."""
    return replace(field, make=lambda pair, _: field.make(*pair))


def maybe(field: Field, unit: Unit | None = None) -> Field:
    """Something, or null."""
    kind = field.schema.get("type")
    schema: Schema = {"anyOf": [field.schema, {"type": "null"}]}
    if isinstance(kind, str) and kind not in ("object", "array"):
        schema = {**field.schema, "type": [kind, "null"]}

    def make(value: Any, of: Unit) -> Any:
        return None if value is None else field.make(value, unit or of)

    return Field(schema, make, members=field.members, unit=unit or field.unit)


def by_name(field: Field) -> Field:
    """An object with names of people as its keys."""
    schema = {"type": "object", "additionalProperties": field.schema}
    return Field(schema, lambda values, unit: {k: field.make(v, unit) for k, v in values.items()})


def by_attribute(field: Field) -> Field:
    """An object with attributes as its keys, each in its unit."""
    properties = dict.fromkeys(ATTRIBUTES, field.schema)
    schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return Field(
        schema,
        lambda values, _: {k: field.make(v, ATTRIBUTES[k].unit) for k, v in values.items()},
        members={key: replace(field, unit=attribute.unit) for key, attribute in ATTRIBUTES.items()},
    )


def finite(field: Field) -> Field:
    """The same, null for a number that is not finite."""
    return replace(field, make=lambda value, unit: field.make(as_finite(value, unit), unit))


def one_of(*words: str) -> Field:
    """One of these words."""
    return Field({"enum": list(words)})


class Column(ABC):
    """The numbers of a key in many rows at once, where rows are written together."""

    @abstractmethod
    def shown(self, unit: Unit, *, difference: bool) -> Column:
        """In a unit, from SI; difference: steps, not points of its scale."""


def as_value(value: Any, unit: Unit) -> Any:
    """A number [SI] in the unit of its table."""
    return value.shown(unit, difference=False) if isinstance(value, Column) else shown(value, unit)


def as_step(value: Any, unit: Unit) -> Any:
    """A difference, or an uncertainty [SI], in the unit of its table."""
    return value.shown(unit, difference=True) if isinstance(value, Column) else shown_difference(value, unit)


def as_finite(value: Any, _: Unit) -> Any:
    """A number or an estimate as it is, None where it is not finite."""
    if value is None or isinstance(value, Column):
        return value
    return value if math.isfinite(getattr(value, "value", value)) else None


NULL = Field({"type": "null"}, read=lambda _: None)
TEXT = Field({"type": "string"})
MAYBE_TEXT = maybe(TEXT)
NAME = Field({"type": "string"}, lambda value, _: value if isinstance(value, str) else str(value))
WORDS = Field({"type": ["string", "null"]}, lambda value, _: value or None)
DATE = Field({"type": ["string", "null"]}, lambda day, _: day.isoformat() if isinstance(day, date) else None)
TEXTS = rows(NAME)
YES = Field({"type": "boolean"})
FIGURE = Field({"type": "number"})
KNOWN = maybe(FIGURE)
FINITE = replace(KNOWN, make=as_finite)
COUNT = Field({"type": "integer", "minimum": 0})
COUNTED = maybe(COUNT)
CHANCE = maybe(Field({"type": "number", "minimum": 0, "maximum": 1}))
VALUE = Field({"type": "number"}, as_value)
STEP = Field({"type": "number"}, as_step)
MAYBE_VALUE, MAYBE_STEP = maybe(VALUE), maybe(STEP)
UNIT = Field({"type": "string"}, lambda _, unit: unit.text, lambda owner: owner)
ATTRIBUTE = one_of(*ATTRIBUTES)
KEY = Field(
    {"type": ["array", "null"], "items": {"type": "string"}, "minItems": 3, "maxItems": 3},
    lambda name, _: list(name) if isinstance(name, Key) else None,
)
INPUT = {"input": NAME, "key": KEY("input")}
"""An input in words and by its key."""
MEASURE = {"value": VALUE, "unit": UNIT, "standard_uncertainty": MAYBE_STEP("u")}
"""The keys of a quantity."""


def each(field: Field, *keys: str, **sources: str) -> dict[str, Field]:
    """Keys under which the same stands; sources: key -> the attribute that it is, by another name."""
    return dict.fromkeys(keys, field) | {key: field(source) for key, source in sources.items()}


def _freedom(value: Any) -> float | None:
    """Degrees of freedom of an estimate, by its factor at 95 %; None where they are infinite."""
    factor = getattr(value, "k", 0.0) if getattr(value, "u", None) else 0.0
    if factor <= NORMAL * (1.0 + 1e-9):
        return None
    from laminate.formulas.statistics import degrees_of_factor

    return float(degrees_of_factor(factor=factor, confidence=0.95))


QUANTITY = table(
    "quantity",
    value=VALUE(lambda value: getattr(value, "value", value)),
    unit=UNIT,
    standard_uncertainty=MAYBE_STEP(lambda value: getattr(value, "u", None)),
    effective_degrees_of_freedom=FIGURE(_freedom, left_out=True),
)


def in_unit(field: Field, unit: Unit) -> Field:
    """A table whose numbers are shown in this unit."""
    return replace(field, make=lambda value, _: field.make(value, unit), unit=unit)


quantity = partial(maybe, QUANTITY)
"""A number or an estimate [SI] with its unit, which it is given, or null."""


def in_unit_of(field: Field, unit_of: Callable[[Any], Unit] = attrgetter("unit")) -> Field:
    """A table that is shown in the unit of what was computed."""
    return replace(field, make=lambda row, _: field.make(row, unit_of(row)))


def of_attribute(field: Field) -> Field:
    """A table about an attribute, in its unit."""
    return in_unit_of(field, lambda row: ATTRIBUTES[row.attribute].unit)


def from_single(field: Field) -> Field:
    """From a tuple of one, so that a null stays where a missing key is left out."""
    return replace(field, make=lambda box, unit: field.make(box[0], unit))


def merged(field: Field) -> Field:
    """A table whose keys stand among those of its owner."""
    return replace(field, merged=True)
