"""The answer of `cycle` as JSON: min, degC, MPa; pressures absolute unless the key says applied."""

from __future__ import annotations

from laminate.curing.answers import WORST_FIRST
from laminate.files.cycle_keys import FROM_LOG
from laminate.show.fields import (
    CHANCE,
    COUNT,
    COUNTED,
    FIGURE,
    KNOWN,
    QUANTITY,
    TEXT,
    TEXTS,
    UNIT,
    VALUE,
    WORDS,
    YES,
    Field,
    by_name,
    each,
    first,
    grouped,
    in_its_unit,
    in_unit,
    maybe,
    one_of,
    quantity,
    rows,
    second,
    table,
)
from laminate.values.quantities import DEG_C, KIND_UNITS, MINUTE, MPA, NUMBER, PERCENT

EVENTS = (
    "first pressure",
    "touch",
    "liquid full",
    "pressed",
    "gel first",
    "gel last",
    "peak temperature",
    "clamp reached",
    "released",
)
VAPOR_BY = "IAPWS-IF97"
"""Where saturation pressures come from: see `laminate.formulas.water`."""
READING_UNITS = {
    **{name: KIND_UNITS[kind] for name, kind in FROM_LOG.items()},
    **dict.fromkeys(("vapor margin at gel", "highest pressure, locked"), MPA),
}


_EVENT = table(
    event=one_of(*EVENTS),
    time=in_unit(QUANTITY, MINUTE),
    temperature=quantity(DEG_C),
    resin_pressure_absolute=quantity(MPA)("resin_pressure"),
)
_CLOCK = table(
    start=quantity(NUMBER),
    **each(KNOWN, "when_pressed", "below_tested_range"),
    tested=maybe(rows(VALUE, DEG_C, minItems=2, maxItems=2)),
)
ZONE_CYCLE = table(
    "zone_cycle",
    zone=TEXT,
    cycle=WORDS,
    log=Field({"type": ["string", "null"], "pattern": "^[0-9a-f]{64}$"}, WORDS.make),
    verdict=one_of(*WORST_FIRST),
    why=TEXTS,
    events=rows(_EVENT)(lambda zone: [event for event in zone.events if event.time.ends is None]),
    gel_clock=_CLOCK,
    vapor_margin=quantity(MPA)(lambda zone: None if "vapor_margin" in zone.unknown else zone.vapor_margin),
    vapor_margin_after_gel=quantity(MPA),
    vapor_before_pressure=maybe(
        table(time=in_unit(QUANTITY, MINUTE)(first), worst=in_unit(QUANTITY, MPA)(second))
    ),
    resin_pressure_absolute_at_gel=quantity(MPA)("resin_pressure_at_gel"),
    applied_pressure_at_gel=quantity(MPA),
    chance=table(pressed_before_gel=CHANCE, above_vapor=CHANCE, both=CHANCE),
    humidity=in_unit(grouped(value=VALUE("humidity"), unit=UNIT, stated=YES("humidity_stated")), PERCENT),
    matters_most=maybe(table(input=TEXT, rank_correlation=FIGURE, text=TEXT)),
    times_released=COUNTED,
    **each(TEXTS, "left_out", "mended"),
    columns=rows(table(column=TEXT(first), reads=TEXT(second))),
    **each(TEXTS, "screening", "not_measured", "warnings"),
    readings=by_name(maybe(in_its_unit(QUANTITY)))(
        lambda zone: {
            name: None if zone.why_unknown(name) else (value, READING_UNITS[name])
            for name, value in sorted(zone.readings.items())
        }
    ),
    not_known=by_name(TEXT)(lambda zone: dict(sorted(zone.unknown.items()))),
)
ANSWER = table(
    verdict=one_of(*WORST_FIRST),
    zones=rows(ZONE_CYCLE),
    **each(COUNT, "draws", "seed"),
    vapor=TEXT(lambda _: VAPOR_BY),
)
