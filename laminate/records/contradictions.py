"""What other records say against one: the same batch, the same readings, the same issue with other limits."""

from __future__ import annotations

import json
import math
import re
import tomllib
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from itertools import combinations
from typing import Any

from pydantic import BaseModel

from laminate.coupons.copied import ALIKE, chance_of_equal
from laminate.files.coupons import NUMBERS, Coupon, base_name, read_coupons
from laminate.files.named_file import NamedFile
from laminate.files.part import read_part
from laminate.files.raw_file import RawFile
from laminate.records.inputs import Damaged, Embedded, embedded, text_at
from laminate.values.canonical import sha256
from laminate.values.problems import UNSEEN, Refused
from laminate.values.said import few
from laminate.values.sequences import by_key

Readings = tuple[tuple[str, float], ...]
UNLIKELY = 1e-5
"""Pairs of batches equal by chance, of one: among 45 batches it happens once in a hundred (no source)."""
LEAST_ID = 4
"""Characters of a batch's name that no specimen of another batch has by accident."""
MOST_NAMES = 6
"""Specimens that one sentence names."""


@dataclass(slots=True)
class OtherRecord:
    """A record among others: where it lies, the SHA-256 of its bytes, and what it says, {} if unreadable."""

    file: str
    sha256: str
    content: Mapping[str, Any]

    @property
    def replaces(self) -> str:
        """SHA-256 of the record that it says it replaces, '' for none."""
        return text_at(self.content, "replaces", "record").lower()

    def of_batch(self, key: str) -> str:
        """A word of what it says of its batch, '' for none."""
        return text_at(self.content, "batch", key)

    @property
    def batch(self) -> str:
        """The batch it says it is of, '' where it does not."""
        return self.of_batch("id")

    @property
    def part(self) -> tuple[str, str]:
        """Number and issue of its part."""
        return self.of_batch("part_number"), self.of_batch("part_issue")

    @property
    def of(self) -> tuple[str, str, str]:
        """Number and issue of its part and its batch, each as `spelled`."""
        number, issue = self.part
        return spelled(number), spelled(issue), spelled(_id_within(self) or self.batch)

    @property
    def made(self) -> tuple[str, str]:
        """What a batch is known by: the number of its part and its own, each as `spelled`."""
        number, _, batch = self.of
        return number, batch

    @property
    def answer(self) -> str:
        """What it says of its batch, '' where it does not."""
        return text_at(self.content, "answer")

    def specimens(self) -> set[str]:
        """The names of its specimens."""
        return {str(name) for _, name in RawFile(self.content, "").places("specimens.*.specimen")}


_ALIKE = str.maketrans("oil", "011")


@lru_cache
def spelled(name: str) -> str:
    """The form in which two spellings of one number or batch are equal: capitals, spaces, dashes, O for 0.

    Characters that nobody sees, or that drive a terminal, do not count.

    >>> {spelled(name) for name in ("26-O31b ", "26 031B", "26\u2011031b", "26-0\u200b31b", "26-0\a31b")}
    {'26-031b'}
    """
    folded = UNSEEN.sub("", unicodedata.normalize("NFKC", name)).casefold()
    folded = re.sub(r"(?!\s)[\x00-\x1f\x7f-\x9f]", "", folded)
    runs = re.findall(r"[^\W_]+", folded)
    return "-".join(run.translate(_ALIKE) if re.search(r"\d", run) else run for run in runs) or folded.strip()


def contradictions_of(record: OtherRecord, others: Iterable[OtherRecord]) -> Iterator[tuple[str, str]]:
    """A code and a sentence for each other record, no copy, that stands against releasing this one."""
    rest = list(others)
    earlier = replaced_by(record, rest)
    mine = readings(record)
    *part, batch = record.of
    for other in rest:
        *their_part, theirs = other.of
        same = batch == theirs != "" and part[0] == their_part[0]
        replaced = other.sha256 in earlier
        if other.sha256 == record.replaces and of_another_batch(record, other):
            yield "replaces-other", f"it says that it replaces '{other.file}', {OTHER_BATCH}"
        worse = replaced and other.answer in _STANDS and other.answer != record.answer
        if gone := sorted(other.specimens() - record.specimens()) if worse else []:
            words = f"it replaces '{other.file}', which {_STANDS[other.answer]}, without its coupons "
            words += f"{few(gone, MOST_NAMES)}: keep their rows, with a reason under 'excluded'"
            yield "replaces-without", words
        if record.sha256 in replaced_by(other, [record, *rest]):
            yield "replaced", f"'{other.file}' replaces this record"
        elif same and not replaced:
            words = f"'{other.file}' is of the same batch {other.batch}, and neither "
            yield "same-batch", f"{words}replaces the other ([replaces])"
        elif not same:
            shared = not replaced and record.specimens() & other.specimens()
            batches = record.batch, other.batch
            if alike := same_readings(mine, readings(other), batches) if shared else []:
                words = f"'{other.file}', batch {other.batch}, has the same readings"
                yield "same-readings", f"{words} of {few(alike, MOST_NAMES)}"
        if part == their_part and rules_of(record) != rules_of(other):
            words = f"'{other.file}' is of the same part {record.part[0]} issue {record.part[1]} with "
            yield "other-limits", f"{words}another plan or other limits: they need a new issue of the part"


