"""The answer of `report`: its keys, in JSON, its schema, and in a record."""

from __future__ import annotations

import math
from dataclasses import replace
from operator import itemgetter
from typing import Any

from laminate.curing.draws import DRAWS, SEED
from laminate.files.batch import Case
from laminate.files.limits import Rule
from laminate.judging.characteristic import Characteristic
from laminate.judging.deciding import Way
from laminate.show.cycle_json import VAPOR_BY, ZONE_CYCLE
from laminate.show.decision_json import DECISION
from laminate.show.fields import (
    CHANCE,
    COUNT,
    COUNTED,
    DATE,
    FIGURE,
    FINITE,
    KEY,
    KNOWN,
    MAYBE_STEP,
    MAYBE_VALUE,
    MEASURE,
    NAME,
    STEP,
    TEXT,
    TEXTS,
    UNIT,
    WORDS,
    Field,
    any_of,
    each,
    first,
    grouped,
    in_its_unit,
    maybe,
    one_of,
    rows,
    second,
    table,
    third,
    within,
)
from laminate.show.measure_json import MEASUREMENT
from laminate.show.measuring_json import MEASURING
from laminate.show.page_words import several
from laminate.values.canonical import sha256
from laminate.values.input_key import in_words
from laminate.values.quantities import ATTRIBUTES, KIND_UNITS, Unit
from laminate.values.said import Figure, Said

PRIOR = "flat: before measuring, every true value was held equally likely"


def _unit(rule: Rule) -> Unit:
    """The unit in which what a rule limits is shown."""
    return KIND_UNITS[rule.kind]


def _mean(characteristic: Characteristic) -> tuple[float | None, float | None, float | None, int]:
    """The mean of what was held, its standard and its expanded uncertainty, and of how many."""
    mean, held = characteristic.average_of, characteristic.average
    if mean is None:
        return None, None, None, 0
    alone = characteristic.individual
    if not held and alone and len(alone.readings) == 1:
        held = alone
    if held is None:
        return mean.value, mean.standard_uncertainty, None, mean.n
    return mean.value, held.readings[0].u, held.readings[0].expanded, mean.n


def _inside(characteristic: Characteristic) -> str:
    held = characteristic.individual or characteristic.average
    return "inside the limits by the guard band" if held and held.guard else "inside the limits"


def _way_words(way: Way, unit: Unit) -> str:
    if way.coupons is not None:
        return f"{several(way.coupons, 'coupon')} in all, if mean and scatter stay as they are"
    if not way.enough:
        return f"{way.source} alone would not, even if it were exact"
    us = next((known.us for known in ATTRIBUTES.values() if known.unit == unit), None)
    wide = math.sqrt(3.0) if way.stated == "tolerance" else 1.0  # half-width over standard uncertainty
    for digits in range(2, 9):
        now = Figure(wide * way.u_now, unit, digits, difference=True, us=us)
        needed = replace(now, value=wide * way.u_needed, down=True)
        if now.text() != needed.text():
            break
    what, tail = way.source, "of the result (standard)"
    if way.stated:
        what, tail = "a smaller ±", f"({way.stated})"
    fails = "" if way.inside else ", and it does not conform if the value stays"
    return Said(f"{what}: from ± ", now, " to ± ", needed, f" {tail}", fails)


