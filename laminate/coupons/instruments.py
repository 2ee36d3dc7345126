"""The instruments that read a table of coupons, and what else of the bench every reading shares."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from laminate.files.batch_checks import INSTRUMENT_KINDS
from laminate.files.coupons import IN_LIQUID, NUMBERS, Coupon
from laminate.files.raw_file import path_text
from laminate.values.problems import Problem, nearest, unknown_name
from laminate.values.units import SIValue, Spread, Unreadable, parse_spread

if TYPE_CHECKING:
    from laminate.files.batch import Case

EXACT = SIValue(0.0)
AIR = SIValue(1.2, text="0.0012 g/cm^3")
USUAL = {"mass": "balance", "temperature": "thermometer", "length": "micrometer", "area": "template"}
"""Kind of quantity -> the name that its instrument has in a batch file."""
GAUGES = {"balance": "mass", "thermometer": "temperature", "micrometer": "length", "caliper": "length"}
"""Instruments that options state where no batch file does -> kind of quantity."""
UNMEASURED = ("plies", "points", "fiber points", "void points")
"""Columns that no instrument reads."""

Column = tuple[str, str, str, str]
"""Name, instrument, file and unit of a column."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """An instrument: what each reading scatters, what all of them share, its smallest step [SI], 0 untold."""

    name: str
    repeatability: Spread | None = None
    calibration: Spread | None = None
    resolution: float = 0.0


UNSTATED = Gauge("")


@dataclass(frozen=True)
class Bench:
    """How a table was measured.

    gauges: by name; air_density, liquid_density, wire_diameter, beaker_diameter [SI]; residue_share and
    fiber_loss: of the blanks, `EXACT` where nobody told one; blank: whether any was stated or run, or said
    not to be; blank_scatter: of one blank, from earlier ones [share]; registered: whether every
    instrument must be among the gauges; steps: the last decimal of each column [SI]; frame_steps: of each
    column of a data frame, for checks alone.
    """

    gauges: Mapping[str, Gauge] = field(default_factory=dict)
    air_density: SIValue = AIR
    liquid: str = "water"
    liquid_density: SIValue | None = None
    wires: int = 0
    wire_diameter: SIValue | None = None
    beaker_diameter: SIValue | None = None
    residue_share: SIValue = EXACT
    fiber_loss: SIValue = EXACT
    blank: bool = False
    blank_scatter: Spread | None = None
    registered: bool = False
    steps: Mapping[Column, float] = field(default_factory=dict)
    frame_steps: Mapping[Column, float] = field(default_factory=dict)

    def gauge(self, column: str, coupon: Coupon) -> str:
        """The name of the instrument that read a column of a coupon, '' where none is stated."""
        kind = NUMBERS[column]
        if column in self.gauges:
            return column
        if kind == "mass":
            named = coupon.word("liquid balance" if column in IN_LIQUID else "balance")
            balances = ["liquid balance", "balance"] if column in IN_LIQUID else ["balance"]
            return next((name for name in (named, *balances) if name in self.gauges), named)
        sided = column in ("length", "width") and "caliper" in self.gauges
        named = "caliper" if sided else USUAL.get(kind, kind)
        return named if named in self.gauges else ""

    def gauge_of(self, column: str, coupon: Coupon) -> Gauge:
        """The instrument itself, one of which nothing is known where none is stated."""
        return self.gauges.get(self.gauge(column, coupon), UNSTATED)


def bench_of(case: Case) -> Bench:
    """The bench that a batch file describes."""
    batch, laboratory, blank = case.batch, case.batch.laboratory, case.batch.blank
    alike = ("air_density", "liquid_density", "wires", "wire_diameter", "beaker_diameter")
    stated: dict[str, Any] = {key: getattr(laboratory, key) for key in alike}
    shares = {"residue_share", "fiber_loss"} & (blank.model_fields_set if blank else set())
    stated |= {key: getattr(blank, key) for key in shares}
    gauges = {
        name: Gauge(name, instrument.repeatability, instrument.calibration, instrument.resolution or 0.0)
        for name, instrument in batch.instrument.items()
    }
    water = laboratory.liquid.strip().casefold() == "water"
    liquid = "water" if water else laboratory.liquid
    scatter = case.part.part.blank_scatter
    return Bench(
        gauges, liquid=liquid, blank=blank is not None, blank_scatter=scatter, registered=True, **stated
    )


def unknown_gauges(coupon: Coupon, bench: Bench) -> Iterator[Problem]:
    """The cells that name a balance which the batch file does not have, or something that is no balance."""
    for column in ("balance", "liquid balance") if bench.registered else ():
        name = coupon.word(column)
        if not name or (name in bench.gauges and _weighs(bench.gauges[name])):
            continue
        balances = [known for known, gauge in bench.gauges.items() if _weighs(gauge)]
        expected = "the name of a balance of the batch file, as in [instrument.NAME], that measures masses"
        yield coupon.located(unknown_name(coupon.file, coupon.place(column), name, expected, balances))


def unused_instruments(case: Case, coupons: Sequence[Coupon]) -> Iterator[Problem]:
    """The instruments of a batch file that no reading can be of: their uncertainty would count for nothing.

    Read are the columns of coupon tables, each kind of reading by its usual instrument, and the columns of
    logs; a balance may have any name that a row states.
    """
    stated = {coupon.word(column) for coupon in coupons for column in ("balance", "liquid balance")} - {""}
    stated |= {nearest(name, case.batch.instrument) or name for name in stated}  # told at its cell
    logged = {column.instrument for log in case.batch.log for column in log.columns.values()}
    usual = [*INSTRUMENT_KINDS, *(name for name in NUMBERS if name not in UNMEASURED)]
    for name in case.batch.instrument:
        if name in usual or name in stated or name in logged:
            continue
        expected = "the name of a column, one of " + ", ".join(f"'{known}'" for known in INSTRUMENT_KINDS)
        expected += ", or the name of a balance that a row states in its column 'balance'"
        yield unknown_name(case.name, path_text(("instrument", name)), name, expected, usual, listed=True)


def _weighs(gauge: Gauge) -> bool:
    try:
        for spread in (gauge.repeatability, gauge.calibration):
            if spread is not None:
                parse_spread(spread.text, "mass")
    except Unreadable:
        return False
    return True
