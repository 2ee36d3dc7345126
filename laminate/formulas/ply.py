"""A ply and a laminate before molding: areal weights, thickness, volume fractions, charge mass.

Masses and volumes of constituents add up: arithmetic of the definitions, as in ASTM D3171 and CMH-17.
"""

from __future__ import annotations

from .number import Number

RESIN_BASES = ("as received", "volatile-free", "with volatiles")
"""What a certificate's resin content is a share of, and whether it counts the volatiles."""


def _fiber_share(resin_content: Number, volatiles: Number, resin_basis: str) -> Number:
    if resin_basis == "as received":
        return 1 - resin_content - volatiles
    if resin_basis == "volatile-free":
        return (1 - volatiles) * (1 - resin_content)
    if resin_basis == "with volatiles":
        return 1 - resin_content
    raise ValueError(f"resin basis {resin_basis!r} is none of {', '.join(RESIN_BASES)}")


def fiber_areal_weight(
    *, prepreg_areal_weight: Number, resin_content: Number, volatiles: Number, resin_basis: str
) -> Number:
    """Fiber areal weight of a prepreg, by the convention its certificate uses.

    as received ``m_f = m_p (1 - w_r - w_v)``; volatile-free ``m_f = m_p (1 - w_v)(1 - w_r)``;
    with volatiles ``m_f = m_p (1 - w_r)``. Arithmetic of the three definitions; backing is subtracted first.

    prepreg_areal_weight : m_p, prepreg without backing [kg/m2]
    resin_content : w_r, mass fraction by the stated basis [0..1]
    volatiles : w_v, mass fraction of the prepreg as received [0..1]
    resin_basis : 'as received', 'volatile-free' or 'with volatiles'

    Raises ValueError for another basis.

    >>> round(fiber_areal_weight(prepreg_areal_weight=0.2062, resin_content=0.35, volatiles=0.0,
    ...                          resin_basis="as received"), 3)
    0.134
    """
    return prepreg_areal_weight * _fiber_share(resin_content, volatiles, resin_basis)


def resin_areal_weight(
    *, prepreg_areal_weight: Number, resin_content: Number, volatiles: Number, resin_basis: str
) -> Number:
    """Resin areal weight of a prepreg once its volatiles have left, before any bleed.

    ``m_r0 = m_p (1 - w_v) - m_f``, that is as received ``m_p w_r``, volatile-free ``m_p (1 - w_v) w_r``,
    with volatiles ``m_p (w_r - w_v)``.

    prepreg_areal_weight : m_p, prepreg without backing [kg/m2]
    resin_content : w_r, mass fraction by the stated basis [0..1]
    volatiles : w_v, mass fraction of the prepreg as received [0..1]
    resin_basis : 'as received', 'volatile-free' or 'with volatiles'

    Raises ValueError for another basis.

    >>> round(resin_areal_weight(prepreg_areal_weight=0.2, resin_content=0.35, volatiles=0.01,
    ...                          resin_basis="with volatiles"), 4)
    0.068
    """
    return prepreg_areal_weight * (1 - volatiles - _fiber_share(resin_content, volatiles, resin_basis))


def prepreg_areal_weight(
    *, fiber_areal_weight: Number, resin_content: Number, volatiles: Number, resin_basis: str
) -> Number:
    """Prepreg areal weight as received from the fiber areal weight: the inverse of `fiber_areal_weight`.

    ``m_p = m_f / (fiber share)``, the share by the stated basis.

    fiber_areal_weight : m_f [kg/m2]
    resin_content : w_r, mass fraction by the stated basis [0..1]
    volatiles : w_v, mass fraction of the prepreg as received [0..1]
    resin_basis : 'as received', 'volatile-free' or 'with volatiles'

    Raises ValueError for another basis.

    >>> round(prepreg_areal_weight(fiber_areal_weight=0.134, resin_content=0.35, volatiles=0.0,
    ...                            resin_basis="as received"), 4)
    0.2062
    """
    return fiber_areal_weight / _fiber_share(resin_content, volatiles, resin_basis)


