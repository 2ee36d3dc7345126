"""Pressure of a room against bleed and against temperature: drawings, words and numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from laminate.show.blocks import Grid, holding
from laminate.show.chart import (
    DASHES,
    DOTS,
    FULL,
    GRAY,
    INK,
    MIXED,
    PALE,
    SIZE,
    WASH,
    Picture,
    blank,
    drawn,
    in_numbers,
    key_below,
    on_line,
    plain_axes,
    ring,
    scaled,
)
from laminate.show.core_words import WHEN
from laminate.show.engineer_text import listed
from laminate.show.numbers import column, degrees, in_percent, in_units, mpa, typeset
from laminate.values.quantities import DEG_C, MPA, PERCENT, Unit, shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from laminate.press.curves import AlongBleed, AlongTemperature, CountAlongBleed, Moment

SHIFTS = {"gel": (-15.0, 9.0), "cure": (-17.0, -7.0), "maximum": (15.0, -11.0)}
"""Where the letter of a moment stands beside its point [points]."""
ROOM_ABOVE, LEAST = 1.1, 0.02
"""Height of a picture over its highest pressure; a share of it that is seen above the axis."""
ROWS = 9
NO_CLAMP = "The clamp is not drawn: no force or no projected area is given."


def _count(count: CountAlongBleed, among: Sequence[CountAlongBleed]) -> str:
    """The count in which it differs from the others, else the first of its counts."""
    others = [other.plies for other in among if other is not count]
    moved = [z for z, n in count.plies.items() if any(other.get(z) != n for other in others)]
    return str(count.plies[moved[0]]) if moved else ""


def draw_bleed(axes: Axes, along: AlongBleed, units: str = "metric") -> None:
    """Draw pressure at gel and at worst against bleed, window, limits and the bleed stated."""
    press, every = in_units(MPA, units), (along.asked, *along.others)
    end, top = max(100.0 * row.bleed[-1] for row in every), shown(_top(along), press)
    axes.set(xlim=(0.0, end), ylim=(0.0, top))
    if (shaded := _shaded(along)) is not None:
        axes.axvspan(
            *scaled(shaded, PERCENT), color=WASH, linewidth=0, zorder=0, label="presses, and the tool holds"
        )
    thin, _, _ = _others(along)
    for row in every:
        asked = row is along.asked
        color, wide = (INK, 1.8) if asked else (GRAY, 0.9)
        for moment, values, line in (("gel", row.gel, FULL), ("worst", row.worst, DASHES)):
            label = f"pressure at {moment}" if asked else None
            if thin and row is thin[0] and moment == "gel":
                label = f"thin: {_listed(thin, along)} plies"
            bleeds = scaled(row.bleed, PERCENT)
            axes.plot(bleeds, scaled(values, press), linestyle=line, color=color, linewidth=wide, label=label)
    clamps = [(along.clamp_at_gel, 0.9, "clamp, at gel"), (along.clamp_at_worst, 1.6, "clamp, at worst")]
    if along.clamp_at_worst == along.clamp_at_gel:
        clamps = [(along.clamp_at_gel, 0.9, "clamp gives way")]
    for clamp, wide, words in clamps:
        if clamp is not None:
            bleeds = scaled(along.asked.bleed, PERCENT)
            axes.plot(bleeds, scaled(clamp, press), color=INK, linewidth=wide, linestyle=MIXED, label=words)
    _limit(axes, along.pressure_limit, press)
    if along.needed > 0.0:
        needed = shown(along.needed, press)
        axes.axhline(needed, color=INK, linewidth=1.0, linestyle=DOTS, label="needed at gel")
    _count_words(axes, every, press, end, top)
    if along.stated is not None:
        value, *ends = scaled(along.stated, PERCENT)
        axes.plot(ends, [0.022 * top] * 2, color=INK, linewidth=4.5, solid_capstyle="butt", zorder=4)
        axes.plot([value], [0.022 * top], color="white", marker="|", markersize=5, zorder=5)
        axes.text(
            ends[1] + 0.015 * end, 0.022 * top, "stated", ha="left", va="center", fontsize=SIZE - 0.5,
            color=INK, bbox=blank(0.05), zorder=5,
        )  # fmt: skip
    plain_axes(axes, "bleed, share of the resin [%]", f"pressure above ambient [{press.text}]")
    key_below(axes)


def _shaded(along: AlongBleed) -> tuple[float, float] | None:
    """The bleeds between which it presses and the tool holds."""
    window = along.window
    if window is None or window.empty or window.holds is None or window.presses is None:
        return None
    return window.holds, window.presses


def _top(along: AlongBleed) -> float:
    """The highest pressure [Pa] of the picture: of the count asked for, and of every limit."""
    limits = [*(along.clamp_at_gel or ()), *(along.clamp_at_worst or ()), along.pressure_limit or 0.0]
    return ROOM_ABOVE * max([*along.asked.worst, *along.asked.gel, along.needed, *limits])


def _others(along: AlongBleed) -> tuple[list[CountAlongBleed], ...]:
    """The other counts: those whose lines are in the picture, those without pressure, those above it."""
    seen: tuple[list[CountAlongBleed], ...] = ([], [], [])
    for row in along.others:
        most, least = max(*row.gel, *row.worst), min(*row.gel, *row.worst)
        seen[1 if most < LEAST * _top(along) else 2 if least > _top(along) else 0].append(row)
    return seen


def _listed(counts: Sequence[CountAlongBleed], along: AlongBleed) -> str:
    return listed(_count(count, (along.asked, *along.others)) for count in counts)


def _limit(axes: Axes, limit: float | None, press: Unit) -> None:
    """What the tool is built for [Pa], where that is known."""
    if limit is not None:
        axes.axhline(shown(limit, press), color=GRAY, linewidth=2.4, label="limit of the tool")


def _count_words(axes: Axes, every: Sequence[CountAlongBleed], press: Unit, end: float, top: float) -> None:
    """The count on its lines, where these lie in the picture."""
    if len(every) < 2:
        return
    for share, values in ((0.12, "gel"), (0.5, "worst")):
        for row in every:
            pressures = scaled(getattr(row, values), press)
            k = min(range(len(row.bleed)), key=lambda i: abs(100.0 * row.bleed[i] - share * end))
            if LEAST * top < pressures[k] < 0.97 * top:
                words = _count(row, every)
                on_line(axes, 100.0 * row.bleed[k], pressures[k], words, INK if row is every[0] else GRAY)


def bleed_figure(along: AlongBleed, room: str, units: str, name: str) -> Picture:
    """Pressure against bleed, for one room."""
    count = _count(along.asked, along.others)
    title = f"{room}: pressure against bleed{f', {count} plies' if count else ''}"
    svg = drawn(lambda axes: draw_bleed(axes, along, units), name)
    words = " ".join(_bleed_words(along, units))
    return Picture(svg, title, words, numbers=_bleed_numbers(along, units, title))


def _bleed_words(along: AlongBleed, units: str) -> Iterator[str]:
    """What the picture of pressure against bleed shows, in words."""
    asked = along.asked
    first, last = (
        f"{mpa(asked.gel[k], units)} at gel and {mpa(asked.worst[k], units)} at worst" for k in (0, -1)
    )
    yield f"With no bleed {first}, at {in_percent(asked.bleed[-1])} bleed {last}."
    if along.window is None:
        yield "At which bleed it presses and the tool holds is not judged."
    elif (shaded := _shaded(along)) is None:
        yield "At no bleed does it press and the tool hold."
    else:
        low, high = (in_percent(b, bare=True) for b in shaded)
        yield f"It presses and the tool holds from {low} to {high} % (shaded)."
    if along.none_left is not None:
        yield f"No pressure is left at gel at a bleed of {in_percent(along.none_left)}."
    thin, without, above = (_listed(counts, along) for counts in _others(along))
    yield from holding(
        (along.clamp_at_worst is None, NO_CLAMP),
        (along.pressure_limit is None, "No pressure limit of the tool is given."),
        (thin, f"Thin lines: {thin} plies."),
        (without, f"Without pressure: {without} plies."),
        (above, f"Above the picture: {above} plies."),
    )


def _bleed_numbers(along: AlongBleed, units: str, title: str) -> Grid:
    """Pressures at some bleeds, between the points that are drawn; a dash past the end of bleed."""
    import numpy as np

    press, bleeds, every = in_units(MPA, units), along.asked.bleed, (along.asked, *along.others)
    last = len(bleeds) - 1
    kept = [bleeds[k] for k in sorted({*range(0, last + 1, max(1, last // (ROWS - 1))), last})]
    columns = [("bleed [%]", [in_percent(bleed, bare=True) for bleed in kept])]
    for row in every:
        at_gel = f"{count}: at gel" if (count := _count(row, every)) else "at gel"
        end = row.bleed[-1] * (1.0 + 1e-9)
        for heading, values in ((at_gel, row.gel), ("at worst", row.worst)):
            pressures = np.interp(kept, row.bleed, values)
            known = [float(p) if bleed <= end else None for p, bleed in zip(pressures, kept, strict=True)]
            columns.append((f"{heading} [{press.text}]", [column(pressure, press, 2) for pressure in known]))
    return in_numbers(title, *columns)


def draw_temperature(
    axes: Axes, along: AlongTemperature, units: str = "metric", *, alone: bool = False
) -> None:
    """Draw pressure against temperature of core and tool together, gel, limits, moments of the cycle.

    alone: without a page beside it, so that its key has the letters.
    """
    heat, press = in_units(DEG_C, units), in_units(MPA, units)
    at, low, high = scaled(along.temperature, heat), scaled(along.low, press), scaled(along.high, press)
    axes.fill_between(at, low, high, color=WASH, linewidth=0, label="no bleed, 95 % of draws")
    for values, color, wide, line, words in (
        (along.locked, GRAY, 1.0, MIXED, "locked as laid up"),
        (along.nominal, INK, 1.2, DASHES, "no bleed"),
        (along.expected, INK, 1.8, FULL, "stated bleed"),
        (along.lowest, INK, 1.2, DOTS, "bled to the end: lowest"),
    ):
        if values is not None:
            axes.plot(at, scaled(values, press), label=words, color=color, linewidth=wide, linestyle=line)
    gel = shown(along.gel, heat)
    limits = [p or 0.0 for p in (along.clamp_at_gel, along.clamp_at_worst, along.pressure_limit)]
    most = shown(max([*along.high, *limits, *(m.pressure for m in along.moments)]), press)
    most = max(most, min(1.3 * most, shown(along.locked[-1], press))) * ROOM_ABOVE
    axes.set(xlim=(at[0], at[-1]), ylim=(0.0, most))
    if along.clamp_at_gel is not None and along.clamp_at_worst is not None:
        before, after = scaled((along.clamp_at_gel, along.clamp_at_worst), press)
        steps = [at[0], gel, gel, at[-1]], [before, before, after, after]
        axes.plot(*steps, color=INK, linewidth=1.6, linestyle=MIXED, label="clamp gives way")
    _limit(axes, along.pressure_limit, press)
    marked = {along.gel: "gel", along.highest: "highest"}
    if abs(along.gel - along.highest) < 0.5:
        marked = {along.highest: "gel and highest"}
    for temperature, words in marked.items():
        axes.axvline(shown(temperature, heat), color=PALE, linewidth=0.9, zorder=1)
        axes.annotate(
            typeset(f"{words} {degrees(temperature, units)}"), (shown(temperature, heat), 1.0),
            rotation=90, bbox=blank(0.1), xycoords=("data", "axes fraction"), xytext=(-2, -2),
            textcoords="offset points", ha="right", va="top", fontsize=SIZE - 1.0, color=GRAY,
        )  # fmt: skip
    for moment in _drawn_moments(along):
        at_point = shown(moment.core, heat), shown(moment.pressure, press)
        ring(axes, *at_point, moment.name[0], shift=SHIFTS[moment.name])
    degree = heat.text.replace("deg", "°")
    plain_axes(axes, f"temperature of core and tool [{degree}]", f"pressure above ambient [{press.text}]")
    key_below(axes, letters=_marks(along, units) if alone else ())


def _marks(along: AlongTemperature, units: str) -> Iterator[tuple[str, str]]:
    """The letter of every moment, its first, and what is there."""
    state = "the stated bleed" if along.expected is not None else "no bleed"
    for moment in _drawn_moments(along):
        at = f"core {degrees(moment.core, units)}, tool {degrees(moment.tool, units)}"
        yield moment.name[0], f"{WHEN[moment.name]}, with {state}: {mpa(moment.pressure, units)}; {at}"


def _drawn_moments(along: AlongTemperature) -> list[Moment]:
    """The moments, those at one place once."""
    return list({(round(m.core, 3), round(m.pressure, 1)): m for m in along.moments}.values())


def temperature_figure(along: AlongTemperature, core: str, units: str, name: str) -> Picture:
    """Pressure against temperature, for one core."""
    title, marks = f"{core}: pressure against temperature, core and tool together", _marks(along, units)
    svg = drawn(lambda axes: draw_temperature(axes, along, units), name)
    words, numbers = " ".join(_temperature_words(along, units)), _temperature_numbers(along, units, title)
    return Picture(svg, title, words, tuple(marks), numbers)


def _temperature_words(along: AlongTemperature, units: str) -> Iterator[str]:
    """What the picture of pressure against temperature shows, in words."""
    start, end = (degrees(along.temperature[k], units) for k in (0, -1))
    least, nominal, lock = (mpa(v[-1], units) for v in (along.lowest, along.nominal, along.locked))
    yield (
        f"From {start} to {end} the pressure rises to {nominal} with no bleed, {least} bled to its end, "
        f"{lock} locked as laid up (an upper bound, for screening). "
        "After gel the laminate keeps its thickness."
    )
    if along.clamp_at_gel is None or along.clamp_at_worst is None:
        yield NO_CLAMP
    else:
        before, after = (mpa(p, units) for p in (along.clamp_at_gel, along.clamp_at_worst))
        where = f"{before} at gel and {after} after it" if before != after else after
        yield f"The clamp gives way at {where}, with no bleed."
        if along.gives_way is not None:
            yield f"Gelled with no bleed, that is at {degrees(along.gives_way, units)}."
    if along.pressure_limit is not None:
        yield f"The tool is built for {mpa(along.pressure_limit, units)}."


def _temperature_numbers(along: AlongTemperature, units: str, title: str) -> Grid:
    heat, press, at = in_units(DEG_C, units), in_units(MPA, units), along.temperature
    every = max(1, len(at) // ROWS)
    kept = [k for k, t in enumerate(at) if k % every == 0 or t in (along.gel, along.highest)]
    columns = [(f"temperature [{heat.text}]", [column(at[k], heat, 1) for k in kept])]
    for words, values in (
        ("lowest", along.lowest),
        ("stated bleed", along.expected),
        ("no bleed", along.nominal),
        ("locked", along.locked),
    ):
        if values is not None:
            columns.append((f"{words} [{press.text}]", [column(values[k], press, 2) for k in kept]))
    return in_numbers(title, *columns)
