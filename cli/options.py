"""Quantities and uncertainties given as options: read like those of a file, every finding at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from laminate.values.problems import Problem, Refused, near_hint, wrong_word

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from laminate.files.part import Part
    from laminate.press.pressing import Stacks
    from laminate.values.units import Value

T = TypeVar("T")
UNITS = ("metric", "us")


class Options:
    """Reads options one by one and keeps what is wrong with them; `check` raises it."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

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

    def word(self, option: str, text: str, known: tuple[str, ...]) -> str:
        """One of a few words."""
        if text not in known:
            self.problems.append(wrong_word("", option, text, known))
        return text

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
