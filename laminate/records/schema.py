"""JSON Schema of a record: what is embedded, and what was said of it."""

from __future__ import annotations

from typing import Any

from laminate.records.cycle_schema import cycle
from laminate.values.quantities import ATTRIBUTES

Schema = dict[str, Any]

_DIGEST: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_TEXT: Schema = {"type": "string"}
_WORDS: Schema = {"type": ["string", "null"]}
_NUMBER: Schema = {"type": "number"}
_KNOWN: Schema = {"type": ["number", "null"]}
_COUNT: Schema = {"type": "integer", "minimum": 0}
_COUNTED: Schema = {"type": ["integer", "null"], "minimum": 0}
_CHANCE: Schema = {"type": ["number", "null"], "minimum": 0, "maximum": 1}
_TEXTS: Schema = {"type": "array", "items": _TEXT}
_KEY: Schema = {"type": ["array", "null"], "items": _TEXT, "minItems": 3, "maxItems": 3}
_DECISION: Schema = {"enum": ["conforms", "does not conform", "undecided"]}
_ATTRIBUTE: Schema = {"enum": list(ATTRIBUTES)}


def record() -> Schema:
    """The schema of the record that `report --out` writes, format 2, without its `$schema` and title."""
    properties = {
        "format": {"const": 2},
        "program": _closed(name={"const": "laminate"}, version=_TEXT, formulas_sha256=_DIGEST),
        "settings": _closed(significant_digits=_COUNT, joint=_drawn(), check=_drawn()),
        "inputs": _list(
            _closed(
                file={"type": "string", "description": "relative to the batch file"},
                role={"enum": ["batch", "part", "coupons", "history", "log"]},
                sha256=_DIGEST,
                base64={"type": "string", "contentEncoding": "base64"},
            )
        ),
        "answer": _DECISION,
        "reasons": _TEXTS,
        "remarks": _TEXTS,
        "not_judged": _TEXTS,
        "held_back": _list(
            _closed(rule=_COUNT, what=_TEXT, say=_WORDS, name=_WORDS, concession={"type": "boolean"})
        ),
        "covers": _or_null(
            _closed(
                zones=_TEXTS,
                represented=_list(_closed(zone=_TEXT, by=_TEXT)),
                not_measured=_list(_closed(zone=_TEXT, reason=_TEXT)),
                quantity=_COUNTED,
                serials=_WORDS,
                text=_TEXT,
            )
        ),
        "exclusions": _list(
            _closed(
                specimen=_TEXT,
                kind=_TEXT,
                reason=_TEXT,
                operator=_WORDS,
                matters=_WORDS,
                approvals=_list(
                    _closed(method=_WORDS, cause=_TEXT, approved_by=_TEXT, number=_TEXT, date=_TEXT)
                ),
            )
        ),
        "accepted": _list(
            _closed(specimen=_WORDS, code=_TEXT, file=_TEXT, place=_TEXT, found=_TEXT, reason=_TEXT)
        ),
        "corrections": _list({"type": "object"}),
        "readings": _list(
            _closed(
                specimen=_TEXT,
                kind=_TEXT,
                column=_TEXT,
                typed=_TEXT,
                unit=_WORDS,
                instrument=_WORDS,
                time=_WORDS,
                operator=_WORDS,
            )
        ),
        "declared": _list(
            _closed(key={"enum": ["traceable", "not recorded", "none", "exact"]}, of=_TEXT, reason=_TEXT)
        ),
        "chance_of_all": _CHANCE,
        "correlations": _list(
            _closed(
                of={"type": "array", "items": _ATTRIBUTE, "minItems": 2, "maxItems": 2},
                zone=_WORDS,
                value={"type": "number", "minimum": -1, "maximum": 1},
            )
        ),
        "with_every_specimen": _or_null(
            _closed(
                answer=_DECISION,
                characteristics=_list(
                    _closed(
                        label=_TEXT,
                        lot=_WORDS,
                        decision=_DECISION,
                        reason=_TEXT,
                        probability_of_conformity=_CHANCE,
                    )
                ),
            )
        ),
        "batch": _batch(),
        "decision_rule": _closed(guard=_NUMBER, confidence=_KNOWN, coverage_factor=_KNOWN),
        "characteristics": _list(_ref("characteristic")),
        "process": _list(_ref("process_reading")),
        "instruments": _list(
            _closed(
                name=_TEXT,
                identity=_WORDS,
                certificate=_WORDS,
                calibrated=_WORDS,
                due=_WORDS,
                state=_TEXT,
                undecided_because=_WORDS,
            )
        ),
        "concession": _or_null(_closed(number=_TEXT, authority=_TEXT, characteristics=_TEXTS, reason=_TEXT)),
        "replaces": _or_null(_closed(record=_DIGEST, reason=_TEXT)),
        "values": _list(_closed(**{"input": _TEXT, "key": _KEY, "stated": _WORDS, "from": _TEXT})),
        "measuring": _list(_closed(**{"input": _TEXT, "stated": _WORDS, "from": _TEXT})),
        "cycle": cycle(),
        "specimens": _list(_ref("specimen")),
        "prepreg": _list(_ref("specimen")),
        "average": {
            **_by_attribute(_ref("average")),
            "required": ["zones"],
        },
        "average_with_excluded": _by_attribute(_ref("average")),
        "budget": _by_attribute(_list(_ref("contribution"))),
        "zones": _list(
            _closed(
                zone=_WORDS,
                average=_by_attribute(_ref("average")),
                average_with_excluded=_by_attribute(_ref("average")),
                budget=_by_attribute(_list(_ref("contribution"))),
            )
        ),
        "outliers": _list(
            _closed(
                attribute=_ATTRIBUTE,
                zone=_WORDS,
                method=_TEXT,
                specimen=_TEXT,
                normed_residual=_NUMBER,
                critical=_NUMBER,
            )
        ),
        "warnings": _list(_ref("warning")),
        "monte_carlo": _list(
            _closed(
                attribute=_ATTRIBUTE,
                method=_TEXT,
                specimen=_TEXT,
                first_order=_NUMBER,
                monte_carlo=_NUMBER,
                interval_95={"type": "array", "items": _NUMBER, "minItems": 2, "maxItems": 2},
                unit=_TEXT,
                draws=_COUNT,
                agree={"type": "boolean"},
                used={"enum": ["first order", "Monte Carlo"]},
            )
        ),
        "reconciliation": _closed(
            discrepancies=_list(_ref("discrepancy")), adjustment=_or_null(_ref("adjustment"))
        ),
        "charge": _or_null(
            _closed(
                prepreg=_TEXT,
                resin_content=_closed(**_quantity()),
                mass_left=_closed(**_quantity()),
                budget=_list(_ref("contribution")),
                not_measured=_TEXTS,
            )
        ),
        "notes": _TEXTS,
        "not_measured": _TEXTS,
    }
    properties["average"]["properties"]["zones"] = {
        "type": "object",
        "additionalProperties": _by_attribute(_ref("average")),
    }
    return {**_closed(**properties), "$defs": _definitions()}


