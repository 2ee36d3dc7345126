"""Where the constants of a deciding figure are stated, and what lacks the ± that the decision needs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.coupons.blanks import ONE_ROW
from laminate.coupons.instruments import EXACT
from laminate.coupons.methods import AREAL
from laminate.coupons.resolution import untold_steps
from laminate.files.batch import OF_LOTS
from laminate.files.named_file import relative_name
from laminate.judging.evidence import BLANKS, Evidence
from laminate.judging.open_point import OpenPoint
from laminate.press.stack import prepregs_of
from laminate.values.input_key import Key, Name

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.judging.characteristic import Characteristic
    from laminate.judging.evidence import BatchEvidence
    from laminate.values.units import SIValue, Spread

NO_SPREAD, NO_BLANK = 10, 11
RESTS_ON = "but the decision rests on"
TOLD = {
    "liquid": '"..." (for example "water")',
    "air_density": '"... g/cm^3" (for example "0.0012 g/cm^3")',
    "wires": "... (a count)",
}
"""What an immersion wants told, with dots for what only the shop knows."""


@dataclass(frozen=True, slots=True)
class Stated:
    """A constant: its value or uncertainty as read, None where nobody told it; file, table and key of it."""

    value: SIValue | Spread | None
    file: str
    table: str
    key: str

    @property
    def place(self) -> str:
        """Table and key: [fiber.carbon] density."""
        return f"{self.table} {self.key}"

    @property
    def lacks(self) -> bool:
        """Whether it says neither a ± nor that it is exact."""
        return self.value is None or self.value.u is None

    @property
    def exact(self) -> bool:
        """Whether it was said to be exact."""
        return self.value is not None and self.value.u == 0.0

    @property
    def line(self) -> str:
        """The line to write, with dots for the number that only the shop knows."""
        if self.key in ("repeatability", "calibration", "ply_scatter"):
            return f'{self.file}, {self.table}: {self.key} = "... (standard)"'
        text = self.value.text if self.value is not None else ""
        return f'{self.file}, {self.table}: {self.key} = "{text} ± ... (tolerance)"'


def part_file(case: Case) -> str:
    """The part file as called."""
    return relative_name(case.name, case.batch.batch.part)


def of_constant(case: Case, name: Name, evidence: Evidence) -> Iterator[Stated]:
    """Where a constant of a feed is stated; several lots state their own values."""
    if not isinstance(name, Key):
        yield from _blank(case, name) if name in BLANKS else ()
    elif name.table in ("fiber", "resin") and name.quantity == "density":
        value, file = getattr(case.part, name.table)[name.name].density, part_file(case)
        of_batch = getattr(case.batch, name.table).get(name.name)
        if of_batch is not None and of_batch.density is not None:
            value, file = of_batch.density, case.name
        yield Stated(value, file, f"[{name.table}.{name.name}]", "density")
    elif name.table == "layer":
        layer = case.part.layer[name.name]
        yield Stated(getattr(layer, name.quantity), part_file(case), f"[layer.{name.name}]", name.quantity)
    elif name.table == "prepreg" and name.quantity in ("areal_weight", "resin_content"):
        yield from _prepreg(case, name.name, name.quantity, evidence.specimen.coupon.word("lot"))


def _prepreg(case: Case, prepreg: str, what: str, lot: str) -> Iterator[Stated]:
    keys = OF_LOTS[what]
    mine = [(i, lot) for i, lot in enumerate(case.batch.lot, 1) if lot.prepreg == prepreg]
    mine = [(i, entry) for i, entry in mine if entry.number == lot] or mine
    stated = [s for i, entry in mine for s in _stated(entry, keys, case.name, f"lot[{i}]")]
    yield from stated or _stated(case.part.prepreg[prepreg], keys, part_file(case), f"[prepreg.{prepreg}]")


def _stated(item: object, keys: Sequence[str], file: str, table: str) -> Iterator[Stated]:
    """What a table says under some keys, as far as it says it."""
    for key in keys:
        if (value := getattr(item, key)) is not None:
            yield Stated(value, file, table, key)


def _blank(case: Case, name: str) -> Iterator[Stated]:
    blank, key = case.batch.blank, name.replace(" ", "_")
    if blank is not None and key in blank.model_fields_set:
        yield Stated(getattr(blank, key), case.name, "[blank]", key)


def of_gauges(judged: BatchEvidence) -> Iterator[Stated]:
    """What every instrument of a deciding reading says of its errors."""
    for name, instrument in judged.gauges.items():
        for key in ("repeatability", "calibration"):
            yield Stated(getattr(instrument, key), judged.case.name, f"[instrument.{name}]", key)


def of_scatter(case: Case, fed: list[Evidence]) -> Iterator[Stated]:
    """The scatter from ply to ply, where thickness and areal weight decide a fiber volume."""
    attributes = ("fiber_volume", "void_content", "fiber_content")
    by_areal = [evidence for evidence in fed if evidence.characteristic.method.startswith(AREAL)]
    by_areal = [evidence for evidence in by_areal if evidence.characteristic.rule.attribute in attributes]
    zones = dict.fromkeys(str(evidence.specimen.zone) for evidence in by_areal)
    for prepreg in dict.fromkeys(p for z in zones for p in prepregs_of(case.part, case.part.zone[z])):
        value = case.part.prepreg[prepreg].ply_scatter
        yield Stated(value, part_file(case), f"[prepreg.{prepreg}]", "ply_scatter")


def of_process(case: Case) -> Iterator[Stated]:
    """The process readings that a limit holds."""
    for rule in case.part.limits.rules:
        reading = case.batch.process.get(rule.attribute) if rule.process else None
        if reading is not None and reading.value is not None:
            yield Stated(reading.value, case.name, f'[process."{rule.attribute}"]', "value")


def of_certificates(case: Case, characteristics: list[Characteristic]) -> Iterator[Stated]:
    """The values of certificates that a limit of a prepreg holds, with what they follow from."""
    lots = list(enumerate(case.batch.lot, 1))
    pairs = [(c.rule, place, lot) for c in characteristics for place, lot in lots if c.lot == lot.called]
    for rule, place, lot in pairs:
        if lot.prepreg == rule.prepreg:
            keys: tuple[str, ...] = ("fiber_areal_weight", "prepreg_areal_weight", "resin_content")
            direct = keys[0] if rule.attribute == "areal_weight" else rule.attribute
            keys = keys if getattr(lot, direct) is None else (direct,)
            yield from _stated(lot, keys, case.name, f"lot[{place}]")


def constants(judged: BatchEvidence) -> list[Stated]:
    """Everything stated that moves a deciding figure and must say its ±, each once."""
    case = judged.case
    stated = [
        constant
        for evidence in judged.fed
        for name in sorted(evidence.constants, key=str)
        for constant in of_constant(case, name, evidence)
    ]
    stated += [*of_gauges(judged), *of_scatter(case, judged.fed)]
    stated += [*of_process(case), *of_certificates(case, judged.characteristics)]
    return list({(line.file, line.place): line for line in stated}.values())


def spreads_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """What decides and says no ±, and what an immersion wants told."""
    case = judged.case
    for constant in constants(judged):
        if constant.lacks:
            fault = f"'{constant.value.text}' has no ±" if constant.value is not None else "not stated"
            yield OpenPoint(NO_SPREAD, f"{constant.place}: {fault}, {RESTS_ON} it", constant.line)
    yield from _steps(judged)
    yield from _volatiles(judged)
    if any(evidence.immersed for evidence in judged.fed):
        for key, value in TOLD.items():
            if key not in case.batch.laboratory.model_fields_set:
                what = f"[laboratory] {key} is not stated, {RESTS_ON} an immersion"
                yield OpenPoint(NO_SPREAD, what, f"{case.name}, [laboratory]: {key} = {value}")


def _steps(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Deciding readings that were computed, of an instrument whose smallest step nobody stated."""
    read = ((e.specimen.coupon, column) for e in judged.fed for column, _ in judged.read_by(e))
    for name, columns, step in untold_steps(read, judged.measured.bench):
        what = f"[instrument.{name}] resolution: not stated, {RESTS_ON} it; {columns}: computed"
        say = f'{judged.case.name}, [instrument.{name}]: resolution = "..." (for example "{step}")'
        yield OpenPoint(NO_SPREAD, what, say)


