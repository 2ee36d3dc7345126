"""A batch from its files to its answer: read, measure, judge, and the digests of what was read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import Case, read_batch
from laminate.files.coupons import Coupons, read_coupons
from laminate.files.entries import history_files
from laminate.files.named_file import relative_name
from laminate.judging.concession import check_concession
from laminate.judging.exclusions import check_exclusions
from laminate.judging.judgement import Judgement, judge
from laminate.values.problems import Refused

if TYPE_CHECKING:
    from laminate.coupons.measurement import Measurement

__all__ = ["Case", "Report", "report", "report_of"]


@dataclass(frozen=True)
class Report:
    """A judged batch with the bytes of every file it was read from, by name relative to the batch file."""

    judgement: Judgement
    files: dict[str, bytes]

    @property
    def case(self) -> Case:
        """The batch with its part."""
        return self.judgement.case

    @property
    def measurement(self) -> Measurement:
        """What was measured of it."""
        return self.judgement.measured

    @property
    def conforms(self) -> bool:
        """Whether the answer is that it conforms."""
        return self.judgement.answer == "conforms"

    def __reduce__(self) -> tuple[Callable[..., Report], tuple[str, dict[str, bytes]]]:
        """A copy is judged anew from the bytes: what was computed names its causes by object."""
        return report_of, (self.case.name, self.files)


def report(path: Path) -> Report:
    """Judge the batch of a batch file.

    Files are named relative to it, as a record names them. Raises `Refused` with every finding in its files,
    each by the name from where the program was called.
    """
    try:
        return _report(read_batch(path, path.name))
    except Refused as refusal:
        raise Refused(
            replace(problem, file=relative_name(str(path), problem.file)) if problem.file else problem
            for problem in refusal.problems
        ) from None


def report_of(name: str, files: Mapping[str, bytes]) -> Report:
    """Judge a batch of bytes alone, as a record holds them; nothing is read from the disk.

    name: of the batch file; files: the bytes of each file by its name relative to that one (`relative_name`).
    Raises `Refused`.
    """
    return _report(read_batch(Path(name), name, files))


def _report(case: Case) -> Report:
    tables = case.tables()
    judgement = judge(case, measure_batch(case, read_coupons(tables) if tables else Coupons((), ())))
    check_exclusions(judgement)
    check_concession(case, judgement)
    more = [(table, "a coupon table") for table in tables]
    more += [(history, "a history") for history in history_files(case.coupon_files()).values()]
    return Report(judgement, case.files | {file.name: file.read(what) for file, what in more})
