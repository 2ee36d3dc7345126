"""The stack in the closed cavity at gel temperature, and the gap it meets there.

Volumes of constituents add up and a size grows by its expansion: arithmetic, with no other source.
"""

from __future__ import annotations

import math

from .number import Number

PACKING_LIMITS = {"unidirectional": 0.68, "non-crimp": 0.60, "woven": 0.55, "mat": 0.25}
"""Fiber volume each form packs to in a mold, by default (practical ranges 60-70, about 60, 40-58, 15-25 %);
common practice, no source. A measured limit overrides it."""

CLOSE_PACKED = math.pi / math.sqrt(12.0)
"""Share of a section that equal round fibers fill where they all touch, in hexagons (plane geometry)."""


def fill_ratio(*, stack: Number, layers: Number, gap: Number) -> Number:
    """How full the closed gap is, ``phi = (s + t_L)/h_g``; below 1 nothing presses and voids stay.

    stack : s, liquid full at no bleed [m]
    layers : t_L, layers in the gap [m]
    gap : h_g, hot [m]

    >>> round(fill_ratio(stack=3.0e-3, layers=0.05e-3, gap=2.95e-3), 3)
    1.034
    """
    return (stack + layers) / gap


def fiber_volume_in_gap(*, fiber_thickness: Number, gap: Number, layers: Number) -> Number:
    """Fiber volume while the gap is closed, ``sum m_f/rho_f/(h_g - t_L)``, to hold against the packing limit.

    fiber_thickness : sum of m_f/rho_f [m]
    gap : h_g, hot [m]
    layers : t_L, layers in the gap [m]

    >>> round(fiber_volume_in_gap(fiber_thickness=1.2e-3, gap=2.05e-3, layers=0.05e-3), 6)
    0.6
    """
    return fiber_thickness / (gap - layers)


def void_if_gap_holds(*, thickness: Number, gap: Number) -> Number:
    """Voids at worst where the gap holds from gel to cold, ``1 - h/h_g``; otherwise it is pressure lost.

    thickness : h, cured, cold, without voids [m]; the thickness of the part is then that of the gap
    gap : h_g, hot [m]

    >>> round(void_if_gap_holds(thickness=2.856e-3, gap=2.957e-3), 4)
    0.0342
    """
    return 1 - thickness / gap


def smallest_bleed_limit(*, plies: Number, resin_volume: Number) -> Number:
    """Bleed limit from which on a ply count exists for any gap, about ``1/(n V_r)``.

    One ply more is 1/n of the stack, and a bleed b takes b V_r of it.

    plies : n [-]
    resin_volume : V_r of the liquid-full stack [0..1]

    >>> round(smallest_bleed_limit(plies=20, resin_volume=0.45), 2)
    0.11
    """
    return 1 / (plies * resin_volume)


def hot_gap_matched(*, gap: Number, expansion: Number, rise: Number) -> Number:
    """Hot gap between matched halves of one material, ``h_g = h_0 (1 + a_t dT)``: a hole grows like its wall.

    gap : h_0, cold [m]
    expansion : a_t, linear, mean over the rise [1/K]
    rise : dT of the tool over room temperature [K]

    >>> round(1e3 * hot_gap_matched(gap=2.95e-3, expansion=23.6e-6, rise=97.0), 3)
    2.957
    """
    return gap * (1 + expansion * rise)


def hot_gap_two_materials(
    *,
    gap: Number,
    outer_half_width: Number,
    outer_expansion: Number,
    inner_half_width: Number,
    inner_expansion: Number,
    rise: Number,
) -> Number:
    """Hot gap between two halves of different materials, ``h_g = h_0 + (R_o a_o - R_i a_i) dT``.

    gap : h_0, cold [m]
    outer_half_width : R_o, half-width or radius of the outer half at the gap [m]
    outer_expansion : a_o, linear [1/K]
    inner_half_width : R_i, half-width or radius of the inner half at the gap [m]
    inner_expansion : a_i, linear [1/K]
    rise : dT over room temperature, both halves [K]

    A steel plug of radius 100 mm in an aluminium cavity opens.

    >>> round(1e3 * hot_gap_two_materials(gap=3e-3, outer_half_width=0.103, outer_expansion=23.6e-6,
    ...                                   inner_half_width=0.1, inner_expansion=12.5e-6, rise=100.0), 4)
    3.1181
    """
    return gap + (outer_half_width * outer_expansion - inner_half_width * inner_expansion) * rise


def cold_window_shortfall(
    *, cold_gap: Number, hot_gap: Number, laid_up: Number, stack: Number, layers: Number
) -> Number:
    """By how much a tool shut cold cannot take any stack that fills it hot; 0 or less: the window is open.

    ``(B n t_0 + t_L) - (s + t_L) - (h_cold - h_hot)``: laid up it must go into the cold gap, liquid full it
    must reach the hot gap.

    cold_gap : h_cold [m]
    hot_gap : h_g [m]
    laid_up : B n t_0 + t_L [m]
    stack : s, liquid full, without layers [m]
    layers : t_L, layers in the gap [m]

    >>> round(1e3 * cold_window_shortfall(cold_gap=3.2e-3, hot_gap=2.9e-3, laid_up=3.4e-3, stack=2.95e-3,
    ...                                   layers=0.05e-3), 6)
    0.1
    """
    return (laid_up - stack - layers) - (cold_gap - hot_gap)
