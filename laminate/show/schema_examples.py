"""A meaning and an example for each key of a schema that has none of its own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from laminate.show.words_file import words_file
from laminate.values.quantities import ATTRIBUTES

Schema = dict[str, Any]
PLAIN = {"string": "text", "number": 0.5, "integer": 1, "boolean": True, "null": None}
"""Examples of the types that say no more."""
SHA256 = "^[0-9a-f]{64}$"


@cache
def _meanings() -> dict[str, tuple[str, Any]]:
    read = words_file("answer_keys").items()
    meanings = {key: tuple(of) if isinstance(of, list) else (of, None) for key, of in read}
    return {**{key: (attribute.words, None) for key, attribute in ATTRIBUTES.items()}, **meanings}


def explain(schema: Schema) -> None:
    """Give each key of a schema a meaning and an example, where it has none, in place."""
    for key, key_schema in _keys(schema):
        meaning, example = _meanings().get(key, ("", None))
        if meaning:
            key_schema.setdefault("description", meaning)
        if example is not None and "examples" not in key_schema and _is_of(example, key_schema):
            key_schema["examples"] = [example]
    for _, key_schema in _keys(schema):
        if not {"examples", "enum", "const"} & set(key_schema):
            key_schema["examples"] = [example_of(key_schema, schema)]


def _keys(node: Any) -> Iterator[tuple[str, Schema]]:
    if isinstance(node, dict):
        named = node.get("properties")
        for key, key_schema in named.items() if isinstance(named, dict) else ():
            yield key, key_schema
            yield from _keys(key_schema)
        for key, inner in node.items():
            if key not in ("properties", "examples"):
                yield from _keys(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from _keys(inner)


def _types(schema: Schema) -> set[str]:
    kinds = schema.get("type", [])
    return {kinds} if isinstance(kinds, str) else set(kinds)


def _is_of(example: Any, schema: Schema) -> bool:
    if "pattern" in schema and not re.search(schema["pattern"], str(example)):
        return False
    kinds = {bool: "boolean", int: "integer", float: "number", str: "string"}
    return kinds[type(example)] in _types(schema) or (type(example) is int and "number" in _types(schema))


def example_of(schema: Schema, root: Schema) -> Any:
    """An example of what a schema takes: its own, else put together from those of its parts."""
    if schema.get("examples"):
        return schema["examples"][0]
    if "const" in schema:
        return schema["const"]
    if "enum" in schema:
        return schema["enum"][0]
    if "$ref" in schema:
        return example_of(root["$defs"][schema["$ref"].rpartition("/")[2]], root)
    if "anyOf" in schema:
        return example_of(schema["anyOf"][0], root)
    if schema.get("pattern") == SHA256:
        return "0" * 64
    kinds = _types(schema)
    if "object" in kinds or "properties" in schema:
        return _table(schema, root)
    if "array" in kinds:
        return [example_of(schema.get("items", {"type": "string"}), root)] * schema.get("minItems", 1)
    return next((PLAIN[kind] for kind in PLAIN if kind in kinds), "text")


def _table(schema: Schema, root: Schema) -> Schema:
    keys = schema.get("properties", {})
    needed = schema.get("required") or list(keys)[:1]
    table = {key: example_of(keys[key], root) for key in needed if key in keys}
    others = schema.get("additionalProperties")
    if not table and isinstance(others, dict):
        return {"NAME": example_of(others, root)}
    return table
