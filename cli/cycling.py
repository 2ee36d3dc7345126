"""The command `cycle`: whether the press pressed before the resin gelled, and above its vapor."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .answers import print_json


def cycle(
    file: Annotated[Path, typer.Argument(metavar="BATCH", help="batch.toml with the press's log")],
    html: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="also write one self-contained page with the curves", show_default=False
        ),
    ] = None,
    units: Annotated[
        str, typer.Option(metavar="WORD", help="metric, or us for degF and psi on the screen")
    ] = "metric",
    as_json: Annotated[bool, typer.Option("--json", help="the answer as JSON, metric")] = False,
) -> None:
    """Say whether the press pressed before the resin gelled, and above the vapor of its water.

    Exit status 1 where a zone pressed late, its vapor pressed more, or nothing can be said. For screening.
    """
    from laminate.curing.cycling import cycle as judged

    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    options.check()
    found = judged(file)
    if html is not None:
        from laminate.show.cycle_page import cycle_page
        from laminate.values.durable import write_page

        write_page(html, cycle_page(found, units).encode())
    if as_json:
        from laminate.show.cycle_json import cycles_json

        print_json({**cycles_json(found), "html": str(html) if html else None})
    else:
        from laminate.show.cycle_words import cycle_blocks

        from .blocks import show

        show(cycle_blocks(found, units))
        if html is not None:
            print(f"\nThe same with curves: {html}")
    if not found.good:
        raise typer.Exit(1)
