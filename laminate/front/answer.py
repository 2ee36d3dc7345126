"""An answer as an object: its JSON, a table, a screen of text, a piece of a page, a picture."""

from __future__ import annotations

import html
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from laminate.front.picture import draw, is_quantity
from laminate.front.value import Value
from laminate.show.numbers import with_size

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

NAMES = ("specimen", "zone", "core", "batch", "label", "name", "attribute", "plies")
MOST_LINES, MOST_WIDTH, MOST_HTML_ROWS = 24, 80, 60
MOST_LETTERS = 24
"""Of a word in a repr: a digest would leave no room beside it."""
ROWS = {
    "predict": "zones",
    "fill": "zones.counts",
    "core": "cores",
    "measure": "specimens",
    "report": "characteristics",
    "correct": "zones",
    "trend": "series.batches",
    "verify": "signatures",
    "cycle": "zones",
}


def seen(value: Any) -> Any:
    """A part of an answer as an object: a quantity as a `Value`, a table by attributes, a list by name."""
    if is_quantity(value) and set(value) <= {"value", "unit", "standard_uncertainty"}:
        return (
            None
            if value["value"] is None
            else Value(value["value"], value["unit"], value.get("standard_uncertainty"))
        )
    if isinstance(value, Mapping):
        return Fields(value)
    if isinstance(value, list) and value and all(isinstance(one, Mapping) for one in value):
        return Rows(value)
    return list(value) if isinstance(value, list) else value


class Fields(Mapping[str, Any]):
    """A table of an answer: keys as attributes and by name; never changed."""

    __slots__ = ("_data",)

    def __init__(self, data: Mapping[str, Any]) -> None:
        self._data = data

    def __getitem__(self, key: str) -> Any:
        return seen(self._data[key])

    def __iter__(self) -> Iterator[str]:
        return iter(self._data)

    def __len__(self) -> int:
        return len(self._data)

    def __getattr__(self, name: str) -> Any:
        if name == "u" and "standard_uncertainty" in self._data:
            return self._data["standard_uncertainty"]
        if name.startswith("_") or name not in self._data:
            raise AttributeError(f"no '{name}' in this answer; it has {', '.join(self._data)}")
        return seen(self._data[name])

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self._data})

    def __repr__(self) -> str:
        value, unit, spread = (self._data.get(key) for key in ("value", "unit", "expanded_uncertainty"))
        if isinstance(value, float) and isinstance(unit, str):
            return with_size(value, spread, unit)
        shown = ", ".join(f"{key}={seen(value)!s:.40}" for key, value in list(self._data.items())[:8])
        return f"({shown}{', ...' if len(self._data) > 8 else ''})"


class Rows(Sequence[Any]):
    """Several tables of an answer, by place or by name: `answer.zones["web"]`."""

    __slots__ = ("_data",)

    def __init__(self, data: Sequence[Mapping[str, Any]]) -> None:
        self._data = data

    def __len__(self) -> int:
        return len(self._data)

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, slice):
            return Rows(self._data[key])
        if isinstance(key, int):
            return seen(self._data[key])
        for one in self._data:
            if any(one.get(name) == key for name in NAMES):
                return seen(one)
        known = [str(next((one[name] for name in NAMES if name in one), "")) for one in self._data]
        raise AttributeError(f"nothing named {key!r}; there are {', '.join(known)}")

    def __repr__(self) -> str:
        return "\n".join(repr(seen(one)) for one in self._data[:20])


