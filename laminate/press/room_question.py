"""A room of the press with its laminates, and the pressures that are asked of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from laminate.press.shared_inputs import plain
from laminate.press.state import State

if TYPE_CHECKING:
    from laminate.press.conditions import Press
    from laminate.press.layup import Layup
    from laminate.press.names import Counts, Numbers
    from laminate.press.rooms import Room

BLEEDS = {"lowest": 1.0, "nominal": 0.0, "locked_maximum": 0.0}
"""The bleed of each state of a laminate; as stated where it is none of these."""


@dataclass(frozen=True, slots=True)
class RoomQuestion:
    """A room with its laminates: counts by zone, or thicknesses where no plies are known.

    supposed: counts among these that nobody states, of zones that are not asked about.
    """

    press: Press
    room: Room
    plies: Counts
    layups: Callable[[Numbers], Mapping[str, Layup]] | None = None
    supposed: Counts = field(default_factory=dict)

    def state(self, x: Numbers | None = None, bleed: Any = 0.0) -> State:
        """The state on one set of numbers with one bleed in every zone of the press; None: as stated."""
        numbers = self.press.inputs.numbers() if x is None else x
        laid = self.layups(numbers) if self.layups is not None else None
        return State(self.press.at(numbers), self.plies, bleed, laid=laid)

    @property
    def stated(self) -> bool:
        """Whether a bleed is stated for every zone that rubber presses and resin can leave."""
        zones = [zone for room in self.press.rooms if room.rubber for zone in room.zones]
        ends = self.state().layups if self.layups is None else {}
        return all(
            zone in ends and (self.press.stated(zone) is not None or float(ends[zone].end) == 0.0)
            for zone in zones
        )

    @property
    def bleed_stated(self) -> bool:
        """Whether a bleed is stated for any of its zones, and known of plies."""
        return self.layups is None and any(self.press.stated(zone) is not None for zone in self.room.zones)

    def limit(self, state: str, moment: str) -> float | None:
        """Pressure [Pa] at which the clamp gives way, the other rooms in the same state as this one.

        state: 'lowest', 'expected' or 'nominal'; moment: 'at_gel' or 'at_maximum'.
        """
        return plain(self.state(bleed=BLEEDS.get(state)).clamp_limit(self.room.name, self.moments[moment]))

    @property
    def last(self) -> str:
        """The moment of the highest temperature."""
        return self.press.moments[-1]

    @property
    def moments(self) -> dict[str, str]:
        """Gel and the moment of the highest temperature, by what is said of each."""
        return {"at_gel": "gel", "at_maximum": self.last}

    def pressures(self, x: Numbers, names: tuple[str, ...], *, clamp: bool = False) -> dict[str, Any]:
        """Every state at gel and at the maximum, and the largest of all moments, by name [Pa].

        clamp: also, at '... above', whether that is more than the clamp holds.
        """
        pressures: dict[str, Any] = {}
        room = self.room.name
        for name in names:
            locked = name == "locked_maximum"
            state = self.state(x, BLEEDS.get(name))
            for word, moment in self.moments.items():
                pressure = (state.locked if locked else state.pressure)(room, moment)
                pressures[f"{name} {word}"] = pressure
                if clamp:
                    pressures[f"{name} {word} above"] = pressure > state.clamp_limit(room, moment)
            if name in ("nominal", "expected"):
                pressures[f"{name} worst"] = state.worst(room)
                if clamp:
                    pressures[f"{name} worst above"] = ~np.asarray(state.stays_shut, dtype=bool)
        return pressures
