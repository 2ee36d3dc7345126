"""Commands whose options stand for keys of a part file: the table of options makes them."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Annotated, Any

from .options import option

if TYPE_CHECKING:
    from laminate.front.options import Option

APART = "Without a file these options describe the part"


def keyed(
    table: Mapping[str, Option], into: str = "given", panel: str = APART
) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command every option of a table in place of one parameter, which gets a mapping by name."""

    def with_options(command: Callable[..., None]) -> Callable[..., None]:
        signature = inspect.signature(command, eval_str=True)
        parameters: list[inspect.Parameter] = []
        for parameter in signature.parameters.values():
            parameters += _of(table, panel) if parameter.name == into else [parameter]
        keyword = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in parameters]

        def run(**options: Any) -> None:
            given = {name: options.pop(name) for name in table}
            command(**{into: given}, **options)

        run.__name__, run.__doc__, run.__module__ = command.__name__, command.__doc__, command.__module__
        run.__signature__ = signature.replace(parameters=keyword)  # type: ignore[attr-defined]
        run.__annotations__ = {p.name: p.annotation for p in keyword}
        return run

    return with_options


def _of(table: Mapping[str, Option], panel: str) -> list[inspect.Parameter]:
    kind = inspect.Parameter.KEYWORD_ONLY
    parameters = []
    for name, entry in table.items():
        taken: Any = Annotated[entry.kind | None, option(entry.metavar, entry.help, rich_help_panel=panel)]
        parameters.append(inspect.Parameter(name, kind, default=None, annotation=taken))
    return parameters