def _volatiles(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """A resin content by extraction of what was not dried, of a prepreg whose volatiles nobody stated."""
    undried: dict[str, list[str]] = {}
    for evidence in judged.fed:
        prepreg, specimen = evidence.characteristic.rule.prepreg or "", evidence.specimen
        decide = Key("prepreg", prepreg, "volatiles") in evidence.constants
        if decide and not specimen.recipe.volatiles.text:
            undried.setdefault(prepreg, []).append(specimen.name)
    for prepreg, names in undried.items():
        who = f"not dried: {', '.join(dict.fromkeys(names))}"
        say = f"{judged.case.name}, [[lot]] of '{prepreg}': "
        say += "volatiles = \"... % ± ... (tolerance)\", or the column 'dried mass' of the coupon table"
        yield OpenPoint(NO_SPREAD, f"volatiles of {prepreg}: not stated, {RESTS_ON} them ({who})", say)


def blanks_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """A loss of matrix that decides without a blank, or with one of the two alone."""
    used = {name for evidence in judged.fed for name in evidence.constants if name in BLANKS}
    blank, bench = judged.case.batch.blank, judged.measured.bench
    if not used or (blank is not None and blank.none):
        return
    share = '"... % ± ... (standard)"'
    decides, table = "the decision rests on a loss of matrix without its", f"{judged.case.name}, [blank]:"
    if not bench.blank:
        say = f'{table} residue_share = {share}, fiber_loss = {share}, or none = "..."'
        yield OpenPoint(NO_BLANK, f"{decides} blank", say)
        return
    values = {"residue share": bench.residue_share, "fiber loss": bench.fiber_loss}
    rows = {"residue share": "blank resin", "fiber loss": "blank fiber"}
    for name in BLANKS:
        if name in used and values[name] is EXACT:
            say = f"{table} {name.replace(' ', '_')} = {share}, or a row of kind {rows[name]}"
            yield OpenPoint(NO_BLANK, f"{decides} {rows[name]}", say)
    yield from _single_blanks(judged, [rows[n] for n in BLANKS if n in used and values[n].text == ONE_ROW])


def _single_blanks(judged: BatchEvidence, kinds: Sequence[str]) -> Iterator[OpenPoint]:
    """Kinds of which one row alone decides, which does not tell how far another would be from it.

    One of each does where the part asks for no more; where it asks for more than there are, that is said.
    """
    case, scatter = judged.case, 'blank_scatter = "... % (standard, dof=...)"'
    rows = [
        row for row in judged.measured.others if row.kind.startswith("blank") and not row.word("excluded")
    ]
    least = case.part.part.blanks
    if 0 < least <= len(BLANKS) or least > len(rows):
        return
    for kind in kinds:
        row, *others = (row for row in rows if row.kind == kind)
        if not others:  # of several the others wait for their readings, which is said of each
            say = f"{row.file}: a second row of kind {kind}; or {part_file(case)}, [part]: {scatter}"
            what = f"{row.specimen} is the only {kind}: how such blanks scatter is not known, {RESTS_ON} it"
            yield OpenPoint(NO_SPREAD, what, say)
