"""A picture of an answer on axes of matplotlib."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from threading import Lock
from typing import TYPE_CHECKING, Any

from laminate.values.problems import Refused, refusal

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DRAWING = Lock()
DRAWN = ("fiber_volume", "void_content", "thickness", "resin_content", "density")


def is_quantity(value: Any) -> bool:
    """Whether a part of an answer is a number with its unit."""
    return isinstance(value, Mapping) and "value" in value and "unit" in value


def draw(shown: Iterable[dict[str, Any]], ax: Axes | None, attribute: str | None) -> Axes:
    """Values with ± two standard uncertainties, one a row. Raises `Refused` without numbers."""
    rows = [_quantities(row) for row in shown]
    key = attribute or next(
        (k for k in (*DRAWN, *(k for _, r in rows for k in r)) if any(k in r for _, r in rows)), ""
    )
    plotted = [(name, row[key]) for name, row in rows if row.get(key, {}).get("value") is not None]
    if not plotted:
        known = dict.fromkeys(k for _, row in rows for k, q in row.items() if q["value"] is not None)
        raise undrawn(attribute, f"one of {', '.join(known)}" if known else "an answer with quantities")
    unit = plotted[0][1]["unit"]
    plotted = [(name, quantity) for name, quantity in plotted if quantity["unit"] == unit]  # on one axis
    ax = axes_or_new(ax)
    with DRAWING:
        places = range(len(plotted))
        values = [quantity["value"] for _, quantity in plotted]
        spread = [2.0 * (quantity.get("standard_uncertainty") or 0.0) for _, quantity in plotted]
        ax.errorbar(list(places), values, yerr=spread, fmt="o", color="black", capsize=3)
        ax.set_xticks(list(places), [name for name, _ in plotted], rotation=90 if len(plotted) > 8 else 0)
        ax.set_ylabel(f"{key.replace('_', ' ')} [{unit}], ± 2 u")
    return ax


def undrawn(attribute: str | None, expected: str) -> Refused:
    """The refusal to draw what an answer does not hold."""
    found = "nothing to draw" if attribute is None else f"'{attribute}'"
    return refusal("nothing-to-draw", "", "attribute", found, expected)


def axes_or_new(ax: Axes | None) -> Axes:
    """The axes given, else those of a new figure. Raises TypeError for what is no axes."""
    if ax is not None:
        if not hasattr(ax, "errorbar"):
            raise TypeError(f"axes of matplotlib are wanted, not {type(ax).__name__}")
        return ax
    from matplotlib import pyplot as plt

    return plt.subplots(layout="constrained")[1]


def _quantities(row: dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """The name of a row and its quantities."""
    names = ("specimen", "label", "name", "attribute", "plies", "core", "batch", "zone")
    name = str(next((row[name] for name in names if row.get(name) is not None), ""))
    if is_quantity(row):
        return name, {"value": row}
    quantities = {key: value for key, value in row.items() if is_quantity(value)}
    result = row.get("result")
    if is_quantity(result):
        quantities["result"] = result
    return name, quantities
