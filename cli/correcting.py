"""The engineer's `correct`: predicted against achieved, and what would center the next batch."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .answers import AsJson, Html, Units, Why, give_out


def correct(
    batches: Annotated[
        list[Path], typer.Argument(metavar="BATCH", help="batch.toml of one or more batches of one part")
    ],
    nominal: Annotated[
        bool, typer.Option("--nominal", help="take the next batch's material from the part file")
    ] = False,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
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
    correction = compared(batches, nominal=nominal)
    from laminate.show.correct_json import correction_json
    from laminate.show.correct_page import correct_document

    give_out(
        html=html,
        has_page=True,
        as_json=as_json,
        answer=lambda: correction_json(correction),
        document=lambda: correct_document(correction, units),
        why=why,
    )
