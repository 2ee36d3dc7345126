"""Pressure of a core that expands in a closed cavity: balances of widths and of volumes, and their roots.

Conservation of volume with one law of compression: arithmetic, with no other source unless one is named.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .core_contact import Contact as Contact
from .core_contact import contact_rise as contact_rise
from .core_contact import contact_rise_together as contact_rise_together
from .core_contact import core_cast_length as core_cast_length
from .core_contact import dummy_thickness as dummy_thickness
from .core_contact import filled_expansion as filled_expansion
from .core_contact import lag_time as lag_time
from .core_contact import mean_rise_fraction as mean_rise_fraction
from .core_contact import pull_out_clearance as pull_out_clearance
from .number import Number, choose, real_part
from .roots import increasing_root


def compression(*, pressure: Number, bulk_modulus: Number, bulk_modulus_rise: Number) -> Number:
    """Volume of a core under pressure over its free volume at that temperature, ``F = (1 + K' P/K)^(-1/K')``.

    pressure : P, over the pressure at which the free volume was taken [Pa], 0 or more
    bulk_modulus : K at the hot temperature, without pressure [Pa]
    bulk_modulus_rise : K', its rise with pressure [-]; about 10 for silicone rubber, 4 to 6 for metals, not 0

    Murnaghan, Proc. Natl. Acad. Sci. 30 (1944) 244; the source is from memory.
    ``exp(-P/K)`` gives pressures too low: by 19 % for silicone in a full cavity at 70 degC.

    >>> round(compression(pressure=32.3e6, bulk_modulus=633.4e6, bulk_modulus_rise=10.19), 4)
    0.9598
    """
    return (1 + bulk_modulus_rise * pressure / bulk_modulus) ** (-1 / bulk_modulus_rise)


def balance(
    *,
    pressure: Number,
    core: Number,
    room: Number,
    give: Number,
    bulk_modulus: Number,
    bulk_modulus_rise: Number,
) -> Number:
    """What is too much in the cavity at a pressure, ``A F(P) - R - D P``: falling with P, 0 at the answer.

    pressure : P [Pa]
    core : A, free hot volume of the core [m3, or m per unit of face area]
    room : R, hot cavity less laminate and inserts [as core]
    give : D, what the cavity gains per pressure [as core, per Pa]
    bulk_modulus : K at the hot temperature [Pa]
    bulk_modulus_rise : K' [-]

    Above zero at P = 0 the core presses; at or below, the gap is not closed.

    >>> balance(pressure=0.0, core=1.02, room=1.0, give=0.0, bulk_modulus=1e9, bulk_modulus_rise=10.0) > 0
    True
    """
    squeezed = compression(pressure=pressure, bulk_modulus=bulk_modulus, bulk_modulus_rise=bulk_modulus_rise)
    return core * squeezed - room - give * pressure


def pressure(
    *, core: Number, room: Number, give: Number, bulk_modulus: Number, bulk_modulus_rise: Number
) -> Number:
    """Pressure of the core, the root of `balance`, for each element of arrays of draws.

    core : A, free hot volume of the core [m3, or m per unit of face area]
    room : R, hot cavity less laminate and inserts [as core]
    give : D, what the cavity gains per pressure [as core, per Pa], 0 or more
    bulk_modulus : K at the hot temperature [Pa]
    bulk_modulus_rise : K' [-], above 0

    0 where the gap is not closed (A <= R); infinite where a rigid cavity leaves the core no room at all.
    Complex numbers and numbers with uncertainty get the exact derivative at the root.

    >>> round(pressure(core=1.04, room=1.0, give=0.0, bulk_modulus=1e9, bulk_modulus_rise=10.0) / 1e6, 2)
    48.02
    """
    given = (core, room, give, bulk_modulus, bulk_modulus_rise)
    a, r, d, k, rise = (np.asarray(real_part(value), dtype=float) for value in given)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        rigid = np.where(r > 0, k / rise * ((a / r) ** rise - 1), np.inf)
        yielding = np.where(d > 0, (a - r) / d, np.inf)
    highest = np.minimum(rigid, yielding)
    closed, endless = a > r, np.isinf(highest)
    root = increasing_root(
        function=lambda p: (
            -balance(pressure=p, core=a, room=r, give=d, bulk_modulus=k, bulk_modulus_rise=rise)
        ),
        slope=lambda p: _fall(p, a, d, k, rise),
        low=np.zeros_like(highest),
        # A hair above the bound, so that rounding cannot leave the root outside.
        high=np.where(closed & ~endless, highest * (1 + 1e-12), 0.0),
        tolerance=1.0,
    )
    # One more step of Newton, in the numbers as they came: the implicit derivative.
    left = balance(
        pressure=root, core=core, room=room, give=give, bulk_modulus=bulk_modulus,
        bulk_modulus_rise=bulk_modulus_rise,
    )  # fmt: skip
    slope = _fall(root, a, d, k, rise)
    solved = root + left / (slope if np.ndim(slope) else float(slope))
    return choose(closed, choose(endless, np.inf, solved), 0.0)


def _fall(p: Number, a: Number, d: Number, k: Number, rise: Number) -> Number:
    return a * compression(pressure=p, bulk_modulus=k, bulk_modulus_rise=rise) / (k + rise * p) + d


def slab_pressure(
    *,
    cavity: Number,
    tool_expansion: Number,
    tool_rise: Number,
    compliance: Number,
    core: Number,
    growth: Number,
    laminate: Number,
    inserts: Number,
    bulk_modulus: Number,
    bulk_modulus_rise: Number,
    held: str = "sides",
) -> Number:
    """Pressure from widths, per unit of face area: ``c g F(P) + V_l + V_i = W (1 + a_t dT_t + C_t P)``.

    Between end walls ("ends") the volume of core and cavity goes with the square of the diameter, so there it
    is ``c g F(P)^(1/2)`` and ``C_t P/2``.

    cavity : W, cold width of the cavity across the core [m]
    tool_expansion : a_t, linear [1/K]
    tool_rise : dT_t over room temperature [K]
    compliance : C_t, cavity volume share gained per pressure [1/Pa]
    core : c, cold width or diameter [m]
    growth : g, from `cavity.core_growth`, held 'sides' or 'ends' [-]
    laminate : V_l, walls times the stack's thickness [m]
    inserts : V_i, thickness of inserts, hot [m]
    bulk_modulus : K at the hot temperature [Pa]
    bulk_modulus_rise : K' [-]
    held : 'sides' or 'ends', as for the growth

    0 where the gap is not closed. A core that is not held needs `volume_pressure`.
    The power of the diameter is geometry, our own; it makes widths and volumes of one cylinder agree.

    >>> p = slab_pressure(cavity=0.04, tool_expansion=0.0, tool_rise=100.0, compliance=0.0, core=0.03,
    ...                   growth=1.08, laminate=8e-3, inserts=0.0, bulk_modulus=0.85e9,
    ...                   bulk_modulus_rise=10.0)
    >>> round(p / 1e6, 2) == round(85.0 * ((32.4 / 32.0) ** 10 - 1), 2)
    True
    """
    power = 2 if held == "ends" else 1  # F^(1/2) is the same law with twice K and twice K'
    return pressure(
        core=core * growth,
        room=cavity * (1 + tool_expansion * tool_rise) - laminate - inserts,
        give=cavity * compliance / power,
        bulk_modulus=power * bulk_modulus,
        bulk_modulus_rise=power * bulk_modulus_rise,
    )


def volume_pressure(
    *,
    cavity: Number,
    tool_expansion: Number,
    tool_rise: Number,
    compliance: Number,
    core: Number,
    core_expansion: Number,
    core_rise: Number,
    laminate: Number,
    inserts: Number,
    insert_expansion: Number,
    insert_rise: Number,
    bulk_modulus: Number,
    bulk_modulus_rise: Number,
) -> Number:
    """Pressure from the volumes of core, laminate, inserts and cavity.

    ``V_c (1+a_c dT_c)^3 F(P) + V_l + V_i (1+a_i dT_i)^3 = V_t [(1+a_t dT_t)^3 + C_t P]``.

    cavity : V_t, cold [m3]
    tool_expansion : a_t, linear [1/K]
    tool_rise : dT_t over room temperature [K]
    compliance : C_t, cavity volume share gained per pressure [1/Pa]
    core : V_c, cold [m3]
    core_expansion : a_c, linear [1/K]
    core_rise : dT_c over room temperature [K]
    laminate : V_l, hot [m3]
    inserts : V_i, cold [m3]
    insert_expansion : a_i, linear [1/K]
    insert_rise : dT_i over room temperature [K]
    bulk_modulus : K at the hot temperature [Pa]
    bulk_modulus_rise : K' [-]

    0 where the cavity is not full.

    >>> p = volume_pressure(cavity=1e-3, tool_expansion=0.0, tool_rise=0.0, compliance=0.0, core=1e-3,
    ...                     core_expansion=267e-6, core_rise=45.0, laminate=0.0, inserts=0.0,
    ...                     insert_expansion=0.0, insert_rise=0.0, bulk_modulus=633.4e6,
    ...                     bulk_modulus_rise=10.19)
    >>> alone = full_cavity_pressure(core_expansion=267e-6, core_rise=45.0, tool_expansion=0.0, tool_rise=0.0,
    ...                              bulk_modulus=633.4e6, bulk_modulus_rise=10.19)
    >>> round(p / alone, 12)
    1.0
    """
    occupied = laminate + inserts * (1 + insert_expansion * insert_rise) ** 3
    return pressure(
        core=core * (1 + core_expansion * core_rise) ** 3,
        room=cavity * (1 + tool_expansion * tool_rise) ** 3 - occupied,
        give=cavity * compliance,
        bulk_modulus=bulk_modulus,
        bulk_modulus_rise=bulk_modulus_rise,
    )


def full_cavity_pressure(
    *,
    core_expansion: Number,
    core_rise: Number,
    tool_expansion: Number,
    tool_rise: Number,
    bulk_modulus: Number,
    bulk_modulus_rise: Number,
) -> Number:
    """Pressure of a core that fills a rigid cavity alone, from the state where it fills it.

    ``P = (K/K') {[(1 + a_c dT_c)/(1 + a_t dT_t)]^(3 K') - 1}``: a check on the full balance.

    core_expansion : a_c, linear [1/K]
    core_rise : dT_c since the core filled the cavity [K]
    tool_expansion : a_t, linear [1/K]
    tool_rise : dT_t since then [K]
    bulk_modulus : K at the hot temperature [Pa]
    bulk_modulus_rise : K' [-]

    Silicone heated by 45 K in a full rigid cavity: tens of MPa.

    >>> round(full_cavity_pressure(core_expansion=300e-6, core_rise=45.0, tool_expansion=0.0, tool_rise=0.0,
    ...                            bulk_modulus=633.4e6, bulk_modulus_rise=10.19) / 1e6, 1)
    31.5
    """
    ratio = (1 + core_expansion * core_rise) / (1 + tool_expansion * tool_rise)
    return bulk_modulus / bulk_modulus_rise * (ratio ** (3 * bulk_modulus_rise) - 1)


def linear_pressure(
    *,
    excess: Number,
    core: Number,
    bulk_modulus: Number,
    laminate_softness: Number,
    cavity: Number,
    compliance: Number,
) -> Number:
    """Pressure just after contact, ``P = excess/(V_c/K + S_l + V_t C_t)``: a check, good to 2 % near contact.

    excess : growth beyond contact, `balance` at P = 0 [m3, or m per unit of face area]
    core : V_c, hot [as excess]
    bulk_modulus : K at the hot temperature [Pa]
    laminate_softness : S_l, volume the laminate gives up per pressure [as excess, per Pa]; 0 if locked
    cavity : V_t [as excess]
    compliance : C_t, cavity volume share gained per pressure [1/Pa]

    >>> round(linear_pressure(excess=1e-4, core=1.0, bulk_modulus=1e9, laminate_softness=0.0, cavity=1.0,
    ...                       compliance=0.0))
    100000
    """
    return excess / (core / bulk_modulus + laminate_softness + cavity * compliance)


def air_softened_modulus(*, bulk_modulus: Number, air_share: Number, pressure: Number) -> Number:
    """Bulk modulus of a core with entrained air, ``1/(1/K + x/p)``.

    bulk_modulus : K without air [Pa]
    air_share : x, volume fraction of air at the pressure [0..1]
    pressure : p, absolute [Pa]

    Ideal gas at one temperature. A few tenths of a percent dominate at low pressure.

    >>> round(air_softened_modulus(bulk_modulus=0.85e9, air_share=0.003, pressure=1e6) / 1e6)
    239
    """
    return 1 / (1 / bulk_modulus + air_share / pressure)


def thick_wall_compliance(*, outer_over_inner: Number, modulus: Number, poisson: Number) -> Number:
    """Share of its volume a round bore gains per pressure, axial strain left out.

    ``C_t = (2/E) [(k^2 + 1)/(k^2 - 1) + nu]`` (Lame).

    outer_over_inner : k, outer over inner diameter, above 1 [-]
    modulus : E of the tool [Pa]
    poisson : nu of the tool [-]

    Any strength-of-materials text; the source is from memory.

    >>> round(100 * 0.85e9 * thick_wall_compliance(outer_over_inner=2.0, modulus=200e9, poisson=0.3), 2)
    1.67
    """
    squared = outer_over_inner**2
    return 2 / modulus * ((squared + 1) / (squared - 1) + poisson)


def opening_force(*, pressures: Sequence[Number], areas: Sequence[Number]) -> Number:
    """Force that opens the mold, ``sum of P_i A_i``; above the clamp force the tool opens and flashes.

    pressures : P of each zone [Pa]
    areas : projected area of each zone [m2]

    Raises ValueError where the two differ in length.

    >>> opening_force(pressures=[4.0e6, 2.0e6], areas=[0.036, 0.006])
    156000.0
    """
    return sum(p * area for p, area in zip(pressures, areas, strict=True))


def clamp_pressure(*, force: Number, area: Number) -> Number:
    """Pressure at which the clamp opens when it acts alike on all the projected area, ``P = F/A``.

    force : clamp force [N]
    area : projected area, sum over the zones [m2]

    >>> round(clamp_pressure(force=600e3, area=0.042) / 1e6, 1)
    14.3
    """
    return force / area
