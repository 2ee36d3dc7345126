"""The commands `sheet` and `enter`: a coupon table to fill in, in a spreadsheet or at the balance."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from laminate.front.options import UNITS
from laminate.show.blocks import Sentence, sentences
from laminate.show.page_words import several
from laminate.values.problems import Refused, refusal

from .answers import print_done
from .options import argument, flag, one_of, option

if TYPE_CHECKING:
    from laminate.bench.sheet import Blank
    from laminate.bench.table import BenchTable
    from laminate.files.batch import Case
    from laminate.files.table import Table

    from .bench.page import EntryScreen

TURNED = (
    "A spreadsheet program that opens this CSV file turns 0012 into 12 unless the column is set to "
    "text; a workbook (.xlsx) keeps it."
)
Batch = Annotated[Path, argument("BATCH", "the batch file, which names its part file")]


def sheet(
    batch: Batch,
    out: Annotated[Path, option("FILE", "where to write: .xlsx or .csv")],
    zone: Annotated[list[str] | None, option("ZONE", "this zone alone; repeatable")] = None,
    method: Annotated[list[str] | None, option("METHOD", "in place of the plan's; repeatable")] = None,
    specimens: Annotated[
        int | None, option("N", "coupons in each zone, in place of the plan's", min=1, max=2000)
    ] = None,
    fields: Annotated[
        int | None, option("N", "rows per coupon, for point counts; default: the plan's", min=1, max=200)
    ] = None,
    prepreg: Annotated[list[str] | None, option("NAME", "rows for its incoming test; repeatable")] = None,
    sinker: Annotated[bool, flag("--sinker", "a column for the sinker of coupons that float")] = False,
    paper: Annotated[str, option("SIZE", "to print on: a4 or letter")] = "a4",
    units: Annotated[str, option("UNITS", "of the columns: metric or us")] = "metric",
    as_json: Annotated[bool, flag("--json", "what was written, as JSON")] = False,
) -> None:
    """Write a blank coupon table for what the plan asks to measure.

    A workbook has drop-downs, cell checks and a page that explains every column, and is laid out to print. A
    file that is already there is never overwritten. 'laminate measure' and 'laminate enter' read it. A
    prepreg with limits that no certificate of its lots answers gets rows for its incoming test. Names that
    are used in the tables of the batch are not given again.
    """
    from laminate.bench.coupon_sheet import PAPER, csv_text, workbook
    from laminate.bench.sheet import blank_table, prepregs_to_test
    from laminate.files.batch import read_batch
    from laminate.values.durable import write_whole

    suffix = out.suffix.lower()
    if suffix not in (".xlsx", ".csv"):
        expected = "a name that ends in .xlsx or .csv"
        raise refusal("wrong-format", str(out), "--out", f"'{out.suffix}'", expected)
    size, system = one_of("--paper", paper, PAPER), one_of("--units", units, UNITS)
    case = read_batch(batch)
    blank = blank_table(
        case,
        zones=zone or (),
        methods=method or (),
        specimens=specimens,
        fields=fields,
        units=system,
        prepregs=prepreg or ([] if zone else prepregs_to_test(case)),
        sinker=sinker,
        tables=_others(case, out),
    )
    if out.exists():
        hint = "nothing was written; name a new file"
        raise refusal("file-exists", str(out), "", "already there", "", hint)
    as_text, folder = suffix == ".csv", "" if out.parent.exists() else f" Its folder {out.parent} is new."
    write_whole(out, csv_text(blank).encode() if as_text else workbook(blank, paper=size))
    columns = [column.heading for column in blank.columns]
    names = list(dict.fromkeys(row[0] for row in blank.rows))
    done = {"written": str(out), "columns": columns, "specimens": names, "cautions": blank.cautions}
    then = "" if _listed(case, out) else f" Name it under 'coupons' in {case.name}, so that it counts."
    rows = several(len(blank.rows), "row")
    first = Sentence(f"{out} written: {rows} to fill in.{folder}{then}", strong=True)
    print_done(done, [first, *sentences([*blank.cautions, TURNED if as_text else ""])], as_json=as_json)


def enter(
    batch: Batch,
    table: Annotated[
        Path | None, option("FILE", "the CSV table, made where it does not exist; else the batch's")
    ] = None,
    operator: Annotated[str, option("NAME", "who measures; asked for without it")] = "",
    take_over: Annotated[
        bool, flag("--take-over", "take a table that an ended session on another computer left open")
    ] = False,
    as_json: Annotated[bool, flag("--json", "on leaving, what was done, as JSON")] = False,
) -> None:
    """Type readings at the bench; each is checked and saved at once.

    Keyboard only; a balance that types its readings with Enter works. F1 on the page lists the keys.
    """
    from contextlib import ExitStack

    from laminate.bench.entry import TableChecker
    from laminate.bench.lock import held
    from laminate.bench.session import Session
    from laminate.bench.sheet import stated_blanks
    from laminate.bench.table import BenchTable
    from laminate.files.batch import read_batch
    from laminate.values.durable import on_disk

    from .bench.page import EntryScreen

    if not _at_a_terminal():
        hint = "'laminate sheet' writes a table to be filled in elsewhere"
        raise refusal("no-terminal", "", "", "no terminal", "a keyboard and a screen", hint)
    case = read_batch(batch)
    path, name = _table(case, table)
    others = _others(case, path)
    with ExitStack() as leaving:
        with on_disk(name):
            ended = leaving.enter_context(held(path, name, take_over=take_over))
            made = _made(case, path, name, others)
        bench = BenchTable(path, name)
        if not bench.view.rows:
            bench.keep({}, _planned(case, bench.labels, others))
        session = Session(bench, TableChecker(case, others), operator)
        refusals = (f"'measure' will refuse: {problem.sentence()}" for problem in bench.told)
        head = case.batch.batch
        title = f"{head.id}  {head.part_number} {head.part_issue}"
        lacks = _incomplete(case, [bench.view, *others])
        without = _without_column(case, [bench.view, *others], name)
        late = f"Restored from the history: {', '.join(bench.caught_up)}."
        of_table = (ended, late if bench.caught_up else "", _broken(bench), made)
        methods = [method for plan in case.part.plan.values() for method in plan.measured_by]
        greeting = (lacks, without, *of_table, *stated_blanks(case, methods), *refusals)
        page = EntryScreen(session, title, tuple(filter(None, greeting)))
        page.run()
        lacks = _incomplete(case, [bench.view, *others])
    if page.failure is None or not as_json:
        _told_on_leaving(page, name, lacks, without, as_json=as_json)
    if page.failure is not None:
        raise page.failure
    if page.interrupted:
        raise KeyboardInterrupt


def _broken(bench: BenchTable) -> str:
    """What a table and its history miss of each other, in one line."""
    if not bench.breaks:
        return ""
    more = f", and {len(bench.breaks) - 1} more" if len(bench.breaks) > 1 else ""
    held = "'laminate report' holds the batch back until it is put back as it was"
    return f"{bench.breaks[0]}{more}: {held}."


def _told_on_leaving(page: EntryScreen, name: str, lacks: str, without: str, *, as_json: bool) -> None:
    """Print what was done in a table, what it lacks and what was typed but not recorded."""
    kept, left, unsettled = page.session.kept, page.session.left(), page.session.unsettled()
    typed = page.line.value.strip()
    done = {"table": name, "kept": kept, "left": left, "open": unsettled}
    done |= {"incomplete": lacks or None, "not_recorded": typed or None}
    doubts = f"Still in doubt: {', '.join(unsettled)}. Measure again, or give a reason."
    lines = (
        lacks,
        without,
        f"{name}: {several(kept, 'cell')} changed, {several(left, 'cell')} still to be filled in",
        f"Not recorded: '{typed}', typed without Enter." if typed else "",
        doubts if unsettled else "",
    )
    print_done(done, sentences(lines), as_json=as_json)


def _incomplete(case: Case, missing_cells: list[Table]) -> str:
    """The specimens that were begun and lack a reading of their plan, in one line."""
    from laminate.coupons.plan_readings import begun_words
    from laminate.files.coupons import gather

    coupons, _ = gather(missing_cells)
    return begun_words(case, coupons)


def _without_column(case: Case, tables: list[Table], name: str) -> str:
    """What no table of a batch has a column for, in one line; name: of the table that is filled in."""
    from laminate.bench.sheet import heading
    from laminate.coupons.plan_readings import columns_lacking

    columns = {heading.name for table in tables for heading in table.headings}
    lacks = ", ".join(f"'{heading(column)}'" for column in columns_lacking(case, columns))
    words = f"no column {lacks}: add it to the header of {name}, or begin with 'laminate sheet'"
    return words if lacks else ""


def _at_a_terminal() -> bool:
    """Whether there is a keyboard, and a screen to draw on; the answer may go elsewhere."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def _table(case: Case, table: Path | None) -> tuple[Path, str]:
    """The table to fill in, and what it is called."""
    from laminate.files.named_file import NamedFile

    tables = [file for file in case.coupon_files() if file.path.suffix.lower() == ".csv"]
    if table is not None:
        tables = [NamedFile.at(table)]
    if len(tables) != 1:
        named = ", ".join(file.name for file in tables) or "no CSV table"
        raise refusal("which-table", case.name, "batch.coupons", named, "one: name it with --table")
    path, name = tables[0].path, tables[0].name
    if path.suffix.lower() != ".csv":
        hint = "a workbook is filled in with a spreadsheet program"
        raise refusal("wrong-format", name, "", f"'{path.suffix}'", "a name that ends in .csv", hint)
    return path, name


