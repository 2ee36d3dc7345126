"""The options of a call, said once: signature, command, key of a part file, help.

Each question takes a table of them. The library has them as keyword parameters, the command line as options;
one with a key of a part file stands for that key where there is no file.
"""

# annotations are read when the module is: they are the tables
from collections.abc import Callable, Mapping, Sequence
from inspect import Parameter, signature
from pathlib import Path
from typing import Annotated, Any, NamedTuple, TypeAlias, TypedDict, TypeVar, get_args

# Any: a quantity, as text with its unit, a Value, a quantity of a unit library, (number, unit)
Names: TypeAlias = str | Sequence[str] | None
Counts: TypeAlias = int | Mapping[str, int] | None
File: TypeAlias = str | Path
UNITS = ("metric", "us")
F = TypeVar("F", bound=Callable[..., Any])
SEVERAL = {
    Names: "; one or several",
    Counts: "; a count where there is one, else a mapping from each name to its count",
}
METAVARS = {int: "COUNT", str: "WORD", File: "FILE"}


class Option(NamedTuple):
    """An option: the key of a part file that it stands for, what help says of it, what it takes.

    path: () where it stands for no key; flag: as typed, where that is not its name; bounds: of a count.
    """

    path: tuple[str, ...]
    help: str
    kind: Any
    metavar: str
    flag: str
    bounds: tuple[int, int | None] = (1, None)

    @property
    def least(self) -> str:
        """What help says of the least count that is taken, where that is not 1."""
        return f"; at least {self.bounds[0]}" if self.kind is int and self.bounds[0] > 1 else ""


class OfPredict(TypedDict, total=False):
    """What `predict` asks beside the material."""

    void_content: Annotated[Any, "", "of the cured laminate, by volume; default: 0 %"]
    bleed: Annotated[Any, "", "share of the resin that leaves; default: 0 %"]
    plies: Annotated[Counts, "", "how many plies", "[ZONE=]COUNT"]
    area: Annotated[Any, "", "of one face of the laminate; gives the mass of the part"]


class OfFill(TypedDict, total=False):
    """What `fill` asks beside a part."""

    void_content: Annotated[Any, "", "of the cured laminate; default: 0 %"]
    zones: Annotated[Names, "", "of the file; default: all", "NAME", "--zone"]
    plies: Annotated[Counts, "", "ask about this many plies", "[ZONE=]COUNT"]
    fiber_volume_wanted: Annotated[Any, "", "ask which gap, areal weight or bleed gives it"]
    chance_wanted: Annotated[Any, "", "ask which tolerances give it; default in a gap: 95 %"]
    stored_humidity: Annotated[Any, "", "relative humidity where the prepreg was stored"]
    draws: Annotated[int, "", "Monte Carlo trials; default: 100000", "COUNT", "", (1000, 5_000_000)]
    seed: Annotated[int, "", "of the random numbers; default: 1", "NUMBER", "", (0, None)]


class OfCore(TypedDict, total=False):
    """What `core` asks beside a part."""

    gap_wanted: Annotated[Any, "", "hot gap for which to size core and dummy"]
    moldings: Annotated[Counts, "", "moldings of the core so far", "[CORE=]COUNT"]
    cores: Annotated[Names, "", "of the file; default: all", "NAME", "--core"]
    plies: Annotated[Counts, "", "all fiber plies; default: the count of 'laminate fill'", "ZONE=COUNT"]
    stored_humidity: Annotated[Any, "", "relative humidity where the prepreg was stored"]
    draws: Annotated[int, "", "Monte Carlo trials; default: 20000", "COUNT", "", (1000, 1_000_000)]
    seed: Annotated[int, "", "of the random numbers; default: 1", "NUMBER", "", (0, None)]


class Cycle(TypedDict, total=False):
    """What `cycle` asks beside a part."""

    plies: Annotated[Counts, "", "of a plan: all fiber plies", "ZONE=COUNT"]
    stored_humidity: Annotated[Any, "", "of a plan: relative humidity where the prepreg is stored", "VALUE"]
    draws: Annotated[
        int, "", "Monte Carlo trials; default: 10000 of a log, 400 of a plan", "COUNT", "", (100, 1_000_000)
    ]
    seed: Annotated[int, "", "of the random numbers; default: 1", "NUMBER", "", (0, None)]


