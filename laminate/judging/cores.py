"""The cores of a batch against the moldings that its part allows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from laminate.files.batch import Case


@dataclass(frozen=True, slots=True)
class CoreState:
    """One core that was used; reason: why the batch is undecided because of it, else ''."""

    name: str
    identity: str
    moldings: int | None
    limit: int | None
    reason: str


def cores(case: Case) -> list[CoreState]:
    """Every core of the batch file. One past its moldings leaves the batch undecided: it is not the core that
    the part was laid out with any more, whatever the coupons say.
    """
    found: list[CoreState] = []
    for name, used in case.batch.core_used.items():
        limit = case.part.core[name].limit_moldings
        past = limit is not None and used.moldings is not None and used.moldings > limit
        called = f"core {name} {used.identity}".strip()
        reason = f"{called}: {used.moldings} moldings, past its limit of {limit}" if past else ""
        found.append(CoreState(name, used.identity, used.moldings, limit, reason))
    return found
