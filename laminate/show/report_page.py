"""The report as one HTML file that needs nothing else: no network, no script, no fonts of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from laminate.show import report_cycle, report_formulas, report_summary, report_tables, report_view
from laminate.show.pages import render

HEADINGS = {
    "batch": "Batch and rule",
    "characteristics": "Characteristics",
    "process": "Process readings",
    "cycle": "Press cycle, from the log: for screening",
    "measured": "What was measured, by which method",
    "computed": "How it is computed",
    "excluded": "Excluded and replaced coupons",
    "warnings": "Warnings and notes",
    "instruments": "Instruments",
    "materials": "Materials, lots and cores",
    "cautions": "Cautions",
    "signatures": "Signatures",
    "files": "Files and digests",
}


def page(
    answer: Mapping[str, Any], record_sha256: str | None, signatures: Sequence[Mapping[str, Any]] = ()
) -> str:
    """The report page of a judged batch.

    answer: the keys of `report`'s JSON, so a record does as well; record_sha256: of the record, None where
    none was sealed; signatures: each `role`, `name`, `time`, `key`, `goods` and `remark` as the statements
    beside the record say, a text or None. Equal input gives an equal page.
    """
    view: dict[str, Any] = {
        "answer": answer,
        "headings": HEADINGS,
        "batch": answer["batch"],
        "head": report_view.headline(answer),
        "chance": report_summary.CHANCE,
        "facts": report_view.facts(answer),
        "summary": report_view.summary(answer),
        "characteristics": [
            report_view.block(characteristic, answer) for characteristic in answer["characteristics"]
        ],
        "process": [report_view.block(row, answer) for row in answer["process"]],
        "cycle": report_cycle.tables(answer),
        "averages": [
            *report_tables.averages(answer),
            *report_tables.agreement(answer),
            *report_tables.evidence(answer),
        ],
        "specimens": [*report_tables.specimens(answer), *report_tables.readings(answer)],
        "formulas": report_formulas.formulas(answer),
        "uncertainty": report_formulas.UNCERTAINTY,
        "excluded": report_tables.excluded(answer),
        "warnings": report_tables.warnings(answer),
        "notes": report_tables.notes(answer),
        "instruments": [*report_tables.instruments(answer), *report_formulas.measuring(answer)],
        "materials": report_tables.materials(answer),
        "cautions": report_tables.cautions(answer),
        "files": report_tables.files(answer),
        "record": record_sha256,
        "signatures": report_tables.signatures(signatures),
        "signers": [
            f"{signature['role']} by {signature['name']}"
            for signature in signatures
            if not signature["remark"]
        ],
    }
    return render("report.html", **view)
