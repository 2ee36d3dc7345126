"""The command `cycle`: whether the press pressed before the resin gelled, and above its vapor."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from .answers import give_out
from .options import AsJson, Html, Options, Units, Why, argument, option


def cycle(
    file: Annotated[
        Path, argument("BATCH|PART", "batch.toml with the press's log, or part.toml with planned cycles")
    ],
    plies: Annotated[list[str] | None, option("ZONE=COUNT", "all fiber plies, of a plan; repeatable")] = None,
    stored_humidity: Annotated[
        str | None, option("VALUE", "relative, where the prepreg is stored, of a plan")
    ] = None,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Check that the press acts before gel and above vapor pressure.

    From the log of a batch, or for the cycles that a part plans. Exit status 1 where a zone is pressed late,
    its vapor presses more, or nothing can be said. For screening.
    """
    from laminate.curing.cycling import cycle as judged
    from laminate.files.toml import Fraction

    options = Options(units, why=why, as_json=as_json, html=html)
    humidity = options.quantity("--stored-humidity", stored_humidity, Fraction)
    counts = {}
    for ply in plies or []:
        zone, _, number = ply.rpartition("=")
        counts[zone] = options.count("--plies", number, 1)
    options.check()
    answer = judged(file, stored_humidity=humidity, plies=counts)
    from laminate.show.cycle_json import cycles_json
    from laminate.show.cycle_page import cycle_document

    give_out(
        options,
        lambda: cycles_json(answer),
        lambda: cycle_document(answer, units),
        has_page=True,
        good=answer.good,
    )
