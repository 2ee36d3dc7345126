"""batch.toml: what happened to one batch, as checked models, and the part file that it names."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, Field, WithJsonSchema

from laminate.files.any_reading import AnyReading, AnySpread, AnyStep
from laminate.files.batch_checks import check_batch
from laminate.files.cycle_keys import GelPoint, Log
from laminate.files.log_checks import check_batch_cycle
from laminate.files.named_file import NamedFile
from laminate.files.not_recorded import Day, Duration, Named, Untraced, Words
from laminate.files.part import Count, Part, Tally, Zero, read_part
from laminate.files.raw_file import RawFile
from laminate.files.toml import (
    AirDensity,
    AnyDensity,
    ArealWeight,
    FiberDensity,
    Format,
    Fraction,
    Length,
    Mass,
    MassFraction,
    ResinContent,
    ResinDensity,
    Share,
    TomlTable,
    check,
    load,
    misread,
    report_once,
    word,
)
from laminate.press.stack import Ingredients, ingredients
from laminate.values.input_key import Key
from laminate.values.problems import Problem, Refused, missing_file, refuse_all, wrong_file
from laminate.values.quantities import RESIN_BASES
from laminate.values.units import SIValue

DEFAULT_AIR = SIValue(1.2, text="0.0012 g/cm^3")


def _digest(text: str) -> str:
    if not re.fullmatch("[0-9a-f]{64}", text):
        expected = "the SHA-256 of the earlier record.json, 64 hexadecimal digits in small letters"
        raise misread("wrong-value", repr(text), expected, "'laminate verify' prints it")
    return text


Digest = Annotated[
    str, AfterValidator(_digest), WithJsonSchema({"type": "string", "pattern": "^[0-9a-f]{64}$"})
]


class BatchHead(TomlTable):
    """Which batch this is, and of which part."""

    id: Named = Field(description="the batch in quotes")
    part: str = Field(description="the part file, relative to this file")
    part_number: str = Field(description="the part number, as in the part file")
    part_issue: str = Field(description="the issue, as in the part file")
    molded: dt.date | None = None
    quantity: Count | None = None
    serials: str = ""
    press: str = ""
    coupons: list[str] = []
    plies: dict[str, Count] = {}
    cut: dict[str, Tally] = Field({}, description="coupons cut of each zone, retests and excluded ones too")
    retain_until: dt.date | None = None


class CoreUsed(TomlTable):
    """Which core was used, and how often it has been."""

    identity: str = ""
    moldings: Tally | None = None


OF_LOTS = {
    "areal_weight": ("fiber_areal_weight", "prepreg_areal_weight"),
    "resin_content": ("resin_content",),
    "volatiles": ("volatiles",),
}
"""What a lot certifies of its prepreg, and the keys of which one says it."""


def lot_name(number: str) -> str:
    """How a lot is named in a sentence."""
    return f"lot {number}" if number.strip() else "lot without a number"


class Lot(TomlTable):
    """A lot of a prepreg with the values of its certificate or incoming test."""

    prepreg: str
    number: str = ""
    share: Fraction | None = None
    certificate: str = ""
    fiber_areal_weight: ArealWeight | None = None
    prepreg_areal_weight: ArealWeight | None = None
    resin_content: ResinContent | None = None
    resin_basis: word(*RESIN_BASES) | None = None  # type: ignore[valid-type]
    volatiles: MassFraction | None = None
    stored_humidity: Fraction | None = None
    made: Day | None = None
    expires: Day | None = None
    out_time: Duration | None = None
    out_life: Duration | None = None
    gel_time: list[GelPoint] = []

    @property
    def called(self) -> str:
        """How the lot is named in a sentence."""
        return lot_name(self.number)

    def certified(self, quantity: str) -> SIValue | None:
        """What it says of a quantity of its prepreg, None where it says nothing."""
        return next((value for key in OF_LOTS[quantity] if (value := getattr(self, key)) is not None), None)


class BatchFiber(TomlTable):
    """The fiber as certified for this batch."""

    density: FiberDensity | None = None
    certificate: str = ""


class BatchResin(TomlTable):
    """The resin as certified or measured for this batch."""

    density: ResinDensity | None = None
    liquid_density: ResinDensity | None = None
    certificate: str = ""


class Instrument(TomlTable):
    """A balance, thermometer or gauge: its repeatability is each reading's own, its calibration shared.

    resolution: its smallest step [SI].
    """

    identity: str = ""
    repeatability: AnySpread | None = None
    calibration: AnySpread | None = None
    resolution: AnyStep | None = None
    calibrated: dt.date | None = None
    due: dt.date | None = None
    traceable: Untraced = ""
    certificate: str = ""


class Laboratory(TomlTable):
    """Where, when and in what the coupons were measured."""

    name: str = ""
    procedure: str = ""
    measured: dt.date | None = None
    liquid: str = "water"
    liquid_density: AnyDensity | None = None
    air_density: AirDensity = DEFAULT_AIR
    wires: Tally = 0
    wire_diameter: Length | None = None
    beaker_diameter: Length | None = None


class Blank(TomlTable):
    """Blank runs: residue of neat cured resin, loss of bare fiber."""

    residue_share: Share = Zero
    fiber_loss: Share = Zero
    none: Words = ""


class Charge(TomlTable):
    """Resin content by weighing the charge, and the part with its trim."""

    mass: Mass
    part_and_trim: Mass


class Process(TomlTable):
    """One process reading that is held to a limit: typed with its source, or taken from a zone's log."""

    value: AnyReading | None = None
    source: str = ""
    from_: word("log") | None = Field(None, alias="from")  # type: ignore[valid-type]
    zone: str | None = None


