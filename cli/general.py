"""The command `example`: a complete case to begin with."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from laminate.values.problems import Problem, Refused

from .answers import print_json

if TYPE_CHECKING:
    pass

CASE = "mast"


def example(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="where to write; made where it does not exist")
    ],
    as_json: Annotated[bool, typer.Option("--json", help="the written files as JSON")] = False,
) -> None:
    """Write the worked example: part, batch and coupons of an invented case.

    A file that is already there is never overwritten.
    """
    from importlib.resources import files

    case = sorted((files("laminate.examples") / CASE).iterdir(), key=lambda file: file.name)
    there = [folder / file.name for file in case if (folder / file.name).exists()]
    if there:
        hint = "nothing was written; name a new folder"
        raise Refused([Problem("file-exists", str(path), "", "already there", "", hint) for path in there])
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for file in case:
        with (folder / file.name).open("xb") as copy:
            copy.write(file.read_bytes())
        written.append(str(folder / file.name))
    if as_json:
        print_json({"written": written})
    else:
        print("\n".join(written))
