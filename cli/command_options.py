"""Commands whose options come from tables: those of a question, and how its answer is wanted."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from .answers import print_answer
from .options import Options, flag, option

if TYPE_CHECKING:
    from laminate.front.options import Option, Question


US_HELP = "metric, or us for inches, pounds, psi and degF on the screen"
OUTPUT_OPTIONS: dict[str, tuple[Any, Any, Callable[[str], Any], str]] = {
    "html": (Path | None, None, partial(option, "FILE"), "also write one self-contained page"),
    "why": (bool, False, partial(flag, "--why"), "with reasons and assumptions"),
    "units": (str, "metric", partial(option, "WORD"), US_HELP),
    "as_json": (bool, False, partial(flag, "--json"), "the answer as JSON, metric"),
}
"""How an answer can be wanted: type, default, option and words."""


def command(
    question: Question | None = None, how: str = "html why units", page: str = "", **words: str
) -> Callable[[Callable[..., Any]], Callable[..., None]]:
    """Print the answer of a command, which has the options of a question in place of its `given` by name.

    how: which of `OUTPUT_OPTIONS` are taken, and JSON; page: as of `print_answer`; words: of those, where a
    command has its own. A command that has a parameter `options` prints its answer itself.
    """

    def with_options(function: Callable[..., Any]) -> Callable[..., None]:
        function.__annotations__.pop("return", None)  # of a class that is slow to import
        signature = inspect.signature(function, eval_str=True)
        ways = [*_how(how, words)]
        parameters: list[inspect.Parameter] = []
        for parameter in signature.parameters.values():
            parameters += _of(question) if question and parameter.name == "given" else [parameter]
        mine = [p for p in parameters if p.name != "options"]
        keyword = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in (*mine, *ways)]

        def run(**taken: Any) -> None:
            options = Options(**{way.name: taken.pop(way.name) for way in ways})
            if question:
                given = {name: taken.pop(name) for name in question.options}
                there = [name for name, value in given.items() if value is not False and value != []]
                taken["given"] = {name: given[name] for name in there}
            if "options" in signature.parameters:
                function(**taken, options=options)
            else:
                print_answer(options, lambda: function(**taken), page=page)

        run.__name__, run.__doc__, run.__module__ = function.__name__, function.__doc__, function.__module__
        run.__signature__ = signature.replace(parameters=keyword)  # type: ignore[attr-defined]
        run.__annotations__ = {p.name: p.annotation for p in keyword}
        return run

    return with_options


def _how(names: str, words: Mapping[str, str]) -> Iterator[inspect.Parameter]:
    for name in (*names.split(), "as_json"):
        kind, default, entry, usual = OUTPUT_OPTIONS[name]
        taken: Any = Annotated[kind, entry(words.get(name, usual))]
        yield inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=taken)


def _of(question: Question) -> Iterator[inspect.Parameter]:
    for name, entry in question.options.items():
        apart = {"rich_help_panel": question.heading} if name in question.without_file else {}
        taken = _typer_option(name, entry, **apart)
        yield inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=None, annotation=taken)


def _typer_option(name: str, entry: Option, **more: Any) -> Any:
    """What the command line takes for an option: numbers are read there, all else is text."""
    from laminate.front.options import Counts, File, Names

    if entry.kind is bool:
        return Annotated[bool, flag(f"--{name}", entry.help)]
    if entry.kind is int:
        more |= {"min": entry.bounds[0], "max": entry.bounds[1]}
    kind = {int: int, File: Path, str: str, Any: str}.get(entry.kind, list[str])
    flags, help_words = [entry.flag] if entry.flag else [], entry.help
    if entry.kind in (Names, Counts):
        help_words += "; repeatable"
    return Annotated[kind | None, option(entry.metavar, help_words, *flags, **more)]
