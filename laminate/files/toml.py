"""Hand-written TOML to checked models: every finding of a file at once, each with its key path."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Annotated, Any, Literal, TypeVar, get_args, get_origin

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetPydanticSchema,
    TypeAdapter,
    ValidationError,
    WithJsonSchema,
)
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import no_info_plain_validator_function

from laminate.files.named_file import NamedFile
from laminate.files.raw_file import path_text
from laminate.files.toml_faults import explained, too_deep
from laminate.values.durable import MOST_TEXT
from laminate.values.problems import (
    Problem,
    Refused,
    UnknownKey,
    missing_file,
    missing_key,
    refusal,
    refuse_all,
    too_few,
    unknown_key,
    unreadable_file,
    wrong_file,
    wrong_word,
)
from laminate.values.quantities import DEG_C, G_CM3, G_M2, GPA, MPA, PSI, Unit
from laminate.values.said import Figure, Said, between
from laminate.values.sequences import fixed
from laminate.values.units import SIValue, Spread, Unreadable, kind_words, parse, parse_spread

Raw = Mapping[str, Any]
M = TypeVar("M", bound=BaseModel)
T = TypeVar("T")


class TomlTable(BaseModel):
    """A table of a file: nothing unknown, nothing changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True, defer_build=True)

    def model_post_init(self, _: Any) -> None:
        """Fix the tables and lists inside it too."""
        self.__dict__.update(
            {name: fixed(v) for name, v in self.__dict__.items() if isinstance(v, (dict, list))}
        )

    def __setattr__(self, name: str, value: Any) -> None:
        if not name.startswith("_"):
            raise AttributeError(f"'{name}' does not change: make another part of changed tables")
        super().__setattr__(name, value)

    def __repr_args__(self) -> Iterator[tuple[str, Any]]:
        """What was written, the tables inside it by their names: one screen of a whole part."""
        for name in type(self).model_fields:
            if name in self.model_fields_set:
                yield name, _brief(getattr(self, name))


def _brief(given: Any) -> Any:
    """Tables with names as these, tables in a row as their count, all else as it is."""
    if isinstance(given, dict) and any(isinstance(table, TomlTable) for table in given.values()):
        return [*given]
    if isinstance(given, list) and given and isinstance(given[0], TomlTable):
        return f"{len(given)} of {type(given[0]).__name__}"
    return given


def misread(code: str, found: str, expected: str, hint: str = "") -> PydanticCustomError:
    """The error of a validator, with what a `Problem` says."""
    context = {"code": code, "found": found, "expected": expected, "hint": hint}
    return PydanticCustomError("unreadable", "{found}", context)


def as_typed(given: Any) -> str:
    """What a TOML file gave for a key, as a person typed it.

    >>> as_typed(dt.datetime(2026, 11, 18, 8, 30))
    '2026-11-18 08:30:00'
    """
    return str(given) if isinstance(given, (dt.date, dt.time)) else repr(given)


def reads(read: Callable[[Any], Any]) -> GetPydanticSchema:
    """The validator of a key whose text is read by a function that raises `Unreadable`."""

    def take(text: Any) -> Any:
        try:
            return read(text)
        except Unreadable as fault:
            raise misread("unreadable-value", fault.found, fault.expected, fault.hint) from None

    # `PlainValidator` first builds a schema of the type, for each of hundreds of keys, and never uses it.
    return GetPydanticSchema(lambda *_: no_info_plain_validator_function(take))


def check_range(value: SIValue, words: str, low: float | None, high: float | None, bounds: str) -> None:
    """Raise `Unreadable` where a value, or its tolerance, leaves what is physically possible."""
    if (low is not None and value.value < low) or (high is not None and value.value > high):
        raise Unreadable(f"'{value.text}'", Said(f"{words} ", bounds))
    positive = low is not None and low >= 0.0 and value.value > 0.0
    width = value.half_width if value.shape == "rectangular" else value.spread
    if positive and value.spread and width >= value.value:
        wide_tolerance = f"'{value.text}', a tolerance as wide as the value"
        raise Unreadable(wide_tolerance, f"{words} whose ± is smaller than the value")


def check_basis(value: SIValue, basis: str) -> None:
    """Raise `Unreadable` where a share is written by volume and meant by mass, or the other way round."""
    if basis and value.basis not in (None, basis):
        raise Unreadable(f"'{value.text}', a share by {value.basis}", f"a share by {basis}")


