"""The answer of `extract`: the files that it wrote; whether the record is proven is not asked here."""

from __future__ import annotations

from laminate.show.fields import NAME, NULL, TEXT, first, rows, second, table, third
from laminate.show.report_json import DIGEST

_FILE = table(file=NAME(first), role=TEXT(second), sha256=DIGEST(third))
ANSWER = table(batch=NAME, files=rows(_FILE), proven=NULL)
