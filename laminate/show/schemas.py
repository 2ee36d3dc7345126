"""JSON Schemas of part file, batch file and record, so that an editor checks them, and of answers."""

from __future__ import annotations

import json
from importlib import import_module
from typing import TYPE_CHECKING, Any

from laminate.show.schema_examples import explain
from laminate.show.words_file import words_file
from laminate.values.quantities import ATTRIBUTES

if TYPE_CHECKING:
    from pydantic import BaseModel

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
COMMANDS = (
    *("predict", "fill", "core", "cycle", "correct", "measure", "report", "trend"),
    *("sign", "verify", "extract"),
)
KINDS = {
    "part": "a part file: what engineering fixes",
    "batch": "a batch file: what happened to one batch",
    "record": "a record: a judged batch with every file it was read from",
    **{command: f"the answer of 'laminate {command} --json'" for command in COMMANDS},
}


def schema(kind: str) -> Schema:
    """The JSON Schema of one kind of file, or of the answer of a command.

    kind: one of `KINDS`. A TOML date is a text such as 2026-11-18 to a schema.
    """
    files = {"part": _part, "batch": _batch, "record": _record}
    schema: Schema = json.loads(json.dumps(files[kind]() if kind in files else _answer(kind)))
    explain(schema)
    return {"$schema": DIALECT, "title": KINDS[kind], **schema}


def _answer(command: str) -> Schema:
    """An answer as its command prints it: with its format, and the pages and files that it wrote."""
    from laminate.show.fields import TEXTS, WORDS, schema_of

    def printed(answer_schema: Schema) -> Schema:
        written = {"html": WORDS.schema, "written": TEXTS.schema}
        properties = {"format": {"const": 1}, **answer_schema["properties"], **written}
        return {**answer_schema, "properties": properties, "required": ["format", *answer_schema["required"]]}

    schema = schema_of(import_module(f"laminate.show.{command}_json").ANSWER)
    if "anyOf" not in schema:
        return printed(schema)
    return {**schema, "anyOf": [printed(branch) for branch in schema["anyOf"]]}


def _of(model: type[BaseModel]) -> Schema:
    from pydantic.json_schema import GenerateJsonSchema

    class OfFiles(GenerateJsonSchema):
        """Says only defaults that can be written in a file: no quantities, no whole tables."""

        def default_schema(self, schema: Any) -> Schema:
            if isinstance(schema.get("default"), str | int | float | list | dict):
                return super().default_schema(schema)
            return self.generate_inner(schema["schema"])

    model_schema = model.model_json_schema(schema_generator=OfFiles)
    model_schema.pop("title", None)
    for name, table in {model.__name__: model_schema, **model_schema.get("$defs", {})}.items():
        for key, (meaning, example) in words_file("keys").get(name, {}).items():
            key_schema = table["properties"][key]
            key_schema["description"] = meaning
            if example != "":
                key_schema["examples"] = [example]
    return model_schema


def _batch() -> Schema:
    from laminate.files.batch import Batch

    return _of(Batch)


def _part() -> Schema:
    from laminate.files.part import Part

    schema = _of(Part)
    schema["properties"]["limits"] = _limits()
    schema["$defs"].update(_rules())
    return schema


def _record() -> Schema:
    """The record that `report --out` writes: what was said, and every file that it was read from."""
    from laminate.show.fields import schema_of
    from laminate.show.record_json import RECORD

    return schema_of(RECORD)


def _limits() -> Schema:
    """The table [limits], which is read by `laminate.files.limits`."""
    from laminate.files.limits import PREPREG_ATTRIBUTES, SHARES

    shares = {
        "confidence": "of expanded uncertainties",
        "chance": "least chance that all goes well of a ply count that is advised",
        "chance_holds": "least chance that the press and the tool hold on a ply count that is advised",
    }
    guard = "guard band as a multiple of the expanded uncertainty; 0 is simple acceptance"
    fixed = _value("number", "fixed, in the place of a confidence", 2.0, minimum=1, maximum=10)
    prepreg = _closed({key: _ref("rule", ATTRIBUTES[key].kind) for key in PREPREG_ATTRIBUTES})
    known: Schema = {
        "guard": {**_value("number", guard, 1.0, minimum=0, maximum=10), "default": 1.0},
        **{key: _value("string", words, SHARES[key][0]) for key, words in shares.items()},
        "coverage_factor": fixed,
        **{key: _attribute(key) for key in ATTRIBUTES},
        "prepreg": _table("the prepreg, by its name in this file", prepreg),
        "process": _table("the process reading, by its name in the batch file", _ref("rule", "any")),
    }
    return {
        **_closed(known),
        "description": "what must be met; a zone's limit replaces the general one",
        "not": {"required": ["confidence", "coverage_factor"]},
    }


def _value(types: str | list[str], words: str, example: str | float, **bounds: float) -> Schema:
    return {"type": types, **bounds, "description": words, "examples": [example]}


def _attribute(key: str) -> Schema:
    """Limits of an attribute: for every zone, and for single zones by their names."""
    kind = ATTRIBUTES[key].kind
    return {
        "type": "object",
        "description": ATTRIBUTES[key].words,
        "minProperties": 1,
        "properties": dict.fromkeys(("individual", "average"), _ref("bounds", kind)),
        "additionalProperties": _ref("rule", kind),
    }


def _ref(what: str, kind: str) -> Schema:
    """To the definition of the bounds, or of the rule with two of them, of a kind of quantity."""
    return {"$ref": f"#/$defs/{what}_{kind}"}


def _rules() -> dict[str, Schema]:
    """Bounds and rules of every kind of quantity that has limits."""
    from laminate.values.units import kind_words

    rules: dict[str, Schema] = {}
    types: str | list[str]
    for kind in dict.fromkeys([*(attribute.kind for attribute in ATTRIBUTES.values()), "any"]):
        types, words, example = ["string", "number"], "a quantity, without ±", "125 degC"
        if kind != "any":
            known, example = kind_words(kind)
            types, words = "string", f'{known} without ±, such as "{example}"'
        value, bounds = _value(types, words, example), _ref("bounds", kind)
        rules[f"bounds_{kind}"] = {**_closed({"min": value, "max": value}), "minProperties": 1}
        rule: Schema = {"individual": bounds, "average": bounds}
        if kind == "any":
            rule["temperature"] = _value("string", "of the laminate, above which time counts", "100 degC")
        rules[f"rule_{kind}"] = {**_closed(rule), "minProperties": 1}
    return rules


def _closed(properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "additionalProperties": False}


def _table(words: str, inner: Schema) -> Schema:
    return {"type": "object", "description": words, "additionalProperties": inner}
