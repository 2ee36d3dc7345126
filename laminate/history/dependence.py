"""What an answer of `correct` depends on: coupons in doubt and excluded ones, each tried the other way."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from laminate.coupons.batch_measure import measure_batch
from laminate.coupons.blanks import STANDARD
from laminate.coupons.measured import zone_result
from laminate.coupons.open_doubts import every_doubt
from laminate.coupons.without_exclusions import with_every
from laminate.files.batch import Blank
from laminate.history.achieved import as_it_is
from laminate.press.inputs import zone_case
from laminate.press.unfavorable import at_unfavorable, counts_as_exact, with_usual_spread, without_spread
from laminate.press.unstated import as_asked, material_keys
from laminate.values.input_key import Key
from laminate.values.said import Said
from laminate.values.sequences import by_key
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case
    from laminate.history.achieved import Vary
    from laminate.press.case import ZoneCase

    Measured = tuple[Case, Measurement]

DOUBT, EXCLUSION, LEFT_OUT = "doubt", "exclusion", "left out"
BLEED_LIMIT = "bleed_limit"
# common practice, no source: what blanks give that nobody has run
USUAL_BLANK = Blank(residue_share="0.2 % ± 0.2 (tolerance)", fiber_loss="0.5 % ± 0.5 (tolerance)")
SPECIMEN = "specimen"


@dataclass(frozen=True, slots=True)
class Dependence:
    """What has to be cleared up before an answer stands.

    kind: `DOUBT`, `EXCLUSION` or `LEFT_OUT`; names: of coupons, or keys; advice: what to change depends on
    it, else only whether an attribute differs from the prediction.
    """

    kind: str
    names: tuple[str, ...]
    advice: bool


def hold_back(depends_on: Sequence[Dependence]) -> bool:
    """Whether what to change depends on any of them."""
    return any(dependence.advice for dependence in depends_on)


@dataclass(frozen=True, slots=True)
class Variant:
    """The batches the other way; names: zone -> what is in question there; vary: of the prediction."""

    kind: str
    measured: Sequence[Measured]
    names: Mapping[str, tuple[str, ...]]
    vary: Vary = as_it_is


def doubts_and_exclusions(measured: Sequence[Measured]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """A sentence for each open doubt and each exclusion, with its batch where there are several."""
    several = len(measured) > 1

    def told(words: Callable[[Measurement], Iterator[str]]) -> tuple[str, ...]:
        rows = ((case.batch.batch.id, line) for case, result in measured for line in words(result))
        return tuple(dict.fromkeys(Said(f"batch {b}: ", line) if several else line for b, line in rows))

    excluded = told(lambda result: (f"{s.name}: {s.excluded}" for s in result.excluded()))
    return told(lambda result: (doubt.what for doubt in every_doubt(result))), excluded


def variants(measured: Sequence[Measured], between_faces: Collection[str]) -> Iterator[Variant]:
    """Without what is in doubt, with coupons counted that are excluded without an approval, and with what is
    left out at usual values.

    between_faces: the zones with a gap, of which something may be left out.
    """
    several = len(measured) > 1
    for kind, vary in ((DOUBT, _without_doubts), (EXCLUSION, _with_excluded)):
        names: dict[str, tuple[str, ...]] = {}
        others = []
        for case, result in measured:
            other, in_zones = vary(case, result)
            others.append((case, other))
            of_batch = f" of {case.batch.batch.id}" if several else ""
            for zone, mine in in_zones.items():
                names[zone] = (*names.get(zone, ()), *(f"{name}{of_batch}" for name in mine))
        if names:
            yield Variant(kind, others, names)
    yield from _left_out(measured, between_faces)
    yield from _without_blanks(measured)


def _left_out(measured: Sequence[Measured], between_faces: Collection[str]) -> Iterator[Variant]:
    """Each key that is left out of the part, at an unfavorable usual value; then the ±."""
    case, _ = measured[-1]
    keys: dict[Key, list[str]] = {}
    bare: dict[str, tuple[str, ...]] = {}
    for zone in between_faces:
        made = zone_case(case.part, zone, case.name, case.ingredients())
        mine = material_keys([made])
        if "bleed_limit" not in made.zone.model_fields_set:
            mine.append(Key("zone", zone, BLEED_LIMIT))
        for key in dict.fromkeys(mine):
            keys.setdefault(key, []).append(zone)
        bare[zone] = tuple(f"± of {name}" for name in without_spread(made) if counts_as_exact(made, name))
    for key, zones in keys.items():
        (words,) = as_asked(case.part, [key])
        yield Variant(LEFT_OUT, measured, dict.fromkeys(zones, (words,)), partial(_at, key))
    if any(bare.values()):
        yield Variant(LEFT_OUT, measured, {z: names for z, names in bare.items() if names}, with_usual_spread)


def _at(key: Key, case: ZoneCase) -> ZoneCase:
    """A zone where a key that is left out has an unfavorable usual value: all that can bleed may."""
    if key.quantity != BLEED_LIMIT:
        return at_unfavorable(case, key)
    return case.with_key(key, SIValue(1.0)) if key.name == case.name else case


def _without_blanks(measured: Sequence[Measured]) -> Iterator[Variant]:
    """The batches with usual blanks, where coupons lose their matrix and no blanks are told."""
    others, zones = [], dict[str, tuple[str, ...]]()
    for case, result in measured:
        without = result.zones if not result.bench.blank else []
        lacking = [z.zone for z in without if z.zone and any(s.plan.loss for s in z.specimens if s.counts)]
        zones |= dict.fromkeys(lacking, ("blank.residue_share, blank.fiber_loss",))
        batch = case.batch.model_copy(update={"blank": USUAL_BLANK})
        other = replace(case, batch=batch)
        others.append((other, measure_batch(other)) if lacking else (case, result))
    if zones:
        yield Variant(LEFT_OUT, others, zones)


def _without_doubts(case: Case, measured: Measurement) -> tuple[Measurement, dict[str, list[str]]]:
    """The measurement without coupons in doubt, and without what blanks or standards in doubt bear on."""
    doubts = every_doubt(measured)
    rows = {doubt.coupon.specimen: doubt.coupon.kind for doubt in doubts}
    beside = {name: kind for name, kind in rows.items() if kind != SPECIMEN}

    def bears(kind: str, specimen: Specimen, method: str) -> bool:
        part = "immersion" if kind == STANDARD else specimen.plan.loss
        return bool(part) and part in method

    def sure(specimen: Specimen) -> Specimen:
        every = specimen.every.items()
        left = {key: m for key, m in every if not any(bears(k, specimen, key[1]) for k in beside.values())}
        return replace(specimen, every=left)

    names: dict[str, list[str]] = {}
    zones = []
    for zone in measured.zones:
        counted = [s for s in zone.specimens if s.counts]
        of_zone = [s.name for s in counted if s.name in rows]
        of_zone += [n for n, k in beside.items() if any(bears(k, s, m) for s in counted for _, m in s.every)]
        if of_zone:
            names[zone.zone or ""] = of_zone
        left = [sure(s) for s in zone.specimens if s.name not in rows]
        zones.append(zone_result(left, zone.zone, case.part.pooled))
    return replace(measured, zones=zones), names


def _with_excluded(case: Case, measured: Measurement) -> tuple[Measurement, dict[str, list[str]]]:
    """The measurement with the coupons counted that no [[exclusion]] names, where they can be computed."""
    approved = {approval.specimen for approval in case.batch.exclusion}
    names = {specimen.name for specimen in measured.excluded()} - approved
    counted = with_every(case, measured, names)
    if counted is None:
        return measured, {}
    in_zones = by_key((s.zone or "", s.name) for s in measured.specimens if s.name in names and s.every)
    return counted, {zone: list(mine) for zone, mine in in_zones.items()}
