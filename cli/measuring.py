"""The lab technician's `measure`: coupon tables to attributes with their uncertainty."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import measured_screen
from .answers import print_json

if TYPE_CHECKING:
    from laminate.coupon.measurement import Measurement


def _quantity(words: str) -> Any:
    return typer.Option(metavar="QUANTITY", help=words, show_default=False)


def _spread(words: str) -> Any:
    return typer.Option(metavar="SPREAD", help=words, show_default=False)


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
        str | None, _quantity("0 for the arithmetic of ASTM D792 as printed; 0.0012 g/cm^3 if not said")
    ] = None,
    liquid_density: Annotated[
        str | None, _quantity("of the immersion liquid, where it is not water by temperature")
    ] = None,
    balance: Annotated[str | None, _spread('of each weighing: "0.1 mg (standard)"')] = None,
    balance_calibration: Annotated[str | None, _spread("shared by all weighings")] = None,
    thermometer: Annotated[str | None, _spread('of each liquid temperature: "0.1 K (standard)"')] = None,
    micrometer: Annotated[str | None, _spread('of each thickness: "0.002 mm (standard)"')] = None,
    caliper: Annotated[str | None, _spread("of each length and width")] = None,
    residue_share: Annotated[
        str | None, _quantity("of neat resin that is left in the loss of matrix")
    ] = None,
    fiber_loss: Annotated[str | None, _quantity("of bare fiber that is lost in it")] = None,
    confidence: Annotated[
        str | None, _quantity("of expanded uncertainties; 95 % if not said, or what the part file says")
    ] = None,
    table: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="write one row a specimen to .csv or .xlsx", show_default=False),
    ] = None,
    units: Annotated[
        str, typer.Option(metavar="WORD", help="metric, or us for inches and pounds on the screen")
    ] = "metric",
    as_json: Annotated[bool, typer.Option("--json", help="the answer as JSON, metric")] = False,
) -> None:
    """Measure fiber volume, resin content, void content, density and thickness from coupon tables.

    Which method gave each figure, averages with their expanded uncertainty, and where it comes from.
    """
    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    if table is not None and table.suffix.casefold() not in (".csv", ".xlsx"):
        options.say("wrong-value", "--table", f"'{table}'", "a file name that ends in .csv or .xlsx")
    given = {
        "--fiber-density": fiber_density, "--resin-density": resin_density,
        "--fiber-areal-weight": fiber_areal_weight,
        "--plies": plies, "--fiber": fiber, "--air-density": air_density,
        "--liquid-density": liquid_density, "--balance": balance,
        "--balance-calibration": balance_calibration,
        "--thermometer": thermometer, "--micrometer": micrometer, "--caliper": caliper,
        "--residue-share": residue_share, "--fiber-loss": fiber_loss, "--confidence": confidence,
    }  # fmt: skip
    if any(file.suffix.casefold() == ".toml" for file in files):
        found = _of_batch(options, files, given)
    else:
        found = _of_options(options, files, given)
    if table is not None:
        from laminate.show.table_file import write_table

        write_table(found, table)
    if as_json:
        from laminate.show.measurement_json import measurement_json

        print_json(measurement_json(found))
    else:
        measured_screen.screen(found, units)


def _of_batch(options: Any, files: list[Path], given: dict[str, str | None]) -> Measurement:
    from laminate.coupon.batch_measure import measure_batch
    from laminate.read.batch import read_batch

    if len(files) > 1:
        options.say(
            "too-many-files",
            str(files[1]),
            "a second file",
            "one batch file alone, which names its coupon tables",
        )
    for option, text in given.items():
        if text is not None:
            options.say(
                "option-beside-file",
                option,
                f"'{text}'",
                "no such option beside a batch file",
                "the batch file says it",
            )
    options.check()
    return measure_batch(read_batch(files[0]))


def _of_options(options: Any, files: list[Path], given: dict[str, str | None]) -> Measurement:
    from laminate.coupon import recipes
    from laminate.measure import Made
    from laminate.measure import measure as evaluate
    from laminate.quantities import FIBER_KINDS
    from laminate.read.coupons import Coupon, read_coupons
    from laminate.read.toml import (
        AirDensity,
        AnyDensity,
        ArealWeight,
        FiberDensity,
        ResinDensity,
        Share,
        quantity,
    )

    for file in files:
        if not file.exists():
            options.missing_file(file)
    fiber = options.needed(
        "--fiber-density",
        given["--fiber-density"],
        FiberDensity,
        'a density, such as "1.79 g/cm^3", or a batch file',
    )
    resin = options.needed(
        "--resin-density",
        given["--resin-density"],
        ResinDensity,
        'the cured density, such as "1.22 g/cm^3", or a batch file',
    )
    areal = options.quantity("--fiber-areal-weight", given["--fiber-areal-weight"], ArealWeight)
    if given["--fiber"] is not None:
        options.word("--fiber", given["--fiber"], FIBER_KINDS)
    air = given["--air-density"]
    air = f"{air} g/cm^3" if air is not None and air.strip() in ("0", "0.0") else air
    level = quantity("fraction", 0.5, 1.0 - 1e-9, "from 50 to below 100 %")
    share = options.quantity("--confidence", given["--confidence"] or "95 %", level)
    everywhere = options.count("--plies", given["--plies"]) if given["--plies"] is not None else None
    bench = _bench(
        options,
        given,
        options.quantity("--air-density", air, AirDensity),
        options.quantity("--liquid-density", given["--liquid-density"], AnyDensity),
        options.quantity("--residue-share", given["--residue-share"], Share),
        options.quantity("--fiber-loss", given["--fiber-loss"], Share),
    )
    options.check()
    recipe = recipes.of_options(fiber, resin, areal, given["--fiber"] or "other")
    known: dict[int | None, Any] = {}

    def made_of(coupon: Coupon) -> Made:
        counted = coupon.readings("plies")
        plies = int(counted[0]) if counted else everywhere
        if plies not in known:
            known[plies] = recipe(plies)
        # without an oven weighing the volatiles are part of what extraction takes away
        basis = "as received" if coupon.has("dried mass") else "with volatiles"
        return Made(coupon.word("zone") or None, known[plies], basis=basis)

    return evaluate(
        read_coupons([(file, str(file)) for file in files], refuse=False),
        bench,
        made_of,
        confidence=share.value,
    )


def _bench(options: Any, given: dict[str, str | None], air: Any, liquid: Any, residue: Any, loss: Any) -> Any:
    from laminate.coupon.readings import EXACT, Bench, Gauge
    from laminate.units import parse_spread

    kinds = {"balance": "mass", "thermometer": "temperature", "micrometer": "length", "caliper": "length"}
    gauges = {}
    for name, kind in kinds.items():
        own = options.read(f"--{name}", given[f"--{name}"], lambda text, kind=kind: parse_spread(text, kind))
        shared = options.read(
            f"--{name}-calibration",
            given.get(f"--{name}-calibration"),
            lambda text, kind=kind: parse_spread(text, kind),
        )
        if own is not None or shared is not None:
            gauges[name] = Gauge(name, own, shared)
    default = Bench()
    return Bench(
        gauges, air if air is not None else default.air_density, "water", liquid,
        residue_share=residue or EXACT, fiber_loss=loss or EXACT,
        blank=residue is not None or loss is not None,
    )  # fmt: skip
