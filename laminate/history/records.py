"""The records of a folder: which of them verify, which are replaced, and which count."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path
from typing import Any

from laminate.history.points import Figures, figures_of, usual
from laminate.records.contradictions import (
    MOST_NAMES,
    OTHER_BATCH,
    OtherRecord,
    of_another_batch,
    readings,
    rules_of,
    same_readings,
    signs,
)
from laminate.records.copies import Counts, beside_each, sound, statements_of
from laminate.records.other_records import (
    RECORD,
    is_record,
    like_record,
    listed,
    may_hold,
    read_seen,
    unreadable,
)
from laminate.records.packed import Unpacking
from laminate.records.rules import conflicts
from laminate.values.canonical import read_canonical, read_json, sha256
from laminate.values.durable import MOST_TABLE, read_regular
from laminate.values.problems import refusal
from laminate.values.said import few
from laminate.values.sequences import by_key

Check = Callable[[Path, Sequence[str], "Filed"], tuple[list[str], bool]]
"""What the signatures leave standing against a record, in words, and whether it is to be computed again.

Takes its path, the sorted names in its folder and what it says.
"""

Compute = Callable[[list[bytes]], list[tuple[str, ...]]]
"""What some records, computed again, say otherwise, in words."""

AT_ONCE, MOST_HELD = 160, 2**26
"""Records, and bytes of them, that are held to be computed again together."""

Progress = Callable[[int, int], None]


@dataclass(slots=True)
class Filed(OtherRecord):
    """One record as it lies in the folder.

    file: path within the folder; content: what it says, its outline once it is checked; figures: that series
    are made of, None where it lacks some; faults: why it does not verify; rival: it verifies, but another of
    the same batch stands against it; replaced_by: the file that replaces it; copy_of: the file with the same
    bytes; notes: in words; computed: it was computed again, not taken from the signatures that prove it;
    unsigned: nothing but a missing signature may stand against it.
    """

    faults: list[str] = field(default_factory=list)
    figures: Figures | None = None
    replaced_by: str = ""
    copy_of: str = ""
    undated: bool = False
    rival: bool = False
    notes: list[str] = field(default_factory=list)
    computed: bool = False
    unsigned: bool = False

    @property
    def verifies(self) -> bool:
        """Whether nothing stands against it."""
        return not self.faults

    @property
    def answer(self) -> str:
        """What it says of its batch, '' where it does not."""
        return self.figures.origin.answer if self.figures else ""

    @property
    def dateless(self) -> bool:
        """Whether nothing but its missing day of molding keeps it from being used."""
        return self.verifies and self.undated and not (self.replaced_by or self.copy_of)

    @property
    def reasons(self) -> list[str]:
        """Why it is not used, in words; nothing where it counts, or another record stands for it."""
        if not self.dateless:
            return self.faults
        words = f"batch {self.batch}, '{self.answer}', has no day of molding, so it cannot be placed in time"
        mend = f"write 'molded' in [batch] and record = \"{self.sha256}\" in [replaces] of its batch file"
        return [f"{words}: {mend}, and report it again"]

    @property
    def counts(self) -> bool:
        """Whether its values are used."""
        return self.verifies and not (self.replaced_by or self.copy_of or self.undated)


def gather(
    folder: Path, check: Check, compute: Compute, progress: Progress | None, counts: Counts | None
) -> tuple[list[Filed], list[str], list[str]]:
    """Every record below a folder, checked; other JSON files, which are passed over; what is not looked at.

    check: what stands against a record of canonical bytes, compute: the same by computing it again; progress:
    told how many of how many are done; counts: of `clashing`. Raises `Refused` where there is no folder or no
    record in it.
    """
    below = listed(folder)
    paths, records, others = below.files, list[Filed](), list[str]()
    for fault in below.closed:
        name = os.path.relpath(fault.filename or folder, folder)
        records.append(Filed(name, "", {}, [f"it {unreadable(fault)}"]))
    waiting: list[tuple[Filed, bytes]] = []

    def settle() -> None:
        for (filed, _), record in zip(waiting, compute([data for _, data in waiting]), strict=True):
            filed.faults += record
        waiting.clear()

    for done, (path, listed_names) in enumerate(paths):
        if progress:
            progress(done, len(paths))
        name = path.relative_to(folder).as_posix()
        try:
            data = read_regular(path, MOST_TABLE)
        except OSError as fault:
            if path.exists() or path.name.lower() == RECORD:
                records.append(Filed(name, "", {}, [f"it {unreadable(fault)}"]))
            else:
                others.append(name)
            continue
        filed = _read(path, name, data)
        if filed is None:
            others.append(name)
            continue
        records.append(filed)
        if filed.content:
            filed.figures = _figures(filed.file, filed.content)
            faults, filed.computed = check(path, listed_names, filed)
            filed.faults += faults
            filed.content = _outline(filed.content)
            if filed.computed:
                waiting.append((filed, data))
        if len(waiting) == AT_ONCE or sum(len(data) for _, data in waiting) > MOST_HELD:
            settle()
    settle()
    if progress:
        progress(len(paths), len(paths))
    if not records:
        expected, hint = "record.json in it or below it", "'laminate report BATCH --out DIR' writes one"
        raise refusal("no-record", str(folder), "", "no record", expected, hint)
    for filed in records:
        if filed.verifies and not (filed.batch and filed.part[0]):
            filed.faults.append("it names no batch or no part")
        elif filed.verifies and filed.figures is None:
            filed.faults.append("it lacks the values that a chart needs")
    clashing(records, folder, counts)
    resolve(records, folder)
    compare(records, folder)
    unpacking = Unpacking()
    aside = sorted([*below.links, *(path for path in below.others if may_hold(path, unpacking))])
    return records, others, [path.relative_to(folder).as_posix() for path in aside]


def clashing(records: list[Filed], folder: Path, counts: Counts | None) -> None:
    """Tell what is signed beside one of several files with the same bytes against what is beside another.

    counts: which signatures do, where they are asked for, so that it stands against all of them; else what is
    sound is noted.
    """
    by_bytes = by_key((filed.sha256, filed) for filed in records if filed.content)
    for copies in (copies for copies in by_bytes.values() if len(copies) > 1):
        beside = beside_each({filed.file: folder / filed.file for filed in copies}, copies[0].sha256)
        signatures = statements_of(row for row in beside if (counts or sound)(row[0]))
        for filed in copies:
            others = [row for row in signatures if row[2] != filed.file]
            clashes = [
                finding.words
                for statement, key, file in signatures
                if file == filed.file
                for finding in conflicts(statement, key, others)
            ]
            (filed.faults if counts else filed.notes).extend(dict.fromkeys(clashes))


def _figures(file: str, content: Mapping[str, Any]) -> Figures | None:
    try:
        return figures_of(file, content)
    except (LookupError, TypeError, ValueError, AttributeError):
        return None


def _outline(content: Mapping[str, Any]) -> Mapping[str, Any]:
    """What is asked of a record beside its figures: an archive is held in memory without the rest."""
    outline = {key: content[key] for key in ("answer", "batch", "replaces") if key in content}
    for key, names in (("specimens", ("specimen",)), ("inputs", ("role", "sha256"))):
        rows = content.get(key)
        kept = [row for row in rows if isinstance(row, Mapping)] if isinstance(rows, list) else []
        outline[key] = [{name: row.get(name) for name in names} for row in kept]
    return outline


def _read(path: Path, name: str, data: bytes) -> Filed | None:
    """A file of a record's name, JSON with a record's keys, or what begins like one; None for all else."""
    digest, named = sha256(data), path.name.lower() == RECORD
    try:
        content = read_canonical(data)
    except ValueError as fault:
        if not named and _is_other(data):
            return None
        return Filed(name, digest, {}, [f"it is not as it was written: {fault}"])
    if is_record(content):
        return Filed(name, digest, content)
    return Filed(name, digest, {}, ["it is not as it was written: it is not a record"]) if named else None


def _is_other(data: bytes) -> bool:
    try:
        return not is_record(read_json(data))
    except ValueError:
        return not like_record(data)


def compare(records: list[Filed], folder: Path) -> None:
    """Tell what records say against those that count, beyond being of one batch.

    Batches with the same readings stand against each other, and neither counts; nor does one with the
    readings of a record that another replaces or that is not dated. One issue of a part with several plans or
    limits, or spelled in several ways, is noted at the fewer. Records with specimens of one name are read
    again.
    """
    seen = {f.file: f for f in records if (f.verifies or f.rival) and not f.copy_of}
    counted = [file for file, filed in seen.items() if filed.counts]

    def whole(file: str) -> OtherRecord:
        record = _again(seen[file], folder)
        if record.sha256 != seen[file].sha256:
            seen[file].faults.append("it changed while the records were read")
        return record

    for first, second, names in _same_readings(list(seen.values()), whole):
        for filed, rival in ((seen[first], second), (seen[second], first)):
            if filed.file not in counted:
                continue
            filed.rival = True
            words = f"'{rival}' is of another batch, {seen[rival].batch}, and has the same readings of"
            filed.faults.append(f"{words} {few(names, MOST_NAMES)}: which one was measured is not known")
    by_issue: dict[tuple[str, ...], dict[str, list[str]]] = {}
    known: dict[str, str] = {}
    for file, one_seen in ((file, seen[file]) for file in counted):
        parts = [row["sha256"] for row in one_seen.content["inputs"] if row["role"] == "part"]
        digest = str(parts[0]) if parts else ""
        if digest not in known or not digest:
            known[digest] = rules_of(whole(file))
        by_issue.setdefault(one_seen.of[:2], {}).setdefault(known[digest], []).append(file)
    for groups in by_issue.values():
        most = max(groups.values(), key=len)
        for file in (file for group in groups.values() if group is not most for file in group):
            part, issue = seen[file].part
            words = f"it has another plan or other limits than '{most[0]}', of the same part"
            seen[file].notes.append(f"{words} {part} issue {issue}")
    spelling = usual(filed.part[0] for filed in records if filed.counts)
    for filed in (filed for filed in records if filed.counts):
        if (usually := spelling[filed.part[0]]) != filed.part[0]:
            filed.notes.append(f"it spells its part '{filed.part[0]}', others '{usually}'")


def _again(filed: Filed, folder: Path) -> OtherRecord:
    """A record, read again."""
    return read_seen(folder / filed.file, filed.file) or OtherRecord(filed.file, "", {})


def _same_readings(
    seen: list[Filed], whole: Callable[[str], OtherRecord]
) -> Iterator[tuple[str, str, list[str]]]:
    """Two files of different batches, and the specimens that have the same readings in both."""
    times = Counter(name for record in seen for name in record.specimens())
    shared = [record.file for record in seen if any(times[name] > 1 for name in record.specimens())]
    read = {file: readings(whole(file)) for file in shared}
    by_reading = by_key(
        ((name, sign), file)
        for file, records in read.items()
        for name, numbers in records.items()
        for sign in signs(numbers)
    )
    by_file = {record.file: record for record in seen}
    pairs = {pair for files in by_reading.values() for pair in combinations(files, 2)}
    for first, second in sorted(pairs):
        names = same_readings(read[first], read[second], (by_file[first].batch, by_file[second].batch))
        amended = second in _later(by_file, first) or first in _later(by_file, second)
        if names and by_file[first].made != by_file[second].made and not amended:
            yield first, second, names


def _later(records: Mapping[str, Filed], file: str) -> set[str]:
    """The files that stand in the place of one, over those between."""
    results: set[str] = set()
    while file in records and (file := records[file].replaced_by) and file not in results:
        results.add(file)
    return results


def resolve(records: list[Filed], folder: Path) -> None:
    """Settle which records count: one a batch, the amended one in the place of the one that it replaces.

    Only records that verify replace others. Two records of one batch of which neither replaces the other do
    not count, and both are told to stand against each other.
    """
    first: dict[str, Filed] = {}
    for filed in (f for f in records if f.verifies):
        filed.undated = not filed.of_batch("molded")
        if filed.sha256 in first:
            filed.copy_of = first[filed.sha256].file
        else:
            first[filed.sha256] = filed
    for filed in (f for f in records if f.unsigned and f.sha256 in first and not f.verifies):
        filed.copy_of, filed.faults = first[filed.sha256].file, []
    for filed in list(first.values()):
        if not filed.replaces:
            continue
        earlier = first.get(filed.replaces)
        if earlier is None:
            filed.notes.append("the record that it replaces is not among those that verify here")
        elif earlier.part[0] != filed.part[0]:
            filed.faults.append(f"it says that it replaces a record of another part, '{earlier.file}'")
        elif earlier.made != filed.made and of_another_batch(_again(filed, folder), _again(earlier, folder)):
            filed.faults.append(f"it says that it replaces '{earlier.file}', {OTHER_BATCH}")
        else:
            earlier.replaced_by = filed.file
            if earlier.batch != filed.batch:
                filed.notes.append(f"it replaces the record of batch {earlier.batch}")
    for filed in (f for f in first.values() if not f.verifies):
        for other in (f for f in first.values() if f.replaced_by == filed.file):
            other.replaced_by = ""
    left = [filed for filed in first.values() if filed.verifies and not filed.replaced_by]
    by_batch = by_key((filed.made, filed) for filed in left)
    for rivals in (group for group in by_batch.values() if len(group) > 1):
        for filed in rivals:
            others = ", ".join(f"'{other.file}'" for other in rivals if other is not filed)
            verb = "is" if len(rivals) == 2 else "are"
            filed.rival = True
            words = f"{others} {verb} of the same batch {filed.batch}, and none replaces another ([replaces])"
            filed.faults.append(f"{words}: which one counts is not known")
