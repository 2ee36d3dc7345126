"""part.toml: what engineering fixes, as checked models."""

from typing import Annotated, Any, ClassVar, Self

from pydantic import BeforeValidator, Field, PlainValidator, PrivateAttr, WithJsonSchema

from laminate.files.cycle_keys import GEL_TESTS, RELEASES, Cycle, GelPoint, HeatLayers, OutLife
from laminate.files.limits import Limits, read_limits
from laminate.files.named_file import NamedFile
from laminate.files.part_checks import check_part
from laminate.files.press_checks import check_press
from laminate.files.raw_file import RawFile
from laminate.files.toml import (
    Angle,
    AnyDensity,
    Area,
    ArealWeight,
    Bleed,
    BulkFactor,
    Compliance,
    Covered,
    Diffusivity,
    Expansion,
    Factor,
    FiberDensity,
    Force,
    Format,
    Fraction,
    Length,
    Mass,
    MassFraction,
    Modulus,
    Offset,
    Packing,
    Pressure,
    ResinContent,
    ResinDensity,
    Rounding,
    Temperature,
    Time,
    TomlTable,
    Volume,
    check,
    load,
    misread,
    report_once,
    spread,
    word,
)
from laminate.values.argument_text import call_text
from laminate.values.problems import Refused, wrong_file
from laminate.values.quantities import FIBER_KINDS, FORMS, RESIN_BASES
from laminate.values.sequences import fixed
from laminate.values.units import SIValue, Spread

Count = Annotated[int, Field(strict=True, ge=1)]
Tally = Annotated[int, Field(strict=True, ge=0)]
Zero = SIValue(0.0)
YesNo = Annotated[
    bool,
    BeforeValidator(lambda x: {"yes": True, "no": False}.get(x, x) if isinstance(x, str) else x),
    WithJsonSchema({"enum": ["yes", "no", True, False]}),
]


def _coupons(given: Any) -> Any:
    counts = list(given.values()) if isinstance(given, dict) else [given]
    whole = all(type(count) is int for count in counts)
    if not counts or not whole or min(counts) < 1:
        count_words = "a whole number" if not whole else "1 or more"
        words = f"{count_words} for each method" if isinstance(given, dict) else count_words
        raise misread("wrong-value" if whole else "wrong-type", repr(given), words)
    return given


Coupons = Annotated[
    int | dict[str, int],
    PlainValidator(_coupons, json_schema_input_type=Count | dict[str, Count]),
    Field(description="coupons of each method of 'methods', or a count of each method by name"),
]


class PartHead(TomlTable):
    """Which drawing this is."""

    number: str = Field(description="the part number in quotes")
    issue: str = Field(description="the issue of the part file in quotes")
    name: str = ""
    asks: list[str] = Field([], description='what a batch must tell, such as "lot.ud150.resin_content"')
    blanks: Annotated[int, Field(strict=True, ge=0, description="least rows of blanks")] = 0
    blank_scatter: spread("fraction", relative_allowed=False) | None = None  # type: ignore[valid-type]
    check_standards: Annotated[int, Field(strict=True, ge=0, description="least rows of standards")] = 0


class Temperatures(TomlTable):
    """Temperatures of the laminate through the cycle; maximum is that of tool and core."""

    room: Temperature = Field(description='a temperature, such as "23 degC"')
    gel: Temperature | None = None
    cure: Temperature | None = None
    maximum: Temperature | None = None


class Fiber(TomlTable):
    """A fiber, its sizing included."""

    kind: word(*FIBER_KINDS)  # type: ignore[valid-type]
    density: FiberDensity


class Resin(TomlTable):
    """A resin: cured at room temperature, liquid at gel temperature, and uncured at room temperature."""

    density: ResinDensity
    liquid_density: ResinDensity | None = None
    uncured_density: ResinDensity | None = None
    releases: word(*RELEASES) | None = None  # type: ignore[valid-type]
    gel_time: list[GelPoint] = []
    gel_test: word(*GEL_TESTS) | None = None  # type: ignore[valid-type]
    gel_source: str = ""
    out_life: OutLife | None = None


class Prepreg(TomlTable):
    """A prepreg with its nominal values; one of the two areal weights is given."""

    fiber: str
    resin: str
    form: word(*FORMS) = "unidirectional"  # type: ignore[valid-type]
    packing_limit: Packing | None = None
    fiber_areal_weight: ArealWeight | None = None
    prepreg_areal_weight: ArealWeight | None = None
    ply_scatter: spread("fraction") | None = None  # type: ignore[valid-type]
    resin_content: ResinContent
    resin_basis: word(*RESIN_BASES) | None = None  # type: ignore[valid-type]
    volatiles: MassFraction = Zero
    bulk_factor: BulkFactor = SIValue(1.0)
    shelf_life: Time | None = None
    out_life: Time | None = None
    tested_pieces: Annotated[int, Field(strict=True, ge=0, description="least pieces of a lot")] = 0


