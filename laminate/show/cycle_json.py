"""The answer of `cycle` as JSON: min, degC, MPa; pressures absolute unless the key says applied."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.show.numbers import quantity_json
from laminate.values.quantities import DEG_C, MPA, Unit, shown

if TYPE_CHECKING:
    from laminate.curing.answers import Cycles, Event, Known, ZoneCycle

MINUTE = Unit("min", 1 / 60)
READING_UNITS = {
    "peak temperature": DEG_C,
    "cure temperature": DEG_C,
    "time above": MINUTE,
    "time from pressed to gel": MINUTE,
    "vapor margin": MPA,
    "highest pressure, locked": MPA,
}

KIND_OF_READING = {
    "peak temperature": "temperature",
    "cure temperature": "temperature",
    "time above": "time",
    "time from pressed to gel": "time",
    "vapor margin": "pressure",
}


def _quantity(one: Known | None, unit: Unit) -> dict[str, Any] | None:
    return None if one is None else quantity_json(one.value, one.u, unit)


def _plain(value: float | None, unit: Unit) -> dict[str, Any] | None:
    return None if value is None else quantity_json(value, None, unit)


def _event(one: Event) -> dict[str, Any]:
    return {
        "event": one.event,
        "time": _quantity(one.time, MINUTE),
        "temperature": _plain(one.temperature, DEG_C),
        "resin_pressure_absolute": _plain(one.resin_pressure, MPA),
    }


def zone_cycle_json(one: ZoneCycle) -> dict[str, Any]:
    """One zone and log, or zone and planned cycle; `not_known`: key -> why it is null."""
    clock, before = one.gel_clock, one.vapor_before_pressure
    return {
        "zone": one.zone,
        "cycle": one.cycle or None,
        "log": one.log or None,
        "verdict": one.verdict,
        "why": list(one.why),
        "events": [_event(event) for event in one.events],
        "gel_clock": {
            "start": _quantity(clock.start, Unit("", 1.0)),
            "when_pressed": clock.when_pressed,
            "below_tested_range": clock.below_tested_range,
            "tested": None if clock.tested is None else [shown(t, DEG_C) for t in clock.tested],
        },
        "vapor_margin": _quantity(one.vapor_margin, MPA),
        "vapor_margin_after_gel": _plain(one.vapor_margin_after_gel, MPA),
        "vapor_before_pressure": None
        if before is None
        else {"time": _plain(before[0], MINUTE), "worst": _plain(before[1], MPA)},
        "resin_pressure_absolute_at_gel": _quantity(one.resin_pressure_at_gel, MPA),
        "applied_pressure_at_gel": _quantity(one.applied_pressure_at_gel, MPA),
        "chance": {
            "pressed_before_gel": one.chance.pressed_before_gel,
            "above_vapor": one.chance.above_vapor,
            "both": one.chance.both,
        },
        "humidity": {"value": 100.0 * one.humidity, "unit": "%", "stated": one.humidity_stated},
        "matters_most": None
        if one.matters_most is None
        else {
            "input": one.matters_most.input,
            "rank_correlation": one.matters_most.rank_correlation,
            "text": one.matters_most.text,
        },
        "times_released": one.times_released,
        "left_out": list(one.left_out),
        "mended": list(one.mended),
        "columns": [{"column": name, "reads": reads} for name, reads in one.columns],
        "screening": list(one.screening),
        "not_measured": list(one.not_measured),
        "warnings": list(one.warnings),
        "readings": {
            name: _quantity(value, READING_UNITS[name]) for name, value in sorted(one.readings.items())
        },
        "not_known": dict(sorted(one.unknown.items())),
    }


def cycles_json(found: Cycles) -> dict[str, Any]:
    """The whole answer of `cycle`."""
    return {
        "verdict": found.verdict,
        "zones": [zone_cycle_json(one) for one in found.zones],
        "draws": found.draws,
        "seed": found.seed,
    }
