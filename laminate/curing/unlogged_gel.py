"""What a log does not show: what was between its readings, and a gel later than that of platen and tool."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import IN_TIME
from laminate.curing.draws import BELOW_RANGE
from laminate.curing.view import furthest, gel_times, gels_at

if TYPE_CHECKING:
    from laminate.curing.answers import Event, Figures
    from laminate.curing.view import LogView, View

FASTEST_LOT = 0.7
"""Gel time of a fast lot over that of another: two data sheets of one resin (13 min, 12 to 22 of prepreg)."""

LOGGED_ON = 2.0
"""So much of the gel clock of platen or tool must be logged where nothing reads the laminate; no source."""


def check_substitute(view: LogView) -> None:
    """Platen and tool tell the soonest gel alone: a pressure released while they are hot may miss the latest.

    They are hot as long as the clock of the latest gel counts, which stands still far below the gel tests. A
    log that ends hot and soon tells of no release.
    """
    resin, applied = view.pressing.resin(view.seconds), view.pressing.over_ambient(view.seconds)
    first = min(gel_times(view))
    if view.thermometers.own or resin is None or applied is None or not math.isfinite(first):
        return
    hot = view.thermometers.hottest()
    counts = hot > min(charge.coldest for charge in view.contents.charges) - BELOW_RANGE
    open_ = (view.pressing.closed(applied) <= 0.0) | (resin <= view.vapor())
    reading = view.pressing.reading
    unread = np.zeros(len(hot), bool) if reading is None else ~reading.known(view.seconds)
    released = np.flatnonzero((view.seconds >= first) & counts & (open_ | unread))
    later = "no laminate sensor: it may gel later than platen or tool, and"
    if released.size:
        at, off = f"{view.seconds[released[0]] / 60.0:.0f} min", bool(open_[released[0]])
        view.objections.add(f"{later} the pressure is {'off' if off else 'not read'} at {at}", IN_TIME)
    elif counts[-1] and furthest(view)[0][-1] < LOGGED_ON:
        view.objections.add(f"{later} the log ends at {view.seconds[-1] / 60.0:.0f} min, still hot", IN_TIME)


def check_outer_plies(view: View, figures: Figures) -> None:
    """Say that plies nearer to platen and tool than the laminate's sensors may have gelled unpressed."""
    pressed, gelled = map(figures.event, ("pressed", "gel first"))
    if pressed is None or gelled is None or view.thermometers.bound is None or not view.thermometers.own:
        return
    bound = np.maximum(view.thermometers.bound, view.thermometers.hottest())
    soonest = min(gels_at(view, (view.seconds, bound), charge) for charge in view.contents.charges)
    when = pressed.time.ends or (pressed.time.value,)
    if soonest < when[-1] < gelled.time.value:
        at, then = f"{soonest / 60.0:.1f}", " to ".join(f"{time / 60.0:.1f}" for time in when)
        view.notes.warnings.append(
            f"resin as hot as platen or tool gels at {at} min, before it was pressed at {then} min: plies "
            "nearer to them than the laminate's sensors may have gelled unpressed"
        )


def check_fast_lot(view: View, pressed: Event) -> None:
    """Say where a lot that gels 30 % sooner than the tests of another would have gelled before the press."""
    for charge in view.contents.charges:
        if charge.of_lot:
            continue
        line = charge.line._replace(a=charge.line.a + math.log(FASTEST_LOT))
        fast = replace(charge, line=line)
        soonest = min(gels_at(view, (view.seconds, row.temperature), fast) for row in view.sensors)
        if soonest < pressed.time.value:
            at, then = (f"{time / 60.0:.1f} min" for time in (soonest, pressed.time.value))
            view.notes.warnings.append(
                f"{charge.name}: if it gels 30 % faster than stated, it gels at {at}, before it is pressed "
                f"at {then}; the chance counts gel times as stated, so test those of the lot"
            )