class Exclusion(TomlTable):
    """Who approved that a specimen does not count, and what went wrong with it apart from its result."""

    specimen: str = Field(description="the name of the excluded specimen, in quotes")
    method: str = ""
    cause: Words = Field(description="what went wrong, apart from the result")
    approved_by: Words = Field(description="the name of who approved it, who is not the operator")
    number: Named = Field(description="the number of the nonconformance report, in quotes")
    date: dt.date = Field(description="the day on which it was approved, such as 2026-11-21")


class Concession(TomlTable):
    """A written permission for what does not conform."""

    number: Named
    authority: Words
    characteristics: list[str]
    reason: Words


class Replaces(TomlTable):
    """The earlier record that an amended batch replaces."""

    record: Digest
    reason: Words


class Batch(TomlTable):
    """A batch file."""

    format: Format
    batch: BatchHead
    core_used: dict[str, CoreUsed] = {}
    lot: list[Lot] = []
    fiber: dict[str, BatchFiber] = {}
    resin: dict[str, BatchResin] = {}
    instrument: dict[str, Instrument] = {}
    laboratory: Laboratory = Laboratory()
    blank: Blank | None = None
    charge: Charge | None = None
    process: dict[str, Process] = {}
    log: list[Log] = []
    exclusion: list[Exclusion] = []
    concession: Concession | None = None
    replaces: Replaces | None = None


@dataclass(frozen=True)
class Case:
    """A batch with its part.

    file: of the batch; files: the bytes of batch, part and logs by name as called.
    """

    batch: Batch
    part: Part
    file: NamedFile = field(repr=False)
    files: dict[str, bytes] = field(repr=False)

    @property
    def name(self) -> str:
        """The batch file as called."""
        return self.file.name

    def __fspath__(self) -> str:
        """The path of its batch file, so that whatever takes that path takes the batch."""
        return str(self.file.path)

    def coupon_files(self) -> list[NamedFile]:
        """Every coupon table."""
        return [self.file.relative(name) for name in self.batch.batch.coupons]

    def tables(self) -> list[NamedFile]:
        """Every coupon table with its bytes, each read once. Raises `Refused`."""
        self.check_coupon_files()
        contents: dict[str, bytes] = {}
        for file in self.coupon_files():
            contents[file.name] = contents.get(file.name) or file.read("a coupon table")
        return [replace(file, stored=contents) for file in self.coupon_files()]

    def check_coupon_files(self) -> None:
        """Raise `Refused` with every coupon table that is not there."""
        what, named = "a coupon table, relative to this file", enumerate(self.batch.batch.coupons, 1)
        lacking = [(n, name) for n, name in named if not self.file.relative(name).exists]
        refuse_all([self.file.lacks(f"batch.coupons[{n}]", name, what) for n, name in lacking])

    def ingredients(self, lots: frozenset[str] = frozenset()) -> Ingredients:
        """The material values: those of the batch in the place of nominal ones.

        lots: where a coupon names its lot, only these lots of their prepregs count.
        """
        overrides: dict[Key, tuple[SIValue, str]] = {}
        for which, table in (("fiber", self.batch.fiber), ("resin", self.batch.resin)):
            for name, made in table.items():
                origin = f"certificate {made.certificate}" if made.certificate else "batch file"
                for key in ("density", "liquid_density"):
                    if (value := getattr(made, key, None)) is not None:
                        overrides[Key(which, name, key)] = (value, origin)
        bases: dict[str, str] = {}
        of_prepreg = {name for name, p in self.part.prepreg.items() if p.fiber_areal_weight is None}
        for prepreg in dict.fromkeys(lot.prepreg for lot in self.batch.lot):
            mine = [lot for lot in self.batch.lot if lot.prepreg == prepreg]
            used = [lot for lot in mine if lot.number in lots] or mine
            overrides.update(_of_lots(prepreg, used))
            if used[0].resin_content is not None:
                bases[prepreg] = str(used[0].resin_basis)
            if used[0].prepreg_areal_weight is not None:
                of_prepreg.add(prepreg)
            elif used[0].fiber_areal_weight is not None:
                of_prepreg.discard(prepreg)
        return ingredients(self.part, overrides, bases, frozenset(of_prepreg))


