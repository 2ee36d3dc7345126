"""The engineer's `core`: what an expanding core does, from a file or from options alone."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .answers import print_json
from .filling import quantity

if TYPE_CHECKING:
    from laminate.files.part import Part

    from .options import Options


def core(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE", help="part.toml, or batch.toml for lots, plies, uses", show_default=False
        ),
    ] = None,
    cavity: Annotated[str | None, quantity('cold width of the cavity: "38.6 mm"')] = None,
    core_width: Annotated[str | None, quantity("cold, across the laminate; a diameter held by ends")] = None,
    walls: Annotated[
        int | None,
        typer.Option(metavar="COUNT", help="laminates the core lies on", min=1, max=2, show_default=False),
    ] = None,
    held: Annotated[
        str | None, typer.Option(metavar="WORD", help="no, sides or ends; no default", show_default=False)
    ] = None,
    core_material: Annotated[
        str | None, typer.Option(metavar="NAME", help="of the tables", show_default=False)
    ] = None,
    core_expansion: Annotated[str | None, quantity('linear: "265e-6 /K ± 5e-6 (tolerance)"')] = None,
    tool_expansion: Annotated[str | None, quantity('linear: "23.6e-6 /K"')] = None,
    core_temperature: Annotated[str | None, quantity("mean, when the resin gels")] = None,
    tool_temperature: Annotated[str | None, quantity("when the resin gels")] = None,
    maximum_temperature: Annotated[str | None, quantity("of tool and core, exotherm included")] = None,
    room_temperature: Annotated[str | None, quantity("23 degC if not said")] = None,
    stack: Annotated[str | None, quantity("thickness on one wall, liquid full, with layers")] = None,
    stack_laid_up: Annotated[str | None, quantity("the same as laid up; contact, locked maximum")] = None,
    stack_bled: Annotated[str | None, quantity("the same bled to its limit; lowest pressure")] = None,
    bulk_modulus: Annotated[str | None, quantity('of the hot core: "0.85 GPa ± 0.2 (tolerance)"')] = None,
    bulk_modulus_rise: Annotated[str | None, quantity("with pressure; about 10 for silicone rubber")] = None,
    compliance: Annotated[str | None, quantity("cavity volume share gained per pressure")] = None,
    clamp_force: Annotated[str | None, quantity('of the press: "600 kN"')] = None,
    projected_area: Annotated[str | None, quantity("of the core, seen by the clamp")] = None,
    gap_wanted: Annotated[str | None, quantity("hot gap to size core and dummy for")] = None,
    cast_temperature: Annotated[str | None, quantity("at which the core is cast over a dummy")] = None,
    cure_shrinkage: Annotated[str | None, quantity("linear, of the core, at cast temperature")] = None,
    platen_temperature: Annotated[str | None, quantity("for a core heated through both faces")] = None,
    start_temperature: Annotated[str | None, quantity("of the core on the platens")] = None,
    heating_time: Annotated[str | None, quantity("until the resin gels")] = None,
    heated_thickness: Annotated[str | None, quantity("of the core between the platens")] = None,
    diffusivity: Annotated[str | None, quantity('thermal: "0.11 mm^2/s"')] = None,
    core_volume: Annotated[str | None, quantity("cold; balance of volumes, needs the next two")] = None,
    cavity_volume: Annotated[str | None, quantity("cold")] = None,
    laminate_area: Annotated[str | None, quantity("all of it, times the stack for its volume")] = None,
    insert_volume: Annotated[str | None, quantity("of what else lies in the cavity, cold")] = None,
    insert_expansion: Annotated[str | None, quantity("linear")] = None,
    limit_moldings: Annotated[
        int | None, typer.Option(metavar="COUNT", help="uses of a core", min=1, show_default=False)
    ] = None,
    moldings: Annotated[
        list[str] | None,
        typer.Option(
            metavar="COUNT", help="uses so far; with several cores CORE=COUNT, again", show_default=False
        ),
    ] = None,
    core_name: Annotated[
        list[str] | None,
        typer.Option("--core", metavar="NAME", help="of the file; again for more", show_default=False),
    ] = None,
    plies: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ZONE=COUNT", help="all fiber plies; else those of `laminate fill`", show_default=False
        ),
    ] = None,
    stored_humidity: Annotated[str | None, quantity("relative, where the prepreg was stored")] = None,
    draws: Annotated[
        int, typer.Option(metavar="COUNT", help="of every tolerance", min=1000, max=1_000_000)
    ] = 20_000,
    seed: Annotated[int, typer.Option(metavar="NUMBER", help="of the draws", min=0)] = 1,
    html: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="also write one self-contained page", show_default=False),
    ] = None,
    why: Annotated[bool, typer.Option("--why", help="with the reasons, and what is assumed")] = False,
    units: Annotated[
        str, typer.Option(metavar="WORD", help="metric, or us for inches on the screen")
    ] = "metric",
    as_json: Annotated[bool, typer.Option("--json", help="the answer as JSON, metric")] = False,
) -> None:
    """Find when an expanding core touches, how hard it presses, what the clamp bears, its cold size.

    From a part file, or from options alone. Exit status 1 where the nominal pressure is above the clamp or a
    core is past its limit of moldings. A locked core can overload clamp, bolts and tool.
    """
    from laminate.files.toml import Fraction, Length

    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    gap = options.quantity("--gap-wanted", gap_wanted, Length)
    humidity = options.quantity("--stored-humidity", stored_humidity, Fraction)
    given = {
        "--cavity": cavity, "--core-width": core_width, "--walls": None if walls is None else str(walls),
        "--held": held, "--core-material": core_material, "--core-expansion": core_expansion,
        "--tool-expansion": tool_expansion, "--core-temperature": core_temperature,
        "--tool-temperature": tool_temperature, "--maximum-temperature": maximum_temperature,
        "--room-temperature": room_temperature, "--stack": stack, "--stack-laid-up": stack_laid_up,
        "--stack-bled": stack_bled, "--bulk-modulus": bulk_modulus, "--bulk-modulus-rise": bulk_modulus_rise,
        "--compliance": compliance, "--clamp-force": clamp_force, "--projected-area": projected_area,
        "--cast-temperature": cast_temperature, "--cure-shrinkage": cure_shrinkage,
        "--platen-temperature": platen_temperature, "--start-temperature": start_temperature,
        "--heating-time": heating_time, "--heated-thickness": heated_thickness, "--diffusivity": diffusivity,
        "--core-volume": core_volume, "--cavity-volume": cavity_volume, "--laminate-area": laminate_area,
        "--insert-volume": insert_volume, "--insert-expansion": insert_expansion,
        "--limit-moldings": None if limit_moldings is None else str(limit_moldings),
    }  # fmt: skip
    from .engineer_input import by_option, counts_of, humidity_of, read_file, refuse_beside_file, zones_of

    made, batch, name, stacks = None, None, "", None
    part: Part | None
    if file is not None:
        refuse_beside_file(options, given)
        part, made, batch = read_file(file)
        humidity = humidity or humidity_of(batch)
        name = str(file)
    else:
        from .core_options import OPTION_OF, core_part

        for option, values in (("--core", core_name), ("--plies", plies)):
            if values:
                options.say("option-without-file", option, f"'{values[0]}'", "a part file")
        part, stacks = core_part(options, given)
        core_name = plies = None
    counts = counts_of(options, part, plies or []) if part is not None else {}
    cores = zones_of(options, part, core_name, "--core") if part is not None else None
    used = _moldings(options, list(part.core), moldings or [], batch) if part is not None else {}
    options.check()
    assert part is not None
    from laminate.press.pressing import core as expanding
    from laminate.values.problems import Refused

    laid = {zone: n for zone, n in dict(batch.batch.plies).items() if zone in part.zone} if batch else {}
    try:
        found = expanding(
            part,
            name,
            cores=cores,
            made=made,
            plies={**laid, **counts},
            stacks=stacks,
            gap_wanted=gap.value if gap else None,
            moldings=used,
            humidity=humidity,
            draws=draws,
            seed=seed,
            curve=html is not None,
        )
    except Refused as refusal:
        if file is not None:
            raise
        raise Refused(by_option(refusal.problems, OPTION_OF)) from None
    from laminate.show.core_words import core_blocks

    if html is not None:
        from laminate.show.engineer_page import core_page
        from laminate.values.durable import write_page

        write_page(html, core_page(found, units).encode())
    if as_json:
        from laminate.show.core_json import core_json

        print_json({**core_json(found), "html": str(html) if html else None})
    else:
        from .blocks import show

        show(core_blocks(found, units, why=why))
        if html is not None:
            print(f"\nThe same with figures: {html}")
    if not found.good:
        raise typer.Exit(1)


def _moldings(options: Options, cores: list[str], texts: list[str], batch: Any) -> dict[str, int]:
    """Uses so far by core: of the batch, or as said."""
    from laminate.values.problems import did_you_mean

    used = {}
    if batch is not None:
        used = {name: one.moldings for name, one in batch.core_used.items() if one.moldings is not None}
    for text in texts:
        name, equals, number = text.rpartition("=")
        if not equals and len(cores) == 1:
            name = cores[0]
        if name not in cores:
            hint = did_you_mean(name, cores) if name else ""
            options.say(
                "unknown-name", "--moldings", f"'{text}'", f"CORE=COUNT, a core of {', '.join(cores)}", hint
            )
        elif not number.isdigit():
            options.say("wrong-value", "--moldings", f"'{text}'", "a whole number, 0 or more")
        else:
            used[name] = int(number)
    return used
