"""Averages by zone over the partitions of a table that `measure_frame` evaluated row by row."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.coupons.resolution import SUFFIX
from laminate.front.call import level_of
from laminate.front.frames import OPTIONS, column_name
from laminate.front.measuring import TABLE, is_frame, texts_of
from laminate.values.problems import Problem, Refused, given_twice, refuse_all
from laminate.values.quantities import ATTRIBUTES

if TYPE_CHECKING:
    import pandas as pd

    from laminate.values.averages import Average

_COLUMN = re.compile(
    r"(?P<attribute>[a-z_]+)(?P<what>| u| own variance| from '.*'(?: #\d+)?| from [^'].*?)"
    r"(?:, dof (?P<dof>[^ ]+))? \[(?P<unit>[^]]+)\]",
    re.DOTALL,
)


NEEDED = ("", " u", " own variance")
SAME = "results of measure_frame, of the same headings and options"
ROUNDED = 1e-3
"""Of the variance, what rounding in a file may take from it."""
COLUMNS = [
    "zone", "attribute", "method", "unit", "n", "left_out",
    "value", "standard_deviation", "u", "expanded", "coverage_factor",
]  # fmt: skip


@dataclass
class _Sums:
    """Rows summed: count, mean, squares about the mean, contributions of shared causes, own variances, and
    the squares of what the resolution of their readings contributes.

    columns: by what the heading says behind the attribute, and its degrees of freedom.
    """

    n: int
    mean: float
    squares: float
    columns: dict[tuple[str, float], float]
    rounding: float = 0.0


def _merged(parts: Sequence[_Sums]) -> _Sums:
    """All together. Source: Chan, Golub, LeVeque, Stanford STAN-CS-79-773 (1979), second-hand."""
    n = sum(part.n for part in parts)
    mean = math.fsum(part.n * part.mean for part in parts) / n
    return _Sums(
        n,
        mean,
        math.fsum(part.squares + part.n * (part.mean - mean) ** 2 for part in parts),
        {name: math.fsum(part.columns[name] for part in parts) for name in parts[0].columns},
        math.fsum(part.rounding for part in parts),
    )


def combine(frames: Iterable[pd.DataFrame], *, confidence: Any = 0.95) -> pd.DataFrame:
    """Averages by zone of what `measure_frame` gave for the partitions of a table, as of the whole table.

    Parameters
    ----------
    frames : results of `measure_frame` with the same headings and options; they may come one after another
    confidence : of the expanded uncertainty, a number from 0 to 1 or "95 %"

    Returns
    -------
    DataFrame : one row a zone and attribute: `method`, `unit`, `n`, `left_out` (rows that count but lack the
        method), `value`, `standard_deviation`, `u` and `expanded` (NaN for a single row), `coverage_factor`

    Raises
    ------
    Refused : where frames differ in their columns or in the options that they keep in `attrs`, lack a column
        that `measure_frame` made, or share a coupon
    TypeError : where there is no frame

    Notes
    -----
    What rows share does not average out: ``U^2 = max(t^2 (s^2 + q^2), sum (t_i own_i)^2)/n + sum (t_j
    u_j)^2``, q of the resolution of readings where one was given (JCGM 100:2008, 5.2; the terms of U by
    S. K. Banerjee, Sankhya 22 (1960) 357; cited from memory, the paper was not seen).

    Examples
    --------
    >>> import laminate as lam
    >>> import pandas as pd
    >>> df = pd.DataFrame({"specimen": ["A", "B"], "density [g/cm^3]": [1.55, 1.57]})
    >>> given = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.3 g/cm^3"}
    >>> halves = [lam.measure_frame(df.iloc[:1], **given), lam.measure_frame(df.iloc[1:], **given)]
    >>> round(float(lam.combine(halves)["value"][0]), 3)
    1.56
    """
    import pandas as pd

    from laminate.coupons.methods import preferred

    levels: dict[tuple[str, str, str], list[_Sums]] = {}
    counted: dict[str, int] = {}
    columns: list[str] | None = None
    options: dict[str, str] | None = None
    taken: set[object] = set()
    if hasattr(frames, "columns"):
        raise TypeError("several frames are wanted, as a list")
    level = level_of(confidence)
    for frame in frames:
        if not is_frame(frame):
            raise TypeError(f"frames are wanted, not {type(frame).__name__}")
        its = list(frame.columns)
        if columns is None:
            _refuse_missing(frame)
        elif columns != its:
            raise Refused(Problem("wrong-columns", TABLE, "frames", "frames of different columns", SAME))
        columns, options = its, _same_options(options, frame)
        names = {*texts_of(frame["specimen"])}
        if again := sorted(map(str, names & taken)):
            one_frame = "each row in one frame"
            raise Refused(given_twice(TABLE, "frames", f"coupon '{again[0]}'", "in another frame", one_frame))
        taken |= names
        counts = np.array([text == "True" for text in texts_of(frame["counts"])], bool)
        counting_rows = frame[counts].assign(zone=lambda rows: texts_of(rows["zone"]))
        _refuse_less(counting_rows)
        for zone, count in counting_rows["zone"].value_counts(sort=False).items():
            counted[str(zone)] = counted.get(str(zone), 0) + int(count)
        for group, sums in _summed(counting_rows):
            levels.setdefault(group, []).append(sums)
    if columns is None:
        raise TypeError("an average needs one frame or more")
    units = {attribute: of[""]["unit"] for attribute, of in _columns_of(columns).items()}
    rows = []
    for zone in counted:
        best = preferred([(a, method) for z, a, method in levels if z == zone])
        for attribute, (_, method) in best.items():
            mean = _average(_merged(levels[zone, attribute, method]))
            of = {"zone": zone, "attribute": attribute, "method": method, "unit": units[attribute]}
            rows.append({**of, "n": mean.n, "left_out": counted[zone] - mean.n, **_figures(mean, level)})
    return pd.DataFrame(rows, columns=COLUMNS)


def _columns_of(names: Iterable[str]) -> dict[str, dict[str, re.Match[str]]]:
    """The columns of each attribute, by what stands behind it in the heading with its degrees of freedom."""
    columns: dict[str, dict[str, re.Match[str]]] = {}
    for name in names:
        if (match := _COLUMN.fullmatch(name)) and match["attribute"] in ATTRIBUTES:
            what = name[match.end("attribute") : match.start("unit") - len(" [")]
            columns.setdefault(match["attribute"], {})[what] = match
    return columns


def _refuse_missing(frame: pd.DataFrame) -> None:
    """Raise `Refused` with each column that `measure_frame` makes beside those that are there."""
    columns = _columns_of(frame.columns)
    parts = dict.fromkeys([*NEEDED, *(what for of in columns.values() for what in of)])
    wanted = ["specimen", "zone", "counts", *(f"{attribute} method" for attribute in columns)]
    for attribute in columns:
        wanted += [column_name(attribute, part, 1 + part.startswith(NEEDED[-1])) for part in parts]
    problems = [
        Problem("wrong-columns", TABLE, f"column '{name}'", "a column that is missing", SAME)
        for name in wanted
        if name not in frame
    ]
    refuse_all(problems)


def _refuse_less(frame: pd.DataFrame) -> None:
    """Raise `Refused` where the causes of an attribute make less than its u: a column was taken out."""
    for attribute, columns in _columns_of(frame.columns).items():
        names = {what: match.string for what, match in columns.items()}
        causes = frame[[name for what, name in names.items() if what.startswith(" from ")]].to_numpy(float)
        whole = frame[names[" own variance"]].to_numpy(float) + np.square(causes).sum(axis=1)
        if np.any(frame[names[" u"]].to_numpy(float) ** 2 > (1.0 + ROUNDED) * whole):
            less = "a ± that is more than its columns make"
            hint = f"a column '{attribute} from ...' is missing"
            raise Refused(Problem("wrong-columns", TABLE, f"column '{names[' u']}'", less, SAME, hint))


def _same_options(options: dict[str, str] | None, frame: pd.DataFrame) -> dict[str, str] | None:
    """The options of the frames so far, those of one more where none keeps any. Raises `Refused`."""
    its = frame.attrs.get(OPTIONS)
    if options is None or its is None:
        return its if options is None else options
    other = [name for name in {**options, **its} if options.get(name) != its.get(name)]
    problems = []
    for name in other:
        first, second = (f"'{given[name]}'" if name in given else "none" for given in (options, its))
        what, hint = f"{name} {first} in one frame and {second} in another", "measure one of them again"
        problems.append(Problem("other-options", TABLE, "frames", what, "frames of the same options", hint))
    refuse_all(problems)
    return options


def _figures(mean: Average, confidence: float) -> dict[str, float]:
    """The figures of one average; NaN where one row tells no scatter."""
    known, s = mean.standard_uncertainty is not None, mean.standard_deviation
    return {
        "value": mean.value,
        "standard_deviation": math.nan if s is None else s,
        "u": mean.u if known else math.nan,
        "expanded": mean.expanded(confidence) if known else math.nan,
        "coverage_factor": mean.coverage_factor(confidence) if known else math.nan,
    }


def _summed(frame: pd.DataFrame) -> Iterable[tuple[tuple[str, str, str], _Sums]]:
    """The sums of one frame, by zone, attribute and method."""
    for attribute, columns in _columns_of(frame.columns).items():
        value = columns[""].string
        for (zone, method), rows in frame.groupby(["zone", f"{attribute} method"], sort=False, observed=True):
            if not method:
                continue
            values = rows[value].to_numpy(float)
            mean = float(values.mean())
            added = {
                (match["what"], float(match["dof"] or math.inf)): float(
                    rows[match.string].to_numpy(float).sum()
                )
                for match in columns.values()
                if match["what"] not in ("", " u")
            }
            squares = float(np.square(values - mean).sum())
            rounded = [match.string for match in columns.values() if match["what"].endswith(SUFFIX)]
            rounding = float(np.square(rows[rounded].to_numpy(float)).sum())
            yield (str(zone), attribute, str(method)), _Sums(len(values), mean, squares, added, rounding)


def _average(sums: _Sums) -> Average:
    from laminate.values.averages import Average, scattered

    means = {key: total / sums.n for key, total in sums.columns.items()}
    variances = {dof: means.pop((what, dof)) for what, dof in sums.columns if what == NEEDED[-1]}
    # the whole: what has degrees of its own stands beside it
    rest = variances[math.inf] - math.fsum(v for dof, v in variances.items() if math.isfinite(dof))
    variances[math.inf] = rest if rest > 1e-12 * variances[math.inf] else 0.0
    deviation = math.sqrt(sums.squares / (sums.n - 1)) if sums.n > 1 else None
    floor = tuple((v, dof) for dof, v in variances.items() if v > 0.0)
    shared: dict[Any, float] = {what: mean for (what, _), mean in means.items()}
    mean = Average(sums.mean, sums.n, deviation, shared, dict(means.keys()))
    return scattered(mean, floor, sums.rounding / sums.n)
