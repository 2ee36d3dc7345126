"""What `fill` answers under rubber or a bladder, and of the press: its keys, in JSON and its schema."""

from __future__ import annotations

from collections.abc import Sequence
from operator import methodcaller
from typing import Any

from laminate.press.names import FORCE, PRESSURE_LIMIT
from laminate.press.shared_inputs import Estimate, plain
from laminate.show.fields import (
    CHANCE,
    COUNT,
    COUNTED,
    FIGURE,
    INPUT,
    KEY,
    KNOWN,
    MAYBE_VALUE,
    NAME,
    NULL,
    QUANTITY,
    TEXT,
    TEXTS,
    UNIT,
    WORDS,
    YES,
    Field,
    by_attribute,
    by_name,
    each,
    finite,
    first,
    from_single,
    grouped,
    maybe,
    merged,
    quantity,
    rows,
    second,
    table,
    third,
)
from laminate.show.pressed_words import advice
from laminate.values.quantities import CM3, DEG_C, KN, MM, MPA, PERCENT

WITHIN = ("within_limits", "all", "within_average", "within_individual")
CHANCES = ("pressed", "holds", *WITHIN)


def _cold(forces: Any) -> tuple[float | None] | None:
    force = forces.state.cold_force
    return None if force is None else (force,)


def _counts(forces: Any) -> dict[str, int]:
    """The counts with which the press was judged, by zone."""
    sums = ((zone, layup.sums) for zone, layup in forces.state.layups.items())
    return {zone: int(of.plies) for zone, of in sums if of is not None}


BAND = table(
    "band",
    value=finite(MAYBE_VALUE)(first),
    unit=UNIT,
    low=finite(MAYBE_VALUE)(second),
    high=finite(MAYBE_VALUE)(third),
)
STEAM = maybe(
    table(
        "steam",
        temperature=quantity(DEG_C),
        stored_humidity=quantity(PERCENT)("humidity"),
        stored_humidity_stated=YES("stated"),
        **each(quantity(MPA), water_vapor_pressure="water", resin_pressure_at_most="resin"),
        pressures=TEXT(lambda _: "absolute"),
        steam_can_open_voids=maybe(YES)("possible"),
    )
)
CORE_SIZES = table(
    "core_sizes",
    core=TEXT,
    **each(quantity(CM3), volume="now", least_volume="low", most_volume="high"),
    width=quantity(MM)(lambda core: core.width[0] if core.width else None),
    least_width=quantity(MM)(lambda core: core.width[1] if core.width and core.low is not None else None),
    most_width=quantity(MM)(lambda core: core.width[2] if core.width and core.high is not None else None),
)
PRESS = maybe(
    table(
        "press",
        clamp_force=quantity(KN)(lambda press: press.state.x.get(FORCE)),
        opening_force=grouped(
            at_gel=finite(quantity(KN)),
            at_worst=finite(quantity(KN)),
            shut_cold=from_single(finite(quantity(KN)))(_cold, left_out=True),
        ),
        with_bleed=maybe(TEXT),
        worst_moment=WORDS,
        gives_way_at=quantity(DEG_C),
        pressure_limit=quantity(MPA)(lambda press: press.state.x.get(PRESSURE_LIMIT)),
        left_to_close=finite(quantity(MPA))(lambda press: plain(press.state.left_to_close)),
        chance_holds=CHANCE,
        left_out=TEXTS("state.left_out"),
        plies=by_name(COUNT)(_counts),
    )
)


def others(row: Any) -> dict[str, Any]:
    """Attributes of a count beside fiber volume and thickness."""
    return {key: value for key, value in row.part.items() if key not in ("fiber_volume", "thickness")}


def errors(chances: Sequence[str]) -> Field:
    """The sampling error of each chance of a count."""
    return table(**{name: CHANCE(methodcaller("error", name)) for name in chances})("chance")


