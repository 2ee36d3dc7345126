"""What the press does as functions, `fill`, `core` and `cycle`: plain values in, an answer out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

from laminate.front.calls import (
    CALL,
    counts_of,
    humidity_of,
    known_options,
    material_of,
    names_of,
    quantity_of,
    read_part,
    refuse_beside_source,
    share_of,
    whole,
)
from laminate.front.options import OF_CORE, OF_FILL, at_options, part_of_options, stacks_of_options

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.front.cycle_answer import CycleAnswer
    from laminate.front.press_answer import CoreAnswer, FillAnswer


def fill(
    source: Any = None,
    *,
    zones: str | Sequence[str] | None = None,
    plies: Any = None,
    void_content: Any = None,
    fiber_volume_wanted: Any = None,
    chance_wanted: Any = "95 %",
    stored_humidity: Any = None,
    **options: Any,
) -> FillAnswer:
    """Every ply count near each gap or pressure, its fiber volume, bleed, chances, and the count to use.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with options
    zones, plies : zones to answer, all where None; a count to ask about, or a mapping zone -> count
    void_content : of the cured laminate, by volume
    fiber_volume_wanted, chance_wanted : which gap or areal weight gives the one with these plies, which
        tolerance would bring the chance to the other
    stored_humidity : relative, where the prepreg was stored, for its steam; that of the batch's lots
    options : without a source those of the command, `-` as `_`: the material of `predict`, with `gap` or
        with `room_width` and the other sizes of a room and its core; with or without one `draws` and `seed`

    Returns
    -------
    FillAnswer : `answer.to_frame()` has one row a zone and count; `answer.plot()` draws the pressure

    Raises
    ------
    Refused : with every finding
    TypeError : for an option that does not exist

    Notes
    -----
    Between hard faces the gap is fixed and the resin above it must bleed: ``b = 1 - (h - t_L - m_f/rho_f)
    rho_l/m_r``. Rubber and bladders leave no gap; bleed is stated and the pressure follows. Chances by Monte
    Carlo (JCGM 101:2008). The formulas of the press are arithmetic of volumes, with no other source.

    Examples
    --------
    >>> from importlib.resources import files
    >>> f = fill(files("laminate.examples") / "mast" / "part.toml", zones=["web"], draws=1000)
    >>> f.zones["web"].use
    20
    """
    from laminate.files.toml import Fraction, VolumeFraction
    from laminate.front.press_answer import FillAnswer
    from laminate.press.filling import fill as filled
    from laminate.press.inverse import Wanted
    from laminate.show.engineer_page import fill_document
    from laminate.show.fill_json import fill_json

    part, run, case = _asked(source, options, OF_FILL, "fill")
    volume = share_of(fiber_volume_wanted, "fiber_volume_wanted", Fraction)
    chance = share_of(chance_wanted, "chance_wanted", Fraction)
    wanted = run | {
        "zones": names_of(zones, part.zone, "zones"),
        "plies": counts_of(plies, part),
        "wanted": Wanted(None, volume.value if volume else None, chance.value),
        "void_content": share_of(void_content, "void_content", VolumeFraction),
        "humidity": quantity_of(stored_humidity, "stored_humidity", Fraction)
        or humidity_of(case and case.batch),
    }
    with at_options(options, "fill") if source is None else nullcontext():
        answer = filled(part, _name(source), **wanted)
    return FillAnswer("fill", fill_json(answer), answer, fill_document)


def core(
    source: Any = None,
    *,
    cores: str | Sequence[str] | None = None,
    plies: Any = None,
    gap_wanted: Any = None,
    moldings: Mapping[str, int] | None = None,
    stored_humidity: Any = None,
    **options: Any,
) -> CoreAnswer:
    """When an expanding core touches, what it presses with, and whether the tool stays shut.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with options
    cores, plies : cores to answer, all where None; fiber plies, or a mapping zone -> count
    gap_wanted, moldings : hot gap to size the core for; uses so far by core, those of the batch where None
    stored_humidity : relative, where the prepreg was stored; that of the batch's lots
    options : without a source those of the command, `-` as `_`; with or without one `draws` and `seed`

    Returns
    -------
    CoreAnswer : `answer.cores["fore"].pressure`; pressures are above ambient, for screening; `answer.plot()`

    Raises
    ------
    Refused : with every finding
    TypeError : for an option that does not exist

    Notes
    -----
    ``P = (K/K') [(V_core/V_room)^K' - 1]`` (Murnaghan, Proc. Natl. Acad. Sci. 30 (1944) 244,
    second-hand): V_core free and hot, V_room what tool and laminates leave. Friction, creep and air are left
    out.

    Examples
    --------
    >>> from importlib.resources import files
    >>> c = core(files("laminate.examples") / "mast" / "part.toml", draws=1000)
    >>> c.cores["fore"].tool_holds
    True
    """
    from laminate.files.toml import Fraction, Length
    from laminate.front.press_answer import CoreAnswer
    from laminate.press.pressing import core as pressed
    from laminate.show.core_json import core_json
    from laminate.show.engineer_page import core_document

    part, run, case = _asked(source, options, OF_CORE, "core")
    laid = {z: n for z, n in case.batch.batch.plies.items() if z in part.zone} if case is not None else {}
    used = (
        {name: used_core.moldings for name, used_core in case.batch.core_used.items()}
        if case is not None
        else {}
    )
    used |= {name: whole(n, "moldings", 0) for name, n in (moldings or {}).items()}
    names_of([*(moldings or {})], part.core, "moldings")
    gap = quantity_of(gap_wanted, "gap_wanted", Length)
    wanted = run | {
        "cores": names_of(cores, part.core, "cores"),
        "plies": {**laid, **counts_of(plies, part)},
        "gap_wanted": gap.value if gap else None,
        "moldings": {name: n for name, n in used.items() if n is not None},
        "humidity": quantity_of(stored_humidity, "stored_humidity", Fraction)
        or humidity_of(case and case.batch),
    }
    if source is None:
        wanted["stacks"] = stacks_of_options(options)
    with at_options(options, "core") if source is None else nullcontext():
        answer = pressed(part, _name(source), **wanted)
    return CoreAnswer("core", core_json(answer), answer, core_document)


def cycle(
    source: Part | Mapping[str, Any] | str | Path,
    *,
    stored_humidity: Any = None,
    plies: Mapping[str, int] | None = None,
    **run: Any,
) -> CycleAnswer:
    """Whether the press presses before the resin gels, and above the vapor of its water; for screening.

    Parameters
    ----------
    source : path of batch.toml with [[log]], or a part with [cycle.NAME]: path, mapping, or read before
    stored_humidity : of the prepreg, of a plan, such as "50 %"; each plan is judged at 30, 50, 70 % too
    plies : all fiber plies by zone, of a plan
    run : `draws` and `seed` of the Monte Carlo

    Returns
    -------
    CycleAnswer : `answer.verdict`, `answer.zones["skin"].vapor_margin` of a log, `answer.planned("slow")` one
        a humidity of a plan; `answer.plot()` draws the curves.
        Times in min, temperatures in degC, pressures in MPa, absolute unless their name says applied

    Raises
    ------
    Refused : with every finding in the files

    Notes
    -----
    A resin uses up its time to gel, ``integral dt/t_gel(T)``, exact for a cure with one activation energy.
    Vapor pressure of water by IAPWS-IF97. Chances by Monte Carlo (JCGM 101:2008).

    Examples
    --------
    >>> from importlib.resources import files
    >>> c = cycle(files("laminate.examples") / "cycle" / "batch.toml", draws=100)
    >>> [zone.zone for zone in c.zones]
    ['wall']
    """
    from laminate.curing.cycling import cycle as judged
    from laminate.curing.cycling import planned_cycles
    from laminate.files.toml import Fraction
    from laminate.front.cycle_answer import CycleAnswer
    from laminate.show.cycle_json import cycles_json
    from laminate.show.cycle_page import cycle_document

    humidity = quantity_of(stored_humidity, "stored_humidity", Fraction)
    run |= {"stored_humidity": humidity, "plies": plies}
    if isinstance(source, str | Path):
        answer = judged(Path(source), str(source), **run)
    else:
        answer = planned_cycles(read_part(source), "part", **run)
    return CycleAnswer("cycle", cycles_json(answer), answer, cycle_document)


def _asked(source: Any, options: dict[str, Any], known: Mapping[str, Any], command: str) -> Any:
    """The part of a source or of options, how it is run and with which lots, its batch."""
    run: dict[str, Any] = {
        name: whole(options.pop(name), name, least)
        for name, least in (("draws", 1), ("seed", 0))
        if name in options
    }
    if source is None:
        return part_of_options(known_options(options, known), command), run, None
    refuse_beside_source(options)
    part, made, case = material_of(source)
    return part, {**run, "made": made}, case


def _name(source: Any) -> str:
    return str(source) if isinstance(source, str | Path) else CALL
