"""The lab technician's commands: what the coupons say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from . import measuring, sheets

if TYPE_CHECKING:
    from collections.abc import Callable

COMMANDS: dict[str, Callable[..., None]] = {**measuring.COMMANDS, **sheets.COMMANDS}
