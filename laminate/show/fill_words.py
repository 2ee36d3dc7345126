"""The answer of `fill` in words: what to lay up first, the table next, the reasons last."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.quantities import ATTRIBUTES, DEG_C, G_M2, MM, MPA, NUMBER, PERCENT
from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.engineer_text import (
    alone,
    bare,
    bare_chance,
    chance,
    change,
    listed,
    plies,
    size,
    with_spread,
)
from laminate.show.numbers import in_units, text

if TYPE_CHECKING:
    from laminate.fill import Fill, ZoneFill
    from laminate.zone.closing_window import Nearest, Opener
    from laminate.zone.counts import Row
    from laminate.zone.known import Estimate
    from laminate.zone.steam import Steam

HINDRANCES = {
    "": "",
    "shortfall": "; but there is not enough resin for it: voids would stay",
    "bleed limit": "; but more resin must bleed than can",
    "packing limit": "; but the fibers do not pack so close",
}
VERDICTS = "Too few: nothing presses, so voids stay. Too many: the tool does not close."
SPREAD = "± is one standard uncertainty, from every stated tolerance."
AUTHORITY = (
    "Limits, methods and release stay with the governing specification, local codes and authorised staff."
)


def _which(zone: ZoneFill, row: Row) -> str:
    """How many of which."""
    if zone.fixed_plies and zone.fill_with:
        return f"{plies(row.plies)} ({row.fill_plies} of {zone.fill_with} and {zone.fixed_plies} fixed)"
    return f"{plies(row.plies)} of {zone.fill_with}" if zone.fill_with else f"the stack of {plies(row.plies)}"


def _range(row: Row, key: str, units: str) -> str:
    """From no bleed to the end of bleed."""
    unit, ends = ATTRIBUTES[key].unit, [end[key] for end in row.ends]
    return f"{size(min(ends), units, unit)} to {size(max(ends), units, unit)}"


def headline(zone: ZoneFill, units: str) -> str:
    """The answer for one zone."""
    if zone.use is None:
        return f"{zone.zone}: no ply count fits. {_what_would_fit(zone, units)}".rstrip()
    row = zone.use
    if row.ends:
        part = f"{_range(row, 'fiber_volume', units)} fiber volume, {_range(row, 'thickness', units)} thick"
        tail = "as the bleed goes from none to its end"
        return f"{zone.zone}: lay up {_which(zone, row)}: {part}, {tail}. {_chance_sentence(zone, row)}"
    bleed = f", {with_spread(row.bleed, PERCENT, units)} of the resin bleeds" if row.bleed else ""
    volume, thick = with_spread(row.fiber_volume, PERCENT, units), with_spread(row.thickness, MM, units)
    part = f"{volume} fiber volume, {thick} thick{bleed}"
    return f"{zone.zone}: lay up {_which(zone, row)}: {part}. {_chance_sentence(zone, row)}"


def _chance_sentence(zone: ZoneFill, row: Row) -> str:
    what = "fills, closes and meets the limits" if zone.limits else "fills and closes (no limits are set)"
    if row.ends:
        what = "meets the limits"
    said = f"The chance that it {what}: {chance(row.chance.all)}."
    if row.outside:
        names = listed(_limit_words(name) for name in row.outside)
        said += f" Beware: as planned it is outside the limit of {names}."
    return said


def _limit_words(name: str) -> str:
    key, _, scope = name.partition(" ")
    return f"{ATTRIBUTES[key].words} {scope}"


def _what_would_fit(zone: ZoneFill, units: str) -> str:
    if any(near.change is not None for near in zone.nearest):
        return " ".join(_near(zone, near, units) for near in zone.nearest)
    ways = [opener_words(opener, units) for opener in zone.window.what_opens_it] if zone.window else []
    if ways:
        return f"Each of these alone would do: {'; '.join(ways)}."
    if zone.nearest:
        return " ".join(_near(zone, near, units) for near in zone.nearest)
    return "Nothing that its stack can have meets the limits and packs."


def _near(zone: ZoneFill, near: Nearest, units: str) -> str:
    which = f"{plies(near.plies)} {near.verdict}"
    if near.change is None:
        laid = f"; laid up they need a cold gap of {size(near.laid_up, units)}" if near.laid_up else ""
        return f"{which}: no gap makes them fit{laid}."
    direction = "smaller" if near.change < 0 else "larger"
    by = size(abs(near.change), units)
    sizes = listed((_size_words(what, to, units) for what, to in near.to_fit.items()), "or")
    return f"{which}: a hot gap {direction} by {by} would make them fit ({sizes})."


def _size_words(what: str, to: float, units: str) -> str:
    words = {"gap": "a cold gap", "cavity": "a cavity", "core width": "a core"}[what]
    return f"{words} of {size(to, units)}"


def opener_words(opener: Opener, units: str) -> str:
    """One change that opens the window."""
    if opener.what == "closes":
        return f"a tool that closes hot instead of cold, for {plies(opener.plies)}"
    if opener.what == "ply count":
        return plies(opener.plies)
    now, needed = opener.now or 0.0, opener.needed or 0.0
    if opener.what == "bleed limit":
        more, less = size(needed, units, PERCENT), size(now, units, PERCENT)
        return f"a bleed path for {more} of the resin instead of {less}, for {plies(opener.plies)}"
    if opener.what == "bulk factor":
        return f"debulking from a bulk factor of {now:.3f} to {needed:.3f}, for {plies(opener.plies)}"
    by = change(needed - now, units)
    what = {"gap": "cold gap", "cavity": "cavity", "core width": "core width"}[opener.what]
    return f"a {what} of {size(needed, units)} ({by}), for {plies(opener.plies)}"


def why(zone: ZoneFill, units: str) -> str:
    """Why this count, or why none."""
    row = zone.use
    if row is None:
        return f"No ply count fits. {_what_would_fit(zone, units)}"
    if row.fill_ratio is None or row.bleed is None or row.fiber_volume_in_gap is None:
        return _why_bladder(zone, row, units)
    gap = with_spread(zone.hot_gap, MM, units) if zone.hot_gap else ""
    ratio, may = text(row.fill_ratio.value, row.fill_ratio.u, NUMBER), size(zone.bleed_limit, units, PERCENT)
    fills = f"{plies(row.plies)} fill the hot gap of {gap} {ratio} times"
    bleed = f"{alone(row.bleed, PERCENT, units)} of the resin must leave, {may} may"
    packed = alone(row.fiber_volume_in_gap, PERCENT, units)
    closes = f"packed to {packed} fiber in the gap, {size(zone.packing_limit, units, PERCENT)} is the most"
    others = [other.plies for other in zone.rows if other.verdict == "fits" and other is not row]
    if zone.tied:
        tied = listed(str(count) for count in zone.tied)
        choice = f"The draws do not tell it from {tied}; it has the least to bleed."
    elif others:
        choice = f"Of the counts that fit, also {listed(str(n) for n in others)}, it has the highest chance."
    else:
        choice = "No other count fits."
    return f"{fills}; {bleed}; {closes}. {choice}"


def _why_bladder(zone: ZoneFill, row: Row, units: str) -> str:
    pressure = size(zone.bladder or 0.0, units, MPA)
    bleed, packed = size(zone.bleed_limit, units, PERCENT), size(zone.packing_limit, units, PERCENT)
    return (
        f"A bladder presses with {pressure}, so no gap sets the thickness of {plies(row.plies)}: it ends "
        f"between no bleed and {bleed} of the resin, or where the fibers pack at {packed}."
    )


def counts_grid(zone: ZoneFill, units: str) -> Grid:
    """Every ply count near the gap: what it becomes, the verdict, the chance of all."""
    mm = in_units(MM, units).text
    if zone.bladder is not None:
        return _bladder_grid(zone, units)
    columns = (
        "plies", "verdict", "fill ratio", "bleeds [%]", "lacks [%]", f"part [{mm}]", "fiber [%]",
        "in gap [%]", "chance [%]",
    )  # fmt: skip
    rows = [
        (
            str(row.plies),
            row.verdict + _mark(zone, row),
            bare(row.fill_ratio, NUMBER, units),
            *_bleeds_or_lacks(row.bleed, units),
            bare(row.thickness, MM, units),
            bare(row.fiber_volume, PERCENT, units),
            bare(row.fiber_volume_in_gap, PERCENT, units),
            bare_chance(row.chance.all),
        )
        for row in zone.rows
    ]
    return Grid(columns, tuple(rows), (0, 2, 3, 4, 5, 6, 7, 8))


def _bladder_grid(zone: ZoneFill, units: str) -> Grid:
    columns = ("plies", "verdict", "thickness", "fiber volume", "chance [%]")
    rows = [
        (
            str(row.plies),
            row.verdict + _mark(zone, row),
            _range(row, "thickness", units),
            _range(row, "fiber_volume", units),
            bare_chance(row.chance.all),
        )
        for row in zone.rows
    ]
    return Grid(columns, tuple(rows), (0, 4))


def _bleeds_or_lacks(bleed: Estimate | None, units: str) -> tuple[str, str]:
    if bleed is None or bleed.value >= 0.0:
        return bare(bleed, PERCENT, units), ""
    return "", bare(bleed._replace(value=-bleed.value), PERCENT, units)


def chances_grid(zone: ZoneFill) -> Grid:
    """What the chance of every count is made of."""
    columns = ("plies", "fills [%]", "closes [%]", "average limits [%]", "individual limits [%]", "all [%]")
    what = ("fills", "closes", "within_average", "within_individual", "all")
    rows = [(str(row.plies), *(bare_chance(getattr(row.chance, w)) for w in what)) for row in zone.rows]
    return Grid(columns, tuple(rows), tuple(range(6)))


def _mark(zone: ZoneFill, row: Row) -> str:
    return ", use" if row is zone.use else ""


def gap_words(zone: ZoneFill, units: str) -> str:
    """The gap cold and hot."""
    if zone.hot_gap is None or zone.cold_gap is None:
        return f"A bladder presses with {size(zone.bladder or 0.0, units, MPA)}; no gap."
    where = f"against core {zone.core}" if zone.core else "between tool halves"
    cold, hot = with_spread(zone.cold_gap, MM, units), with_spread(zone.hot_gap, MM, units)
    return f"Gap {where}: {cold} cold, {hot} at gel temperature."


def window_words(zone: ZoneFill, units: str) -> list[str]:
    """The closing window and what opens it."""
    window = zone.window
    if window is None:
        return []
    low, high = (with_spread(w, MM, units) for w in (window.smallest_hot_gap, window.largest_hot_gap))
    state = "open" if window.open else "shut"
    said = [
        f"Closing window of {plies(window.plies)}, {state}: hot gaps from {low} ({window.governs}) "
        f"to {high} (liquid full)."
    ]
    middle = listed((_size_words(what, to, units) for what, to in window.middle.items()), "or")
    said.append(f"Its middle would be at {middle}.")
    if window.smallest_cold_gap is not None:
        cold = with_spread(window.smallest_cold_gap, MM, units)
        said.append(f"The tool is shut cold: the stack as laid up needs a cold gap of {cold}.")
        if window.shortfall is not None and window.shortfall > 0.0:
            said.append(f"The cold gap shrinks too little on heating, by {size(window.shortfall, units)}.")
    if not window.open:
        ways = [opener_words(opener, units) for opener in window.what_opens_it]
        said.append(
            f"Each of these alone would do: {'; '.join(ways)}." if ways else "No single change opens it."
        )
    return said


def inverse_words(zone: ZoneFill, units: str) -> list[str]:
    """Which gap, which prepreg and which tolerance would give what is wanted."""
    said = []
    if (gap := zone.gap_wanted) is not None:
        sizes = listed((_size_words(what, to, units) for what, to in gap.sizes.items()), "or")
        wanted = f"{plies(gap.plies)} at {size(gap.fiber_volume, units, PERCENT)} fiber volume"
        but = HINDRANCES[gap.hindrance]
        said.append(f"For {wanted}: a hot gap of {size(gap.hot_gap, units)} ({sizes}){but}.")
    if (order := zone.order) is not None:
        if order.fiber_volume is not None and order.areal_weight is not None:
            of = "prepreg" if order.of_prepreg else "fiber"
            weight = text(order.areal_weight, None, in_units(G_M2, units))
            but = HINDRANCES[order.hindrance]
            said.append(f"In the gap as it is, order {order.prepreg} with {weight} of {of} for that{but}.")
        if order.resin_content is not None:
            low, high = (size(w, units, PERCENT) for w in order.resin_content)
            said.append(
                f"{plies(order.plies)} fill and the tool closes at a resin content from {low} to {high}."
            )
    return said


def tolerance_blocks(zone: ZoneFill) -> list[Block]:
    """Which tolerance of which input would bring the chance to the one wanted."""
    if not zone.tolerances:
        return []
    wanted = chance(zone.chance_wanted)
    if all(need.factor is None for need in zone.tolerances):
        return [
            Sentence(
                f"{zone.zone}: no tolerance brings the chance to {wanted}; the nominal values must move."
            )
        ]
    rows = [
        (
            need.input,
            need.stated or "–",
            f"× {need.factor:.2f}" if need.factor else "exact" if need.factor == 0.0 else "not alone",
            chance(need.best),
        )
        for need in zone.tolerances
    ]
    columns = ("input", "now", f"for {wanted}", "chance if exact")
    return [
        Sentence(
            f"{zone.zone}, {plies(zone.against.plies)}: which tolerance would bring the chance to {wanted}"
        ),
        Grid(columns, tuple(rows), (2, 3)),
    ]


def steam_words(found: Steam | None, units: str) -> list[str]:
    """The warning of steam, or that there is none."""
    if found is None:
        return []
    humidity = size(found.humidity, units, PERCENT)
    where = (
        f"stored at {humidity} relative humidity"
        if found.stated
        else "stored humidity not stated, 100 % taken"
    )
    water, resin = size(found.water, units, MPA), size(found.resin, units, MPA)
    at = size(found.temperature, units, DEG_C)
    if found.voids:
        return [
            f"Voids from steam: water vapor presses with {water} at {at} ({where}), "
            f"the resin with at most {resin}."
        ]
    return [
        f"Water vapor at {at} presses with {water} ({where}), below the {resin} that the resin sees at most; "
        "where the fiber bed carries load it sees less."
    ]


def _reasons(zone: ZoneFill, units: str) -> list[Block]:
    found: list[Block] = [Heading(f"{zone.zone}: reasons")]
    found += sentences([why(zone, units), *window_words(zone, units), *inverse_words(zone, units)])
    if zone.bleed_rule is not None:
        limit, count = size(zone.bleed_rule.limit, units, PERCENT), plies(zone.bleed_rule.plies)
        rule = f"With about {count} a count exists for any gap only from a bleed limit of {limit} on"
        found.append(Sentence(f"{rule}: one ply more is 1/n of the stack, and bleed takes only resin."))
    row = zone.use
    if row is not None and row.void_if_gap_holds is not None and row.thickness_if_gap_holds is not None:
        held = size(row.thickness_if_gap_holds.value, units, MM)
        voids = alone(row.void_if_gap_holds, PERCENT, units)
        found.append(
            Sentence(f"If the gap holds from gel to cold, the part is {held} with up to {voids} voids.")
        )
    for row in zone.rows:
        if row.sides and row is zone.against:
            each = listed(
                f"{size(s['hot_gap'], units)} with {size(s['fiber_volume'], units, PERCENT)}"
                for s in row.sides
            )
            found.append(
                Sentence(f"The core lies off centre: hot gap and fiber volume of the sides are {each}.")
            )
    found += sentences(steam_words(zone.steam, units))
    if zone.bladder is None:
        found += [Sentence("What the chance is made of:"), chances_grid(zone)]
    return found


def fill_blocks(found: Fill, units: str) -> list[Block]:
    """The whole answer in the order in which it is read."""
    blocks: list[Block] = [Sentence(headline(zone, units), strong=True) for zone in found.zones]
    for zone in found.zones:
        blocks += [Heading(zone.zone), Sentence(gap_words(zone, units)), counts_grid(zone, units)]
    error = max(
        row.chance.error(what) for zone in found.zones for row in zone.rows for what in ("fills", "all")
    )
    blocks.append(
        Sentence(
            f"{VERDICTS} {SPREAD} Chances are shares of {found.draws} draws over every tolerance "
            f"(seed {found.seed}); their own sampling error is at most {100.0 * error:.2f} points."
        )
    )
    for zone in found.zones:
        blocks += _reasons(zone, units)
        blocks += tolerance_blocks(zone)
    missing = list(dict.fromkeys(note for zone in found.zones for note in zone.not_measured))
    if missing:
        blocks += [Heading("Not measured"), *sentences(missing)]
    blocks += [Heading("Caution"), Sentence(AUTHORITY)]
    return blocks
