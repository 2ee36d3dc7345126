"""Whether a concession names what there is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.values.problems import refuse_all, too_few, unknown_name

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.judging.judgement import Judgement

INSTRUMENT, CORE = "instrument.", "core."


def check_concession(case: Case, judgement: Judgement) -> None:
    """Raise `Refused` with every name of the concession that nothing in the judged batch has."""
    concession = case.batch.concession
    if concession is None:
        return
    known = [
        *(characteristic.label for characteristic in (*judgement.characteristics, *judgement.process)),
        *(f"{INSTRUMENT}{state.name}" for state in judgement.instruments),
        *(f"{CORE}{state.name}" for state in judgement.cores),
        *(f"lot.{lot.number}" for lot in case.batch.lot),
        *(f"plan.{zone}" for zone, plan in case.part.plan.items() if plan.most),
        *(f"exclusion.{row.name}" for row in judgement.exclusions),
        *(reason.name for reason in judgement.held_back if reason.concession and reason.name),
    ]
    named = list(dict.fromkeys(known))
    expected = "what a concession may cover: " + ", ".join(named)
    problems = [
        unknown_name(case.name, f"concession.characteristics[{place}]", name, expected, named, listed=True)
        for place, name in enumerate(concession.characteristics, 1)
        if name not in named
    ]
    if not concession.characteristics:
        place, expected = "concession.characteristics", "the names of what it covers"
        problems.append(too_few(case.name, place, 0, "names", expected))
    refuse_all(problems)
