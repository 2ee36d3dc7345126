"""What a record says of its batch, as points of series: one characteristic of one part over its batches."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from laminate.formulas.control_chart import SAME
from laminate.records.contradictions import spelled
from laminate.values.sequences import by_key

Content = Mapping[str, Any]
Pair = tuple[float | None, float | None]

BATCH, LOT = "batch", "lot"
SCOPES = ("individual", "average")

_BEFORE_DIGITS = re.compile(r"(?<=[^\W\d_])[\W_]+(?=\d)")
_OF_PREPREG = re.compile(r"prepreg\.(.+)\.(\w+)")


def alike(values: Sequence[float]) -> bool:
    """Whether values do not scatter at all, but for what rounding leaves."""
    return max(values) - min(values) <= SAME * max(map(abs, values)) if values else True


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a value comes from: batch, molding date, material lots, press, issue, each core with its
    moldings, each prepreg with a lot of it, and each instrument as its certificate has it.
    """

    batch: str
    molded: str
    issue: str
    lots: tuple[str, ...]
    press: str
    cores: tuple[tuple[str, str, int | None], ...]
    file: str
    answer: str
    prepregs: tuple[tuple[str, str], ...] = ()
    instruments: tuple[tuple[str, str], ...] = ()

    @property
    def lot(self) -> str:
        """All its material lots as one name, whatever their order in the file."""
        return " + ".join(sorted(self.lots, key=spelled))

    def lots_of(self, prepreg: str) -> list[str]:
        """Its lots of a prepreg, each once, in the order of their names."""
        return sorted({lot for name, lot in self.prepregs if name == prepreg}, key=spelled)

    def core(self, name: str) -> tuple[str, int | None]:
        """Identity and moldings of a core, '' and None where it was not used."""
        return next(((identity, n) for core, identity, n in self.cores if core == name), ("", None))


@dataclass(frozen=True, slots=True)
class Point:
    """The value of one batch, in the unit of its series; coupons: the single values behind it."""

    origin: Origin
    value: float
    u: float | None
    n: int
    coupons: tuple[float, ...]
    method: str
    decision: str


@dataclass(frozen=True, slots=True)
class Key:
    """What a series is of. A value of a lot's certificate is counted once a lot, unless another one is stated
    of it; everything else once a batch.
    """

    part: str
    name: str
    zone: str | None
    unit: str
    each: str = BATCH


@dataclass(slots=True)
class Series:
    """The points of one characteristic in order of molding.

    limits: pair by scope, of the issue of the part that came last, as its last record has them; limits_since:
    the batch that had them first.
    """

    key: Key
    points: list[Point] = field(default_factory=list)
    limits: dict[str, Pair] = field(default_factory=dict)
    limits_since: str = ""

    @property
    def values(self) -> list[float]:
        """The values of the batches."""
        return [point.value for point in self.points]

    @property
    def count(self) -> int:
        """How many batches it is of, or lots."""
        return len(self.points) if self.key.each == BATCH else len(by_key(self._lots()))

    @property
    def in_doubt(self) -> list[str]:
        """The lots of which certificates state unlike values."""
        by_lot = by_key(self._lots()) if self.key.each == LOT else {}
        return [names[0] for names in by_lot.values() if len(names) > 1]

    def _lots(self) -> Iterator[tuple[str, str]]:
        return ((lot_form(point.origin.lot), point.origin.lot) for point in self.points)


def lot_form(name: str) -> str:
    """The form in which two spellings of one lot are equal: as `spelled`, and whatever stands behind letters.

    >>> {lot_form(name) for name in ("L2305", "l 2305", "L-23O5")}, lot_form("26-1-1") == lot_form("26-11")
    ({'12305'}, False)
    """
    return spelled(_BEFORE_DIGITS.sub("", name))


