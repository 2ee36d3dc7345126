"""Coupon tables as an honest laboratory would write them: a laminate with scatter, weighed with scatter.

Everything is invented. What scatters: the densities and the lot within their certificates, resin bled and
voids from coupon to coupon, each reading by somewhat more than its instrument's repeatability. Units: g, mm,
cm^3, degC.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

AIR = 0.0012
PLIES = 20
FILM = (60e-4, 0.05)  # g/cm^2, mm


@dataclass(frozen=True)
class Laminate:
    """What a coupon is made of: mass share of fiber, density, thickness, share of voids."""

    fiber_content: float
    density: float
    thickness: float
    voids: float
    fiber_volume: float


@dataclass
class Lot:
    """What all coupons of a table share: constituents and lot as they are, within their certificates."""

    rng: Generator
    plies: int = PLIES
    film: tuple[float, float] = FILM

    def __post_init__(self) -> None:
        rng = self.rng
        self.fiber = rng.normal(1.786, 0.003)
        self.resin = rng.normal(1.22, 0.005)
        self.fiber_areal = rng.normal(150.6, 0.5) * 1e-4
        self.resin_content = rng.normal(0.331, 0.003)
        self.volatiles = rng.uniform(0.002, 0.006)
        self.bleed = rng.uniform(0.02, 0.12)
        self.voids = rng.uniform(0.001, 0.012)
        self.water = rng.uniform(20.5, 24.0)
        self.thermometer = rng.uniform(-0.2, 0.2)
        self.balance = rng.normal(0.0, 0.0001)
        self.residue_share = rng.normal(0.002, 0.001)
        self.fiber_loss = rng.normal(0.004, 0.002)

    def coupon(self) -> Laminate:
        rng = self.rng
        fiber = self.plies * self.fiber_areal * rng.normal(1.0, 0.003)
        prepreg = fiber / (1.0 - self.resin_content - self.volatiles)
        resin = prepreg * self.resin_content * (1.0 - max(0.0, rng.normal(self.bleed, 0.01)))
        bare = fiber / self.fiber + resin / self.resin + self.film[1] / 10.0
        voids = self.voids * math.exp(rng.normal(0.0, 0.4))
        thickness = bare / (1.0 - voids)
        mass = fiber + resin + self.film[0]
        return Laminate(
            fiber / mass, mass / thickness, 10.0 * thickness, voids, fiber / self.fiber / thickness
        )

    def weigh(self, mass: float, scatter: float = 0.00012) -> str:
        return f"{mass + self.balance + self.rng.normal(0.0, scatter):.4f}"

    def temperature(self) -> tuple[float, str]:
        now = self.water + self.rng.normal(0.0, 0.15)
        return now, f"{now + self.thermometer + self.rng.normal(0.0, 0.05):.1f}"

    def immersed(self, laminate: Laminate, volume: float) -> tuple[float, float, str]:
        """Readings in air and in water [g], and the temperature as written."""
        now, written = self.temperature()
        air = volume * (laminate.density - AIR)
        return air, volume * (laminate.density - water_density(now)), written

    def weighed(self, air: float, liquid: float, temperature: str) -> list[str]:
        """Cells of a specimen in air and in water."""
        return [self.weigh(air), self.weigh(liquid, 0.0002), temperature]

    def residue(self, laminate: Laminate, mass: float) -> float:
        fiber = laminate.fiber_content * mass
        return fiber * (1.0 - self.fiber_loss) + self.residue_share * (mass - fiber)


def water_density(celsius: float) -> float:
    """Tanaka et al., Metrologia 38 (2001) [g/cm^3]."""
    t = celsius
    return 0.999974950 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


Table = list[list[str]]
OF_ZONE = ["specimen", "zone", "lot"]
IMMERSION = ["mass in air [g]", "mass in liquid [g]", "liquid temperature [degC]"]
LOSS = ["method", "specimen mass [g]", "residue mass [g]"]
CRUCIBLE = ["crucible", "crucible mass [g]", "crucible with specimen [g]", "crucible with residue [g]"]


def three_with_certificate(rng: Generator) -> Table:
    lot = Lot(rng)
    head = [*OF_ZONE, "plies", *IMMERSION, *LOSS, *(f"thickness {i} [mm]" for i in (1, 2, 3))]
    return [head, *([f"01{i:02}", *_plain(lot, 3)] for i in range(1, 4))]


def _plain(lot: Lot, thicknesses: int) -> list[str]:
    laminate, volume = lot.coupon(), lot.rng.uniform(0.8, 1.1)
    air, liquid, temperature = lot.immersed(laminate, volume)
    dried = air * (1.0 - abs(lot.rng.normal(0.0002, 0.0001)))
    local = [f"{laminate.thickness * lot.rng.normal(1.0, 0.0012):.3f}" for _ in range(thicknesses)]
    weighed = [*lot.weighed(air, liquid, temperature), "digestion", lot.weigh(dried)]
    return ["web", "L2231", str(PLIES), *weighed, lot.weigh(lot.residue(laminate, dried)), *local]


def six_with_dimensions(rng: Generator) -> Table:
    lot = Lot(rng)
    head = [*OF_ZONE, "plies", *IMMERSION, *LOSS, *(f"thickness {i} [mm]" for i in (1, 2))]
    head += ["length [mm]", "width [mm]"]
    rows = []
    for i in range(1, 7):
        laminate, long, wide = lot.coupon(), rng.uniform(24.5, 25.5), rng.uniform(12.3, 12.7)
        air, liquid, temperature = lot.immersed(laminate, long * wide * laminate.thickness / 1000.0)
        dried = air * (1.0 - abs(rng.normal(0.0002, 0.0001)))
        local = [f"{laminate.thickness * rng.normal(1.0, 0.0015) + 0.003:.3f}" for _ in range(2)]
        sides = [f"{side + rng.normal(0.0, 0.02):.2f}" for side in (long, wide)]
        weighed = [*lot.weighed(air, liquid, temperature), "digestion", lot.weigh(dried)]
        weighed += [lot.weigh(lot.residue(laminate, dried)), *local, *sides]
        rows.append([f"A{i}", "web", "L2231", str(PLIES), *weighed])
    return [head, *rows]


def crucibles(rng: Generator) -> Table:
    lot = Lot(rng)
    head = [*OF_ZONE, *IMMERSION, "method", *CRUCIBLE, "crucible again [g]"]
    rows = []
    for i in range(1, 5):
        laminate, volume, empty = lot.coupon(), rng.uniform(0.8, 1.1), rng.uniform(19.0, 26.0)
        air, liquid, temperature = lot.immersed(laminate, volume)
        dried = air * (1.0 - abs(rng.normal(0.0002, 0.0001)))
        weighed = [*lot.weighed(air, liquid, temperature), "digestion", f"T{i}", lot.weigh(empty)]
        weighed += [lot.weigh(empty + dried), lot.weigh(empty + lot.residue(laminate, dried))]
        rows.append([f"B{i}", "web", "L2231", *weighed, lot.weigh(empty, 0.0002)])
    return [head, *rows]


def saturated(rng: Generator) -> Table:
    lot = Lot(rng)
    head = [*OF_ZONE, "dry mass [g]", "saturated mass [g]", *IMMERSION[1:], *LOSS]
    rows = []
    for i in range(1, 5):
        laminate, volume = lot.coupon(), rng.uniform(1.8, 2.4)
        air, liquid, temperature = lot.immersed(laminate, volume)
        soaked = volume * laminate.voids * rng.uniform(0.3, 0.6)
        weighed = [lot.weigh(air), lot.weigh(air + soaked, 0.0005), lot.weigh(liquid + soaked, 0.0002)]
        burnt = [temperature, "digestion", lot.weigh(air * 0.9999), lot.weigh(lot.residue(laminate, air))]
        rows.append([f"S{i}", "web", "L2231", *weighed, *burnt])
    return [head, *rows]


def point_counts(rng: Generator) -> Table:
    lot = Lot(rng)
    head = ["specimen", "zone", "lot", "field", "points", "fiber points", "void points"]
    rows = []
    for i in range(1, 4):
        laminate = lot.coupon()
        for k in range(1, 9):
            fiber = rng.binomial(200, laminate.fiber_volume) / 2.0 if rng.random() < 0.3 else None
            fiber = fiber if fiber is not None else float(rng.binomial(100, laminate.fiber_volume))
            void = min(rng.binomial(100, laminate.voids), 100.0 - fiber)
            rows.append([f"P{i}", "web", "L2231", str(k), "100", f"{fiber:g}", f"{void:g}"])
    return [head, *rows]


def incoming_prepreg(rng: Generator) -> Table:
    lot = Lot(rng)
    head = [
        "specimen", "lot", "area [cm^2]", "prepreg mass [g]", "backing mass [g]", "fiber mass [g]",
        "dried mass [g]",
    ]  # fmt: skip
    rows = []
    for i in range(1, 5):
        area = rng.normal(100.0, 0.1)
        fiber = lot.fiber_areal * area * rng.normal(1.0, 0.004)
        share = rng.normal(lot.resin_content, 0.002)
        whole = fiber / (1.0 - share - lot.volatiles)
        backing = 0.0090 * area * rng.normal(1.0, 0.004)
        measured = f"{area + rng.normal(0.0, 0.05):.1f}"
        weighed = [lot.weigh(whole + backing), lot.weigh(backing), lot.weigh(fiber)]
        dried = lot.weigh(whole * (1.0 - rng.normal(lot.volatiles, 0.0002)))
        rows.append([f"I{i}", "L2231", measured, *weighed, dried])
    return [head, *rows]


class GlassLot(Lot):
    """Glass and epoxy, nine plies, without a film."""

    def __post_init__(self) -> None:
        super().__post_init__()
        rng, self.plies, self.film = self.rng, 9, (0.0, 0.0)
        self.fiber = rng.normal(2.55, 0.004)
        self.resin = rng.normal(1.20, 0.004)
        self.fiber_areal = rng.normal(300.0, 1.5) * 1e-4
        self.resin_content, self.volatiles = rng.normal(0.33, 0.003), 0.0
        self.residue_share = rng.normal(0.004, 0.0005)
        self.fiber_loss = rng.normal(0.0018, 0.0003)


def glass_burn_off(rng: Generator) -> Table:
    """Five specimens of glass, burnt off in crucibles beside two blanks of resin and two of fiber."""
    lot = GlassLot(rng)
    head = ["specimen", "zone", "kind", *IMMERSION, "method", *CRUCIBLE]
    rows = []
    for i in range(1, 6):
        laminate, volume, empty = lot.coupon(), rng.uniform(1.0, 1.2), rng.uniform(24.0, 28.0)
        air, liquid, temperature = lot.immersed(laminate, volume)
        dried = air * (1.0 - abs(rng.normal(0.0002, 0.0001)))
        masses = [empty, empty + dried, empty + lot.residue(laminate, dried)]
        weighed = [*lot.weighed(air, liquid, temperature), "ignition", f"K{i}", *map(lot.weigh, masses)]
        rows.append([f"S{i}", "shell", "", *weighed])
    for i in range(6, 10):
        resin, mass, empty = i < 8, rng.uniform(1.3, 1.6), rng.uniform(24.0, 28.0)
        left = lot.residue_share if resin else 1.0 - lot.fiber_loss
        weighed = [empty, empty + mass, empty + mass * (left + rng.normal(0.0, 0.0002))]
        rows.append(
            [f"B{i}", "", "blank resin" if resin else "blank fiber", "", "", "", "ignition", f"K{i}"]
            + [lot.weigh(mass) for mass in weighed]
        )
    return [head, *rows]


def carbon_digestion(rng: Generator) -> Table:
    """Three specimens of carbon, weighed in water and digested."""
    lot = Lot(rng)
    head = [*OF_ZONE, "plies", *IMMERSION, *LOSS]
    return [head, *([f"D{i}", *_plain(lot, 0)] for i in range(1, 4))]


def thickness(rng: Generator) -> Table:
    """Three specimens, each measured at three places."""
    lot = Lot(rng)
    head = [*OF_ZONE, "plies", *(f"thickness {i} [mm]" for i in (1, 2, 3))]
    rows = []
    for i in range(1, 4):
        laminate = lot.coupon()
        local = [f"{laminate.thickness * rng.normal(1.0, 0.0012):.3f}" for _ in range(3)]
        rows.append([f"T{i}", "web", "L2231", str(PLIES), *local])
    return [head, *rows]


def density_alone(rng: Generator) -> Table:
    """Three specimens weighed twice in air, and once in water."""
    lot = Lot(rng)
    head = [*OF_ZONE, "mass in air 1 [g]", "mass in air 2 [g]", *IMMERSION[1:]]
    rows = []
    for i in range(1, 4):
        air, liquid, temperature = lot.immersed(lot.coupon(), rng.uniform(0.8, 1.1))
        rows.append(
            [f"W{i}", "web", "L2231", lot.weigh(air), lot.weigh(air), lot.weigh(liquid, 0.0002), temperature]
        )
    return [head, *rows]


TRADE: dict[str, Callable[[Generator], Table]] = {
    "glass burn-off with blanks": glass_burn_off,
    "carbon digestion": carbon_digestion,
    "thickness": thickness,
    "density alone": density_alone,
}
"""What most laboratories fill in."""
OTHERS: dict[str, Callable[[Generator], Table]] = {
    "three coupons with certificate": three_with_certificate,
    "six coupons with dimensions": six_with_dimensions,
    "crucibles": crucibles,
    "saturated": saturated,
    "point counts": point_counts,
    "incoming prepreg": incoming_prepreg,
}
KINDS = {**OTHERS, **TRADE}


def good_table(kind: str, seed: int) -> Table:
    """One table of a kind, the same for the same seed: header and rows as text."""
    return KINDS[kind](np.random.default_rng([seed, list(KINDS).index(kind)]))