def _definitions() -> Schema:
    characteristic = _characteristic()
    return {
        "characteristic": _closed(**characteristic),
        "process_reading": _closed(**characteristic, source=_WORDS),
        "held": _held(),
        "limits": _or_null(_closed(min=_KNOWN, max=_KNOWN)),
        "average": _closed(
            **_quantity(),
            n=_COUNT,
            standard_deviation=_KNOWN,
            expanded_uncertainty=_KNOWN,
            coverage_factor=_KNOWN,
            effective_degrees_of_freedom=_KNOWN,
            method=_WORDS,
        ),
        "contribution": _closed(
            input=_TEXT, key=_KEY, share=_NUMBER, standard_uncertainty=_NUMBER, if_halved=_NUMBER, unit=_TEXT
        ),
        "discrepancy": _discrepancy(),
        "adjustment": _adjustment(),
        "measured": _closed(**_measured()),
        "specimen": _specimen(),
        "warning": _closed(
            code=_TEXT, file=_TEXT, place=_TEXT, found=_TEXT, expected=_TEXT, hint=_TEXT, accepted=_WORDS
        ),
    }


def _batch() -> Schema:
    return _closed(
        id=_TEXT,
        part_number=_TEXT,
        part_issue=_TEXT,
        part_name=_TEXT,
        molded=_WORDS,
        quantity=_COUNTED,
        serials=_WORDS,
        press=_WORDS,
        retain_until=_WORDS,
        laboratory=_WORDS,
        procedure=_WORDS,
        measured=_WORDS,
        lots=_list(_closed(prepreg=_TEXT, number=_TEXT, certificate=_WORDS)),
        cores=_list(
            _closed(
                core=_TEXT,
                identity=_WORDS,
                moldings=_COUNTED,
                limit_moldings=_COUNTED,
                undecided_because=_WORDS,
            )
        ),
    )


