"""One mechanism for uncertainty: inputs with their sources go through an ordinary formula.

A `Source` is one cause of error and says by how much one standard uncertainty of it moves each input. It is
*own* (another error for every row, as a weighing) or *shared* (the same error in all rows, as a density or
the calibration of a balance). `propagate` differentiates the formula along every source by complex step on
whole columns (JCGM 100:2008, 5.1 and 5.2, with the correlations between inputs that share a source);
`monte_carlo` draws from the same sources through the same formula (JCGM 101:2008); `average` is the mean of n
rows with what does not average out. `Scalars` carries a handful of numbers with the `uncertainties` library.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.formulas.statistics import students_t, welch_satterthwaite

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.units import Shape, Value

    Array = NDArray[np.float64]
    Formula = Callable[[Mapping[str, Any]], Mapping[str, Any]]

STEP = 1e-25
BLOCK = 8192
SCATTER = "scatter between coupons"


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One cause of error.

    name: in words, and its identity; moves: input name -> signed change of that input for one standard
    uncertainty of this source [unit of the input; scalar or a column]; shared: the same error in every row;
    dof: degrees of freedom of the standard uncertainty; shape: distribution for Monte Carlo.
    """

    name: str
    moves: Mapping[str, Any]
    shared: bool = True
    dof: float = math.inf
    shape: Shape = "normal"


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
        if all(math.isinf(source.dof) for source in self.sources):
            return np.full(self.value.shape, math.inf)
        dofs = [source.dof for source in self.sources]
        return np.array([welch_satterthwaite(contributions=row, dofs=dofs) for row in self.contributions.T])

    def covariance(self, other: Result) -> Array:
        """Covariance of two attributes of the same rows (n,): they share sources by name."""
        index = {source.name: i for i, source in enumerate(other.sources)}
        total = np.zeros(self.value.shape)
        for i, source in enumerate(self.sources):
            if (j := index.get(source.name)) is not None:
                total += self.contributions[i] * other.contributions[j]
        return total

    def rows(self, chosen: Any) -> Result:
        """The result of the chosen rows."""
        return Result(self.value[chosen], self.contributions[:, chosen], self.sources)

    def budget(self) -> dict[str, float]:
        """Mean share of every source in the variance, largest first; sums to 1 where there is any."""
        squares = np.square(self.contributions).sum(axis=1)
        return _shares({source.name: float(square) for source, square in zip(self.sources, squares, strict=True)})


def _shares(squares: Mapping[str, float]) -> dict[str, float]:
    total = sum(squares.values())
    ordered = sorted(squares.items(), key=lambda item: -item[1])
    return {name: square / total for name, square in ordered if square > 0.0}


def _rows(inputs: Mapping[str, Any]) -> int:
    lengths = {np.shape(value)[0] for value in inputs.values() if np.ndim(value)}
    if len(lengths) > 1:
        raise ValueError(f"columns of different lengths: {sorted(lengths)}")
    return lengths.pop() if lengths else 1


def _blocks(rows: int) -> Iterator[slice]:
    for start in range(0, rows, BLOCK):
        yield slice(start, min(start + BLOCK, rows))


def _cut(value: Any, block: slice) -> Any:
    return value[block] if np.ndim(value) else value


def propagate(formula: Formula, inputs: Mapping[str, Any], sources: Sequence[Source]) -> dict[str, Result]:
    """First-order uncertainty of every attribute that `formula` returns, on whole columns.

    formula: maps inputs (scalars or columns (n,), real or complex) to attributes; inputs: coherent units;
    sources: causes of error. Derivatives are exact (complex step): one evaluation a source, in blocks of rows.
    Source: JCGM 100:2008, equations 10 and 13. Raises ValueError for columns of different lengths.
    """
    rows = _rows(inputs)
    values: dict[str, Array] = {}
    contributions: dict[str, Array] = {}
    for block in _blocks(rows):
        here = {name: _cut(value, block) for name, value in inputs.items()}
        size = block.stop - block.start
        for name, value in formula(here).items():
            values.setdefault(name, np.empty(rows))[block] = value
        for i, source in enumerate(sources):
            moved = dict(here)
            for name, move in source.moves.items():
                moved[name] = here[name] + (STEP * 1j) * _cut(move, block)
            for name, value in formula(moved).items():
                if name not in contributions:
                    contributions[name] = np.zeros((len(sources), rows))
                contributions[name][i, block] = np.imag(value) / STEP if np.iscomplexobj(value) else np.zeros(size)
    kept = tuple(sources)
    none = np.zeros((0, rows))
    return {name: Result(value, contributions.get(name, none), kept) for name, value in values.items()}


def _draw(source: Source, size: tuple[int, int], generator: np.random.Generator) -> Array:
    """Draws of one source in standard uncertainties (JCGM 101:2008, 6.4)."""
    if source.shape == "rectangular":
        return generator.uniform(-math.sqrt(3.0), math.sqrt(3.0), size)
    if math.isfinite(source.dof):
        return generator.standard_t(source.dof, size)
    return generator.standard_normal(size)


