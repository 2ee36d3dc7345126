"""Readings that two specimens have exchanged: each alone is plausible, together they make a zone scatter.

Where exchanging one kind of reading between two specimens makes what follows from it scatter many times less
over the zone, both are doubted. Nothing is changed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.comparisons import Key, compared_of, numbers
from laminate.coupons.copied import Finding
from laminate.coupons.recipes import Inputs
from laminate.values.problems import Problem
from laminate.values.said import Figure, Said

if TYPE_CHECKING:
    from laminate.coupons.beside import Peers
    from laminate.coupons.measured import Specimen

# what follows, and the readings that may be exchanged
EXCHANGED = {
    "fiber content": ("residue mass", "crucible with residue", "specimen mass", "crucible with specimen"),
    "density": ("mass in liquid", "mass in air"),
}
FEWEST, MOST = 3, 25
"""Specimens of a zone among which exchanged readings are looked for."""
TEMPERATURE = "liquid temperature"
LEAST = 0.5
"""Share of the plausible scatter of like specimens below which nothing needs an explanation."""


Swap = tuple[int, int, str, float, float]
"""Two rows and the column that they exchanged, with the scatter before and after [SI]."""


def gain_needed(count: int) -> float:
    """How many times less so many specimens must scatter (common practice, no source).

    The fewer they are, the likelier a chance exchange makes them alike.

    >>> gain_needed(3), gain_needed(10)
    (8.0, 3.5)
    """
    return 8.0 if count == FEWEST else 5.0 if count < 6 else 3.5


def find_swaps(peers: Peers, warned: Mapping[int, Sequence[Problem]]) -> Iterator[Finding]:
    """Row and warning of each of two that seem to have exchanged a reading.

    warned: rows with other warnings, which are left out; one about the temperature of the liquid alone is
    taken at that of the others, so that it hides nothing.
    """
    fits = np.ones(len(peers.specimens), bool)
    fits[list(warned)] = False
    warm = [row for row, problems in warned.items() if _of_temperature(peers.specimens[row], problems)]
    fits[warm] = True
    swaps: set[int] = set()
    for zone in peers.zones:
        for key in (key for key in peers.values if key[0] in EXCHANGED):
            column = peers.values[key]
            rows = zone[fits[zone] & ~np.isnan(column[zone])]
            if not FEWEST <= len(rows) <= MOST:
                continue
            inputs = _at_one_temperature({i: peers.readings(i) for i in rows.tolist()}, warm)
            values = {
                i: float(numbers(x, peers.specimens[i])[key]) if i in warm else float(column[i])
                for i, x in inputs.items()
            }
            best = _best(peers, inputs, values, key)
            if best is not None and not swaps & {*best[:2]}:
                swaps |= {*best[:2]}
                yield from _problems(peers.specimens, best, key)


def _of_temperature(specimen: Specimen, problems: Sequence[Problem]) -> bool:
    """Whether all that is said of a specimen is about the temperature of its liquid."""
    place = specimen.coupon.places.get(TEMPERATURE)
    return all(problem.place == place for problem in problems)


def _at_one_temperature(inputs: Mapping[int, Inputs], warm: Collection[int]) -> dict[int, Inputs]:
    """The readings of rows, those in `warm` at the median temperature of the others [K]."""
    sure = [x[TEMPERATURE] for i, x in inputs.items() if i not in warm and TEMPERATURE in x]
    if not sure:
        return dict(inputs)
    at = {TEMPERATURE: float(np.median(sure))}
    return {i: {**x, **at} if i in warm else x for i, x in inputs.items()}


def _best(peers: Peers, inputs: Mapping[int, Inputs], values: Mapping[int, float], key: Key) -> Swap | None:
    """The exchange that makes most alike; None that the other readings of one of the rows speak against."""
    specimens, known = peers.specimens, compared_of(key)
    before = float(np.std(list(values.values()), ddof=1))
    plausible = known.scatter * (abs(float(np.median(list(values.values())))) if known.relative else 1.0)
    if before < LEAST * plausible:
        return None
    best: Swap | None = None
    for column in EXCHANGED[key[0]]:
        once = [row for row in values if len(specimens[row].coupon.readings(column)) == 1]
        readings = np.array([inputs[row][column] for row in once])
        # row i with the reading of row j
        would = {i: _with(specimens[i], inputs[i], column, readings, key) for i in once}
        for (a, i), (b, j) in combinations(enumerate(once), 2):
            mine, theirs = float(would[i][b]), float(would[j][a])
            if readings[a] == readings[b] or not np.isfinite(mine + theirs):  # nothing, or no coupon at all
                continue
            after = float(np.std(list({**values, i: mine, j: theirs}.values()), ddof=1))
            if best is not None and after >= best[4]:
                continue
            theirs_here, mine_there = {**inputs[i], column: readings[b]}, {**inputs[j], column: readings[a]}
            if not (_refuted(peers, i, theirs_here) or _refuted(peers, j, mine_there)):
                best = (i, j, column, before, after)
    return best if best and best[4] * gain_needed(len(values)) < before else None


def _refuted(peers: Peers, row: int, x: Inputs) -> bool:
    """Whether readings of a row no longer agree with each other; x: its inputs with an exchanged one [SI]."""
    there = numbers(x, peers.specimens[row])
    return any(
        not interval.holds(there[key])
        for key, known in peers.intervals(row).items()
        for source, interval in known
        if source == "itself" and interval.holds(peers.values[key][row])
    )


def _with(specimen: Specimen, x: Inputs, column: str, readings: Any, key: Key) -> Any:
    """A compared quantity of a specimen with each of the readings in a column [SI]."""
    with np.errstate(divide="ignore", invalid="ignore"):  # exchanged, a coupon may weigh nothing
        return np.broadcast_to(numbers({**x, column: readings}, specimen)[key], readings.shape)


def _problems(specimens: Sequence[Specimen], swap: Swap, key: Key) -> Iterator[Finding]:
    (i, j, column, before, after), known = swap, compared_of(key)
    now, then = (Figure(size, known.unit, 2, difference=True) for size in (before, after))
    hint = Said(
        f"exchanged, the {known.words} of the zone would scatter by ", then, " instead of ", now,
        " (standard deviation): look at the labels and weigh both again; or give the reason in 'accepted'",
    )  # fmt: skip
    for row, other in ((i, j), (j, i)):
        coupon, beside = specimens[row].coupon, specimens[other].coupon
        mine, theirs = (c.texts.get(column, "") for c in (coupon, beside))
        readings_text = f"{column} '{mine}', and '{theirs}' of coupon {beside.specimen}"
        expected = "readings that are not exchanged"
        yield row, coupon.problem("swapped-cells", column, readings_text, expected, hint)
