"""`measure` without a batch file: coupons of tables or of a DataFrame, materials and gauges as options."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from numbers import Integral, Real
from pathlib import Path
from typing import TYPE_CHECKING, Any

from laminate.front.answer import Answer, AnswerLayout, Fields
from laminate.front.call import Call, as_percent, path_of
from laminate.front.options import MEASURE
from laminate.values.problems import Problem, Refused, missing_file, refuse_all, wrong_word

if TYPE_CHECKING:
    import pandas as pd

    from laminate.coupons.evaluation import Chooser, Made
    from laminate.coupons.instruments import Bench
    from laminate.coupons.measurement import Measurement
    from laminate.coupons.recipes import Recipe
    from laminate.files.coupons import Coupon, Coupons
    from laminate.files.plain_table import PlainTable
    from laminate.files.table import Heading
    from laminate.files.tables import Tables

TABLE = "table"
UNWRITTEN = "readings are numbers, not text: digits are not checked, resolution counts only where it is given"
NAMES = ("specimen", "zone", "position", "lot")
NUMBERS_INSIDE = ("integer", "floating", "mixed-integer", "mixed-integer-float", "decimal")
"""What pandas calls a column with numbers."""


LOSS = ("residue mass", "crucible with residue")
"""Readings that give fiber volume and voids, beside the densities and what tells the volume of a coupon."""
DENSITIES = {
    "fiber_density": 'a density, such as "1.79 g/cm^3", or a batch file',
    "resin_density": 'the cured density, such as "1.22 g/cm^3", or a batch file',
}


def measured_of(source: Any, options: Mapping[str, Any], *, from_command_line: bool = False) -> Measurement:
    """Evaluate the coupons of tables, a DataFrame or a batch; a large plain table by columns.

    source: path of batch.toml, path or paths of tables, or a DataFrame; options: names as in `MEASURE`;
    from_command_line: places of problems as typed on the command line. Raises `Refused` with every finding.
    """
    from laminate.coupons.resolution import take_typed_units
    from laminate.files.coupons import COLUMNS, coupons_of
    from laminate.files.entries import histories_of
    from laminate.files.named_file import NamedFile
    from laminate.files.plain_table import plain_of, read_plain
    from laminate.files.tables import read_tables

    call, plain = Call(MEASURE, None, options, from_command_line=from_command_line), None
    if is_frame(source):
        tables = tables_of_frame(source)
    else:
        several = isinstance(source, Iterable) and not isinstance(source, str)
        paths = [path_of(path) for path in (source if several else [source])]
        if not paths:
            raise TypeError("no table is named")
        if any(path.suffix.casefold() == ".toml" for path in paths):
            return _of_batch(call, paths)
        _check_files(call, paths)
        if call.problems:
            setting_of(call)  # raises, with what is wrong with the options too
        files = [NamedFile.at(path) for path in paths]
        typed = {n: known for n, known in histories_of(files).items() if any(x.typed for x in known.lines)}
        if typed:  # their steps stand in the history, which columns do not read
            coupons = coupons_of(read_tables(files, known=COLUMNS))
            take_typed_units(coupons.coupons, typed)
            return _evaluate(call, coupons)
        plain = read_plain(paths[0], str(paths[0])) if len(paths) == 1 else None
        if plain is not None and (measurement := _by_columns(plain, call)):
            return measurement
        tables = read_tables(files, known=COLUMNS)
    if plain is None and (plain := plain_of(tables)) and (measurement := _by_columns(plain, call)):
        return measurement
    return _evaluate(call, coupons_of(tables))


def is_frame(source: Any) -> bool:
    """Whether a source is a DataFrame of pandas. Raises TypeError for a table of another library."""
    if hasattr(source, "columns") and not hasattr(source, "iloc"):
        other = type(source).__name__
        raise TypeError(f"a DataFrame of pandas is wanted, not {other}: convert it, many have 'to_pandas'")
    return hasattr(source, "columns")


class MeasureAnswer(Answer):
    """The answer of `measure`: one row a specimen; names: the column of them in a DataFrame, else None."""

    _layout = AnswerLayout("specimens", document="measured_words.measure_document", more="prepreg")

    def __init__(self, measurement: Measurement, names: pd.Series[Any] | None = None) -> None:
        super().__init__(measurement)
        self.__dict__["_names"] = names

    @cached_property
    def _data(self) -> Any:
        from laminate.show.plain_json import unfolded

        return dict(unfolded(self.printed()))

    def printed(self) -> Mapping[str, Any]:
        """What the command's JSON has of it, specimens as blocks."""
        from laminate.show.plain_json import measure_json

        return measure_json(self.result)

    @property
    def average(self) -> Fields:
        """The averages by attribute, none where nothing was averaged."""
        return Fields(self._data.get("average", {}))

    def to_frame(self) -> pd.DataFrame:
        """One row a specimen, as of any answer; its index the labels of their first rows in a DataFrame."""
        frame = super().to_frame()
        if self._names is None or frame.empty:
            return frame
        first = {name: at for at, name in reversed([*enumerate(texts_of(self._names))])}
        places = [first[name] for name in frame["specimen"] if name in first]
        return frame.set_axis(self._names.index.take(places)) if len(places) == len(frame) else frame


