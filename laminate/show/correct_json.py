"""The answer of `correct`, predicted against achieved: its keys, in JSON and its schema."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from laminate.history.correcting import ZoneCorrection
from laminate.press.shared_inputs import Estimate
from laminate.show.budget import BUDGET
from laminate.show.fields import (
    ATTRIBUTE,
    CHANCE,
    COUNT,
    FIGURE,
    MAYBE_STEP,
    NULL,
    QUANTITY,
    STEP,
    TEXT,
    TEXTS,
    UNIT,
    VALUE,
    WORDS,
    YES,
    Field,
    any_of,
    by_attribute,
    each,
    first,
    grouped,
    in_unit,
    in_unit_of,
    maybe,
    of_attribute,
    quantity,
    rows,
    second,
    table,
    third,
    within,
)
from laminate.show.rubber_words import unit_changed
from laminate.values.quantities import CM3, MM, MPA, PERCENT, Unit

_COMPARED = table(
    batch=TEXT(first),
    **within(second, method=TEXT, coupons=COUNT, **each(QUANTITY, "predicted", "achieved", "difference")),
)
_DIFFERENCE = table(
    "difference",
    attribute=ATTRIBUTE,
    **each(QUANTITY, predicted="predicted.mean", achieved="achieved.mean"),
    difference=table(
        value=STEP,
        unit=UNIT,
        standard_uncertainty=MAYBE_STEP("u"),
        expanded_uncertainty=STEP("expanded"),
        coverage_factor=FIGURE("factor"),
    )("difference.mean"),
    means_something=maybe(YES)("real"),
    between_batches=grouped(
        chance=CHANCE("difference.chance"), scatters_more_than_stated=maybe(YES)("difference.scatters")
    ),
    batches=rows(_COMPARED),
    budget=BUDGET("difference.mean.parts"),
)
_CHANGE = table(
    "change",
    size=TEXT(lambda change: change.size.replace(" ", "_")),
    **each(quantity(MM), "now", "then"),
    change=in_unit(grouped(value=VALUE("change"), unit=UNIT, standard_uncertainty=MAYBE_STEP("u")), MM),
)
_THEN = by_attribute(QUANTITY)("then")
_CENTRED = table(
    attribute=ATTRIBUTE,
    aim=QUANTITY("aim.middle"),
    aim_is_the_middle_of=TEXT("aim.words"),
    now=QUANTITY,
    coverage_factor=FIGURE("now.factor"),
    scatter_between_batches=grouped(unit=UNIT, standard_uncertainty=STEP("scatter")),
    off_by_more_than_its_uncertainty=YES("means_something"),
    hot_gap=quantity(MM),
    hindrance=WORDS,
    changes=rows(_CHANGE),
    then=_THEN,
)
_BETWEEN = table(hot_gap=quantity(MM), changes=rows(_CHANGE), then=_THEN)


_PROPOSAL = TEXT(lambda _: "proposed; the person who owns the part file decides")
_HEAD = {
    "plies": COUNT,
    "next_is_like": TEXT("like"),
    "from_batches": TEXTS,
    "differences": rows(of_attribute(_DIFFERENCE)),
    "worth_changing": maybe(YES)("worth_changing"),
    "hangs_on": rows(table(kind=TEXT, names=TEXTS, advice=YES))("depends_on"),
}
_ZONE = table(
    "corrected_zone",
    zone=TEXT,
    **_HEAD,
    **within(
        "centring",
        proposal=_PROPOSAL,
        centre=rows(of_attribute(_CENTRED))("aims"),
        both_cannot_be_centred=YES("cannot_both"),
        thickness_left_off=quantity(MM)(lambda centring: centring.apart and centring.apart[0]),
        between=maybe(_BETWEEN)("between"),
        counts=rows(table(plies=COUNT, verdict=TEXT, then=_THEN, outside=TEXTS)),
    ),
    not_measured=TEXTS,
)


def _over(key: str, unit: Unit) -> Field:
    """A number of a state, with its range over the ± of the achieved bleed where it has one."""

    def read(field: Any) -> Any:
        value = getattr(field, key)
        ends = [getattr(end, key) for end in field.over or ()] or [None]
        return None if value is None else (value, min(ends), max(ends))

    fields = {"value": VALUE(first), "unit": UNIT, "standard_uncertainty": NULL}
    ends = {"low": VALUE(second, left_out=True), "high": VALUE(third, left_out=True)}
    return maybe(table(**fields, **ends), unit)(read)


_PRESSURES = {"at_gel": _over("gel", MPA), "at_worst": _over("worst", MPA)}
PRESSURES = table("pressures", **_PRESSURES)
_MADE = {"thickness": _over("thickness", MM), "fiber_volume": _over("fiber_volume", PERCENT)}
_AT = maybe(table("state", **_MADE, **_PRESSURES))


def _now_then(unit: Unit) -> Field:
    return maybe(table(now=QUANTITY(first), then=QUANTITY(second)), unit)


_CORE = table(core=TEXT, volume=_now_then(CM3), **each(_now_then(MM), "width", dummy_thickness="dummy"))
_CHANGED = table(
    "proposal",
    what=TEXT,
    **each(QUANTITY, "now", "then"),
    **each(_AT, "before", "after"),
    **each(PRESSURES, pressure_before="before", pressure_after="after"),
    refused=WORDS,
    core_width_to_keep_the_pressure=quantity(MM)(
        lambda proposal: proposal.core.width[1] if proposal.core and proposal.core.width else None
    ),
    core_to_keep_the_pressure=maybe(_CORE)("core"),
)
_SIZES = table(now=QUANTITY(first), least=QUANTITY(second), most=QUANTITY(third))
_CORE_ALONE = table(
    core=TEXT,
    volume=in_unit(_SIZES, CM3)(lambda core: (core.now, *core.volume)),
    width=maybe(_SIZES, MM)(lambda core: core.width or None),
    **each(_AT, at_least="least", at_most="most"),
)
_ACHIEVED = table(thickness=quantity(MM), fiber_volume=quantity(PERCENT), void_content=quantity(PERCENT))
_AIM = replace(QUANTITY, make=lambda aim, unit: QUANTITY.make(aim.middle, unit))
_BLED = table(batch=TEXT, bleed_achieved=quantity(PERCENT)("bleed"))
_NO_ROWS = rows(NULL)(lambda _: ())
_RUBBER = table(
    "rubber_zone",
    zone=TEXT,
    pressed_by=TEXT(lambda zone: "rubber" if zone.run.room else "bladder"),
    **_HEAD | {"next_is_like": TEXT("batch")},
    proposal=_PROPOSAL,
    centre=_NO_ROWS,
    **each(NULL, "both_cannot_be_centred", "thickness_left_off", "between"),
    counts=_NO_ROWS,
    predicted=_AT,
    achieved=_ACHIEVED("run"),
    bleed_achieved=quantity(PERCENT)(lambda zone: Estimate(zone.bleed, zone.run.bleed.u)),
    earlier_batches=rows(_BLED)("earlier"),
    bleed_at_no_pressure=quantity(PERCENT)("none_left_at"),
    pressure_now=PRESSURES("now"),
    pressure_limit_given=maybe(YES)("limit_given"),
    aim=maybe(of_attribute(_AIM))(lambda zone: zone.aims[0][0] if zone.aims else None),
    aim_of=WORDS(lambda zone: zone.aims[0][0].attribute if zone.aims else None),
    check=WORDS,
    proposals=rows(in_unit_of(_CHANGED, lambda proposal: unit_changed(proposal.what))),
    core_alone=maybe(_CORE_ALONE),
    not_measured=TEXTS,
)
ANSWER = table(
    part_number=TEXT,
    batches=TEXTS,
    material_of_next=TEXT(lambda answer: "part file" if answer.nominal else f"batch {answer.batches[-1]}"),
    difference_is=TEXT(lambda _: "predicted minus achieved"),
    zones=rows(any_of(lambda zone: isinstance(zone, ZoneCorrection), _ZONE, _RUBBER))(
        lambda answer: [*answer.zones, *answer.rubber]
    ),
    **each(TEXTS, "doubts", "excluded", "notes"),
)
