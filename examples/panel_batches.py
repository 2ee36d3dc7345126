"""The 25 batches of the case `panel`, judged and sealed while the case is written. All of it is invented.

Their readings stand in `panel_batches.csv`; what all of them share is the case's `batch.toml`. The newest was
sealed with two digits of a certificate exchanged, so the batch file that is written replaces that record.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable, Iterator
from importlib.resources import files
from itertools import groupby
from pathlib import Path

NEWEST = "26-125"
KEPT = "kept"
LOTS = {
    "L2301": ("150.2", "35.8"),
    "L2302": ("150.9", "36.3"),
    "L2303": ("149.8", "35.9"),
    "L2304": ("150.5", "36.4"),
    "L2305": ("149.4", "36.1"),
}
"""Fiber areal weight [g/m^2] and resin content [%] of the certificate of each lot of ud150."""

MISREAD = ("245.6 g/m^2", "254.6 g/m^2")
REPLACES = """
[replaces]
record = "{digest}"
reason = "the areal weight of lot W118 was read as 254.6 g/m^2; certificate C-1118 says 245.6"
"""


def write_records(folder: Path, progress: Callable[[int, int], None] | None = None) -> list[Path]:
    """Write a record for each batch below `kept`, and let the batch file replace the newest one's.

    folder: where the case has been written; progress: called with batches done and all of them. Returns the
    records.
    """
    from laminate.judging.reported import report_of
    from laminate.records.record import seal
    from laminate.values.canonical import sha256

    batch = (folder / "batch.toml").read_text("utf-8")
    part = (folder / "part.toml").read_bytes()
    written: list[Path] = []
    every = dict(_batches())
    for done, (name, rows) in enumerate(every.items(), 1):
        text = _batch_text(batch, rows[0])
        if name == NEWEST:
            text = _exchanged(text, *MISREAD)
        held = {"batch.toml": text.encode(), "part.toml": part, "coupons.csv": _table(rows).encode()}
        sealed = seal(report_of("batch.toml", held))
        path = folder / KEPT / name / "record.json"
        path.parent.mkdir(parents=True)
        path.write_bytes(sealed)
        written.append(path)
        if name == NEWEST:
            amended = batch.rstrip("\n") + "\n" + REPLACES.format(digest=sha256(sealed))
            (folder / "batch.toml").write_text(amended, "utf-8", newline="\n")
        if progress:
            progress(done, len(every))
    return written


def _batches() -> Iterator[tuple[str, list[dict[str, str]]]]:
    text = (files("laminate.examples") / "panel_batches.csv").read_text("utf-8")
    for name, rows in groupby(csv.DictReader(text.splitlines()), lambda row: row["batch"]):
        yield name, list(rows)


def _exchanged(text: str, old: str, new: str) -> str:
    assert text.count(old) == 1, old
    return text.replace(old, new)


def _batch_text(newest: str, row: dict[str, str]) -> str:
    """The batch file of another batch: its name, dates and lot in the place of the newest one's."""
    weight, content = LOTS[row["lot"]]
    measured = dt.date.fromisoformat(row["molded"]) + dt.timedelta(days=2)
    short, lot = row["batch"].removeprefix("26-"), row["lot"].removeprefix("L")
    for old, new in (
        ('id = "26-125"', f'id = "{row["batch"]}"'),
        ("molded = 2026-06-29", f"molded = {row['molded']}"),
        ("measured = 2026-07-01", f"measured = {measured}"),
        ('"125-1 to 125-4"', f'"{short}-1 to {short}-4"'),
        ('number = "L2305"\ncertificate = "C-2305"', f'number = "L{lot}"\ncertificate = "C-{lot}"'),
        ("149.4 g/m^2", f"{weight} g/m^2"),
        ("36.1 %", f"{content} %"),
    ):
        newest = _exchanged(newest, old, new)
    return newest


def _table(rows: list[dict[str, str]]) -> str:
    """The coupon table of one batch."""
    readings = [heading for heading in rows[0] if heading.endswith("]")]
    lines = [",".join(("specimen", "zone", "position", "lot", "operator", "plies", "method", *readings))]
    for row in rows:
        told = (row["specimen"], "panel", row["position"], row["lot"], row["operator"], "12", "digestion")
        lines.append(",".join((*told, *(row[heading] for heading in readings))))
    return "\n".join(lines) + "\n"