def resin_kept(*, resin_areal_weight: Number, bleed: Number) -> Number:
    """Resin areal weight left after bleed, ``m_r = m_r0 (1 - b)``.

    resin_areal_weight : m_r0, before bleed [kg/m2]
    bleed : b, mass fraction of the resin that leaves [0..1]

    >>> resin_kept(resin_areal_weight=0.08, bleed=0.25)
    0.06
    """
    return resin_areal_weight * (1 - bleed)


def draped(*, areal_weight: Number, cos_shear: Number) -> Number:
    """Areal weight of a ply sheared by draping through the angle g, ``m / cos g``.

    areal_weight : m, of fiber or of resin, flat [kg/m2]
    cos_shear : cos g, cosine of the shear angle [-], above 0

    A shear keeps the lengths of both tow directions, so the area shrinks by cos g.

    >>> import math
    >>> round(draped(areal_weight=1.0, cos_shear=math.cos(math.radians(20))), 3)
    1.064
    """
    return areal_weight / cos_shear


def void_free_thickness(
    *, fiber_areal_weight: Number, fiber_density: Number, resin_areal_weight: Number, resin_density: Number
) -> Number:
    """Thickness of a ply without voids, ``t_0 = m_f/rho_f + m_r/rho_r``.

    fiber_areal_weight : m_f [kg/m2]
    fiber_density : rho_f, fiber with its sizing [kg/m3]
    resin_areal_weight : m_r, resin that stays [kg/m2]
    resin_density : rho_r, cured, at room temperature [kg/m3]; liquid density gives the liquid stack

    Checked with HexPly 8552 product data, physical properties, row 8552/35%/134 (0.130 mm).

    >>> round(1e3 * void_free_thickness(fiber_areal_weight=0.134, fiber_density=1790.0,
    ...                                 resin_areal_weight=0.134 * 35 / 65, resin_density=1300.0), 3)
    0.13
    """
    return fiber_areal_weight / fiber_density + resin_areal_weight / resin_density


def thickness(*, void_free_thickness: Number, void_content: Number) -> Number:
    """Thickness with voids, ``t = t_0/(1 - V_v)``: a ply, or a laminate with the layers that stay in it.

    void_free_thickness : t_0 [m]
    void_content : V_v, volume fraction [0..1], below 1

    >>> thickness(void_free_thickness=0.0099, void_content=0.01)
    0.01
    """
    return void_free_thickness / (1 - void_content)


def volume_fraction(*, areal_weight: Number, density: Number, thickness: Number) -> Number:
    """Volume fraction of fiber or of resin in a ply or laminate, ``V = m/(rho t)``.

    areal_weight : m of the constituent [kg/m2]
    density : rho of the constituent [kg/m3]
    thickness : t, voids included [m]

    ``V_f + V_r + V_v = 1`` always (plus the share of layers that count as neither).
    HexPly 8552 product data, row 8552/35%/134: fiber volume 57.42 %.

    >>> t = void_free_thickness(fiber_areal_weight=0.134, fiber_density=1790.0,
    ...                         resin_areal_weight=0.134 * 35 / 65, resin_density=1300.0)
    >>> round(100 * volume_fraction(areal_weight=0.134, density=1790.0, thickness=t), 2)
    57.42
    """
    return areal_weight / (density * thickness)


def resin_content_by_weighing(
    *, charge: Number, part_and_trim: Number, resin_content: Number, volatiles: Number
) -> Number:
    """Resin content of a molding from the mass it lost, without cutting a coupon.

    ``w_r,part = (w_r M0 - (M0 - M1 - w_v M0))/M1``: what left beyond the volatiles was resin.

    charge : M0, laid up, backing removed [kg]
    part_and_trim : M1, part with all trim and flash that holds fiber [kg]
    resin_content : w_r of the prepreg, as received [0..1]
    volatiles : w_v of the prepreg, as received [0..1]

    Holds for the as-received basis, no layers, no fiber in the resin lost.

    >>> round(resin_content_by_weighing(charge=1.0, part_and_trim=0.9, resin_content=0.35, volatiles=0.0), 4)
    0.2778
    """
    return (resin_content * charge - (charge - part_and_trim - volatiles * charge)) / part_and_trim
