"""The command `cycle`: whether the press pressed before the resin gelled, and above its vapor."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .answers import print_json


def cycle(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="BATCH|PART", help="batch.toml with the press's log, or part.toml with planned cycles"
        ),
    ],
    plies: Annotated[
        list[str] | None,
        typer.Option(metavar="ZONE=COUNT", help="all fiber plies, of a plan; repeatable", show_default=False),
    ] = None,
    stored_humidity: Annotated[
        str | None,
        typer.Option(
            metavar="VALUE", help="relative, where the prepreg is stored, of a plan", show_default=False
        ),
    ] = None,
    html: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="also write one self-contained page with the curves", show_default=False
        ),
    ] = None,
    why: Annotated[bool, typer.Option("--why", help="with everything that the answer rests on")] = False,
    units: Annotated[
        str, typer.Option(metavar="WORD", help="metric, or us for degF and psi on the screen")
    ] = "metric",
    as_json: Annotated[bool, typer.Option("--json", help="the answer as JSON, metric")] = False,
) -> None:
    """Check that the press acts before gel and above vapor pressure.

    From the log of a batch, or for the cycles that a part plans. Exit status 1 where a zone is pressed late,
    its vapor presses more, or nothing can be said. For screening.
    """
    from laminate.curing.cycling import cycle as judged
    from laminate.files.toml import Fraction

    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    humidity = options.quantity("--stored-humidity", stored_humidity, Fraction)
    counts = {}
    for one in plies or []:
        zone, _, number = one.rpartition("=")
        counts[zone] = options.count("--plies", number, 1)
    options.check()
    found = judged(file, stored_humidity=humidity, plies=counts)
    if html is not None:
        from laminate.show.cycle_page import cycle_page
        from laminate.values.durable import write_page

        write_page(html, cycle_page(found, units).encode())
    if as_json:
        from laminate.show.cycle_json import cycles_json

        print_json({**cycles_json(found), "html": str(html) if html else None})
    else:
        from laminate.show.cycle_words import cycle_blocks

        from .blocks import ending, show

        short = cycle_blocks(found, units, why=False)
        show([*cycle_blocks(found, units), *ending(short)] if why else short, html)
    if not found.good:
        raise typer.Exit(1)
