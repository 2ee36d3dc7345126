"""The engineer's `core`: what an expanding core does, from a file or from options alone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from laminate.front.options import OF_CORE

from .answers import give_out
from .keyed import keyed
from .options import AsJson, Html, Options, Units, Why, argument, option, quantity


@keyed(OF_CORE)
def core(
    file: Annotated[Path | None, argument("FILE", "part.toml, or batch.toml for lots, plies, uses")] = None,
    given: Any = None,
    gap_wanted: Annotated[str | None, quantity("hot gap to size core and dummy for")] = None,
    moldings: Annotated[
        list[str] | None, option("COUNT", "uses so far; with several cores CORE=COUNT, repeatable")
    ] = None,
    core_name: Annotated[
        list[str] | None, option("NAME", "of the file; repeatable; default: all", "--core")
    ] = None,
    plies: Annotated[
        list[str] | None, option("ZONE=COUNT", "all fiber plies; default: the count of 'laminate fill'")
    ] = None,
    stored_humidity: Annotated[str | None, quantity("relative, where the prepreg was stored")] = None,
    draws: Annotated[
        int, option("COUNT", "Monte Carlo trials; default: 20000", min=1000, max=1_000_000)
    ] = 20_000,
    seed: Annotated[int, option("NUMBER", "of the random numbers; default: 1", min=0)] = 1,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Find how hard an expanding core presses, and its cold size.

    From a part file, or from options alone: the core, and --stack or the material. Exit status 1 where the
    nominal pressure is above the clamp or a core is past its limit of moldings. A locked core can overload
    clamp, bolts and tool.
    """
    from laminate.files.toml import Fraction, Length

    options = Options(units, why=why, as_json=as_json, html=html)
    gap = options.quantity("--gap-wanted", gap_wanted, Length)
    humidity = options.quantity("--stored-humidity", stored_humidity, Fraction)
    from laminate.front.calls import humidity_of

    from .engineer_input import asked, counts_of, moldings_of, names_of

    about = asked(options, file, given, "core")
    part, batch = about.part, about.batch
    counts = counts_of(options, part, plies)
    cores = names_of(options, about, core_name, "--core")
    used = moldings_of(options, part, batch, moldings)
    options.check()
    assert part is not None
    from laminate.press.pressing import core as expanding

    laid = {zone: n for zone, n in dict(batch.batch.plies).items() if zone in part.zone} if batch else {}
    with about.at_options:
        answer = expanding(
            part,
            about.name,
            cores=cores,
            made=about.made,
            plies={**laid, **counts},
            stacks=about.stacks,
            gap_wanted=gap.value if gap else None,
            moldings=used,
            humidity=humidity or humidity_of(batch),
            draws=draws,
            seed=seed,
        )
    from laminate.show.core_json import core_json
    from laminate.show.engineer_page import core_document

    give_out(
        options,
        lambda: core_json(answer),
        lambda: core_document(answer, units),
        has_page=True,
        good=answer.good,
    )
