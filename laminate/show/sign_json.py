"""The answer of `sign`: what was written, or why nothing was."""

from __future__ import annotations

from laminate.records.rules import NotAllowed
from laminate.show.fields import MAYBE_TEXT, NAME, TEXT, TEXTS, Field, any_of, each, table
from laminate.show.report_json import DIGEST
from laminate.show.verify_json import FINDINGS, SAID_BESIDE


def _signed(answer: bool) -> Field:
    return Field({"const": answer})(lambda _: answer)


ANSWER = any_of(
    lambda done: isinstance(done, NotAllowed),
    table(signed=_signed(False), reasons=FINDINGS("findings")),
    table(
        signed=_signed(True),
        **each(NAME, "statement", "signature"),
        **each(TEXT, "role", "name", "time", "key"),
        record_sha256=DIGEST("record"),
        answer=TEXT,
        answer_today=MAYBE_TEXT,
        **SAID_BESIDE,
        concession=MAYBE_TEXT,
        notes=TEXTS,
    ),
)
