"""Two figures for the engineer as SVG: fiber volume against ply count, pressure against temperature."""

from __future__ import annotations

import re
from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any

from laminate.show.engineer_text import listed, plies, size
from laminate.show.numbers import in_units
from laminate.values.quantities import DEG_C, MPA, PERCENT, shown

if TYPE_CHECKING:
    from laminate.press.core_results import CoreAnswer, CoreInZone
    from laminate.press.filling import ZoneFill
    from laminate.press.pressed import PressedFill

INK, BAND, LIMIT = "#1b2a33", "#9fb8c4", "#8a3b12"
MARKS = {"too few": "v", "not pressed": "v", "too many": "^", "opens the tool": "^", "not judged": "s"}


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure in SVG, what it shows in a line, and the same in words."""

    svg: str
    title: str
    words: str


def canvas_of(title: str) -> tuple[Any, Any]:
    """An empty figure with its title, and its axes."""
    from matplotlib.figure import Figure as Canvas

    canvas = Canvas(figsize=(7.2, 3.8), layout="constrained")
    axes = canvas.add_subplot()
    axes.set_title(title, loc="left", fontsize=10, color=INK)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(colors=INK)
    return canvas, axes


def svg_of(canvas: Any, name: str, title: str, words: str) -> str:
    """The figure without XML head, its identifiers its own, with title and words that are read aloud."""
    from html import escape

    from matplotlib import rc_context

    page = StringIO()
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": name}):
        canvas.savefig(page, format="svg", metadata={"Date": None, "Creator": None})
    svg = page.getvalue()
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.S)
    svg = re.sub(r'(\bid="|href="#|url\(#)', rf"\g<1>{name}-", svg)
    head = f'<svg role="img" aria-labelledby="{name}-title" aria-describedby="{name}-words"'
    opening, _, rest = svg.removeprefix("<svg").partition(">")
    aloud = f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-words">{escape(words)}</desc>'
    return f"{head}{opening}>{aloud}{rest}"


def fiber_volume_figure(zone: ZoneFill | PressedFill, name: str) -> Figure:
    """Fiber volume of the cured part against ply count, its limits and its expanded uncertainty."""
    title = f"{zone.zone}: fiber volume of the cured part against ply count"
    canvas, axes = canvas_of(title)
    seen = set()
    use = zone.use if zone.advised else None
    for row in zone.rows:
        label = None if row.verdict in seen else row.verdict
        seen.add(row.verdict)
        axes.errorbar(
            row.plies, shown(row.part["fiber_volume"].value, PERCENT),
            yerr=100.0 * (row.part["fiber_volume"].expanded or 0.0), fmt=MARKS.get(row.verdict, "o"),
            color=INK, ecolor=BAND,
            elinewidth=4, markersize=9 if row is use else 6, label=label, zorder=3,
            markerfacecolor=INK if row is use else "white",
        )  # fmt: skip
    said = []
    for rule in zone.limits:
        if rule.attribute != "fiber_volume":
            continue
        for bound, word in ((rule.low, "min"), (rule.high, "max")):
            if abs(bound) < 10.0:
                style = "--" if rule.scope == "individual" else ":"
                axes.axhline(shown(bound, PERCENT), color=LIMIT, linestyle=style, linewidth=1)
                words = f"{rule.scope} {word}"
                at = (1.0, shown(bound, PERCENT))
                where = ("axes fraction", "data")
                axes.annotate(words, at, xycoords=where, fontsize=8, color=LIMIT, ha="right", va="bottom")
                said.append(f"{words} {size(bound, 'metric', PERCENT)}")
    axes.set_xticks([row.plies for row in zone.rows])
    axes.set_xlabel("plies")
    axes.set_ylabel("fiber volume [%]")
    canvas.legend(frameon=False, fontsize=8, loc="outside lower center", ncols=3)
    each = [
        f"{plies(r.plies)} {size(r.part['fiber_volume'].value, 'metric', PERCENT)}, {r.verdict}"
        for r in zone.rows
    ]
    limits = f" Limits: {listed(said)}." if said else " No limits are set."
    filled = "the filled mark is the count to use" if use else "no count is advised"
    marks = f"Bars are the expanded uncertainty at 95 %; {filled}."
    words = f"{'; '.join(each)}.{limits} {marks}"
    return Figure(svg_of(canvas, name, title, words), title, words)


def pressure_figure(core: CoreAnswer, zone: CoreInZone, units: str, name: str) -> Figure | None:
    """Pressure against temperature of core and tool together, from contact on, with band and clamp."""
    curve = zone.curve
    if curve is None:
        return None
    title = f"{core.core} in zone {zone.zone}: pressure against temperature, core and tool together"
    canvas, axes = canvas_of(title)
    heat, press = in_units(DEG_C, units), in_units(MPA, units)
    at = [shown(t, heat) for t in curve.temperature]
    nominal, low, high, locked = (
        [shown(p, press) for p in values] for values in (curve.nominal, curve.low, curve.high, curve.locked)
    )
    axes.fill_between(at, low, high, color=BAND, label="nominal, 95 % of the draws", linewidth=0)
    axes.plot(at, nominal, color=INK, label="nominal: liquid full")
    axes.plot(at, locked, color=INK, linestyle="-.", label="locked as laid up (screening value)")
    clamp = ""
    if core.clamp_limit is not None:
        limit = core.clamp_limit.value
        axes.axhline(shown(limit, press), color=LIMIT, linestyle="--", label="clamp: the tool opens")
        clamp = f" The clamp opens at {size(limit, units, MPA)}."
    axes.set_xlabel(f"temperature [{heat.text}]")
    axes.set_ylabel(f"pressure [{press.text}]")
    axes.set_ylim(bottom=0.0)
    axes.legend(frameon=False, fontsize=8)
    last = (size(values[-1], units, MPA) for values in (curve.nominal, curve.low, curve.high, curve.locked))
    top, least, most, lock = last
    start, end = (size(curve.temperature[k], units, DEG_C) for k in (0, -1))
    words = (
        f"From {start} to {end} the nominal pressure rises to {top} (95 % of the draws from {least} to "
        f"{most}), the locked one to {lock}.{clamp}"
    )
    return Figure(svg_of(canvas, name, title, words), title, words)