class Answer:
    """The answer to one question; attributes are the keys of its JSON, quantities are `Value`.

    Where it holds one zone alone, the attributes of that zone stand on the answer too. It does not change. In
    a notebook it shows its table.

    Raises
    ------
    AttributeError : for a key that the answer does not have; the message lists those that it has

    Examples
    --------
    >>> from laminate import predict
    >>> p = predict(fiber_areal_weight="134 g/m^2", resin_content="35 %", fiber_density="1.79 g/cm^3",
    ...             resin_density="1.30 g/cm^3", plies=12)
    >>> p.plies, p.thickness.unit
    (12, 'mm')
    """

    def __init__(self, question: str, data: Mapping[str, Any], value: Any = None) -> None:
        object.__setattr__(self, "_question", question)
        object.__setattr__(self, "_data", data)
        object.__setattr__(self, "_found", value)  # what a picture is drawn from

    def __setattr__(self, name: str, value: Any) -> None:
        raise AttributeError("an answer does not change")

    def to_dict(self) -> dict[str, Any]:
        """The answer as the command's JSON has it, without `format`.

        Returns
        -------
        dict : keys, numbers and units of `--json`
        """
        return deepcopy(dict(self._data))

    def _one(self) -> Mapping[str, Any]:
        zones = self._data.get("zones")
        if isinstance(zones, list) and len(zones) == 1:
            return dict(zones[0]) | dict(self._data)
        return dict(self._data)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        if self._question == "measure" and name == "average":
            return _of_averages(self._data)
        data = self._one()
        if name not in data:
            raise AttributeError(f"no '{name}' in this answer; it has {', '.join(data)}")
        return seen(data[name])

    def __dir__(self) -> list[str]:
        return sorted({*super().__dir__(), *self._one()})

    def __getitem__(self, name: str) -> Any:
        """A row by its name: a specimen, a zone, a core, a characteristic."""
        return Rows(self._rows())[name]

    def _rows(self) -> list[dict[str, Any]]:
        if self._question == "predict":
            return [
                {"zone": one.get("zone"), "attribute": name, **quantity}
                for one in self._data.get("zones", [self._data])
                for name, quantity in one.items()
                if is_quantity(quantity)
            ]
        if self._question not in ROWS:
            return [dict(self._data)]
        outer, _, inner = ROWS[self._question].partition(".")
        if not inner:
            return list(self._data[outer])
        return [
            {**{key: one[key] for key in ("name", "zone") if key in one}, **row}
            for one in self._data[outer]
            for row in one[inner]
        ]

    def to_frame(self) -> pd.DataFrame:
        """One row a specimen, ply count, core, characteristic or attribute.

        Returns
        -------
        DataFrame : a quantity has two columns, its value and its standard uncertainty `u`; the unit stands in
            the heading
        """
        import pandas as pd

        rows = self._rows()
        if self._question == "predict":
            columns = {"standard_uncertainty": "u"}
            frame = pd.DataFrame(rows).rename(columns=columns)
            return frame if any(row["zone"] for row in rows) else frame.drop(columns="zone")
        return pd.DataFrame([_flat(row) for row in rows])

    def _title(self) -> str:
        answer = self._data.get("answer")
        return f"{self._question}: {answer}" if answer else self._question

    def __repr__(self) -> str:
        frame = self.to_frame()
        if frame.empty:
            return self._title()
        text = _narrow(frame).to_string(
            max_rows=MOST_LINES - 6, index=False, float_format=lambda x: f"{x:.5g}"
        )
        lines = [self._title(), *(line[:MOST_WIDTH].rstrip() for line in text.splitlines())]
        return "\n".join(lines[:MOST_LINES])

    def _repr_html_(self) -> str:
        frame = self.to_frame().head(MOST_HTML_ROWS)
        cells = "".join(f"<th>{html.escape(str(name))}</th>" for name in frame.columns)
        body = "".join(
            "<tr>" + "".join(f"<td>{html.escape(_cell(value))}</td>" for value in row) + "</tr>"
            for row in frame.itertuples(index=False)
        )
        style = "border-collapse:collapse;color:currentColor"
        return (
            f'<div style="overflow-x:auto"><strong>{html.escape(self._title())}</strong>'
            f'<table style="{style}"><thead><tr>{cells}</tr></thead><tbody>{body}</tbody></table></div>'
        )

    def plot(self, ax: Axes | None = None, attribute: str | None = None) -> Axes:
        """Draw each row's value with ± two standard uncertainties.

        Parameters
        ----------
        ax : axes of matplotlib to draw on, a new picture where None
        attribute : key of a quantity, the first known where None

        Returns
        -------
        Axes : those that were drawn on

        Raises
        ------
        ValueError : where there are no numbers to draw
        """

        return draw(self._rows(), ax, attribute)


def _of_averages(data: Mapping[str, Any]) -> Fields:
    return Fields(data.get("average", {}))


def _flat(row: Mapping[str, Any]) -> dict[str, Any]:
    """One row of a table: quantities as value and u, words and numbers as they are, lists as text."""
    flat: dict[str, Any] = {}
    for key, cell in row.items():
        if is_quantity(cell):
            unit = f" [{cell['unit']}]" if cell["unit"] else ""
            flat[f"{key}{unit}"] = cell["value"]
            if "standard_uncertainty" in cell:
                flat[f"{key} u{unit}"] = cell["standard_uncertainty"]
        elif isinstance(cell, Mapping):
            flat |= {f"{key} {name}": value for name, value in _flat(cell).items()}
        elif isinstance(cell, list):
            if all(isinstance(one, str) for one in cell):
                flat[key] = ", ".join(cell)
        else:
            flat[key] = cell
    return flat


def _cell(value: Any) -> str:
    if value is None or value != value:
        return ""
    text = f"{value:.5g}" if isinstance(value, float) else str(value)
    return text if len(text) <= MOST_LETTERS else f"{text[: MOST_LETTERS - 1]}…"


def _narrow(frame: pd.DataFrame) -> pd.DataFrame:
    """As many whole columns as a screen is wide."""
    kept: list[Any] = []
    width = 0
    for name in frame.columns:
        if (frame[name].isna() | (frame[name] == "")).all():
            continue
        wide = max([len(str(name)), *(len(_cell(value)) for value in frame[name].head(MOST_LINES))]) + 2
        if kept and width + wide > MOST_WIDTH:
            continue
        kept.append(name)
        width += wide
    return frame[kept].map(lambda value: _cell(value) if isinstance(value, str) else value)
