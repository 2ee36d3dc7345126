"""A core in one zone as formulas of named inputs: contact, pressure in each state of the laminate, sizes.

"Expanding core" of the formulas. Every function of inputs takes a mapping of name -> number. SI units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from laminate.formulas import cavity, core_contact, expanding_core
from laminate.formulas.number import real_part
from laminate.press.case import GEL, ROOM, TOOL, TOOL_T, ZoneCase, core_name, core_temperature
from laminate.press.counts import Laid, lay
from laminate.press.known import Known
from laminate.press.material import RUBBER as RUBBER
from laminate.press.material import canonical as canonical
from laminate.press.material import take_modulus
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.files.part import Core, Part

    Numbers = Mapping[Any, Any]

HOTTEST, COMPLIANCE = "highest temperature", "tool compliance"
STATES = ("lowest", "nominal", "locked_maximum")
MOMENTS = ("at_gel", "at_maximum")


@dataclass(frozen=True, slots=True)
class Stacks:
    """Thickness of the laminate on one wall where it is known as such, without plies [m].

    full: liquid full; laid_up: before it is pressed, that of `full` where None; bled: to its limit.
    """

    full: Value
    laid_up: Value | None = None
    bled: Value | None = None


@dataclass(frozen=True, slots=True)
class Seat:
    """A core in one zone with a count of plies on each wall.

    cases: every zone of the core, with the plies in each; the first is the one whose widths are looked at.
    """

    case: ZoneCase
    fill_plies: int
    known: Known
    stacks: Stacks | None
    others: tuple[tuple[ZoneCase, int], ...] = ()

    @property
    def name(self) -> str:
        """Of the core."""
        assert self.case.zone.core is not None
        return self.case.zone.core

    @property
    def core(self) -> Core:
        """The core in the part file."""
        return self.case.part.core[self.name]

    @property
    def by_volume(self) -> bool:
        """Whether the balance is one of volumes."""
        return self.core.volume is not None

    @property
    def rubber(self) -> bool:
        """Whether the core yields under pressure so that it sets the pressure itself."""
        return canonical(self.core.material) in RUBBER or self.core.material is None

    def has(self, state: str) -> bool:
        """Whether the thickness of the laminate in a state is known."""
        return self.stacks is None or state != "lowest" or self.stacks.bled is not None

    def of(self, what: str, x: Numbers) -> Any:
        """An input of the core."""
        return x[core_name(self.name, what)]

    def laid(self, x: Numbers) -> Laid:
        """The plies in the zone."""
        return lay(self.case, self.fill_plies, x)

    def thickness(self, state: str, x: Numbers, case: ZoneCase | None = None, count: int = 0) -> Any:
        """Thickness of the laminate on one wall [m]: bled to its limit, liquid full, or as laid up."""
        if self.stacks is not None:
            labels = {"lowest": "stack bled", "nominal": "stack", "locked_maximum": "stack laid up"}
            return x.get(labels[state], x["stack"])
        laid = lay(case, count, x) if case else self.laid(x)
        return {"lowest": laid.bled, "nominal": laid.full, "locked_maximum": laid.laid_up}[state]

    def core_temperature(self, moment: str, x: Numbers) -> Any:
        """Mean temperature of the core [K]."""
        return core_temperature(self.core, self.name, x) if moment == "at_gel" else x[HOTTEST]

    def tool_temperature(self, moment: str, x: Numbers) -> Any:
        """Temperature of the tool [K]."""
        return x.get(TOOL_T, x[GEL]) if moment == "at_gel" else x[HOTTEST]

    def growth(self, core: Any, tool: Any, x: Numbers) -> Any:
        """Growth across the laminate with core and tool at these temperatures [K]."""
        return cavity.core_growth(
            held=str(self.core.held),
            core_expansion=self.of("expansion", x),
            core_rise=core - x[ROOM],
            tool_expansion=x[TOOL],
            tool_rise=tool - x[ROOM],
        )

    def pressure(self, state: str, core: Any, tool: Any, x: Numbers) -> Any:
        """Pressure with core and tool at these temperatures [K], the laminate in a state [Pa]."""
        modulus, rise = self.of("bulk modulus", x), self.of("bulk modulus rise", x)
        if self.by_volume:
            return self._pressure_of_volumes(state, core, tool, x)
        insert = x[f"{self.case.name} cavity"] - self.case.width(x)
        return expanding_core.slab_pressure(
            cavity=x[f"{self.case.name} cavity"],
            tool_expansion=x[TOOL],
            tool_rise=tool - x[ROOM],
            compliance=x[COMPLIANCE],
            core=self.of("width", x),
            growth=self.growth(core, tool, x),
            laminate=self.case.zone.walls * self.thickness(state, x),
            inserts=insert * (1.0 + x[TOOL] * (tool - x[ROOM])),
            bulk_modulus=modulus,
            bulk_modulus_rise=rise,
            held=str(self.core.held),
        )

    def _pressure_of_volumes(self, state: str, core: Any, tool: Any, x: Numbers) -> Any:
        area = core_name(self.name, "laminate area")
        if area in x:
            laminate = x[area] * self.thickness(state, x)
        else:
            laminate = sum(
                x[f"{case.name} area"] * case.zone.walls * self.thickness(state, x, case, count)
                for case, count in ((self.case, self.fill_plies), *self.others)
            )
        return expanding_core.volume_pressure(
            cavity=self.of("cavity volume", x),
            tool_expansion=x[TOOL],
            tool_rise=tool - x[ROOM],
            compliance=x[COMPLIANCE],
            core=self.of("volume", x),
            core_expansion=self.of("expansion", x),
            core_rise=core - x[ROOM],
            laminate=laminate,
            inserts=x.get(core_name(self.name, "insert volume"), 0.0),
            insert_expansion=x.get(core_name(self.name, "insert expansion"), 0.0),
            insert_rise=tool - x[ROOM],
            bulk_modulus=self.of("bulk modulus", x),
            bulk_modulus_rise=self.of("bulk modulus rise", x),
        )

    def pressures(self, x: Numbers, states: tuple[str, ...] = STATES) -> dict[str, Any]:
        """Every state at every moment, by 'state moment' [Pa]."""
        return {
            f"{state} {moment}": self.pressure(
                state, self.core_temperature(moment, x), self.tool_temperature(moment, x), x
            )
            for state in states
            for moment in MOMENTS
        }

    def contact(self, state: str, x: Numbers, *, together: bool = False) -> Any:
        """Core temperature at which a state of the laminate is touched [K], infinite where never.

        The tool is at its gel temperature, or together with the core.
        """
        common = {
            "held": str(self.core.held),
            "cavity": self.case.width(x),
            "tool_expansion": x[TOOL],
            "core": self.of("width", x),
            "core_expansion": self.of("expansion", x),
            "stack": self.thickness(state, x),
            "walls": self.case.zone.walls,
        }
        if together:
            touch = core_contact.contact_rise_together(**common)
        else:
            tool_rise = self.tool_temperature("at_gel", x) - x[ROOM]
            touch = core_contact.contact_rise(**common, tool_rise=tool_rise)
        return x[ROOM] + touch.rise

    def free_growth(self, x: Numbers) -> Any:
        """Growth of the width at gel where nothing holds it [m]."""
        rise = self.core_temperature("at_gel", x) - x[ROOM]
        return self.of("width", x) * self.of("expansion", x) * rise

    def movement(self, x: Numbers) -> Any:
        """Growth of the width across the laminate at gel, as the core is held [m]."""
        tool = self.tool_temperature("at_gel", x)
        return self.of("width", x) * (self.growth(self.core_temperature("at_gel", x), tool, x) - 1.0)

    def width_for(self, gap: Any, x: Numbers) -> Any:
        """Cold width that leaves a hot gap at gel [m]."""
        tool = self.tool_temperature("at_gel", x)
        return cavity.core_for_gap(
            cavity=self.case.width(x),
            tool_expansion=x[TOOL],
            tool_rise=tool - x[ROOM],
            gap=gap,
            growth=self.growth(self.core_temperature("at_gel", x), tool, x),
            walls=self.case.zone.walls,
        )

    def dummy_for(self, gap: Any, x: Numbers) -> Any:
        """Thickness of the dummy on each wall that casts the core for a hot gap [m]."""
        return core_contact.dummy_thickness(
            tool_length=self.case.width(x),
            core=self.width_for(gap, x),
            walls=self.case.zone.walls,
            tool_expansion=x[TOOL],
            core_expansion=self.of("expansion", x),
            cast_rise=self.of("cast temperature", x) - x[ROOM],
            cure_shrinkage=self.of("cure shrinkage", x),
        )

    def pull_out(self, x: Numbers) -> Any:
        """Clearance, cold, to pull the core out of the cured part [m]."""
        cold = self.thickness("nominal", x) if self.stacks else self.laid(x).part()["thickness"]
        return core_contact.pull_out_clearance(
            cavity=self.case.width(x),
            walls=self.case.zone.walls,
            thickness=cold,
            core=self.of("width", x),
        )

    def warming(self, times: list[float], x: Numbers) -> list[float]:
        """Mean temperature of the core after these times on the platens [K]."""
        start = self.of("start temperature", x)
        shares = core_contact.mean_rise_fraction(
            time=_array(times),
            thickness=self.of("heated thickness", x),
            diffusivity=self.of("diffusivity", x),
        )
        return [float(start + (self.of("platen temperature", x) - start) * share) for share in shares]


def _array(values: list[float]) -> Any:
    import numpy as np

    return np.asarray(values)


def finite(number: Any) -> bool:
    """Whether a computed temperature or pressure is one."""
    value = float(real_part(number))
    return value - value == 0.0


def hottest(part: Part) -> tuple[Value, str]:
    """The highest temperature of the cycle with its tolerance, exact, and what it was taken from."""
    cycle = part.temperature
    assert cycle is not None
    source, word = next(
        (value, word)
        for value, word in ((cycle.maximum, "maximum"), (cycle.cure, "cure"), (cycle.gel, "gel"))
        if value is not None
    )
    above = source.half_width if source.shape == "rectangular" else 2.0 * source.spread
    return Value(source.value + above, text=f"{word} {source.text}"), word


def make_seat(case: ZoneCase, fill_plies: int, stacks: Stacks | None) -> Seat:
    """The core of a zone with every input of its balance."""
    known = Known(dict(case.known.values), dict(case.known.notes), set(case.known.exact))
    seat, part = Seat(case, fill_plies, known, stacks), case.part
    put, core, tool = known.values, seat.core, part.tool
    put[HOTTEST], word = hottest(part)
    known.exact.add(HOTTEST)
    if word != "maximum":
        known.notes[HOTTEST] = f"{HOTTEST}: not given, taken as that of {word}: an exotherm goes above it"
    assert tool is not None
    put[COMPLIANCE] = tool.compliance
    if not seat.rubber:
        known.exact.add(COMPLIANCE)
    elif not tool.compliance.value:
        known.notes[COMPLIANCE] = f"{COMPLIANCE}: taken as 0, a rigid tool (the pressure reads high)"
    if seat.rubber:
        take_modulus(known, core, seat.name, put[HOTTEST].value)
    optional = {
        "volume": core.volume,
        "cavity volume": core.cavity_volume,
        "laminate area": core.laminate_area,
        "insert volume": core.insert_volume,
        "insert expansion": core.insert_expansion,
        "cast temperature": core.cast.temperature if core.cast and seat.rubber else None,
        "cure shrinkage": core.cast.cure_shrinkage if core.cast and seat.rubber else None,
    }
    put |= {core_name(seat.name, what): value for what, value in optional.items() if value is not None}
    if case.zone.area is not None:
        put[f"{case.name} area"] = case.zone.area
    if stacks is not None:
        layer = [name for name in put if isinstance(name, str) and name.startswith("stack ")]
        for name in layer:
            del put[name]
        put["stack"] = stacks.full
        if stacks.laid_up is not None:
            put["stack laid up"] = stacks.laid_up
        else:
            seat.known.notes["stack laid up"] = (
                "stack as laid up: not given, the liquid stack is taken in its place: contact reads late, "
                "and the locked maximum low, on the unsafe side"
            )
        put |= {"stack bled": stacks.bled} if stacks.bled else {}
    return seat


def with_others(seat: Seat, others: tuple[tuple[ZoneCase, int], ...]) -> Seat:
    """The seat with the other zones of its core, for a balance of volumes."""
    for case, _ in others:
        seat.known.values.update(
            {name: value for name, value in case.known.values.items() if name not in seat.known.values}
        )
        if case.zone.area is not None:
            seat.known.values[f"{case.name} area"] = case.zone.area
    return replace(seat, others=others)
