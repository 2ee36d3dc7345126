"""The answer of `report` as a document: the batch, each characteristic, what an auditor computes it from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from laminate.show import report_cycle, report_formulas, report_tables, report_view
from laminate.show.blocks import Block, Heading, Sentence, changed, items, sentences
from laminate.show.document import Document
from laminate.show.page_words import Json, capital, several
from laminate.show.pages import page_of
from laminate.show.report_screen import screen_blocks
from laminate.show.report_summary import (
    CHANCE,
    ahead,
    answer_line,
    cause,
    in_doubt,
    least_certain,
    open_words,
    ways,
)
from laminate.values.said import say_in

Signatures = Sequence[Json]

PICTURES = (
    "In the drawings: a dot is a coupon or a lot, a diamond the average, the bar through it ± its expanded "
    "uncertainty. Upright lines are limits, dashed for the average. Hatched is the guard band: a value there "
    "is inside its limit, but too near to it to be accepted."
)


def report_document(
    answer: Json, units: str = "metric", record: str | None = None, signatures: Signatures = ()
) -> Document:
    """The answer of `report`.

    answer: its JSON, so a record does as well; record: SHA-256 of the record, None where none was sealed;
    signatures: each `role`, `name`, `time`, `key`, `goods` and `remark` as the statements beside the record
    say, a text or None. Equal input gives an equal page.
    """
    batch, converted = answer["batch"], partial(say_in, units=units)
    return Document(
        f"Batch {batch['id']} of {batch['part_number']} issue {batch['part_issue']}",
        batch["part_name"] or "",
        lambda: [changed(block, converted) for block in _blocks(answer, units, record, signatures)],
        screen_blocks(answer, units),
        {"conforms": "yes", "does not conform": "no"}.get(answer["answer"], "open"),
        verdict=capital(answer["answer"]),
        foot=f"record {record[:16]}" if record else "",
        notebook=screen_blocks(answer, units, every_row=True),
    )


def page(answer: Json, record: str | None, signatures: Signatures = ()) -> str:
    """The page of a judged batch or of its record, as `report_document`."""
    return page_of(report_document(answer, "metric", record, signatures))


def _blocks(answer: Json, units: str, record: str | None, signatures: Signatures) -> Iterator[Block]:
    yield from (Sentence(text, strong=True) for text in _first(answer, record, signatures))
    yield replace(report_view.summary(answer), first=True)
    yield from (Heading("Batch and rule", True, "batch"), report_view.facts(answer))
    yield Heading("Characteristics", place="characteristics")
    yield from (Sentence(PICTURES, page=True), Sentence(f"{CHANCE}."))
    yield from _or(_entries(answer, "characteristics"), "The part file has no limits.")
    yield Heading("Process readings", place="process")
    yield from _or(_entries(answer, "process"), "No process reading is held to a limit.")
    if answer.get("cycle"):
        yield Heading("Press cycle, from the log: for screening", place="cycle")
        yield from report_cycle.tables(answer)
    yield from _measured(answer)
    yield Heading("Excluded and replaced coupons", place="excluded")
    yield from _or(report_tables.excluded(answer), "None was excluded or replaced.")
    yield Heading("Warnings and notes", place="warnings")
    yield from _or(items([*report_tables.warnings(answer, units), *report_tables.notes(answer)]), "None.")
    yield Heading("Instruments", True, "instruments")
    yield from _or(report_tables.instruments(answer), "The batch file states none.")
    yield Heading("Materials, lots and cores", True, "materials")
    yield from report_tables.materials(answer)
    yield Heading("Cautions", place="cautions")
    yield from items(report_tables.cautions(answer))
    yield from (Heading("Signatures", place="signatures"), *_signatures(record, signatures))
    yield Heading("Files and digests", True, "files")
    yield from report_tables.files(answer)
    yield Sentence(f"SHA-256 of the record: {f'`{record}`' if record else 'no record was sealed.'}")


def _first(answer: Json, record: str | None, signatures: Signatures) -> list[str]:
    """The answer in a few sentences: what is said, why, how sure."""
    why = [*cause(answer), *open_words(answer), *ways(answer)[:1]]
    if not why:
        count = several(len(answer["characteristics"]), "characteristic")
        readings = several(len(answer["process"]), "process reading")
        why = [f"All conform: {f'{count} and {readings}' if answer['process'] else count}."]
    signers = [f"{row['role']} by {row['name']}" for row in signatures if not row["remark"]]
    signed = f"Signed beside the record when this page was made: {'; '.join(signers)}."
    return [
        *(answer_line(answer, short=True), answer["covers"]["text"]),
        *(*why, *in_doubt(answer), *ahead(answer)),
        *filter(None, [least_certain(answer)]),
        *([signed if signers else "Not signed when this page was made."] if record else []),
    ]


def _entries(answer: Json, key: str) -> Iterator[Block]:
    return (report_view.entry(row, answer) for row in answer[key])


def _or(blocks: Iterable[Block], none: str) -> Sequence[Block]:
    return list(blocks) or [Sentence(none)]


def _measured(answer: Json) -> Iterator[Block]:
    """Averages, coupons, readings as they were typed, and the formulas between them."""
    yield Heading("What was measured, by which method", True, "measured")
    yield from report_tables.averages(answer)
    yield from report_tables.agreement(answer)
    yield from report_tables.evidence(answer)
    coupons: list[Block] = [*report_tables.specimens(answer), *report_tables.readings(answer)]
    yield from _or(coupons, "No coupon was measured.")
    formulas = report_formulas.formulas(answer)
    if formulas:
        yield Heading("How it is computed", True, "computed")
        yield from formulas
        yield from sentences(report_formulas.UNCERTAINTY)


def _signatures(record: str | None, signatures: Signatures) -> Sequence[Block]:
    verify, by = "`laminate verify`", "with the record and the list of who may sign"
    if signatures:
        proves = f"This page proves no signature. {verify} does, {by}."
        return [*report_tables.signatures(signatures), Sentence(proves)]
    if record is None:
        return [Sentence("No record was sealed with this answer, so there is nothing to sign.")]
    none = "Not signed when this page was made: no statement lay beside the record."
    return [Sentence(f"{none} Who has signed it since, {verify} proves, {by}.")]