class Layer(TomlTable):
    """A film, scrim, foam or release film that lies in the stack."""

    areal_weight: ArealWeight
    thickness: Length
    counts_as: word("neither", "resin", "fiber")  # type: ignore[valid-type]
    resin: str | None = Field(default=None, description="of which resin it is, where it counts as resin")
    stays: YesNo = True


class Tool(TomlTable):
    """The hard tool and the press that closes it.

    evacuated: whether the cavity holds no gas where nothing presses; pressure_limit: what walls, end plates
    and bolts are built for; maximum: of the tool, where it stays behind its core.
    """

    material: str | None = None
    expansion: Expansion | None = None
    closes: word("hot", "cold") = "hot"  # type: ignore[valid-type]
    temperature: Temperature | None = None
    clamp_force: Force | None = None
    compliance: Compliance = Zero
    evacuated: YesNo = False
    pressure_limit: Pressure | None = None
    maximum: Temperature | None = None


class Room(TomlTable):
    """What cores and laminates fill together: cold sizes of the bare tool.

    opens: the size along which the tool opens, or projected_area; ends: whether the core may grow out;
    wanted_pressure: at gel, above ambient.
    """

    width: Length | None = None
    height: Length | None = None
    length: Length | None = None
    diameter: Length | None = None
    volume: Volume | None = None
    corner_radius: Rounding | None = None
    opens: word("width", "height", "length") | None = None  # type: ignore[valid-type]
    projected_area: Area | None = None
    ends: word("closed", "open") = "closed"  # type: ignore[valid-type]
    wanted_pressure: Pressure | None = None


class Heating(TomlTable):
    """A core heated through both faces by the platens."""

    platen: Temperature
    start: Temperature
    time: Time
    thickness: Length
    diffusivity: Diffusivity


class Cast(TomlTable):
    """How the core is cast over a dummy."""

    temperature: Temperature
    cure_shrinkage: Fraction


class Core(TomlTable):
    """A core that expands as it heats.

    In a room it has its own cold sizes, a volume, or a mass and a density. Without one: held and width;
    insert_thickness of what lies in the cavity across it beside core and laminate, and grows as the tool;
    volume, cavity_volume, laminate_area and insert_volume (cold) replace the balance of widths by one of
    volumes. maximum: its own hottest mean; clearance: to each bare side of the room.
    """

    room: str | None = None
    acts_as: word("rubber", "hard") | None = None  # type: ignore[valid-type]
    height: Length | None = None
    length: Length | None = None
    diameter: Length | None = None
    mass: Mass | None = None
    density: AnyDensity | None = None
    corner_radius: Rounding | None = None
    clearance: Rounding | None = None
    maximum: Temperature | None = None

    material: str | None = None
    expansion: Expansion | None = None
    bulk_modulus: Modulus | None = None
    bulk_modulus_at: Temperature | None = None
    bulk_modulus_rise: Factor | None = None
    held: word("no", "sides", "ends") | None = None  # type: ignore[valid-type]
    width: Length | None = None
    offset: Offset = Zero
    temperature: Temperature | None = None
    heating: Heating | None = None
    projected_area: Area | None = None
    limit_moldings: Count | None = None
    cast: Cast | None = None
    insert_thickness: Length | None = None
    volume: Volume | None = None
    cavity_volume: Volume | None = None
    laminate_area: Area | None = None
    insert_volume: Volume | None = None
    insert_expansion: Expansion | None = None


class Bladder(TomlTable):
    """A bladder that presses with a given pressure."""

    pressure: Pressure


class Zone(TomlTable):
    """A place of the part: between tool halves, against a core, in a room, or under a bladder.

    side, walls, share: the direction of the room that its thickness takes from, the laminates across it, and
    the share of the length or girth that they cover; plies: all fiber plies, where not asked; bleed: of the
    resin, expected; sensors: least columns of a log by what they read, 0 for none.
    """

    gap: Length | None = None
    inner_material: str | None = None
    inner_expansion: Expansion | None = None
    inner_half_width: Length | None = None
    outer_half_width: Length | None = None
    cavity: Length | None = None
    core: str | None = None
    walls: Annotated[int, Field(strict=True, ge=1, le=2)] = 1
    bladder: str | None = None
    room: str | None = None
    side: word("width", "height", "length", "round", "all") | None = None  # type: ignore[valid-type]
    share: Covered = SIValue(1.0)
    plies: Count | None = None
    bleed: Bleed | None = None
    wanted_pressure: Pressure | None = None
    stack: list[str] = []
    fill_with: str | None = None
    bleed_limit: MassFraction = Zero
    projected_area: Area | None = None
    area: Area | None = None
    shear: Angle = Zero
    pressed_at: Pressure | None = None
    sensors: dict[str, Tally] = {}

    def fixed(self) -> list[tuple[int, str]]:
        """Count and name of every entry of the stack."""
        return [(int(count), name) for count, name in (entry.split(maxsplit=1) for entry in self.stack)]


