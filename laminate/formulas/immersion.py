"""Density by weighing in air and in a liquid, with the buoyancy of air and the wires of the hanger.

ASTM D792 and ISO 1183-1, methods A. All masses are balance readings: the air density that the balance's own
weights displace cancels wherever two readings are divided.
"""

from __future__ import annotations

from .number import Number


def density(
    *,
    mass_in_air: Number,
    mass_in_liquid: Number,
    liquid_density: Number,
    air_density: Number,
    sinker_in_liquid: Number = 0.0,
    wire_factor: Number = 1.0,
) -> Number:
    """Density of a specimen by immersion.

    ``rho = a (rho_l - rho_air)/((a + w - b) f) + rho_air``. Sartorius YDK03MS manual p. 24; with air density
    0, no sinker and f = 1 it is ASTM D792 as printed, which reads 0.0007 g/cm3 high at 1.58 g/cm3.

    mass_in_air : a, specimen in air [kg]
    mass_in_liquid : b, specimen in the liquid, with sinker and wire where there is one [kg]
    liquid_density : rho_l at the liquid's temperature [kg/m3]
    air_density : rho_air [kg/m3]; about 1.2, or 0 for no correction
    sinker_in_liquid : w, sinker and wire alone in the liquid [kg]; 0 where the balance was tared with them
    wire_factor : f, from `wire_factor` [-]

    Kaw, Mechanics of Composite Materials, ch. 3: 3.697 g in air, 1.636 g in water gives 1.79379 g/cm3.

    >>> round(density(mass_in_air=3.697e-3, mass_in_liquid=1.636e-3, liquid_density=1000.0,
    ...               air_density=0.0), 2)
    1793.79
    """
    lost = (mass_in_air + sinker_in_liquid - mass_in_liquid) * wire_factor
    return mass_in_air * (liquid_density - air_density) / lost + air_density


def wire_factor(*, wires: Number, wire_diameter: Number, beaker_diameter: Number) -> Number:
    """Share of the lost mass that is the specimen's own, the rest being wire the rising liquid wets.

    ``f = 1 - N d^2/D^2``. Sartorius LA manual p. 64: two wires of 0.7 mm in a beaker of 76 mm, 0.99983.

    wires : N, wires through the surface [-]
    wire_diameter : d [m]
    beaker_diameter : D, inside [m]

    >>> round(wire_factor(wires=2, wire_diameter=0.7e-3, beaker_diameter=76e-3), 5)
    0.99983
    """
    return 1 - wires * (wire_diameter / beaker_diameter) ** 2


def saturated_bulk_density(
    *,
    dry_mass: Number,
    saturated_mass: Number,
    mass_in_liquid: Number,
    liquid_density: Number,
    air_density: Number,
) -> Number:
    """Density of a specimen over its whole volume, open voids included, by saturating it with the liquid.

    ``rho_bulk = m_dry (rho_l - rho_air)/(m_sat - m_i) + rho_air``. Archimedes' principle; air inside open
    voids is left out, which is below 0.0012 g/cm3 times the open porosity.

    dry_mass : m_dry, dried, in air [kg]
    saturated_mass : m_sat, saturated, surface wiped, in air [kg]
    mass_in_liquid : m_i, saturated, in the liquid [kg]
    liquid_density : rho_l [kg/m3]
    air_density : rho_air [kg/m3]

    >>> round(saturated_bulk_density(dry_mass=3.0e-3, saturated_mass=3.1e-3, mass_in_liquid=1.1e-3,
    ...                              liquid_density=1000.0, air_density=0.0), 6)
    1500.0
    """
    return dry_mass * (liquid_density - air_density) / (saturated_mass - mass_in_liquid) + air_density


def open_porosity(*, dry_mass: Number, saturated_mass: Number, mass_in_liquid: Number) -> Number:
    """Volume fraction of the voids a liquid can enter, ``V_open = (m_sat - m_dry)/(m_sat - m_i)``.

    dry_mass : m_dry, dried, in air [kg]
    saturated_mass : m_sat, saturated, surface wiped, in air [kg]
    mass_in_liquid : m_i, saturated, in the liquid [kg]

    Archimedes' principle; liquid and air density cancel. Closed voids are not in it.

    >>> round(open_porosity(dry_mass=3.0e-3, saturated_mass=3.1e-3, mass_in_liquid=1.1e-3), 6)
    0.05
    """
    return (saturated_mass - dry_mass) / (saturated_mass - mass_in_liquid)
