"""One zone of a part as a formula: its named inputs, its gap cold and hot, the stack of any ply count in it.

Every function of inputs takes a mapping of name -> number: floats, draws or complex numbers. SI units.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from laminate.formulas import cavity, core_contact
from laminate.press import stack
from laminate.press.cured import PREDICTED
from laminate.press.extremes import smaller
from laminate.press.names import GEL, ROOM, TOOL, TOOL_T, scatter_name
from laminate.press.shared_inputs import SharedInputs
from laminate.values.input_key import Key, Name
from laminate.values.problems import Problem, Refused, missing_key
from laminate.values.quantities import ATTRIBUTES
from laminate.values.units import SIValue

if TYPE_CHECKING:
    from laminate.files.part import Core, Part, Prepreg, Zone
    from laminate.press.names import Counts, Numbers
    from laminate.press.rooms import Room


@dataclass(frozen=True, slots=True)
class ZoneCase:
    """A zone with the inputs that bear on it; room: the one that it shares with cores, None without."""

    part: Part
    name: str
    made: stack.Ingredients
    inputs: SharedInputs
    room: Room | None = None

    @property
    def zone(self) -> Zone:
        """The zone in the part file."""
        return self.part.zone[self.name]

    @property
    def cores(self) -> tuple[str, ...]:
        """The cores that it lies against."""
        return tuple(core.name for core in self.room.cores) if self.room is not None else ()

    @property
    def has_gap(self) -> bool:
        """Whether the thickness is given by a gap; otherwise a bladder presses."""
        return self.zone.bladder is None

    @property
    def wanted(self) -> SIValue | None:
        """The pressure that is wanted at gel, None where none is."""
        return wanted_pressure(self.part, self.name)

    @property
    def fixed_plies(self) -> int:
        """Fiber plies that lie there whatever fills it."""
        return stack.fixed_plies(self.part, self.zone)

    @property
    def stated_fill_plies(self) -> int | None:
        """The plies of `fill_with` in the count that the part file states, None where it states none."""
        plies = self.zone.plies
        least = 0 if self.fixed_plies else 1
        return None if plies is None or plies - self.fixed_plies < least else plies - self.fixed_plies

    def fill_plies(self, plies: int, file: str) -> int:
        """The plies of `fill_with` that make so many fiber plies in all; raises `Refused` where none do."""
        count = plies - self.fixed_plies
        if count < (0 if self.fixed_plies else 1) or (count and not self.zone.fill_with):
            expected = f"a count that the stack can have: {self.fixed_plies} are fixed"
            raise Refused(Problem("ply-count", file, f"zone.{self.name}", f"{plies} plies", expected))
        return count

    def with_values(self, values: Mapping[Name, SIValue]) -> ZoneCase:
        """The zone with other values of some inputs."""
        return replace(self, inputs=replace(self.inputs, values={**self.inputs.values, **values}))

    def with_key(self, key: Key, value: Any) -> ZoneCase:
        """The zone where a key of the part file has another value, its inputs as they are."""
        tables = getattr(self.part, key.table)
        changed = (tables[key.name] if key.name else tables).model_copy(update={key.quantity: value})
        table = {**tables, key.name: changed} if key.name else changed
        return replace(self, part=self.part.model_copy(update={key.table: table}))

    def of_draws(self, draws: int, seed: int | None = None) -> ZoneCase:
        """The zone with so many draws for its chances; seed: of them, as it is where None."""
        return replace(self, inputs=self.inputs.of_draws(draws, seed))

    # geometry

    def rise(self, x: Numbers) -> Any:
        """Rise of the tool at gel over room temperature [K]; 0 where the growth of the tool is not known."""
        return x.get(TOOL_T, x[GEL]) - x[ROOM] if TOOL in x else 0.0

    def cold_gap(self, x: Numbers) -> Any:
        """Gap at room temperature, centered [m]; the smaller one where it lies in two directions."""
        if self.room is None:
            return x[Key("zone", self.name, "gap")]
        return functools.reduce(smaller, self.room.gaps(self.name, 1.0, dict.fromkeys(self.cores, 1.0), x))

    def hot_gap(self, x: Numbers) -> Any:
        """Gap at gel temperature, centered, in the first direction that the zone takes from [m]."""
        return self._hot_gaps(x)[0]

    def _hot_gaps(self, x: Numbers) -> list[Any]:
        if TOOL not in x:
            return [self.cold_gap(x)]
        rise, zone = self.rise(x), self.zone
        if self.room is not None:
            return self.room.gaps(self.name, 1.0 + x[TOOL] * rise, self.growths(x), x)
        gap = x[Key("zone", self.name, "gap")]
        if zone.outer_half_width is None:
            return [cavity.hot_gap_matched(gap=gap, expansion=x[TOOL], rise=rise)]
        gap = cavity.hot_gap_two_materials(
            gap=gap,
            outer_half_width=x[Key("zone", self.name, "outer_half_width")],
            outer_expansion=x[TOOL],
            inner_half_width=x[Key("zone", self.name, "inner_half_width")],
            inner_expansion=x[Key("zone", self.name, "inner_expansion")],
            rise=rise,
        )
        return [gap]

    def offset(self, x: Numbers) -> Any:
        """How far the core lies off center [m]."""
        return x.get(Key("core", self.cores[0], "offset"), 0.0) if self.cores else 0.0

    def sides(self, x: Numbers) -> list[Any]:
        """Hot gap in each direction, or on each side of an off-center core; one entry where all are alike."""
        gaps = self._hot_gaps(x)
        if not self.cores or Key("core", self.cores[0], "offset") not in x:
            return gaps
        both = [gaps[0] + self.offset(x), gaps[0] - self.offset(x)]
        return both if self.zone.walls == 2 else both[:1]

    def aside(self, x: Mapping[Any, float]) -> float:
        """How much less than centered the gap is on the side that the core lies nearer to [m]."""
        return abs(float(self.offset(x))) if len(self.sides(x)) > 1 else 0.0

    def growths(self, x: Numbers) -> dict[str, Any]:
        """Growth of each hard core at gel, hot over cold size."""
        return {
            core: 1.0
            + x[Key("core", core, "expansion")] * (core_temperature(self.part.core[core], core, x) - x[ROOM])
            for core in self.cores
        }

    def size_name(self, what: str) -> Key:
        """The input that a cold size of `sizes` is."""
        if self.room is None:
            return Key("zone", self.name, "gap")
        direction = self.room.directions_of(self.name)[0]
        return (self.room.cores[0] if what.startswith("core ") else self.room).sizes[direction]

    def with_size(self, what: str, size: float) -> ZoneCase:
        """The zone with one cold size of `sizes` changed [m], its tolerance as it is."""
        name = self.size_name(what)
        return self.with_values({name: replace(self.inputs.values[name], value=size)})

    def sizes(self, x: Mapping[Any, float]) -> dict[str, tuple[float, float]]:
        """Cold sizes that set the gap: 'gap'; 'cavity', or 'room width' of a room; of one core 'core width'.

        Or height, length, diameter, as the zone lies. Each with the size now [m] and how much the hot gap
        grows for each unit that the cold gap grows with it.
        """
        tool = 1.0 + x.get(TOOL, 0.0) * self.rise(x)
        if self.room is None:
            rates = {"gap": 1.0 if self.zone.outer_half_width is not None else tool}
        else:
            direction, growths = self.room.directions_of(self.name)[0], self.growths(x)
            rates = {"cavity" if self.room.old else f"room {direction}": tool}
            rates |= {f"core {direction}": growths[self.cores[0]]} if len(growths) == 1 else {}
        return {what: (x[self.size_name(what)], rate) for what, rate in rates.items()}

    def size_for(self, what: str, hot_gap: float, x: Mapping[Any, float]) -> float:
        """One cold size, the others as they are, that gives a wanted hot gap [m]."""
        now, rate = self.sizes(x)[what]
        more = (hot_gap - self.hot_gap(x)) / rate
        if self.room is not None:
            walls = self.room.walls(self.room.directions_of(self.name)[0], self.name, x)
            more = more * (-walls if what.startswith("core ") else walls)
        return float(now + more)

    def change_for(self, hot_gap: float, x: Mapping[Any, float]) -> dict[str, float]:
        """Cold sizes, each alone, that give a wanted hot gap [m]."""
        return {what: self.size_for(what, hot_gap, x) for what in self.sizes(x)}

    # stack

    def plies(self, fill_plies: int) -> int:
        """All fiber plies of a count of those that fill."""
        return self.fixed_plies + fill_plies

    def counted(self, fill_plies: int) -> dict[str, int]:
        """Count of every prepreg and layer."""
        return stack.counts(self.zone, fill_plies)

    def _scattered(self, counted: Counts, x: Numbers) -> Numbers:
        """The numbers with the mean of so many scattered plies in place of the lot's mean."""
        moved = {
            (key := Key("prepreg", name, "areal_weight")): x[key] * (1.0 + x[scatter] / count**0.5)
            for name, count in counted.items()
            if (scatter := scatter_name(self.name, name)) in x
        }
        return {**x, **moved} if moved else x

    def sums(self, fill_plies: int, x: Numbers) -> stack.Sums:
        """The sums over plies and layers; one that counts as resin melts and bleeds as that of the plies."""
        counted = self.counted(fill_plies)
        x = self._scattered(counted, x)
        return stack.sums(self.part, self.name, counted, self.made, x, melts=True)

    def packed_fibers(self, fill_plies: int, x: Numbers, total: stack.Sums) -> Any:
        """Thickness to which the fiber packs, each form to its own limit [m]."""
        counted = {n: c for n, c in self.counted(fill_plies).items() if n in self.part.prepreg}
        limits = {name: packing_limit(self.part, name) for name in counted}
        if len(set(limits.values())) == 1:
            return total.fiber_thickness / next(iter(limits.values()))
        x = self._scattered(counted, x)
        return sum(
            stack.sums(self.part, self.name, {name: count}, self.made, x).fiber_thickness / limits[name]
            for name, count in counted.items()
        )