def measure_answer(source: Any, options: Mapping[str, Any]) -> MeasureAnswer:
    """The answer of `measure`; arguments as of `measured_of`, whose findings a DataFrame gets at its labels.

    Raises `Refused` with every finding.
    """
    from laminate.files.heading import read_heading

    if not is_frame(source):
        return MeasureAnswer(measured_of(source, options))

    def labelled(problems: Sequence[Problem]) -> list[Problem]:
        return [at_label(problem, source) for problem in problems]

    try:
        measurement = measured_of(source, options)
    except Refused as refusal:
        raise Refused(labelled(refusal.problems)) from None
    measurement.reword(labelled)
    measurement.notes = [_labelled(note, source, 0, f"{TABLE}: ") for note in measurement.notes]
    measurement.on_top += [note for note in measurement.notes if note == f"{TABLE}: {UNWRITTEN}"]
    headings = [read_heading(str(name), at, ["specimen"]).name for at, name in enumerate(source.columns)]
    # the frame is the caller's, who may change it
    return MeasureAnswer(measurement, source.iloc[:, headings.index("specimen")].copy())


def _by_columns(table: PlainTable, call: Call) -> Measurement | None:
    """What a large plain table says, None where columns cannot tell all of it."""
    if {"fiber_density", "resin_density"} - call.given.keys():
        return None
    from laminate.coupons.plain_measure import measure_plain

    setting = setting_of(call)
    plain = measure_plain(table, setting.bench, chooser_of(setting), setting.confidence)
    numbers = {label: column.number.tolist() for label, column in table.columns.items()}
    unused = _unused(call, setting, lambda column: numbers.get(column, ()))
    return _on_top(plain, [*setting.unlike, *unused]) if plain is not None else None


def _check_files(call: Call, paths: Sequence[Path]) -> None:
    for path in paths:
        if not path.exists():
            folder = [p.name for p in path.parent.iterdir() if p.is_file()] if path.parent.is_dir() else []
            known = [str(path.parent / name) for name in folder]
            call.problems.append(missing_file(str(path), "", "", "a coupon table", known))


def _of_batch(call: Call, paths: list[Path]) -> Measurement:
    from laminate.coupons.batch_measure import measure_batch
    from laminate.files.batch import read_batch
    from laminate.press.unlikely import unlike_kinds

    if len(paths) > 1:
        actual, expected = "a second file", "one batch file alone, which names its coupon tables"
        call.problems.append(Problem("too-many-files", "", str(paths[1]), actual, expected))
    for name, value in call.given.items():
        expected = "no such option with a batch file"
        call.say("option-beside-file", name, f"'{value}'", expected, "write it in the batch or part file")
    refuse_all(call.problems)
    case = read_batch(paths[0], str(paths[0]))
    return _on_top(measure_batch(case), unlike_kinds(case.part, case.part.prepreg, case.ingredients()))


