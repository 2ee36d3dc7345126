"""The lab technician's `measure`: coupon tables to attributes with their uncertainty."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .answers import AsJson, Units, give_out, print_json

if TYPE_CHECKING:
    pass


APART = "Beside coupon tables alone, of instruments and blanks"


def _quantity(words: str) -> Any:
    return typer.Option(metavar="QUANTITY", help=words, show_default=False)


def _of_tables(words: str) -> Any:
    return typer.Option(metavar="QUANTITY", help=words, show_default=False, rich_help_panel=APART)


def _spread(words: str) -> Any:
    return typer.Option(metavar="SPREAD", help=words, show_default=False, rich_help_panel=APART)


def measure(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE", help="coupon tables (CSV, XLSX), or one batch.toml that names them"),
    ],
    fiber_density: Annotated[str | None, _quantity('"1.79 g/cm^3 ± 0.01 (k=2)"')] = None,
    resin_density: Annotated[str | None, _quantity("cured, at room temperature")] = None,
    fiber_areal_weight: Annotated[str | None, _quantity("of a ply, for fiber volume from thickness")] = None,
    plies: Annotated[
        str | None,
        typer.Option(
            metavar="COUNT",
            help="of every coupon, where the table has no such column",
            show_default=False,
        ),
    ] = None,
    fiber: Annotated[
        str | None,
        typer.Option(
            metavar="WORD", help="carbon, glass, aramid or other: what burn-off may do", show_default=False
        ),
    ] = None,
    air_density: Annotated[
        str | None, _quantity("0 for the arithmetic of ASTM D792 as printed; default: 0.0012 g/cm^3")
    ] = None,
    liquid_density: Annotated[
        str | None, _quantity("of the immersion liquid, where it is not water by temperature")
    ] = None,
    balance: Annotated[str | None, _spread('of each weighing: "0.1 mg (standard)"')] = None,
    balance_calibration: Annotated[str | None, _spread("shared by all weighings")] = None,
    thermometer: Annotated[str | None, _spread('of each liquid temperature: "0.1 K (standard)"')] = None,
    micrometer: Annotated[str | None, _spread('of each thickness: "0.002 mm (standard)"')] = None,
    caliper: Annotated[str | None, _spread("of each length and width")] = None,
    balance_resolution: Annotated[
        str | None, _of_tables('smallest step of the balance, "0.1 mg"; default: the last decimal')
    ] = None,
    thermometer_resolution: Annotated[str | None, _of_tables("smallest step of the thermometer")] = None,
    micrometer_resolution: Annotated[str | None, _of_tables("smallest step of the micrometer")] = None,
    caliper_resolution: Annotated[str | None, _of_tables("smallest step of the caliper")] = None,
    residue_share: Annotated[
        str | None, _of_tables("of neat resin that is left in the loss of matrix")
    ] = None,
    fiber_loss: Annotated[str | None, _of_tables("of bare fiber that is lost in it")] = None,
    confidence: Annotated[
        str | None, _quantity("of expanded uncertainties; default: 95 %, or what the part file says")
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="write one row a coupon to .csv or .xlsx", show_default=False),
    ] = None,
    why: Annotated[
        bool, typer.Option("--why", help="with every average and ±, where it comes from, what is assumed")
    ] = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Compute fiber volume, resin, voids and density from coupons.

    Which method gave each figure, averages with their expanded uncertainty, and where it comes from.
    """
    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    if table is not None and table.suffix.casefold() not in (".csv", ".xlsx"):
        options.say("wrong-value", "--table", f"'{table}'", "a file name that ends in .csv or .xlsx")
    given = {
        "fiber_density": fiber_density, "resin_density": resin_density,
        "fiber_areal_weight": fiber_areal_weight,
        "plies": plies, "fiber": fiber, "air_density": air_density,
        "liquid_density": liquid_density, "balance": balance,
        "balance_calibration": balance_calibration,
        "thermometer": thermometer, "micrometer": micrometer, "caliper": caliper,
        "balance_resolution": balance_resolution, "thermometer_resolution": thermometer_resolution,
        "micrometer_resolution": micrometer_resolution, "caliper_resolution": caliper_resolution,
        "residue_share": residue_share, "fiber_loss": fiber_loss, "confidence": confidence,
    }  # fmt: skip
    from laminate.front.measuring import measured_of, plain_answer

    if as_json and table is None and not sys.stdout.isatty():
        answer = options.reads(lambda: plain_answer(files, given, spelled=True))
        if answer is not None:
            print_json(answer)
            return
    measurement = options.reads(lambda: measured_of(files, given, spelled=True))
    if table is not None:
        from laminate.show.table_file import write_table

        write_table(measurement, table)
    from laminate.show.measure_json import measurement_json
    from laminate.show.measured_words import measure_document

    give_out(
        as_json=as_json,
        answer=lambda: measurement_json(measurement),
        document=lambda: measure_document(measurement, units),
        why=why,
    )
