"""What holds a batch back from conforming: each rule looks at the judged batch and lists its reasons."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from laminate.judging.evidence import BatchEvidence

    Rule = Callable[[BatchEvidence], Iterable["OpenPoint"]]


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """One reason why a batch cannot conform yet.

    rule: number of the rule, 1 to 12; what: the reason in words; say: the exact line to write and the file it
    goes to, '' where nothing that is written mends it; concession: whether a concession may cover it; name:
    the name that the concession uses, as `exclusion.F-3`; opens: labels of characteristics that it leaves
    open even where they fail (a doubtful reading, an unknown layup).
    """

    rule: int
    what: str
    say: str = ""
    concession: bool = False
    name: str = ""
    opens: tuple[str, ...] = ()
