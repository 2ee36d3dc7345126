"""Quality's `report` and `trend`: a batch against the limits of its part, and batches over time."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from laminate.front.call import Call
from laminate.front.options import TREND
from laminate.values.problems import refusal

from .answers import print_answer
from .command_options import command
from .options import Options, argument, option

if TYPE_CHECKING:
    from laminate.front.answer import Answer
    from laminate.judging.reported import Report


@command(
    html="write the report as one HTML file", why="with budgets, chances, coupons, instruments, assumptions"
)
def report(
    batch: Annotated[Path, argument("BATCH", "batch.toml")],
    out: Annotated[Path | None, option("DIR", "write record.json and report.html there")] = None,
    *,
    options: Options,
) -> None:
    """Decide whether a batch meets its limits, with the risk of error.

    Exit status 1 where it does not conform or is undecided. The files decide; no option changes a limit.
    """
    from laminate.front.batch_calls import report as judged

    keep = (lambda answer: _keep(answer.result, out)) if out else None
    print_answer(options, lambda: judged(batch), page="written", keep=keep)


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
    write_together({record: sealed, folder / "report.html": page_of(sealed, signed)})
    return [record, folder / "report.html"]


@command(
    TREND, "html units why", page="written", why="every batch, test and capability, and how it is computed"
)
def trend(folder: Annotated[Path, argument("FOLDER", "records, in it or below it")], *, given: Any) -> Answer:
    """Chart batches over time: control limits, lots and capability.

    A record that signatures of allowed signers prove is used as it stands; every other one is first computed
    again from its own inputs. Exit status 1 where a record does not verify: it is shown and not used.
    """
    from laminate.front.batch_calls import studied

    from . import tables

    with tables.progress("records") as advance:
        return studied(Call(TREND, folder, given, from_command_line=True), advance, os.cpu_count() or 1)
