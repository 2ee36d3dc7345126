"""The press: laminate and cores fill a room of the tool together, at one pressure.

Conservation of volume with one law of compression: arithmetic, with no other source unless one is named.
Pressures are above ambient.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from .number import Number, choose, real_part

CORNERS = 4 - math.pi
"""What four round edges of radius 1 take from the square around them."""

AMBIENT = 101325.0
"""Pressure of the standard atmosphere [Pa]."""

STEPS = 100
SETTLED = 1e-14


def laminate_thickness(*, fiber: Number, resin: Number, layers: Number, bleed: Number) -> Number:
    """Thickness of a hot liquid laminate, ``t(b) = f + (1 - b) l + y``.

    fiber : f, sum of m_f/rho_f [m]
    resin : l, liquid resin before bleed, sum of m_r0/rho_rl [m]
    layers : y, layers that stay solid [m]
    bleed : b, mass fraction of the resin that left [0..1]

    >>> round(1e3 * laminate_thickness(fiber=1.2e-3, resin=1e-3, layers=0.05e-3, bleed=0.1), 6)
    2.15
    """
    return fiber + (1 - bleed) * resin + layers


def end_of_bleed(*, bleed_limit: Number, fiber: Number, packed: Number, resin: Number) -> Number:
    """Most resin that can leave, ``e_b = max(0, min(bleed limit, 1 - (p - f)/l))``.

    bleed_limit : largest share of the resin that can leave [0..1]
    fiber : f, sum of m_f/rho_f [m]
    packed : p, the packed fiber bed, sum of f_i over the packing limit of each [m]
    resin : l, liquid resin before bleed [m]; without any, none can leave

    >>> round(end_of_bleed(bleed_limit=0.3, fiber=1.2e-3, packed=2e-3, resin=1e-3), 6)
    0.2
    """
    some = real_part(resin) > 0
    packing = choose(some, 1 - (packed - fiber) / choose(some, resin, 1.0), 0.0)
    end = choose(real_part(packing) < real_part(bleed_limit), packing, bleed_limit)
    return choose(real_part(end) > 0, end, 0.0)


def bleed_of_thickness(
    *, thickness: Number, void_content: Number, fiber: Number, resin: Number, layers: Number
) -> Number:
    """Bleed that a cured thickness tells of, ``b = 1 - [h (1 - V_v) - f - y]/r``.

    thickness : h, cured and cold [m]
    void_content : V_v [0..1]
    fiber : f, sum of m_f/rho_f [m]
    resin : r, cured resin before bleed, sum of m_r0/rho_r [m]
    layers : y, layers that stay in the part [m]

    >>> round(bleed_of_thickness(thickness=2.1e-3, void_content=0.0, fiber=1.2e-3, resin=1e-3, layers=0.0), 9)
    0.1
    """
    return 1 - (thickness * (1 - void_content) - fiber - layers) / resin


def box_volume(*, width: Number, height: Number, length: Number, corner_radius: Number) -> Number:
    """Volume of a box with four round long edges, ``[W H - (4 - pi) R^2] L``.

    width : W [m]
    height : H [m]
    length : L [m]
    corner_radius : R [m]

    >>> round(box_volume(width=2.0, height=2.0, length=1.0, corner_radius=1.0) / math.pi, 12)
    1.0
    """
    return (width * height - CORNERS * corner_radius**2) * length


def round_volume(*, diameter: Number, length: Number) -> Number:
    """Volume of a cylinder, ``pi/4 D^2 L``.

    diameter : D [m]
    length : L [m]

    >>> round(round_volume(diameter=2.0, length=1.0) / math.pi, 12)
    1.0
    """
    return math.pi / 4 * diameter**2 * length


def inner_radius(*, corner_radius: Number, laminate: Number) -> Number:
    """Radius that is left inside a laminate laid round an edge, ``r_i = max(R - t, 0)``.

    corner_radius : R of the tool's edge [m]
    laminate : t, the thinner of the laminates that meet there [m]; 0 where one side is bare

    >>> inner_radius(corner_radius=3.0, laminate=4.0)
    0.0
    """
    left = corner_radius - laminate
    return choose(real_part(left) > 0, left, 0.0)


def room_left(*, left: Number, bare: Number, cover: Number) -> Number:
    """Volume that a room leaves its cores, ``rho = k^2 q + (1 - k^2) V``.

    left : q, what would be left if the laminate covered the whole hot face at its thickness [m3]
    bare : V, the hot room without laminate [m3]
    cover : k, size laid up over hot size: 1/g by mass, g the growth of the tool; 1 takes the hot face [-]

    The laminate keeps its mass: it was laid up on the cold face, and gets thinner if it grows with the tool.

    >>> round(room_left(left=0.8, bare=1.0, cover=0.5), 12)
    0.95
    """
    square = cover**2
    return square * left + (1 - square) * bare


def compression(*, pressure: Number, bulk_modulus: Number, bulk_modulus_rise: Number) -> Number:
    """Volume of a core under pressure over its free volume at that temperature, ``F = (1 + K' P/K)^(-1/K')``.

    pressure : P [Pa], 0 or more
    bulk_modulus : K at the hot temperature, without pressure [Pa]
    bulk_modulus_rise : K', its rise with pressure [-]; about 10 for silicone rubber, not 0

    Murnaghan, Proc. Natl. Acad. Sci. 30 (1944) 244; second-hand (libraries of equations of state quote it).

    >>> round(compression(pressure=32.3e6, bulk_modulus=633.4e6, bulk_modulus_rise=10.19), 4)
    0.9598
    """
    return (1 + bulk_modulus_rise * pressure / bulk_modulus) ** (-1 / bulk_modulus_rise)


def pressure(
    *,
    cores: Sequence[Number],
    bulk_moduli: Sequence[Number],
    bulk_modulus_rises: Sequence[Number],
    room: Number,
    give: Number,
) -> Number:
    """Pressure at which cores and laminate fill a room, ``sum A_j F_j(P) = rho + D P``; for each draw.

    cores : A_j, free hot volume of each core [m3]
    bulk_moduli : K of each, hot [Pa]
    bulk_modulus_rises : K' of each [-]
    room : rho, from `room_left` [m3]
    give : D, what the room gains per pressure [m3/Pa], 0 or more

    F from `compression`. 0 where the room is not full; infinite where it leaves the cores nothing (rho <= 0).
    What is too much in the room falls with P and is convex, so Newton's steps from P = 0 rise to the root and
    never pass it. One core in a rigid room is explicit, ``P = K/K' [(A/rho)^K' - 1]``. Complex numbers and
    numbers with uncertainty get the exact derivative at the root. Raises ValueError where the sequences
    differ in length.

    >>> p = pressure(cores=[1.04], bulk_moduli=[1e9], bulk_modulus_rises=[10.0], room=1.0, give=0.0)
    >>> round(p / 1e6, 2)
    48.02
    """
    given = list(zip(cores, bulk_moduli, bulk_modulus_rises, strict=True))
    some = real_part(room) > 0
    rho = choose(some, room, 1.0)
    full = real_part(sum(cores)) > real_part(rho)
    if len(given) == 1 and not hasattr(give, "nominal_value") and not np.any(give):
        a, k, rise = given[0]
        solved = k / rise * (choose(full, a / rho, 1.0) ** rise - 1)
        return choose(some, choose(full, solved, 0.0), math.inf)
    plain = [tuple(np.asarray(real_part(n), dtype=float) for n in core) for core in given]
    r, d = (np.asarray(real_part(n), dtype=float) for n in (rho, give))
    root = np.zeros(np.broadcast_shapes(*(np.shape(n) for core in plain for n in core), r.shape, d.shape))
    for _ in range(STEPS):
        excess, slope = _newton(root, plain, r, d)
        step = np.where(full, excess / slope, 0.0)
        root = np.maximum(root + step, 0.0)
        if np.all(np.abs(step) <= SETTLED * root + 1e-9):
            break
    # One more step of Newton, in the numbers as they came: the implicit derivative.
    last = root if root.ndim else float(root)
    excess, _ = _newton(last, given, rho, give)
    _, slope = _newton(last, plain, r, d)
    solved = last + excess / (slope if np.ndim(slope) else float(slope))
    return choose(some, choose(full, solved, 0.0), math.inf)


def _newton(
    p: Number, cores: Sequence[tuple[Number, ...]], room: Number, give: Number
) -> tuple[Number, Number]:
    """The balance and how fast it falls; the power is taken once for both."""
    excess, slope = -room - give * p, give
    for a, k, rise in cores:
        part = a * compression(pressure=p, bulk_modulus=k, bulk_modulus_rise=rise)
        excess = excess + part
        slope = slope + part / (k + rise * p)
    return excess, slope


def volume_for_pressure(
    *,
    pressure: Number,
    room: Number,
    give: Number,
    others: Number,
    growth: Number,
    bulk_modulus: Number,
    bulk_modulus_rise: Number,
) -> Number:
    """Cold volume of a core that gives a pressure, ``V = (rho + D P - others)/(G^3 F(P))``.

    pressure : P wanted [Pa]; 0 gives the core that just fills the room
    room : rho, from `room_left` [m3]
    give : D, what the room gains per pressure [m3/Pa]
    others : volume of the other cores of the room under P, hot [m3]
    growth : G = 1 + a_c (T_c - T0), linear [-]
    bulk_modulus : K at the hot temperature [Pa]
    bulk_modulus_rise : K' [-]

    >>> v = volume_for_pressure(pressure=48.02e6, room=1.0, give=0.0, others=0.0, growth=1.0,
    ...                         bulk_modulus=1e9, bulk_modulus_rise=10.0)
    >>> round(v, 4)
    1.04
    """
    squeezed = compression(pressure=pressure, bulk_modulus=bulk_modulus, bulk_modulus_rise=bulk_modulus_rise)
    return (room + give * pressure - others) / (growth**3 * squeezed)


def rigid_gap(*, side: Number, tool_growth: Number, cores: Number, walls: Number) -> Number:
    """Gap that hard cores leave each laminate across one side, ``h_g = [side g - sum c_j G_j]/walls``.

    side : cold size of the room across the laminates [m]
    tool_growth : g = 1 + a_t (T_t - T0) [-]
    cores : sum of c_j G_j, hot size of the cores across the laminates, G_j = 1 + a_c (T_c - T0) [m]
    walls : laminates across the side [-]

    >>> round(rigid_gap(side=0.04, tool_growth=1.002, cores=0.03 * 1.02, walls=2) * 1e3, 3)
    4.74
    """
    return (side * tool_growth - cores) / walls


def pressure_needed(*, wanted: Number, vapor: Number) -> Number:
    """Least pressure at gel, ``max(wanted, p_w - ambient)``: above the vapor in the resin too.

    wanted : [Pa], 0 where nothing is asked for
    vapor : p_w, absolute: relative humidity of the store times the saturation pressure at gel [Pa]

    >>> pressure_needed(wanted=0.0, vapor=198.7e3) > 0.097e6
    True
    """
    above = vapor - AMBIENT
    return choose(real_part(above) > real_part(wanted), above, wanted)


def opening_force(
    *,
    pressures: Sequence[Number],
    areas: Sequence[Number],
    matched_pressure: Number,
    matched_area: Number,
) -> Number:
    """Force that opens the tool, ``X = sum P_i A_i + P* A_matched``.

    pressures : P of each room and bladder [Pa]
    areas : area of each as seen in the direction the tool opens, core and laminates together [m2]
    matched_pressure : P*, the largest of these pressures when the resin gels: it may be joined [Pa]
    matched_area : the same area of zones between rigid faces [m2]

    Raises ValueError where the sequences differ in length.

    >>> opening_force(pressures=[4.0e6], areas=[0.036], matched_pressure=4.0e6, matched_area=0.006)
    168000.0
    """
    return sum(p * a for p, a in zip(pressures, areas, strict=True)) + matched_pressure * matched_area


def debulk_floor(*, fiber: Number, liquid: Number, cured: Number) -> Number:
    """Least bulk factor that debulking can reach, ``B_min = (f + l_u)/(f + r)``.

    fiber : f, sum of m_f/rho_f [m]
    liquid : l_u, uncured resin cold, sum of m_r0 over its density [m]
    cured : r, cured resin, sum of m_r0/rho_r [m]

    >>> round(debulk_floor(fiber=0.0837989, liquid=0.0663610, cured=0.0609216), 3)
    1.038
    """
    return (fiber + liquid) / (fiber + cured)
