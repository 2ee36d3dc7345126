"""A batch from its files to its answer: read, measure, judge, and the digests of what was read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from laminate.canonical import sha256
from laminate.coupon.batch_measure import measure_batch
from laminate.judge import Judgement, judge
from laminate.problems import Problem, Refused
from laminate.read.batch import Case, read_batch
from laminate.read.coupons import Coupons, read_coupons
from laminate.verdict.concession import check_concession
from laminate.verdict.exclusions import check_exclusions

if TYPE_CHECKING:
    from laminate.coupon.measurement import Measurement

__all__ = ["Case", "Report", "report"]


@dataclass(frozen=True)
class Report:
    """A judged batch with the bytes of every file it was read from, by name as called."""

    case: Case
    measurement: Measurement
    judgement: Judgement
    files: dict[str, bytes]

    def digests(self) -> list[dict[str, str]]:
        """File and SHA-256 of everything that was read."""
        return [{"file": name, "sha256": sha256(data)} for name, data in self.files.items()]


def report(path: Path, name: str | None = None) -> Report:
    """Judge the batch of a batch file. Raises `Refused` with every finding in its files."""
    case = read_batch(path, name)
    files = dict(case.files)
    case.check_coupon_files()
    tables = case.coupon_files()
    for table, called in tables:
        try:
            files[called] = table.read_bytes()
        except OSError as fault:
            words = fault.strerror or str(fault)
            raise Refused(
                Problem("file-unreadable", called, "", words, "a coupon table that can be read")
            ) from None
    coupons = read_coupons(tables, refuse=False) if tables else Coupons((), ())
    for table, called in tables:
        if table.read_bytes() != files[called]:
            raise Refused(
                Problem(
                    "file-changed",
                    called,
                    "",
                    "a table that changed while it was read",
                    "a table at rest",
                    "run it again",
                )
            )
    measurement = measure_batch(case, coupons)
    judgement = judge(case, measurement)
    check_exclusions(case, measurement)
    check_concession(case, judgement)
    return Report(case, measurement, judgement, files)
