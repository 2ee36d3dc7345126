"""How fast a core warms, and the sizes it is cast with.

Widths add up and grow by their expansion: arithmetic, with no other source unless one is named.
"""

from __future__ import annotations

import math

from .number import Number, choose, real_part


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
    """Thickness of the dummy that gives a wanted cold width of a core cast over it.

    ``d = [L_t (1 + a_t dT) - L_c0 (1 + a_c dT)/(1 - s)]/walls``, dT the cast over room temperature.

    tool_length : L_t, cold width of the cavity [m]
    core : L_c0 wanted, cold, such as from `press.volume_for_pressure` [m]
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
    # a power of e is what numbers with uncertainty know, too
    series = sum(math.e ** (-(k**2) * ratio) / k**2 for k in range(1, 20, 2))
    late = 1 - 8 / math.pi**2 * series
    return choose(early, 4 / math.pi**0.5 * choose(early, scaled, 0.01) ** 0.5, late)
