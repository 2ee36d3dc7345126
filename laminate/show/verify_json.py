"""The answer of `verify`: its keys, in JSON and its schema; those of `sign` are made of the same."""

from __future__ import annotations

from operator import methodcaller

from laminate.records.rules import BESIDE
from laminate.show.fields import MAYBE_TEXT, TEXT, TEXTS, YES, Field, each, maybe, one_of, rows, table, within
from laminate.show.report_json import DIGEST, REPORT

FINDINGS = rows(table("finding", **each(TEXT, "code", "words")))
"""What stands against a signature or a record."""
_RETESTS = rows(table(**each(MAYBE_TEXT, "specimen", "replaced_by")))
SAID_BESIDE = within(
    "beside",
    **{key: Field(maybe(REPORT[key]).schema, read=methodcaller("get", key)) for key in BESIDE},
    retests=Field(_RETESTS.schema, read=methodcaller("get", "retests"), left_out=True),
)
"""What a record says beside its answer, as it stands there."""
_SIGNATURE = table(
    "signature",
    file=TEXT,
    **each(MAYBE_TEXT, "role", "name", time_claimed="time", key="key", goods="goods"),
    concession_sha256=MAYBE_TEXT("concession"),
    verdict=one_of("proven", "not proven")(lambda signed: "proven" if signed.proven else "not proven"),
    reasons=FINDINGS,
)
ANSWER = table(
    record=TEXT,
    record_sha256=DIGEST("sha256"),
    **each(MAYBE_TEXT, "answer", "answer_today"),
    **SAID_BESIDE,
    concession=MAYBE_TEXT,
    proven=YES,
    but_for=TEXTS,
    reasons=FINDINGS,
    signatures=rows(_SIGNATURE),
    notes=TEXTS,
)
