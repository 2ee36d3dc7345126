"""The engineer's `fill`: how many plies fill each gap, from a file or from options alone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from laminate.front.options import OF_FILL

from .answers import give_out
from .keyed import keyed
from .options import AsJson, Html, Options, Units, Why, argument, option, quantity


@keyed(OF_FILL)
def fill(
    file: Annotated[Path | None, argument("FILE", "part.toml, or batch.toml for its lots")] = None,
    given: Any = None,
    void_content: Annotated[str | None, quantity("of the cured laminate; default: 0 %")] = None,
    zone: Annotated[list[str] | None, option("NAME", "of the file; repeatable; default: all")] = None,
    plies: Annotated[
        list[str] | None, option("COUNT", "ask about so many plies; with a file ZONE=COUNT; repeatable")
    ] = None,
    fiber_volume_wanted: Annotated[
        str | None, quantity("which gap or areal weight gives it with these plies")
    ] = None,
    chance_wanted: Annotated[str, quantity("which tolerance would bring the chance there")] = "95 %",
    stored_humidity: Annotated[
        str | None, quantity("relative, where the prepreg was stored, for its steam")
    ] = None,
    draws: Annotated[
        int, option("COUNT", "Monte Carlo trials; default: 100000", min=1000, max=5_000_000)
    ] = 100_000,
    seed: Annotated[int, option("NUMBER", "of the random numbers; default: 1", min=0)] = 1,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Find the ply count for each gap, its fiber volume and its chance.

    From a part file, or from options alone: the material, with --gap or the sizes of a room and its core.
    Exit status 1 where a zone has no count.
    """
    from laminate.files.toml import Fraction

    options = Options(units, why=why, as_json=as_json, html=html)
    void = options.quantity("--void-content", void_content, Fraction)
    volume = options.quantity("--fiber-volume-wanted", fiber_volume_wanted, Fraction)
    share = options.quantity("--chance-wanted", chance_wanted, Fraction)
    humidity = options.quantity("--stored-humidity", stored_humidity, Fraction)
    for name, value in (("--void-content", void), ("--chance-wanted", share)):
        if value is not None and value.value >= 1.0:
            options.say("wrong-value", name, f"'{value.text}'", "less than 100 %")
    if volume is not None and not 0.0 < volume.value < 1.0:
        options.say("wrong-value", "--fiber-volume-wanted", f"'{volume.text}'", "above 0 and below 100 %")
    from laminate.front.calls import humidity_of

    from .engineer_input import asked, counts_of, names_of

    about = asked(options, file, given, "fill")
    part = about.part
    if stored_humidity is not None and part is not None and not any(z.bladder for z in part.zone.values()):
        expected = "a part with a bladder, whose pressure must keep steam down; 'laminate core' uses it too"
        options.say("option-not-used", "--stored-humidity", f"'{stored_humidity}'", expected)
    counts = counts_of(options, part, plies)
    zones = names_of(options, about, zone)
    options.check()
    assert part is not None
    from laminate.press.filling import fill as filled
    from laminate.press.inverse import CHANCE, Wanted

    with about.at_options:
        answer = filled(
            part,
            about.name,
            zones=zones,
            made=about.made,
            wanted=Wanted(None, volume.value if volume else None, share.value if share else CHANCE),
            plies=counts,
            void_content=void,
            humidity=humidity or humidity_of(about.batch),
            draws=draws,
            seed=seed,
        )
    from laminate.show.engineer_page import fill_document
    from laminate.show.fill_json import fill_json

    give_out(
        options,
        lambda: fill_json(answer),
        lambda: fill_document(answer, units),
        has_page=True,
        good=answer.every_zone_fits,
    )