class Plan(TomlTable):
    """What must be measured in a zone before a batch can conform."""

    coupons: Coupons = 1
    positions: list[str] = []
    methods: list[str] = []
    repeats: dict[str, Count] = Field({}, description="least readings of a column: { thickness = 3 }")
    fields: Count = Field(1, description="least fields of a point count")
    represented_by: str = Field("", description="the zone with coupons that stands for it")
    not_measured: str = Field("", description="why none is measured here, said beside the answer")
    allowed_outside: Tally = 0
    retests: Tally = 0
    retest_coupons: Count | None = None
    pooled_scatter: dict[str, str] = {}

    @property
    def most(self) -> int:
        """Coupons to be cut: the largest count of its methods, 0 where none is measured."""
        if self.represented_by or self.not_measured:
            return 0
        return max(self.coupons.values()) if isinstance(self.coupons, dict) else self.coupons

    @property
    def measured_by(self) -> list[str]:
        """The methods that it names."""
        return list(self.coupons) if isinstance(self.coupons, dict) else self.methods

    def of(self, method: str) -> int:
        """Coupons that a method needs."""
        return self.coupons.get(method, 0) if isinstance(self.coupons, dict) else self.coupons

    def least(self, method: str) -> int:
        """Coupons that a value needs which comes from several methods, in their words."""
        named = [self.of(known_method) for known_method in self.measured_by if known_method in method]
        return min(named or [self.of(known_method) for known_method in self.measured_by] or [self.most])

    def repeats_of(self, column: str) -> int:
        """Least readings of a column: two masses in air where no other method shows a slip in one."""
        other = {"digestion", "ignition", "thickness"}.isdisjoint(self.measured_by)
        alone = column == "mass in air" and "immersion" in self.measured_by and other
        return self.repeats.get(column, 2 if alone else 1)


class Part(TomlTable):
    """A part file, checked: what is fixed for a part before molding.

    Its attributes are the tables of the file. A quantity in it is no `Value`: its `value` is in SI units, its
    `text` as written, `Value.parse` reads that. `laminate schema part` lists every key.
    `read_part` makes one of a file or a mapping, `Part(**tables)` of the same tables, through the same rules.

    Raises
    ------
    Refused : with every finding, each with its key path

    Examples
    --------
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> part = lam.read_part(files("laminate.examples") / "mast" / "part.toml")
    >>> part.fiber["carbon"].density.value
    1790.0
    """

    read_apart: ClassVar[tuple[str, ...]] = ("limits",)
    format: Format
    part: PartHead
    temperature: Temperatures | None = None
    fiber: dict[str, Fiber]
    resin: dict[str, Resin]
    prepreg: dict[str, Prepreg]
    layer: dict[str, Layer] = {}
    tool: Tool | None = None
    room: dict[str, Room] = {}
    core: dict[str, Core] = {}
    bladder: dict[str, Bladder] = {}
    zone: dict[str, Zone]
    heat: HeatLayers = HeatLayers.model_construct()  # a checked one would be built on import
    cycle: dict[str, Cycle] = {}
    plan: dict[str, Plan] = {}
    _limits: Limits = PrivateAttr(default_factory=Limits)
    _pooled: dict[str, dict[str, Spread]] = PrivateAttr(default_factory=dict)

    def __init__(self, /, **tables: Any) -> None:
        made = part_of(call_text(tables), "part")
        for slot in ("__dict__", "__pydantic_fields_set__", "__pydantic_extra__", "__pydantic_private__"):
            object.__setattr__(self, slot, getattr(made, slot))

    @classmethod
    def model_validate(cls, obj: Any, *_: Any, **__: Any) -> Self:
        """A part of the tables of a file, as `Part(**tables)`; a part is itself."""
        return obj if isinstance(obj, cls) else cls(**obj)

    __init__.__pydantic_base_init__ = True  # type: ignore[attr-defined]  # checking its tables makes none anew

    @property
    def limits(self) -> Limits:
        """The limits of the part."""
        return self._limits

    @property
    def pooled(self) -> dict[str, dict[str, Spread]]:
        """Pooled scatter by zone and attribute, where the plan gives one."""
        return self._pooled


def read_part(file: NamedFile) -> tuple[Part, bytes]:
    """The checked part file and its bytes. Raises `Refused` with every finding of the file."""
    raw, data = load(file)
    if "batch" in raw and "zone" not in raw:
        expected, hint = "a part file, with tables [part] and [zone.NAME]", "a batch file names its part file"
        raise Refused(wrong_file(file.name, "a batch file", expected, hint))
    return part_of(raw, file.name), data


def part_of(raw: dict[str, Any], name: str) -> Part:
    """The checked part of the tables of a file. Raises `Refused`."""
    return report_once(lambda tables: _checked(tables, name), raw, name)


def _checked(raw: dict[str, Any], name: str) -> Part:
    rest = {key: value for key, value in raw.items() if key != "limits"}
    raw_file = RawFile(raw, name)
    limits, pooled = read_limits(raw_file), check_part(raw_file)
    check_press(raw_file)
    part = check(Part, rest, name, raw_file.problems)
    part._limits, part._pooled = limits, fixed(pooled)
    return part