def quantity(
    kind: str, low: float | None = None, high: float | None = None, bounds: str = "", basis: str = ""
) -> Any:
    """The type of a value of one kind; low and high: physical bounds [SI], `bounds` says them in words.

    basis: 'mass' or 'volume' for a share that is one of the two.
    """
    words, example = kind_words(kind)

    def read(text: Any) -> SIValue:
        if isinstance(text, SIValue):
            return text
        # nothing is nothing in whatever unit, but of a temperature
        nothing = str(text).strip() in ("0", "0.0") and kind not in ("temperature", "number")
        value = parse(f"0 {example.split()[1]}" if nothing else text, kind)
        check_basis(value, basis)
        check_range(value, words, low, high, bounds)
        return value

    pattern: dict[str, Any] = {"description": f'{words}, such as "{example}"', "examples": [example]}
    pattern["type"] = ["string", "number"] if kind == "number" else "string"
    return Annotated[SIValue, reads(read), WithJsonSchema(pattern)]


def spread(kind: str, *, relative_allowed: bool = True) -> Any:
    """The type of an uncertainty that stands alone, for readings of one kind."""

    def read(text: Any) -> Spread:
        return parse_spread(text, kind, relative_allowed=relative_allowed)

    words, example = kind_words(kind)
    schema = {"type": "string", "description": f'an uncertainty of {words}, such as "{example} (standard)"'}
    return Annotated[Spread, reads(read), WithJsonSchema(schema)]


def read_as(kind: Any, text: Any, place: str) -> Any:
    """One value outside a file, checked like a key of that type; place: of a finding. Raises `Refused`."""
    try:
        return TypeAdapter(kind).validate_python(text)
    except ValidationError as fault:
        raise Refused(Problem(file="", place=place, **fault.errors()[0]["ctx"])) from None


def read_fields(kind: TypeAdapter[T], data: bytes) -> T:
    """What JSON says in the fields of a class. Raises ValueError, which names the first that is wrong."""
    try:
        return kind.validate_json(data, strict=True)
    except ValidationError as error:
        first = error.errors()[0]
        place = f"'{first['loc'][0]}': " if first["loc"] else ""
        raise ValueError(f"{place}{first.get('ctx', {}).get('error', first['msg'])}") from None


def word(*choices: str) -> Any:
    """The type of a key that takes one of a few words."""

    def read(text: Any) -> Any:
        if text in choices:
            return text
        problem = wrong_word("", "", text, choices)
        raise misread(problem.code, problem.found, problem.expected, problem.hint)

    return Annotated[str, BeforeValidator(read), WithJsonSchema({"enum": list(choices)})]


def positive(kind: str) -> Any:
    """The type of a value above 0."""
    return quantity(kind, 1e-300, None, "above 0")


Length = positive("length")
Offset = quantity("length")
Rounding = quantity("length", -1e-12, None, "of 0 or more")
Fraction = quantity("fraction", 0.0, 1.0, "from 0 to 100 %")
Covered = quantity("fraction", 1e-9, 1.0, "above 0, up to 100 %")
MassFraction = quantity("fraction", 0.0, 1.0, "from 0 to 100 %", "mass")
ResinContent = quantity("fraction", 0.0, 1.0 - 1e-9, "from 0 to below 100 %", "mass")
Bleed = quantity("fraction", -1e-12, 1.0, "from 0 to 100 %", "mass")
VolumeFraction = quantity("fraction", 0.0, 1.0, "from 0 to 100 %", "volume")
Packing = quantity("fraction", 1e-9, 1.0, "above 0, up to 100 %", "volume")
Temperature = quantity("temperature", 73.15, 1273.15, Said("from ", between(73.15, 1273.15, DEG_C)))
AnyDensity = quantity("density", 5.0, 25000.0, Said("from ", between(5.0, 25000.0, G_CM3)))
FiberDensity = quantity("density", 800.0, 9000.0, Said("of a fiber, from ", between(800.0, 9000.0, G_CM3)))
ResinDensity = quantity("density", 500.0, 3000.0, Said("of a resin, from ", between(500.0, 3000.0, G_CM3)))
ArealWeight = quantity("areal_weight", 1e-3, 50.0, Said("from ", between(1e-3, 50.0, G_M2, 5)))
Expansion = quantity("expansion", -5e-5, 2e-3, "from -50e-6 to 2000e-6 /K (was 1e-6 forgotten?)")
_MODULI = (Figure(1e5, MPA), " to ", Figure(5e11, GPA), " (diamond has about ", Figure(4.4e11, GPA, 3))

