"""The answer of `cycle` as one self-contained page: the words of the screen, and the curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.show.cycle_words import cycle_blocks
from laminate.show.engineer_page import page_of
from laminate.show.engineer_plots import BAND, INK, LIMIT, Figure, canvas_of, svg_of
from laminate.show.numbers import in_units
from laminate.values.quantities import DEG_C, MPA, shown

if TYPE_CHECKING:
    from laminate.curing.answers import Cycles, ZoneCycle


def cycle_page(found: Cycles, units: str) -> str:
    """The page of `cycle`."""
    each: dict[tuple[str, str], ZoneCycle] = {}
    for one in found.zones:
        if one.curves is not None:
            each.setdefault((one.zone, one.cycle), one)
    figures = [cycle_figure(one, units, f"cycle{i}") for i, one in enumerate(each.values())]
    return page_of("Press cycle", found.title, cycle_blocks(found, units), figures)


def cycle_figure(one: ZoneCycle, units: str, name: str) -> Figure:
    """Laminate temperature, and resin pressure against vapor pressure, along the cycle."""
    curves = one.curves
    assert curves is not None
    heat, press = in_units(DEG_C, units), in_units(MPA, units)
    plan = f", cycle {one.cycle}" if one.cycle else ""
    title = f"{one.zone}{plan}: temperature and pressure along the cycle"
    canvas, axes = canvas_of(title)
    step = max(1, len(curves.seconds) // 2000)
    at = (curves.seconds / 60.0)[::step]
    styles = ("-", "--", "-.", ":")
    for k, (label, values) in enumerate(curves.temperatures.items()):
        style = styles[k % len(styles)]
        axes.plot(
            at, [shown(t, heat) for t in values[::step]], color=INK, linewidth=1, linestyle=style, label=label
        )
    axes.set_xlabel("time [min]")
    axes.set_ylabel(f"temperature [{heat.text}]")
    other = axes.twinx()
    other.spines[["top"]].set_visible(False)
    for label, pressure, style in (("resin", curves.resin, "-"), ("vapor", curves.vapor, ":")):
        if pressure is not None:
            other.plot(
                at,
                pressure[::step] * press.per_si,
                color=LIMIT,
                linestyle=style,
                label=f"{label} pressure, absolute",
            )
    other.set_ylabel(f"pressure, absolute [{press.text}]")
    said = []
    for event in one.events:
        if event.event in ("touch", "liquid full", "pressed", "gel first", "gel last", "clamp reached"):
            axes.axvline(event.time.value / 60.0, color=BAND, linestyle="--", linewidth=1)
            axes.annotate(event.event, (event.time.value / 60.0, 1.0), xycoords=("data", "axes fraction"),
                          fontsize=8, color=INK, rotation=90, va="top", ha="right")  # fmt: skip
            said.append(f"{event.event} at {event.time.value / 60.0:.1f} min")
    canvas.legend(frameon=False, fontsize=8, loc="outside lower center", ncols=3)
    words = f"{one.verdict}; {', '.join(said) or 'no moment of gel'}."
    return Figure(svg_of(canvas, name, title, words), title, words)