def of_another_batch(record: OtherRecord, replaced: OtherRecord) -> bool:
    """Whether a record says that it replaces one of another batch, and has half its readings at most."""
    mine, earlier = readings(record), readings(replaced)
    kept = equal_readings(mine, earlier)
    if len(kept) < min(len(mine), len(earlier)):
        kept = same_readings(mine, earlier)
    named = record.made[1] != "" and record.made == replaced.made
    return not named and 2 * len(kept) <= len(earlier)


_STANDS = {"does not conform": "does not conform", "undecided": "is undecided"}


OTHER_BATCH = "a record of another batch with other readings: [replaces] amends one batch"


def replaced_by(record: OtherRecord, others: Iterable[OtherRecord]) -> set[str]:
    """The digests of every record that one replaces, over those between."""
    by_digest = {other.sha256: other for other in others}
    results: set[str] = set()
    at: OtherRecord | None = record
    while at is not None and at.replaces and at.replaces not in results:
        results.add(at.replaces)
        at = by_digest.get(at.replaces)
    return results


def readings(record: OtherRecord) -> dict[str, Readings]:
    """Specimen -> what was read of it, by column [SI]; nothing where its tables cannot be read."""
    tables = [NamedFile.of_bytes(file.name, file.data) for file in _files(record) if file.role == "coupons"]
    try:
        return readings_of(read_coupons(tables).coupons) if tables else {}
    except Refused:
        return {}


def readings_of(coupons: Iterable[Coupon]) -> dict[str, Readings]:
    """Specimen -> what was read of it, by column [SI]."""
    by_name = {coupon.specimen: _numbers(coupon) for coupon in coupons if coupon.kind == "specimen"}
    return {name: numbers for name, numbers in by_name.items() if numbers}


def _numbers(coupon: Coupon) -> Readings:
    """Readings to nine digits, so that one in mg equals the same in g."""
    counted = [
        (f"{field.name} {what}", value)
        for field in coupon.fields
        for what, value in (("points", field.points), ("fiber", field.fiber), ("void", field.void))
        if value is not None
    ]
    read = [(label, value) for label, value in coupon.numbers.items() if label != "plies"]
    return tuple(sorted((label, float(f"{value:.9g}")) for label, value in (*read, *counted)))


def signs(numbers: Readings) -> Iterator[Readings]:
    """What two rows with the same readings have in common: all of them, or two of their masses."""
    yield numbers
    yield from combinations(_masses(numbers), 2)


def same_readings(
    row: Mapping[str, Readings], other: Mapping[str, Readings], batches: Iterable[str] = ()
) -> list[str]:
    """The specimens of both with the same readings, where that is no accident.

    Two readings or more that are equal, of them a mass, or so many that chance makes fewer than `UNLIKELY`
    equal; one of a specimen that has the name of one of the batches. Columns that one of the two lacks do not
    count, if both have two thirds of all.
    """
    same = equal_readings(row, other)
    ids = [batch for batch in map(spelled, batches) if len(batch) >= LEAST_ID]
    sure = [name for name in same if len(row[name]) > 1 and _masses(row[name])]
    if len(sure) == 1 and len(row[sure[0]]) < ALIKE and len({base_name(c) for c, _ in row[sure[0]]}) == 1:
        sure = []
    named = any(batch in spelled(name) for name in same for batch in ids)
    return same if named or _chance_of(same, row, other) < UNLIKELY else sure


def equal_readings(row: Mapping[str, Readings], other: Mapping[str, Readings]) -> list[str]:
    """The specimens of both with the same readings, be it by chance."""
    return [name for name in row if name in other and _same(dict(row[name]), dict(other[name]))]


def _chance_of(same: list[str], row: Mapping[str, Readings], other: Mapping[str, Readings]) -> float:
    """How often chance makes so many specimens of two batches equal."""
    different = [numbers for name, numbers in other.items() if name not in same]
    repeats = [
        by_key((base_name(c), value) for c, value in numbers) for numbers in (*row.values(), *different)
    ]
    rows = by_key((column, each[column]) for each in repeats for column in each)
    chances = {
        column: chance_of_equal(rows[column]) for column in rows if NUMBERS.get(column) != "temperature"
    }
    each = (chances.get(column, 1.0) for name in same for column in {base_name(c) for c, _ in row[name]})
    return math.comb(min(len(row), len(other)), len(same)) * math.prod(each)


