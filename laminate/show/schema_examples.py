"""A meaning and an example for each key of a schema that has none of its own."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

from laminate.values.quantities import ATTRIBUTES

Schema = dict[str, Any]
PLAIN = {"string": "text", "number": 0.5, "integer": 1, "boolean": True, "null": None}
"""Examples of the types that say no more."""
SHA256 = "^[0-9a-f]{64}$"


@cache
def _meanings() -> dict[str, tuple[str, Any]]:
    text = files("laminate.show").joinpath("answer_keys.toml").read_text("utf-8")
    own = {
        key: tuple(told) if isinstance(told, list) else (told, None)
        for key, told in tomllib.loads(text).items()
    }
    return {**{key: (attribute.words, None) for key, attribute in ATTRIBUTES.items()}, **own}


def explain(schema: Schema) -> None:
    """Give each key of a schema a meaning and an example, where it has none, in place."""
    for key, told in _keys(schema):
        meaning, example = _meanings().get(key, ("", None))
        if meaning:
            told.setdefault("description", meaning)
        if example is not None and "examples" not in told and _is_of(example, told):
            told["examples"] = [example]
    for _, told in _keys(schema):
        if not {"examples", "enum", "const"} & set(told):
            told["examples"] = [example_of(told, schema)]


def _keys(node: Any) -> Iterator[tuple[str, Schema]]:
    if isinstance(node, dict):
        named = node.get("properties")
        for key, told in named.items() if isinstance(named, dict) else ():
            yield key, told
            yield from _keys(told)
        for key, inner in node.items():
            if key not in ("properties", "examples"):
                yield from _keys(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from _keys(inner)


def _types(told: Schema) -> set[str]:
    kinds = told.get("type", [])
    return {kinds} if isinstance(kinds, str) else set(kinds)


def _is_of(example: Any, told: Schema) -> bool:
    if "pattern" in told and not re.search(told["pattern"], str(example)):
        return False
    kinds = {bool: "boolean", int: "integer", float: "number", str: "string"}
    return kinds[type(example)] in _types(told) or (type(example) is int and "number" in _types(told))


def example_of(told: Schema, root: Schema) -> Any:
    """An example of what a schema takes: its own, else put together from those of its parts."""
    if told.get("examples"):
        return told["examples"][0]
    if "const" in told:
        return told["const"]
    if "enum" in told:
        return told["enum"][0]
    if "$ref" in told:
        return example_of(root["$defs"][told["$ref"].rpartition("/")[2]], root)
    for either in ("anyOf", "oneOf", "allOf"):
        if told.get(either):
            return example_of(told[either][0], root)
    if told.get("pattern") == SHA256:
        return "0" * 64
    kinds = _types(told)
    if "object" in kinds or "properties" in told:
        return _table(told, root)
    if "array" in kinds:
        least = max(1, told.get("minItems", 1))
        return [example_of(told.get("items", {"type": "string"}), root)] * least
    return next((PLAIN[kind] for kind in PLAIN if kind in kinds), "text")


def _table(told: Schema, root: Schema) -> Schema:
    keys = told.get("properties", {})
    needed = told.get("required") or list(keys)[:1]
    table = {key: example_of(keys[key], root) for key in needed if key in keys}
    others = told.get("additionalProperties")
    if not table and isinstance(others, dict):
        return {"NAME": example_of(others, root)}
    return table
