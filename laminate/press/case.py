"""One zone of a part as a formula: its named inputs, its gap cold and hot, the stack of any ply count in it.

Every function of inputs takes a mapping of name -> number: floats, draws or complex numbers. SI units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.formulas import cavity, core_contact
from laminate.press import stack
from laminate.press.known import Known
from laminate.values.input_key import Key
from laminate.values.problems import Problem, Refused
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.files.part import Core, Part, Zone

    Numbers = Mapping[Any, Any]

ROOM, GEL, TOOL, TOOL_T = "room temperature", "gel temperature", "tool expansion", "tool temperature"
VOID = "void content"


def core_name(core: str, what: str) -> str:
    """The name of an input of a core."""
    return f"core {core} {what}"


@dataclass(frozen=True, slots=True)
class ZoneCase:
    """A zone with the inputs that bear on it."""

    part: Part
    name: str
    made: stack.Ingredients
    known: Known

    @property
    def zone(self) -> Zone:
        """The zone in the part file."""
        return self.part.zone[self.name]

    @property
    def core(self) -> Core | None:
        """The core that the zone lies against."""
        return self.part.core[self.zone.core] if self.zone.core else None

    @property
    def has_gap(self) -> bool:
        """Whether the thickness is given by a gap; otherwise a bladder presses."""
        return self.zone.bladder is None

    @property
    def fixed_plies(self) -> int:
        """Fiber plies that lie there whatever fills it."""
        return stack.fixed_plies(self.part, self.zone)

    # geometry

    def rise(self, x: Numbers) -> Any:
        """Rise of the tool at gel over room temperature [K]; 0 where the growth of the tool is not known."""
        return x.get(TOOL_T, x[GEL]) - x[ROOM] if TOOL in x else 0.0

    def cold_gap(self, x: Numbers) -> Any:
        """Gap at room temperature, centered [m]."""
        if self.zone.core is None:
            return x[f"{self.name} gap"]
        return (self.width(x) - x[core_name(self.zone.core, "width")]) / self.zone.walls

    def width(self, x: Numbers) -> Any:
        """Cold width of the cavity less the inserts in it, which grow as the tool [m]."""
        insert = core_name(str(self.zone.core), "insert thickness")
        return x[f"{self.name} cavity"] - x.get(insert, 0.0)

    def hot_gap(self, x: Numbers) -> Any:
        """Gap at gel temperature, centered [m]."""
        if TOOL not in x:
            return self.cold_gap(x)
        rise, zone = self.rise(x), self.zone
        if zone.core is not None:
            return cavity.hot_gap_against_core(
                cavity=self.width(x), tool_expansion=x[TOOL], tool_rise=rise,
                core=x[core_name(zone.core, "width")], growth=self.growth(x), walls=zone.walls,
            )  # fmt: skip
        if zone.outer_half_width is not None:
            return cavity.hot_gap_two_materials(
                gap=x[f"{self.name} gap"],
                outer_half_width=x[f"{self.name} outer half-width"],
                outer_expansion=x[TOOL],
                inner_half_width=x[f"{self.name} inner half-width"],
                inner_expansion=x[f"{self.name} inner expansion"],
                rise=rise,
            )
        return cavity.hot_gap_matched(gap=x[f"{self.name} gap"], expansion=x[TOOL], rise=rise)

    def offset(self, x: Numbers) -> Any:
        """How far the core lies off center [m]."""
        return x.get(core_name(self.zone.core, "offset"), 0.0) if self.zone.core else 0.0

    def sides(self, x: Numbers) -> list[Any]:
        """Hot gap on each side of an off-center core; one entry where the core is centered."""
        gap = self.hot_gap(x)
        if self.zone.core is None or core_name(self.zone.core, "offset") not in x:
            return [gap]
        both = [gap + self.offset(x), gap - self.offset(x)]
        return both if self.zone.walls == 2 else both[:1]

    def growth(self, x: Numbers) -> Any:
        """Growth of the core at gel, hot over cold width."""
        assert self.core is not None
        assert self.zone.core is not None
        return cavity.core_growth(
            held=str(self.core.held),
            core_expansion=x[core_name(self.zone.core, "expansion")],
            core_rise=core_temperature(self.core, self.zone.core, x) - x[ROOM],
            tool_expansion=x[TOOL],
            tool_rise=self.rise(x),
        )

    def sizes(self, x: Mapping[Any, float]) -> dict[str, tuple[float, float]]:
        """Cold sizes that set the gap: 'gap', or 'cavity' and 'core width'.

        Each with the size now [m] and how much the hot gap grows for each unit that the cold gap grows with
        it.
        """
        tool = 1.0 + x.get(TOOL, 0.0) * self.rise(x)
        if self.zone.core is None:
            return {"gap": (x[f"{self.name} gap"], 1.0 if self.zone.outer_half_width is not None else tool)}
        growth = self.growth(x) if TOOL in x else 1.0
        cavity, width = x[f"{self.name} cavity"], x[core_name(self.zone.core, "width")]
        return {"cavity": (cavity, tool), "core width": (width, growth)}

    def size_for(self, what: str, hot_gap: float, x: Mapping[Any, float]) -> float:
        """One cold size, the others as they are, that gives a wanted hot gap [m]."""
        now, rate = self.sizes(x)[what]
        more = (hot_gap - self.hot_gap(x)) / rate
        sign = {"gap": 1, "cavity": self.zone.walls, "core width": -self.zone.walls}[what]
        return float(now + more * sign)

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

    def _scattered(self, counted: Mapping[str, int], x: Numbers) -> Numbers:
        """The numbers with the mean of so many scattered plies in place of the lot's mean."""
        moved = {
            (key := Key("prepreg", name, "areal_weight")): x[key] * (1.0 + x[scatter] / count**0.5)
            for name, count in counted.items()
            if (scatter := f"{self.name} {name} ply scatter") in x
        }
        return {**x, **moved} if moved else x

    def sums(self, fill_plies: int, x: Numbers) -> stack.Sums:
        """The sums over plies and layers."""
        counted = self.counted(fill_plies)
        return stack.sums(self.part, self.zone, counted, self.made, self._scattered(counted, x))

    def packed_fibers(self, fill_plies: int, x: Numbers, total: stack.Sums) -> Any:
        """Thickness to which the fiber packs, each form to its own limit [m]."""
        counted = {n: c for n, c in self.counted(fill_plies).items() if n in self.part.prepreg}
        limits = {name: packing_limit(self.part, name) for name in counted}
        if len(set(limits.values())) == 1:
            return total.fiber_thickness / next(iter(limits.values()))
        x = self._scattered(counted, x)
        return sum(
            stack.sums(self.part, self.zone, {name: count}, self.made, x).fiber_thickness / limits[name]
            for name, count in counted.items()
        )


