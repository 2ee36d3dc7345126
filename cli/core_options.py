"""The core that options describe: one core in one cavity, against a stack of known thickness."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.pressing import Stacks
    from laminate.values.units import Value

    from .options import Options

OPTION_OF = {
    "zone.laminate": "--cavity",
    "core.core.material": "--core-material",
    "core.core.width": "--core-width",
    "core.core.expansion": "--core-expansion",
}
HEATING = (
    "--platen-temperature",
    "--start-temperature",
    "--heating-time",
    "--heated-thickness",
    "--diffusivity",
)


def core_part(options: Options, given: Mapping[str, str | None]) -> tuple[Part | None, Stacks | None]:
    """The part and the stack; None where something is wrong, which the options then hold."""
    from laminate.files import toml

    kinds: dict[str, Any] = {
        "--cavity": toml.Length, "--core-width": toml.Length, "--core-expansion": toml.Expansion,
        "--tool-expansion": toml.Expansion, "--core-temperature": toml.Temperature,
        "--tool-temperature": toml.Temperature, "--maximum-temperature": toml.Temperature,
        "--room-temperature": toml.Temperature, "--stack": toml.Length, "--stack-laid-up": toml.Length,
        "--stack-bled": toml.Length, "--bulk-modulus": toml.Modulus, "--bulk-modulus-rise": toml.Factor,
        "--compliance": toml.Compliance, "--clamp-force": toml.Force, "--projected-area": toml.Area,
        "--cast-temperature": toml.Temperature, "--cure-shrinkage": toml.Fraction,
        "--platen-temperature": toml.Temperature, "--start-temperature": toml.Temperature,
        "--heating-time": toml.Time, "--heated-thickness": toml.Length, "--diffusivity": toml.Diffusivity,
        "--core-volume": toml.Volume, "--cavity-volume": toml.Volume, "--laminate-area": toml.Area,
        "--insert-volume": toml.Volume, "--insert-expansion": toml.Expansion,
    }  # fmt: skip
    needed = {
        "--cavity": 'its cold width, such as "38.6 mm", or a part file',
        "--core-width": 'its cold width, such as "30.64 mm"',
        "--tool-expansion": 'a linear expansion, such as "23.6e-6 /K"',
        "--tool-temperature": 'the temperature of the tool when the resin gels, such as "120 degC"',
        "--stack": 'the thickness on one wall, liquid full, such as "3.00 mm"',
    }
    at: dict[str, Value | None] = {}
    for option, kind in kinds.items():
        text = given[option]
        if option in needed:
            at[option] = options.needed(option, text, kind, needed[option])
        else:
            at[option] = options.quantity(option, text, kind)
    if at["--room-temperature"] is None and given["--room-temperature"] is None:
        at["--room-temperature"] = options.quantity("--room-temperature", "23 degC", toml.Temperature)
    _words(options, given)
    _agree(options, given, at)
    if options.problems:
        return None, None
    return _part(given, at), _stacks(at)


def _words(options: Options, given: Mapping[str, str | None]) -> None:
    held = given["--held"]
    if held is None:
        options.say("missing-option", "--held", "nothing", "'no', 'sides' or 'ends'; there is no default")
    else:
        options.word("--held", held, ("no", "sides", "ends"))
    if given["--walls"] is None:
        options.say("missing-option", "--walls", "nothing", "1, or 2 where the core lies on two laminates")
    material, expansion = given["--core-material"], given["--core-expansion"]
    if material is None and expansion is None:
        options.say("missing-option", "--core-expansion", "nothing", "a linear expansion, or --core-material")
    if material is not None and expansion is None:
        from laminate.files.reference_tables import find

        try:
            find(material, "expansion")
        except LookupError as fault:
            near = getattr(fault, "near", ())
            hint = f"did you mean '{near[0]}'?" if near else "`laminate materials` lists them"
            options.say(
                "unknown-material", "--core-material", f"'{material}'", "a material of the tables", hint
            )


def _agree(options: Options, given: Mapping[str, str | None], at: Mapping[str, Value | None]) -> None:
    from .engineer_input import check_order

    chain = ("--room-temperature", "--tool-temperature", "--maximum-temperature")
    check_order(options, [(option, at[option]) for option in chain])
    width, cavity = at["--core-width"], at["--cavity"]
    if width and cavity and width.value >= cavity.value:
        found = f"'{width.text}', not narrower than its cavity '{cavity.text}'"
        options.say("core-too-wide", "--core-width", found, "a core narrower than its cavity")
    full, laid_up = at["--stack"], at["--stack-laid-up"]
    bled = at["--stack-bled"]
    if full and bled and bled.value > full.value:
        options.say(
            "wrong-order", "--stack-bled", f"'{bled.text}' above --stack '{full.text}'", "not above --stack"
        )
    if laid_up and bled and laid_up.value < bled.value:
        found = f"'{laid_up.text}' below --stack-bled '{bled.text}'"
        options.say("wrong-order", "--stack-laid-up", found, "not below --stack-bled")
    for group in (
        HEATING,
        ("--cast-temperature", "--cure-shrinkage"),
        ("--core-volume", "--cavity-volume", "--laminate-area"),
    ):
        there = [option for option in group if given[option] is not None]
        for option in group if there else ():
            if given[option] is None:
                options.say("missing-option", option, "nothing", f"a value for it beside {there[0]}")
    if given["--core-temperature"] is not None and given["--platen-temperature"] is not None:
        options.say("both-given", "--core-temperature", "both a temperature and a heating", "one of them")


def _stacks(at: Mapping[str, Value | None]) -> Stacks:
    from laminate.press.pressing import Stacks

    full = at["--stack"]
    assert full is not None
    return Stacks(full, at["--stack-laid-up"], at["--stack-bled"])


def _part(given: Mapping[str, str | None], at: Mapping[str, Value | None]) -> Part:
    from laminate.files import part as model
    from laminate.values.units import Value

    heating = None
    if at["--platen-temperature"] is not None:
        names = ("platen", "start", "time", "thickness", "diffusivity")
        heating = model.Heating(**{name: at[option] for name, option in zip(names, HEATING, strict=True)})
    cast = None
    if at["--cast-temperature"] is not None:
        cast = model.Cast(temperature=at["--cast-temperature"], cure_shrinkage=at["--cure-shrinkage"])
    limit = given["--limit-moldings"]
    core = model.Core(
        material=given["--core-material"],
        expansion=at["--core-expansion"],
        bulk_modulus=at["--bulk-modulus"],
        bulk_modulus_rise=at["--bulk-modulus-rise"],
        held=given["--held"],
        width=at["--core-width"],
        temperature=at["--core-temperature"],
        heating=heating,
        projected_area=at["--projected-area"],
        limit_moldings=None if limit is None else int(limit),
        cast=cast,
        volume=at["--core-volume"],
        cavity_volume=at["--cavity-volume"],
        laminate_area=at["--laminate-area"],
        insert_volume=at["--insert-volume"],
        insert_expansion=at["--insert-expansion"],
    )
    stack = model.Layer(areal_weight=Value(1.0), thickness=at["--stack"], counts_as="neither")
    return model.Part(
        format=1,
        part=model.PartHead(number="", issue=""),
        temperature=model.Temperatures(
            room=at["--room-temperature"], gel=at["--tool-temperature"], maximum=at["--maximum-temperature"]
        ),
        fiber={},
        resin={},
        prepreg={},
        layer={"stack": stack},
        tool=model.Tool(
            expansion=at["--tool-expansion"],
            clamp_force=at["--clamp-force"],
            compliance=at["--compliance"] or Value(0.0),
        ),
        core={"core": core},
        zone={
            "laminate": model.Zone(
                cavity=at["--cavity"], core="core", walls=int(given["--walls"] or 1), stack=["1 stack"]
            )
        },
    )
