"""Options and arguments of commands, and reading them like keys of a file: every finding at once."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any, TypeVar

import typer

from laminate.front.options import UNITS
from laminate.values.problems import Problem, Refused, near_hint, refusal, wrong_word

T = TypeVar("T")


def argument(metavar: str, words: str) -> Any:
    """An argument, and what help says of it."""
    return typer.Argument(metavar=metavar, help=words)


def option(metavar: str, words: str, *names: str, **more: Any) -> Any:
    """An option that takes a value; names: left out, that of its parameter; more: bounds, where it stands."""
    return typer.Option(*names, metavar=metavar, help=words, **more)


def flag(name: str, words: str) -> Any:
    """An option that takes no value."""
    return typer.Option(name, help=words)


def one_of(place: str, word: str, known: Collection[str], listed: Collection[str] = ()) -> str:
    """The word of a list that was meant, in any case; listed: what a refusal lists in its place.

    Raises `Refused`.
    """
    folded = {name.casefold(): name for name in known}
    if word.strip().casefold() not in folded:
        expected = f"one of {', '.join(listed or known)}"
        raise refusal("unknown-word", "", place, f"'{word}'", expected, near_hint(word, known))
    return folded[word.strip().casefold()]


class Options:
    """How an answer is wanted, as the options of these names say; problems: what is wrong with them."""

    def __init__(
        self, units: str = "metric", *, why: bool = False, as_json: bool = False, html: Path | None = None
    ) -> None:
        self.units, self.why, self.as_json, self.html = units, why, as_json, html
        self.problems: list[Problem] = []
        if units not in UNITS:
            self.problems.append(wrong_word("", "--units", units, UNITS))

    def reads(self, read: Callable[[], T]) -> T:
        """What `read` gives; its findings are raised together with those of the options."""
        try:
            result = read()
        except Refused as refusal:
            raise Refused([*self.problems, *refusal.problems]) from None
        if self.problems:
            raise Refused(self.problems)
        return result
