"""Completion in a shell: commands, options, and the names that a part file gives its zones and cores."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable
from importlib import import_module
from pathlib import Path
from typing import Any

import typer

VARIABLE = "_LAMINATE_COMPLETE"
"""Set by the shell where it asks for completions, or once for the lines that make it ask."""


def _named_in(table: str) -> Iterable[str]:
    """Names of a table of the part file on the line, or of the one that its batch file names."""
    line = os.environ.get("COMP_WORDS") or os.environ.get("_TYPER_COMPLETE_ARGS") or ""
    for path in (Path(word) for word in line.split() if word.endswith(".toml")):
        try:
            content = tomllib.loads(path.read_text("utf-8"))
            part = content.get("batch", {}).get("part")
            if part is not None:
                content = tomllib.loads((path.parent / part).read_text("utf-8"))
            yield from content.get(table, {})
        except (OSError, ValueError, AttributeError, TypeError):
            continue


def _of(module: str, name: str) -> Callable[[], Iterable[str]]:
    """The words that a module holds under a name, loaded where they are asked for."""
    return lambda: getattr(import_module(module), name)


_ROLES = _of("laminate.records.statement", "ROLES")
WORDS: dict[str, Callable[[], Iterable[str]]] = {
    "--zone": lambda: _named_in("zone"),
    "--core": lambda: _named_in("core"),
    "--plies": lambda: (f"{zone}=" for zone in _named_in("zone")),
    "--role": _ROLES,
    "--need": _ROLES,
    "--units": _of("laminate.front.options", "UNITS"),
    "--case": _of(f"{__package__}.general", "CASES"),
    "--kind": _of("laminate.files.reference_tables", "KINDS"),
    "kind": _of("laminate.show.schemas", "KINDS"),
}
"""What an option, or an argument by its name, can be."""


def answer() -> int:
    """Answer a shell that asks for completions; returns the exit status."""
    from typer._completion_classes import completion_init
    from typer.completion import shell_complete

    from .program import build

    completion_init()
    program: Any = typer.main.get_command(build())
    for command in program.commands.values():
        for parameter in command.params:
            words = next((WORDS[name] for name in parameter.opts if name in WORDS), None)
            if words is not None:
                parameter._custom_shell_complete = _begun(words)
    return shell_complete(program, {}, "laminate", VARIABLE, os.environ[VARIABLE])


def _begun(words: Callable[[], Iterable[str]]) -> Callable[[typer.Context, object, str], list[str]]:
    return lambda ctx, parameter, begun: [word for word in words() if word.startswith(begun)]
