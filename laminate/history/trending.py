"""Batches over time, from their records: control charts, scatter between lots, capability, basis values."""

from __future__ import annotations

import contextlib
import math
import time
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from laminate.history import lots
from laminate.history.control import Chart, Reach, chart_of, reached
from laminate.history.lots import Basis, Capable, Scatter, Wear
from laminate.history.points import Series, lot_form, series_of
from laminate.history.records import AT_ONCE, Check, Compute, Filed, Progress, gather
from laminate.records.contradictions import spelled
from laminate.records.differences import Recompute, rejudge
from laminate.records.rules import ANSWERS, FORMAT, record_of
from laminate.records.statement import Malformed
from laminate.values.problems import Problem, refuse_all, unknown_name

if TYPE_CHECKING:
    from concurrent.futures import ProcessPoolExecutor

    from laminate.records.verification import Needed, Signers

_, FAILS, UNDECIDED = ANSWERS
WORTH_A_PROCESS = 20
"""Records for each process from which starting it saves time: it takes 1.4 s, a record 0.02 to 0.13 s."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that changed with a batch; place: of the batch in the series, what: for programs, words:
    seen.
    """

    place: int
    what: str
    words: str


@dataclass(frozen=True, slots=True)
class Studied:
    """One series with everything that is said of it.

    chart: None of fewer than two batches; reach: where its slope over time leads, None without one.
    """

    series: Series
    chart: Chart | None
    marks: tuple[Mark, ...]
    scatter: tuple[Scatter, ...]
    wear: tuple[Wear, ...]
    capability: tuple[Capable, ...]
    basis: tuple[Basis, ...]
    reach: Reach | None


@dataclass(frozen=True, slots=True)
class Trend:
    """The whole answer: every record of the folder, and the series of those that count.

    passed_over: JSON that is no record; aside: what is not looked at; used: the records that count, of the
    parts that were asked for.
    """

    folder: str
    records: tuple[Filed, ...]
    passed_over: tuple[str, ...]
    aside: tuple[str, ...]
    studied: tuple[Studied, ...]
    signed: bool
    used: tuple[Filed, ...]

    @property
    def computed(self) -> int:
        """How many of the records that count were judged again."""
        return sum(filed.counts and filed.computed for filed in self.records)

    @property
    def proven(self) -> int:
        """How many of the records that count were taken as signatures of allowed signers prove them."""
        return sum(filed.counts and not filed.computed for filed in self.records)

    @property
    def all_verify(self) -> bool:
        """Whether nothing stands against any record."""
        return all(filed.verifies for filed in self.records)

    @property
    def alarm(self) -> float:
        """How often chance alone shows a signal in one or more of as many steady series, independent ones."""
        return 1.0 - math.prod(1.0 - studied.chart.alarm for studied in self.studied if studied.chart)

    @property
    def failing(self) -> list[str]:
        """The batches that are used and do not conform."""
        return [filed.batch for filed in self.used if filed.answer == FAILS]

    @property
    def undecided(self) -> list[str]:
        """The batches that are used and undecided."""
        return [filed.batch for filed in self.used if filed.answer == UNDECIDED]


def marks_of(series: Series) -> Iterator[Mark]:
    """Where lot, issue, press, core, method or an instrument of coupons change from one batch to the next."""
    for place, (before, after) in enumerate(pairwise(series.points), start=1):
        earlier, later = before.origin, after.origin
        changes = [
            ("lot", earlier.lot, later.lot, f"material lot {later.lot or 'not named'}"),
            ("issue", earlier.issue, later.issue, f"issue {later.issue} of the part"),
            ("press", earlier.press, later.press, f"press {later.press or 'not named'}"),
        ]
        for name, core, _ in later.cores:
            changes.append(("core", earlier.core(name)[0], core, f"core {name} {core or 'not named'}"))
        by = f"measured by {after.method or 'no named method'}"
        changes.append(("method", before.method, after.method, by))
        for name, instrument in later.instruments if series.key.zone else ():
            was = dict(earlier.instruments).get(name, instrument)
            changes.append(("instrument", was, instrument, f"{name} {instrument}"))
        for what, was, is_now, words in changes:
            if lot_form(was) != lot_form(is_now):
                yield Mark(place, what, words)


def study(series: Series) -> Studied:
    """Everything that can be said of one series."""
    tests, wear = tuple(lots.scatter_of(series)), tuple(lots.wear_of(series))
    capability, basis = tuple(lots.capability_of(series, tests)), tuple(lots.basis_of(series, tests))
    chart, marks = chart_of(series.values), tuple(marks_of(series))
    limits = series.limits.get("average", series.limits.get("individual", (None, None)))
    reach = reached(chart, len(series.points), limits)
    return Studied(series, chart, marks, tests, wear, capability, basis, reach)


def _chosen(part: str, chosen: Mapping[str, Sequence[str]]) -> bool:
    """Whether a part was asked for, however it is spelled."""
    parts = chosen.get("part") or ()
    return not parts or spelled(part) in map(spelled, parts)


