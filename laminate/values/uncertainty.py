"""One mechanism for uncertainty: inputs with their sources go through an ordinary formula.

A `Source` is one cause of error and says by how much one standard uncertainty of it moves each input. It is
*own* (another error for every row, as a weighing) or *shared* (the same error in all rows, as a density or
the calibration of a balance). `propagate` differentiates the formula along every source by complex step on
whole columns (JCGM 100:2008, 5.1 and 5.2, with the correlations between inputs that share a source);
`monte_carlo` draws from the same sources through the same formula (JCGM 101:2008). `Scalars` carries a
handful of numbers with the `uncertainties` library. Means of rows stand in `averages`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas.statistics import (
    degrees_of_factor,
    expanded_by_terms,
    welch_satterthwaite,
)
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.values.input_key import Name
    from laminate.values.units import Shape

    Array = NDArray[np.float64]
    Formula = Callable[[Mapping[Any, Any]], Mapping[str, Any]]

STEP = 1e-25
BLOCK = 8192
FEW = 64
"""Rows up to which a formula is called once for all sources: a call costs more than the numbers in it."""
ROUNDING = 1e-9
"""A scatter or a difference below this share of the value is rounding of the computer, hence zero."""


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One cause of error.

    name: its identity, a key or words; moves: input name -> signed change of that input for one standard
    uncertainty of this source [unit of the input; scalar or a column]; shared: the same error in every row;
    dof: degrees of freedom of the standard uncertainty; shape: distribution for Monte Carlo; rounded: the
    rounding of readings to their last digit, which is alike in rows that are alike and hides their scatter:
    in a mean it is shared and adds to the scatter as well; estimate: which rows its size was seen in, None
    where it was stated: sources of one name with other estimates tell it again, independently.
    """

    name: Name
    moves: Mapping[Any, Any]
    shared: bool = True
    dof: float = math.inf
    shape: Shape = "normal"
    rounded: bool = False
    estimate: Hashable = None


def sources_of(values: Mapping[Any, SIValue], causes: Mapping[Any, Name] | None = None) -> list[Source]:
    """One cause of error a value that carries a ±, and one an uncertain number that moves several of them.

    values: by the name of the input; causes: input -> its identity, where that is not its name.
    """
    unshared = [
        Source((causes or {}).get(name, name), {name: value.own}, dof=value.dof, shape=value.shape)
        for name, value in values.items()
        if value.own > 0.0
    ]
    shared: dict[Name, dict[Any, float]] = {}
    for name, value in values.items():
        for number, move in value.shared:
            shared.setdefault(number, {})[name] = move
    return unshared + [Source(number, moves) for number, moves in shared.items()]


@dataclass(frozen=True, slots=True, eq=False)
class Result:
    """One attribute over n rows: value (n,) and the signed contribution of every source (m, n), SI units."""

    value: Array
    contributions: Array
    sources: tuple[Source, ...]

    @property
    def standard_uncertainty(self) -> Array:
        """Standard uncertainty of every row (n,)."""
        return np.asarray(np.sqrt(np.einsum("mn,mn->n", self.contributions, self.contributions)))

    @property
    def degrees_of_freedom(self) -> Array:
        """Effective degrees of freedom of every row (n,), Welch-Satterthwaite (JCGM 100, G.4.1)."""
        dofs = [source.dof for source in self.sources]
        return np.asarray(welch_satterthwaite(contributions=list(self.contributions), dofs=dofs))

    def coverage_factor(self, confidence: float) -> Array:
        """U over u of every row (n,), each source having its own Student's t; 0 where nothing has a ±.

        Welch-Satterthwaite falls short of the confidence where a source of few degrees stands beside others.
        """
        dofs = [source.dof for source in self.sources]
        expanded = expanded_by_terms(contributions=list(self.contributions), dofs=dofs, confidence=confidence)
        u = self.standard_uncertainty
        return np.divide(expanded, u, out=np.zeros_like(u), where=u > 0.0)

    def covering_degrees(self, confidence: float) -> Array:
        """Degrees of freedom (n,) whose Student's t is the coverage factor."""
        if all(math.isinf(source.dof) for source in self.sources):
            return np.full(self.value.shape, math.inf)
        return np.asarray(degrees_of_factor(factor=self.coverage_factor(confidence), confidence=confidence))

    def rows(self, chosen: Any) -> Result:
        """The result of the chosen rows."""
        return Result(self.value[chosen], self.contributions[:, chosen], self.sources)


