"""The lab technician's `measure`: coupon tables to attributes with their uncertainty."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from laminate.front.options import MEASURE
from laminate.values.problems import Problem

from .answers import write_and_print
from .command_options import command
from .options import Options, argument, option


@command(MEASURE, "why units", why="with every average and ±, where it comes from, what is assumed")
def measure(
    files: Annotated[
        list[Path], argument("FILE", "coupon tables (CSV, XLSX), or one batch.toml that names them")
    ],
    *,
    given: Any,
    table: Annotated[Path | None, option("FILE", "write one row per coupon to .csv or .xlsx")] = None,
    options: Options,
) -> None:
    """Compute fiber volume, resin, voids and density from coupons.

    Each figure with its method, averages with their expanded uncertainty and where that comes from.
    """
    if table is not None and table.suffix.casefold() not in (".csv", ".xlsx"):
        expected = "a file name that ends in .csv or .xlsx"
        options.problems.append(Problem("wrong-value", "", "--table", f"'{table}'", expected))
    from laminate.front.measuring import measured_of

    measurement = options.reads(lambda: measured_of(files, given, spelled=True))
    if table is not None:
        from laminate.show.table_file import write_table

        write_table(measurement, table)
    from laminate.show.measured_words import measure_document
    from laminate.show.plain_json import measure_json

    write_and_print(
        options, lambda: measure_json(measurement), lambda: measure_document(measurement, options.units)
    )