def taken_for_granted(case: ZoneCase) -> list[str]:
    """What the part file does not say and is taken as usual: form of a prepreg, how the press closes."""
    found: list[str] = []
    for name in case.part.prepreg:
        own = case.part.prepreg[name]
        if name in case.counted(1) and not {"form", "packing_limit"} & own.model_fields_set:
            limit = 100.0 * packing_limit(case.part, name)
            found.append(f"form of {name}: not given, taken as {own.form} (packing limit {limit:.3g} %)")
    tool = case.part.tool
    if case.has_gap and tool is not None and "closes" not in tool.model_fields_set:
        found.append(f"when the tool closes: not given, taken as {tool.closes}")
    return found


def packing_limit(part: Part, prepreg: str) -> float:
    """Fiber volume to which a prepreg packs: its own limit, else that of its form."""
    own = part.prepreg[prepreg].packing_limit
    return own.value if own is not None else cavity.PACKING_LIMITS[part.prepreg[prepreg].form]


def core_temperature(core: Core, name: str, x: Numbers) -> Any:
    """Mean temperature of a core at gel [K]: given, or from its heating through both faces."""
    if core.heating is None:
        return x.get(core_name(name, "temperature"), x[GEL])
    start = x[core_name(name, "start temperature")]
    share = core_contact.mean_rise_fraction(
        time=x[core_name(name, "heating time")],
        thickness=x[core_name(name, "heated thickness")],
        diffusivity=x[core_name(name, "diffusivity")],
    )
    return start + (x[core_name(name, "platen temperature")] - start) * share