WAY_TEXT = Field(TEXT.schema, _way_words, lambda way: way)
_WAY = any_of(
    lambda way: way.coupons is not None,
    table(coupons=COUNT, text=WAY_TEXT),
    table(
        input=NAME("source"),
        key=KEY("source"),
        contribution_now=STEP("u_now"),
        contribution_needed=MAYBE_STEP(lambda way: way.u_needed if way.enough else None),
        share_of_its_uncertainty=KNOWN(lambda way: way.share_needed if way.enough else None),
        unit=UNIT,
        text=WAY_TEXT,
    ),
)
_DECIDED = one_of("conforms", "does not conform", "undecided")
_LIMITS = maybe(table("limits", **within("pair", min=MAYBE_VALUE(first), max=MAYBE_VALUE(second))))
_READING = table(
    **within(
        first,
        name=TEXT,
        **MEASURE,
        expanded_uncertainty=STEP("expanded"),
        coverage_factor=FIGURE,
        effective_degrees_of_freedom=FINITE("dof"),
    ),
    guard_band=STEP(lambda row: row[2].guard * row[0].expanded),
    decision=_DECIDED(second),
)
_HELD = maybe(
    table(
        "held",
        decision=_DECIDED,
        reasons=TEXTS,
        probability_of_conformity=CHANCE("probability"),
        readings=rows(_READING)(
            lambda held: [(r, d, held) for r, d in zip(held.readings, held.decisions, strict=True)]
        ),
    )
)
_CHARACTERISTIC = {
    "name": TEXT,
    "zone": WORDS,
    "label": TEXT,
    **each(WORDS, "lot", "method"),
    "limits": grouped(**within("rule", **each(_LIMITS, "individual", "average")), unit=UNIT),
    "result": grouped(
        **within(
            _mean,
            value=MAYBE_VALUE(first),
            unit=UNIT,
            standard_uncertainty=MAYBE_STEP(second),
            expanded_uncertainty=MAYBE_STEP(third),
            n=COUNT(itemgetter(3)),
        ),
        **each(_HELD, "individual", "average"),
    ),
    "decision": _DECIDED,
    "reason": TEXT(lambda characteristic: "; ".join(characteristic.reasons) or _inside(characteristic)),
    "probability_of_conformity": CHANCE("probability"),
    "risk_if_accepted": CHANCE(lambda row: None if row.probability is None else 1.0 - row.probability),
    "risk_if_rejected": CHANCE("probability"),
    "prior": TEXT(lambda _: PRIOR),
    "to_decide": rows(_WAY)("ways"),
}
_PROCESS = table("process_reading", **within(first, **_CHARACTERISTIC), source=WORDS(second))
_INSTRUMENT = table(
    name=TEXT,
    **within("stated", **each(WORDS, "identity", "certificate"), calibrated=DATE, due=DATE),
    state=TEXT,
    undecided_because=WORDS("reason"),
)
_CORE = table(
    core=TEXT("name"),
    identity=WORDS,
    **each(COUNTED, "moldings", limit_moldings="limit"),
    undecided_because=WORDS("reason"),
)
_BATCH = grouped(
    **within(
        "case",
        id=TEXT("batch.batch.id"),
        **within("part.part", **each(TEXT, part_number="number", part_issue="issue", part_name="name")),
        **within("batch.batch", molded=DATE, quantity=COUNTED, **each(WORDS, "serials", "press")),
        retain_until=DATE("batch.batch.retain_until"),
        laboratory=WORDS("batch.laboratory.name"),
        **within("batch.laboratory", procedure=WORDS, measured=DATE),
        lots=rows(table(prepreg=TEXT, number=TEXT, certificate=WORDS))("batch.lot"),
    ),
    cores=rows(_CORE)("judgement.cores"),
)
_IN_SHORT = ("label", "lot", "decision", "reason", "probability_of_conformity")
_BRIEF = table(**{key: _CHARACTERISTIC[key] for key in _IN_SHORT})
_EVERY = table(answer=_DECIDED, characteristics=rows(_BRIEF))
DIGEST = Field({"type": "string", "pattern": "^[0-9a-f]{64}$"})
_CONCESSION = table(**each(TEXT, "number", "authority"), characteristics=TEXTS, reason=TEXT)
_USED = table(input=TEXT(first), key=KEY(second), stated=maybe(TEXT)(third), **{"from": TEXT(itemgetter(3))})
REPORT = {
    **within("judgement", answer=_DECIDED, reasons=TEXTS, remarks=TEXTS, not_judged=TEXTS),
    **DECISION,
    "with_every_specimen": maybe(_EVERY)("judgement.judgement_of_all"),
    "batch": _BATCH,
    "decision_rule": table(
        guard=FIGURE,
        confidence=KNOWN(lambda limits: None if limits.confidence is None else 100.0 * limits.confidence),
        coverage_factor=KNOWN,
    )("case.part.limits"),
    "characteristics": rows(in_its_unit(table("characteristic", **_CHARACTERISTIC)))(
        lambda report: [(row, _unit(row.rule)) for row in report.judgement.characteristics]
    ),
    "process": rows(in_its_unit(_PROCESS))(
        lambda report: [
            ((row, _source(report.case, row.name, row.zone)), _unit(row.rule))
            for row in report.judgement.process
        ]
    ),
    "instruments": rows(_INSTRUMENT)("judgement.instruments"),
    "concession": maybe(_CONCESSION)("case.batch.concession"),
    "replaces": maybe(table(record=DIGEST, reason=TEXT))("case.batch.replaces"),
    "cycle": maybe(
        table(
            zones=rows(ZONE_CYCLE)(lambda cycles: cycles.values()),
            draws=COUNT(lambda _: DRAWS),
            seed=COUNT(lambda _: SEED),
            vapor=TEXT(lambda _: VAPOR_BY),
        )
    )(lambda report: report.judgement.cycles or None),
    "values": rows(_USED)(lambda report: _used(report.case)),
    "measuring": MEASURING,
    "inputs": rows(table(file=TEXT(first), sha256=DIGEST(second)))(
        lambda report: [(name, sha256(data)) for name, data in report.files.items()]
    ),
    **within("measurement", **MEASUREMENT),
}
"""The keys of the answer of `report`, which a record has too."""
ANSWER = table(**REPORT)
report_json = ANSWER.json


def _used(case: Case) -> list[tuple[str, Any, str, str]]:
    """Which material values were used: in words, key, as stated, where from."""
    made = case.ingredients()
    words = in_words(made.values)
    return [(words[key], key, value.text, made.origins[key]) for key, value in made.values.items()]


def _source(case: Case, name: str, zone: str | None) -> str | None:
    """Where a process reading is from; zone: where its limit holds too."""
    reading = case.batch.process.get(name)
    if reading is None:
        return None
    if zone or reading.value is None:
        zone = zone or reading.zone
        return f"log {', '.join(log.file for log in case.batch.log if zone in log.zones)}, zone {zone}"
    return reading.source
