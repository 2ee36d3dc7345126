"""What an answer of `correct` hangs on: coupons in doubt and excluded ones, each tried the other way."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.coupons.blanks import STANDARD
from laminate.coupons.measured import zone_result
from laminate.coupons.open_doubts import every_doubt
from laminate.coupons.without_exclusions import with_every
from laminate.values.said import Said
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.coupons.measurement import Measurement
    from laminate.files.batch import Case

    Measured = tuple[Case, Measurement]

DOUBT, EXCLUSION = "doubt", "exclusion"
SPECIMEN = "specimen"


@dataclass(frozen=True, slots=True)
class Hinge:
    """What has to be cleared up before an answer stands.

    kind: `DOUBT` or `EXCLUSION`; names: of the coupons; advice: what to change hangs on it, else only whether
    an attribute differs from the prediction.
    """

    kind: str
    names: tuple[str, ...]
    advice: bool


def hold_back(hinges: Sequence[Hinge]) -> bool:
    """Whether what to change hangs on any of them."""
    return any(hinge.advice for hinge in hinges)


@dataclass(frozen=True, slots=True)
class Trial:
    """The batches the other way; names: zone -> the coupons in question there."""

    kind: str
    measured: Sequence[Measured]
    names: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Asides:
    """What stands beside the answer: open doubts, and why coupons are excluded; a sentence each."""

    doubts: tuple[str, ...]
    excluded: tuple[str, ...]


NONE = Asides((), ())


def asides_of(measured: Sequence[Measured]) -> Asides:
    """The open doubts and the exclusions of batches, told with their batch where there are several."""
    several = len(measured) > 1

    def told(words: Callable[[Measurement], Iterator[str]]) -> tuple[str, ...]:
        rows = ((case.batch.batch.id, line) for case, result in measured for line in words(result))
        return tuple(dict.fromkeys(Said(f"batch {b}: ", line) if several else line for b, line in rows))

    excluded = told(lambda result: (f"{s.name}: {s.excluded}" for s in result.excluded()))
    return Asides(told(lambda result: (doubt.what for doubt in every_doubt(result))), excluded)


def trials(measured: Sequence[Measured]) -> Iterator[Trial]:
    """Without what is in doubt, then with the coupons counted that are excluded without an approval."""
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
            yield Trial(kind, others, names)


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