def _rows(inputs: Mapping[Any, Any]) -> int:
    lengths = {np.shape(value)[0] for value in inputs.values() if np.ndim(value)}
    if len(lengths) > 1:
        raise ValueError(f"columns of different lengths: {sorted(lengths)}")
    return lengths.pop() if lengths else 1


def _blocks(rows: int) -> Iterator[slice]:
    for start in range(0, rows, BLOCK):
        yield slice(start, min(start + BLOCK, rows))


def _cut(value: Any, block: slice) -> Any:
    return value[block] if np.ndim(value) else value


def propagate(formula: Formula, inputs: Mapping[Any, Any], sources: Sequence[Source]) -> dict[str, Result]:
    """First-order uncertainty of every attribute that `formula` returns, on whole columns.

    formula: maps inputs (scalars or columns (n,), real or complex) to attributes; inputs: coherent units;
    sources: causes of error. Derivatives are exact (complex step): one evaluation a source, in blocks of rows
    that stay in cache, one for all sources of
    few rows. Source: JCGM 100:2008, equations 10 and 13. Raises ValueError for columns of different
    lengths.

    >>> ring = propagate(lambda x: {"area": x["d"] ** 2}, {"d": 3.0}, [Source("d", {"d": 0.1})])["area"]
    >>> float(ring.value[0]), round(float(ring.standard_uncertainty[0]), 9)
    (9.0, 0.6)
    """
    rows = _rows(inputs)
    values: dict[str, Array] = {}
    contributions: dict[str, Array] = {}
    for block in _blocks(rows):
        in_block = {name: _cut(value, block) for name, value in inputs.items()}
        for name, value in formula(in_block).items():
            values.setdefault(name, np.empty(rows))[block] = value
        for chosen, moved in _moved(in_block, sources, block):
            for name, value in formula(moved).items():
                if name not in contributions:
                    contributions[name] = np.zeros((len(sources), rows))
                if np.iscomplexobj(value):
                    np.divide(np.imag(value), STEP, out=contributions[name][chosen, block])
    kept = tuple(sources)
    none = np.zeros((0, rows))
    return {name: Result(value, contributions.get(name, none), kept) for name, value in values.items()}


def _moved(
    inputs: Mapping[Any, Any], sources: Sequence[Source], block: slice
) -> Iterator[tuple[Any, dict[Any, Any]]]:
    """Places of sources, and the inputs that they move by a complex step; of few rows all sources at once."""
    rows = block.stop - block.start
    if rows > FEW:
        for i, source in enumerate(sources):
            steps = {name: (STEP * 1j) * _cut(move, block) for name, move in source.moves.items()}
            yield i, {**inputs, **{name: inputs[name] + step for name, step in steps.items()}}
    elif sources:
        together = dict(inputs)
        for i, source in enumerate(sources):
            for name, move in source.moves.items():
                step = np.zeros((len(sources), rows), complex)
                step[i] = (STEP * 1j) * _cut(move, block)
                together[name] = together[name] + step
        yield slice(None), together


def standard_draws(shape: Shape, dof: float, size: Any, generator: Any) -> Array:
    """Draws of an error in its standard uncertainties (JCGM 101:2008, 6.4); generator: any of numpy."""
    if shape == "rectangular":
        return np.asarray(generator.uniform(-math.sqrt(3.0), math.sqrt(3.0), size))
    if math.isfinite(dof):
        return np.asarray(generator.standard_t(dof, size))
    return np.asarray(generator.standard_normal(size))