def wanted_pressure(part: Part, zone: str) -> SIValue | None:
    """The pressure over ambient that is wanted in a zone at gel, of its room or its own; None for none."""
    place = part.zone[zone]
    return (place if place.room is None else part.room[place.room]).wanted_pressure


def assumptions_of(case: ZoneCase) -> list[str]:
    """What the part file does not say and is taken as usual: form of a prepreg, how the press closes."""
    assumptions: list[str] = []
    for name, prepreg in case.part.prepreg.items():
        if name in case.counted(1) and form_supposed(prepreg):
            limit = f"packing limit {100.0 * packing_limit(case.part, name):.3g} %"
            assumptions.append(f"form of {name}: not given, taken as {prepreg.form} ({limit})")
    assumptions += resin_supposed(case)
    assumptions += [f"limits on {words}: not predicted, only measured" for words in only_measured(case)]
    tool = case.part.tool
    if case.has_gap and tool is not None and "closes" not in tool.model_fields_set:
        assumptions.append(f"when the tool closes: not given, taken as {tool.closes}")
    return assumptions


def resin_supposed(case: ZoneCase) -> list[str]:
    """Layers that count as resin and do not name theirs, in a zone of several resins."""
    prepregs = [case.part.prepreg[name] for name in stack.prepregs_of(case.part, case.zone)]
    resins = list(dict.fromkeys(prepreg.resin for prepreg in prepregs))
    layers = [(name, case.part.layer.get(name)) for name in stack.items_of(case.zone)]
    return [
        f"resin of {name}: not given, taken as {resins[0]}, that of the first prepreg of zone {case.name}; "
        f"write resin = in [layer.{name}]: {' or '.join(resins)}"
        for name, layer in layers
        if layer is not None and layer.stays and layer.counts_as == "resin" and layer.resin is None
        if len(resins) > 1
    ]


