"""A picture of an answer on axes of matplotlib."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from threading import Lock
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DRAWING = Lock()
DRAWN = ("fiber_volume", "void_content", "thickness", "resin_content", "density")


def is_quantity(value: Any) -> bool:
    """Whether a part of an answer is a number with its unit."""
    return isinstance(value, Mapping) and "value" in value and "unit" in value


def draw(shown: Iterable[dict[str, Any]], ax: Axes | None, attribute: str | None) -> Axes:
    """Values with ± two standard uncertainties, one a row. Raises ValueError without numbers."""
    ax = axes_or_new(ax)
    rows = [_quantities(row) for row in shown]
    key = attribute or next(
        (k for k in (*DRAWN, *(k for _, r in rows for k in r)) if any(k in r for _, r in rows)), ""
    )
    plotted = [(name, row[key]) for name, row in rows if row.get(key, {}).get("value") is not None]
    if not plotted:
        raise ValueError(f"this answer has no numbers to draw for {key or 'any attribute'}")
    with DRAWING:
        places = range(len(plotted))
        values = [quantity["value"] for _, quantity in plotted]
        spread = [2.0 * (quantity.get("standard_uncertainty") or 0.0) for _, quantity in plotted]
        ax.errorbar(list(places), values, yerr=spread, fmt="o", color="black", capsize=3)
        ax.set_xticks(list(places), [name for name, _ in plotted], rotation=90 if len(plotted) > 8 else 0)
        unit = plotted[0][1]["unit"]
        ax.set_ylabel(f"{key.replace('_', ' ')} [{unit}], ± 2 u")
    return ax


def axes_or_new(ax: Axes | None) -> Axes:
    """The axes given, else those of a new figure."""
    if ax is not None:
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