def _others(case: Case, path: Path) -> list[Table]:
    """The batch's other tables, as far as they can be read: what is wrong with them, `measure` says."""
    from laminate.files.coupons import COLUMNS
    from laminate.files.tables import read_table

    return [
        table
        for file in case.coupon_files()
        if file.exists and not (path.exists() and file.path.samefile(path))
        for table in read_table(file, known=COLUMNS, problems=[])
    ]


def _made(case: Case, path: Path, name: str, others: list[Table]) -> str:
    """Write the blank table of the plan where there is none yet; returns what to say of it.

    Raises `Refused` where the history of one is there: what was typed would look as if it never had been.
    """
    from laminate.bench.catching_up import table_behind
    from laminate.bench.coupon_sheet import csv_text
    from laminate.files.entries import history_name
    from laminate.values.durable import replace_file

    if path.exists() and path.stat().st_size:
        return ""
    if path.with_name(history_name(path.name)).exists():
        raise Refused(table_behind(name, "no table, only its history"))
    replace_file(path, csv_text(_blank(case, others)).encode())
    then = "" if _listed(case, path) else f": name it under 'coupons' in {case.name}, so that it counts"
    return f"{name} is new{then}."


def _blank(case: Case, others: list[Table]) -> Blank:
    """The table that plan and incoming tests ask for beside others, as 'laminate sheet' writes it."""
    from laminate.bench.sheet import blank_table, prepregs_to_test

    return blank_table(case, prepregs=prepregs_to_test(case), tables=others)


def _listed(case: Case, path: Path) -> bool:
    """Whether the batch file names a table."""
    return path.resolve() in [file.path.resolve() for file in case.coupon_files()]


def _planned(case: Case, labels: list[str], others: list[Table]) -> list[dict[str, str]]:
    """The planned rows for a table that has a header and nothing below it."""
    blank = _blank(case, others)
    names = [column.label for column in blank.columns]
    rows = (zip(names, row, strict=True) for row in blank.rows)
    return [{label: text for label, text in row if text and label in labels} for row in rows]
