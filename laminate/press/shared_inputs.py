"""Named inputs of a computation: their values, what moves them, and which of them nobody has measured."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from laminate.values.input_key import Name
from laminate.values.said import NoSpread, Said
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.reference_tables import Material
    from laminate.press.names import Numbers
    from laminate.values.uncertainty import Result, Source

DRAWS = 100_000
FEW_DRAWS = 2000
"""Draws for a count of many, or beside the one that is asked about."""
SEED = 1
ROUNDING = 1e-12
CONFIDENCE = 0.95
NORMAL = 1.959963984540054  # coverage factor of a normal distribution at 95 %
NO_TOLERANCE = "no tolerance was stated, so the chances only say inside or outside"


class Estimate(NamedTuple):
    """A computed number and its standard uncertainty [SI], None where no input of it carries a ±.

    k: coverage factor at 95 %, Student's for the degrees of freedom of its inputs.
    """

    value: float
    u: float | None = None
    k: float = NORMAL

    @property
    def expanded(self) -> float | None:
        """Its expanded uncertainty at 95 % [SI]."""
        return None if self.u is None else self.k * self.u

    def times(self, factor: float) -> Estimate:
        """So many of it, all alike."""
        return self._replace(value=factor * self.value, u=None if self.u is None else factor * self.u)


@dataclass(slots=True)
class SharedInputs:
    """Inputs by their key, or in words.

    values: what is computed with [SI]; notes: name -> the sentence that says where a value that nobody
    measured comes from, or what stands in for one that is not given; exact: names that are settings, not
    measurements; steady: sentences about temperatures that are told by a cycle, where there is one; supposed:
    what the part file leaves open and is supposed, in sentences; draws, seed: of the chances.
    """

    values: dict[Name, SIValue] = field(default_factory=dict)
    notes: dict[Name, str] = field(default_factory=dict)
    exact: set[Name] = field(default_factory=set)
    steady: dict[Name, str] = field(default_factory=dict)
    supposed: list[str] = field(default_factory=list)
    draws: int = DRAWS
    seed: int = SEED

    def take(self, given: Mapping[Name, SIValue | None]) -> None:
        """Take the values that are given."""
        self.values |= {name: value for name, value in given.items() if value is not None}

    def of_draws(self, draws: int, seed: int | None = None) -> SharedInputs:
        """The same with so many draws; seed: as it is where None."""
        return replace(self, draws=draws, seed=self.seed if seed is None else seed)

    def numbers(self) -> dict[Name, float]:
        """The plain number of every input [SI]."""
        return {name: value.value for name, value in self.values.items()}

    def sources(self) -> list[Source]:
        """One cause of error an input that carries a ±."""
        from laminate.values.uncertainty import sources_of

        return sources_of(self.values)

    def expansion(self, name: Name, material: str | None, given: SIValue | None, place: str) -> None:
        """Take a linear expansion: the one given, or that of the tables with its note.

        place: where the material is named; raises `Refused` where the tables cannot say.
        """
        if given is not None:
            self.values[name] = given
            return
        from laminate.files.reference_tables import find
        from laminate.values.problems import Problem, Refused

        try:
            row = find(str(material), "expansion")
        except LookupError as fault:
            near = getattr(fault, "near", ())
            hint = f"did you mean '{near[0]}'?" if near else "'laminate materials' lists them"
            raise Refused(Problem("unknown-material", "", place, str(fault), "", hint)) from None
        self.tabulated(name, row)

    def tabulated(self, name: Name, row: Material) -> None:
        """Take the value of a row of the tables, with its note."""
        half = row.tolerance
        self.values[name] = SIValue(
            row.value, half / 3**0.5 if half else None, shape="rectangular" if half else "exact"
        )
        self.notes[name] = Said(f"{name}: ", row.note())

    def not_measured(self, *, cycle: bool = False) -> list[str]:
        """A sentence for each input without ±, tabulated, or in place of one not given; cycle: along one."""
        sentences = [note for name, note in self.notes.items() if name not in self.values]
        sentences += [] if cycle else self.steady.values()
        for name, value in self.values.items():
            if name in self.notes:
                sentences.append(self.notes[name])
            elif value.u is None and name not in self.exact:
                taken = f"{name}: not given, taken as {value.value:g}"
                sentences.append(NoSpread(name, value.value, value.text) if value.text else taken)
        return sentences

    def simulate(
        self,
        formula: Callable[[dict[Name, Any]], Mapping[str, Any]],
        scaled: Mapping[Any, float] | None = None,
        *,
        block: int,
    ) -> dict[str, Any]:
        """Draws (draws,) of whatever a formula makes of the inputs, over all tolerances (JCGM 101:2008).

        formula: from the inputs of a block of draws to numbers by name; scaled: name of an input -> factor on
        its standard uncertainty, to ask what another tolerance would do; block: draws in one piece.
        """
        from laminate.values.uncertainty import monte_carlo

        factors, draws = scaled or {}, self.draws
        sources = [
            replace(s, moves={name: move * factors.get(s.name, 1.0) for name, move in s.moves.items()})
            for s in self.sources()
        ]

        def blocks(x: Numbers) -> dict[str, Any]:
            columns: dict[str, list[Any]] = {}
            for start in range(0, draws, block):
                rows = slice(start, min(start + block, draws))
                numbers = {name: value[rows, 0] if np.ndim(value) else value for name, value in x.items()}
                for name, value in formula(numbers).items():
                    columns.setdefault(name, []).append(np.broadcast_to(value, rows.stop - rows.start))
            return {name: np.concatenate(parts)[:, None] for name, parts in columns.items()}

        drawn = monte_carlo(blocks, self.numbers(), sources, draws=draws, seed=self.seed)
        return {name: value[:, 0] for name, value in drawn.items()}


def estimate(result: Result) -> Estimate:
    """The one row of a first-order result; a u that is rounding alone is none."""
    u = float(result.standard_uncertainty[0])
    value = float(result.value[0])
    if u <= ROUNDING * abs(value):
        return Estimate(value)
    return Estimate(value, u, float(result.coverage_factor(CONFIDENCE)[0]))


def estimates(formula: Any, inputs: SharedInputs) -> dict[str, Estimate]:
    """Every number that a formula makes of the inputs, with its first-order standard uncertainty."""
    from laminate.values.uncertainty import propagate

    return {k: estimate(r) for k, r in propagate(formula, inputs.numbers(), inputs.sources()).items()}


def plain(number: Any) -> float | None:
    """A plain number, None where it is not known."""
    return None if number is None else float(number)


def sampling_error(chance: float, draws: int) -> float:
    """Standard error of a chance counted in draws, with one draw each way so that it is never 0.

    Agresti and Coull's adjusted proportion (Am. Stat. 52 (1998) 119; second-hand).

    >>> round(sampling_error(0.5, 10_000), 4)
    0.005
    """
    share = (chance * draws + 1.0) / (draws + 2.0)
    return float((share * (1.0 - share) / draws) ** 0.5)
