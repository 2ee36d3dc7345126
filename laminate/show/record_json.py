"""The record that `report --out` writes: what was said, and every file that it was read from."""

from __future__ import annotations

from base64 import b64encode

from laminate.coupons import monte_check
from laminate.formulas import joint_conformity
from laminate.records.inputs import ROLES
from laminate.records.rules import FORMAT
from laminate.show.fields import (
    COUNT,
    TEXT,
    Field,
    first,
    grouped,
    one_of,
    rows,
    second,
    table,
    third,
    within,
)
from laminate.show.report_json import DIGEST, REPORT
from laminate.values.canonical import DIGITS, sha256

_PROGRAM = table(name=Field({"const": "laminate"}), version=TEXT, formulas_sha256=DIGEST)
_DRAWN = table(draws=COUNT("DRAWS"), seed=COUNT("SEED"))
_NAME = Field({"type": "string", "description": "relative to the batch file"})
_BYTES = Field({"type": "string", "contentEncoding": "base64"}, lambda data, _: b64encode(data).decode())
_DIGEST = DIGEST(lambda file: sha256(file.data))
_FILE = table(file=_NAME("name"), role=one_of(*ROLES), sha256=_DIGEST, base64=_BYTES("data"))
RECORD = table(
    format=Field({"const": FORMAT}, read=lambda _: FORMAT),
    program=Field(_PROGRAM.schema, read=second),
    settings=grouped(
        significant_digits=COUNT(lambda _: DIGITS),
        joint=_DRAWN(lambda _: joint_conformity),
        check=_DRAWN(lambda _: monte_check),
    ),
    **within(first, **REPORT) | {"inputs": rows(_FILE)(third)},
)
"""Of a report, the program and the files."""
