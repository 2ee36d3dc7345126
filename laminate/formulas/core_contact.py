"""When an expanding core touches, how fast it warms, and the sizes it is cast and pulled with.

Widths add up and grow by their expansion: arithmetic, with no other source unless one is named.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from .cavity import HELD, core_growth, hot_gap_against_core
from .number import Number, choose, exponential, real_part
from .roots import increasing_root

COLDEST_RISE, HOTTEST_RISE = -200.0, 500.0
"""Rises over room temperature within which contact is looked for [K]."""


class Contact(NamedTuple):
    """Temperature rise at which the stack is touched, and whether it ever is."""

    rise: Number
    """Over room temperature [K]; infinite where never touched, minus infinite where always."""
    reached: Number
    """True where the stack is touched below the hottest rise looked at."""


def contact_rise(
    *,
    held: str,
    cavity: Number,
    tool_expansion: Number,
    tool_rise: Number,
    core: Number,
    core_expansion: Number,
    stack: Number,
    walls: Number,
) -> Contact:
    """Rise of the core at which it touches a stack, the tool being at its own temperature.

    ``W (1 + a_t dT_t) - c g = walls x stack``, solved for dT_c in closed form.

    held : 'no', 'sides' or 'ends', as in `cavity.core_growth`
    cavity : W, cold [m]
    tool_expansion : a_t, linear [1/K]
    tool_rise : dT_t over room temperature [K]
    core : c, cold width or diameter [m]
    core_expansion : a_c, linear, above 0 [1/K]
    stack : laid up, or liquid full, with its layers [m]
    walls : laminates the core lies on, 1 or 2 [-]

    Raises ValueError for another way of holding.

    >>> touch = contact_rise(held="no", cavity=0.04, tool_expansion=0.0, tool_rise=100.0, core=0.03,
    ...                      core_expansion=250e-6, stack=4.7e-3, walls=2)
    >>> round(touch.rise, 6), touch.reached
    (80.0, True)
    """
    tool = 1 + tool_expansion * tool_rise
    needed = (cavity * tool - walls * stack) / core
    room = real_part(needed) > 0
    needed = choose(room, needed, 1.0)
    if held == "no":
        grown = needed
    elif held == "sides":
        grown = (needed * tool**2) ** (1 / 3)
    elif held == "ends":
        grown = (needed**2 * tool) ** (1 / 3)
    else:
        raise ValueError(f"a core is held {', '.join(HELD)}; not {held!r}")
    rise = (grown - 1) / core_expansion
    below = real_part(rise) <= HOTTEST_RISE
    return Contact(choose(room, choose(below, rise, math.inf), -math.inf), choose(room, below, True))


def contact_rise_together(
    *,
    held: str,
    cavity: Number,
    tool_expansion: Number,
    core: Number,
    core_expansion: Number,
    stack: Number,
    walls: Number,
) -> Contact:
    """Rise at which the core touches a stack, core and tool being at one temperature.

    ``W (1 + a_t dT) - c g(dT, dT) = walls x stack``, solved for dT between -200 and 500 K.

    held : 'no', 'sides' or 'ends', as in `cavity.core_growth`
    cavity : W, cold [m]
    tool_expansion : a_t, linear [1/K]
    core : c, cold width or diameter [m]
    core_expansion : a_c, linear [1/K]
    stack : laid up, or liquid full, with its layers [m]
    walls : laminates the core lies on, 1 or 2 [-]

    Raises ValueError for another way of holding.

    >>> touch = contact_rise_together(held="no", cavity=0.04, tool_expansion=20e-6, core=0.03,
    ...                               core_expansion=250e-6, stack=4.7e-3, walls=2)
    >>> round(touch.rise, 3), touch.reached
    (89.552, True)
    """
    given = (cavity, tool_expansion, core, core_expansion, stack, walls)
    plain = tuple(np.asarray(real_part(value), dtype=float) for value in given)

    def over(rise: Number, numbers: tuple[Number, ...]) -> Number:
        width, a_tool, cold, a_core, thickness, sides = numbers
        growth = core_growth(
            held=held, core_expansion=a_core, core_rise=rise, tool_expansion=a_tool, tool_rise=rise
        )
        gap = hot_gap_against_core(
            cavity=width, tool_expansion=a_tool, tool_rise=rise, core=cold, growth=growth, walls=sides
        )
        return thickness - gap

    def slope(rise: Number) -> Number:
        return np.imag(over(rise + 1e-30j, plain)) / 1e-30

    reached = over(HOTTEST_RISE, plain) >= 0
    always = reached & (over(COLDEST_RISE, plain) >= 0)
    bracketed = reached & ~always
    root = increasing_root(
        function=lambda rise: np.where(bracketed, over(rise, plain), 0.0),
        slope=slope,
        low=np.full(np.shape(bracketed), COLDEST_RISE),
        high=np.full(np.shape(bracketed), HOTTEST_RISE),
        tolerance=1e-6,
    )
    steep = slope(root)
    steep = np.where(bracketed, steep, 1.0) if np.ndim(bracketed) else (float(steep) if bracketed else 1.0)
    # One more step of Newton, in the numbers as they came: the implicit derivative.
    rise = root - over(root, given) / steep
    apart = choose(always, -math.inf, math.inf)
    return Contact(choose(bracketed, rise, apart), reached if np.ndim(reached) else bool(reached))


def core_cast_length(
    *,
    tool_length: Number,
    dummy: Number,
    walls: Number,
    tool_expansion: Number,
    core_expansion: Number,
    cast_rise: Number,
    cure_shrinkage: Number,
) -> Number:
    """Cold width of a core cast in the tool over a dummy laminate.

    ``L_c0 = [L_t (1 + a_t dT) - walls d] (1 - s)/(1 + a_c dT)``, dT the cast over room temperature.

    tool_length : L_t, cold width of the cavity [m]
    dummy : d, thickness of the dummy on each wall, at cast temperature [m]
    walls : laminates the core lies on, 1 or 2 [-]
    tool_expansion : a_t, linear [1/K]
    core_expansion : a_c, linear [1/K]
    cast_rise : dT, cast over room temperature [K]
    cure_shrinkage : s, linear, measured at cast temperature [0..1]

    >>> round(1e3 * core_cast_length(tool_length=0.04, dummy=4e-3, walls=2, tool_expansion=20e-6,
    ...                              core_expansion=250e-6, cast_rise=0.0, cure_shrinkage=0.002), 3)
    31.936
    """
    molded = tool_length * (1 + tool_expansion * cast_rise) - walls * dummy
    return molded * (1 - cure_shrinkage) / (1 + core_expansion * cast_rise)


def dummy_thickness(
    *,
    tool_length: Number,
    core: Number,
    walls: Number,
    tool_expansion: Number,
    core_expansion: Number,
    cast_rise: Number,
    cure_shrinkage: Number,
) -> Number:
    """Thickness of the dummy that gives a wanted cold core: the inverse of `core_cast_length`.

    tool_length : L_t, cold width of the cavity [m]
    core : L_c0 wanted, cold, from `cavity.core_for_gap` for a wanted hot gap [m]
    walls : laminates the core lies on, 1 or 2 [-]
    tool_expansion : a_t, linear [1/K]
    core_expansion : a_c, linear [1/K]
    cast_rise : dT, cast over room temperature [K]
    cure_shrinkage : s, linear, measured at cast temperature [0..1]

    >>> round(1e3 * dummy_thickness(tool_length=0.04, core=31.936e-3, walls=2, tool_expansion=20e-6,
    ...                             core_expansion=250e-6, cast_rise=0.0, cure_shrinkage=0.002), 6)
    4.0
    """
    molded = core * (1 + core_expansion * cast_rise) / (1 - cure_shrinkage)
    return (tool_length * (1 + tool_expansion * cast_rise) - molded) / walls


def pull_out_clearance(*, cavity: Number, walls: Number, thickness: Number, core: Number) -> Number:
    """Clearance, cold, to pull the core out of the part, ``W - walls h - c``.

    cavity : W, cold [m]
    walls : laminates the core lies on, 1 or 2 [-]
    thickness : h of the cured laminate [m]
    core : c, cold width or diameter [m]

    >>> round(1e3 * pull_out_clearance(cavity=38.6e-3, walls=2, thickness=2.812e-3, core=30.64e-3), 3)
    2.336
    """
    return cavity - walls * thickness - core


def lag_time(*, thickness: Number, diffusivity: Number) -> Number:
    """Time constant of a slab heated on both faces, ``tau = L^2/(pi^2 kappa)``.

    thickness : L [m]
    diffusivity : kappa [m2/s]

    >>> round(lag_time(thickness=0.05, diffusivity=1.1e-7) / 60)
    38
    """
    return thickness**2 / (math.pi**2 * diffusivity)


def mean_rise_fraction(*, time: Number, thickness: Number, diffusivity: Number) -> Number:
    """Mean rise of a slab heated on both faces, over the rise of its faces.

    ``1 - (8/pi^2) sum over odd k of exp(-k^2 t/tau)/k^2``; while the warm layers do not meet, the equal
    ``(4/sqrt(pi)) (kappa t/L^2)^0.5``. Conduction from a step at both faces (Crank, The Mathematics of
    Diffusion, section 4.3; the source is from memory).

    time : t since the faces were heated [s], 0 or more
    thickness : L [m]
    diffusivity : kappa [m2/s]

    >>> round(100 * mean_rise_fraction(time=900.0, thickness=0.05, diffusivity=1.1e-7))
    45
    """
    scaled = diffusivity * time / thickness**2
    early = real_part(scaled) < 0.01
    ratio = math.pi**2 * choose(early, 0.01, scaled)
    series = sum(exponential(-(k**2) * ratio) / k**2 for k in range(1, 20, 2))
    late = 1 - 8 / math.pi**2 * series
    return choose(early, 4 / math.pi**0.5 * choose(early, scaled, 0.01) ** 0.5, late)


def filled_expansion(*, expansion: Number, filler_expansion: Number, filler_volume: Number) -> Number:
    """Linear expansion of a filled rubber by the rule of mixtures, ``a = a_s (1 - x) + a_filler x``.

    expansion : a_s of the rubber [1/K]
    filler_expansion : a_filler [1/K]
    filler_volume : x, volume fraction of filler [0..1]

    An estimate: compounds differ, measure. The source is common practice.

    >>> round(1e6 * filled_expansion(expansion=270e-6, filler_expansion=0.5e-6, filler_volume=0.22))
    211
    """
    return expansion * (1 - filler_volume) + filler_expansion * filler_volume
