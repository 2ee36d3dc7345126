"""The engineer's `correct`: predicted against achieved, and what would center the next batch."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .answers import print_json


def correct(
    batches: Annotated[
        list[Path], typer.Argument(metavar="BATCH", help="batch.toml of one or more batches of one part")
    ],
    nominal: Annotated[
        bool, typer.Option("--nominal", help="take the next batch's material from the part file")
    ] = False,
    html: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="also write one self-contained page", show_default=False),
    ] = None,
    why: Annotated[bool, typer.Option("--why", help="with reasons and assumptions")] = False,
    units: Annotated[
        str, typer.Option(metavar="WORD", help="metric, or us for inches on the screen")
    ] = "metric",
    as_json: Annotated[bool, typer.Option("--json", help="the answer as JSON, metric")] = False,
) -> None:
    """Compare batches with prediction; propose what centers the next.

    Between rigid faces a gap, core width or ply count; under rubber plies, resin, fiber or bleed, with the
    pressures before and after. Each is changed alone. The person decides.
    """
    from laminate.history.correcting import correct as compared

    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    options.check()
    found = compared(batches, nominal=nominal)
    if html is not None:
        from laminate.show.correct_page import correct_page
        from laminate.values.durable import write_page

        write_page(html, correct_page(found, units).encode())
    if as_json:
        from laminate.show.correct_json import correction_json

        print_json({**correction_json(found), "html": str(html) if html else None})
    else:
        from laminate.show.correct_words import blocks, last_line

        from .blocks import show

        show([*blocks(found, units, why=why), last_line(found, units)], html)