def monte_carlo(
    formula: Formula, inputs: Mapping[Any, Any], sources: Sequence[Source], *, draws: int, seed: int
) -> dict[str, Array]:
    """Draws (draws, n) of every attribute, from the same sources through the same formula.

    Own sources are drawn anew in every row, shared ones once a draw. All draws are held at once: for a
    handful of rows, or few draws. Source: JCGM 101:2008, clause 7.
    """
    rows, generator = _rows(inputs), np.random.default_rng(seed)
    moved: dict[Any, Any] = dict(inputs)
    for source in sources:
        size = draws, 1 if source.shared else rows
        z = standard_draws(source.shape, source.dof, size, generator)
        for name, move in source.moves.items():
            moved[name] = moved[name] + z * move
    return {name: np.broadcast_to(value, (draws, rows)) for name, value in formula(moved).items()}


def numerical_tolerance(u: Any, digits: int = 1) -> Array:
    """Half a unit in the last of so many significant digits of u (JCGM 101:2008, 7.9.2).

    u: standard uncertainty, above 0; digits: significant digits that are meaningful, 1 or 2.

    >>> [float(f"{numerical_tolerance(0.00035, digits):.3g}") for digits in (2, 1)]
    [5e-06, 5e-05]
    """
    last = np.floor(np.log10(u)) - (digits - 1)
    carried = np.round(u / 10.0**last) >= 10.0**digits  # 0.0996 has one digit 0.1, not 0.09
    return np.asarray(0.5 * 10.0 ** (last + carried))


ONE = SIValue(0.0, 1.0)
"""An uncertain number that moves several inputs: 0, ± 1."""


class Scalars:
    """A handful of numbers with uncertainty: variables of the `uncertainties` library, one object a cause.

    Exact inputs stay floats. Correlation is by identity: the same name gives the same object.
    """

    def __init__(self) -> None:
        self.variables: dict[Name, Any] = {}
        self.values: dict[Name, SIValue] = {}
        self._names: dict[Any, Name] = {}

    def take(self, name: Name, value: SIValue) -> Any:
        """The number to compute with, for the input `name` [SI].

        Raises ValueError where the name was taken with another value: it would be lost.
        """
        if self.values.get(name, value) != value:
            raise ValueError(f"'{name}' is already {self.values[name].text}, not {value.text}")
        if name not in self.variables:
            self.values[name] = value
            number: Any = value.value
            if value.own > 0.0:
                from uncertainties import ufloat

                number = ufloat(value.value, value.own, tag=str(name))
                self._names[number] = name
            shared = ((self.take(at, ONE), move) for at, move in value.shared)
            self.variables[name] = number + sum(move * variable for variable, move in shared)
        return self.variables[name]

    def contributions(self, number: Any) -> dict[Name, float]:
        """Signed contribution of every input to a computed number [SI]."""
        if not deviation(number):
            return {}
        return {self._names[v]: d * v.std_dev for v, d in number.derivatives.items()}

    def factor(self, number: Any, *, confidence: float) -> float:
        """U over u of a computed number, each input having its own Student's t; the normal one of none."""
        parts = self.contributions(number) or {"": 1.0}
        dofs = [self.values[name].dof if name else math.inf for name in parts]
        expanded = expanded_by_terms(contributions=[*parts.values()], dofs=dofs, confidence=confidence)
        return float(expanded) / math.hypot(*parts.values())


def nominal(number: Any) -> float:
    """The value of a float or of a number with uncertainty."""
    return float(getattr(number, "nominal_value", number))


def deviation(number: Any) -> float | None:
    """The standard uncertainty of a computed number, 0 where it is rounding alone, None for an exact one."""
    if not hasattr(number, "std_dev"):
        return None
    u = float(number.std_dev)
    return u if u > ROUNDING * abs(nominal(number)) else 0.0
