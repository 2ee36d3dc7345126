"""Commands whose options come from the one table of the library."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from .options import flag, option

if TYPE_CHECKING:
    from laminate.front.options import Option, Question


def asks(question: Question) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command every option of a question in place of its parameter `given`, a mapping by name."""

    def with_options(command: Callable[..., None]) -> Callable[..., None]:
        signature = inspect.signature(command, eval_str=True)
        parameters: list[inspect.Parameter] = []
        for parameter in signature.parameters.values():
            parameters += _of(question) if parameter.name == "given" else [parameter]
        keyword = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in parameters]

        def run(**options: Any) -> None:
            given = {name: options.pop(name) for name in question.options}
            there = {name: value for name, value in given.items() if value is not False and value != []}
            command(given=there, **options)

        run.__name__, run.__doc__, run.__module__ = command.__name__, command.__doc__, command.__module__
        run.__signature__ = signature.replace(parameters=keyword)  # type: ignore[attr-defined]
        run.__annotations__ = {p.name: p.annotation for p in keyword}
        return run

    return with_options


def _of(question: Question) -> Iterator[inspect.Parameter]:
    kind = inspect.Parameter.KEYWORD_ONLY
    for name, entry in question.own.items():
        yield inspect.Parameter(name, kind, default=None, annotation=_taken(name, entry))
    for name, entry in question.apart.items():
        taken = _taken(name, entry, rich_help_panel=question.heading)
        yield inspect.Parameter(name, kind, default=None, annotation=taken)


def _taken(name: str, entry: Option, **more: Any) -> Any:
    """What the command line takes for an option: numbers are read there, all else is text."""
    if entry.kind is bool:
        return Annotated[bool, flag(f"--{name}", entry.help)]
    if entry.kind is int:
        more |= {"min": entry.bounds[0], "max": entry.bounds[1]}
    kind = entry.kind if entry.kind in (int, Path) else str if entry.kind in (str, Any) else list[str]
    flags = [entry.flag] if entry.flag else []
    return Annotated[kind | None, option(entry.metavar, entry.help, *flags, **more)]
