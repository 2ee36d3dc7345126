"""Quality's `report`: a batch against the limits of its part, on the screen and as files to keep."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from laminate.values.problems import refusal

from .answers import NO, print_json
from .options import AsJson, Options, Units, argument, flag, option

if TYPE_CHECKING:
    from laminate.judging.reported import Report


def report(
    batch: Annotated[Path, argument("BATCH", "batch.toml")],
    out: Annotated[Path | None, option("DIR", "write record.json and report.html there")] = None,
    html: Annotated[Path | None, option("FILE", "write the report as one HTML file")] = None,
    why: Annotated[bool, flag("--why", "with budgets, chances, coupons, instruments, assumptions")] = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Decide whether a batch meets its limits, with the risk of error.

    Exit status 1 where it does not conform or is undecided. The files decide; no option changes a limit.
    """
    from laminate.judging.reported import report as judged
    from laminate.show.pages import page_of
    from laminate.show.report_json import report_json
    from laminate.show.report_page import report_document
    from laminate.values.durable import write_page

    options = Options(units)
    options.check()
    judged_report = judged(batch)
    answer = report_json(judged_report)
    document = report_document(answer, units)
    written = _keep(judged_report, out) if out else []
    if html:
        write_page(html, page_of(document).encode())
        written.append(html)
    if as_json:
        print_json({**answer, **({"written": [str(path) for path in written]} if written else {})})
    else:
        from . import tables

        tables.show(document.screen(why=why, written=written))
    if answer["answer"] != "conforms":
        raise typer.Exit(NO)


def _keep(answer: Report, folder: Path) -> list[Path]:
    """Write the sealed record and its page; a record that somebody signed is never replaced by another."""
    from laminate.records.record import page_of, seal
    from laminate.records.signed_beside import signed_beside
    from laminate.values.canonical import sha256
    from laminate.values.durable import write_together

    sealed = seal(answer)
    digest, record = sha256(sealed), folder / "record.json"
    signed = signed_beside(record, digest)
    if signed and (not record.is_file() or record.read_bytes() != sealed):
        hint = "nothing was written; name a new folder, and in [replaces] the record that this one replaces"
        expected = "a folder without signatures of another record"
        raise refusal("signed-record", str(record), "", "another record, signed", expected, hint)
    page = page_of(sealed, signed)
    assert page is not None
    write_together({record: sealed, folder / "report.html": page})
    return [record, folder / "report.html"]
