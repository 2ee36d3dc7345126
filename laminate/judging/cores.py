"""The cores of a batch against the moldings that its part allows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.judging.open_point import OpenPoint

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.judging.evidence import BatchEvidence

RULE = 6


@dataclass(frozen=True, slots=True)
class CoreState:
    """One core of the part that was used or has a limit; reason: why it keeps the batch open, else ''."""

    name: str
    identity: str
    moldings: int | None
    limit: int | None
    reason: str


def cores(case: Case) -> Iterator[CoreState]:
    """Every core of the batch file, and every one whose moldings the part limits. One past its moldings, or
    whose moldings nobody told, leaves the batch undecided: it is not known to be the core that the part was
    laid out with, whatever the coupons say.
    """
    for name, core in case.part.core.items():
        used, limit = case.batch.core_used.get(name), core.limit_moldings
        if used is None and limit is None:
            continue
        identity, moldings = (used.identity, used.moldings) if used else ("", None)
        called = f"core {name} {identity}".strip()
        reason = ""
        if limit is not None and moldings is None:
            reason = f"{called}: its moldings are not stated; the part allows {limit}"
        elif limit is not None and moldings is not None and moldings > limit:
            reason = f"{called}: {moldings} moldings, past its limit of {limit}"
        yield CoreState(name, identity, moldings, limit, reason)


def cores_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """The cores whose use is not told, or past their limit."""
    for state in cores(judged.case):
        if state.reason:
            untold = state.moldings is None
            say = f"{judged.case.name}, [core_used.{state.name}]: moldings = ..." if untold else ""
            yield OpenPoint(RULE, state.reason, say, True, f"core.{state.name}")
