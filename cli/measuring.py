"""The lab technician's `measure`: coupon tables to attributes with their uncertainty."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from laminate.front.options import MEASURE
from laminate.values.problems import Problem

from .answers import print_answer
from .command_options import command
from .options import Options, argument, option

if TYPE_CHECKING:
    from laminate.front.answer import Answer


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
    from laminate.front.measuring import MeasureAnswer, measured_of

    def keep(answer: Answer) -> list[Path]:
        if table is not None:
            from laminate.show.table_file import write_table

            write_table(answer.result, table)
        return []

    print_answer(options, lambda: MeasureAnswer(measured_of(files, given, from_command_line=True)), keep=keep)
