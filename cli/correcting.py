"""The engineer's `correct`: predicted against achieved, and what would center the next batch."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from .answers import give_out
from .options import AsJson, Html, Options, Units, Why, argument, flag


def correct(
    batches: Annotated[list[Path], argument("BATCH", "batch.toml of one or more batches of one part")],
    nominal: Annotated[bool, flag("--nominal", "take the next batch's material from the part file")] = False,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Compare batches with prediction; propose what centers the next.

    Between rigid faces a gap, core width or ply count; under rubber plies, resin, fiber or bleed, with the
    pressures before and after. Each is changed alone. The person decides.
    """
    from laminate.front.batch_calls import correct as compared

    options = Options(units, why=why, as_json=as_json, html=html)
    options.check()
    answer = compared(*batches, nominal=nominal)
    give_out(options, answer.to_dict, lambda: answer.document(units), has_page=True)
