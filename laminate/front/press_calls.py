"""What the press does as functions, `fill`, `core` and `cycle`: plain values in, an answer out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Unpack

from laminate.front.call import Call, read_part
from laminate.front.options import CORE, CYCLE, FILL, Core, Cycle, Fill

if TYPE_CHECKING:
    from laminate.front.cycle_answer import CycleAnswer
    from laminate.front.press_answer import CoreAnswer, FillAnswer


@FILL.takes
def fill(source: Any = None, **options: Unpack[Fill]) -> FillAnswer:
    """Every ply count near each gap or pressure, its fiber volume, bleed, chances, and the count to use.

    Plies are a count to ask about, or a mapping zone -> count. Without a source the options describe the
    part: the material of `predict`, with `gap`, or with the sizes of a room and its core.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with options

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
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> f = lam.fill(files("laminate.examples") / "mast" / "part.toml", zones=["web"], draws=1000)
    >>> f.zones["web"].use
    20
    """
    return filled(Call(FILL, source, options))


@CORE.takes
def core(source: Any = None, **options: Unpack[Core]) -> CoreAnswer:
    """When an expanding core touches, what it presses with, and whether the tool stays shut.

    Plies are a count, or a mapping zone -> count; moldings a count, or a mapping core -> uses so far. Without
    them, and without the humidity, what the batch says counts.

    Parameters
    ----------
    source : path of part.toml or batch.toml, a mapping as of a part file, or a `Part`; None with options

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
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> c = lam.core(files("laminate.examples") / "mast" / "part.toml", draws=1000)
    >>> c.cores["fore"].tool_holds
    True
    """
    return pressed(Call(CORE, source, options))


@CYCLE.takes
def cycle(source: Any, **options: Unpack[Cycle]) -> CycleAnswer:
    """Whether the press presses before the resin gels, and above the vapor of its water; for screening.

    A plan is judged at the stored humidity, and at 30, 50 and 70 % too. Plies are a mapping zone -> count.

    Parameters
    ----------
    source : path of batch.toml with [[log]], or a part with [cycle.NAME]: path, mapping, or read before

    Returns
    -------
    CycleAnswer : `answer.verdict`, `answer.zones["skin"].vapor_margin` of a log, `answer.planned("slow")` one
        a humidity of a plan; `answer.plot()` draws the curves.
        Times in min, temperatures in degC, pressures in MPa, absolute unless their name says applied

    Raises
    ------
    Refused : with every finding in the files
    TypeError : for an option that does not exist

    Notes
    -----
    A resin uses up its time to gel, ``integral dt/t_gel(T)``, exact for a cure with one activation energy.
    Vapor pressure of water by IAPWS-IF97. Chances by Monte Carlo (JCGM 101:2008).

    Examples
    --------
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> c = lam.cycle(files("laminate.examples") / "cycle" / "batch.toml", draws=100)
    >>> [zone.zone for zone in c.zones]
    ['wall']
    """
    return cycled(Call(CYCLE, source, options))


def filled(call: Call) -> FillAnswer:
    """The answer of `fill` to a call."""
    from laminate.files.toml import Fraction, VolumeFraction
    from laminate.front.press_answer import FillAnswer
    from laminate.press.filling import fill as ask
    from laminate.press.inverse import Wanted
    from laminate.press.material import acts_as_rubber

    part = call.read()
    volume = call.share("fiber_volume_wanted", Fraction, some=True)
    chance = call.share("chance_wanted", Fraction)
    cores, bladders = (part.core.values(), part.bladder) if part else ((), ())
    if "stored_humidity" in call.given and part and not (bladders or any(map(acts_as_rubber, cores))):
        expected = "a part with a bladder or a rubber core, whose pressure must keep steam down"
        call.say("option-not-used", "stored_humidity", f"'{call.given['stored_humidity']}'", expected)
    wanted = {
        "zones": call.names("zones", part.zone if part is not None else ()),
        "plies": call.zone_counts(),
        "wanted": Wanted(volume.value if volume else None, chance.value if chance else None),
        "void_content": call.share("void_content", VolumeFraction),
        "humidity": _humidity(call),
        "moldings": _moldings(call),
    }
    return FillAnswer(call.answer(ask, made=call.made, **wanted, **call.runs()))


def pressed(call: Call) -> CoreAnswer:
    """The answer of `core` to a call."""
    from laminate.files.toml import Length
    from laminate.front.press_answer import CoreAnswer
    from laminate.press.cores import core as ask

    part = call.read()
    zones, cores = (part.zone, part.core) if part is not None else ((), ())
    laid = call.batch.batch.plies if call.batch is not None else {}
    gap = call.quantity("gap_wanted", Length)
    if gap is not None and gap.u:
        call.say("wrong-value", "gap_wanted", f"'{gap.text}'", "one size: what is wanted has no ±")
    wanted = {
        "cores": call.names("cores", cores),
        "plies": {zone: n for zone, n in laid.items() if zone in zones} | call.zone_counts(),
        "gap_wanted": gap.value if gap else None,
        "moldings": _moldings(call) | call.counts("moldings", "core", dict.fromkeys(cores, 0)),
        "humidity": _humidity(call),
    }
    answer = call.answer(ask, made=call.made, stacks=call.stacks, **wanted, **call.runs())
    for core in answer.cores if gap is not None else ():
        if any(zone.cold_width is not None and zone.cold_width.value <= 0.0 for zone in core.zones):
            expected = f"a gap that leaves room for core {core.core}"
            call.say("wrong-value", "gap_wanted", f"'{gap.text}'", expected)
    call.check()
    return CoreAnswer(answer)


def cycled(call: Call) -> CycleAnswer:
    """The answer of `cycle` to a call."""
    from laminate.curing.cycling import cycle as ask
    from laminate.curing.cycling import planned_cycles
    from laminate.files.toml import Fraction
    from laminate.front.cycle_answer import CycleAnswer

    wanted = {
        "stored_humidity": call.quantity("stored_humidity", Fraction),
        "plies": call.counts("plies", "zone", None),
        **call.runs(),
    }
    call.check()
    if isinstance(call.source, str):
        return CycleAnswer(ask(call.source, call.name, **wanted))
    return CycleAnswer(planned_cycles(read_part(call.source), "part", **wanted))


def _moldings(call: Call) -> dict[str, int]:
    """Uses of each core so far that a batch states."""
    used = call.batch.core_used if call.batch is not None else {}
    return {name: core.moldings for name, core in used.items() if core.moldings is not None}


def _humidity(call: Call) -> Any:
    """As given, else the highest that the lots of a batch were stored at, None where nothing says it."""
    from laminate.files.toml import Fraction

    lots = call.batch.lot if call.batch is not None else ()
    stored = [lot.stored_humidity for lot in lots if lot.stored_humidity is not None]
    given = call.quantity("stored_humidity", Fraction)
    return given or max(stored, key=lambda value: value.value, default=None)
