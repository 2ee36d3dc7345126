"""Results as a table for a spreadsheet: one row a specimen, units in the header."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from itertools import chain
from pathlib import Path
from typing import Any

from laminate.coupons.measurement import Measurement
from laminate.files.coupons import COLUMNS, NUMBERS
from laminate.files.named_file import NamedFile
from laminate.files.tables import read_table
from laminate.values.durable import write_whole
from laminate.values.problems import Problem, Refused
from laminate.values.quantities import ATTRIBUTES, shown, shown_difference

WORDS = ("position", "lot")
SHEET = "results"


def rows_of(measurement: Measurement) -> Iterator[dict[str, Any]]:
    """One row a specimen; a column each for value and standard uncertainty of every attribute."""
    measured = {*measurement.widest(), *(key for s in measurement.prepregs for key in s.best)}
    keys = [key for key in ATTRIBUTES if key in measured]
    for s in chain(measurement.specimens, measurement.prepregs):
        row: dict[str, Any] = {"specimen": s.name, "zone": s.zone or ""}
        row |= {word: s.coupon.word(word) for word in WORDS}
        row["methods"] = "; ".join(s.methods)
        for key in keys:
            attribute, result = ATTRIBUTES[key], s.best.get(key)
            name, unit = key.replace("_", " "), attribute.unit
            row[f"{name} [{unit.text}]"] = None if result is None else shown(result.value, unit)
            u = None if result is None or result.u == 0.0 else shown_difference(result.u, unit)
            row[f"{name} standard uncertainty [{unit.text}]"] = u
        row["excluded"] = s.excluded
        row["warnings"] = "; ".join(warning.sentence() for warning in s.warnings)
        yield row


def write_table(measurement: Measurement, path: Path) -> None:
    """Write the table as .csv or .xlsx.

    Raises `Refused` where the file cannot be written, or holds readings that would be lost.
    """
    import pandas as pd

    _refuse_readings(path)
    frame = pd.DataFrame(rows_of(measurement))
    if not path.absolute().parent.is_dir():
        found_words = f"no folder '{path.parent}'"
        raise Refused(Problem("not-written", str(path), "", found_words, "a file in a folder that exists"))
    if path.suffix.casefold() == ".xlsx":
        book = BytesIO()
        frame.map(_no_formula).to_excel(book, index=False, sheet_name=SHEET, freeze_panes=(1, 1))
        write_whole(path, book.getvalue())
    else:
        write_whole(path, frame.to_csv(index=False, lineterminator="\n").encode())


def _refuse_readings(path: Path) -> None:
    """Raise `Refused` where a file holds readings: a coupon table, and no earlier results."""
    if not path.is_file() or path.read_bytes().find(b"standard uncertainty") >= 0:
        return
    for table in read_table(NamedFile.at(path), known=COLUMNS, problems=[]):
        numbers = [at for at, heading in enumerate(table.headings) if heading.name in NUMBERS]
        if table.sheet != SHEET and any(row.cells[at] for row in table.rows for at in numbers):
            hint = "nothing was written; name a new file"
            raise Refused(Problem("holds-readings", str(path), "", "a table with readings", "", hint))


def _no_formula(cell: Any) -> Any:
    """Text of people that begins like a formula stays text in a spreadsheet."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "@")) else cell
