"""The record of a judged batch: every input, what was said of it, and proof that it is still said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from laminate.files.named_file import relative_name
from laminate.judging.reported import Report, report_of
from laminate.records.differences import Rejudged, differences
from laminate.records.inputs import Damaged, Embedded, embedded, file_bytes, record_names, why_not_a_name
from laminate.records.rules import FORMAT
from laminate.values.canonical import canonical, read_canonical, rounded, sha256
from laminate.values.problems import Problem, Refused, refuse_all

FIRST = ("answer", "characteristics", "process", "specimens")
"""What matters most where a record says something else."""

_OWN_KEYS = ("format", "program", "settings", "inputs")


def seal(judged: Report) -> bytes:
    """The record of a judged batch as canonical JSON: equal inputs give equal bytes, wherever they lie.

    judged: as `report` returns it, its files named relative to the batch file; what was said of them and
    their bytes are sealed as they are.

    Raises Refused where the batch file names a file by a path that means nothing elsewhere.
    """
    batch_file = judged.case.name
    files: list[Embedded] = []
    problems: list[Problem] = []
    for role, place, name in record_names(judged.case.batch, batch_file, judged.files):
        if reason := why_not_a_name(name):
            expected = "a path relative to the batch file, which a record can keep"
            problems.append(Problem("name-not-portable", batch_file, place, f"'{name}'; {reason}", expected))
            continue
        called = name if role == "batch" else relative_name(batch_file, name)
        files.append(Embedded(name, role, judged.files[called]))
    refuse_all(problems)
    return canonical(_content(judged, files))


def _content(judged: Report, files: list[Embedded]) -> dict[str, Any]:
    from laminate.show.record_json import RECORD

    return RECORD.json((judged, program(), files))


@cache
def program() -> dict[str, str]:
    """Name and version of this program, and the SHA-256 of its formulas."""
    from importlib import metadata
    from importlib.resources import files

    text = b""
    for file in sorted(files("laminate.formulas").iterdir(), key=lambda file: file.name):
        if file.name.endswith(".py"):  # line ends as in the checkout of any system
            text += file.name.encode() + b"\0" + file.read_bytes().replace(b"\r\n", b"\n") + b"\0"
    return {"name": "laminate", "version": metadata.version("laminate"), "formulas_sha256": sha256(text)}


def recompute(data: bytes) -> Rejudged:
    """Judge the inputs inside a record again, from its bytes alone: what is said today, and what differs.

    data: the bytes of the record. Numbers agree within 1e-9 of the larger (chances of other formulas within
    2e-4). A record that is damaged, of another format, or cannot be judged again is answered in words too.
    """
    try:
        content = _read(data)
        name, files = file_bytes(embedded(content["inputs"]))
        today = rounded(_content(report_of(name, files), []))
    except Damaged as fault:
        return Rejudged(tuple(fault.findings))
    except Refused as refused:
        sentences = (problem.sentence() for problem in refused.problems)
        return Rejudged(tuple(f"its inputs are refused now: {sentence}" for sentence in sentences))
    except RecursionError:
        return Rejudged(("its inputs are nested too deeply to be read",))
    if content["format"] != FORMAT:
        words = f"the record has the format {content['format']}, which kept less than the answer needs; "
        words += f"by the rules of today the answer is '{today['answer']}': "
        words += "seal it again with 'laminate report --out'"
        return Rejudged((words,), today)
    return _compared(content, today)


def _compared(content: dict[str, Any], today: dict[str, Any]) -> Rejudged:
    then, now = content["program"], today["program"]
    same = then["version"] == now["version"]
    skipped = ("program", "inputs", *(() if same else ("settings",)))
    old, new = (
        {key: record[key] for key in (*FIRST, *sorted(record)) if key in record and key not in skipped}
        for record in (content, today)
    )
    same_formulas = then["formulas_sha256"] == now["formulas_sha256"]
    unlike = differences(old, new, wording=same, chances=not same_formulas)
    if then == now:
        return Rejudged(tuple(unlike), today)
    other = _other_program(then, now)
    if unlike:
        return Rejudged((*unlike, other), today)
    apart = differences(old, new)
    says = "it says the same" + (", apart from the words or chances below" if apart else "")
    return Rejudged((), today, (f"{other}; {says}", *apart), not same, bool(apart))


def _other_program(then: Mapping[str, str], now: Mapping[str, str]) -> str:
    words = f"it was computed by {then['name']} {then['version']}, and this is {now['version']}"
    digests = [made["formulas_sha256"] for made in (then, now)]
    if digests[0] != digests[1]:
        shown = 12 if digests[0][:12] != digests[1][:12] else None
        words += f"; the formulas changed ({', now '.join(digest[:shown] for digest in digests)})"
    return words


def _read(data: bytes) -> dict[str, Any]:
    """The record as far as it can be told apart from something else. Raises Damaged."""
    try:
        content = read_canonical(data)
    except ValueError as error:
        raise Damaged([f"the record is not as it was written: {error}"]) from None
    if not isinstance(content, dict):
        raise Damaged(["the record is not an object"])
    written = content.get("format")
    if type(written) is not int:
        raise Damaged(["the record has no whole number under 'format'"])
    if written > FORMAT:
        newer = f"the record has the format {written}, and this program knows formats up to {FORMAT}"
        raise Damaged([f"{newer}: verify it with a newer version of the program"])
    if written < 1:
        raise Damaged([f"the record has the format {written}, and there is none below 1"])
    if missing := [key for key in _OWN_KEYS if key not in content]:
        raise Damaged([f"the record has no '{key}'" for key in missing])
    made_by, texts = content["program"], ("name", "version", "formulas_sha256")
    whole = isinstance(made_by, dict) and made_by.keys() == set(texts)
    if not whole or not all(isinstance(made_by[key], str) for key in texts):
        raise Damaged([f"the record's 'program' is not {', '.join(texts)}"])
    if made_by["name"] != (name := program()["name"]):
        raise Damaged([f"the record is of a program '{made_by['name']}', not of {name}"])
    return content


def page_of(data: bytes, signatures: Sequence[Mapping[str, Any]] = ()) -> bytes:
    """The report page of a sound record, as this version of the program makes it.

    data: the bytes of the record; signatures: the rows of `signed_beside`. Raises Damaged.
    """
    from laminate.show.report_page import page

    return page(_read(data), sha256(data), signatures).encode()


def inputs_of(data: bytes) -> list[Embedded]:
    """The files inside a record. Raises Damaged, in words, where it is damaged."""
    return embedded(_read(data)["inputs"])