def _on_top(measurement: Measurement, unlike: Iterable[str]) -> Measurement:
    """The same measurement, with what is unlikely of densities and plies directly under its answer."""
    measurement.notes += unlike
    measurement.on_top += unlike
    return measurement


@dataclass(frozen=True)
class Setting:
    """What the options say: recipe of a count of plies, the plies of all rows, bench, confidence.

    unlike: what is unlikely of the densities.
    """

    recipe: Callable[[int | None], Recipe]
    plies: int | None
    bench: Bench
    confidence: float
    unlike: tuple[str, ...] = ()


def _densities(call: Call, rows: Sequence[Callable[..., bool]] | None) -> list[str]:
    """The densities that figures of some rows are made of; rows: whether each has columns, None unknown."""
    from laminate.coupons.methods import DENSITY_COLUMNS

    volumes = {columns[-1] for columns in DENSITY_COLUMNS.values()}
    if rows is None or any(any(map(has, LOSS)) and any(map(has, volumes)) for has in rows):
        return [*DENSITIES]
    if call.given.get("fiber_areal_weight") is None:
        return []
    weighed = any(has("thickness") and any(map(has, volumes - {"thickness"})) for has in rows)
    return [*DENSITIES][: 1 + weighed]


def setting_of(
    call: Call, rows: Sequence[Callable[..., bool]] | None = None, problems: Sequence[Problem] = ()
) -> Setting:
    """What the options of a call say.

    rows: of each that is measured, whether it has some columns, None where that is not known; problems: found
    in them. Raises `Refused` with every finding.
    """
    from laminate.coupons import recipes
    from laminate.files.toml import ArealWeight, FiberDensity, ResinDensity, quantity
    from laminate.press.unlikely import unlike_densities
    from laminate.values.quantities import FIBER_KINDS

    for name in _densities(call, rows):
        if call.given.get(name) is None:
            call.say("missing-option", name, "nothing", DENSITIES[name])
    fiber, resin = call.quantity("fiber_density", FiberDensity), call.quantity("resin_density", ResinDensity)
    areal = call.quantity("fiber_areal_weight", ArealWeight)
    kind = call.given.get("fiber")
    if kind is not None and kind not in FIBER_KINDS:
        call.problems.append(wrong_word("", call.place("fiber"), kind, FIBER_KINDS))
    level = quantity("fraction", 0.5, 1.0 - 1e-9, "from 50 to below 100 %")
    if not call.from_command_line and "confidence" in call.given:
        call.given["confidence"] = as_percent(call.given["confidence"])
    share = call.quantity("confidence", level, "95 %")
    everywhere = call.whole("plies", 1, call.given["plies"]) if "plies" in call.given else None
    bench = _bench(call)
    if call.problems:
        raise Refused([*call.problems, *problems])
    if fiber is None or (resin is None and areal is None):
        return Setting(recipes.without_densities(kind or "other"), everywhere, bench, float(share.value))
    recipe = recipes.of_options(fiber, resin, areal, kind or "other")
    unlike = tuple(unlike_densities(("fiber", "resin"), kind or "other", fiber, resin))
    return Setting(recipe, everywhere, bench, float(share.value), unlike)


def _evaluate(call: Call, coupons: Coupons) -> Measurement:
    from laminate.coupons.evaluation import measure

    read, problems = coupons.coupons, coupons.problems
    setting = setting_of(call, [c.has for c in read] if read or problems else None, problems)
    measurement = measure(coupons, setting.bench, chooser_of(setting), confidence=setting.confidence)
    unused = _unused(call, setting, lambda column: [x for coupon in read for x in coupon.readings(column)])
    return _on_top(measurement, [*setting.unlike, *unused])