def temperatures(part: Part, known: Known, file: str, zones: list[str]) -> None:
    """Take the temperatures and the growth of the tool; raises `Refused` for those that are missing."""
    problems = []
    if part.tool is None and not any(part.zone[z].core or part.zone[z].room for z in zones):
        known.notes["tool"] = "growth of the tool: not given, the gap is taken as that at gel temperature"
        return
    if part.temperature is None:
        problems.append(Problem("missing-key", file, "temperature", "no table", "room and gel temperature"))
    elif part.temperature.gel is None:
        expected = "the temperature of the laminate when the resin gels"
        problems.append(Problem("missing-key", file, "temperature", "no key 'gel'", expected))
    if part.tool is None:
        problems.append(Problem("missing-key", file, "tool", "no table", "the material of the tool"))
    if problems or part.temperature is None or part.temperature.gel is None or part.tool is None:
        raise Refused(problems)
    known.values[ROOM] = part.temperature.room
    known.exact.add(ROOM)
    known.values[GEL] = part.temperature.gel
    if part.tool.temperature is not None:
        known.values[TOOL_T] = part.tool.temperature
    known.expansion(TOOL, part.tool.material, part.tool.expansion, "tool.material")


def _geometry(case: ZoneCase, known: Known) -> None:
    zone, name = case.zone, case.name
    put = known.values
    if zone.gap is not None:
        put[f"{name} gap"] = zone.gap
        if zone.outer_half_width is not None and zone.inner_half_width is not None:
            put[f"{name} outer half-width"] = zone.outer_half_width
            put[f"{name} inner half-width"] = zone.inner_half_width
            place = f"zone.{name}.inner_material"
            known.expansion(f"{name} inner expansion", zone.inner_material, zone.inner_expansion, place)
    if zone.core is not None and zone.cavity is not None:
        put[f"{name} cavity"] = zone.cavity
        take_core(case.part, zone.core, known)


def take_core(part: Part, name: str, known: Known) -> None:
    """Take size, growth and temperature of a core."""
    core, put = part.core[name], known.values
    if core.width is not None:
        put[core_name(name, "width")] = core.width
    known.expansion(core_name(name, "expansion"), core.material, core.expansion, f"core.{name}.material")
    if core.insert_thickness is not None:
        put[core_name(name, "insert thickness")] = core.insert_thickness
    if core.offset.value or core.offset.u:
        put[core_name(name, "offset")] = core.offset
    if core.heating is not None:
        heat = core.heating
        put[core_name(name, "platen temperature")] = heat.platen
        put[core_name(name, "start temperature")] = heat.start
        put[core_name(name, "heating time")] = heat.time
        put[core_name(name, "heated thickness")] = heat.thickness
        put[core_name(name, "diffusivity")] = heat.diffusivity
    elif core.temperature is not None:
        put[core_name(name, "temperature")] = core.temperature
    else:
        label = core_name(name, "temperature")
        known.notes[label] = f"{label}: not given, taken as the gel temperature (a core lags the platen)"


def zone_case(
    part: Part, name: str, file: str, made: stack.Ingredients | None = None, void_content: Value | None = None
) -> ZoneCase:
    """The zone with all its inputs; raises `Refused` where the part does not say enough for a gap."""
    zone, known = part.zone[name], Known()
    made = made or stack.ingredients(part)
    case = ZoneCase(part, name, made, known)
    if case.has_gap:
        if zone.gap is None and zone.core is None:
            expected = "gap, or cavity and core, or bladder"
            raise Refused(Problem("missing-key", file, f"zone.{name}", "no gap", expected))
        temperatures(part, known, file, [name])
        _geometry(case, known)
    take_stack(case)
    known.values[VOID] = void_content or Value(0.0)
    known.exact.add(VOID)
    return case


def take_stack(case: ZoneCase) -> None:
    """Take what lies in the zone: its materials and the scatter of its plies."""
    part, zone, name, made, known = case.part, case.zone, case.name, case.made, case.known
    for label in stack.names_of(part, zone):
        if label in made.values:
            known.values[label] = made.values[label]
        elif label.quantity == "liquid_density":
            why = "not measured, taken as the cured density (hot liquid resin is lighter)"
            known.notes[label] = f"{label}: {why}"
    for prepreg in case.counted(1):
        if prepreg in part.prepreg and (scatter := part.prepreg[prepreg].ply_scatter) is not None:
            known.values[f"{name} {prepreg} ply scatter"] = Value(
                0.0, scatter.u, scatter.dof, scatter.shape, text=f"0 % ± {scatter.text}"
            )