def usual(names: Iterable[str]) -> dict[str, str]:
    """Each name -> the spelling that is used most of those that are equal as `spelled`.

    >>> usual(["PAN-03", "PAN-O3", "PAN-03"])
    {'PAN-03': 'PAN-03', 'PAN-O3': 'PAN-03'}
    """
    counted = Counter(names)
    alike_names = by_key((spelled(name), name) for name in counted)
    most = {form: max(spellings, key=lambda name: counted[name]) for form, spellings in alike_names.items()}
    return {name: most[spelled(name)] for name in counted}


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A sorting key in which 26-9 stands before 26-10."""
    parts = re.split(r"(\d+)", text)
    return tuple((1, int(part), "") if part.isdecimal() else (0, 0, part) for part in parts)


def origin_of(content: Content, file: str) -> Origin:
    """Which batch a record is of, and what it was made with."""
    batch = content["batch"]
    return Origin(
        batch=batch["id"],
        molded=batch["molded"] or "",
        issue=batch["part_issue"],
        lots=tuple(dict.fromkeys(lot["number"] for lot in batch["lots"])),
        press=batch["press"] or "",
        cores=tuple((core["core"], core["identity"] or "", core["moldings"]) for core in batch["cores"]),
        file=file,
        answer=content["answer"],
        prepregs=tuple((lot["prepreg"], lot["number"]) for lot in batch["lots"]),
        instruments=tuple((gauge["name"], _calibrated(gauge)) for gauge in content["instruments"]),
    )


def _calibrated(gauge: Content) -> str:
    """An instrument in words: which it is, and by what certificate, or when it was calibrated."""
    certificate = gauge["certificate"] and f"certificate {gauge['certificate']}"
    calibrated = gauge["calibrated"] and f"calibrated {gauge['calibrated']}"
    return ", ".join(filter(None, (gauge["identity"] or "not named", certificate or calibrated)))


def _counted(content: Content) -> dict[str, list[Content]]:
    """The rows of specimens that count, by what groups them: zone, or prepreg of incoming tests."""
    tables = {"zone": "specimens", "prepreg": "prepreg"}
    return {
        column: [row for row in content[table] if not row["excluded"] and not row["replaced_by"]]
        for column, table in tables.items()
        if table in content
    }


def _coupons(
    counted: Mapping[str, list[Content]], name: str, zone: str | None, method: str
) -> tuple[float, ...]:
    """The values of the specimens that count: of a zone and method, or of incoming tests of a prepreg."""
    column, group, key = "zone", zone, name
    if prepreg := _OF_PREPREG.fullmatch(name):
        column, (group, key) = "prepreg", prepreg.groups()
    of_group = [row[key] for row in counted[column] if row[column] == group and row.get(key) is not None]
    return tuple([measured["value"] for measured in of_group if measured["method"] == method])


@dataclass(frozen=True, slots=True)
class Figures:
    """What a record says of its batch that series are made of; rows: with limits, or None."""

    origin: Origin
    rows: tuple[tuple[Key, Point, dict[str, Pair] | None], ...]


def figures_of(file: str, content: Content) -> Figures:
    """The figures of one record; raises LookupError, TypeError or another where it lacks one."""
    origin, counted, part = origin_of(content, file), _counted(content), content["batch"]["part_number"]

    def point(key: Key, made: Origin, by: str | None, figure: Content, decision: str) -> Point:
        method, u = by or "", figure["standard_uncertainty"]
        coupons = _coupons(counted, key.name, key.zone, method)
        return Point(made, figure["value"], u, figure["n"], coupons, method, decision)

    rows = [*content["characteristics"], *content["process"]]
    made_rows: list[tuple[Key, Point, dict[str, Pair] | None]] = []
    for row in (row for row in rows if row["result"]["value"] is not None):
        result, lot, made, each = row["result"], row["lot"], origin, BATCH
        if lot is not None:  # a certificate
            made, each = replace(origin, lots=(lot.removeprefix("lot "),)), LOT
        key = Key(part, row["name"], row["zone"], result["unit"], each)
        limits = {scope: (b["min"], b["max"]) for scope in SCOPES if (b := row["limits"][scope])}
        made_rows.append((key, point(key, made, row["method"], result, row["decision"]), limits))
    known = {(row["name"], row["zone"]) for row in rows}
    for zone in content["zones"]:
        for name, mean in zone["average"].items():
            if (name, zone["zone"]) not in known:
                key = Key(part, name, zone["zone"], mean["unit"])
                made_rows.append((key, point(key, origin, mean["method"], mean, ""), None))
    return Figures(origin, tuple(made_rows))


def series_of(records: Iterable[Figures], *, every: bool = False) -> list[Series]:
    """The series of records: by part, characteristic and zone, in order of molding date, then batch.

    Parts and lots are the same ones however they are `spelled`.

    records: the figures of each that counts; every: also what was measured and has no limit.
    """
    results: dict[Key, Series] = {}
    issues: dict[Key, list[str]] = {}
    lots: dict[tuple[Key, str], list[float]] = {}
    ordered = sorted(records, key=lambda row: (row.origin.molded, natural(row.origin.batch)))
    parts = usual(key.part for figures in ordered for key, _, _ in figures.rows)
    for figures in ordered:
        for named, point, pairs in figures.rows:
            if pairs is None and not every:
                continue
            key = replace(named, part=parts[named.part])
            series = results.setdefault(key, Series(key))
            if pairs is None:
                series.points.append(point)
                continue
            issue, known = spelled(figures.origin.issue), issues.setdefault(key, [])
            if issue not in known:
                known.append(issue)
            if issue == known[-1] and series.limits != pairs:
                series.limits, series.limits_since = pairs, figures.origin.batch
            if key.each == LOT:
                stated = lots.setdefault((key, lot_form(point.origin.lot)), [])
                if any(alike([point.value, value]) for value in stated):
                    continue
                stated.append(point.value)
            series.points.append(point)
    return list(results.values())
