"""Heat through a stack of layers: one dimension, finite volumes, TR-BDF2 in time.

``rho c dT/dt = d/dx(k dT/dx)`` (Fourier 1822); TR-BDF2 with gamma = 2 - sqrt 2: Bank et al., IEEE Trans.
Comput.-Aided Des. 4 (1985) 436; Hosea and Shampine, Appl. Numer. Math. 20 (1996) 21.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from .number import Number, choose

GAMMA = 2.0 - math.sqrt(2.0)


class Layer(NamedTuple):
    """One layer of the stack; every number may be a row of draws.

    thickness [m]; conductivity [W/m/K]; heat_capacity [J/m3/K]; cells: how many; contact: conductance toward
    the layer before it, or toward what heats it [W/m2/K], infinite for perfect contact; rod: the layer is a
    rod of this radius, heated all around: the last one alone.
    """

    thickness: Number
    conductivity: Number
    heat_capacity: Number
    cells: int
    contact: Number = math.inf
    rod: bool = False


class Mesh(NamedTuple):
    """Cells of a stack: heat capacity of each [J/m2/K], conductance between neighbors [W/m2/K], and outward.

    inner: between cell i and i + 1; outward: from the first cell to what heats it; first: index of the first
    cell of each layer; volume: of each cell [m3/m2]. Shapes (cells,), or (cells, draws).
    """

    capacity: np.ndarray
    inner: np.ndarray
    outward: Number
    first: tuple[int, ...]
    volume: np.ndarray


def mesh(*, layers: Sequence[Layer]) -> Mesh:
    """Cells of a stack from its heated face inward; the last face is insulated, by symmetry.

    layers : from the heated face inward, each a `Layer`

    Cells of a rod are rings of one width; between their middles the resistance is that of a hollow cylinder,
    ``R ln(r_o/r_i)/k`` by the area of its surface (Carslaw and Jaeger 1959, 7.2).
    """
    cells: list[tuple[Number, ...]] = []
    for layer in layers:
        for cell in range(layer.cells):
            width = layer.thickness / layer.cells
            bulk, before, after = width, width / 2.0, width / 2.0
            if layer.rod:
                out, middle, within = layer.cells - cell, layer.cells - cell - 0.5, layer.cells - cell - 1
                bulk = width * middle / layer.cells
                before = layer.thickness * math.log(out / middle)
                after = layer.thickness * math.log(middle / within) if within else math.inf
            contact = 1.0 / layer.contact if cell == 0 else 0.0
            resistances = (before / layer.conductivity, after / layer.conductivity, contact)
            cells.append((bulk, layer.heat_capacity * bulk, *resistances))
    volume, capacity, outer, inward, contacts = zip(*cells, strict=True)
    resistance = [inward[i] + outer[i + 1] + contacts[i + 1] for i in range(len(outer) - 1)]
    first = tuple(accumulate((layer.cells for layer in layers[:-1]), initial=0))
    outward = outer[0] + contacts[0]
    shape = np.broadcast_shapes(*map(np.shape, [*capacity, *resistance, outward]))
    capacities, between, volumes = (_rows(each, shape) for each in (capacity, resistance, volume))
    return Mesh(capacities, 1.0 / between, 1.0 / outward, first, volumes)


def _rows(values: Sequence[Number], shape: tuple[int, ...]) -> np.ndarray:
    return np.array([np.broadcast_to(value, shape) for value in values], dtype=float).reshape(-1, *shape)


def gap_conductance(*, contact: Number, gap: Number) -> Number:
    """Conductance across a gap that closes, ``1/h = 1/h_contact + 1/(0.030/o + 8)``.

    contact : h_contact, once it touches [W/m2/K]
    gap : o, open width, 0 or less once it touches [m]

    Still air of 0.030 W/m/K, and radiation of 8 W/m2/K between faces near 400 K; arithmetic.

    >>> gap_conductance(contact=1000.0, gap=0.0), round(gap_conductance(contact=1000.0, gap=0.001), 2)
    (1000.0, 36.61)
    """
    is_open = gap > 0.0
    across = 0.030 / choose(is_open, gap, 1.0) + 8.0
    return choose(is_open, 1.0 / (1.0 / contact + 1.0 / across), contact)


def _flow(net: Mesh, inner: np.ndarray, temperature: np.ndarray, face: Number) -> np.ndarray:
    """Rate of each cell's temperature [K/s]."""
    between = inner * np.diff(temperature, axis=0)
    heat = np.zeros_like(temperature)
    heat[:-1] += between
    heat[1:] -= between
    heat[0] += net.outward * (face - temperature[0])
    return np.asarray(heat / net.capacity)


def _solve(net: Mesh, inner: np.ndarray, step: float, right: np.ndarray, face: Number) -> np.ndarray:
    """Solve ``T - step F(T) = right`` for one tridiagonal step (Thomas 1949)."""
    scale = step / net.capacity
    upper, lower = -scale[:-1] * inner, -scale[1:] * inner
    middle = np.ones_like(scale)
    middle[:-1] -= upper
    middle[1:] -= lower
    middle[0] += scale[0] * net.outward
    values = right.copy()
    values[0] += scale[0] * net.outward * face
    size = len(values)
    for i in range(1, size):
        factor = lower[i - 1] / middle[i - 1]
        middle[i] -= factor * upper[i - 1]
        values[i] -= factor * values[i - 1]
    values[-1] /= middle[-1]
    for i in range(size - 2, -1, -1):
        values[i] = (values[i] - upper[i] * values[i + 1]) / middle[i]
    return values


def conduct(
    *,
    net: Mesh,
    start: np.ndarray,
    times: np.ndarray,
    face: Callable[[float], Number],
    inner: Callable[[float, np.ndarray], np.ndarray] | None = None,
) -> np.ndarray:
    """Temperatures of every cell at every time (times, cells), or (times, cells, draws) [K].

    net : the cells, a `Mesh`
    start : T of each cell at the first time (cells,), or (cells, draws) [K]
    times : t, rising; each interval is one step [s]
    face : T of what heats the first cell, at a time [K]
    inner : conductances between cells at a time, from the temperatures there [W/m2/K]; asked at the start of
        a step, and at its end as it is foreseen

    TR-BDF2: trapezoid over gamma of the step, then BDF2; second order, and nothing rings at a step of the
    heated face (Bank et al. 1985).
    """
    values = np.empty((len(times), *np.shape(start)))
    values[0] = now = np.asarray(start, dtype=float)
    for at in range(1, len(times)):
        t, step = float(times[at - 1]), float(times[at] - times[at - 1])
        links = net.inner if inner is None else inner(t, now)
        middle = t + GAMMA * step
        half = GAMMA * step / 2.0
        first = _solve(net, links, half, now + half * _flow(net, links, now, face(t)), face(middle))
        weight = 1.0 / (GAMMA * (2.0 - GAMMA))
        if inner is not None:
            links = inner(t + step, now + (first - now) / GAMMA)
        right = weight * first - weight * (1.0 - GAMMA) ** 2 * now
        now = _solve(net, links, (1.0 - GAMMA) / (2.0 - GAMMA) * step, right, face(t + step))
        values[at] = now
    return values
