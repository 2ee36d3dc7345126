"""Fiber volume by areal weight and thickness (ASTM D3171 method II), and the prepreg's own tests."""

from __future__ import annotations

from .number import Number


def fiber_volume(
    *, plies: Number, fiber_areal_weight: Number, fiber_density: Number, thickness: Number
) -> Number:
    """Fiber volume by ASTM D3171 method II, ``V_f = n m_f/(rho_f h)``, exact with or without voids.

    plies : n [-]
    fiber_areal_weight : m_f of a ply [kg/m2]
    fiber_density : rho_f [kg/m3]
    thickness : h of the laminate [m]

    >>> round(100 * fiber_volume(plies=1, fiber_areal_weight=0.134, fiber_density=1790.0,
    ...                          thickness=0.13e-3), 1)
    57.6
    """
    return plies * fiber_areal_weight / (fiber_density * thickness)


def ply_thickness(*, thickness: Number, plies: Number) -> Number:
    """Cured ply thickness, ``t = h/n`` (ASTM D3171 method II).

    thickness : h of the laminate [m]
    plies : n [-]

    >>> round(1e3 * ply_thickness(thickness=2.6e-3, plies=20), 6)
    0.13
    """
    return thickness / plies


def void_content_without_bleed(*, void_free_thickness: Number, ply_thickness: Number) -> Number:
    """Void content of a part that lost no resin, ``V_v = 1 - t_0/t``; may come out negative, never clipped.

    void_free_thickness : t_0 of a ply, from the lot's areal weight and resin content [m]
    ply_thickness : t, measured [m]

    >>> round(void_content_without_bleed(void_free_thickness=0.0099, ply_thickness=0.01), 6)
    0.01
    """
    return 1 - void_free_thickness / ply_thickness


def areal_weight(*, mass: Number, backing: Number, area: Number) -> Number:
    """Areal weight of a piece, ``m = (M - M_backing)/A``.

    mass : M, with the backing where it is still on [kg]
    backing : M_backing, paper and film [kg]; 0 where it was taken off
    area : A [m2]

    >>> round(areal_weight(mass=2.9e-3, backing=0.9e-3, area=0.01), 6)
    0.2
    """
    return (mass - backing) / area


def resin_content_by_extraction(*, prepreg_mass: Number, fiber_mass: Number, backing: Number) -> Number:
    """Resin content by extraction (ASTM D3529), ``(M - M_backing - M_f)/(M - M_backing)``.

    prepreg_mass : M, with the backing where it is still on [kg]
    fiber_mass : M_f, fiber after extraction, dried [kg]
    backing : M_backing [kg]; 0 where it was taken off

    The volatiles leave with the resin: the basis of this number is 'with volatiles'.

    >>> round(resin_content_by_extraction(prepreg_mass=2.9e-3, fiber_mass=1.3e-3, backing=0.9e-3), 6)
    0.35
    """
    prepreg = prepreg_mass - backing
    return (prepreg - fiber_mass) / prepreg


def volatiles_by_oven(*, prepreg_mass: Number, dried_mass: Number, backing: Number) -> Number:
    """Volatiles by oven (ASTM D3530), ``(M - M_backing - M_dried)/(M - M_backing)``.

    prepreg_mass : M before the oven, with the backing where it is still on [kg]
    dried_mass : M_dried after the oven, which holds no backing [kg]
    backing : M_backing, weighed apart [kg]; 0 where it was taken off before the first weighing

    >>> round(volatiles_by_oven(prepreg_mass=2.9e-3, dried_mass=1.98e-3, backing=0.9e-3), 6)
    0.01
    """
    prepreg = prepreg_mass - backing
    return (prepreg - dried_mass) / prepreg