class Trend(TypedDict, total=False):
    """Which records `trend` follows, and how far it trusts them."""

    part: Annotated[Names, "", "of a part; default: all", "NUMBER"]
    zone: Annotated[Names, "", "of the part; default: all", "NAME"]
    every: Annotated[bool, "", "also measured values that have no limit"]
    allowed_signers: Annotated[File, "", "use only records whose signatures this file proves"]
    revoked: Annotated[File, "", "OpenSSH key revocation list, or a list of public keys"]
    need: Annotated[Names, "", "role that must have signed, for instance released", "ROLE"]
    recompute: Annotated[bool, "", "also judge again the records that signatures prove"]


class Gauges(TypedDict, total=False):
    """Instruments and blanks of coupons that no batch file names."""

    balance: Annotated[str, "", 'of each weighing: "0.1 mg (standard)"', "SPREAD"]
    balance_calibration: Annotated[str, "", "shared by all weighings", "SPREAD"]
    thermometer: Annotated[str, "", 'of each liquid temperature: "0.1 K (standard)"', "SPREAD"]
    micrometer: Annotated[str, "", 'of each thickness: "0.002 mm (standard)"', "SPREAD"]
    caliper: Annotated[str, "", "of each length and width", "SPREAD"]
    thermometer_calibration: Annotated[str, "", "shared by all its readings", "SPREAD"]
    micrometer_calibration: Annotated[str, "", "shared by all its readings", "SPREAD"]
    caliper_calibration: Annotated[str, "", "shared by all its readings", "SPREAD"]
    balance_resolution: Annotated[
        Any, "", 'smallest step of the balance, "0.1 mg"; `measure` takes the last decimal of text without it'
    ]
    thermometer_resolution: Annotated[Any, "", "smallest step of the thermometer"]
    micrometer_resolution: Annotated[Any, "", "smallest step of the micrometer"]
    caliper_resolution: Annotated[Any, "", "smallest step of the caliper"]
    residue_share: Annotated[Any, "", "share of neat resin that burn-off or digestion leaves"]
    fiber_loss: Annotated[Any, "", "share of bare fiber that burn-off or digestion takes"]


class OfRows(TypedDict, total=False):
    """What coupons are made of, where no batch file says it."""

    fiber_density: Annotated[Any, "", '"1.79 g/cm^3 ± 0.01 (k=2)"']
    resin_density: Annotated[Any, "", "cured, at room temperature"]
    fiber_areal_weight: Annotated[Any, "", "of a ply; gives fiber volume from thickness"]
    plies: Annotated[Any, "", "of every coupon, if the table has no such column", "COUNT"]
    fiber: Annotated[str, "", "carbon, glass, aramid or other: whether burn-off harms it"]
    air_density: Annotated[Any, "", "default: 0.0012 g/cm^3; 0 computes as ASTM D792 is printed"]
    liquid_density: Annotated[Any, "", "of the immersion liquid, if it is not water"]


class OfCoupons(OfRows, total=False):
    """What `measure` asks beside coupons."""

    confidence: Annotated[Any, "", "of expanded uncertainties; default: 95 %, or what the part file says"]


class Material(TypedDict, total=False):
    """What a ply is made of."""

    fiber_areal_weight: Annotated[Any, "prepreg.ply.fiber_areal_weight", 'of a ply: "134 g/m^2"']
    prepreg_areal_weight: Annotated[Any, "prepreg.ply.prepreg_areal_weight", "of a ply, fiber and resin"]
    resin_content: Annotated[Any, "prepreg.ply.resin_content", 'by weight: "35 %"']
    fiber_density: Annotated[Any, "fiber.fiber.density", '"1.79 g/cm^3 ± 0.01 (k=2)"']
    resin_density: Annotated[Any, "resin.resin.density", "cured, at room temperature"]
    volatiles: Annotated[Any, "prepreg.ply.volatiles", "by weight; needs the resin basis"]
    resin_basis: Annotated[
        str, "prepreg.ply.resin_basis", "'as received', 'volatile-free' or 'with volatiles'", "WORDS"
    ]


class Laminate(TypedDict, total=False):
    """How it bleeds and packs."""

    bleed: Annotated[Any, "zone.laminate.bleed", 'of the resin, expected: "3 % ± 2 (tolerance)"']
    bleed_limit: Annotated[
        Any, "zone.laminate.bleed_limit", "share of the resin that can bleed; default: 0 %"
    ]
    packing_limit: Annotated[
        Any, "prepreg.ply.packing_limit", "fiber volume the form packs to, in place of its own"
    ]
    form: Annotated[str, "prepreg.ply.form", "unidirectional, non-crimp, woven or mat; packing limit"]
    bulk_factor: Annotated[Any, "prepreg.ply.bulk_factor", "laid-up thickness over cured thickness"]
    liquid_density: Annotated[Any, "resin.resin.liquid_density", "of the resin at gel temperature"]


