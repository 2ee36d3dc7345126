"""Options and arguments of commands, and reading them like keys of a file: every finding at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from laminate.values.problems import Problem, Refused, near_hint, wrong_word

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from laminate.files.part import Part
    from laminate.press.pressing import Stacks
    from laminate.values.units import Value

T = TypeVar("T")
UNITS = ("metric", "us")


def argument(metavar: str, words: str) -> Any:
    """An argument, and what help says of it."""
    return typer.Argument(metavar=metavar, help=words)


def option(metavar: str, words: str, *names: str, **more: Any) -> Any:
    """An option that takes a value; names: left out, that of its parameter; more: bounds, where it stands."""
    return typer.Option(*names, metavar=metavar, help=words, **more)


def quantity(words: str) -> Any:
    """An option that takes a quantity."""
    return option("QUANTITY", words)


def flag(name: str, words: str) -> Any:
    """An option that takes no value."""
    return typer.Option(name, help=words)


Html = Annotated[Path | None, option("FILE", "also write one self-contained page")]
Units = Annotated[str, option("WORD", "metric, or us for inches, pounds, psi and degF on the screen")]
Why = Annotated[bool, flag("--why", "with reasons and assumptions")]
AsJson = Annotated[bool, flag("--json", "the answer as JSON, metric")]


class Options:
    """Reads options one by one and keeps what is wrong with them; `check` raises it.

    units, why, as_json, html: how the answer is wanted, as the options of these names say.
    """

    def __init__(
        self, units: str, *, why: bool = False, as_json: bool = False, html: Path | None = None
    ) -> None:
        self.why, self.as_json, self.html = why, as_json, html
        self.problems: list[Problem] = []
        self.word("--units", units, UNITS)

    def unknown(self, place: str, text: str, expected: str, name: str, known: Collection[str]) -> None:
        """Note a finding on a name in an option that points to nothing."""
        self.say("unknown-name", place, f"'{text}'", expected, near_hint(name, known) if name else "")

    def say(self, code: str, place: str, found: str, expected: str, hint: str = "") -> None:
        """Note a finding."""
        self.problems.append(Problem(code, "", place, found, expected, hint))

    def quantity(self, option: str, text: str | None, kind: Any) -> Value | None:
        """A quantity, None where the option is not given.

        kind: one of the types of `laminate.files.toml`, which know unit and physical range.
        """
        if text is None:
            return None
        from laminate.files.toml import read_as

        value: Value | None = self._noted(lambda: read_as(kind, text, option))
        return value

    def count(self, option: str, text: str, lowest: int = 1) -> int:
        """A whole number, `lowest` or more."""
        if not (text.isascii() and text.isdigit()) or int(text) < lowest:
            self.say("wrong-value", option, f"'{text}'", f"a whole number, {lowest} or more")
            return lowest
        return int(text)

    def word(self, option: str, text: str, known: tuple[str, ...]) -> None:
        """Note a finding where a text is none of a few words."""
        if text not in known:
            self.problems.append(wrong_word("", option, text, known))

    def part(self, given: Mapping[str, Any], command: str) -> Part | None:
        """The part that options describe, None where something is wrong with them."""
        from laminate.front.options import part_of_options

        return self._noted(lambda: part_of_options(given, command, spelled=True))

    def stacks(self, given: Mapping[str, Any]) -> Stacks | None:
        """The thicknesses in place of the prepreg, None where none are given or something is wrong."""
        from laminate.front.options import stacks_of_options

        return self._noted(lambda: stacks_of_options(given, spelled=True))

    def _noted(self, read: Callable[[], T | None]) -> T | None:
        try:
            return read()
        except Refused as refusal:
            self.problems += refusal.problems
            return None

    def reads(self, read: Callable[[], T]) -> T:
        """What `read` gives; its findings are raised together with those of the options."""
        try:
            result = read()
        except Refused as refusal:
            raise Refused([*self.problems, *refusal.problems]) from None
        self.check()
        return result

    def check(self) -> None:
        """Raise `Refused` with everything that was found."""
        if self.problems:
            raise Refused(self.problems)
