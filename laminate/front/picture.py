"""A picture of an answer on axes of matplotlib."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from textwrap import wrap
from threading import Lock
from typing import TYPE_CHECKING, Any, NamedTuple

from laminate.show.chart import DASHES, DOTS, GRAY, INK, SIZE, keep_inside
from laminate.show.numbers import typeset
from laminate.show.page_words import attribute as words_of
from laminate.show.page_words import several
from laminate.values.problems import Refused, refusal

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DRAWING = Lock()
DRAWN = ("fiber_volume", "void_content", "thickness", "resin_content", "density")
COMPARED = ("value", "result", "predicted", "achieved")
"""Quantities of a row that are values of its attribute."""
ACROSS, UPRIGHT, BESIDE, MOST_NAMES = 60, 24, 6, 30
"""Characters below the axis and of a line of a name that stands upright; names of several lines, of any."""


class Point(NamedTuple):
    """One value of a picture.

    place: its zone or prepreg; row: its coupon, batch, core or ply count; label, attribute: what it is of,
    with and without its place; key: in its row; limits: words and number; series: of its batches.
    """

    place: str
    row: str
    label: str
    attribute: str
    key: str
    quantity: Mapping[str, Any]
    limits: tuple[tuple[str, float], ...] = ()
    series: str = ""

    def name(self, places: bool) -> str:
        """What stands below it: 'web: cured ply thickness', or its row, with its place where these differ."""
        what = self.row or (words_of(self.attribute) if self.attribute != "value" else "")
        return ": ".join(part for part in (self.place if places or not self.row else "", what) if part)


def is_quantity(value: Any) -> bool:
    """Whether a part of an answer is a number with its unit."""
    return isinstance(value, Mapping) and "value" in value and "unit" in value


def draw(shown: Iterable[dict[str, Any]], ax: Axes | None, attribute: str | None) -> Axes:
    """Values with ± two standard uncertainties, those in the unit of the first. Raises `Refused` without."""
    every = [point for row in shown for point in _points(row) if point.quantity["value"] is not None]
    points = _chosen(every, attribute)
    if not points:
        known = dict.fromkeys(point.attribute for point in every)
        raise undrawn(attribute, f"one of {', '.join(known)}" if known else "an answer with quantities")
    units = list(dict.fromkeys(point.quantity["unit"] for point in points))
    ax = axes_or_new(ax)
    with DRAWING:
        _draw(ax, [point for point in points if point.quantity["unit"] == units[0]])
        if units[1:]:
            ax.set_xlabel(typeset(f"Not drawn: what is in {', '.join(filter(None, units[1:]))}"))
        keep_inside(ax)
    return ax


def _chosen(points: Sequence[Point], attribute: str | None) -> list[Point]:
    """The points of an attribute, or of the first picture; of batches those of one series."""
    some = [p for p in points if attribute in (p.attribute, p.label, p.key)]
    if attribute is None:
        keys = [key for key in DRAWN for p in points if p.row and p.attribute == key]
        first = keys[0] if keys else points[0].attribute if points and points[0].row else None
        some = [p for p in points if p.attribute == first or (first is None and p.key in COMPARED)]
    return [p for p in some if p.series == some[0].series]


def _points(row: Mapping[str, Any]) -> Iterator[Point]:
    """The values of a row: of the attribute that it has, or of each of them."""
    label = str(row.get("attribute") or row.get("name") or "")
    before, _, attribute = label.rpartition(".")  # prepreg.ud150.resin_content
    prepreg = " ".join(filter(None, (before.partition(".")[2], row.get("lot") or "")))
    place = str(row.get("zone") or prepreg)
    names = [str(row[key]) for key in ("specimen", "batch", "core") if row.get(key) is not None]
    if not names and not label and row.get("plies"):
        names = [several(row["plies"], "ply", "plies")]
    if label and row.get("zone"):
        label = f"{label}.{place}"
    series = f"{row.get('part_number')} {label}" if "batch" in row else ""
    for key, cell in {"value": row}.items() if is_quantity(row) else row.items():
        if is_quantity(cell) and key not in ("min", "max"):
            name = attribute or key
            yield Point(place, "".join(names), label, name, key, cell, tuple(_limits(row)), series)


def _limits(row: Mapping[str, Any]) -> Iterator[tuple[str, float]]:
    """The limits of a row: of a value that was judged, of an average and of individuals."""
    for side in ("min", "max"):
        if is_quantity(row.get(side)):
            yield f"{side} {row[side]['value']:g} {row[side]['unit']}", row[side]["value"]
        for which in ("average", "individual") if isinstance(row.get("limits"), Mapping) else ():
            if (limit := (row["limits"].get(which) or {}).get(side)) is not None:
                yield f"limits, {which}", limit


def _draw(ax: Axes, points: Sequence[Point]) -> None:
    """Draw points of one unit: names below, a mark for each quantity of a row, limits across its place."""
    several_places = len({point.place for point in points}) > 1
    names = list(dict.fromkeys((point.place, point.name(several_places)) for point in points))
    keys = list(dict.fromkeys(point.key for point in points))
    for point in points:
        at = names.index((point.place, point.name(several_places)))
        for words, limit in point.limits:
            line = DOTS if "individual" in words else DASHES
            ax.plot([at - 0.4, at + 0.4], [limit] * 2, color=GRAY, linestyle=line, label=typeset(words))
    for number, key in enumerate(keys):
        these = [point for point in points if point.key == key]
        shift = 0.16 * (number - (len(keys) - 1) / 2)
        places = [names.index((point.place, point.name(several_places))) + shift for point in these]
        values = [point.quantity["value"] for point in these]
        spread = [2.0 * (point.quantity.get("standard_uncertainty") or 0.0) for point in these]
        mark = "osD^v"[number % 5]
        ax.errorbar(
            places, values, spread, fmt=mark, color=INK, capsize=3, markersize=5, label=words_of(key),
            markerfacecolor="white" if number % 2 else INK,
        )  # fmt: skip
    _name(ax, [name for _, name in names])
    same = {point.attribute for point in points}
    unit = typeset(points[0].quantity["unit"])
    what = words_of(points[0].attribute) if len(same) == 1 else "value"
    ax.set_ylabel(f"{what} [{unit}], ± 2 u" if unit else f"{what}, ± 2 u", parse_math=False)
    if len(same) == 1 and points[0].row and points[0].place and not several_places:
        ax.set_title(f"{points[0].place}: {what}", parse_math=False)
    shown = {str(handle.get_label()): handle for handle in ax.get_legend_handles_labels()[0]}
    if len(keys) > 1 or any(point.limits for point in points):
        ax.legend(
            handles=list(shown.values()), loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2,
            frameon=False, fontsize=SIZE,
        )  # fmt: skip


def _name(ax: Axes, names: Sequence[str]) -> None:
    """Names below the axis, in lines beside each other or, where they have no room, upright and not all."""
    room = ACROSS // len(names)
    parts = names if len(names) > BESIDE else [word for name in names for word in name.split()]
    upright = max(map(len, parts), default=0) > room
    step = -(-len(names) // MOST_NAMES)
    places = range(0, len(names), step)
    texts = ["\n".join(wrap(names[place], UPRIGHT if upright else room)) for place in places]
    ax.set_xticks(list(places), texts, rotation=90 if upright else 0, parse_math=False)
    ax.set_xlim(-0.6, len(names) - 0.4)


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
