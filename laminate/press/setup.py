"""A part in its tool and press: its rooms, its inputs by name, what lies in each zone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Self

from laminate.press import stack
from laminate.press.case import ZoneCase
from laminate.press.layup import Layup, lay_up
from laminate.press.names import CURE, MAXIMUM, TOOL_MAXIMUM
from laminate.press.rooms import Room
from laminate.press.shared_inputs import SharedInputs
from laminate.values.input_key import Key
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.press.names import Counts, Numbers


@dataclass(frozen=True, slots=True)
class Setup:
    """A part in its tool and press.

    inputs: by name; rooms: rubber and hard ones; alone: zones without a core or room: matched tool
    halves, or under a bladder; cases: every zone; humidity: relative, of the store, None where not
    stated.
    """

    part: Part
    file: str
    made: stack.Ingredients
    inputs: SharedInputs
    rooms: tuple[Room, ...]
    alone: tuple[str, ...]
    cases: Mapping[str, ZoneCase]
    humidity: SIValue | None = None

    def of_draws(self, draws: int, seed: int | None = None) -> Self:
        """The same with so many draws; seed: as it is where None."""
        return replace(self, inputs=self.inputs.of_draws(draws, seed))

    def room(self, name: str) -> Room:
        """A room by its name: of [room], or for older keys that of its core."""
        return next(room for room in self.rooms if room.name == name)

    def room_of(self, zone: str) -> Room | None:
        """The room that a zone lies in; None where it lies in none."""
        return next((room for room in self.rooms if zone in room.zones), None)

    def room_with(self, core: str) -> Room:
        """The room that a core lies in."""
        return next(room for room in self.rooms if any(shape.name == core for shape in room.cores))

    @property
    def moments(self) -> tuple[str, ...]:
        """Gel, and the moments after it that the part file knows."""
        known = self.inputs.values
        hottest = [MAXIMUM, TOOL_MAXIMUM, *(Key("core", core, "maximum") for core in self.part.core)]
        cure = ("cure",) if CURE in known else ()
        return ("gel", *cure, "maximum") if any(name in known for name in hottest) else ("gel", *cure)

    def fill_plies(self, zone: str, plies: int) -> int:
        """The plies of `fill_with` that make so many fiber plies in all; raises `Refused` where none do."""
        return self.cases[zone].fill_plies(plies, self.file)

    def counts(self, plies: Counts) -> dict[str, int]:
        """Fiber plies by zone: those asked for, else those of the part file, else a fixed stack."""
        plies_by_zone = {}
        for name, zone in self.part.zone.items():
            count = plies.get(name, zone.plies)
            if count is None and not zone.fill_with:
                count = self.cases[name].fixed_plies
            if count is not None:
                plies_by_zone[name] = count
        return plies_by_zone

    def layups(self, plies: Counts, x: Numbers, given: Mapping[str, Layup] | None = None) -> dict[str, Layup]:
        """What lies in every zone whose count is known; given: instead of plies, by zone."""
        layups = dict(given or {})
        for zone, count in self.counts(plies).items():
            if zone not in layups:
                layups[zone] = lay_up(self.cases[zone], self.fill_plies(zone, count), x)
        return layups

    def stated(self, zone: str) -> SIValue | None:
        """The bleed that the part file states for a zone."""
        return self.part.zone[zone].bleed