Modulus = quantity("pressure", 1e5, 5e11, Said("from ", *_MODULI, ")"))
Pressure = quantity("pressure", 0.0, 1e9, Said("from 0 to ", Figure(1e9, GPA)))
_SOFTEST = Figure(1e-5, Unit("MPa^-1", 1e6), us=Unit("psi^-1", 1 / PSI.per_si))
Compliance = quantity("compliance", 0.0, 1e-5, Said("from 0 to ", _SOFTEST))
Force = positive("force")
Area = positive("area")
Volume = positive("volume")
Mass = positive("mass")
Time = positive("time")
Moment = quantity("time")
Diffusivity = positive("diffusivity")
Angle = quantity("angle", 0.0, 1.3963, "from 0 to 80 deg")
Factor = positive("number")
BulkFactor = quantity("number", 1.0, 3.0, "from 1 to 3")
AirDensity = quantity("density", 0.0, 5.0, Said("of air, from ", between(0.0, 5.0, G_CM3)))
Share = quantity("fraction", -0.2, 0.9, "from -20 to 90 %")


def load(file: NamedFile) -> tuple[dict[str, Any], bytes]:
    """The tables and the bytes of a TOML file. Raises `Refused`."""
    name = file.name
    if file.path.suffix.casefold() in (".csv", ".xlsx"):
        hint = "'laminate measure' reads coupon tables"
        raise Refused(wrong_file(name, "a coupon table", "a TOML file", hint))
    try:
        data = file.data(MOST_TEXT)
    except FileNotFoundError:
        raise Refused(missing_file(name, "", "", "a TOML file", file.names_near("*.toml"))) from None
    except IsADirectoryError:
        hint = "name the file inside it"
        raise refusal("file-is-a-directory", name, "", "a folder", "a TOML file", hint) from None
    except OSError as fault:
        raise Refused(unreadable_file(name, fault, "a TOML file")) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        place, bad_bytes = f"line {1 + data[: fault.start].count(10)}", "bytes that are not UTF-8"
        raise refusal("not-utf-8", name, place, bad_bytes, "a file saved as UTF-8") from None
    if not text.strip():
        raise refusal("empty-file", name, "", "an empty file", "format = 1 and the tables of this file")
    text = text.replace("\r\n", "\n")
    try:
        if deep := too_deep(text):
            raise refusal("not-toml", name, *deep)
        return tomllib.loads(text), data
    except tomllib.TOMLDecodeError as fault:
        raise refusal("not-toml", name, *explained(text, str(fault))) from None


def _model_at(model: type[BaseModel], location: tuple[Any, ...]) -> type[BaseModel] | None:
    """The model whose keys stand at a location."""
    current: Any = model
    for part in location:
        if isinstance(current, type) and issubclass(current, BaseModel):
            fields = current.model_fields
            field = fields.get(str(part)) or next((f for f in fields.values() if f.alias == part), None)
            current = field.annotation if field else None
        elif get_origin(current) in (dict, list, tuple):
            current = get_args(current)[1 if get_origin(current) is dict else 0]
        if type(None) in get_args(current):
            current = next(a for a in get_args(current) if a is not type(None))
    return current if isinstance(current, type) and issubclass(current, BaseModel) else None


_TYPE_WORDS = {
    "string": "text in quotes",
    "int": "a whole number",
    "float": "a number",
    "bool": '"yes" or "no"',
    "dict": "a table",
    "model": "a table of keys",
    "list": "a list in [ ]",
    "tuple": "a list in [ ]",
    "date": "a date such as 2026-11-18",
}
"""What a key of a type holds, by the first word of the error that it holds something else."""

_BOUNDS = {"greater_than_equal": ("ge", "or more"), "less_than_equal": ("le", "or less")}


