"""The glossary: every attribute that is computed or limited, its words, symbol, units and natural bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Unit:
    """How a coherent SI number is shown: number shown = SI * per_si + offset."""

    text: str
    per_si: float
    offset: float = 0.0


MM = Unit("mm", 1e3)
G_M2 = Unit("g/m^2", 1e3)
G_CM3 = Unit("g/cm^3", 1e-3)
CM3 = Unit("cm^3", 1e6)
PERCENT = Unit("%", 1e2)
DEG_C = Unit("degC", 1.0, -273.15)
MPA = Unit("MPa", 1e-6)
GPA = Unit("GPa", 1e-9)
KN = Unit("kN", 1e-3)
GRAM = Unit("g", 1e3)
KG = Unit("kg", 1.0)
METER = Unit("m", 1.0)
CM2 = Unit("cm^2", 1e4)
M2 = Unit("m^2", 1.0)
KELVIN = Unit("K", 1.0)
NUMBER = Unit("", 1.0)
PER_K = Unit("e-6/K", 1e6)
K_MIN = Unit("K/min", 60.0)

INCH = Unit("in", 1 / 0.0254)
IN2 = Unit("in^2", 1 / 0.0254**2)
IN3 = Unit("in^3", 1 / 0.0254**3)
MIL = Unit("mil", 1 / 25.4e-6)
OZ_YD2 = Unit("oz/yd^2", 0.83612736 / 0.028349523125)
LB_IN3 = Unit("lb/in^3", 0.0254**3 / 0.45359237)
MINUTE = Unit("min", 1 / 60)
DEG_F = Unit("degF", 1.8, -459.67)
PSI = Unit("psi", 0.0254**2 / (0.45359237 * 9.80665))
LBF = Unit("lbf", 1 / (0.45359237 * 9.80665))
POUND = Unit("lb", 1 / 0.45359237)
DEG_F_STEP = Unit("degF", 1.8)
PER_DEG_F = Unit("e-6/degF", 1e6 / 1.8)
DEG_F_MIN = Unit("degF/min", 108.0)

US = {
    MM: INCH,
    G_M2: OZ_YD2,
    G_CM3: LB_IN3,
    DEG_C: DEG_F,
    MPA: PSI,
    GPA: PSI,
    KN: LBF,
    GRAM: POUND,
    KG: POUND,
    METER: INCH,
    CM2: IN2,
    CM3: IN3,
    M2: IN2,
    KELVIN: DEG_F_STEP,
    PER_K: PER_DEG_F,
    K_MIN: DEG_F_MIN,
}

KIND_UNITS = {
    "areal_weight": G_M2,
    "density": G_CM3,
    "length": MM,
    "mass": GRAM,
    "fraction": PERCENT,
    "temperature": DEG_C,
    "temperature_difference": KELVIN,
    "angle": Unit("deg", 180.0 / math.pi),
    "expansion": PER_K,
    "pressure": MPA,
    "compliance": Unit("MPa^-1", 1e6),
    "force": KN,
    "area": CM2,
    "volume": CM3,
    "time": MINUTE,
    "diffusivity": Unit("mm^2/s", 1e6),
    "conductivity": Unit("W/m/K", 1.0),
    "conductance": Unit("W/m^2/K", 1.0),
    "heat_capacity": Unit("J/m^3/K", 1.0),
    "heating_rate": K_MIN,
    "number": NUMBER,
}
"""The unit in which each kind of quantity of `units.toml` is shown, and stands in JSON."""


@dataclass(frozen=True, slots=True)
class Attribute:
    """One thing that is computed, measured or held to a limit.

    key: in files and JSON; words: on screens; symbol; kind: of `units`; us: unit shown with US units;
    lowest and highest: natural bounds [SI], None where there is none.
    """

    key: str
    words: str
    symbol: str
    kind: str
    us: Unit
    lowest: float | None = None
    highest: float | None = None

    @property
    def unit(self) -> Unit:
        """In which it is shown, and stands in JSON."""
        return KIND_UNITS[self.kind]

    @property
    def basis(self) -> str:
        """What a share is a share of: 'mass' or 'volume'; '' for other quantities."""
        return "" if self.kind != "fraction" else "mass" if self.symbol.startswith("w_") else "volume"


ATTRIBUTES: dict[str, Attribute] = {
    attribute.key: attribute
    for attribute in (
        Attribute("cured_ply_thickness", "cured ply thickness", "t", "length", MIL, 0.0),
        Attribute("thickness", "laminate thickness", "h", "length", INCH, 0.0),
        Attribute("fiber_volume", "fiber volume", "V_f", "fraction", PERCENT, 0.0, 1.0),
        Attribute("resin_volume", "resin volume", "V_r", "fraction", PERCENT, 0.0, 1.0),
        Attribute("void_content", "void content", "V_v", "fraction", PERCENT, 0.0, 1.0),
        Attribute("open_void_content", "open void content", "V_vo", "fraction", PERCENT, 0.0, 1.0),
        Attribute("closed_void_content", "closed void content", "V_vc", "fraction", PERCENT, 0.0, 1.0),
        Attribute("fiber_content", "fiber content by weight", "w_f", "fraction", PERCENT, 0.0, 1.0),
        Attribute("resin_content", "resin content by weight", "w_r", "fraction", PERCENT, 0.0, 1.0),
        Attribute("volatiles", "volatiles by weight", "w_v", "fraction", PERCENT, 0.0, 1.0),
        Attribute("density", "density", "rho", "density", LB_IN3, 0.0),
        Attribute("areal_weight", "fiber areal weight of a ply", "m_f", "areal_weight", OZ_YD2, 0.0),
        Attribute("prepreg_areal_weight", "prepreg areal weight", "m_p", "areal_weight", OZ_YD2, 0.0),
        Attribute("mass", "mass", "m", "mass", POUND, 0.0),
    )
}

# Words of the files: form of a prepreg, kind of a fiber, what a resin content is a share of.
FORMS = ("unidirectional", "non-crimp", "woven", "mat")
FIBER_KINDS = ("carbon", "glass", "aramid", "other")
RESIN_BASES = ("as received", "volatile-free", "with volatiles")


def shown(value: float, unit: Unit) -> float:
    """A coherent SI number in the unit it is shown in, free of the last digit's binary dust."""
    return float(f"{value * unit.per_si + unit.offset:.15g}")


def shown_difference(value: float, unit: Unit) -> float:
    """A difference or standard uncertainty [SI] in the unit it is shown in."""
    return float(f"{value * unit.per_si:.15g}")
