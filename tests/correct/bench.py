"""An invented plate between matched tool halves: what is stated, what is true, and what a bench reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import Case, read_batch
from laminate.formulas.water import water_density
from laminate.history.achieved import attributes_of
from laminate.press.case import ZoneCase
from laminate.press.inputs import zone_case
from laminate.values.input_key import Key

DENSITIES = (Key("fiber", "carbon", "density"), Key("resin", "epoxy", "density"))

PART = """\
format = 1
[part]
number = "PLATE-1"
issue = "A"
[temperature]
room = "23 degC"
gel = "120 degC"
cure = "125 degC"
[fiber.carbon]
kind = "carbon"
density = "1.79 g/cm^3 ± 0.01 (k=2)"
[resin.epoxy]
density = "1.22 g/cm^3 ± 0.01 (k=2)"
liquid_density = "1.12 g/cm^3 ± 0.02 (tolerance)"
[prepreg.ud150]
fiber = "carbon"
resin = "epoxy"
fiber_areal_weight = "150 g/m^2 ± 2 (tolerance)"
resin_content = "33 % ± 1 (tolerance)"
resin_basis = "as received"
volatiles = "0.4 % ± 0.2 (tolerance)"
[tool]
expansion = "23.6e-6 /K"
[zone.web]
gap = "2.84 mm ± 0.03 (tolerance)"
fill_with = "ud150"
bleed_limit = "25 %"
[limits.fiber_volume]
average = { min = "57 %", max = "63 %" }
[limits.thickness]
individual = { min = "2.65 mm", max = "2.95 mm" }
"""

BATCH = """\
format = 1
[batch]
id = "{id}"
part = "part.toml"
part_number = "PLATE-1"
part_issue = "A"
molded = {molded}
coupons = ["{id}.csv"]
plies = {{ web = 20 }}
[[lot]]
prepreg = "ud150"
number = "{lot}"
certificate = "C-{lot}"
fiber_areal_weight = "{areal} g/m^2 ± 1.0 (k=2)"
resin_content = "33.1 % ± 0.6 (k=2)"
resin_basis = "as received"
volatiles = "0.4 % ± 0.2 (tolerance)"
[instrument.balance]
identity = "BAL-1"
repeatability = "0.1 mg (standard)"
calibration = "0.1 mg (standard)"
calibrated = 2026-01-01
due = 2030-01-01
[instrument.thermometer]
identity = "TH-1"
repeatability = "0.05 K (standard)"
calibration = "0.1 K (standard)"
calibrated = 2026-01-01
due = 2030-01-01
[instrument.micrometer]
identity = "MIC-1"
repeatability = "0.002 mm (standard)"
calibration = "0.0015 mm (standard)"
calibrated = 2026-01-01
due = 2030-01-01
[laboratory]
measured = 2026-06-01
liquid = "water"
air_density = "0.0012 g/cm^3"
[blank]
residue_share = "0.2 % ± 0.1 (standard)"
fiber_loss = "0.4 % ± 0.2 (standard)"
"""

COLUMNS = (
    "specimen,zone,mass in air [g],mass in liquid [g],liquid temperature [degC],method,"
    "residue mass [g],thickness [mm]"
)
COUPON_SCATTER = 0.01
"""Standard deviation of the local thickness over that of the plate, invented."""


@dataclass
class Truth:
    """What is true of one case: inputs of the prediction, blanks, errors of calibration.

    numbers: input -> true less stated value [SI]; opened: how much more than the part file says the gap is
    open [m].
    """

    numbers: dict[str, float]
    residue: float
    loss: float
    scale: float
    gauge: float
    thermometer: float
    opened: float


@dataclass
class Bench:
    """Draws truths from what the files state, and readings from truths."""

    folder: Path
    seed: int
    part: str = PART
    lots: Mapping[str, float] = field(default_factory=lambda: {"L1": 150.6})

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed)
        (self.folder / "part.toml").write_text(self.part, "utf-8")
        self.stated: dict[str, Case] = {}
        for number, (lot, areal) in enumerate(self.lots.items(), 1):
            self._write(f"stated-{number}", lot, [], areal)
            self.stated[lot] = read_batch(self.folder / f"stated-{number}.toml")

    def _write(self, name: str, lot: str, rows: list[str], areal: float | None = None) -> Path:
        path = self.folder / f"{name}.toml"
        areal = self.lots[lot] if areal is None else areal
        day = f"2026-02-{1 + len(list(self.folder.glob('b-*.toml'))) % 27:02}"
        path.write_text(BATCH.format(id=name, lot=lot, molded=day, areal=areal), "utf-8")
        (self.folder / f"{name}.csv").write_text("\n".join([COLUMNS, *rows, ""]), "utf-8")
        return path

    def case(self, lot: str) -> ZoneCase:
        """The zone as the files state it."""
        stated = self.stated[lot]
        return zone_case(stated.part, "web", "", stated.ingredients())

    def truth(self, opened: float) -> Truth:
        """Draw every stated input, its lots aside, from its distribution."""
        numbers = {}
        for source in self.case(next(iter(self.lots))).inputs.sources():
            (name, move), *_ = source.moves.items()
            numbers[name] = self._draw(source.shape) * move
        return Truth(
            numbers,
            0.002 + 0.001 * self.rng.standard_normal(),
            0.004 + 0.002 * self.rng.standard_normal(),
            1e-7 * self.rng.standard_normal(),
            1.5e-6 * self.rng.standard_normal(),
            0.1 * self.rng.standard_normal(),
            opened,
        )

    def _draw(self, shape: str) -> float:
        if shape == "rectangular":
            return float(self.rng.uniform(-(3**0.5), 3**0.5))
        return float(self.rng.standard_normal())

    def plate(self, truth: Truth, lot: str, *, extra: float = 0.0, moved: float = 0.0) -> dict[str, float]:
        """The true plate: the model at the true inputs, the gap opened, more so in this batch, and moved."""
        case = self.case(lot)
        x = {name: value + truth.numbers.get(name, 0.0) for name, value in case.inputs.numbers().items()}
        x[case.size_name(next(iter(case.sizes(x))))] += truth.opened + extra + moved
        return {name: float(value) for name, value in attributes_of(case, 20, x).items()}

    def densities(self, truth: Truth) -> tuple[float, float]:
        """True densities of fiber and resin."""
        known = self.case(next(iter(self.lots))).inputs.numbers()
        fiber, resin = (known[key] + truth.numbers[key] for key in DENSITIES)
        return fiber, resin

    def batch(
        self, name: str, truth: Truth, lot: str = "L1", *, extra: float = 0.0, coupons: int = 4
    ) -> Path:
        """Write a batch file and its coupon table, read from a plate."""
        plate = self.plate(truth, lot, extra=extra)
        return self._write(name, lot, [self._row(name, i, plate, truth) for i in range(coupons)])

    def _row(self, name: str, number: int, plate: Mapping[str, float], truth: Truth) -> str:
        fiber, resin = self.densities(truth)
        rng = self.rng
        local = 1.0 + COUPON_SCATTER * rng.standard_normal()
        volume = plate["fiber_volume"] / local
        density = volume * fiber + (1.0 - volume) * resin
        content = volume * fiber / density
        mass, water, air = 2e-3 * rng.uniform(0.9, 1.1), float(water_density(temperature=296.15)), 1.2
        in_water = mass - mass * (water - air) / (density - air)
        residue = content * mass * (1.0 - truth.loss - truth.residue) + truth.residue * mass
        weighed = [m + truth.scale + 1e-7 * rng.standard_normal() for m in (mass, in_water, residue)]
        warm = 23.0 + truth.thermometer + 0.05 * rng.standard_normal()
        thick = plate["thickness"] * local + truth.gauge + 2e-6 * rng.standard_normal()
        a, b, c = (f"{1e3 * m:.5f}" for m in weighed)
        return f"{name}-{number},web,{a},{b},{warm:.3f},digestion,{c},{1e3 * thick:.5f}"


def measured(path: Path):
    """A batch with its measurement."""
    case = read_batch(path)
    return case, measure_batch(case)
