"""The keys of part and batch files that tell of the press cycle, as checked models."""

from typing import Annotated

from pydantic import Field

from laminate.files.toml import (
    Area,
    Force,
    Fraction,
    Length,
    Modulus,
    Moment,
    Pressure,
    Temperature,
    Time,
    TomlTable,
    quantity,
    word,
)

TEMPERATURES = ("laminate", "core", "platen", "tool")
PRESSURES = ("ram pressure", "bladder pressure", "cavity pressure", "resin pressure")
NOT_OF_THE_ZONE = "other"
CLOCK = "time"
READS = (*TEMPERATURES, "clamp force", *PRESSURES, CLOCK, NOT_OF_THE_ZONE)
SENSORS = (*TEMPERATURES, "clamp force", *PRESSURES)
BASES = ("over ambient", "absolute", "below ambient")
DATES = ("day first", "month first", "ISO")
GEL_TESTS = ("prepreg", "neat resin")
RELEASES = ("nothing", "water", "solvent")
FROM_LOG = {
    "peak temperature": "temperature",
    "cure temperature": "temperature",
    "time above": "time",
    "time from pressed to gel": "time",
    "vapor margin": "pressure",
}
"""What a log gives, and its kind of quantity."""

_CONDUCTANCE = quantity("conductance", 1e-3, 1e7, "from 0.001 to 1e7 W/m^2/K")
_CONDUCTIVITY = quantity("conductivity", 1e-4, 1e4, "from 0.0001 to 10000 W/m/K (diamond has about 2000)")
_HEAT_CAPACITY = quantity("heat_capacity", 1e2, 1e8, "from 1e2 to 1e8 J/m^3/K (water has 4.2e6)")
GelPoint = tuple[Temperature, Time]


class OutLife(TomlTable):
    """How long a prepreg may lie warm, and which share of its gel clock that uses."""

    time: Time
    temperature: Temperature
    share: Fraction


class LogColumn(TomlTable):
    """What one column of a log reads."""

    reads: word(*READS)  # type: ignore[valid-type]
    instrument: str | None = None
    unit: str | None = None
    base: word(*BASES) | None = None  # type: ignore[valid-type]
    ram_area: Area | None = None
    place: word("edge", "middle") | None = None  # type: ignore[valid-type]


class Log(TomlTable):
    """A file that a press or a logger wrote, and how to read it."""

    file: str = Field(description="the file, relative to this file")
    zones: list[str] = Field(description="the zones that it tells of", min_length=1)
    preamble: Annotated[int, Field(strict=True, ge=0, le=10000)] = 0
    units_row: word("yes", "no") = "no"  # type: ignore[valid-type]
    dates: word(*DATES) | None = None  # type: ignore[valid-type]
    charge_heated_since: Moment | None = None
    accepted: str = ""
    columns: dict[str, LogColumn] = Field(description="a table [log.columns]")


class Contact(TomlTable):
    """Conductance from a tool to platen and laminate, or from a core to the laminate that it touches."""

    platen: _CONDUCTANCE | None = None  # type: ignore[valid-type]
    laminate: _CONDUCTANCE | None = None  # type: ignore[valid-type]


class Heat(TomlTable):
    """What a layer between the platens conducts and stores.

    bulk_modulus: of a core, without pressure, at several temperatures; left out: that of [core.NAME] at every
    temperature.
    """

    conductivity: _CONDUCTIVITY  # type: ignore[valid-type]
    heat_capacity: _HEAT_CAPACITY  # type: ignore[valid-type]
    thickness: Length | None = None
    contact: Contact | None = None
    bulk_modulus: list[tuple[Temperature, Modulus]] = []


class HeatLayers(TomlTable):
    """The layers between the platens."""

    tool: Heat | None = None
    laminate: Heat | None = None
    core: dict[str, Heat] = {}


class Cycle(TomlTable):
    """A planned press cycle; points are joined by straight lines.

    core: mean temperature of cores that are heated from inside, by name.
    """

    platen: list[tuple[Moment, Temperature]] = Field(min_length=2)
    pressure: list[tuple[Moment, Pressure]] = []
    clamp_force: list[tuple[Moment, quantity("force", 0.0, None, "from 0")]] | Force | None = None  # type: ignore[valid-type]
    cavity_pressure: Pressure | None = None
    core: dict[str, list[tuple[Moment, Temperature]]] = {}
