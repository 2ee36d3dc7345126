"""Quality's commands: the batch against its limits, who said so, and batches over time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import reporting, signing, trending

if TYPE_CHECKING:
    from collections.abc import Callable

COMMANDS: dict[str, Callable[..., None]] = {**reporting.COMMANDS, **signing.COMMANDS, **trending.COMMANDS}
