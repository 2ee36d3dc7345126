"""The engineer's commands: before the part is molded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import cores, correcting, cycling, filling, predicting

if TYPE_CHECKING:
    from collections.abc import Callable

COMMANDS: dict[str, Callable[..., None]] = {
    **predicting.COMMANDS,
    **filling.COMMANDS,
    **cores.COMMANDS,
    **cycling.COMMANDS,
    **correcting.COMMANDS,
}