def _log_bytes(batch: Batch, file: NamedFile) -> dict[str, bytes]:
    """The bytes of every log by name as called. Raises `Refused` with each that cannot be read."""
    contents: dict[str, bytes] = {}
    problems: list[Problem] = []
    for n, log in enumerate(batch.log, 1):
        log_file = file.relative(log.file)
        try:
            contents[log_file.name] = log_file.read("a log")
        except Refused:
            what = "a log that can be read, relative to this file"
            problems.append(file.lacks(f"log[{n}].file", log.file, what))
    refuse_all(problems)
    return contents


def shares_of(lots: Sequence[Lot]) -> list[float]:
    """The shares of the lots of a prepreg, 1 together."""
    shares = [lot.share.value if lot.share else 1.0 / len(lots) for lot in lots]
    return [share / sum(shares) for share in shares]


def _of_lots(prepreg: str, lots: list[Lot]) -> dict[Key, tuple[SIValue, str]]:
    """Values of one or more lots of a prepreg, weighted with their shares."""
    lot_values: dict[Key, tuple[SIValue, str]] = {}
    shares = shares_of(lots)
    of_lots = [f"{lot.called}{lot.certificate and f', certificate {lot.certificate}'}" for lot in lots]
    for what in OF_LOTS:
        values = [value for lot in lots if (value := lot.certified(what)) is not None]
        if len(values) == len(lots):
            which = [
                (i, j, Key("lots", prepreg, f"{lots[i].called} or {lots[j].called}"))
                for i, j in combinations(range(len(lots)), 2)
            ]
            lot_values[Key("prepreg", prepreg, what)] = _mix(values, shares, which), " and ".join(of_lots)
    return lot_values


def _mix(values: list[SIValue], shares: list[float], which: list[tuple[int, int, Key]]) -> SIValue:
    """A laminate whose lot is not named may be of the one known worst; that lots differ counts too.

    It is of one lot, whose values go together: which of two it is moves them all at once. Over pairs these
    moves add up to the scatter between the lots. which: pairs of lots, with the name of the question.
    """
    if len(values) == 1:
        return values[0]
    mean = sum(share * value.value for share, value in zip(shares, values, strict=True))
    moves = tuple(
        (name, (shares[i] * shares[j]) ** 0.5 * (values[i].value - values[j].value)) for i, j, name in which
    )
    first = SIValue(mean, unit=values[0].unit, text="mean of lots", shared=moves)
    if all(value.u is None for value in values):
        return first
    u = (max(value.spread for value in values) ** 2 + sum(move**2 for _, move in moves)) ** 0.5
    return replace(first, u=u, dof=min(value.dof for value in values), shape="normal")


def read_batch(path: Path, name: str | None = None, stored: Mapping[str, bytes] | None = None) -> Case:
    """The checked batch file and its part.

    name: the batch file as the person called it; stored: the bytes of every file by the name that it then has
    (`relative_name`), which are read in the place of the disk. Raises `Refused` with every finding of both
    files.
    """
    file = NamedFile(path, name or str(path), stored)
    raw, data = load(file)
    if "batch" not in raw and "zone" in raw:
        expected, hint = "a batch file, with a table [batch]", "a batch file names its part file"
        raise Refused(wrong_file(file.name, "a part file", expected, hint))
    batch, part, files = report_once(lambda tables: _checked(tables, file), raw, file.name)
    return Case(batch, part, file, {file.name: data, **files, **_log_bytes(batch, file)})


def _checked(raw: dict[str, Any], file: NamedFile) -> tuple[Batch, Part, dict[str, bytes]]:
    """The batch of the tables of a file, its part, and the bytes of that by its called name."""
    raw_file = RawFile(raw, file.name)
    part: Part | None = None
    files: dict[str, bytes] = {}
    problems: list[Problem] = []
    part_name = raw_file.at("batch", "part")
    if isinstance(part_name, str):
        part_file = file.relative(part_name)
        try:
            part, files[part_file.name] = read_part(part_file)
        except Refused as refused:
            problems.extend(_named_by(problem, file.name) for problem in refused.problems)
    check_batch(raw_file, part)
    check_batch_cycle(raw_file, part)
    batch = check(Batch, raw, file.name, [*raw_file.problems, *problems])
    assert part is not None
    return batch, part, files


def _named_by(problem: Problem, batch: str) -> Problem:
    """A missing part file is told with the key that names it."""
    if problem.code != "file-missing":
        return problem
    missing = missing_file(batch, "batch.part", problem.file, "a part file, relative to this file")
    return replace(missing, hint=problem.hint)
