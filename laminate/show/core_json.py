"""The answer of `core`: its keys, in JSON and its schema."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from laminate.press.core_results import MOMENTS
from laminate.press.pressed_zone import judged_with
from laminate.press.shared_inputs import Estimate
from laminate.show.core_words import NO_CLAMP, balance, cautions
from laminate.show.fields import (
    CHANCE,
    COUNT,
    COUNTED,
    FIGURE,
    MEASURE,
    NULL,
    TEXT,
    TEXTS,
    WORDS,
    YES,
    Field,
    by_name,
    each,
    first,
    grouped,
    maybe,
    quantity,
    rows,
    second,
    table,
    third,
    within,
)
from laminate.show.pressed_json import CORE_SIZES, PRESS, STEAM
from laminate.values.quantities import DEG_C, KELVIN, KN, MM, MPA

PRESSURE = maybe(
    table(
        "core_pressure",
        **MEASURE,
        **{"from": FIGURE(lambda pressure: pressure.low * MPA.per_si)},
        to=FIGURE(lambda pressure: pressure.high * MPA.per_si),
        gap_closed=YES(lambda pressure: pressure.value > 0.0),
        chance_above_clamp=CHANCE("above_clamp"),
    ),
    MPA,
)


def _at(key: str) -> Callable[[Any], Any]:
    return lambda zone: (zone.pressure or {}).get(key)


def _both(state: str) -> Field:
    """The pressures of a state at both moments; null where there is neither."""
    both = table(**{moment: PRESSURE(_at(f"{state} {moment}")) for moment in MOMENTS})
    return maybe(both)(lambda zone: zone if _at(f"{state} at_gel")(zone) else None)


def _there(at: Estimate | None) -> Estimate | None:
    """A temperature [K] that there is: none below absolute zero, where it touches or fills at every one."""
    return at if at is not None and at.value > 0.0 else None


_ZONE = {
    "zone": TEXT,
    "plies": COUNTED(lambda zone: zone.plies or None),
    "plies_fit": YES,
    "contact_temperature": quantity(DEG_C)(lambda zone: _there(zone.contact)),
    "contact_temperature_together": quantity(DEG_C)(lambda zone: _there(zone.contact_together)),
    "contact_reason": WORDS,
    "liquid_full_temperature": quantity(DEG_C)(lambda zone: _there(zone.liquid_full)),
    "window": grouped(
        contact_to_liquid_full=quantity(KELVIN)("window"),
        locked_reaches_clamp_temperature=quantity(DEG_C)("clamp_reached"),
    ),
    "pressure": grouped(
        **{state: _both(state) for state in ("lowest", "nominal", "locked_maximum", "expected")},
        worst=PRESSURE(_at("nominal worst")),
        expected_worst=PRESSURE(_at("expected worst")),
        reason=WORDS,
    ),
    "locked_pressure_per_kelvin": quantity(MPA)("locked_per_kelvin"),
    **each(quantity(MM), gap_wanted="gap", cold_width_for_gap="cold_width"),
    "cold_width_across": maybe(TEXT)("across"),
    **each(quantity(MM), dummy_thickness="dummy", pull_out_clearance="pull_out", growth_across="growth"),
    "not_measured": TEXTS,
}


def _over(core: Any) -> str | None:
    return None if core.opens is None else "stated bleed" if core.ask.stated else "no bleed"


_VAPOR = table(
    resin_pressure_absolute=quantity(MPA)(first),
    water_vapor_pressure=quantity(MPA)(second),
    needed_above_ambient=quantity(MPA)(third),
)
_VAPOR_FIRST = table(
    presses_from=quantity(DEG_C)(first),
    water_vapor_pressure=quantity(MPA)(second),
    pressures=TEXT(lambda _: "absolute"),
)
_MINUTES = table(value=FIGURE(lambda t: t / 60.0), unit=TEXT(lambda _: "min"), standard_uncertainty=NULL)
_CORE = {
    "core": TEXT,
    **each(WORDS, "worst_moment", expected_worst_moment="expected_moment"),
    "tool_holds": maybe(YES)("holds"),
    "missing_for_use": TEXTS("missing"),
    "within_pressure_limit": maybe(YES)("within_limit"),
    "chance_tool_does_not_hold": CHANCE("opens"),
    "chance_over": WORDS(_over),
    "clamp_limit_at_maximum": quantity(MPA)(lambda core: core.limits["at_maximum"]),
    "vapor": maybe(_VAPOR)(lambda core: (core.vapor or (None,) * 3) if core.rubber else None),
    "vapor_before_pressure": maybe(_VAPOR_FIRST)("vapor_first"),
    "cold_clearance": by_name(quantity(MM))("clearance"),
    "volume_window": rows(CORE_SIZES)("windows"),
    "press": PRESS("forces"),
    "supposed": TEXTS(lambda core: [*judged_with(core.ask.supposed), *core.ask.press.inputs.supposed]),
    "held": TEXT,
    "material": maybe(TEXT),
    **within("governing", **_ZONE),
    "mean_temperature": quantity(DEG_C),
    "mean_temperature_by_time": rows(table(time=_MINUTES(first), mean=quantity(DEG_C)(second)))("warming"),
    "highest_temperature": quantity(DEG_C),
    **each(quantity(MM), "free_growth", "width"),
    "clamp_limit": quantity(MPA)(lambda core: core.limits["at_gel"]),
    "clamp_reason": WORDS(lambda core: NO_CLAMP if core.limits["at_gel"] is None else ""),
    "tool_opens": maybe(YES)(lambda core: None if core.stays_shut is None else not core.stays_shut),
    "locked_tool_opens": maybe(YES)("locked_opens"),
    "pressure_with_clamp": quantity(MPA)(lambda core: core.with_clamp()),
    "balance": TEXT(balance),
    **each(COUNTED, "moldings", limit_moldings="stated.limit_moldings"),
    "past_limit_of_moldings": maybe(YES)("worn"),
    "screening_only": YES(lambda _: True),
    "steam": STEAM,
    "cautions": TEXTS(lambda core: cautions(core, "metric")),
    "zones": rows(table(**_ZONE)),
}
ANSWER = table(
    part=table(number=TEXT, issue=TEXT)("part.part"),
    clamp_force=quantity(KN)(lambda answer: answer.part.tool.clamp_force if answer.part.tool else None),
    press=PRESS(lambda answer: answer.cores[0].forces if answer.cores else None),
    cores=rows(table("core", **_CORE)),
    **each(COUNT, "draws", "seed"),
)
