"""A judged batch as JSON with the contract's keys."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from laminate.show.cycle_json import KIND_OF_READING, zone_cycle_json
from laminate.show.decision_json import decision_json
from laminate.show.measure_json import input_json, number_or_none
from laminate.show.measurement_json import measurement_json
from laminate.show.numbers import quantity_json
from laminate.values.input_key import in_words
from laminate.values.quantities import ATTRIBUTES, DEG_C, KELVIN, MPA, NUMBER, Unit, shown, shown_difference
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from laminate.judging.characteristic import Characteristic
    from laminate.judging.cores import CoreState
    from laminate.judging.deciding import Way
    from laminate.judging.held import Held
    from laminate.judging.judgement import Judgement
    from laminate.judging.reported import Case
    from laminate.judging.traceability import InstrumentState
    from laminate.press.stack import Ingredients

KIND_UNITS = {
    "temperature": DEG_C,
    "temperature_difference": KELVIN,
    "pressure": MPA,
    "time": Unit("min", 1 / 60),
    "force": Unit("kN", 1e-3),
    "length": Unit("mm", 1e3),
    "mass": Unit("g", 1e3),
    "fraction": Unit("%", 1e2),
    "density": Unit("g/cm^3", 1e-3),
    "areal_weight": Unit("g/m^2", 1e3),
}
PRIOR = "flat: before measuring, every true value was held equally likely"


def unit_of(characteristic: Characteristic, kinds: dict[str, str]) -> Unit:
    """The unit in which a characteristic is shown; kinds: process reading -> kind of quantity."""
    known = ATTRIBUTES.get(characteristic.rule.attribute)
    if known is not None and not characteristic.rule.process:
        return known.unit
    return KIND_UNITS.get(kinds.get(characteristic.rule.attribute, ""), NUMBER)


def _bounds(bounds: Any, unit: Unit) -> dict[str, float | None] | None:
    if bounds is None:
        return None
    low, high = bounds.pair
    return {
        "min": None if low is None else shown(low, unit),
        "max": None if high is None else shown(high, unit),
    }


def _held(held: Held | None, unit: Unit) -> dict[str, Any] | None:
    if held is None:
        return None
    return {
        "decision": held.decision,
        "reasons": list(held.reasons),
        "probability_of_conformity": held.probability,
        "readings": [
            {
                "name": reading.name,
                **quantity_json(reading.value, reading.u, unit),
                "expanded_uncertainty": shown_difference(reading.expanded, unit),
                "coverage_factor": reading.coverage_factor,
                "effective_degrees_of_freedom": number_or_none(reading.dof),
                "guard_band": shown_difference(held.guard * reading.expanded, unit),
                "decision": decision,
            }
            for reading, decision in zip(held.readings, held.decisions, strict=True)
        ],
    }


def _mean(one: Characteristic, unit: Unit) -> dict[str, Any]:
    """The mean of what was held, with the uncertainty of that mean where it has one."""
    mean = one.average_of
    if mean is None:
        return {
            "value": None,
            "unit": unit.text,
            "standard_uncertainty": None,
            "expanded_uncertainty": None,
            "n": 0,
        }
    held = one.average or (one.individual if one.individual and len(one.individual.readings) == 1 else None)
    reading = held.readings[0] if held else None
    u = reading.u if reading else mean.standard_uncertainty
    return {
        **quantity_json(mean.value, u, unit),
        "expanded_uncertainty": shown_difference(reading.expanded, unit) if reading else None,
        "n": mean.n,
    }


def _way(way: Way, unit: Unit, us: Unit | None) -> dict[str, Any]:
    if way.coupons is not None:
        return {
            "coupons": way.coupons,
            "text": f"{way.coupons} coupons in all, if mean and scatter stay as they are",
        }
    now, needed = shown_difference(way.u_now, unit), shown_difference(way.u_needed, unit)
    sizes = (Figure(u, unit, 2, difference=True, us=us) for u in (way.u_now, way.u_needed))
    fails = "" if way.inside else ", and it does not conform if the value stays"
    first, then = sizes
    said = Said(f"{way.source}: from ± ", first, " to ± ", then, " of the result (standard)", fails)
    if not way.enough:
        said = Said(f"{way.source}: not even if it were exact")
    return {
        **input_json(way.source),
        "contribution_now": now,
        "contribution_needed": needed if way.enough else None,
        "share_of_its_uncertainty": way.share_needed if way.enough else None,
        "unit": unit.text,
        "text": said,
    }


def _reason(one: Characteristic) -> str:
    return "; ".join(one.reasons) or "inside the limits by the guard band"


def characteristic_json(one: Characteristic, unit: Unit) -> dict[str, Any]:
    """One characteristic: limits, result, decision and reason, probability, risks, what would decide it."""
    p, known = one.probability, ATTRIBUTES.get(one.rule.attribute)
    us = known.us if known else None
    return {
        "name": one.name,
        "zone": one.zone,
        "label": one.label,
        "lot": one.lot or None,
        "method": one.method or None,
        "limits": {
            "individual": _bounds(one.rule.individual, unit),
            "average": _bounds(one.rule.average, unit),
            "unit": unit.text,
        },
        "result": {
            **_mean(one, unit),
            "individual": _held(one.individual, unit),
            "average": _held(one.average, unit),
        },
        "decision": one.decision,
        "reason": _reason(one),
        "probability_of_conformity": p,
        "risk_if_accepted": None if p is None else 1.0 - p,
        "risk_if_rejected": p,
        "prior": PRIOR,
        "to_decide": [_way(way, unit, us) for way in one.ways],
    }


def instrument_json(state: InstrumentState) -> dict[str, Any]:
    """One instrument on the day of measuring."""
    return {
        "name": state.name,
        "identity": state.identity or None,
        "certificate": state.certificate or None,
        "calibrated": state.calibrated.isoformat() if state.calibrated else None,
        "due": state.due.isoformat() if state.due else None,
        "state": state.state,
        "undecided_because": state.reason or None,
    }


def batch_json(case: Case, cores: Iterable[CoreState]) -> dict[str, Any]:
    """Which batch and part this is."""
    head, part, laboratory = case.batch.batch, case.part.part, case.batch.laboratory
    return {
        "id": head.id,
        "part_number": part.number,
        "part_issue": part.issue,
        "part_name": part.name,
        "molded": head.molded.isoformat() if head.molded else None,
        "quantity": head.quantity,
        "serials": head.serials or None,
        "press": head.press or None,
        "retain_until": head.retain_until.isoformat() if head.retain_until else None,
        "laboratory": laboratory.name or None,
        "procedure": laboratory.procedure or None,
        "measured": laboratory.measured.isoformat() if laboratory.measured else None,
        "lots": [
            {"prepreg": lot.prepreg, "number": lot.number, "certificate": lot.certificate or None}
            for lot in case.batch.lot
        ],
        "cores": [
            {
                "core": core.name,
                "identity": core.identity or None,
                "moldings": core.moldings,
                "limit_moldings": core.limit,
                "undecided_because": core.reason or None,
            }
            for core in cores
        ],
    }


def values_json(made: Ingredients) -> list[dict[str, Any]]:
    """Which material values were used, and where each comes from."""
    words = in_words(made.values)
    return [
        {**input_json(key, words[key]), "stated": value.text, "from": made.origins[key]}
        for key, value in made.values.items()
    ]


def with_every_json(judgement: Judgement) -> dict[str, Any] | None:
    """What the answer would be if every specimen counted; None where every one does."""
    every = judgement.with_every
    if every is None:
        return None
    return {
        "answer": every.answer,
        "characteristics": [
            {
                "label": one.label,
                "lot": one.lot or None,
                "decision": one.decision,
                "reason": _reason(one),
                "probability_of_conformity": one.probability,
            }
            for one in every.characteristics
        ],
    }


def report_json(
    case: Case, judgement: Judgement, measurement: Any, inputs: list[dict[str, str]]
) -> dict[str, Any]:
    """The whole answer of `report`.

    inputs: file and SHA-256 of everything that was read.
    """
    kinds = {
        name: reading.value[0] if reading.value is not None else KIND_OF_READING.get(name, "number")
        for name, reading in case.batch.process.items()
    }
    concession = case.batch.concession
    replaces = case.batch.replaces
    return {
        "answer": judgement.answer,
        "reasons": judgement.reasons,
        "remarks": judgement.remarks,
        "not_judged": judgement.not_judged,
        **decision_json(judgement, measurement),
        "with_every_specimen": with_every_json(judgement),
        "batch": batch_json(case, judgement.cores),
        "decision_rule": {
            "guard": case.part.limits.guard,
            "confidence": None
            if case.part.limits.confidence is None
            else 100.0 * case.part.limits.confidence,
            "coverage_factor": case.part.limits.coverage_factor,
        },
        "characteristics": [characteristic_json(c, unit_of(c, kinds)) for c in judgement.characteristics],
        "process": [
            {**characteristic_json(c, unit_of(c, kinds)), "source": _source(case, c.name)}
            for c in judgement.process
        ],
        "instruments": [instrument_json(state) for state in judgement.instruments],
        "concession": concession.model_dump() if concession else None,
        "replaces": replaces.model_dump() if replaces else None,
        "cycle": {"zones": [zone_cycle_json(one) for one in judgement.cycles.values()]}
        if judgement.cycles
        else None,
        "values": values_json(case.ingredients()),
        "inputs": inputs,
        **measurement_json(measurement),
    }


def _source(case: Case, name: str) -> str | None:
    reading = case.batch.process.get(name)
    if reading is not None and reading.value is None:
        files = [log.file for log in case.batch.log if reading.zone in log.zones]
        return f"log {', '.join(files)}, zone {reading.zone}"
    return reading.source or None if reading else None
