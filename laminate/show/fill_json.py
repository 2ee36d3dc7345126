"""The answer of `fill`: its keys, in JSON and its schema."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from laminate.press.counts import GapRow
from laminate.press.filling import ZoneFill
from laminate.press.shared_inputs import Estimate
from laminate.show.fields import (
    CHANCE,
    COUNT,
    COUNTED,
    KNOWN,
    NULL,
    QUANTITY,
    TEXT,
    TEXTS,
    WORDS,
    YES,
    Field,
    any_of,
    by_attribute,
    by_name,
    each,
    from_single,
    in_its_unit,
    in_unit_of,
    maybe,
    merged,
    one_of,
    quantity,
    rows,
    table,
)
from laminate.show.fill_answer import change_words, why
from laminate.show.pressed_json import OF_ZONE, PRESS, PRESSED_ZONE, TOLERANCE, WITHIN, errors, others
from laminate.values.quantities import G_M2, GRAM, M2, MM, MPA, NUMBER, PERCENT

CHANCES = ("fills", "closes", *WITHIN)
OPENER_UNITS = {"bleed limit": PERCENT, "bulk factor": NUMBER, "ply count": NUMBER}
END_UNITS = {"hot_gap": MM, "thickness": MM, "fiber_volume": PERCENT}


def _bleed(row: GapRow, sign: float) -> Estimate | None:
    """Resin to bleed, or with -1 what is short of filling the gap; None where it is the other."""
    if (row.bleed.value < 0.0) != (sign < 0.0):
        return None
    return row.bleed._replace(value=sign * row.bleed.value) if sign < 0.0 else row.bleed


def _sizes(values: Mapping[str, float]) -> dict[str, float]:
    return {name.replace(" ", "_"): value for name, value in values.items()}


SIZES = by_name(quantity(MM))
_END = by_name(in_its_unit(maybe(QUANTITY)))


def _ends(ends: Any) -> list[dict[str, Any]] | None:
    """Ends of a range, each quantity with its unit."""
    return [{k: (end[k], END_UNITS[k]) for k in end if k in END_UNITS} for end in ends or ()] or None


_ROW = table(
    "gap_count",
    **each(COUNT, "plies", "fill_plies"),
    fill_ratio=KNOWN(lambda row: row.fill_ratio.value),
    fill_ratio_standard_uncertainty=KNOWN(lambda row: row.fill_ratio.u),
    fiber_volume=quantity(PERCENT)(lambda row: row.part["fiber_volume"]),
    fiber_volume_in_gap=quantity(PERCENT),
    shortfall=quantity(PERCENT)(lambda row: _bleed(row, -1.0), left_out=True),
    resin_to_bleed=quantity(PERCENT)(lambda row: _bleed(row, 1.0), left_out=True),
    thickness=quantity(MM)(lambda row: row.part["thickness"]),
    thickness_if_gap_holds=quantity(MM),
    void_if_gap_holds=quantity(PERCENT),
    verdict=TEXT,
    **each(NULL, "pressure_at_gel", "pressure_at_worst"),
    bleed=quantity(PERCENT)(lambda row: _bleed(row, 1.0)),
    **each(NULL, "bleed_window", "bleed_at_no_pressure"),
    chance=table(**each(CHANCE, *CHANCES), **each(NULL, "pressed", "holds")),
    sampling_error=errors(CHANCES),
    attributes=merged(by_attribute(maybe(QUANTITY)))(others),
    outside_limits=TEXTS("outside"),
    sides=rows(_END)(lambda row: _ends(row.sides), left_out=True),
)


_OPENER = table(
    change=TEXT(lambda way: way.what.replace(" ", "_")),
    plies=COUNTED,
    **each(maybe(QUANTITY), **{"from": "now"}, to="needed", by="change"),
    chance=CHANCE,
    words=TEXT(lambda way: change_words(way, "metric")),
)
_WINDOW = table(
    plies=COUNT,
    open=maybe(YES),
    **each(quantity(MM), "smallest_hot_gap", "largest_hot_gap", "smallest_cold_gap"),
    smallest_hot_gap_set_by=WORDS("governs"),
    cold_shortfall=quantity(MM)("shortfall"),
    cold_sizes_for_middle=SIZES(lambda window: _sizes(window.middle)),
    what_opens_it=rows(in_unit_of(_OPENER, lambda way: OPENER_UNITS.get(way.what, MM))),
)
_GAP = table(
    plies=COUNT,
    fiber_volume=quantity(PERCENT),
    hot_gap=quantity(MM),
    cold_sizes=SIZES(lambda gap: _sizes(gap.sizes)),
    shortfall=quantity(PERCENT)(lambda gap: -gap.bleed if gap.bleed < 0.0 else None, left_out=True),
    resin_to_bleed=quantity(PERCENT)(lambda gap: gap.bleed if gap.bleed >= 0.0 else None, left_out=True),
    possible=YES(lambda gap: not gap.hindrance),
    hindrance=WORDS,
)


def _weight(of_prepreg: bool) -> Field:
    """The areal weight to order, of the prepreg or of its fiber: the one that the part file has."""
    return from_single(quantity(G_M2))(
        lambda order: (order.areal_weight,) if order.of_prepreg is of_prepreg else None, left_out=True
    )


def _at(pair: str, number: int) -> Field:
    return quantity(PERCENT)(lambda order: (getattr(order, pair) or (None, None))[number])


_ORDER = table(
    plies=COUNT,
    prepreg=TEXT,
    fiber_volume_wanted=quantity(PERCENT)("fiber_volume"),
    areal_weight=_weight(False),
    prepreg_areal_weight=_weight(True),
    resin_to_bleed=quantity(PERCENT)("bleed"),
    possible=maybe(YES)(
        lambda order: (order.areal_weight is not None and not order.hindrance) if order.fiber_volume else None
    ),
    hindrance=WORDS,
    resin_content_from=_at("resin_content", 0),
    resin_content_to=_at("resin_content", 1),
    fiber_volume_at_resin_content_from=_at("fiber_volume_there", 0),
    fiber_volume_at_resin_content_to=_at("fiber_volume_there", 1),
)
_NEAR = table(
    plies=COUNT,
    verdict=TEXT,
    **each(quantity(MM), hot_gap_change="change", cold_gap_as_laid_up="laid_up"),
    cold_sizes_to_fit=SIZES(lambda near: _sizes(near.to_fit)),
    cold_sizes_to_middle=SIZES(lambda near: _sizes(near.to_middle)),
)
_ZONE = table(
    "gap_zone",
    **OF_ZONE | {"pressed_by": one_of("hard", "matched")(lambda zone: "hard" if zone.core else "matched")},
    wanted_pressure=quantity(MPA)("wanted"),
    bleed_stated=NULL,
    grade=TEXT,
    missing_for_use=TEXTS(
        lambda zone: [*zone.left_out, *(m for m in zone.missing if m not in zone.left_out)]
    ),
    left_to_close=quantity(MPA),
    **each(quantity(MM), "hot_gap", "cold_gap"),
    forced_in_by=by_name(quantity(MM))("interference"),
    core=maybe(TEXT),
    core_shared_with=TEXTS,
    bladder_pressure=NULL,
    **each(quantity(PERCENT), bleed_limit="case.zone.bleed_limit.value", packing_limit="packing_limit"),
    use=COUNTED(lambda zone: zone.use.plies if zone.use else None),
    why=TEXT(lambda zone: why(zone, "metric")),
    not_measured=TEXTS,
    counts=rows(_ROW)("rows"),
    closing_window=_WINDOW("window"),
    nearest=rows(_NEAR),
    bleed_limit_with_a_count_for_any_gap=quantity(PERCENT)("bleed_rule"),
    gap_for_wanted=maybe(_GAP)("gap_wanted"),
    order=maybe(_ORDER),
    chance_wanted=CHANCE,
    tolerance_for_chance=rows(TOLERANCE)("tolerances"),
    steam=NULL,
)
_CHARGED = table(
    zone=TEXT,
    **each(COUNT, "plies", "walls"),
    area=quantity(M2),
    **each(quantity(GRAM), "mass", "mass_of_all_walls"),
)
_CHARGE = table("charge", zones=rows(_CHARGED), mass_of_part=quantity(GRAM)("mass"), left_out=TEXTS)
ANSWER = table(
    part=table(number=TEXT, issue=TEXT)("part.part"),
    zones=rows(any_of(lambda zone: isinstance(zone, ZoneFill), _ZONE, PRESSED_ZONE)),
    press=PRESS("forces"),
    charge=_CHARGE,
    cores_past_their_moldings=TEXTS("worn"),
    **each(COUNT, "draws", "seed"),
)
