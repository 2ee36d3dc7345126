"""Commands whose options stand for keys of a part file: the table of options makes them."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from laminate.front.options import Option

GIVEN = "given"
APART = "Without a file these options describe the part"


def keyed(table: Mapping[str, Option]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command every option of a table in place of its parameter `given`, a mapping by name."""

    def with_options(command: Callable[..., None]) -> Callable[..., None]:
        signature = inspect.signature(command, eval_str=True)
        parameters: list[inspect.Parameter] = []
        for parameter in signature.parameters.values():
            parameters += _of(table) if parameter.name == GIVEN else [parameter]
        keyword = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in parameters]

        def run(**options: Any) -> None:
            given = {name: options.pop(name) for name in table}
            command(**{GIVEN: given}, **options)

        run.__name__, run.__doc__, run.__module__ = command.__name__, command.__doc__, command.__module__
        run.__signature__ = signature.replace(parameters=keyword)  # type: ignore[attr-defined]
        run.__annotations__ = {p.name: p.annotation for p in keyword}
        return run

    return with_options


def _of(table: Mapping[str, Option]) -> list[inspect.Parameter]:
    return [
        inspect.Parameter(
            name,
            inspect.Parameter.KEYWORD_ONLY,
            default=None,
            annotation=Annotated[
                option.kind | None,
                typer.Option(
                    metavar=option.metavar, help=option.help, show_default=False, rich_help_panel=APART
                ),
            ],
        )
        for name, option in table.items()
    ]