def only_measured(case: ZoneCase) -> list[str]:
    """The attributes with limits that no stack tells, in words."""
    return [ATTRIBUTES[key].words for key in case.part.limits.laminate_attributes() if key not in PREDICTED]


def form_supposed(prepreg: Prepreg) -> bool:
    """Whether nothing says to which fiber volume a prepreg packs."""
    return not {"form", "packing_limit"} & prepreg.model_fields_set


def packing_limit(part: Part, prepreg: str) -> float:
    """Fiber volume to which a prepreg packs: its own limit, else that of its form."""
    limit = part.prepreg[prepreg].packing_limit
    return limit.value if limit is not None else cavity.PACKING_LIMITS[part.prepreg[prepreg].form]


def core_temperature(core: Core, name: str, x: Numbers) -> Any:
    """Mean temperature of a core at gel [K]: given, or from its heating through both faces."""
    if core.heating is None:
        return x.get(Key("core", name, "temperature"), x[GEL])
    start = x[Key("core", name, "start_temperature")]
    share = core_contact.mean_rise_fraction(
        time=x[Key("core", name, "heating_time")],
        thickness=x[Key("core", name, "heated_thickness")],
        diffusivity=x[Key("core", name, "diffusivity")],
    )
    return start + (x[Key("core", name, "platen_temperature")] - start) * share


