"""The engineer's commands: what plies become, which count fills, how a core presses, what to change."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from laminate.front.call import Call
from laminate.front.options import CORE, CYCLE, FILL, PREDICT

from .answers import give
from .keyed import asks
from .options import AsJson, Html, Options, Units, Why, argument, flag


@asks(PREDICT)
def predict(
    file: Annotated[
        Path | None, argument("FILE", "part.toml, or batch.toml for its lots and the plies laid up")
    ] = None,
    given: Any = None,
    units: Units = "metric",
    why: Annotated[bool, flag("--why", "where each ± comes from, and what is taken as exact")] = False,
    as_json: AsJson = False,
) -> None:
    """Predict ply thickness, fiber volume, thickness, density and mass.

    From a part file (or a batch file, whose lots override nominal values), or from options alone.
    """
    from laminate.front.calls import predicted

    options = Options(units, why=why, as_json=as_json)
    give(options, lambda: predicted(Call(PREDICT, file, given, spelled=True)))


@asks(FILL)
def fill(
    file: Annotated[Path | None, argument("FILE", "part.toml, or batch.toml for its lots")] = None,
    given: Any = None,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Find the ply count for each gap, its fiber volume and its chance.

    From a part file, or from options alone: the material, with --gap or the sizes of a room and its core.
    Exit status 1 where a zone has no count.
    """
    from laminate.front.press_calls import filled

    options = Options(units, why=why, as_json=as_json, html=html)
    give(options, lambda: filled(Call(FILL, file, given, spelled=True)), page="html")


@asks(CORE)
def core(
    file: Annotated[Path | None, argument("FILE", "part.toml, or batch.toml for lots, plies, uses")] = None,
    given: Any = None,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Find how hard an expanding core presses, and its cold size.

    From a part file, or from options alone: the core, and --stack or the material. Exit status 1 where the
    nominal pressure is above the clamp or a core is past its limit of moldings. A locked core can overload
    clamp, bolts and tool.
    """
    from laminate.front.press_calls import pressed

    options = Options(units, why=why, as_json=as_json, html=html)
    give(options, lambda: pressed(Call(CORE, file, given, spelled=True)), page="html")


@asks(CYCLE)
def cycle(
    file: Annotated[
        Path, argument("BATCH|PART", "batch.toml with the press's log, or part.toml with planned cycles")
    ],
    given: Any = None,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Check that the press acts before gel and above vapor pressure.

    From the log of a batch, or for the cycles that a part plans. Exit status 1 where a zone is pressed late,
    its vapor presses more, or nothing can be said. For screening.
    """
    from laminate.front.press_calls import cycled

    options = Options(units, why=why, as_json=as_json, html=html)
    give(options, lambda: cycled(Call(CYCLE, file, given, spelled=True)), page="html")


def correct(
    batches: Annotated[list[Path], argument("BATCH", "batch.toml of one or more batches of one part")],
    nominal: Annotated[bool, flag("--nominal", "take the next batch's material from the part file")] = False,
    html: Html = None,
    why: Why = False,
    units: Units = "metric",
    as_json: AsJson = False,
) -> None:
    """Compare batches with prediction; propose what centers the next.

    Between rigid faces a gap, core width or ply count; under rubber plies, resin, fiber or bleed, with the
    pressures before and after. Each is changed alone. The person decides.
    """
    from laminate.front.batch_calls import correct as compared

    options = Options(units, why=why, as_json=as_json, html=html)
    give(options, lambda: compared(*batches, nominal=nominal), page="html")
