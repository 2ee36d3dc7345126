"""The gel clock: which share of the time to gel a resin has used, from a table of gel times.

Exact for a cure whose rate is ``k(T) f(conversion)`` with one activation energy, by definition.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from .number import Number

REFERENCE = 393.15
"""Temperature [K] at which the line ln t = ln t_ref + b (1/T - 1/T_ref) is anchored; it cancels out."""

LARGEST = 600.0
"""A larger logarithm of a rate gels at once just as well, and exp() overflows over 709."""


class GelLine(NamedTuple):
    """ln t_gel = a + b (1/T - 1/393.15 K), t in s and T in K.

    scatter: standard deviation of the residuals of ln t, 0 for two points; dof: n - 2.
    """

    a: float
    b: float
    scatter: float
    dof: int


def gel_line(*, temperatures: Sequence[float], times: Sequence[float]) -> GelLine:
    """Least-squares line of ln t_gel over 1/T (Arrhenius 1889).

    temperatures : T of each gel test [K]
    times : t_gel of each [s]

    Raises ValueError for fewer than two temperatures.

    >>> line = gel_line(temperatures=[393.15, 423.15], times=[1680.0, 600.0])
    >>> round(line.b), line.dof
    (5710, 0)
    """
    x = 1.0 / np.asarray(temperatures, dtype=float) - 1.0 / REFERENCE
    y = np.log(np.asarray(times, dtype=float))
    if x.size < 2 or not np.ptp(x) > 0.0:
        raise ValueError("needs gel times at two temperatures or more")
    b = float(((x - x.mean()) * (y - y.mean())).sum() / ((x - x.mean()) ** 2).sum())
    a = float(y.mean() - b * x.mean())
    dof = x.size - 2
    rest = y - a - b * x
    return GelLine(a, b, float(np.sqrt((rest**2).sum() / dof)) if dof else 0.0, dof)


def gel_rate(*, temperature: Number, a: Number, b: Number) -> Number:
    """Rate of the gel clock at a temperature, ``1/t_gel = exp(-a - b (1/T - 1/393.15))`` (Arrhenius 1889).

    temperature : T [K], however far out: one degree of freedom draws errors beyond absolute zero
    a : natural logarithm of the gel time at 393.15 K, in s [-]
    b : slope over 1/T [K]

    >>> line = gel_line(temperatures=[393.15, 423.15], times=[1680.0, 600.0])
    >>> float(round(1.0 / gel_rate(temperature=423.15, a=line.a, b=line.b), 6))
    600.0
    """
    kelvin = np.maximum(temperature, 1.0)
    return np.exp(np.minimum(-a - b * (1.0 / kelvin - 1.0 / REFERENCE), LARGEST))


def clock(*, times: np.ndarray, rates: np.ndarray, start: Number) -> np.ndarray:
    """Share of the time to gel used up to each row, ``G = G_0 + integral of dt/t_gel``; gel at 1.

    times : t of each row, rising [s]
    rates : 1/t_gel at each row [1/s], of many clocks (rows, ...)
    start : G_0 [-], one or that of each

    Trapezoidal rule on 1/t_gel, by definition of the clock.

    >>> clock(times=np.array([0.0, 60.0]), rates=np.array([0.01, 0.01]), start=0.1).tolist()
    [0.1, 0.7]
    """
    steps = (np.diff(times) * (rates[1:] + rates[:-1]).T / 2.0).T
    return np.asarray(start + np.concatenate([np.zeros_like(steps[:1]), np.cumsum(steps, axis=0)]))


def share_used(*, share: Number, out_time: Number, out_life: Number) -> Number:
    """Share of the gel clock used before the press, ``G_0 = share x out_time/out_life``, arithmetic.

    share : of the gel clock used when the out-life is used up [-]
    out_time : time out of the freezer [s]
    out_life : the longest time allowed out of it [s]

    >>> round(share_used(share=0.2, out_time=12.0, out_life=30.0), 3)
    0.08
    """
    return share * out_time / out_life
