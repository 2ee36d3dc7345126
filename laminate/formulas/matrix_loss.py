"""Fiber, resin and void content once the matrix is burnt off or digested.

Ignition: ASTM D2584, ISO 1172, ASTM D3171 procedure G. Digestion: ASTM D3171 procedures A-F, ISO 14127, EN
2564.
"""

from __future__ import annotations

from collections.abc import Sequence

from .number import Number


def fiber_mass(*, specimen: Number, residue: Number, residue_share: Number, fiber_loss: Number) -> Number:
    """Fiber in the specimen, from the residue and the two blank runs.

    ``m_f = (R - a S)/(1 - l - a)``, from ``R = m_f (1 - l) + a (S - m_f)``.

    specimen : S [kg]
    residue : R, what is left [kg]
    residue_share : a, of neat cured resin that is left (blank run) [0..1]; 0 without a blank
    fiber_loss : l, of bare fiber that is lost (blank run) [0..1]; 0 without a blank

    >>> round(fiber_mass(specimen=1.0, residue=0.6513, residue_share=0.02, fiber_loss=0.01), 4)
    0.6508
    """
    return (residue - residue_share * specimen) / (1 - fiber_loss - residue_share)


def fiber_content(*, fiber_mass: Number, specimen: Number) -> Number:
    """Mass fraction of fiber, ``w_f = m_f/S`` (ASTM D3171); the resin's is one minus all the others.

    fiber_mass : m_f [kg]
    specimen : S [kg]

    >>> round(fiber_content(fiber_mass=2.595, specimen=3.697), 5)
    0.70192
    """
    return fiber_mass / specimen


def volume_fraction(*, content: Number, density: Number, constituent_density: Number) -> Number:
    """Volume fraction of a constituent, ``V_i = w_i rho/rho_i`` (ASTM D3171), exact with or without voids.

    content : w_i, its mass fraction [0..1]
    density : rho of the specimen [kg/m3]
    constituent_density : rho_i [kg/m3]

    Kaw, Mechanics of Composite Materials, ch. 3 problem (arithmetic on its inputs).

    >>> round(volume_fraction(content=2.595 / 3.697, density=1793.79, constituent_density=2500.0), 5)
    0.50364
    """
    return content * density / constituent_density


def theoretical_density(*, contents: Sequence[Number], densities: Sequence[Number]) -> Number:
    """Density the constituents would give without voids, ``1/sum(w_i/rho_i)`` (ASTM D2734).

    contents : w_i, mass fractions that sum to 1 [0..1]
    densities : rho_i [kg/m3]

    Raises ValueError where the two differ in length.

    >>> round(theoretical_density(contents=[2.595 / 3.697, 1.102 / 3.697], densities=[2500.0, 1200.0]), 2)
    1889.76
    """
    return 1 / sum(content / density for content, density in zip(contents, densities, strict=True))


def void_content(*, density: Number, contents: Sequence[Number], densities: Sequence[Number]) -> Number:
    """Volume fraction of voids, ``V_v = 1 - rho sum(w_i/rho_i)``.

    density : rho of the specimen [kg/m3]
    contents : w_i, mass fractions that sum to 1 [0..1]
    densities : rho_i [kg/m3]

    ASTM D2734, Kaw eqs 3.16-3.24. Never clipped: a negative value says that the densities do not fit.
    Raises ValueError where contents and densities differ in length.

    >>> round(100 * void_content(density=1793.79, contents=[2.595 / 3.697, 1.102 / 3.697],
    ...                          densities=[2500.0, 1200.0]), 3)
    5.078
    """
    return 1 - density / theoretical_density(contents=contents, densities=densities)