class Press(TypedDict, total=False):
    """Temperatures, tool and press."""

    gel_temperature: Annotated[Any, "temperature.gel", "of the laminate when the resin gels"]
    maximum_temperature: Annotated[Any, "temperature.maximum", "of tool and core, exotherm included"]
    room_temperature: Annotated[Any, "temperature.room", "default: 23 degC"]
    tool_temperature: Annotated[Any, "tool.temperature", "when the resin gels; default: that of the laminate"]
    tool_expansion: Annotated[Any, "tool.expansion", 'linear: "23.6e-6 /K"']
    clamp_force: Annotated[Any, "tool.clamp_force", 'of the press: "600 kN"']
    pressure_limit: Annotated[Any, "tool.pressure_limit", "what walls, end plates and bolts of the tool hold"]
    compliance: Annotated[Any, "tool.compliance", 'share of the room gained per pressure: "1e-4 MPa^-1"']
    projected_area: Annotated[Any, "room.room.projected_area", "core and laminates, seen by the clamp"]
    wanted_pressure: Annotated[Any, "room.room.wanted_pressure", 'at gel, above ambient: "0.3 MPa"']


class Gap(TypedDict, total=False):
    """Where the tool is hard."""

    gap: Annotated[Any, "zone.laminate.gap", 'cold gap between tool halves: "3 mm"']


class RoomSizes(TypedDict, total=False):
    """The room of a core, cold."""

    room_width: Annotated[Any, "room.room.width", "cold, bare tool, across the laminates"]
    room_height: Annotated[Any, "room.room.height", "cold, bare tool"]
    room_length: Annotated[Any, "room.room.length", "cold, bare tool"]
    core_height: Annotated[Any, "core.core.height", "cold; with the height of the room"]
    core_length: Annotated[Any, "core.core.length", "cold; with the length of the room"]
    room_corner_radius: Annotated[Any, "room.room.corner_radius", "of its four long edges"]
    core_corner_radius: Annotated[Any, "core.core.corner_radius", "of its four long edges"]


class CoreSizes(TypedDict, total=False):
    """The core in it."""

    cavity: Annotated[Any, "zone.laminate.cavity", 'cold width of the cavity, without room sizes: "38.6 mm"']
    core_width: Annotated[Any, "core.core.width", "cold, across the laminate; a diameter held by ends"]
    walls: Annotated[int, "zone.laminate.walls", "laminates the core lies on, 1 or 2"]
    held: Annotated[str, "core.core.held", "no, sides or ends, with a cavity; no default"]
    core_material: Annotated[Any, "core.core.material", "of the tables", "NAME"]
    core_expansion: Annotated[Any, "core.core.expansion", 'linear: "265e-6 /K ± 5e-6 (tolerance)"']


class CoreHeat(TypedDict, total=False):
    """How hot the core gets, how stiff it is then, how it is cast."""

    core_temperature: Annotated[Any, "core.core.temperature", "mean, when the resin gels"]
    core_maximum: Annotated[Any, "core.core.maximum", "its own hottest mean, in a room of sizes"]
    bulk_modulus: Annotated[Any, "core.core.bulk_modulus", 'of the hot core: "0.85 GPa ± 0.2 (tolerance)"']
    bulk_modulus_rise: Annotated[
        Any, "core.core.bulk_modulus_rise", "with pressure; about 10 for silicone rubber"
    ]
    cast_temperature: Annotated[Any, "core.core.cast.temperature", "at which it is cast over a dummy"]
    cure_shrinkage: Annotated[Any, "core.core.cast.cure_shrinkage", "linear, of the core, as it is cast"]
    platen_temperature: Annotated[Any, "core.core.heating.platen", "for a core heated through both faces"]
    start_temperature: Annotated[Any, "core.core.heating.start", "of the core on the platens"]
    heating_time: Annotated[Any, "core.core.heating.time", 'until the resin gels: "40 min"']
    heated_thickness: Annotated[
        Any, "core.core.heating.thickness", 'of the core between the platens: "31 mm"'
    ]
    diffusivity: Annotated[Any, "core.core.heating.diffusivity", 'thermal: "0.11 mm^2/s"']