def temperatures(part: Part, inputs: SharedInputs, file: str, zones: list[str]) -> None:
    """Take the temperatures and the growth of the tool; raises `Refused` for those that are missing."""
    problems = []
    if part.tool is None and not any(part.zone[z].core or part.zone[z].room for z in zones):
        inputs.notes[TOOL] = "growth of the tool: not given, the gap is taken as that at gel temperature"
        return
    if part.temperature is None:
        expected = "a table with room and gel temperature"
        problems.append(missing_key(file, "temperature", "temperature", expected))
    elif part.temperature.gel is None:
        expected = "the temperature of the laminate when the resin gels"
        problems.append(missing_key(file, "temperature", "gel", expected))
    if part.tool is None:
        problems.append(missing_key(file, "tool", "tool", "a table with the material of the tool"))
    if problems or part.temperature is None or part.temperature.gel is None or part.tool is None:
        raise Refused(problems)
    inputs.take({ROOM: part.temperature.room, GEL: part.temperature.gel, TOOL_T: part.tool.temperature})
    inputs.exact.add(ROOM)
    inputs.expansion(TOOL, part.tool.material, part.tool.expansion, "tool.material")


def take_core(part: Part, name: str, inputs: SharedInputs) -> None:
    """Take growth, place and temperature of a core."""
    core, heat = part.core[name], part.core[name].heating
    inputs.expansion(Key("core", name, "expansion"), core.material, core.expansion, f"core.{name}.material")
    given = {
        "insert_thickness": core.insert_thickness,
        "offset": core.offset if core.offset.value or core.offset.u else None,
        "temperature": core.temperature,
    }
    if heat is not None:
        given |= {
            "platen_temperature": heat.platen,
            "start_temperature": heat.start,
            "heating_time": heat.time,
            "heated_thickness": heat.thickness,
            "diffusivity": heat.diffusivity,
            "temperature": None,
        }
    inputs.take({Key("core", name, what): value for what, value in given.items()})
    if heat is None and core.temperature is None:
        label = Key("core", name, "temperature")
        inputs.notes[label] = f"{label}: not given, taken as the gel temperature (a core lags the platen)"


def take_stack(case: ZoneCase) -> None:
    """Take what lies in the zone: its materials and the scatter of its plies."""
    part, name, made, inputs = case.part, case.name, case.made, case.inputs
    for label in stack.names_of(part, name):
        if label in made.values:
            inputs.values[label] = made.values[label]
        elif label.quantity == "liquid_density":
            why = "not measured, taken as the cured density (hot liquid resin is lighter)"
            inputs.notes[label] = f"{label}: {why}"
    prepregs = stack.prepregs_of(part, case.zone)
    if "shear" not in case.zone.model_fields_set and prepregs:
        label = Key("zone", name, "shear")
        inputs.notes[label] = (
            f"{label}: not given, taken as 0 (20 degrees of shear raise the areal weight by 6 %)"
        )
    label = Key("zone", name, "bleed_limit")
    limits: dict[Key, SIValue | None] = {label: case.zone.bleed_limit}
    if case.zone.bleed is None and "bleed_limit" not in case.zone.model_fields_set:
        inputs.notes[label] = f"{label}: not given, taken as 0 %, so no resin can leave"
    limits[Key("zone", name, "wanted_pressure")] = case.wanted
    limits |= {Key("prepreg", p, "packing_limit"): part.prepreg[p].packing_limit for p in prepregs}
    for label, limit in limits.items():
        if limit is not None and limit.u:
            inputs.notes[label] = f"{label}: its ± is not used: a limit is exact"
    for prepreg in case.counted(1):
        label = Key("prepreg", prepreg, "bulk_factor")
        if label in made.values and made.values[label].value == 1.0 and not made.values[label].text:
            where = "contact is predicted too late, closing of a cold tool too easy"
            inputs.notes[label] = f"{label}: not given, taken as 1, lower than debulking can reach: {where}"
        if prepreg in part.prepreg and (scatter := part.prepreg[prepreg].ply_scatter) is not None:
            spread = SIValue(0.0, scatter.u, scatter.dof, scatter.shape, text=f"0 % ± {scatter.text}")
            inputs.values[scatter_name(name, prepreg)] = spread
