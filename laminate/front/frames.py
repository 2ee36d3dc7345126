"""Coupons of a DataFrame as columns, row by row, for tables in partitions."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np

from laminate.front.call import Call
from laminate.front.measuring import (
    TABLE,
    Setting,
    at_label,
    is_frame,
    row_of,
    setting_of,
    tables_of_frame,
    texts_of,
    wrong_types,
)
from laminate.front.options import ROWS, Framed
from laminate.values.input_key import NUMBER, Key
from laminate.values.problems import Problem, Refused, given_twice, refuse_all

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

    from laminate.coupons.methods import Plan
    from laminate.files.coupons import Coupon
    from laminate.files.table import Heading
    from laminate.values.input_key import Name
    from laminate.values.uncertainty import Source

    Array = NDArray[np.float64]
    Mask = NDArray[np.bool_]

MOST_TOLD = 20
OPTIONS = "options of measure_frame"
"""What the frame keeps in `attrs`: the options as they were given, by name."""
OF_ROWS = ("kind", "replaces", "field", "balance", "liquid balance")
"""Columns that take a whole table, or a batch file, to understand."""


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
    from laminate.coupons.checks import margin_of, maybe_disordered

    if not is_frame(frame):
        raise TypeError(f"a DataFrame is measured, not {type(frame).__name__}")
    if "confidence" in options:
        raise TypeError("no parameter 'confidence': rows are not expanded, 'combine' takes it")
    call = Call(ROWS, None, options)
    headings = _headings(frame)
    setting = setting_of(call, [frozenset(heading.name for heading in headings).__contains__])
    table = _read(frame, headings, setting)
    out: dict[str, Any] = {}  # the columns of the answer, filled with nothing
    for attribute in table.attributes:
        for what, power in _parts(table).items():
            out[column_name(attribute, what, power)] = np.full(table.rows, math.nan)
        out[f"{attribute} method"] = np.full(table.rows, "", object)
    margin = margin_of(table.setting.bench.gauges.get("thermometer"))
    disorder = maybe_disordered(table.numbers, table.rows, margin)
    _refuse(frame, table, table.bad | disorder | _maybe_refused(table))
    suspect = np.zeros(table.rows, bool)
    for rows, stand_in, plies in _patterns(table):
        suspect[rows] |= _evaluate(table, out, rows, stand_in, plies)
    _refuse(frame, table, suspect)
    measured = _as_frame(frame, table, out)[~table.empty]
    measured.attrs[OPTIONS] = {n: str(v) for n, v in sorted(call.given.items())}
    return measured


@dataclass
class _Table:
    """A frame as columns: numbers [SI] by column, NaN where empty; words by column; rows that are wrong, and
    those of empty cells alone.
    """

    setting: Setting
    rows: int
    numbers: dict[str, Array]
    words: dict[str, Any]
    bad: Mask
    empty: Mask
    attributes: list[str] = field(default_factory=list)
    causes: dict[Name, float] = field(default_factory=dict)
    own: list[float] = field(default_factory=list)


def _headings(frame: pd.DataFrame) -> tuple[Heading, ...]:
    """The headings, each checked as those of a coupon table."""

    from laminate.coupons.readings import PREPREG_COLUMNS
    from laminate.files.coupons import COLUMNS, POINTS, no_names
    from laminate.files.grid import Grid

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


def _read(frame: pd.DataFrame, headings: Sequence[Heading], setting: Setting) -> _Table:
    import pandas as pd

    from laminate.files.coupons import LOSS_METHODS, NO_LOSS, NUMBERS, within
    from laminate.values.units import Unreadable, column_unit

    table = _Table(setting, len(frame), {}, {}, np.zeros(len(frame), bool), np.ones(len(frame), bool))
    problems: list[Problem] = []
    for heading in headings:
        cells = frame.iloc[:, heading.index]
        if heading.name not in NUMBERS:
            table.words[heading.name] = words = pd.Series(texts_of(cells), frame.index, object)
            table.empty &= words.eq("").to_numpy()
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
        table.numbers[heading.name] = number
        table.empty &= np.isnan(value) & ~wrong
        table.bad |= wrong | (np.isfinite(value) & ~within(heading.name, number, value))
    for column, unsaid in (("method", NO_LOSS), ("kind", ["specimen"])):
        if column in table.words:
            plain = table.words[column].str.casefold().str.split().str.join(" ")
            table.words[column] = plain.replace([*unsaid], "")
    problems += _not_of_rows(frame, table)
    refuse_all(problems)
    if "method" in table.words:
        table.bad |= ~table.words["method"].isin(["", *LOSS_METHODS]).to_numpy()
    table.bad |= table.words["specimen"].eq("").to_numpy() & ~table.empty
    _say_columns(table)
    return table


def _numbers(cells: pd.Series[Any]) -> tuple[Array, Mask]:
    """Numbers of a column (n,), NaN where it is empty, and the cells that are none."""
    from pandas.api.types import is_float_dtype, is_integer_dtype

    from laminate.files.table import number_in

    if is_float_dtype(cells.dtype) or is_integer_dtype(cells.dtype):
        value = cells.to_numpy(float, na_value=math.nan)
        return value, np.isinf(value)
    texts = texts_of(cells)
    value = np.array([number_in(text, ".") for text in texts], float)
    return value, np.isnan(value) & np.array([*map(bool, texts)], bool)


def _not_of_rows(frame: pd.DataFrame, table: _Table) -> Iterator[Problem]:
    """What is no function of one row: blanks, retests, several rows of a specimen."""
    for column in OF_ROWS:
        if column in table.words:
            for at in np.flatnonzero(table.words[column].ne("").to_numpy())[:MOST_TOLD]:
                place = f"{row_of(frame, at)}, column '{column}'"
                cell = f"'{table.words[column].iloc[at]}'"
                hint = "blanks come as residue_share and fiber_loss; 'measure' takes the rest"
                yield Problem("not-of-one-row", TABLE, place, cell, "an empty cell", hint)
    names = table.words.get("specimen")
    if names is not None:
        for at in np.flatnonzero((names.duplicated() & names.ne("")).to_numpy())[:MOST_TOLD]:
            place = f"{row_of(frame, at)}, column 'specimen'"
            first = f"in {row_of(frame, np.flatnonzero((names == names.iloc[at]).to_numpy())[0])}"
            what, expected = f"'{names.iloc[at]}'", "one row per coupon; 'measure' merges several"
            yield given_twice(TABLE, place, what, first, expected)


def _stand_in(columns: Iterable[str], method: str = "") -> Coupon:
    """A coupon that only tells which readings there are."""
    from laminate.files.coupons import Coupon

    words = {"method": method} if method else {}
    numbers = dict.fromkeys(columns, 1.0)
    return Coupon("", TABLE, numbers, texts=dict.fromkeys(numbers, "1.0000"), words=words)


def _patterns(table: _Table) -> Iterable[tuple[NDArray[np.intp], Coupon, int | None]]:
    """Rows that have the same readings, method and plies, with what they have."""
    import pandas as pd

    columns = [name for name in table.numbers if name != "plies"]
    keys = pd.DataFrame({name: np.isfinite(table.numbers[name]) for name in columns}, index=range(table.rows))
    keys["method"] = table.words["method"].to_numpy() if "method" in table.words else ""
    keys["plies"] = np.nan_to_num(table.numbers.get("plies", 0.0))
    groups: dict[Any, Any] = dict(keys.groupby([*keys], sort=False).indices)
    for key, rows in groups.items():
        there = [name for name, has in zip(columns, key, strict=False) if has]
        yield rows, _stand_in(there, key[-2]), int(key[-1]) or table.setting.plies


def _say_columns(table: _Table) -> None:
    """Attributes, shared causes and own degrees that headings and arguments allow, whatever the rows hold."""
    from laminate.coupons.instruments import GAUGES
    from laminate.coupons.methods import attributes
    from laminate.coupons.readings import constants_of, plan_of
    from laminate.coupons.resolution import SUFFIX, step_of
    from laminate.values.uncertainty import sources_of

    setting = table.setting
    bench, coupon = setting.bench, _stand_in(name for name in table.numbers if name != "plies")
    plan = plan_of(coupon, bench)
    recipe = setting.recipe(1 if "plies" in table.numbers or setting.plies else None)
    computed: dict[str, None] = {}
    for way in (*_ways(coupon, plan), ""):
        for loss in (plan.loss, ""):
            tried = replace(plan, density=way, loss=loss)
            names = [*table.numbers, *constants_of(tried, recipe, bench, [coupon]), "liquid density",
                     "liquid temperature", "specimen mass", "mass in air"]  # fmt: skip
            x: dict[Any, Any] = {name: np.full(1, 300.0) for name in names}
            with np.errstate(all="ignore"):
                computed |= dict.fromkeys(key[0] for key in attributes(x, tried, recipe))
    table.attributes = sorted(computed)
    constants = {**recipe.values, "air density": bench.air_density, "residue share": bench.residue_share,
                 "fiber loss": bench.fiber_loss}  # fmt: skip
    if bench.liquid_density is not None:
        constants["liquid density"] = bench.liquid_density
    table.causes = {source.name: source.dof for source in sources_of(constants)}
    own_dofs: set[float] = set()
    for name in GAUGES:
        gauge = bench.gauges.get(name)
        if gauge and gauge.calibration:
            table.causes[Key("instrument", name, "calibration")] = gauge.calibration.dof
        if gauge and gauge.repeatability and math.isfinite(gauge.repeatability.dof):
            own_dofs.add(gauge.repeatability.dof)
    table.own = sorted(own_dofs)
    stepped = [name for name in table.numbers if name != "plies" and step_of(coupon, name, bench)]
    table.causes |= {name + SUFFIX: math.inf for name in stepped}


def _ways(coupon: Coupon, plan: Plan) -> list[str]:
    """The ways of a density whose readings are all there."""
    from laminate.coupons.methods import DENSITY_COLUMNS, DIMENSIONS

    needs = DENSITY_COLUMNS.items()
    return [way for way, names in needs if coupon.has(*names) and (way != DIMENSIONS or plan.area)]


def _parts(table: _Table) -> dict[str, int]:
    """What headings say behind an attribute, and the power of its unit."""
    variances = (" own variance", *(f" own variance, dof {dof!r}" for dof in table.own))
    causes = (_cause(name, dof) for name, dof in table.causes.items())
    return {"": 1, " u": 1, **dict.fromkeys(variances, 2), **dict.fromkeys(causes, 1)}


def column_name(attribute: str, what: str, power: int) -> str:
    """The heading of a column of an attribute; what: as of `_parts`, with the power of its unit."""
    from laminate.values.quantities import ATTRIBUTES

    unit = ATTRIBUTES[attribute].unit.text
    return f"{attribute}{what} [{unit if power == 1 else f'({unit})^{power}'}]"


def _cause(name: Name, dof: float) -> str:
    if isinstance(name, Key) and name.table == NUMBER:  # a tag may hold anything, and read like another cause
        return f" from '{name.quantity}'{name.name and f' #{name.name}'}"
    return f" from {name}" + (f", dof {dof!r}" if math.isfinite(dof) else "")


def _evaluate(table: _Table, out: dict[str, Any], rows: Any, coupon: Coupon, plies: int | None) -> Mask:
    """Fill in the attributes of one group; returns which of its rows cannot be."""
    from laminate.coupons.checks import MISSING, impossible, maybe_no_laminate
    from laminate.coupons.methods import attributes, preferred
    from laminate.coupons.readings import columns_of, plan_of
    from laminate.coupons.recipes import Constituents
    from laminate.values.quantities import ATTRIBUTES
    from laminate.values.uncertainty import propagate

    setting = table.setting
    recipe, bench = setting.recipe(plies), setting.bench
    plan = plan_of(coupon, bench, basis="with volatiles")
    wrong = np.zeros(len(rows), bool)
    kinds = Constituents(recipe.constituents.fiber_kinds)  # of any density
    findings = impossible(coupon, bench, replace(recipe, constituents=kinds))
    if any(problem.code in (MISSING, "aramid-burnt") for problem in findings):
        return ~wrong
    readings = {name: column[rows] for name, column in table.numbers.items()}
    x, sources, _ = columns_of([coupon], plan, recipe, bench, readings)

    def formula(x: Any) -> Any:
        return attributes(x, plan, recipe)

    with np.errstate(all="ignore"):
        results: dict[Any, Any] = propagate(formula, x, sources)
    values = {key: result.value for key, result in results.items()}
    wrong |= maybe_no_laminate(values, recipe, len(rows))
    for attribute, key in preferred(results).items():
        unit = ATTRIBUTES[attribute].unit
        shown = _shown(table, results[key].value, results[key].contributions, sources)
        for what, power in _parts(table).items():
            out[column_name(attribute, what, power)][rows] = shown[what] * unit.per_si**power
        out[f"{attribute} method"][rows] = key[1]
    return wrong


def _shown(table: _Table, value: Array, parts: Array, sources: list[Source]) -> dict[str, Array]:
    """Value, u, own variance, and a signed column for each shared cause [SI], by part of the heading."""
    none = np.zeros(len(value))
    u = np.sqrt(np.square(parts).sum(axis=0)) + none
    columns = dict.fromkeys(_parts(table), none)
    columns |= {"": np.broadcast_to(value, none.shape), " u": np.where(u > 0.0, u, math.nan)}
    for part, source in zip(parts, sources, strict=True):
        if source.shared:
            columns[_cause(source.name, table.causes[source.name])] = part
            continue
        columns[" own variance"] = columns[" own variance"] + part**2
        if math.isfinite(source.dof):
            what = f" own variance, dof {source.dof!r}"
            columns[what] = columns[what] + part**2
    return columns


def _maybe_refused(table: _Table) -> Mask:
    """Rows of which `measure` may refuse a word, or whose name may be that of a mean or a signature."""
    from laminate.files.plain_table import is_no_word
    from laminate.files.totals import total_word

    names = table.words["specimen"]
    totals = names.map(total_word)
    lengths = {len(name) for name in names[totals.eq("")] if name.isalpha()}
    like_others = totals.eq("short") & names.str.isalpha() & names.str.len().isin(lengths)
    odd: Mask = (totals.ne("") & ~like_others).to_numpy(bool)
    for column, cells in table.words.items():
        if is_no_word(column, {*cells}):
            odd = odd | np.array([is_no_word(column, [cell]) for cell in cells])
    return odd


def _refuse(frame: pd.DataFrame, table: _Table, suspect: Mask) -> None:
    """Look at the suspect rows as `measure` does. Raises `Refused` where one of them cannot be."""
    from laminate.coupons.checks import impossible
    from laminate.files.coupons import coupons_of

    problems: list[Problem] = []
    for at in np.flatnonzero(suspect & ~table.empty).tolist():
        try:
            coupons = coupons_of(tables_of_frame(frame.iloc[[at]]))
        except Refused as refusal:
            read = [*refusal.problems]
        else:
            read = [*coupons.problems]
            for coupon in coupons.coupons if not read else ():
                plies = coupon.readings("plies")
                recipe = table.setting.recipe(int(plies[0]) if plies else table.setting.plies)
                read += impossible(coupon, table.setting.bench, recipe)
        if any(problem.code == "no-rows" for problem in read):
            name, expected = (
                f"'{table.words['specimen'].iloc[at]}'",
                "a coupon, not what 'measure' leaves out",
            )
            hint = "take the row out; if it is a coupon, write 'specimen' in its column 'kind'"
            read = [Problem("not-of-one-row", TABLE, "row 2", name, expected, hint)]
        if not read and table.bad[at]:
            expected = "numbers with a decimal point, nothing else in their cells"
            read = [Problem("not-a-number", TABLE, "row 2", "a cell that is no number", expected)]
        problems += [at_label(problem, frame, at) for problem in read]
        if len(problems) >= MOST_TOLD:
            break
    refuse_all(problems)


def _as_frame(frame: pd.DataFrame, table: _Table, out: dict[str, Any]) -> pd.DataFrame:
    import pandas as pd

    none = pd.Series("", index=frame.index, dtype=object)
    out = {name: pd.Series(column, frame.index, column.dtype) for name, column in out.items()}
    words = {name: table.words.get(name, none).astype(object) for name in ("specimen", "zone")}
    counts = table.words.get("excluded", none).eq("").astype(bool)
    return pd.DataFrame({**words, "counts": counts, **out}, index=frame.index)