class CoreVolumes(TypedDict, total=False):
    """The core by a balance of volumes, and how often it is used."""

    core_volume: Annotated[
        Any, "core.core.volume", 'cold: "690 cm^3"; balance of volumes, needs the next two'
    ]
    cavity_volume: Annotated[Any, "core.core.cavity_volume", 'cold: "1100 cm^3"']
    laminate_area: Annotated[Any, "core.core.laminate_area", 'all of it, for its volume: "0.11 m^2"']
    insert_volume: Annotated[
        Any, "core.core.insert_volume", 'of what else lies in the cavity, cold: "20 cm^3"'
    ]
    insert_expansion: Annotated[Any, "core.core.insert_expansion", "linear"]
    limit_moldings: Annotated[int, "core.core.limit_moldings", "uses of a core"]


class Stacked(TypedDict, total=False):
    """The laminate by its thickness."""

    stack: Annotated[Any, "layer.stack.thickness", "in place of the prepreg: one wall, liquid full"]
    stack_laid_up: Annotated[Any, "", "the same as laid up; contact, locked maximum"]
    stack_bled: Annotated[Any, "", "the same bled to its limit; lowest pressure"]


class Predict(OfPredict, Material, total=False):
    """The options of `predict`."""


class Fill(OfFill, Gap, Laminate, Press, RoomSizes, CoreSizes, CoreHeat, CoreVolumes, Material, total=False):
    """The options of `fill`."""


class Core(
    OfCore, CoreSizes, CoreHeat, CoreVolumes, RoomSizes, Press, Stacked, Laminate, Material, total=False
):
    """The options of `core`."""


class Framed(OfRows, Gauges, total=False):
    """The options of `measure_frame`."""


class Measure(OfCoupons, Gauges, total=False):
    """The options of `measure`."""


def table(*groups: Any) -> dict[str, Option]:
    """The options of some of the classes above, by name.

    >>> table(Gap)["gap"].path
    ('zone', 'laminate', 'gap')
    """
    return {name: _option(hint) for group in groups for name, hint in group.__annotations__.items()}


def _option(hint: Any) -> Option:
    """The option of `Annotated[type, key of a part, help, ...]`: metavar, flag and bounds may follow."""
    kind, path, words, *more = get_args(hint)
    metavar = more[0] if more else METAVARS.get(kind, "QUANTITY")
    return Option(tuple(path.split(".")) if path else (), words, kind, metavar, *(more[1:] or [""]))


class Question:
    """What can be asked: its options, those that are always taken, and those that a file can say.

    always, whole: the classes of these options, and of all of them; heading: of the others in a help.
    """

    def __init__(
        self,
        name: str,
        always: Any,
        whole: Any,
        heading: str = "Without a file these options describe the part",
    ) -> None:
        self.name, self.heading = name, heading
        self.always, self.options = table(always), table(always, whole)
        self.without_file = {n: option for n, option in self.options.items() if n not in self.always}

    def takes(self, function: F) -> F:
        """Have `help` and completion of a function list the options, in place of its last parameter."""
        called = signature(function)
        named = [Parameter(name, Parameter.KEYWORD_ONLY, default=None) for name in self.options]
        parameters = [*list(called.parameters.values())[:-1], *named]
        function.__signature__ = called.replace(parameters=parameters)  # type: ignore[attr-defined]
        if function.__doc__:
            before, returns, after = function.__doc__.partition("\n    Returns\n")
            lines = {
                n: f"    {n} : {o.help}{SEVERAL.get(o.kind, '')}{o.least}\n" for n, o in self.options.items()
            }
            first, last = ("".join(lines[name] for name in part) for part in (self.always, self.without_file))
            below = f"\n    {self.heading}:\n\n{last}" if last else ""
            function.__doc__ = "".join([before.rstrip(), "\n", first, below, returns, after])
        return function


_GAUGES = "For coupon tables without a batch file, instruments and blanks"
PREDICT = Question("predict", OfPredict, Predict)
FILL = Question("fill", OfFill, Fill)
CORE = Question("core", OfCore, Core)
CYCLE = Question("cycle", Cycle, Cycle)
TREND = Question("trend", Trend, Trend)
MEASURE = Question("measure", OfCoupons, Measure, _GAUGES)
ROWS = Question("measure_frame", OfRows, Framed, _GAUGES)
