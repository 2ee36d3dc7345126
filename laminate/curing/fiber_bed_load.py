"""Whether the resin bears all of the pressure, or the fiber bed takes a share of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from laminate.curing.answers import IN_TIME, VAPOR, NotComputed
from laminate.curing.draws import Columns, generator
from laminate.curing.straight_lines import each_at
from laminate.values.input_key import Key
from laminate.values.problems import Refused

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from typing import Any

    from laminate.curing.view import View
    from laminate.files.part import Part
    from laminate.press.conditions import Press
    from laminate.press.layup import Layup
    from laminate.press.names import Counts, Numbers
    from laminate.press.rooms import Room
    from laminate.press.stack import Ingredients

NEAR = 0.01
"""So near to its packing limit the fiber bed is taken to carry [fiber volume]; no source."""
DRAWS = 400
OFTEN = 0.05


class LaidUp:
    """What lies in a zone in every column of draws, and how much of its resin leaves.

    press: of the part; x: its inputs by name; layup: of the zone; moduli: of cores whose bulk modulus is
    given along temperature, those temperatures [K] and its values (temperatures, columns) [Pa].
    """

    def __init__(self, press: Press, x: Numbers, zone: str, plies: Counts) -> None:
        self.press, self.x, self.plies = press, x, dict(plies)
        self.moduli: dict[str, tuple[np.ndarray, np.ndarray]] = {}
        self.layups: dict[str, Layup] = press.layups(self.plies, x)
        self.zone = zone
        self.layup = self.layups[zone]

    def moduli_at(self, temperatures: Mapping[str, np.ndarray]) -> dict[Any, np.ndarray]:
        """Bulk moduli of those cores at temperatures (times, columns), straight lines between [Pa]."""
        moduli = {}
        for core, (at, values) in self.moduli.items():
            if core in temperatures:
                columns = np.arange(values.shape[1])
                moduli[Key("core", core, "bulk_modulus")] = each_at(at, values, temperatures[core], columns)
        return moduli

    def uncomputed(self, room: Room) -> list[str]:
        """What to write, or why not, before the pressure of the cores of a room can be computed."""
        names = [core.name for core in room.cores]
        known = {*self.moduli, *(name for name in names if Key("core", name, "bulk_modulus") in self.x)}
        missing = [f"bulk_modulus in [core.{name}]" for name in names if name not in known]
        if room.free:
            between = "its pressure between free sides is not computed"
            missing.append(f"a room or held for core {names[0]}: {between}")
        if room.open_ends:
            grows = "the core grows out, its pressure is not computed"
            missing.append(f"room {room.name} has open ends: {grows}")
        return missing

    def one_modulus(self, room: Room) -> list[str]:
        """Cores of a room whose one bulk modulus is taken at every temperature, and what to write."""
        return [
            f"bulk modulus of core {core.name} along temperature: bulk_modulus in [heat.core.{core.name}]"
            for core in room.cores
            if core.name not in self.moduli
        ]

    def bleed(self, zone: str, *, most: bool) -> Any:
        """Bleed of a zone [0..1]: the stated one, else all that can leave, or none."""
        stated = self.x.get(Key("zone", zone, "bleed"))
        if stated is not None:
            return self.layups[zone].within(stated)
        return self.layups[zone].end if most else 0.0

    def bled(self, room: Room, *, most: bool) -> dict[str, Any]:
        """Thickness of the hot laminates of a room, by zone [m]; most: as of `bleed`."""
        return {zone: self.layups[zone].thickness(self.bleed(zone, most=most)) for zone in room.zones}

    @property
    def thickness(self) -> np.ndarray:
        """Of the hot laminate with the stated bleed, or none, in every column [m]."""
        return np.asarray(self.layup.thickness(self.bleed(self.zone, most=False)))

    def packed(self, bleed: Any) -> np.ndarray:
        """Whether the fiber bed is near its packing limit, in every column."""
        layup = self.layup
        volume = layup.fiber / (layup.thickness(bleed) - layup.layers)
        return np.asarray(volume >= layup.fiber / layup.packed - NEAR)


def laid_up(
    part: Part, zone: str, plies: Counts, made: Ingredients | None = None, columns: Columns | None = None
) -> LaidUp:
    """What lies in a zone of a part; plies: all fiber plies by zone. Raises `NotComputed`."""
    from laminate.press.press import press_of
    from laminate.press.unfavorable import usual_half
    from laminate.press.unstated import bare_inputs

    try:
        press = press_of(part, made=made)
        columns = columns or Columns(generator(), DRAWS)
        bare = {
            name: columns.spread(name, value, usual_half(name, value))
            for name, value in bare_inputs(press.inputs).items()
        }
        x = {name: columns.of(name, bare.get(name, value)) for name, value in press.inputs.values.items()}
        counts = press.counts(plies)
        if zone not in counts:
            where = f"--plies {zone}=20" if made is None else "of the batch"
            write = f"write plies = 20 in [zone.{zone}], or {where}"
            raise NotComputed(f"plies of zone {zone} are not stated: {write}")
        laid_up = LaidUp(press, x, zone, plies)
        for core, heat in part.heat.core.items():
            if heat.bulk_modulus:
                warm = np.array([at.value for at, _ in heat.bulk_modulus])
                name = f"bulk modulus of {core} along temperature"
                laid_up.moduli[core] = warm, columns.curve(name, [value for _, value in heat.bulk_modulus])
        return laid_up
    except Refused as refusal:
        why = f"what lies in zone {zone} is not known: {refusal.problems[0].sentence()}"
        raise NotComputed(why) from refusal


def check_fiber_bed_load(view: View, find: Callable[[], LaidUp]) -> None:
    """Note where the fiber bed may take a share of the pressure; find: what lies in the zone.

    Nothing bleeds: the resin bears all of it. It bleeds: taken to bear all of it up to the packing limit of
    the form; there the bed carries, and how much is not known (with a bleeder the resin's pressure drops and
    stays low at gel: abstract of Polym. Compos. 20 (1999) 581).
    """
    place, verdicts = view.part.zone[view.zone], (IN_TIME, VAPOR)
    if place.bleed is None and "bleed_limit" not in place.model_fields_set:
        line = f'bleed_limit = "0 %" in [zone.{view.zone}] where no resin leaves it'
        view.objections.add(f"how much resin leaves is not stated: bleed, or {line}", *verdicts)
        return
    try:
        laid = find()
    except NotComputed as why:
        view.objections.add(str(why), *verdicts)
        return
    bleed = laid.bleed(view.zone, most=True)
    if np.any(np.asarray(bleed) > 0.0):
        smaller = "(if it bleeds, fibers carry a part and the margin is smaller)"
        view.notes.screening.append(f"the resin carries all of the pressure {smaller}")
    packed = np.ravel(laid.packed(bleed))
    if packed[0] or float(np.mean(packed)) > OFTEN:
        stated = "" if place.bleed is not None else ", if all bleeds that can (bleed states less)"
        reason = f"the fiber bed is near its packing limit{stated}: it bears a share that is not known"
        view.objections.add(reason, *verdicts)