def copied_from(record: OtherRecord, others: Iterable[OtherRecord]) -> Iterator[str]:
    """A sentence for each other batch that has the serials or, under other names, the readings of this one.

    Two masses and one reading more are no accident; all specimens alike under their names may be, where that
    is no reason to refuse.
    """
    mine, made, by_chance = readings(record), record.made, dict[str, list[str]]()
    serials = record.of_batch("serials")
    numbered = any(map(str.isdigit, serials)) and not serials.startswith("not recorded")
    for other in others:
        part, batch = other.made
        if (part, batch) == made:
            continue
        also = f"'{other.file}', batch {other.batch},"
        if batch == made[1]:
            yield f"{also} is of another part, {other.part[0]}: one number for two batches"
        if numbered and spelled(other.of_batch("serials")) == spelled(serials):
            yield f"{also} covers the same serials, {serials}"
        if names := _under_other_names(mine, readings(other)):
            words = f"{also} has the readings of {few(names, MOST_NAMES)} under other names"
            yield f"{words}: check that no table was copied"
        names = equal_readings(mine, theirs := readings(other))
        if names and len(names) == min(len(mine), len(theirs)):
            by_chance.setdefault(few(names, MOST_NAMES), []).append(other.batch)
    for alike, batches in by_chance.items():
        words = f"{few(batches, MOST_NAMES)} has the same readings of {alike}, so few that it may be chance"
        yield f"batch {words}: check that no table was copied"


def copied_readings(row: Mapping[str, Readings], other: Mapping[str, Readings]) -> list[str]:
    """The specimens of one batch that another has too, under the same names or under others."""
    return same_readings(row, other) or _under_other_names(row, other)


def _under_other_names(row: Mapping[str, Readings], other: Mapping[str, Readings]) -> list[str]:
    """The specimens whose readings another batch has, so many that no other coupon has them by accident."""
    weighed = by_key((mass, dict(numbers)) for numbers in other.values() for mass in _masses(numbers))
    return [
        name
        for name, numbers in row.items()
        if len(numbers) >= ALIKE and len(masses := _masses(numbers)) > 1
        if any(_same(dict(numbers), their) for mass in masses for their in weighed.get(mass, ()))
    ]


def _masses(numbers: Readings) -> list[tuple[str, float]]:
    return [row for row in numbers if NUMBERS.get(base_name(row[0])) == "mass"]


def _same(row: Mapping[str, float], other: Mapping[str, float]) -> bool:
    shared = row.keys() & other.keys()
    enough = 3 * len(shared) >= 2 * max(len(row), len(other))
    return enough and all(row[label] == other[label] for label in shared)


RULES = {
    "part": ("asks", "blanks", "blank_scatter", "check_standards"),
    "prepreg": ("out_life", "shelf_life", "tested_pieces"),
    "core": ("limit_moldings",),
    "zone": ("sensors",),
}
"""Keys of a part file that are limits, or asked for, beside its tables of them."""


def rules_of(record: OtherRecord) -> str:
    """What stands for plan and limits of its part, however they are written: equal exactly where they are."""
    return next((_rules_in(file.name, file.data) for file in _files(record) if file.role == "part"), "")


@lru_cache
def _rules_in(name: str, data: bytes) -> str:
    try:
        part, _ = read_part(NamedFile.of_bytes(name, data))
    except Refused:
        return sha256(data)
    kept: dict[str, Any] = {"plan": part.plan, "pooled": part.pooled, "limits": part.limits}
    for table, keys in RULES.items():
        tables = getattr(part, table)
        tables = tables if isinstance(tables, dict) else {table: tables}
        rows = {row: {key: getattr(tables[row], key) for key in keys} for row in tables}
        kept[table] = {
            row: asked for row, given in rows.items() if (asked := {k: v for k, v in given.items() if v})
        }
    return sha256(json.dumps(_as_read(kept), sort_keys=True).encode())


def _as_read(value: Any) -> Any:
    """A value of a part file without what does not count: how a number is written, the order of a list."""
    if isinstance(value, BaseModel):
        value = {key: getattr(value, key) for key in type(value).model_fields if key != "pooled_scatter"}
    elif is_dataclass(value):
        keys = (each.name for each in fields(value) if each.name not in ("text", "unit"))
        value = {key: getattr(value, key) for key in keys}
    if isinstance(value, Mapping):
        return {str(key): _as_read(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return sorted(map(_as_read, value), key=str)
    return f"{value:.12g}" if isinstance(value, int | float) else value


def _id_within(record: OtherRecord) -> str:
    """The batch by the batch file inside a record, whatever its own words say; '' where it cannot be read."""
    batch = b"".join(file.data for file in _files(record) if file.role == "batch")
    try:
        return text_at(tomllib.loads(batch.decode("utf-8-sig")), "batch", "id")
    except ValueError:
        return ""


def _files(record: OtherRecord) -> list[Embedded]:
    try:
        return embedded(record.content.get("inputs"))
    except Damaged:
        return []
