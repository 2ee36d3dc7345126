"""What lies in a zone: its prepregs by lot with their gel times, out-time, humidity and what they release."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.curing.answers import NotComputed
from laminate.formulas.gel_clock import GelLine, gel_line, share_used
from laminate.press.stack import prepregs_of
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.files.batch import Lot
    from laminate.files.part import Part

UNKNOWN_START = 0.3
"""Where no out-life is stated, `pressed in time` must hold with this share used too: a convention."""
ORDINARY_TEST, ORDINARY_SHARE, ORDINARY_HUMIDITY = 0.12, 0.5, 0.1
"""Half-widths over the value of a gel time, a share of the clock and a humidity that carry no ±: common
practice, no source."""


@dataclass(frozen=True)
class Charge:
    """One prepreg, of one lot where lots are named.

    points: temperature and gel time of each test; start: share of the clock used before the press [-], None
    where it is not known; must_state: what to write where the part states an out-life and the batch no
    out-time, else ''; of_lot: whether the points are of this lot; remarks: a ± that is taken where none is
    stated, an out-life that is over, a sentence each.
    """

    name: str
    points: tuple[tuple[SIValue, SIValue], ...]
    line: GelLine
    start: SIValue | None
    must_state: str
    of_lot: bool
    remarks: tuple[str, ...]

    @property
    def coldest(self) -> float:
        """Temperature of the coldest test [K]."""
        return min(temperature.value for temperature, _ in self.points)

    @property
    def hottest(self) -> float:
        """Temperature of the hottest test [K]."""
        return max(temperature.value for temperature, _ in self.points)


@dataclass(frozen=True)
class Contents:
    """What lies in a zone.

    charges: each prepreg and lot; missing: prepregs without gel times; humidities: the wettest first, none
    where one is not stated; releases: what each resin sets free, None where the part does not say.
    """

    charges: tuple[Charge, ...]
    missing: tuple[str, ...]
    humidities: tuple[SIValue, ...]
    releases: tuple[tuple[str, str | None], ...]

    def check_gel_times(self, part: Part) -> None:
        """Raise `NotComputed` where a prepreg has no gel times."""
        if self.missing or not self.charges:
            resins = ", ".join(part.prepreg[name].resin for name in self.missing) or "its resin"
            raise NotComputed(f"no gel times: gel_time in [resin.{resins}]")


def contents_of(part: Part, zone: str, lots: Sequence[Lot], *, planned: bool = False) -> Contents:
    """What lies in a zone of a part.

    lots: of the batch, none for a plan; planned: the prepreg may have used up all of its out-life.
    """
    prepregs = prepregs_of(part, part.zone[zone])
    laid: list[tuple[str, Lot | None]] = []
    for prepreg in prepregs:
        laid += [(prepreg, lot) for lot in lots if lot.prepreg == prepreg] or [(prepreg, None)]
    charges = [_charge(part, prepreg, lot, planned=planned) for prepreg, lot in laid]
    missing = [prepreg for (prepreg, _), charge in zip(laid, charges, strict=True) if charge is None]
    stored = [lot.stored_humidity if lot is not None else None for _, lot in laid]
    known = [_ordinary(humidity, ORDINARY_HUMIDITY) for humidity in stored if humidity is not None]
    known = sorted(dict.fromkeys(known), key=lambda humidity: humidity.value, reverse=True)
    humidities = tuple(known) if len(known) and None not in stored else ()
    resins = dict.fromkeys(part.prepreg[name].resin for name in prepregs)
    releases = tuple((resin, part.resin[resin].releases) for resin in resins)
    return Contents(tuple(filter(None, charges)), tuple(dict.fromkeys(missing)), humidities, releases)


def _charge(part: Part, prepreg: str, lot: Lot | None, *, planned: bool) -> Charge | None:
    resin = part.resin[part.prepreg[prepreg].resin]
    stated = tuple((lot.gel_time if lot is not None else []) or resin.gel_time)
    if len(stated) < 2 or any(time.value <= 0.0 for _, time in stated):
        return None
    points = tuple((temperature, _ordinary(time, ORDINARY_TEST)) for temperature, time in stated)
    of_lot = lot is not None and bool(lot.gel_time)
    line = gel_line(temperatures=[t.value for t, _ in points], times=[s.value for _, s in points])
    start, must = None, ""
    remarks: list[str] = []
    if resin.gel_test == "neat resin":
        remarks.append(f"gel times of neat resin: fibers shift the gel point, test {prepreg} itself")
    out_time = lot.out_time if lot is not None and isinstance(lot.out_time, SIValue) else None
    name = f"{prepreg} {lot.called}" if lot is not None else prepreg
    life = resin.out_life
    if life is not None and life.share.value <= 0.0:
        never = "no out-life uses up none of the gel clock"
        remarks.append(f"{name}: a share of {life.share.text} in out_life is not taken: {never}")
        life = None
    share = None if life is None else _ordinary(life.share, ORDINARY_SHARE)
    if planned:
        start = share
    elif life is not None and share is not None and out_time is not None:
        lives = (life.time, part.prepreg[prepreg].out_life, lot.out_life if lot is not None else None)
        allowed = min((v for v in lives if isinstance(v, SIValue)), key=lambda v: v.value)
        if out_time.value > allowed.value:
            remarks.append(f"{name}: out-time {out_time.text} is past its out-life {allowed.text}")
        life_time = max(allowed.value, 1.0)
        used = share_used(share=share.value, out_time=out_time.value, out_life=life_time)
        by = (used / share.value, share.value / life_time, used / life_time)
        moves = [pair for pair in zip((share, out_time, allowed), by, strict=True) if pair[0].spread]
        shape = moves[0][0].shape if len(moves) == 1 else "normal"
        dof = min((value.dof for value, _ in moves), default=math.inf)
        u = math.hypot(*(each * value.spread for value, each in moves))
        start = SIValue(used, u, dof, shape, text=out_time.text)
    elif life is not None:
        table = f"[[lot]] of {prepreg}"
        must = f"{table} with its out_time" if lot is None else f'out_time = "12 d" in {table}'
    humidity = lot.stored_humidity if lot is not None else None
    supposed = [("a gel time", "gel_time", ORDINARY_TEST)] if points != stated else []
    if humidity is not None and humidity.u is None:
        supposed += [("the storage humidity", "stored_humidity", ORDINARY_HUMIDITY)]
    if life is not None and share is not life.share and start is not None:
        supposed += [("the share of the out-life", "out_life", ORDINARY_SHARE)]
    remarks += [
        f"{name}: {what} has no ±, so {100.0 * size:.0f} % of it (tolerance) is taken: write the ± in {key}"
        for what, key, size in supposed
    ]
    return Charge(name, points, line, start, must, of_lot, tuple(remarks))


def _ordinary(value: SIValue, half_width: float) -> SIValue:
    """A value with an ordinary ± where it carries none; half_width: of its tolerance, over the value."""
    u = half_width * value.value / math.sqrt(3.0)
    return value if value.u is not None else replace(value, u=u, shape="rectangular")
