"""The questions turned round: which gap, which prepreg, which tolerance for what is wanted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.formulas.roots import bracketed_root
from laminate.press.counts import Laid, lay
from laminate.press.cured import cured
from laminate.press.names import VOID
from laminate.press.shared_inputs import sampling_error
from laminate.values.input_key import Key, Name
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.press.case import ZoneCase
    from laminate.press.layup import Layup
    from laminate.press.shared_inputs import SharedInputs

CHANCE = 0.95
ALL = "all of them"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a person asks for: a fiber volume, a chance; None where not asked."""

    fiber_volume: float | None = None
    chance: float | None = None


NOTHING = Wanted()


@dataclass(frozen=True, slots=True)
class GapWanted:
    """The gap at which so many plies come out at a fiber volume.

    bleed: share of the resin that leaves; sizes: cold 'gap', or 'cavity' and 'core width', each alone [m];
    hindrance: '' where it can be done, else 'shortfall', 'bleed limit' or 'packing limit'.
    """

    plies: int
    fiber_volume: float
    bleed: float
    hot_gap: float
    sizes: Mapping[str, float]
    hindrance: str


@dataclass(frozen=True, slots=True)
class Order:
    """The prepreg to order so that so many plies come out at a fiber volume in the gap as it stands.

    areal_weight: of the fiber, or of the prepreg where the file gives that [kg/m^2], the resin content as it
    is; its bleed and hindrance; resin_content: least and greatest, the areal weight as it is, at which the
    plies fill and the tool closes, with the fiber volume at each; None where there is none.
    """

    plies: int
    prepreg: str
    of_prepreg: bool
    fiber_volume: float | None
    areal_weight: float | None
    bleed: float | None
    hindrance: str
    resin_content: tuple[float, float] | None
    fiber_volume_there: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class ToleranceWanted:
    """What the tolerance of one input would have to be, the others as they are, for the wanted chance.

    stated: the input as written; u: its standard uncertainty now [SI of the input]; factor: on it, None where
    even an exact value is not enough; best: the chance with this input exact; error: standard error of the
    chances.
    """

    input: Name
    stated: str
    u: float
    factor: float | None
    best: float
    error: float


def _hindrance(case: ZoneCase, layup: Layup, bleed: float, gap: float) -> str:
    if bleed < -1e-12:
        return "shortfall"
    if gap < (layup.packed + layup.layers) * (1.0 - 1e-12):
        return "packing limit"
    return "bleed limit" if bleed > case.zone.bleed_limit.value + 1e-12 else ""


def gap_for(case: ZoneCase, fill_plies: int, fiber_volume: float) -> GapWanted:
    """Which gap gives this fiber volume of the cold part with so many plies.

    fiber_volume: V_f [0..1]. From formula 6 solved for the bleed, then formula 5 for the hot gap.
    """
    x = case.inputs.numbers()
    layup = lay(case, fill_plies, x).layup
    bleed = layup.bleed_for_volume(fiber_volume, x[VOID])
    assert bleed is not None  # plies without resin fill no gap
    gap = float(layup.thickness(bleed))
    return GapWanted(
        plies=case.plies(fill_plies),
        fiber_volume=fiber_volume,
        bleed=bleed,
        hot_gap=gap,
        sizes=case.change_for(gap, x),
        hindrance=_hindrance(case, layup, bleed, gap),
    )


def order_for(case: ZoneCase, fill_plies: int, fiber_volume: float | None) -> Order:
    """Which areal weight, or which resin content, to order for so many plies in the gap as it stands."""
    x, plies = case.inputs.numbers(), [name for _, name in case.zone.fixed() if name in case.part.prepreg]
    prepreg = case.zone.fill_with or plies[0]
    weight, resin = Key("prepreg", prepreg, "areal_weight"), Key("prepreg", prepreg, "resin_content")
    gap = float(case.hot_gap(x))

    def at(name: Key, value: float) -> dict[Name, float]:
        return {**x, name: value}

    def volume_at(y: Mapping[Any, float]) -> float:
        laid = lay(case, fill_plies, y)
        return float(cured(laid.sums, bleed=laid.layup.bleed_for(gap), void_content=y[VOID])["fiber_volume"])

    areal = bleed = None
    hindrance = ""
    if fiber_volume is not None:
        areal = bracketed_root(
            function=lambda m: volume_at(at(weight, m)) - fiber_volume,
            low=x[weight] * 0.05,
            high=x[weight] * 20.0,
        )
        if areal is not None:
            layup = lay(case, fill_plies, at(weight, areal)).layup
            bleed = float(layup.bleed_for(gap))
            hindrance = _hindrance(case, layup, bleed, gap)
    most = 0.98 - x[Key("prepreg", prepreg, "volatiles")]

    def share(missing: Callable[[Laid], Any]) -> float | None:
        """The resin content at which nothing is missing."""
        return bracketed_root(
            function=lambda w: float(missing(lay(case, fill_plies, at(resin, w)))), low=0.01, high=most
        )

    least, greatest = share(lambda laid: laid.full - gap), share(lambda laid: laid.smallest - gap)
    shares = None if least is None or greatest is None or greatest < least else (least, greatest)
    return Order(
        plies=case.plies(fill_plies),
        prepreg=prepreg,
        of_prepreg=prepreg in case.made.of_prepreg,
        fiber_volume=fiber_volume,
        areal_weight=areal,
        bleed=bleed,
        hindrance=hindrance,
        resin_content=shares,
        fiber_volume_there=(
            None if shares is None else (volume_at(at(resin, shares[0])), volume_at(at(resin, shares[1])))
        ),
    )


def tolerances_for(
    inputs: SharedInputs, wanted: float, chance_with: Callable[[Mapping[Any, float]], float]
) -> tuple[ToleranceWanted, ...]:
    """Which tolerance of which input, each alone, brings the chance of all to the one wanted.

    wanted: chance [0..1]; chance_with: the chance with factors on standard uncertainties, by input, of the
    draws that the answer is of, so that what it names, in hundredths rounded down, brings the answer there.
    The entry 'all of them' scales every tolerance alike. The most helpful comes first.
    """
    sources = inputs.sources()
    tolerances = []
    for label, names in [(s.name, [s.name]) for s in sources] + [(ALL, [s.name for s in sources])]:
        best = chance_with(dict.fromkeys(names, 0.0))
        low, high = 0, 101
        while best >= wanted and high - low > 1:
            middle = (low + high) // 2
            reached = chance_with(dict.fromkeys(names, middle / 100.0)) >= wanted
            low, high = (middle, high) if reached else (low, middle)
        factor = low / 100.0 if best >= wanted else None
        value = inputs.values.get(label, SIValue(0.0))
        error = sampling_error(best, inputs.draws)
        tolerances.append(ToleranceWanted(label, value.text, value.spread, factor, best, error))
    return tuple(sorted(tolerances, key=lambda n: (n.input == ALL, -(n.factor or 0.0), -n.best)))
