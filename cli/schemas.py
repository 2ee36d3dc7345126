"""The command `schema`: JSON Schemas of the files, for editors and other programs."""

from __future__ import annotations

from typing import Annotated

from laminate.show.blocks import Grid, Sentence

from . import tables
from .answers import json_text, print_json
from .options import argument, flag, one_of

_HOW = (
    "laminate schema part > part.schema.json writes one to a file. With '#:schema part.schema.json' as the "
    "first line of part.toml, editors that follow it complete keys, explain them and mark unknown ones."
)


def schema(
    kind: Annotated[str, argument("KIND", "part, batch, record, or a command, for its answer")] = "",
    as_json: Annotated[bool, flag("--json", "the kinds as JSON; a schema is JSON anyway")] = False,
) -> None:
    """Show the JSON Schema of a file, a record or an answer.

    It goes to standard output, ready to be written to a file. Without KIND the kinds are listed. For an
    editor, write the schema to a file and name that in the first line of part.toml: #:schema
    part.schema.json
    """
    from laminate.show import schemas

    if not kind:
        if as_json:
            print_json({"schemas": schemas.KINDS})
            return
        tables.print_blocks([Grid(("schema", "of"), tuple(schemas.KINDS.items())), Sentence(_HOW)])
        return
    print(json_text(schemas.schema(one_of("KIND", kind, schemas.KINDS)), indented=True))