def _characteristic() -> Schema:
    way_by_input = _closed(
        input=_TEXT,
        key=_KEY,
        contribution_now=_NUMBER,
        contribution_needed=_KNOWN,
        share_of_its_uncertainty=_KNOWN,
        unit=_TEXT,
        text=_TEXT,
    )
    return {
        "name": _TEXT,
        "zone": _WORDS,
        "label": _TEXT,
        "lot": _WORDS,
        "method": _WORDS,
        "limits": _closed(individual=_ref("limits"), average=_ref("limits"), unit=_TEXT),
        "result": _closed(
            **_quantity(value=_KNOWN),
            expanded_uncertainty=_KNOWN,
            n=_COUNT,
            individual=_or_null(_ref("held")),
            average=_or_null(_ref("held")),
        ),
        "decision": _DECISION,
        "reason": _TEXT,
        "probability_of_conformity": _CHANCE,
        "risk_if_accepted": _CHANCE,
        "risk_if_rejected": _CHANCE,
        "prior": _TEXT,
        "to_decide": _list({"anyOf": [_closed(coupons=_COUNT, text=_TEXT), way_by_input]}),
    }


def _held() -> Schema:
    reading = _closed(
        name=_TEXT,
        **_quantity(),
        expanded_uncertainty=_NUMBER,
        coverage_factor=_NUMBER,
        effective_degrees_of_freedom=_KNOWN,
        guard_band=_NUMBER,
        decision=_DECISION,
    )
    return _closed(
        decision=_DECISION, reasons=_TEXTS, probability_of_conformity=_CHANCE, readings=_list(reading)
    )


def _specimen() -> Schema:
    compared = _closed(
        attribute=_ATTRIBUTE,
        methods={"type": "array", "items": _TEXT, "minItems": 1, "maxItems": 2},
        difference=_NUMBER,
        allowed=_NUMBER,
        unit=_TEXT,
        agree={"type": "boolean"},
    )
    made = _closed(
        specimen=_TEXT,
        file=_TEXT,
        zone=_WORDS,
        position=_WORDS,
        lot=_WORDS,
        plies=_COUNTED,
        methods=_TEXTS,
        operator=_WORDS,
        time=_WORDS,
        remark=_WORDS,
        excluded=_WORDS,
        replaces=_WORDS,
        replaced_by=_WORDS,
        other_methods=_list(_closed(attribute=_ATTRIBUTE, **_measured())),
        agreement=_list(compared),
        warnings=_list(_ref("warning")),
    )
    made["properties"] |= {"prepreg": _TEXT, **dict.fromkeys(ATTRIBUTES, _ref("measured"))}
    return made


def _discrepancy() -> Schema:
    suspect = _closed(
        input=_TEXT,
        key=_KEY,
        value=_KNOWN,
        reconciled=_KNOWN,
        shift=_NUMBER,
        unit=_TEXT,
        standard_uncertainties=_KNOWN,
        text=_TEXT,
    )
    return _closed(
        specimen=_TEXT,
        attribute=_ATTRIBUTE,
        methods={"type": "array", "items": _TEXT, "minItems": 2, "maxItems": 2},
        difference=_NUMBER,
        standard_uncertainty=_NUMBER,
        unit=_TEXT,
        suspects=_list(suspect),
    )


def _adjustment() -> Schema:
    adjusted = _closed(
        input=_TEXT,
        key=_KEY,
        value=_KNOWN,
        adjusted=_KNOWN,
        standard_uncertainty=_NUMBER,
        adjusted_standard_uncertainty=_NUMBER,
        shift_in_u=_NUMBER,
        unit=_TEXT,
    )
    return _closed(
        note=_TEXT,
        chi_squared=_NUMBER,
        degrees_of_freedom=_COUNT,
        p=_CHANCE,
        conditions=_COUNT,
        void_contents_held_to_zero=_COUNT,
        inputs=_list(adjusted),
        means=_by_attribute(_closed(before=_NUMBER, after=_NUMBER, unit=_TEXT)),
    )


def _measured() -> Schema:
    return {
        **_quantity(),
        "expanded_uncertainty": _KNOWN,
        "coverage_factor": _KNOWN,
        "effective_degrees_of_freedom": _KNOWN,
        "method": _TEXT,
    }


def _drawn() -> Schema:
    return _closed(draws=_COUNT, seed=_COUNT)


def _quantity(value: Schema = _NUMBER) -> Schema:
    return {"value": value, "unit": _TEXT, "standard_uncertainty": _KNOWN}


def _by_attribute(inner: Schema) -> Schema:
    return {"type": "object", "properties": dict.fromkeys(ATTRIBUTES, inner), "additionalProperties": False}


def _closed(**properties: Schema) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _list(inner: Schema) -> Schema:
    return {"type": "array", "items": inner}


def _or_null(inner: Schema) -> Schema:
    return {"anyOf": [inner, {"type": "null"}]}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/$defs/{name}"}
