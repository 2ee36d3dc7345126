"""Resin content of a molding by weighing the charge, and the part with its trim: no coupon is cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.formulas import ply
from laminate.press import stack
from laminate.values.averages import USUAL
from laminate.values.input_key import Key, Name, in_words
from laminate.values.problems import Problem, Refused
from laminate.values.quantities import GRAM
from laminate.values.said import Figure, Said
from laminate.values.uncertainty import Scalars, deviation, nominal
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.batch import Case

BASIS = "as received"
UNFIT = "charge-unfit"
"""Code of a finding: this charge cannot tell a resin content; the batch can still be judged."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """Resin content of the molding with its trim [0..1], standard uncertainty (None: no ± anywhere).

    expanded: uncertainty at 95 %, None without one; contributions: input -> signed contribution; left: mass
    that left the charge, volatiles included, with its standard uncertainty [kg]; exact: inputs without a ±.
    """

    prepreg: str
    resin_content: float
    u: float | None
    expanded: float | None
    contributions: dict[Name, float]
    left: SIValue
    exact: tuple[str, ...]


def resin_content_by_weighing(case: Case) -> Weighed | None:
    """Resin content from `[charge]` of the batch file; None where the batch has none.

    Source: mass balance, ``w_r = (w_r0 M0 - (M0 - M1 - w_v M0))/M1``. Raises `Refused` where it does not
    hold: other layers in the stack, several prepregs, a resin content that is not as received, or a loss of
    more than all resin.
    """
    charge = case.batch.charge
    if charge is None:
        return None
    laid = {name for zone in case.part.zone.values() for name in stack.counts(zone, 1)}
    prepregs, made = sorted(laid & set(case.part.prepreg)), case.ingredients()
    if problem := _unfit(case, laid, prepregs, made.bases):
        raise Refused(problem)
    name = prepregs[0]
    scalars = Scalars()
    before = scalars.take("charge mass", charge.mass)
    after = scalars.take("mass of part and trim", charge.part_and_trim)
    keys = [Key("prepreg", name, what) for what in ("resin_content", "volatiles")]
    resin, volatiles = (scalars.take(key, made.values[key]) for key in keys)
    content = ply.resin_content_by_weighing(
        charge=before, part_and_trim=after, resin_content=resin, volatiles=volatiles
    )
    left = SIValue(nominal(before - after), deviation(before - after))
    if nominal(content) < 0.0:
        more = " less than the charge, more than all its resin and volatiles"
        loss_text = Said(Figure(left.value, GRAM), more)
        expected, hint = "a loss of resin alone", "weigh the part with all its trim and flash"
        raise Refused(_problem(case, "impossible-value", ".part_and_trim", loss_text, expected, hint))
    exact = tuple(in_words(n for n, value in scalars.values.items() if value.u is None).values())
    value, u, parts = nominal(content), deviation(content), scalars.contributions(content)
    expanded = u and u * scalars.factor(content, confidence=USUAL)
    return Weighed(name, value, u, expanded, parts, left, exact)


def _problem(case: Case, code: str, key: str, actual: str, expected: str, hint: str) -> Problem:
    return Problem(code, case.name, f"charge{key}", actual, expected, hint)


def _unfit(case: Case, laid: set[str], prepregs: list[str], bases: dict[str, str]) -> Problem | None:
    """Why a weighing of the charge cannot tell the resin content, None where it can."""
    hint = "measure the resin content on coupons, and take [charge] out"
    if layers := sorted(laid - set(prepregs)):
        text, expected = f"a charge with layer '{layers[0]}'", "a charge of prepreg alone"
    elif len(prepregs) != 1:
        text = f"a charge of prepregs {' and '.join(map(repr, prepregs)) or 'unknown'}"
        expected = "a charge of one prepreg"
    elif (basis := bases[prepregs[0]]) != BASIS:
        text = f"a resin content of '{prepregs[0]}' on the basis '{basis}'"
        expected, hint = f"the basis '{BASIS}'", "restate it, or take [charge] out"
    else:
        return None
    return _problem(case, UNFIT, "", text, expected, hint)
