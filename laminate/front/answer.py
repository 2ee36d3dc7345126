"""An answer as an object: its JSON, a table, a screen of text, a piece of a page, a picture."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from functools import cached_property
from importlib import import_module
from numbers import Integral
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from laminate.front.options import UNITS
from laminate.front.picture import draw, is_quantity
from laminate.front.value import Value
from laminate.show.document import Document
from laminate.values.problems import Refused, did_you_mean, refusal, wrong_word
from laminate.values.said import few, with_size

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from laminate.show.fields import Field

NAMES = ("specimen", "zone", "core", "batch", "label", "name", "attribute", "plies", "cycle")
OF_VALUE = ("answer", "dof", "kind", "si", "text", "to", "ufloat")
"""What a quantity with more than a value and its ± has of a `Value`."""
QUANTITY = {"value", "unit", "standard_uncertainty", "effective_degrees_of_freedom"}


class AnswerLayout(NamedTuple):
    """Where the rows of an answer stand in its keys, and what puts it into keys and words.

    rows: key of its rows, or of tables and in these of their rows; keys: module of `show` with the definition
    of its keys, '' where they are given or made otherwise; document: module and function of `show` that make
    its words; good: attribute of what was computed, '' where it is never no; of_keys: words are made from the
    keys; more: key of further rows like these.
    """

    rows: str = ""
    keys: str = ""
    document: str = ""
    good: str = ""
    of_keys: bool = False
    more: str = ""


def as_object(value: Any) -> Any:
    """A part of an answer as an object: a quantity as a `Value`, a table by attributes, a list by name."""
    if is_quantity(value) and set(value) <= QUANTITY:
        return None if value["value"] is None else _value(value)
    if isinstance(value, Mapping):
        return Fields(value)
    if isinstance(value, list) and value and all(isinstance(item, Mapping) for item in value):
        return Rows(value)
    return list(value) if isinstance(value, list) else value


def _value(data: Mapping[str, Any]) -> Value:
    freedom = data.get("effective_degrees_of_freedom") or math.inf
    return Value(data["value"], data["unit"], data.get("standard_uncertainty"), freedom, answer=data)


class Fields(Mapping[str, Any]):
    """A table of an answer: keys as attributes and by name; never changed."""

    __slots__ = ("_data",)

    def __init__(self, data: Mapping[str, Any]) -> None:
        self._data = data

    def __getitem__(self, key: str) -> Any:
        if key not in self._data:
            raise AttributeError(f"no '{key}' in this answer; it has {', '.join(self._data)}")
        return as_object(self._data[key])

    def __contains__(self, key: object) -> bool:
        return key in self._data

    def get(self, key: str, default: Any = None) -> Any:
        """What stands under a key, `default` where it has none."""
        return as_object(self._data.get(key, default))

    def __iter__(self) -> Iterator[str]:
        return iter(self._data)

    def __len__(self) -> int:
        return len(self._data)

    def __getattr__(self, name: str) -> Any:
        if name == "u" and "standard_uncertainty" in self._data:
            return self._data["standard_uncertainty"]
        if name.startswith("_"):
            raise AttributeError(name)
        if name in OF_VALUE and isinstance(self._data.get("value"), float) and "unit" in self._data:
            return getattr(_value(self._data), name)
        return self[name]

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self._data})

    def __repr__(self) -> str:
        value, unit, spread = (self._data.get(key) for key in ("value", "unit", "expanded_uncertainty"))
        if isinstance(value, float) and isinstance(unit, str):
            factor = self._data.get("coverage_factor")
            return with_size(value, spread, unit) + (f" (k={factor:.3g})" if spread and factor else "")
        items = [(key, str(as_object(value))) for key, value in list(self._data.items())[:8]]
        shown = ", ".join(f"{key}={text if len(text) <= 40 else f'{text[:37]}...'}" for key, text in items)
        return f"({shown}{', ...' if len(self._data) > 8 else ''})"


class Rows(Sequence[Any]):
    """Several tables of an answer, by place or by name: `answer.zones["web"]`, `"web" in answer.zones`."""

    __slots__ = ("_data",)

    def __init__(self, data: Sequence[Mapping[str, Any]]) -> None:
        self._data = data

    def __len__(self) -> int:
        return len(self._data)

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, slice):
            return Rows(self._data[key])
        if isinstance(key, Integral):
            return as_object(self._data[int(key)])
        rows = self._named(key)
        if len(rows) > 1:
            apart = dict.fromkeys(row.get("label") or _others(row, key) for row in rows)
            names = few([*filter(None, apart)], 6)
            several = f"'{key}' of {len(rows)} rows{': ' if names else ''}{names}"
            hint = "rows come by their place too, from 0, and 'to_frame' has them all"
            raise refusal("several-of-a-name", "", "", several, "a name that one row alone has", hint)
        if not rows:
            raise AttributeError(f"nothing named {key!r}; {did_you_mean(str(key), self.names)}")
        return as_object(rows[0])

    def __contains__(self, key: object) -> bool:
        return bool(self._named(key)) or key in list(self)

    def _named(self, key: Any) -> list[Mapping[str, Any]]:
        """The rows that have a name; a specimen that is named like its zone is the specimen."""
        if key is None:
            return []
        rows = ([row for row in self._data if row.get(kind) == key] for kind in NAMES)
        return next(filter(None, rows), [])

    @property
    def names(self) -> list[str]:
        """The names of the tables, each once."""
        named = (next((row[name] for name in NAMES if row.get(name) is not None), "") for row in self._data)
        return list(dict.fromkeys(map(str, named)))

    def __repr__(self) -> str:
        return "\n".join(repr(as_object(row)) for row in self._data[:20])


class Answer:
    """The answer to one question; attributes are the keys of its JSON, quantities are `Value`.

    Where it holds one zone alone, the attributes of that zone stand on the answer too. It does not change. In
    a notebook it shows what the command prints. Keys, words and pictures are made from `result`, what was
    computed.

    Raises
    ------
    AttributeError : for a key that the answer does not have; the message lists those that it has

    Examples
    --------
    >>> import laminate as lam
    >>> p = lam.predict(fiber_areal_weight="134 g/m^2", resin_content="35 %", fiber_density="1.79 g/cm^3",
    ...                 resin_density="1.30 g/cm^3", plies=12)
    >>> p.plies, p.thickness.unit
    (12, 'mm')
    """

    result: Any
    _layout: ClassVar[AnswerLayout]

    def __init__(self, result: Any, keys: Mapping[str, Any] | None = None) -> None:
        self.__dict__["result"] = result
        if keys is not None:
            self.__dict__["_data"] = keys  # else they are made when they are asked for

    @cached_property
    def _data(self) -> Any:
        return self._definition.json(self.result)

    @property
    def _definition(self) -> Field:
        """What stands under its keys."""
        definition: Field = import_module(f"laminate.show.{self._layout.keys}").ANSWER
        return definition

    def __getstate__(self) -> dict[str, Any]:
        """What a copy has: keys are made from what was computed, whose causes of error a copy names anew."""
        return {**self.__dict__, "_data": self._data}

    def __deepcopy__(self, _: Mapping[int, Any]) -> Answer:
        """The answer itself, as it does not change."""
        return self

    @property
    def good(self) -> bool:
        """Whether the answer is not no; where it is, the command has exit status 1."""
        return not self._layout.good or bool(getattr(self.result, self._layout.good))

    def __setattr__(self, name: str, value: Any = None) -> None:
        raise AttributeError("an answer does not change")

    __delattr__ = __setattr__

    def to_dict(self) -> dict[str, Any]:
        """The answer as the command's JSON has it, without `format` and the files that it wrote.

        Returns
        -------
        dict : keys, numbers and units of `--json`
        """
        return deepcopy(dict(self._data))

    def printed(self) -> Mapping[str, Any]:
        """What the command's JSON has of it.

        Returns
        -------
        mapping : as `to_dict`, where it is long with lists that are written piece by piece
        """
        keys: Mapping[str, Any] = self._data
        return keys

    def _one(self) -> Mapping[str, Any]:
        zones = self._data.get("zones")
        only_zone = zones[0] if isinstance(zones, list) and len(zones) == 1 else {}
        return {**only_zone, **self._data}

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return Fields(self._one())[name]

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self._one()})

    def __getitem__(self, name: str) -> Any:
        """A row by its name: a specimen, a core, a characteristic; a zone with all that the answer has of it.

        Raises
        ------
        Refused : where several rows have the name
        AttributeError : where none has
        """
        rows = self._rows()
        if not any(row.get("specimen") == name for row in rows):
            zones = self._data.get("zones", ())
            rows = [zone for zone in zones if zone.get("zone") == name is not None] or rows
        return Rows(rows)[name]

    def _rows(self) -> list[dict[str, Any]]:
        outer, _, inner = self._layout.rows.partition(".")
        if not outer:
            return [dict(self._data)]
        if not inner:
            return [*self._data[outer], *self._data.get(self._layout.more, ())]
        return [{**named(entry), **row} for entry in self._data[outer] for row in entry[inner]]

    def to_frame(self) -> pd.DataFrame:
        """One row a specimen, ply count, core, limit, attribute, or batch of a series.

        Returns
        -------
        DataFrame : a quantity has two columns of numbers, its value and its standard uncertainty `u`, and the
            unit in the heading; where each row is a quantity (`predict`, `trend`), `value`, `unit` and `u`;
            the index is that of a measured table, at the first row of each coupon
        """
        import pandas as pd

        members: Mapping[str, Field] = {}
        if self._layout.keys and self._layout.rows:
            members = self._definition.members
            for key in self._layout.rows.split("."):
                members = members[key].members
        return pd.DataFrame([_flat(row, members) for row in self._rows()])

    def document(self, units: str = "metric") -> Document:
        """The answer as people read it: on a screen, as a page, in a notebook.

        Parameters
        ----------
        units : 'metric', or 'us' for inches, pounds, psi and degF

        Returns
        -------
        Document : blocks of words and tables, the answer first

        Raises
        ------
        Refused : for other units
        """
        if units not in UNITS:
            raise Refused(wrong_word("", "units", units, UNITS))
        module, _, name = self._layout.document.partition(".")
        write = getattr(import_module(f"laminate.show.{module}"), name)
        document: Document = write(self._data if self._layout.of_keys else self.result, units)
        return document

    def __repr__(self) -> str:
        return repr(self.document())

    def _repr_html_(self) -> str:
        return self.document()._repr_html_()

    def plot(self, ax: Axes | None = None, attribute: str | None = None) -> Axes:
        """Draw values with ± two standard uncertainties, all in one unit, and the limits that they have.

        Parameters
        ----------
        ax : axes of matplotlib to draw on, a new picture where None
        attribute : key of a quantity, such as 'fiber_volume'; where None, those in the unit of the first, of
            `measure` the first, of `trend` the first series

        Returns
        -------
        Axes : those that were drawn on

        Raises
        ------
        Refused : where there are no numbers to draw
        TypeError : for what is no axes
        """
        return draw(self._rows(), ax, attribute)


def _flat(row: Mapping[str, Any], members: Mapping[str, Field]) -> dict[str, Any]:
    """One row of a table: quantities as value and u, words and numbers as they are, texts joined.

    members: what stands under its keys, so that a quantity has its columns also where nothing is known of it.
    """
    flat: dict[str, Any] = {}
    for key, cell in row.items():
        field = members.get(key)
        inner = field.members if field is not None else {}
        if is_quantity(cell) or is_quantity(inner):
            known = cell or {}
            name = known.get("unit", field.unit.text if field is not None and field.unit else "")
            unit = f" [{name}]" if name else ""
            flat[f"{key}{unit}"] = _number(known.get("value"))
            if "standard_uncertainty" in known or "standard_uncertainty" in inner:
                flat[f"{key} u{unit}"] = _number(known.get("standard_uncertainty"))
        elif key.endswith("standard_uncertainty"):
            flat[f"{key.removesuffix('standard_uncertainty').rstrip('_')} u".lstrip()] = _number(cell)
        elif isinstance(cell, Mapping):
            unit = f" [{cell['unit']}]" if cell.get("unit") else ""  # of numbers, such as limits
            inside = _flat(cell, inner).items()
            flat |= {f"{key} {name}{unit}": value for name, value in inside if name != "unit"}
        elif isinstance(cell, list):
            if all(isinstance(item, str) for item in cell):
                flat[key] = ", ".join(cell)
        elif cell is not None or not inner:
            number = cell is None and field is not None and "number" in field.schema.get("type", "")
            flat[key] = math.nan if number else cell
    return flat


def named(entry: Mapping[str, Any]) -> dict[str, Any]:
    """What tells the rows of one table from those of another."""
    return {key: entry[key] for key in ("part_number", "name", "zone") if entry.get(key) is not None}


def _others(row: Mapping[str, Any], name: Any) -> str:
    """The names of a row but for one."""
    return " ".join(str(row[key]) for key in NAMES if row.get(key) not in (None, name))


def _number(value: float | None) -> float:
    return math.nan if value is None else value
