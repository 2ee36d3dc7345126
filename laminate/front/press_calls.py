"""What the press does as functions, `fill`, `core` and `cycle`: plain values in, an answer out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

from laminate.front.calls import (
    CALL,
    counts_of,
    known_options,
    material_of,
    quantity_of,
    read_part,
    refuse_beside_source,
)
from laminate.front.options import OF_CORE, OF_FILL, at_options, part_of_options, stacks_of_options

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.front.cycle_answer import CycleAnswer
    from laminate.front.press_answer import CoreAnswer, FillAnswer


def fill(
    source: Any = None, *, zones: Sequence[str] | None = None, plies: Any = None, **options: Any
) -> FillAnswer:
    """Every ply count near each gap or pressure, its fiber volume, bleed, chances, and the count to use.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with options
    zones, plies : zones to answer, all where None; a count to ask about, or a mapping zone -> count
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
    from laminate.front.press_answer import FillAnswer
    from laminate.press.filling import fill as filled
    from laminate.show.engineer_page import fill_document
    from laminate.show.fill_json import fill_json

    part, made, run, _ = _asked(source, options, OF_FILL, "fill")
    wanted = {"zones": list(zones) if zones else None, "made": made, "plies": counts_of(plies, part)}
    with at_options(options, "fill") if source is None else nullcontext():
        answer = filled(part, _name(source), **wanted, **run)
    return FillAnswer("fill", fill_json(answer), answer, fill_document)


def core(
    source: Any = None, *, cores: Sequence[str] | None = None, plies: Any = None, **options: Any
) -> CoreAnswer:
    """When an expanding core touches, what it presses with, and whether the tool stays shut.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with options
    cores, plies : cores to answer, all where None; fiber plies, or a mapping zone -> count
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
    from laminate.front.press_answer import CoreAnswer
    from laminate.press.pressing import core as pressed
    from laminate.show.core_json import core_json
    from laminate.show.engineer_page import core_document

    part, made, run, case = _asked(source, options, OF_CORE, "core")
    laid = {z: n for z, n in case.batch.batch.plies.items() if z in part.zone} if case is not None else {}
    wanted = {
        "cores": list(cores) if cores else None,
        "made": made,
        "plies": {**laid, **counts_of(plies, part)},
    }
    if source is None:
        run["stacks"] = stacks_of_options(options)
    with at_options(options, "core") if source is None else nullcontext():
        answer = pressed(part, _name(source), **wanted, **run)
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
    """The part of a source or of options, its lots, how it is run, its batch."""
    run = {name: options.pop(name) for name in ("draws", "seed") if name in options}
    if source is None:
        return part_of_options(known_options(options, known), command), None, run, None
    refuse_beside_source(options)
    part, made, case = material_of(source)
    return part, made, run, case


def _name(source: Any) -> str:
    return str(source) if isinstance(source, str | Path) else CALL
