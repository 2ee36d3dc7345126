"""Coupons of a DataFrame as columns, row by row, for tables in partitions."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import islice
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np

from laminate.coupons.checks import impossible, suspects
from laminate.coupons.grouped import Alike
from laminate.coupons.instruments import GAUGES
from laminate.coupons.listed import alike_rows, readings_of_rows
from laminate.coupons.methods import DENSITY_COLUMNS, DIMENSIONS, attributes, preferred
from laminate.coupons.readings import PREPREG_COLUMNS, columns_of, constants_of, plan_of
from laminate.coupons.resolution import SUFFIX, step_of
from laminate.files.coupons import (
    COLUMNS,
    LOSS_METHODS,
    NO_LOSS,
    NUMBERS,
    POINTS,
    Coupon,
    coupons_of,
    no_names,
    within,
)
from laminate.files.grid import Grid
from laminate.files.plain_table import Column, PlainTable, is_no_word
from laminate.files.table import number_in
from laminate.files.totals import total_word
from laminate.front.call import Call
from laminate.front.measuring import (
    TABLE,
    Setting,
    at_label,
    chooser_of,
    is_frame,
    row_of,
    setting_of,
    tables_of_frame,
    texts_of,
    wrong_types,
)
from laminate.front.options import ROWS, Framed
from laminate.values.input_key import NUMBER, Key, Name
from laminate.values.problems import Problem, Refused, given_twice, refuse_all
from laminate.values.quantities import ATTRIBUTES
from laminate.values.uncertainty import Result, propagate, sources_of
from laminate.values.units import Unreadable, column_unit

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from laminate.coupons.instruments import Bench
    from laminate.files.table import Heading

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]

MOST_TOLD = 20
OPTIONS = "options of measure_frame"
"""What the frame keeps in `attrs`: the options as they were given, by name."""
OF_ROWS = ("kind", "replaces", "field", "balance", "liquid balance")
"""Columns that take a whole table, or a batch file, to understand."""
Parts = Mapping[str, int]
"""What headings say behind an attribute, and the power of its unit."""


@ROWS.takes
def measure_frame(frame: pd.DataFrame, **options: Unpack[Framed]) -> pd.DataFrame:
    """Attributes of coupons with their uncertainty, each row by itself: any split gives the same rows.

    Parameters
    ----------
    frame : DataFrame with the columns of a coupon table (units in the headings: "mass in air [g]"), one row a
        specimen; blanks, `replaces`, numbered repeats, point counts and prepreg tests are for `measure`. The
        last decimal of text is not read: without `micrometer_resolution` and its like no ± holds rounding.
        Its headings tell which densities are needed

    Returns
    -------
    DataFrame : index as given, without rows of empty cells; `specimen`, `zone`, `counts` (whether not
        excluded), and for each attribute, by the best method of the row, "void_content [%]", "void_content u
        [%]", "void_content method", "void_content own variance [(%)^2]" and a signed column for each shared
        cause, "void_content from fiber density [%]", quoted where it is the tag of a shared number; degrees
        of freedom, where finite, stand in the heading.
        NaN where a row does not give an attribute, or nothing has a ±. Headings and arguments alone decide
        the columns, so `measure_frame(df.head(0), ...)` is what dask calls `meta`. Its `attrs` keep the
        options. Left out, and for `measure`, are outliers, suspects and Monte Carlo

    Raises
    ------
    TypeError : for an option that does not exist; the confidence is given to `combine`
    Refused : with the first 20 rows that cannot be, at row label and column, or with the parameter; so is a
        row named as averages, sums or signatures are, unless its `kind` is 'specimen'

    Notes
    -----
    The formulas of `measure`, row by row (ASTM D792, D3171, D2734; JCGM 100:2008). The ± is that of `measure`
    where the resolutions are given to both; else `measure` also counts the last decimal of text.

    Examples
    --------
    >>> import laminate as lam
    >>> import pandas as pd
    >>> df = pd.DataFrame({"specimen": ["A"], "mass in air [g]": [3.697], "mass in liquid [g]": [1.636],
    ...     "liquid density [g/cm^3]": [1.0], "method": ["ignition"], "residue mass [g]": [2.595]})
    >>> m = lam.measure_frame(df, fiber_density="2.5 g/cm^3", resin_density="1.2 g/cm^3", air_density=0)
    >>> round(float(m["void_content [%]"][0]), 2)  # Kaw, Mechanics of Composite Materials, ch. 3
    5.08
    """
    import pandas as pd

    if not is_frame(frame):
        raise TypeError(f"a DataFrame is measured, not {type(frame).__name__}")
    if "confidence" in options:
        raise TypeError("no parameter 'confidence': rows are not expanded, 'combine' takes it")
    call = Call(ROWS, None, options)
    headings = _headings(frame)
    setting = setting_of(call, [frozenset(heading.name for heading in headings).__contains__])
    table, bench, made_of = _read(frame, headings), setting.bench, chooser_of(setting)
    alike = [Alike.of(rows, first, made_of(first), bench) for rows, first in alike_rows(table)]
    _refuse(frame, table, table.bad | _other_rows(table) | suspects(table, alike, bench), setting)
    out: dict[str, Any] = {name: np.array(table.word(name), object) for name in ("specimen", "zone")}
    out["counts"] = table.counted()
    computed, parts = _layout(table, setting)
    for attribute in computed:
        names = [column_name(attribute, what, power) for what, power in parts.items()]
        out |= {name: np.full(len(table), math.nan) for name in names}
        out[f"{attribute} method"] = np.full(len(table), "", object)
    for part in alike:
        _fill(out, parts, part, table, bench)
    columns = {name: pd.Series(column, frame.index, column.dtype) for name, column in out.items()}
    measured = pd.DataFrame(columns, index=frame.index)[~table.empty]
    measured.attrs[OPTIONS] = {n: str(v) for n, v in sorted(call.given.items())}
    return measured


@dataclass
class _Table(PlainTable):
    """A frame as a plain table; bad, empty: rows with a wrong cell, and those of empty cells alone (n,)."""

    bad: Mask = field(kw_only=True)
    empty: Mask = field(kw_only=True)

    def coupon(self, at: int) -> Coupon:
        """One row, of which no cell is read again as text."""
        numbers = {label: float(column.number[at]) for label, column in self.columns.items()}
        numbers = {label: number for label, number in numbers.items() if not math.isnan(number)}
        words = {name: column[at] for name, column in self.words.items()}
        return Coupon(words["specimen"], TABLE, numbers, texts=dict.fromkeys(numbers, "1.0000"), words=words)


def _headings(frame: pd.DataFrame) -> tuple[Heading, ...]:
    """The headings, each checked as those of a coupon table."""
    problems: list[Problem] = []
    names = [str(name) for name in frame.columns]
    table = Grid(TABLE, "", [(1, names), (2, ["x"] * len(names))], COLUMNS, problems).table()
    if table is None:
        raise Refused(at_label(problem, frame) for problem in problems)
    problems = [at_label(problem, frame) for problem in problems]
    for heading in table.headings:
        place = f"column '{heading.text}'"
        if heading.number is not None or heading.name in (*POINTS, *PREPREG_COLUMNS):
            expected = "one reading per coupon of a laminate, as columns"
            problems.append(Problem("numbered-column", TABLE, place, f"'{heading.text}'", expected,
                                    "'measure' takes repeats, point counts and prepreg tests"))  # fmt: skip
    problems += wrong_types(frame)
    if "specimen" not in [heading.name for heading in table.headings]:
        problems.append(at_label(no_names(TABLE), frame))
    refuse_all(problems)
    return table.headings


def _read(frame: pd.DataFrame, headings: tuple[Heading, ...]) -> _Table:
    bad, empty = np.zeros(len(frame), bool), np.ones(len(frame), bool)
    words: dict[str, list[str]] = {}
    columns: dict[str, Column] = {}
    problems: list[Problem] = []
    for heading in headings:
        cells = frame.iloc[:, heading.index]
        if heading.name not in NUMBERS:
            words[heading.name] = texts_of(cells)
            empty &= np.array([not word for word in words[heading.name]], bool)
            continue
        try:
            factor, offset = column_unit(heading.unit, NUMBERS[heading.name])
        except Unreadable as fault:
            code = "wrong-unit" if heading.unit else "missing-unit"
            place = f"column '{heading.text}'"
            problems.append(Problem(code, TABLE, place, fault.found, fault.expected, fault.hint))
            continue
        value, wrong = _numbers(cells)
        number = value * factor + offset
        empty &= np.isnan(value) & ~wrong
        wrong = wrong | (np.isfinite(value) & ~within(heading.name, number, value))
        bad |= wrong
        columns[heading.name] = Column(
            heading, np.where(wrong, math.nan, number), b"", -1, factor, value, typed=False
        )
    for name, unsaid in (("method", NO_LOSS), ("kind", ("specimen",))):
        plain = {word: " ".join(word.casefold().split()) for word in {*words.get(name, ())}}
        plain |= {word: "" for word in plain if plain[word] in unsaid}
        words |= {name: [plain[word] for word in words[name]]} if plain else {}
    refuse_all([*problems, *_not_of_rows(frame, words)])
    if "method" in words:
        bad |= np.array([word not in ("", *LOSS_METHODS) for word in words["method"]], bool)
    bad |= np.array([not name for name in words["specimen"]], bool) & ~empty
    lines = np.arange(2, len(frame) + 2)
    return _Table(words, columns, frozenset(), TABLE, ".", headings, lines, bad=bad, empty=empty)


def _numbers(cells: pd.Series[Any]) -> tuple[Array, Mask]:
    """Numbers of a column (n,), NaN where it is empty, and the cells that are none."""
    from pandas.api.types import is_float_dtype, is_integer_dtype

    if is_float_dtype(cells.dtype) or is_integer_dtype(cells.dtype):
        value = cells.to_numpy(float, na_value=math.nan)
        return value, np.isinf(value)
    texts = texts_of(cells)
    value = np.array([number_in(text, ".") for text in texts], float)
    return value, np.isnan(value) & np.array([*map(bool, texts)], bool)


def _not_of_rows(frame: pd.DataFrame, words: Mapping[str, list[str]]) -> Iterator[Problem]:
    """What is no function of one row: blanks, retests, several rows of a specimen."""
    for column in OF_ROWS:
        filled = ((at, word) for at, word in enumerate(words.get(column, ())) if word)
        for at, word in islice(filled, MOST_TOLD):
            place = f"{row_of(frame, at)}, column '{column}'"
            hint = "blanks come as residue_share and fiber_loss; 'measure' takes the rest"
            yield Problem("not-of-one-row", TABLE, place, f"'{word}'", "an empty cell", hint)
    first: dict[str, int] = {}
    named = ((at, name) for at, name in enumerate(words["specimen"]) if name)
    again = ((at, name) for at, name in named if first.setdefault(name, at) != at)
    for at, name in islice(again, MOST_TOLD):
        place, expected = (
            f"{row_of(frame, at)}, column 'specimen'",
            "one row per coupon; 'measure' merges several",
        )
        yield given_twice(TABLE, place, f"'{name}'", f"in {row_of(frame, first[name])}", expected)


def _layout(table: _Table, setting: Setting) -> tuple[list[str], dict[str, int]]:
    """Attributes that headings and arguments allow, whatever the rows hold, and the parts of each.

    Parts: what headings say behind it, its shared causes too, and the power of its unit.
    """
    bench, coupon = setting.bench, Coupon("", TABLE, dict.fromkeys(table.columns, 1.0))
    plan = plan_of(coupon, bench)
    recipe = setting.recipe(1 if coupon.has("plies") or setting.plies else None)
    ways = [way for way, names in DENSITY_COLUMNS.items() if coupon.has(*names)]
    computed: set[str] = set()
    for way in (*(way for way in ways if way != DIMENSIONS or plan.area), ""):
        for loss in (plan.loss, ""):
            tried = replace(plan, density=way, loss=loss)
            names = [*table.columns, *constants_of(tried, recipe, bench, [coupon]), "liquid density",
                     "liquid temperature", "specimen mass", "mass in air"]  # fmt: skip
            x: dict[Any, Any] = {name: np.full(1, 300.0) for name in names}
            with np.errstate(all="ignore"):
                computed |= {attribute for attribute, _ in attributes(x, tried, recipe)}
    constants = {**recipe.values, "air density": bench.air_density, "residue share": bench.residue_share,
                 "fiber loss": bench.fiber_loss}  # fmt: skip
    if bench.liquid_density is not None:
        constants["liquid density"] = bench.liquid_density
    causes: dict[Name, float] = {source.name: source.dof for source in sources_of(constants)}
    gauges = [bench.gauges[name] for name in GAUGES if name in bench.gauges]
    causes |= {Key("instrument", g.name, "calibration"): g.calibration.dof for g in gauges if g.calibration}
    causes |= {name + SUFFIX: math.inf for name in table.columns if step_of(coupon, name, bench)}
    own_dofs = sorted({g.repeatability.dof for g in gauges if g.repeatability} - {math.inf})
    variances = [f" own variance{_of_dof(dof)}" for dof in (math.inf, *own_dofs)]
    shared = [_cause(name, dof) for name, dof in causes.items()]
    return sorted(computed), {"": 1, " u": 1} | dict.fromkeys(variances, 2) | dict.fromkeys(shared, 1)


def column_name(attribute: str, what: str, power: int) -> str:
    """The heading of a column of an attribute; what: as of `_layout`, with the power of its unit."""
    unit = ATTRIBUTES[attribute].unit.text
    return f"{attribute}{what} [{unit if power == 1 else f'({unit})^{power}'}]"


def _cause(name: Name, dof: float) -> str:
    if isinstance(name, Key) and name.table == NUMBER:  # a tag may hold anything, and read like another cause
        return f" from '{name.quantity}'{name.name and f' #{name.name}'}"
    return f" from {name}{_of_dof(dof)}"


def _of_dof(dof: float) -> str:
    return f", dof {dof!r}" if math.isfinite(dof) else ""


def _fill(out: dict[str, Any], parts: Parts, part: Alike, table: _Table, bench: Bench) -> None:
    """Write the attributes of like rows into the columns of the answer."""
    plan, recipe, readings = part.plan, part.made.recipe, readings_of_rows(table, part.first, part.rows)
    x, sources, _ = columns_of([part.first], plan, recipe, bench, readings)
    formula: Any = partial(attributes, plan=plan, recipe=recipe)
    with np.errstate(all="ignore"):
        results: dict[Any, Result] = propagate(formula, x, sources)
    for attribute, key in preferred(results).items():
        unit = ATTRIBUTES[attribute].unit
        for what, column in _shown(results[key], parts).items():
            name = column_name(attribute, what, parts[what])
            out[name][part.rows] = column * unit.per_si ** parts[what]
        out[f"{attribute} method"][part.rows] = key[1]


def _shown(result: Result, parts: Parts) -> dict[str, Array]:
    """Value, u, own variance, and a signed column for each shared cause [SI], by part of the heading."""
    none, u = np.zeros(len(result.value)), np.sqrt(np.square(result.contributions).sum(axis=0))
    columns = dict.fromkeys(parts, none) | {"": result.value, " u": np.where(u > 0.0, u, math.nan)}
    for column, source in zip(result.contributions, result.sources, strict=True):
        if source.shared:
            columns[_cause(source.name, source.dof)] = column
            continue
        for what in {" own variance", " own variance" + _of_dof(source.dof)}:
            columns[what] = columns[what] + column**2
    return columns


def _other_rows(table: _Table) -> Mask:
    """Rows of which `measure` may refuse a word, or whose name may be that of a mean or a signature."""
    names = table.words["specimen"]
    totals = [*map(total_word, names)]
    like = {len(name) for name, total in zip(names, totals, strict=True) if name.isalpha() and not total}
    odd = np.array(
        [
            total and not (total == "short" and name.isalpha() and len(name) in like)
            for name, total in zip(names, totals, strict=True)
        ],
        bool,
    )
    for column, cells in table.words.items():
        if is_no_word(column, {*cells}):
            odd |= np.array([is_no_word(column, [cell]) for cell in cells], bool)
    return odd


def _refuse(frame: pd.DataFrame, table: _Table, suspect: Mask, setting: Setting) -> None:
    """Look at the suspect rows as `measure` does. Raises `Refused` where one of them cannot be."""
    problems: list[Problem] = []
    for at in np.flatnonzero(suspect & ~table.empty).tolist():
        try:
            coupons = coupons_of(tables_of_frame(frame.iloc[[at]]))
        except Refused as refusal:
            read = [*refusal.problems]
        else:
            read = [*coupons.problems]
            for coupon in coupons.coupons if not read else ():
                read += impossible(coupon, setting.bench, chooser_of(setting)(coupon).recipe)
        if any(problem.code == "no-rows" for problem in read):
            name, expected = f"'{table.words['specimen'][at]}'", "a coupon, not what 'measure' leaves out"
            hint = "take the row out; if it is a coupon, write 'specimen' in its column 'kind'"
            read = [Problem("not-of-one-row", TABLE, "row 2", name, expected, hint)]
        if not read and table.bad[at]:
            expected = "numbers with a decimal point, nothing else in their cells"
            read = [Problem("not-a-number", TABLE, "row 2", "a cell that is no number", expected)]
        problems += [at_label(problem, frame, at) for problem in read]
        if len(problems) >= MOST_TOLD:
            break
    refuse_all(problems)