def _unused(call: Call, setting: Setting, read: Callable[[str], Iterable[float]]) -> Iterator[str]:
    """That a table states itself, row by row, what an option states otherwise; read: by column [SI]."""
    liquid = setting.bench.liquid_density
    stated = {"plies": (setting.plies, 1.0), "liquid density": (liquid.value if liquid else None, 1e-3)}
    for column, (option, unit) in stated.items():
        others = sorted({number * unit for number in read(column) if number == number != option})
        if option is not None and others:
            name = column.replace(" ", "_")
            says = " to ".join(f"{end:g}" for end in sorted({others[0], others[-1]}))
            without = f"{call.place(name)} {call.given[name]} is for rows without"
            yield f"{without} '{column}': the column '{column}' says {says}, which holds there"


def chooser_of(setting: Setting) -> Chooser:
    """What a coupon is made of, as the options say."""
    from laminate.coupons.evaluation import Made

    recipe = cache(setting.recipe)

    def made_of(coupon: Coupon) -> Made:
        counted = coupon.readings("plies")
        made = recipe(int(counted[0]) if counted else setting.plies)
        # without an oven weighing the volatiles are part of what extraction takes away
        basis = "as received" if coupon.has("dried mass") else "with volatiles"
        return Made(coupon.word("zone") or None, made, basis=basis)

    return made_of


def _bench(call: Call) -> Bench:
    from laminate.coupons.instruments import EXACT, GAUGES, Bench, Gauge
    from laminate.files.batch_checks import instrument_step
    from laminate.files.toml import AirDensity, AnyDensity, Share
    from laminate.values.units import parse_spread

    air, liquid = call.quantity("air_density", AirDensity), call.quantity("liquid_density", AnyDensity)
    residue, loss = call.quantity("residue_share", Share), call.quantity("fiber_loss", Share)
    gauges = {}
    for name, kind in GAUGES.items():
        keys = (name, f"{name}_calibration")
        repeatability, shared = (_read(call, key, parse_spread, kind) for key in keys)
        step = _read(call, f"{name}_resolution", instrument_step, kind) or 0.0
        if repeatability is not None or shared is not None or step:
            gauges[name] = Gauge(name, repeatability, shared, step)
    named = "water" if liquid is None else "of a stated density"
    return Bench(
        gauges, air if air is not None else Bench().air_density, named, liquid,
        residue_share=residue or EXACT, fiber_loss=loss or EXACT,
        blank=residue is not None or loss is not None,
    )  # fmt: skip


def _read(call: Call, name: str, reader: Callable[[Any, str], Any], kind: str) -> Any:
    """What a reader makes of an option, None where it is not given."""
    from laminate.values.units import Unreadable, kind_words

    given = call.given.get(name)
    if str(given) in ("0", "0.0"):
        given = f"0 {kind_words(kind)[1].split()[1]} (exact)"
    try:
        return reader(given, kind) if name in call.given else None
    except Unreadable as fault:
        call.say("unreadable-value", name, fault.found, fault.expected, fault.hint)
        return None


def wrong_types(frame: pd.DataFrame) -> Iterator[Problem]:
    """Columns of names that hold numbers, which lost their zeros in front, and numbers of three digits."""
    import pandas as pd
    from pandas.api.types import infer_dtype

    for at, heading in enumerate(frame.columns):
        name = str(heading).strip().casefold()
        column = frame.iloc[:, at].dropna() if name in NAMES else pd.Series()
        values = column.unique().tolist() if len(column) else []
        if values and infer_dtype(values) in NUMBERS_INSIDE:
            hint = f"read it as text; df['{heading}'].astype(str) does where no name began with a zero"
            first = f"'{next(value for value in column if not isinstance(value, str))}'"
            yield Problem("wrong-type", TABLE, f"column '{name}'", first, "names as text", hint)
        if coded := [value for value in values if isinstance(value, bytes)]:
            hint = f"df['{heading}'].str.decode('utf-8')"
            yield Problem("wrong-type", TABLE, f"column '{name}'", f"{coded[0]!r}", "names as text", hint)
        if frame.dtypes.iloc[at] == "float16":
            hint = "read the table again as float64 or text: no reading fits into three digits"
            typed = f"'{frame.dtypes.iloc[at]}'"
            yield Problem("wrong-type", TABLE, f"column '{heading}'", typed, "float64", hint)