_END = table(
    thickness=quantity(MM)(lambda end: end["thickness"]),
    fiber_volume=quantity(PERCENT)(lambda end: end["fiber_volume"]),
)
_HELD = table(zone=NAME(first), bleed=quantity(PERCENT)(second))
_WINDOW = table(
    tool_holds_from=quantity(PERCENT)(lambda row: None if row.unjudged else row.window.holds),
    **each(quantity(PERCENT), presses_up_to="window.presses", end_of_bleed="window.end"),
    empty=maybe(YES)(lambda row: None if row.unjudged and not row.window.empty else row.window.empty),
    zones_held=rows(_HELD)(lambda row: [*row.window.beside.items()] or None, left_out=True),
)
_ROW = table(
    "pressed_count",
    **each(COUNT, "plies", "fill_plies"),
    **each(NULL, "fill_ratio", "fill_ratio_standard_uncertainty"),
    fiber_volume=quantity(PERCENT)(lambda row: row.part["fiber_volume"]),
    **each(NULL, "fiber_volume_in_gap", "resin_to_bleed"),
    thickness=quantity(MM)(lambda row: row.part["thickness"]),
    **each(NULL, "thickness_if_gap_holds", "void_if_gap_holds"),
    verdict=TEXT,
    chance=table(**each(NULL, "fills", "closes"), **each(CHANCE, *CHANCES), reason=WORDS),
    sampling_error=errors(CHANCES),
    **each(maybe(BAND, MPA), "pressure_at_gel", "pressure_at_worst"),
    bleed=maybe(BAND, PERCENT),
    bleed_window=maybe(_WINDOW)(lambda row: None if row.window is None else row),
    bleed_at_no_pressure=quantity(PERCENT)("none_left_at"),
    attributes=merged(by_attribute(maybe(QUANTITY)))(others),
    outside_limits=TEXTS("outside"),
    bleed_range=rows(_END)(lambda row: row.ends or None, left_out=True),
)
TOLERANCE = table(
    **INPUT,
    stated=WORDS,
    factor_on_tolerance=KNOWN("factor"),
    chance_if_exact=CHANCE("best"),
    sampling_error=FIGURE("error"),
)
OF_ZONE = {
    "zone": TEXT,
    "fill_with": WORDS("case.zone.fill_with"),
    "fixed_plies": COUNT("case.fixed_plies"),
    "pressed_by": TEXT,
    "walls": COUNT("case.zone.walls"),
}
"""The first keys of every zone."""
PRESSED_ZONE = table(
    "pressed_zone",
    **OF_ZONE,
    **each(NULL, "hot_gap", "cold_gap"),
    core=WORDS,
    core_shared_with=TEXTS,
    bladder_pressure=quantity(MPA)("bladder"),
    bleed_limit=quantity(PERCENT)("case.zone.bleed_limit.value"),
    bleed_stated=quantity(PERCENT)(lambda zone: zone.bleed_stated and Estimate(*zone.bleed_stated[:2])),
    packing_limit=quantity(PERCENT),
    **each(quantity(MPA), wanted_pressure="wanted", needed_pressure="needed"),
    use=COUNTED(lambda zone: zone.use.plies if zone.use else None),
    best=COUNT("best.plies"),
    grade=TEXT,
    missing_for_use=TEXTS("missing"),
    why=TEXT(lambda zone: "".join(advice(zone, "metric"))),
    supposed=TEXTS(lambda zone: [*zone.beside, *zone.supposed]),
    not_measured=TEXTS,
    counts=rows(_ROW)("rows"),
    together=maybe(_ROW),
    core_sizes=rows(CORE_SIZES)("cores"),
    moves_the_chance=rows(table(input=NAME(first), key=KEY(first), chance_if_halved=FIGURE(second)))("moves"),
    steam=STEAM,
    nearest=rows(NULL)(lambda _: ()),
    **each(NULL, "closing_window", "bleed_limit_with_a_count_for_any_gap", "gap_for_wanted", "order"),
    bleed_for_wanted=quantity(PERCENT)("wishes.bleed"),
    chance_wanted=CHANCE("wishes.chance"),
    tolerance_for_chance=rows(TOLERANCE)("wishes.tolerances"),
)
