"""The lab technician's `measure`: coupon tables to attributes with their uncertainty."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from laminate.front.options import Option

from .answers import give_out
from .keyed import keyed
from .options import AsJson, Options, Units, argument, flag, option

MATERIALS = {
    "fiber_density": Option((), '"1.79 g/cm^3 ± 0.01 (k=2)"'),
    "resin_density": Option((), "cured, at room temperature"),
    "fiber_areal_weight": Option((), "of a ply, for fiber volume from thickness"),
    "plies": Option((), "of every coupon, where the table has no such column", "COUNT"),
    "fiber": Option((), "carbon, glass, aramid or other: what burn-off may do", "WORD"),
    "air_density": Option((), "0 for the arithmetic of ASTM D792 as printed; default: 0.0012 g/cm^3"),
    "liquid_density": Option((), "of the immersion liquid, where it is not water by temperature"),
    "confidence": Option((), "of expanded uncertainties; default: 95 %, or what the part file says"),
}
APART = "Beside coupon tables alone, of instruments and blanks"
INSTRUMENTS = {
    "balance": Option((), 'of each weighing: "0.1 mg (standard)"', "SPREAD"),
    "balance_calibration": Option((), "shared by all weighings", "SPREAD"),
    "thermometer": Option((), 'of each liquid temperature: "0.1 K (standard)"', "SPREAD"),
    "micrometer": Option((), 'of each thickness: "0.002 mm (standard)"', "SPREAD"),
    "caliper": Option((), "of each length and width", "SPREAD"),
    "balance_resolution": Option((), 'smallest step of the balance, "0.1 mg"; default: the last decimal'),
    "thermometer_resolution": Option((), "smallest step of the thermometer"),
    "micrometer_resolution": Option((), "smallest step of the micrometer"),
    "caliper_resolution": Option((), "smallest step of the caliper"),
    "residue_share": Option((), "of neat resin that is left in the loss of matrix"),
    "fiber_loss": Option((), "of bare fiber that is lost in it"),
}


@keyed(MATERIALS, into="materials", panel="")
@keyed(INSTRUMENTS, into="instruments", panel=APART)
def measure(
    files: Annotated[
        list[Path], argument("FILE", "coupon tables (CSV, XLSX), or one batch.toml that names them")
    ],
    materials: Any = None,
    instruments: Any = None,
    table: Annotated[Path | None, option("FILE", "write one row a coupon to .csv or .xlsx")] = None,
    why: Annotated[
        bool, flag("--why", "with every average and ±, where it comes from, what is assumed")
    ] = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Compute fiber volume, resin, voids and density from coupons.

    Which method gave each figure, averages with their expanded uncertainty, and where it comes from.
    """
    options = Options(units, why=why, as_json=as_json)
    if table is not None and table.suffix.casefold() not in (".csv", ".xlsx"):
        options.say("wrong-value", "--table", f"'{table}'", "a file name that ends in .csv or .xlsx")
    given = {**materials, **instruments}
    from laminate.front.measuring import measured_of

    measurement = options.reads(lambda: measured_of(files, given, spelled=True))
    if table is not None:
        from laminate.show.table_file import write_table

        write_table(measurement, table)
    from laminate.show.measured_words import measure_document
    from laminate.show.plain_json import measure_json

    give_out(options, lambda: measure_json(measurement), lambda: measure_document(measurement, units))
