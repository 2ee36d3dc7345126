"""JSON Schema of what a record says of the press cycle."""

from __future__ import annotations

from typing import Any

Schema = dict[str, Any]

_TEXT: Schema = {"type": "string"}
_TEXTS: Schema = {"type": "array", "items": _TEXT}
_KNOWN: Schema = {"type": ["number", "null"]}
_CHANCE: Schema = {"type": ["number", "null"], "minimum": 0, "maximum": 1}
VERDICTS = ("pressed in time", "pressed late", "vapor above pressure", "cannot say")
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


def _closed(**properties: Schema) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def cycle() -> Schema:
    """The schema of `cycle` in a record: null for a batch without a log."""
    size = _closed(value={"type": "number"}, unit=_TEXT, standard_uncertainty=_KNOWN)
    known = _or_null(size)
    zone = _closed(
        zone=_TEXT,
        cycle={"type": ["string", "null"]},
        log={"type": ["string", "null"], "pattern": "^[0-9a-f]{64}$"},
        verdict={"enum": list(VERDICTS)},
        why=_TEXTS,
        events={
            "type": "array",
            "items": _closed(
                event={"enum": list(EVENTS)}, time=size, temperature=known, resin_pressure_absolute=known
            ),
        },
        gel_clock=_closed(
            start=known,
            when_pressed=_KNOWN,
            below_tested_range=_KNOWN,
            tested=_or_null({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}),
        ),
        vapor_margin=known,
        vapor_margin_after_gel=known,
        vapor_before_pressure=_or_null(_closed(time=size, worst=size)),
        resin_pressure_absolute_at_gel=known,
        applied_pressure_at_gel=known,
        chance=_closed(pressed_before_gel=_CHANCE, above_vapor=_CHANCE, both=_CHANCE),
        humidity=_closed(value={"type": "number"}, unit=_TEXT, stated={"type": "boolean"}),
        matters_most=_or_null(_closed(input=_TEXT, rank_correlation={"type": "number"}, text=_TEXT)),
        times_released={"type": ["integer", "null"], "minimum": 0},
        left_out=_TEXTS,
        mended=_TEXTS,
        columns={"type": "array", "items": _closed(column=_TEXT, reads=_TEXT)},
        screening=_TEXTS,
        not_measured=_TEXTS,
        warnings=_TEXTS,
        readings={"type": "object", "additionalProperties": known},
        not_known={"type": "object", "additionalProperties": _TEXT},
    )
    return _or_null(_closed(zones={"type": "array", "items": zone}))
