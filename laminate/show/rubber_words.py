"""The answer of `correct` in words, of a zone that rubber presses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.show.blocks import Block, Grid, Heading, Sentence, sentences
from laminate.show.engineer_text import plies, size
from laminate.show.numbers import in_units
from laminate.values.quantities import G_M2, MM, MPA, NUMBER, PERCENT, Unit

if TYPE_CHECKING:
    from laminate.history.rubber import At, Proposal, RubberCorrection

KEEP = "Core size alone changes the pressure, not the thickness: the last column keeps the pressure at gel."


def first_line(zone: RubberCorrection, units: str) -> str:
    """The answer for one zone."""
    spread = 1.96 * zone.achieved.u
    thick = size(zone.achieved.value, units, MM, spread)
    bled = size(zone.bleed, units, PERCENT)
    said = f"Zone {zone.zone}, {plies(zone.plies)}: {thick} thick, so {bled} of the resin has bled"
    if zone.beyond:
        return f"{said}: {zone.beyond}."
    gel = "not known" if zone.now.gel is None else size(zone.now.gel, units, MPA)
    worst = "" if zone.now.worst is None else f", {size(zone.now.worst, units, MPA)} at worst"
    tail = f"{said}; pressed with {gel} at gel{worst} (above ambient)."
    if zone.aim is None:
        return f"{tail} No limits of thickness are set, so nothing is proposed."
    able = [one for one in zone.proposals if not one.refused]
    if abs(zone.achieved.value - zone.aim) <= spread:
        return f"{tail} It lies in the middle of its limits within its uncertainty: no change needed."
    if not able:
        return f"{tail} No single change brings it to the middle and keeps it pressed and the tool shut."
    return f"{tail} {len(able)} of {len(zone.proposals)} changes below would bring it to the middle."


def _amount(what: str, value: float, units: str) -> str:
    unit: Unit = NUMBER if what == "ply_count" else G_M2 if what.endswith("areal_weight") else PERCENT
    return f"{value:.0f}" if what == "ply_count" else size(value, units, unit)


def _pressure(found: At, units: str) -> str:
    unit = in_units(MPA, units).text
    both = [
        "–" if value is None else size(value, units, MPA).removesuffix(unit).strip()
        for value in (found.gel, found.worst)
    ]
    return " / ".join(both)


def _row(one: Proposal, units: str) -> tuple[str, ...]:
    mm = in_units(MM, units).text
    width = "–" if one.core_width is None else size(one.core_width, units).removesuffix(mm).strip()
    change = f"{_amount(one.what, one.now, units)} to {_amount(one.what, one.then, units)}"
    return (
        one.what.replace("_", " "),
        change,
        size(one.after.thickness, units).removesuffix(mm).strip(),
        _pressure(one.before, units),
        _pressure(one.after, units),
        one.refused or "possible",
        width,
    )


def blocks(zone: RubberCorrection, units: str) -> list[Block]:
    """One zone: the changes, each alone, with the pressures before and after."""
    mm, mpa = in_units(MM, units).text, in_units(MPA, units).text
    found: list[Block] = [Heading(f"Zone {zone.zone}, {plies(zone.plies)}, pressed by rubber")]
    if zone.none_left_at is not None:
        found += sentences([f"No pressure is left at a bleed of {size(zone.none_left_at, units, PERCENT)}."])
    if zone.proposals:
        pressures = (f"gel / worst now [{mpa}]", "then")
        columns = ("change", "from, to", f"then [{mm}]", *pressures, "answer", f"core [{mm}]")
        found += [Grid(columns, tuple(_row(one, units) for one in zone.proposals)), Sentence(KEEP)]
    return found
