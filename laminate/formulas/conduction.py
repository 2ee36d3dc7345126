"""Heat through a stack of layers: one dimension, finite volumes, TR-BDF2 in time.

``rho c dT/dt = d/dx(k dT/dx)`` (Fourier 1822); TR-BDF2 with gamma = 2 - sqrt 2: Bank et al., IEEE Trans.
Comput.-Aided Des. 4 (1985) 436; Hosea and Shampine, Appl. Numer. Math. 20 (1996) 21.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

GAMMA = 2.0 - math.sqrt(2.0)


class Layer(NamedTuple):
    """One layer of the stack.

    thickness [m]; conductivity [W/m/K]; heat_capacity [J/m3/K]; cells: how many; contact: conductance toward
    the layer before it, or toward what heats it [W/m2/K], infinite for perfect contact.
    """

    thickness: float
    conductivity: float
    heat_capacity: float
    cells: int
    contact: float = math.inf


class Mesh(NamedTuple):
    """Cells of a stack: heat capacity of each [J/m2/K], conductance between neighbors [W/m2/K], and outward.

    inner: between cell i and i + 1; outward: from the first cell to what heats it; first: index of the first
    cell of each layer.
    """

    capacity: np.ndarray
    inner: np.ndarray
    outward: float
    first: tuple[int, ...]


def mesh(*, layers: Sequence[Layer]) -> Mesh:
    """Cells of a stack from its heated face inward; the last face is insulated, by symmetry.

    layers : from the heated face inward, each a `Layer`
    """
    capacity: list[float] = []
    half: list[float] = []
    contacts: list[float] = []
    first: list[int] = []
    for layer in layers:
        first.append(len(capacity))
        width = layer.thickness / layer.cells
        capacity += [layer.heat_capacity * width] * layer.cells
        half += [width / 2.0 / layer.conductivity] * layer.cells
        contacts += [1.0 / layer.contact] + [0.0] * (layer.cells - 1)
    resistance = [half[i] + half[i + 1] + contacts[i + 1] for i in range(len(half) - 1)]
    outward = 1.0 / (half[0] + contacts[0])
    return Mesh(np.array(capacity), 1.0 / np.array(resistance), outward, tuple(first))


def gap_conductance(*, contact: float, gap: float) -> float:
    """Conductance across a gap that closes, ``1/h = 1/h_contact + 1/(0.030/o + 8)``.

    contact : h_contact, once it touches [W/m2/K]
    gap : o, open width, 0 once it touches [m]

    Still air of 0.030 W/m/K, and radiation of 8 W/m2/K between faces near 400 K; arithmetic.

    >>> gap_conductance(contact=1000.0, gap=0.0), round(gap_conductance(contact=1000.0, gap=0.001), 2)
    (1000.0, 36.61)
    """
    return contact if gap <= 0.0 else 1.0 / (1.0 / contact + 1.0 / (0.030 / gap + 8.0))


def _flow(net: Mesh, inner: np.ndarray, temperature: np.ndarray, face: float) -> np.ndarray:
    """Rate of each cell's temperature [K/s]."""
    between = inner * np.diff(temperature)
    heat = np.zeros_like(temperature)
    heat[:-1] += between
    heat[1:] -= between
    heat[0] += net.outward * (face - temperature[0])
    return np.asarray(heat / net.capacity)


def _solve(net: Mesh, inner: np.ndarray, step: float, right: np.ndarray, face: float) -> np.ndarray:
    """Solve ``T - step F(T) = right`` for one tridiagonal step (Thomas 1949)."""
    scale = step / net.capacity
    upper = np.append(-scale[:-1] * inner, 0.0)
    lower = np.insert(-scale[1:] * inner, 0, 0.0)
    middle = 1.0 - upper - lower
    middle[0] += scale[0] * net.outward
    rest = right.copy()
    rest[0] += scale[0] * net.outward * face
    size = len(rest)
    for i in range(1, size):
        factor = lower[i] / middle[i - 1]
        middle[i] -= factor * upper[i - 1]
        rest[i] -= factor * rest[i - 1]
    found = np.empty(size)
    found[-1] = rest[-1] / middle[-1]
    for i in range(size - 2, -1, -1):
        found[i] = (rest[i] - upper[i] * found[i + 1]) / middle[i]
    return found


def conduct(
    *,
    net: Mesh,
    start: np.ndarray,
    times: np.ndarray,
    face: Callable[[float], float],
    inner: Callable[[float, np.ndarray], np.ndarray] | None = None,
) -> np.ndarray:
    """Temperatures of every cell at every time (times, cells) [K].

    net : the cells, a `Mesh`
    start : T of each cell at the first time [K]
    times : t, rising; each interval is one step [s]
    face : T of what heats the first cell, at a time [K]
    inner : conductances between cells at the start of a step, from time and temperatures [W/m2/K]

    TR-BDF2: trapezoid over gamma of the step, then BDF2; second order, and nothing rings at a step of the
    heated face (Bank et al. 1985).
    """
    found = np.empty((len(times), len(start)))
    found[0] = now = np.asarray(start, dtype=float)
    for at in range(1, len(times)):
        t, step = float(times[at - 1]), float(times[at] - times[at - 1])
        links = net.inner if inner is None else inner(t, now)
        middle = t + GAMMA * step
        half = GAMMA * step / 2.0
        first = _solve(net, links, half, now + half * _flow(net, links, now, face(t)), face(middle))
        weight = 1.0 / (GAMMA * (2.0 - GAMMA))
        right = weight * first - weight * (1.0 - GAMMA) ** 2 * now
        now = _solve(net, links, (1.0 - GAMMA) / (2.0 - GAMMA) * step, right, face(t + step))
        found[at] = now
    return found