def _known(records: Iterable[Filed], series: Sequence[Series], chosen: Mapping[str, Sequence[str]]) -> None:
    """Refuse a part or zone that no record has, and name those there are."""
    parts = sorted({filed.part[0] for filed in records} - {""})
    zones = sorted({each.key.zone for each in series if each.key.zone})
    problems: list[Problem] = []
    for what, known in (("part", parts), ("zone", zones)):
        for name in chosen.get(what, ()):
            if spelled(name) not in map(spelled, known) if what == "part" else name not in known:
                expected = f"a {what} of these records: {', '.join(known) or 'there is none'}"
                problems.append(unknown_name("", f"--{what}", name, expected, known, listed=True))
    refuse_all(problems)


def checker(signers: Signers | None, roles: Collection[str], now: int, *, every_one: bool) -> Check:
    """What the signatures of a record leave standing against it, and whether it is to be computed again.

    signers: None where signatures are not asked for; roles: that must be proven; every_one: compute
    all, also what signatures prove.
    """

    def check(path: Path, listed: Sequence[str], filed: Filed) -> tuple[list[str], bool]:
        if signers is None:
            return [], True
        from laminate.records.verification import proven

        try:
            stated = record_of(filed.content)
            verification = proven(path, filed.sha256, stated, stated, signers, roles, now, listed)
        except Malformed as fault:
            return [f"it is not as it was written: {fault}"], True
        filed.unsigned = not verification.signatures
        rejected = [s for s in verification.signatures if s.proven and s.role == "rejected"]
        filed.notes += [f"batch {filed.batch} was rejected by {s.name}: {s.goods}" for s in rejected]
        reasons = [reason.words for reason in verification.reasons]
        for signature in verification.signatures:
            reasons += [f"{signature.file}: {reason.words}" for reason in signature.reasons]
        signed = {signature.role for signature in verification.signatures} - {"rejected"}  # whatever it says
        trusted = verification.proven and bool(signed) and stated.format == FORMAT and bool(filed.figures)
        return reasons, every_one or not trusted

    return check


@contextlib.contextmanager
def _computing(recompute: Recompute, processes: int) -> Iterator[Compute]:
    """Judge records again, several at a time where there are processes for it."""
    with contextlib.ExitStack() as stack:

        @cache
        def pool() -> ProcessPoolExecutor:
            import multiprocessing
            from concurrent.futures import ProcessPoolExecutor

            fresh = multiprocessing.get_context("spawn")  # a fork would copy whatever threads hold
            workers = min(processes, AT_ONCE // WORTH_A_PROCESS)
            return stack.enter_context(ProcessPoolExecutor(workers, mp_context=fresh))

        def compute(records: list[bytes]) -> list[tuple[str, ...]]:
            judge = partial(_findings, recompute)
            worth = processes > 1 and len(records) >= 2 * WORTH_A_PROCESS
            return [*pool().map(judge, records)] if worth else [judge(data) for data in records]

        yield compute


def _findings(recompute: Recompute, data: bytes) -> tuple[str, ...]:
    return rejudge(recompute, data).findings


def trend(
    folder: Path,
    *,
    recompute: Recompute,
    allowed_signers: Path | None = None,
    revoked: Path | None = None,
    need: Needed = None,
    every: bool = False,
    chosen: Mapping[str, Sequence[str]] | None = None,
    progress: Progress | None = None,
    compute_all: bool = False,
    processes: int = 1,
) -> Trend:
    """Study the records below a folder.

    recompute: judges the inputs of a record again and tells what differs; allowed_signers: an OpenSSH
    allowed-signers file: then only records whose signatures are proven count, and what they say is taken;
    revoked, need: as in `verify`; every: also what has no limit; chosen: 'part' and 'zone' -> names to keep;
    progress: told how many are done; compute_all: judge again what signatures prove, too; processes: that do
    so at the same time. Raises `Refused` where there is no folder, no record, or one of these files is wrong.
    """
    signers: Signers | None = None
    roles: tuple[str, ...] = ()
    counts, now = None, int(time.time())
    if allowed_signers is not None:
        from laminate.records.verification import allowed, needed_roles, read_signers

        signers, roles = read_signers(allowed_signers, revoked), needed_roles(need)
        counts = partial(allowed, signers=signers, now=now)
    check = checker(signers, roles, now, every_one=compute_all)
    with _computing(recompute, processes) as compute:
        records, others, aside = gather(folder, check, compute, progress, counts)
    series = series_of([filed.figures for filed in records if filed.counts and filed.figures], every=every)
    asked = chosen or {}
    _known(records, series, asked)
    zones = asked.get("zone") or [each.key.zone or "" for each in series]
    wanted = (each for each in series if _chosen(each.key.part, asked) and (each.key.zone or "") in zones)
    used = tuple(filed for filed in records if filed.counts and _chosen(filed.part[0], asked))
    kept = (tuple(records), tuple(others), tuple(aside))
    return Trend(str(folder), *kept, tuple(map(study, wanted)), signers is not None, used)
