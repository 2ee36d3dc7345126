"""One call of a question: what it is asked about, and its options; every finding is kept, at its option."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from numbers import Real
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from laminate.front.described import STACK, PartFromOptions
from laminate.front.options import Counts, Names, Question
from laminate.values.argument_text import call_text, file_text
from laminate.values.problems import (
    Problem,
    Refused,
    did_you_mean,
    given_twice,
    near_hint,
    refusal,
    refuse_all,
    too_few,
    wrong_order,
)

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.part import Part
    from laminate.press.cores import Stacks
    from laminate.press.stack import Ingredients
    from laminate.values.units import SIValue

T = TypeVar("T")
CALL = "call"
MOST = 10**18
"""Of a count that has no bound of its own."""


def read_part(source: Part | Mapping[str, Any] | str | Path) -> Part:
    """Read and check a part file.

    Parameters
    ----------
    source : path of part.toml, a mapping with the tables of one (quantities as text or `Value`), or a part

    Returns
    -------
    Part : checked and frozen; its tables are attributes, the `value` of a quantity is in SI units

    Raises
    ------
    Refused : with every finding, each with its key path
    TypeError : for anything else

    Examples
    --------
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> part = lam.read_part(files("laminate.examples") / "mast" / "part.toml")
    >>> part.part.number, sorted(part.zone)
    ('MAST-04', ['skin', 'web'])
    """
    from laminate.files import part as model
    from laminate.files.named_file import NamedFile

    if isinstance(source, model.Part):
        return source
    if isinstance(source, Mapping):
        return model.part_of(call_text(source), "part")
    return model.read_part(NamedFile.at(path_of(source)))[0]


def read_batch(source: str | Path) -> Case:
    """Read and check a batch file with the part that it names.

    Parameters
    ----------
    source : path of batch.toml

    Returns
    -------
    Case : `case.part` and `case.batch`, checked and frozen, the `value` of a quantity in SI units; what takes
        the path of a batch file takes it too, and reads its files again

    Raises
    ------
    Refused : with every finding in both files, each with its key path
    TypeError : for what is no path

    Examples
    --------
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> case = lam.read_batch(files("laminate.examples") / "mast" / "batch.toml")
    >>> case.batch.batch.plies["web"]
    20
    """
    from laminate.files.batch import read_batch as read

    return read(path_of(source), str(source))


def path_of(given: Any) -> Path:
    """The path of a file or folder. Raises TypeError for what is none."""
    if not isinstance(given, str | os.PathLike):
        raise TypeError(f"a path is wanted, not {type(given).__name__}")
    if "\0" in str(given):
        raise refusal("missing-file", repr(given), "", "a path with a null character", "the path of a file")
    return Path(given)


def level_of(given: Any) -> float:
    """A confidence, as a number from 0 to 1 or as a percentage. Raises `Refused`."""
    from laminate.files.toml import quantity, read_as

    kind = quantity("fraction", 1e-9, 1.0 - 1e-9, "above 0 and below 100 %")
    return float(read_as(kind, as_percent(given), "confidence").value)


def as_percent(given: Any) -> Any:
    """A plain number from 0 to 1 as a percentage; all else as it is."""
    with suppress(TypeError, ValueError):
        if not isinstance(given, bool) and 0.0 <= (number := float(given)) <= 1.0:
            return f"{100.0 * number:.15g} %"
    return given


@contextmanager
def by_parameters() -> Iterator[None]:
    """Tell findings at the parameters of a function that are told at options as typed."""
    try:
        yield
    except Refused as refusal:
        raise Refused(
            replace(p, place=p.place[2:].replace("-", "_")) if p.place.startswith("--") else p
            for p in refusal.problems
        ) from None


class Call:
    """One call.

    source: path of a part or batch file, tables of a part, a `Part`, or None where options describe one;
    given: option -> what the caller gives, None where nothing; from_command_line: whether that gives them,
    places are as typed, and counts are text. Raises TypeError for an option that the question does not have.

    name: of the file, '' without one. Once it is read: part: None where something is wrong with the options;
    made: values of the batch's lots; batch: None for a part; stacks: a laminate given by its thickness.
    """

    def __init__(
        self, question: Question, source: Any, given: Mapping[str, object], *, from_command_line: bool = False
    ) -> None:
        options = question.options
        for name in given:
            if name not in options:
                near = did_you_mean(name, list(options))
                raise TypeError(f"no parameter '{name}'{'; ' if near else ''}{near}")
        self.question, self.from_command_line, self.problems = question, from_command_line, list[Problem]()
        there = {name: value for name, value in given.items() if value is not None}
        counted = {name: value for name, value in there.items() if options[name].kind in (Counts, Names)}
        if not (source is None or isinstance(source, Mapping)):
            from laminate.files.part import Part

            source = source if isinstance(source, Part) else str(path_of(source))
        texts = call_text({"source": source, **{n: v for n, v in there.items() if n not in counted}})
        for name, text in texts.items():
            whole = isinstance(text, float) and text.is_integer()
            if whole and name in options and options[name].kind is int:
                texts[name] = int(text)  # 2.0 of a table of numbers
        self.source, self.given = texts.pop("source"), {**texts, **counted}
        self.name = source if isinstance(source, str) else "" if source is None else CALL
        for name in [name for name in self.given if options[name].kind is bool]:
            if not isinstance(self.given[name], bool):
                self.say("wrong-value", name, repr(self.given[name]), "True or False")
        for name in self.given:
            if options[name].kind is Names and not self.listed(name):
                self.problems.append(too_few("", self.place(name), 0, "names", "one or more, None for all"))
        self.part: Part | None = None
        self.made: Ingredients | None = None
        self.batch: Any = None
        self.stacks: Stacks | None = None

    def read(self) -> Part | None:
        """The part of the source, or the one that options describe."""
        apart = {name: value for name, value in self.given.items() if name in self.question.without_file}
        if self.source is None:
            self.described = PartFromOptions(apart, self.question.name, self.place)
            self.part = self.described.part()
            self.problems += self.described.problems
            self.stacks = self._stacks() if self.described.stack else None
            return self.part
        for name, value in apart.items():
            expected = "no such option with a file"
            self.say("option-beside-file", name, f"'{value}'", expected, "write it in the file")
        if isinstance(self.source, str):
            from laminate.files.named_file import NamedFile
            from laminate.files.toml import load

            if "batch" in load(NamedFile.at(Path(self.source)))[0]:
                case = read_batch(self.source)
                self.part, self.made, self.batch = case.part, case.ingredients(), case.batch
                return self.part
        self.part = read_part(self.source)
        return self.part

    def _stacks(self) -> Stacks | None:
        """The thicknesses of a laminate that is not given by its prepreg."""
        from laminate.files.toml import Length
        from laminate.press.cores import Stacks

        full, laid_up, bled = (self.quantity(name, Length) for name in STACK)
        self.problems = list(dict.fromkeys(self.problems))  # what is wrong with one is told with the part too
        if full and bled and bled.above(full):
            self._disordered("stack_bled", bled, "above", "stack", full)
        if laid_up and bled and bled.above(laid_up):
            self._disordered("stack_laid_up", laid_up, "below", "stack_bled", bled)
        return Stacks(full, laid_up, bled) if full else None

    def _disordered(self, name: str, value: SIValue, relation: str, other: str, than: SIValue) -> None:
        """Note a finding on two options out of order; relation: 'above' or 'below'."""
        where = f"{relation} {self.place(other)}"
        place, expected = self.place(name), f"not {where}"
        self.problems.append(wrong_order("", place, value.text, where, than.text, expected))

    def place(self, name: str) -> str:
        """An option as the caller wrote it."""
        flag = self.question.options[name].flag if name in self.question.options else ""
        return flag or f"--{name.replace('_', '-')}" if self.from_command_line else name

    def say(self, code: str, name: str, found: str, expected: str, hint: str = "") -> None:
        """Note a finding on an option."""
        self.problems.append(Problem(code, "", self.place(name), found, expected, hint))

    def quantity(self, name: str, kind: Any, default: str | None = None) -> Any:
        """A quantity, None where it is not given; kind: one of the types of `laminate.files.toml`."""
        from laminate.files.toml import read_as

        given = self.given.get(name, default)
        if given is None:
            return None
        try:
            return read_as(kind, given, self.place(name))
        except Refused as refusal:
            self.problems += refusal.problems
            return None

    def share(self, name: str, kind: Any, *, some: bool = False) -> Any:
        """A share that is less than the whole; some: and more than nothing."""
        share = self.quantity(name, kind)
        if share is not None and (share.value >= 1.0 or (some and share.value <= 0.0)):
            expected = "above 0 and below 100 %" if some else "less than 100 %"
            self.say("wrong-value", name, f"'{share.text}'", expected)
        return share

    def whole(self, name: str, least: int, given: Any) -> int:
        """A count, `least` or more, and no more than the option can be."""
        typed = isinstance(given, str) and given.isascii() and given.isdigit()
        option = self.question.options[name]
        count = int(given) if typed and (self.from_command_line or option.kind is Any) else file_text(given)
        most = option.bounds[1] or MOST
        real = isinstance(count, Real) and not isinstance(count, bool)
        if not real or not least <= count <= most or int(count) != count:
            top = "or more" if most == MOST and not (real and count > most) else f"to {most}"
            self.say("wrong-value", name, repr(given), f"a whole number, {least} {top}")
            return least
        return int(count)

    def counts(self, name: str, noun: str, least: Mapping[str, int] | None) -> dict[str, int]:
        """Counts by name, of a mapping, of `NAME=COUNT` as typed, or of one count for the only name asked.

        noun: what is counted; least: of each name, None where any is known.
        """
        given = self.given.get(name)
        if isinstance(given, Mapping):
            pairs = [(key, count, f"'{key}'") for key, count in given.items()]
        elif self.from_command_line:
            pairs = [(*text.rpartition("=")[::2], f"'{text}'") for text in given or ()]
        else:
            pairs = [("", given, repr(given))] if given is not None else []
        counts: dict[str, int] = {}
        sole = list(least) if least and len(least) == 1 else self.listed(f"{noun}s")
        for key, count, text in pairs:
            only = sole[0] if len(sole) == 1 and not key else key
            if only in counts:
                first = f"as '{counts[only]}'"
                self.problems.append(given_twice("", self.place(name), text, first, f"one count a {noun}"))
            elif (least is None and key) or (least and only in least):
                counts[only] = self.whole(name, least[only] if least else 1, count)
            elif not key and not self.from_command_line:
                names = f": {', '.join(least)}" if least else ", by its name"
                self.say("wrong-value", name, text, f"a count for each {noun}{names}")
            else:
                expected = f"{noun.upper()}=COUNT, a {noun} of {', '.join(least or ['the file'])}"
                hint = near_hint(str(key), least) if key and least else ""
                self.say("unknown-name", name, text, expected, hint)
        return counts

    def zone_counts(self) -> dict[str, int]:
        """All fiber plies by zone: no fewer than the zone has fixed."""
        from laminate.press.stack import fixed_plies

        part, least = self.part, {"laminate": 1}
        if part is not None:
            least = {name: max(fixed_plies(part, zone), 1) for name, zone in part.zone.items()}
        return self.counts("plies", "zone", least)

    def listed(self, name: str) -> list[str]:
        """Names, one or several, as a list."""
        given = self.given.get(name, ())
        several = isinstance(given, Collection) and not isinstance(given, str)
        return [str(text) for text in (given if several else [given])]

    def names(self, name: str, known: Collection[str]) -> list[str] | None:
        """The names of a file that are asked for, None for all."""
        names = self.listed(name)
        if not names:
            return None
        if self.source is None:
            self.say("option-without-file", name, f"'{names[0]}'", "a part file")
            return None
        for missing in [text for text in names if text not in known]:
            expected = f"one of {', '.join(known)}" if known else "a part file that has one"
            self.say("unknown-name", name, f"'{missing}'", expected, near_hint(missing, known))
        return list(dict.fromkeys(names))

    def runs(self) -> dict[str, int]:
        """Trials and seed of the Monte Carlo, where they are given."""
        names = [name for name in ("draws", "seed") if name in self.given]
        return {n: self.whole(n, self.question.options[n].bounds[0], self.given[n]) for n in names}

    def check(self) -> None:
        """Raise `Refused` with everything that was found."""
        refuse_all(self.problems)

    def answer(self, ask: Callable[..., T], **wanted: Any) -> T:
        """What a question says of the part. Raises `Refused` with every finding, each at its option."""
        self.check()
        try:
            return ask(self.part, self.name, **wanted)
        except Refused as refusal:
            if self.source is not None:
                raise
            raise Refused(self.described.told(refusal.problems)) from None
