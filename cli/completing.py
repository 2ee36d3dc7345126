"""Completion in a shell: commands, options, and the names that a part file gives its zones and cores."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable, Iterable
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


def _cases() -> Iterable[str]:
    from .general import CASES

    return CASES


def _kinds() -> Iterable[str]:
    from laminate.show.schemas import KINDS

    return KINDS


def _uses() -> Iterable[str]:
    from laminate.files.reference_tables import KINDS

    return KINDS


def _roles() -> Iterable[str]:
    from laminate.records.statement import ROLES

    return ROLES


WORDS: dict[str, Callable[[], Iterable[str]]] = {
    "--zone": lambda: _named_in("zone"),
    "--core": lambda: _named_in("core"),
    "--plies": lambda: (f"{zone}=" for zone in _named_in("zone")),
    "--role": _roles,
    "--need": _roles,
    "--units": lambda: ("metric", "us"),
    "--case": _cases,
    "--kind": _uses,
    "kind": _kinds,
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