def report_once(read: Callable[[dict[str, Any]], T], raw: dict[str, Any], name: str) -> T:
    """What is read of the tables of a file; a misspelled key is told alone, without what it brings about.

    Raises `Refused`.
    """
    try:
        return read(raw)
    except Refused as refusal:
        unknown = [p for p in refusal.problems if isinstance(p, UnknownKey) and p.file == name]
        misspelled = {problem.place: problem.meant for problem in unknown if problem.meant}
        if not misspelled:
            raise
        left: tuple[Problem, ...] = ()
        try:
            read(_mended(raw, misspelled))
        except Refused as other:
            left = other.problems
        kept = [p for p in refusal.problems if p in left or (p.file == name and p.place in misspelled)]
        raise Refused(kept) from None


def _mended(table: Any, misspelled: Mapping[str, str], at: tuple[str | int, ...] = ()) -> Any:
    """The tables with the keys that were meant, where they are not there already."""
    if isinstance(table, list):
        return [_mended(row, misspelled, (*at, index)) for index, row in enumerate(table)]
    if not isinstance(table, Mapping):
        return table
    mended = {}
    for key, value in table.items():
        meant = misspelled.get(path_text((*at, key)), key)
        mended[key if meant in table else meant] = _mended(value, misspelled, (*at, key))
    return mended


def _described(field: FieldInfo) -> str:
    """What a key takes, in words."""
    schema: dict[str, Any] = {}
    for item in field.metadata:
        schema |= (item.json_schema or {}) if isinstance(item, WithJsonSchema) else {}
    choices = f"one of {', '.join(map(repr, schema['enum']))}" if "enum" in schema else ""
    return str(field.description or choices or schema.get("description") or "a value for it")


def _problem(error: Mapping[str, Any], model: type[BaseModel], name: str) -> Problem:
    location, kind, given = tuple(error["loc"]), str(error["type"]), error.get("input")
    place, context = path_text(location), error.get("ctx", {})
    if kind == "unreadable":
        return Problem(file=name, place=place, **context)
    parent = _model_at(model, location[:-1])
    if kind == "extra_forbidden":
        known = [field.alias or key for key, field in parent.model_fields.items()] if parent else []
        known += getattr(parent, "read_apart", ())
        return unknown_key(name, place, str(location[-1]), known)
    if counted := _wrong_count(name, kind, location, context):
        return counted
    if kind == "missing":
        field = parent.model_fields.get(str(location[-1])) if parent else None
        words = _described(field) if field else "a value for it"
        return missing_key(name, place, str(location[-1]), words)
    if kind == "list_type" and isinstance(given, Mapping):
        key = location[-1]
        return Problem("wrong-type", name, place, f"[{key}]", f"[[{key}]], in double brackets")
    code, expected = "wrong-value", str(error["msg"]).removeprefix("Input should be ")
    type_words = _TYPE_WORDS.get(kind.partition("_")[0], "")
    if location == ("format",):
        code, expected = "wrong-format", "format = 1, the one that this program reads"
    elif kind in _BOUNDS:
        key, words = _BOUNDS[kind]
        expected = f"{context[key]} {words}"
    elif kind.startswith("date_") and isinstance(given, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", given):
        expected = f"{type_words}, that exists"
    elif type_words:
        code, expected = "wrong-type", type_words
    return Problem(code, name, place, as_typed(given), expected)


def _wrong_count(
    name: str, kind: str, location: tuple[Any, ...], context: Mapping[str, Any]
) -> Problem | None:
    """A list of too few or too many entries; None for another fault."""
    if kind == "missing" and isinstance(location[-1], int):
        location, count, wanted = location[:-1], location[-1], f"{location[-1] + 1}"
    elif kind == "too_short":
        count, wanted = context["actual_length"], f"{context['min_length']} or more"
    elif kind == "too_long":
        count, wanted = context["actual_length"], f"{context['max_length']}"
    else:
        return None
    return too_few(name, path_text(location), count, "entry" if count == 1 else "entries", wanted)


def check(model: type[M], raw: Raw, name: str, others: Iterable[Problem] = ()) -> M:
    """The checked model; raises `Refused` with its findings and the `others` in one go."""
    problems = list(others)
    try:
        checked: M = model.__pydantic_validator__.validate_python(raw)
    except ValidationError as fault:
        # a check across keys knows more of a value than its own type does: that is said once
        known_places = {(problem.file, problem.place) for problem in problems if problem.place}
        faults = [_problem(error, model, name) for error in fault.errors(include_url=False)]
        faults = [problem for problem in faults if (problem.file, problem.place) not in known_places]
        raise Refused(faults + problems) from None
    refuse_all(problems)
    return checked


Format = Literal[1]
