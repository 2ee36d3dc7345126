"""The engineer's commands: what plies become, which count fills, how a core presses, what to change."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from laminate.front.call import Call
from laminate.front.options import CORE, CYCLE, FILL, PREDICT

from .command_options import command
from .options import argument, flag

if TYPE_CHECKING:
    from laminate.front.answer import Answer


@command(PREDICT, "units why", why="where each ± comes from, and what is taken as exact")
def predict(
    file: Annotated[
        Path | None, argument("FILE", "part.toml, or batch.toml for its lots and the plies laid up")
    ] = None,
    *,
    given: Any,
) -> Answer:
    """Predict ply thickness, fiber volume, thickness, density and mass.

    From a part file (or a batch file, whose lots override nominal values), or from options alone.
    """
    from laminate.front.calls import predicted

    return predicted(Call(PREDICT, file, given, from_command_line=True))


@command(FILL, page="html")
def fill(
    file: Annotated[Path | None, argument("FILE", "part.toml, or batch.toml for its lots")] = None,
    *,
    given: Any,
) -> Answer:
    """Find the ply count for each gap, its fiber volume and its chance.

    From a part file, or from options alone: the material, with --gap or the sizes of a room and its core.
    Exit status 1: no count in a gap, no 'use' elsewhere.
    """
    from laminate.front.press_calls import filled

    return filled(Call(FILL, file, given, from_command_line=True))


@command(CORE, page="html")
def core(
    file: Annotated[Path | None, argument("FILE", "part.toml, or batch.toml for lots, plies, uses")] = None,
    *,
    given: Any,
) -> Answer:
    """Find how hard an expanding core presses, and its cold size.

    From a part file, or from options alone: the core, and --stack or the material. Exit status 1 where the
    nominal pressure is above the clamp or pressure_limit, or a core is past its limit of moldings. A locked
    core can overload clamp, bolts and tool.
    """
    from laminate.front.press_calls import pressed

    return pressed(Call(CORE, file, given, from_command_line=True))


@command(CYCLE, page="html")
def cycle(
    file: Annotated[
        Path, argument("BATCH|PART", "batch.toml with the press's log, or part.toml with planned cycles")
    ],
    *,
    given: Any,
) -> Answer:
    """Check that the press acts before gel and above vapor pressure.

    From the log of a batch, or for the cycles that a part plans. Exit status 1 where a zone is pressed late,
    its vapor pressure is above that of the resin, or the answer is 'cannot say'. For screening only.
    """
    from laminate.front.press_calls import cycled

    return cycled(Call(CYCLE, file, given, from_command_line=True))


@command(page="html")
def correct(
    batches: Annotated[list[Path], argument("BATCH", "batch.toml of one or more batches of one part")],
    nominal: Annotated[bool, flag("--nominal", "take the next batch's material from the part file")] = False,
) -> Answer:
    """Compare batches with prediction; propose what centers the next.

    Between rigid faces a gap, core width or ply count; under rubber plies, resin, fiber or bleed, with the
    pressures before and after. Each change is made alone; the person decides.
    """
    from laminate.front.batch_calls import correct as compared

    return compared(*batches, nominal=nominal)
