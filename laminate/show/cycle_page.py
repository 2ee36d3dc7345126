"""The answer of `cycle` as a document: its words, and the curves."""

from __future__ import annotations

from string import ascii_lowercase
from typing import TYPE_CHECKING

from laminate.curing.answers import CANNOT, IN_TIME
from laminate.show.chart import (
    DASHES,
    DOTS,
    FULL,
    GRAY,
    INK,
    MIXED,
    PALE,
    Picture,
    drawn,
    key_below,
    plain_axes,
    ring,
)
from laminate.show.cycle_words import cycle_blocks
from laminate.show.document import Document
from laminate.show.numbers import in_units, minutes
from laminate.show.page_words import capital
from laminate.values.quantities import DEG_C, MPA, shown
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from laminate.curing.answers import Curves, Cycles, Event, ZoneCycle

POINTS = 2000
LEAST = 1e4
"""Pressures below this [Pa] open no void, and are not drawn."""
MARKED = ("touch", "liquid full", "pressed", "gel first", "gel last", "clamp reached")


def cycle_document(cycles: Cycles, units: str) -> Document:
    """The answer of `cycle`: its words, and a picture of each zone and cycle with curves."""
    each = by_key(((zone.zone, zone.cycle), zone) for zone in cycles.zones if zone.curves is not None)

    def draw() -> list[Picture]:
        return [cycle_figure(zones[0], units, f"cycle{i}") for i, zones in enumerate(each.values())]

    failed = any(zone.verdict not in (IN_TIME, CANNOT) for zone in cycles.zones)
    kind = "no" if failed else "yes" if cycles.good else "open"
    whole, short = (lambda: cycle_blocks(cycles, units)), cycle_blocks(cycles, units, why=False)
    return Document("Press cycle", cycles.title, whole, short, kind=kind, draw=draw)


def title_of(zone_cycle: ZoneCycle) -> str:
    """The zone and the cycle, where it is one of several plans."""
    return f"{zone_cycle.zone}, cycle {zone_cycle.cycle}" if zone_cycle.cycle else zone_cycle.zone


def moments(zone_cycle: ZoneCycle) -> list[tuple[str, Event]]:
    """The moments that are marked on the curves, in their order, with their letters."""
    events = (e for e in zone_cycle.events if e.event in MARKED and e.time.ends is None)
    return list(zip(ascii_lowercase, sorted(events, key=lambda e: e.time.value), strict=False))


def draw_cycle(axes: Axes, zone_cycle: ZoneCycle, units: str = "metric", *, alone: bool = False) -> None:
    """Draw laminate temperature, and resin pressure against vapor pressure, along the cycle.

    axes: where; pressure gets an axis of its own at the right, logarithmic, so that vapor is seen beside it;
    alone: without a page beside it, so that its key has the letters. Needs curves.
    """
    curves = zone_cycle.curves
    assert curves is not None
    heat, press = in_units(DEG_C, units), in_units(MPA, units)
    step = max(1, len(curves.seconds) // POINTS)
    at = (curves.seconds / 60.0)[::step]
    styles = [FULL, DASHES, DOTS, MIXED] * 9
    reads = dict(zone_cycle.columns)
    for (label, values), style in zip(curves.temperatures.items(), styles, strict=False):
        words = f"{label}, {reads[label]}" if label in reads else label
        shown_values = [shown(t, heat) for t in values[::step]]
        axes.plot(at, shown_values, color=GRAY, linewidth=1, linestyle=style, label=words)
    plain_axes(axes, "time [min]", f"temperature [{heat.text.replace('deg', '°')}]")
    other = axes.twinx()
    other.spines[["top"]].set_visible(False)
    for label, pressure, style in (("resin", curves.resin, FULL), ("vapor", curves.vapor, DOTS)):
        if pressure is not None:
            other.plot(
                at, pressure[::step] * press.per_si, color=INK, linewidth=1.7, linestyle=style,
                label=f"{label} pressure, absolute",
            )  # fmt: skip
    other.set_ylabel(f"pressure, absolute [{press.text}]")
    if other.get_lines():
        other.set_yscale("log", nonpositive="clip")
        other.yaxis.set_major_formatter("{x:g}")
        low, high = other.get_ylim()
        low = max(low, LEAST * press.per_si)
        other.set_ylim(low, high * (high / low) ** 0.3)  # rings stand above the curves
    _mark(axes, zone_cycle, curves)
    lines = [*axes.get_lines()[: len(curves.temperatures)], *other.get_lines()]
    key_below(axes, pad=0.5, handles=lines, letters=_marks(zone_cycle) if alone else ())


def _marks(zone_cycle: ZoneCycle) -> tuple[tuple[str, str], ...]:
    """The letter of every moment, and what it is."""
    return tuple((letter, f"{e.event} at {minutes(e.time.value)}") for letter, e in moments(zone_cycle))


def _mark(axes: Axes, zone_cycle: ZoneCycle, curves: Curves) -> None:
    """Rings with letters above the curves; those that would cover each other stand in rows."""
    wide = max((curves.seconds[-1] - curves.seconds[0]) / 60.0, 1e-9)
    times = [event.time.value / 60.0 for _, event in moments(zone_cycle)]
    rows: list[int] = []
    for time in times:
        near = [row for row, before in zip(rows, times, strict=False) if abs(time - before) < 0.07 * wide]
        rows.append(next(row for row in range(len(times)) if row not in near))
    low, high = axes.get_ylim()
    axes.set_ylim(low, high + 0.07 * (high - low) * (1 + max(rows, default=-1)))
    for (letter, _), time, row in zip(moments(zone_cycle), times, rows, strict=True):
        axes.axvline(time, color=PALE, linestyle=DASHES, linewidth=0.9, zorder=1)
        ring(axes, time, axes.get_ylim()[1], letter, shift=(0.0, -7.0 - 14.0 * row), dot=False)


def cycle_figure(zone_cycle: ZoneCycle, units: str, name: str) -> Picture:
    """The curves of one zone, with a letter for each moment."""
    title = f"{title_of(zone_cycle)}: temperature and pressure along the cycle"
    marks = _marks(zone_cycle)
    words = f"{capital(zone_cycle.verdict)}{'' if marks else '; no moment of gel'}."
    return Picture(drawn(lambda axes: draw_cycle(axes, zone_cycle, units), name), title, words, marks)
