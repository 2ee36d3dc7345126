"""Results of coupons by plain arithmetic, from the cells of a table: none of it is taken from the program."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from pathlib import Path
from statistics import fmean

AIR = 0.0012
OUNCE, YARD, INCH, POUND = 28.349523125, 0.9144, 25.4, 453.59237


def water(celsius: float) -> float:
    """Density of water [g/cm^3], Tanaka et al., Metrologia 38 (2001) 301."""
    away = (celsius - 3.983035) ** 2 * (celsius + 301.797) / (522528.9 * (celsius + 69.34881))
    return 0.99997495 * (1 - away)


def rows_of(path: Path) -> list[dict[str, str]]:
    """The rows of a coupon table."""
    return list(csv.DictReader(path.read_text("utf-8").splitlines()))


def thickness(row: Mapping[str, str], unit: str = "mm") -> float:
    """Mean of the three readings, in the unit of their columns."""
    return fmean(float(row[f"thickness {n} [{unit}]"]) for n in (1, 2, 3))


def density(
    row: Mapping[str, str], celsius: float, *, wires: float = 1.0, moved: Mapping[str, float] | None = None
) -> float:
    """Density [g/cm^3] by weighing in air and in water, held down by a sinker where there is one."""
    moved = moved or {}
    air = float(row["mass in air [g]"]) + moved.get("air", 0.0)
    liquid = float(row["mass in liquid [g]"]) + moved.get("liquid", 0.0)
    sinker = float(row.get("sinker mass in liquid [g]", "0")) + moved.get("sinker", 0.0)
    of_water = water(celsius + moved.get("kelvin", 0.0))
    return air * (of_water - AIR) / ((air + sinker - liquid) * wires) + AIR


def contents(fiber: float, rho: float, of_fiber: float, of_resin: float) -> dict[str, float]:
    """Fiber volume and voids [%] from the fiber content [0..1] and densities [g/cm^3]."""
    voids = 1 - rho * (fiber / of_fiber + (1 - fiber) / of_resin)
    return {
        "fiber_content": 100 * fiber,
        "fiber_volume": 100 * fiber * rho / of_fiber,
        "void_content": 100 * voids,
    }


def uncertainty(result: Callable[[Mapping[str, float]], float], standard: Mapping[str, float]) -> float:
    """Standard uncertainty of a result: each input moved from -u to +u, half of it squared and summed."""
    return sum(((result({name: u}) - result({name: -u})) ** 2 / 4 for name, u in standard.items())) ** 0.5