def monte_carlo(
    formula: Formula, inputs: Mapping[str, Any], sources: Sequence[Source], *, draws: int, seed: int
) -> dict[str, Array]:
    """Draws (draws, n) of every attribute, from the same sources through the same formula.

    Own sources are drawn anew in every row, shared ones once a draw. Source: JCGM 101:2008, clause 7.
    """
    rows = _rows(inputs)
    generator = np.random.default_rng(seed)
    moved: dict[str, Any] = dict(inputs)
    for source in sources:
        z = _draw(source, (draws, 1 if source.shared else rows), generator)
        for name, move in source.moves.items():
            moved[name] = moved[name] + z * move
    return {name: np.broadcast_to(value, (draws, rows)) for name, value in formula(moved).items()}


@dataclass(frozen=True, slots=True)
class Average:
    """The mean of n rows as the true mean of the sampled part or batch, SI units.

    contributions: name -> signed contribution to the mean, the scatter of the rows among them under `SCATTER`.
    standard_uncertainty is None where one row shows no scatter.
    """

    value: float
    n: int
    standard_deviation: float | None
    contributions: dict[str, float] = field(default_factory=dict)
    dofs: dict[str, float] = field(default_factory=dict)

    @property
    def standard_uncertainty(self) -> float | None:
        """u with u^2 = s^2/n + sum over shared sources of (mean contribution)^2; None for one row."""
        return math.hypot(*self.contributions.values()) if SCATTER in self.contributions else None

    @property
    def degrees_of_freedom(self) -> float:
        """Effective degrees of freedom, Welch-Satterthwaite over independent groups (JCGM 100, G.4.1)."""
        names = list(self.contributions)
        return float(
            welch_satterthwaite(
                contributions=[self.contributions[name] for name in names], dofs=[self.dofs[name] for name in names]
            )
        )

    def coverage_factor(self, confidence: float | None, fixed: float | None = None) -> float:
        """Student's factor at the effective degrees of freedom for `confidence`, or the fixed one."""
        return fixed if fixed is not None else float(students_t(confidence=confidence, dof=self.degrees_of_freedom))

    def budget(self) -> dict[str, float]:
        """Share of every source in the variance of the mean, largest first."""
        return _shares({name: value**2 for name, value in self.contributions.items()})


def average(parts: Iterable[Result], *, pooled_deviation: tuple[float, float] | None = None) -> Average:
    """Mean of all rows of the parts; shared sources are gathered by name and do not average out.

    parts: results of one attribute [SI], each of (n_i,) rows; pooled_deviation: standard deviation [SI] and its
    degrees of freedom, used in place of the scatter of these rows where stated.
    Source: formula u^2 = s^2/n + sum (mean dy/dx)^2 u^2; JCGM 100:2008, 4.2.3 and F.1.1.
    """
    results = list(parts)
    values = np.concatenate([result.value for result in results])
    n = len(values)
    contributions: dict[str, float] = {}
    dofs: dict[str, float] = {}
    for result in results:
        for source, row in zip(result.sources, result.contributions, strict=True):
            if source.shared:
                contributions[source.name] = contributions.get(source.name, 0.0) + float(row.sum()) / n
                dofs[source.name] = source.dof
    deviation = float(values.std(ddof=1)) if n > 1 else None
    scatter, dof = pooled_deviation if pooled_deviation is not None else (deviation, float(n - 1))
    if scatter is not None:
        contributions[SCATTER] = scatter / math.sqrt(n)
        dofs[SCATTER] = dof
    return Average(float(values.mean()), n, deviation, contributions, dofs)


class Scalars:
    """A handful of numbers with uncertainty: variables of the `uncertainties` library, one object a cause.

    Exact inputs stay floats. Correlation is by identity: the same name gives the same object.
    """

    def __init__(self) -> None:
        self.variables: dict[str, Any] = {}
        self.values: dict[str, Value] = {}
        self._names: dict[Any, str] = {}

    def take(self, name: str, value: Value) -> Any:
        """The number to compute with, for the input `name` [SI]."""
        if name not in self.variables:
            self.values[name] = value
            if value.spread > 0.0:
                from uncertainties import ufloat

                variable = ufloat(value.value, value.spread, tag=name)
                self._names[variable] = name
                self.variables[name] = variable
            else:
                self.variables[name] = value.value
        return self.variables[name]

    def contributions(self, number: Any) -> dict[str, float]:
        """Signed contribution of every input to a computed number [SI]."""
        if not hasattr(number, "derivatives"):
            return {}
        return {self._names[v]: d * v.std_dev for v, d in number.derivatives.items()}

    def budget(self, number: Any) -> dict[str, float]:
        """Share of every input in the variance of a computed number, largest first."""
        return _shares({name: value**2 for name, value in self.contributions(number).items()})


def nominal(number: Any) -> float:
    """The value of a float or of a number with uncertainty."""
    return float(getattr(number, "nominal_value", number))


def deviation(number: Any) -> float | None:
    """The standard uncertainty of a computed number, None for an exact one."""
    return float(number.std_dev) if hasattr(number, "std_dev") else None