def tables_of_frame(frame: pd.DataFrame) -> Tables:
    """A DataFrame as the table that a file would hold; places are lines, as those of a file.

    Raises `Refused` with every finding.
    """
    from laminate.files.coupons import COLUMNS
    from laminate.files.grid import Grid
    from laminate.files.tables import Tables

    names, problems = [str(name) for name in frame.columns], [*wrong_types(frame)]
    refuse_all(problems)
    cells = [texts_of(column) for _, column in frame.items()]
    rows = enumerate(map(list, zip(*cells, strict=True)), 2)
    filled = [(number, row) for number, row in rows if any(row)]
    types = [_number_types(column) for _, column in frame.items()]
    kept = frozenset(at for at, kinds in enumerate(types) if kinds)
    table = Grid(TABLE, "", [(1, names), *filled], COLUMNS, problems, kept=kept).table()
    if table is None or not table.rows:
        raise Refused(problems)
    unwritten, note = _unwritten(types, table.headings)
    whole = replace(table, notes=(*table.notes, *note))
    return Tables(((whole, not problems),), tuple(problems), unwritten)


def _number_types(column: pd.Series[Any]) -> set[type]:
    """The types of the numbers in a column that do not tell the decimals they were read with."""
    import pandas as pd

    if pd.api.types.is_numeric_dtype(column.dtype):
        return {float if pd.api.types.is_float_dtype(column.dtype) else int}
    others = pd.Series([value for value in column.tolist() if type(value) is not str], dtype=object)
    return {kind for kind in {*map(type, others.dropna())} if issubclass(kind, Real)}


def _unwritten(
    frame_types: Sequence[set[type]], headings: Sequence[Heading]
) -> tuple[frozenset[str], tuple[str, ...]]:
    """The labels of columns of numbers, which do not tell their decimals, and what that leaves out."""
    types = {heading.label: frame_types[heading.index] for heading in headings}
    labels = frozenset(label for label, kinds in types.items() if kinds)
    if all(issubclass(kind, Integral) for kinds in types.values() for kind in kinds):
        return labels, ()
    return labels, (UNWRITTEN,)


def texts_of(column: pd.Series[Any]) -> list[str]:
    """The cells of a column as a file would hold them, '' where they are empty."""
    return [(value if type(value) is str else _cell_text(value)).strip() for value in column.tolist()]


def _cell_text(value: Any) -> str:
    import pandas as pd

    if value is None or value is pd.NA or value != value:
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)


def at_label(problem: Problem, frame: pd.DataFrame, first: int = 0) -> Problem:
    """A finding with the labels of rows in place of the lines that a file would have; headings have none.

    first: the place of the first line in the frame. Where no column has the names, an index of texts may.
    """
    if problem.code == "missing-column" and frame.index.inferred_type == "string":
        return replace(problem, hint="names in the index: frame.reset_index(names='specimen')")

    place = _labelled(re.sub(r"^row 1(, |$)", "", problem.place), frame, first, "^")
    if problem.code in ("given-twice", "total-in-between", "same-name"):
        problem = replace(problem, found=_labelled(problem.found, frame, first, f"in |{TABLE}: "))
    return replace(problem, place=place)


def _labelled(text: str, frame: pd.DataFrame, first: int, before: str) -> str:
    """A text with the labels of rows in place of the lines; before: what stands in front of a line."""
    line = rf"({before})row (?!1\b)(\d+)\b"
    return re.sub(line, lambda match: match[1] + row_of(frame, first + int(match[2]) - 2), text)


def row_of(frame: pd.DataFrame, at: int) -> str:
    """A row by its label, level by level; by its place too, from 0, where others have the same label."""
    label = frame.index[at]
    words = ", ".join(map(str, label)) if isinstance(label, tuple) else label
    return f"row {words}" if frame.index.is_unique else f"row {words} at iloc[{at}]"
