"""One core in one zone: contact, pressures over all tolerances, the curve of pressure, sizes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from laminate.press.case import ROOM, core_name
from laminate.press.core_results import CoreInZone, Curve, Pressure
from laminate.press.core_seat import HOTTEST, STATES, Seat, canonical, finite
from laminate.press.known import Estimate, estimates

CURVE_POINTS = 41
CURVE_DRAWS = 2000
NO_ROOM = "the laminate and inserts leave the core no room at all: a rigid cavity cannot take them"


def _temperature(found: Estimate | None) -> Estimate | None:
    return found if found is not None and math.isfinite(found.value) else None


def _touches(seat: Seat, x: Mapping[Any, Any]) -> dict[str, Any]:
    return {
        "full": seat.contact("nominal", x),
        "contact": seat.contact("locked_maximum", x),
        "together": seat.contact("locked_maximum", x, together=True),
    }


def _pressures(
    seat: Seat, states: tuple[str, ...], clamp: float | None, *, draws: int, seed: int
) -> dict[str, Pressure] | str:
    """Every state at every moment over the stated tolerances, or why there is none."""
    from laminate.values.uncertainty import monte_carlo

    x = seat.known.numbers()
    plain = seat.pressures(x, states)
    if not all(finite(p) for p in plain.values()):
        return NO_ROOM
    sources = seat.known.sources()
    drawn = monte_carlo(lambda y: seat.pressures(y, states), x, sources, draws=draws, seed=seed)
    found = {}
    for name, value in plain.items():
        sample = np.asarray(drawn[name], dtype=float).ravel()
        low, high = _band(sample)
        if not math.isfinite(high):
            return f"over the stated tolerances {NO_ROOM}"
        u = float(sample[np.isfinite(sample)].std()) if sources else 0.0
        above = None if clamp is None else float(np.mean(sample > clamp))
        found[name] = Pressure(float(value), u or None, low, high, above)
    return found


def _band(sample: Any) -> tuple[float, float]:
    """Between which 95 % of the draws lie; infinite draws count as such."""
    low = np.quantile(sample, 0.025, method="lower")
    return float(low), float(np.quantile(sample, 0.975, method="higher"))


def _why_no_pressure(seat: Seat) -> tuple[str, str]:
    """Why there is no pressure at all, and why there is no nominal one."""
    if not seat.rubber:
        material = canonical(seat.core.material)
        return f"{material} is a hard core, a displacement actuator: the laminate sets the pressure", ""
    if core_name(seat.name, "bulk modulus") not in seat.known.values:
        return "no bulk modulus is given", ""
    if core_name(seat.name, "bulk modulus rise") not in seat.known.values:
        return "no rise of the bulk modulus with pressure is given", ""
    if seat.core.held == "no" and not seat.by_volume:
        why = (
            "held 'no' with widths alone: the free sides take up what the laminate does not; it needs volumes"
        )
        return "", why
    return "", ""


def _curve(seat: Seat, start: float, *, seed: int) -> Curve | None:
    """Nominal and locked pressure against temperature, None where the core has no room at one of them."""
    from laminate.values.uncertainty import monte_carlo

    x = seat.known.numbers()
    temperatures = [float(t) for t in np.linspace(start, max(x[HOTTEST], start + 1.0), CURVE_POINTS)]

    def formula(y: Mapping[Any, Any]) -> dict[str, Any]:
        return {str(i): seat.pressure("nominal", t, t, y) for i, t in enumerate(temperatures)}

    drawn = monte_carlo(formula, x, seat.known.sources(), draws=CURVE_DRAWS, seed=seed)
    bands = [_band(drawn[str(i)]) for i in range(CURVE_POINTS)]
    curve = Curve(
        temperature=tuple(temperatures),
        nominal=tuple(float(value) for value in formula(x).values()),
        low=tuple(low for low, _ in bands),
        high=tuple(high for _, high in bands),
        locked=tuple(float(seat.pressure("locked_maximum", t, t, x)) for t in temperatures),
    )
    return curve if all(map(math.isfinite, (*curve.nominal, *curve.high, *curve.locked))) else None


def _reaches(seat: Seat, clamp: float) -> float | None:
    """Temperature of core and tool at which the locked core reaches a pressure [K], None where never."""
    from scipy.optimize import brentq

    x = seat.known.numbers()
    low, high = x[ROOM], x[ROOM] + 400.0

    def over(temperature: float) -> float:
        return float(min(seat.pressure("locked_maximum", temperature, temperature, x), 1e12)) - clamp

    return float(brentq(over, low, high)) if over(low) < 0.0 < over(high) else None


def _per_kelvin(seat: Seat, temperature: float) -> float | None:
    """Rise of the locked pressure about a temperature of core and tool [Pa/K]."""
    x = seat.known.numbers()
    below, above = (
        float(seat.pressure("locked_maximum", t, t, x)) for t in (temperature - 0.5, temperature + 0.5)
    )
    return above - below if math.isfinite(above) else None


def core_in_zone(
    seat: Seat,
    *,
    plies: int,
    plies_fit: bool,
    clamp: float | None,
    gap_wanted: float | None,
    draws: int,
    seed: int,
    curve: bool,
) -> CoreInZone:
    """The core in one zone.

    plies: of the laminate on each wall; plies_fit: whether they fit its gap; clamp: pressure at which the
    tool opens [Pa]; gap_wanted: hot gap asked for [m]; draws, seed: of the uncertainties; curve: also
    pressure against temperature.
    """
    known, x = seat.known, seat.known.numbers()
    touch = estimates(lambda y: _touches(seat, y), known)
    reason, nominal_reason = _why_no_pressure(seat)
    found: dict[str, Pressure] | None = None
    if not reason:
        states = tuple(s for s in STATES if seat.has(s) and (s == "locked_maximum" or not nominal_reason))
        solved = _pressures(seat, states, clamp, draws=draws, seed=seed)
        found, reason = (None, solved) if isinstance(solved, str) else (solved, "")
    if seat.stacks is not None:
        laid_gap = seat.stacks.full.value
    else:
        laid = seat.laid(x)
        laid_gap = float((laid.smallest + laid.full) / 2.0)
    gap = gap_wanted if gap_wanted is not None else laid_gap
    sizes = {"width": lambda y: seat.width_for(gap, y), "pull": seat.pull_out}
    if seat.core.cast is not None and seat.rubber:
        sizes["dummy"] = lambda y: seat.dummy_for(gap, y)
    size = estimates(lambda y: {name: formula(y) for name, formula in sizes.items()}, known)
    contact, full = _temperature(touch["contact"]), _temperature(touch["full"])
    locked = found is not None and "locked_maximum at_maximum" in found
    top = x[HOTTEST]
    return CoreInZone(
        zone=seat.case.name,
        plies=plies,
        plies_fit=plies_fit,
        walls=seat.case.zone.walls,
        contact=contact,
        contact_together=_temperature(touch["together"]),
        liquid_full=full,
        window=full.value - contact.value if full and contact else None,
        pressure=found,
        reason=reason,
        nominal_reason=nominal_reason,
        locked_per_kelvin=_per_kelvin(seat, top) if locked else None,
        clamp_reached=_reaches(seat, clamp) if locked and clamp is not None else None,
        curve=_curve(seat, _curve_start(touch, x[ROOM]), seed=seed)
        if curve and found and not nominal_reason
        else None,
        gap=gap,
        gap_asked=gap_wanted is not None,
        cold_width=size["width"],
        dummy=size.get("dummy"),
        pull_out=size["pull"],
        pull_out_of_hot_stack=seat.stacks is not None,
        not_measured=tuple(known.not_measured()),
    )


def _curve_start(touch: Mapping[str, Estimate], room: float) -> float:
    """A little below contact with the laid-up stack; room temperature where it is touched cold or never."""
    start = touch["together"].value
    return max(start - 2.0, room) if math.isfinite(start) else room
