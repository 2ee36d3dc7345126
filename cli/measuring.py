"""The lab technician's `measure`: coupon tables to attributes with their uncertainty."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from . import tables, wording
from .answers import print_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from laminate.measured import Measurement, Specimen
    from laminate.suspects import Discrepancy

MATERIAL = ("--fiber-density", "--resin-density")
FIRST = ("fiber_volume", "void_content", "resin_content", "thickness", "density")


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
        screen(found, units)


def _of_batch(options: Any, files: list[Path], given: dict[str, str | None]) -> Measurement:
    from laminate.batch_measure import measure_batch
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
    from laminate import recipes
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
        return Made(coupon.word("zone") or None, known[plies])

    return evaluate(
        read_coupons([(file, str(file)) for file in files], refuse=False),
        bench,
        made_of,
        confidence=share.value,
    )


def _bench(options: Any, given: dict[str, str | None], air: Any, liquid: Any, residue: Any, loss: Any) -> Any:
    from laminate.readings import EXACT, Bench, Gauge
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


def _charge(found: Measurement) -> None:
    """Print the resin content by weighing the charge."""
    from laminate.quantities import PERCENT
    from laminate.show.numbers import text

    charge = found.charge
    if charge is not None:
        u = None if charge.u is None else 1.959964 * charge.u
        said = text(charge.resin_content, u, PERCENT)
        print()
        tables.paragraph(f"Resin content of the molding by weighing charge, part and trim: {said} (95 %).")


def screen(found: Measurement, units: str) -> None:
    """Print a measurement: the averages in words, the specimens, where the ± comes from, what to look at."""
    from laminate.quantities import ATTRIBUTES

    for zone in found.zones:
        if zone is not found.zones[0]:
            print()
        counted = [s for s in zone.specimens if s.counts]
        name = f"Zone {zone.zone}" if zone.zone else "All coupons"
        told = f"{len(counted)} {'specimen' if len(counted) == 1 else 'specimens'}"
        first = [key for key in FIRST[:4] if key in zone.averages]
        answers = [f"{ATTRIBUTES[key].words} {_average_text(found, zone, key, units)}" for key in first]
        tables.paragraph(
            f"{name}, {told}: {', '.join(answers)}."
            if answers
            else f"{name}, {told}: nothing could be computed."
        )
        tables.paragraph(_what_u_is(found))
        print()
        rows = [_average_row(found, zone, key, units) for key in _ordered(zone.averages)]
        tables.table(["average of", "value ± U", "n", "s", "k", "by"], rows, right=[2, 4])
        lone = [key for key, average in zone.averages.items() if average.standard_uncertainty is None]
        if lone:
            tables.paragraph("One coupon shows no scatter: its average has no ±.")
        if any(zone.with_excluded):
            said = [
                f"{ATTRIBUTES[key].words} {wording.attribute_text(key, a.value, found.expanded(a)[1], units)}"
                for key, a in zone.with_excluded.items()
            ]
            tables.paragraph(f"With the rows that are left out (excluded or repeated): {'; '.join(said)}.")
    if found.specimens:
        print()
        specimens_table(found, found.specimens, units)
    if found.prepregs:
        print()
        tables.paragraph("Incoming prepreg")
        specimens_table(
            found,
            found.prepregs,
            units,
            keys=("prepreg_areal_weight", "areal_weight", "resin_content", "volatiles"),
        )
    for zone in found.zones:
        for key in ("fiber_volume", "void_content", "resin_content", "thickness"):
            if key in zone.averages:
                from laminate.show.measure_json import contributions_of

                if zone.zone and len(found.zones) > 1:
                    print(f"\nZone {zone.zone}")
                wording.print_budget(contributions_of(zone, key), key, units)
    _charge(found)
    notes(found, units)


def _ordered(keys: Any) -> list[str]:
    return [*(key for key in FIRST if key in keys), *(key for key in keys if key not in FIRST)]


def _average_text(found: Measurement, zone: Any, key: str, units: str) -> str:
    average = zone.averages[key]
    expanded = found.expanded(average)[1] if average.standard_uncertainty is not None else None
    return wording.attribute_text(key, average.value, expanded, units)


def _what_u_is(found: Measurement) -> str:
    if found.coverage_factor is not None:
        return f"U is the expanded uncertainty with k = {found.coverage_factor:g}; s the standard deviation."
    confidence = 100.0 * (found.confidence or 0.95)
    return (
        f"U is the expanded uncertainty at {confidence:g} % confidence, k times the standard one; "
        "s the standard deviation."
    )


def _average_row(found: Measurement, zone: Any, key: str, units: str) -> list[str]:
    from laminate.quantities import ATTRIBUTES
    from laminate.show.numbers import spread_text

    average = zone.averages[key]
    unit = wording.unit_of(key, units)
    k, expanded = found.expanded(average) if average.standard_uncertainty is not None else (None, None)
    scatter = spread_text(average.standard_deviation, unit) if average.standard_deviation is not None else ""
    return [
        ATTRIBUTES[key].words, wording.attribute_text(key, average.value, expanded, units),
        str(average.n), scatter,
        f"{k:.2f}" if k else "", zone.methods[key],
    ]  # fmt: skip


def specimens_table(
    found: Measurement, specimens: list[Specimen], units: str, keys: tuple[str, ...] = FIRST
) -> None:
    """Print one row a specimen, each value with its own expanded uncertainty."""
    from laminate.quantities import ATTRIBUTES

    shown = [key for key in keys if any(key in s.best for s in specimens)]
    zones = any(s.zone for s in specimens)
    rows = []
    for s in specimens:
        cells = [s.name, *([s.zone or ""] if zones else [])]
        for key in shown:
            one = s.best.get(key)
            cells.append(
                wording.attribute_text(key, one.value, found.expanded(one)[1] or None, units) if one else ""
            )
        cells.append("excluded" if s.excluded else f"repeated by {s.replaced_by}" if s.replaced_by else "")
        rows.append(cells)
    if not any(row[-1] for row in rows):
        rows = [row[:-1] for row in rows]
    columns = ["specimen", *(["zone"] if zones else []), *(ATTRIBUTES[key].words for key in shown)]
    tables.table([*columns, *(["remark"] if len(rows[0]) > len(columns) else [])], rows)


def _reconciliation(found: Measurement) -> None:
    """Print what would reconcile methods that disagree, one line a specimen, and the adjustment."""
    first: dict[str, Discrepancy] = {}
    for one in sorted(found.discrepancies, key=lambda d: d.attribute not in ("fiber_volume", "void_content")):
        first.setdefault(one.specimen, one)
    said = [f"specimen {name}: {one.sentence()}" for name, one in first.items() if one.suspects]
    wording.print_list("What alone would reconcile them, the least moved first (nothing was changed):", said)
    adjusted = found.adjustment
    if adjusted is not None:
        moved = [one for one in adjusted.inputs if abs(one.shift_in_u) >= 0.1][:4]
        words = "; ".join(f"{one.input} by {one.shift_in_u:+.1f} u" for one in moved) or "no shared input"
        tables.paragraph(
            f"A least-squares adjustment over all coupons would move {words}: chi-square "
            f"{adjusted.chi_squared:.3g} on {adjusted.degrees_of_freedom} degrees of freedom, "
            f"p {adjusted.p:.2g}. Evidence only: no value was changed by it."
        )


def notes(found: Measurement, units: str) -> None:
    """Print warnings, methods that disagree, outliers, and what was assumed."""
    from laminate.quantities import ATTRIBUTES
    from laminate.show.numbers import text as said

    accepted = {
        id(w): s.coupon.word("accepted") for s in (*found.specimens, *found.prepregs) for w in s.warnings
    }
    wording.print_list(
        "Look at these while the specimens can still be weighed again:",
        [wording.warning_text(w, accepted.get(id(w), "")) for w in found.warnings],
    )
    differ = [
        f"specimen {s.name}, {ATTRIBUTES[a.attribute].words}: {a.methods[0]} and {a.methods[1]} differ by "
        f"{said(a.difference, None, wording.unit_of(a.attribute, units))}, "
        f"allowed {said(a.allowed, None, wording.unit_of(a.attribute, units))}"
        for s in found.specimens for a in s.agreement if not a.agree
    ]  # fmt: skip
    wording.print_list("Methods that disagree:", differ)
    _reconciliation(found)
    wording.print_list(
        "Far from its fellows (flagged, never removed by the program):",
        [
            f"specimen {o.specimen}, {ATTRIBUTES[o.attribute].words} by {o.method}: "
            f"normed residual {o.normed_residual:.3f}, critical {o.critical:.3f}"
            for o in found.outliers
        ],
    )
    wording.print_list(
        "Excluded:", [f"specimen {s.name}: {s.excluded}" for s in found.specimens if s.excluded]
    )
    wording.print_list(
        "What was assumed or forgiven:", [*found.notes, *wording.exact_sentence(found.not_measured)]
    )


COMMANDS: dict[str, Callable[..., None]] = {"measure": measure}
