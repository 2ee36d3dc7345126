"""Batches over time, from their records: control charts, scatter between lots, capability, basis values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from laminate.history import lots
from laminate.history.control import Chart, chart_of
from laminate.history.lots import Basis, Capable, Scatter, Wear
from laminate.history.points import Series, series_of
from laminate.history.records import Check, Filed, Progress, gather
from laminate.records.said_again import Recompute


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
    """One series with everything that is said of it; chart is None of fewer than two batches."""

    series: Series
    chart: Chart | None
    marks: tuple[Mark, ...]
    scatter: tuple[Scatter, ...]
    wear: tuple[Wear, ...]
    capability: tuple[Capable, ...]
    basis: tuple[Basis, ...]

    @property
    def lots_scatter(self) -> bool:
        """Whether material lots differ by more than their batches do."""
        return any(one.scatters for one in self.scatter if one.by == lots.BY_LOT)


@dataclass(frozen=True, slots=True)
class Trend:
    """The whole answer: every record of the folder, and the series of those that count."""

    folder: str
    records: tuple[Filed, ...]
    passed_over: tuple[str, ...]
    studied: tuple[Studied, ...]
    signed: bool
    notes: tuple[str, ...] = field(default=())

    @property
    def all_verify(self) -> bool:
        """Whether nothing stands against any record."""
        return all(filed.verifies for filed in self.records)


def marks_of(series: Series) -> list[Mark]:
    """Where material lot, issue of the part, press, core or method change from one batch to the next."""
    found: list[Mark] = []
    for place, (before, here) in enumerate(zip(series.points, series.points[1:], strict=False), start=1):
        one, other = before.origin, here.origin
        if one.lot != other.lot:
            found.append(Mark(place, "lot", f"material lot {other.lot or 'not named'}"))
        if one.issue != other.issue:
            found.append(Mark(place, "issue", f"issue {other.issue} of the part"))
        if one.press != other.press:
            found.append(Mark(place, "press", f"press {other.press or 'not named'}"))
        cores = [
            f"core {name} {identity or 'not named'}"
            for name, identity, _ in other.cores
            if one.core(name)[0] != identity
        ]
        found += [Mark(place, "core", words) for words in cores]
        if before.method != here.method:
            found.append(Mark(place, "method", f"measured by {here.method or 'no named method'}"))
    return found


def study(series: Series) -> Studied:
    """Everything that can be said of one series."""
    tests = tuple(lots.scatter_of(series))
    return Studied(
        series,
        chart_of(series.values),
        tuple(marks_of(series)),
        tests,
        tuple(lots.wear_of(series)),
        tuple(lots.capability_of(series, tests)),
        tuple(lots.basis_of(series, tests)),
    )


def _selected(series: Iterable[Series], chosen: Mapping[str, Sequence[str]]) -> list[Series]:
    parts, zones = chosen.get("part") or (), chosen.get("zone") or ()
    return [
        s for s in series if (not parts or s.key.part in parts) and (not zones or (s.key.zone or "") in zones)
    ]


def _known(records: Iterable[Filed], series: Sequence[Series], chosen: Mapping[str, Sequence[str]]) -> None:
    """Refuse a part or zone that no record has, and name those there are."""
    from laminate.values.problems import Problem, Refused, nearest

    there = {
        "part": sorted({filed.part for filed in records if filed.part}),
        "zone": sorted({one.key.zone for one in series if one.key.zone}),
    }
    problems: list[Problem] = []
    for what, known in there.items():
        for name in chosen.get(what, ()):
            if name not in known:
                near = nearest(name, known)
                hint = f"did you mean '{near}'?" if near else ""
                expected = f"a {what} of these records: {', '.join(known) or 'there is none'}"
                problems.append(Problem("unknown-name", "", f"--{what}", f"'{name}'", expected, hint))
    if problems:
        raise Refused(problems)


def checker(
    recompute: Recompute, allowed_signers: Path | None, revoked: Path | None, need: str | None
) -> Check:
    """What stands against a record: what it says computed again, and its signatures where required."""

    def check(path: Path, data: bytes) -> list[str]:
        if allowed_signers is None:
            return list(recompute(data).findings)
        from laminate.records.signature import verify

        found = verify(path, allowed_signers, revoked, need, recompute=recompute)
        reasons = [reason.words for reason in found.reasons]
        for signature in found.signatures:
            reasons += [f"{signature.file}: {reason.words}" for reason in signature.reasons]
        return reasons

    return check


def trend(
    folder: Path,
    *,
    recompute: Recompute,
    allowed_signers: Path | None = None,
    revoked: Path | None = None,
    need: str | None = None,
    every: bool = False,
    chosen: Mapping[str, Sequence[str]] | None = None,
    progress: Progress | None = None,
) -> Trend:
    """Study the records below a folder.

    recompute: judges the inputs of a record again and tells what differs; allowed_signers: an OpenSSH
    allowed-signers file: then only records whose signatures are proven count; revoked, need: as in `verify`;
    every: also what has no limit; chosen: 'part' and 'zone' -> names to keep; progress: told how many are
    done. Raises `Refused` where there is no folder, no record, or one of these files is wrong.
    """
    if allowed_signers is not None:
        _readable(allowed_signers, revoked, need)
    records, others = gather(folder, checker(recompute, allowed_signers, revoked, need), progress)
    counted = [(filed.file, filed.content) for filed in records if filed.counts and filed.content is not None]
    series = series_of(counted, every=every)
    _known(records, series, chosen or {})
    series = _selected(series, chosen or {})
    return Trend(
        str(folder),
        tuple(records),
        tuple(others),
        tuple(study(one) for one in series),
        allowed_signers is not None,
    )


def _readable(allowed_signers: Path, revoked: Path | None, need: str | None) -> None:
    """Refuse a wrong call once, not once a record."""
    from laminate.records.allowed_signers import read_allowed_signers
    from laminate.records.files import read_file
    from laminate.records.revocation import read_revoked
    from laminate.records.statement import ROLES, Malformed, checked_role
    from laminate.values.problems import Problem, Refused

    read_allowed_signers(read_file(allowed_signers, "allowed-signers file"), str(allowed_signers))
    if revoked is not None:
        read_revoked(read_file(revoked, "revocation file"), str(revoked))
    try:
        if need is not None:
            checked_role(need)
    except Malformed as error:
        raise Refused(Problem("bad-call", "", "--need", str(error), f"one of {', '.join(ROLES)}")) from None
