"""The answer of `correct` in words, of a zone that rubber or a bladder presses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from laminate.history.bleed_from_thickness import RubberRun
from laminate.history.dependence import DOUBT, EXCLUSION, LEFT_OUT, Dependence, hold_back
from laminate.history.rubber import At, CoreAlone, Proposal, RubberCorrection
from laminate.show.blocks import Block, Grid, Heading, Sentence, columned, holding, sentences
from laminate.show.engineer_text import AT_95, few, listed, plies
from laminate.show.numbers import in_percent, in_units, mpa, size, text, unit_of, value_text
from laminate.show.pressed_words import screening, sizes_of
from laminate.values.quantities import ATTRIBUTES, G_M2, MM, MPA, NUMBER, PERCENT, Unit

LONE_COUPON = "One coupon: its ± contains no scatter between coupons."
ONE_BATCH = (
    "One batch does not show how batches scatter: the stated ± of press, plies and temperatures stand in for "
    "it, also in the ± of a change."
)
UNSTATED = "One batch does not show how batches scatter, and no bleed is stated: every ± lacks that."
GUESS = "best guess from one batch"
NEXT = "in the next batch "
"""Begins what is expected of a batch like the last one: its ± is wider than that of what was measured."""
COLUMNS = "In brackets: over the ± of the achieved bleed, all else as stated."


_FIRST = {
    DOUBT: ("answer the doubt about {}", "answer the doubts about {}"),
    EXCLUSION: ("approve the exclusion of {} by [[exclusion]], or count it",
                "approve the exclusions of {} by [[exclusion]], or count them"),
    LEFT_OUT: ("state {}", "state {}"),
}  # fmt: skip
"""What to do about what an answer depends on: of one thing, and of several."""


def first_do(depends_on: Sequence[Dependence]) -> str:
    """What has to be done before an answer stands."""
    return "; ".join(_FIRST[of.kind][len(of.names) > 1].format(few(of.names)) for of in depends_on)


def held_words(depends_on: Sequence[Dependence]) -> str:
    """That nothing is proposed yet, and what has to be done first."""
    return f"no change proposed: {first_do([dependence for dependence in depends_on if dependence.advice])}"


def _bled(run: RubberRun) -> str:
    return text(run.bleed.value, run.bleed.expanded, PERCENT)


def first_line(zone: RubberCorrection, units: str) -> str:
    """The answer for one zone."""
    run, now = zone.run, zone.now
    thick = text(run.thickness.value, run.thickness.expanded, in_units(MM, units))
    start = f"Zone {zone.zone}, {plies(zone.plies)}: "
    outcome = f"It came out {thick} thick"
    if run.bleed.value + run.bleed.expanded >= 0.0:
        outcome += f", so {_bled(run)} of the resin has bled"
        outcome += f" ({AT_95})" if run.bleed.u else ""
    if hold_back(zone.depends_on):
        return f"{start}{held_words(zone.depends_on)}. {outcome}."
    if zone.check:
        problem, _, checks = zone.check.partition(": ")
        return f"{start}{checks}; nothing is proposed until then. {outcome}: {problem}."
    gel = "not known" if now.gel is None else mpa(now.gel, units)
    worst = "" if now.worst is None else f", {mpa(now.worst, units)} at worst"
    state = f"{outcome}; pressed with {gel} at gel{worst} (above ambient)."
    if any(compared.coupons == 1 for difference in zone.differences for _, compared in difference.batches):
        state += f" {LONE_COUPON}"
    if not zone.aims:
        return f"{start}nothing is proposed: limit thickness or fiber volume on both sides. {state}"
    (aim, coming), able = zone.aims[0], zone.able
    name, unit = ATTRIBUTES[aim.attribute].words, unit_of(aim.attribute, units)
    expected = f"{NEXT}{name} {text(coming.value, coming.expanded, unit)}"
    if abs(coming.value - aim.middle) <= coming.expanded and aim.holds(coming.value, coming.expanded):
        return f"{start}no change needed: {expected} lies in the middle of its limits, within the ±. {state}"
    if abs(coming.value - aim.middle) <= coming.expanded:
        return f"{start}no change proposed: {expected} may lie outside its limits; measure better. {state}"
    middle = f"{value_text(aim.middle, None, unit)}, the middle of its {aim.words}"
    if not able:
        return f"{start}no single change that is allowed brings {name} to {middle}. {state}"
    reached = getattr(able[0].after, aim.attribute, None)
    if reached is not None and (to := value_text(reached, None, unit)) not in middle:
        middle = f"{to}, near {middle}"
    goal = f"{middle} ({len(able)} of {len(zone.proposals)} changes would)" if len(able) > 1 else middle
    return f"{start}{GUESS}: change {change_words(able[0], units)}, to bring {name} to {goal}. {state}"


def unit_changed(what: str) -> Unit:
    """The unit of what a proposal changes."""
    return NUMBER if what == "ply_count" else G_M2 if what.endswith("areal_weight") else PERCENT


def _amount(what: str, value: float, units: str) -> str:
    unit = unit_changed(what)
    if unit is G_M2:
        return value_text(value, 0.001 * value, in_units(unit, units))
    return size(value, units, unit)


def _pressure(at: At, key: str, units: str) -> str:
    value = getattr(at, key)
    ends = set() if value is None else {getattr(end, key) for end in at.over or ()}
    between = "–".join(mpa(end, units, bare=True) for end in sorted(ends))
    return mpa(value, units, bare=True) + (f" ({between})" if len(ends) > 1 else "")


def change_words(proposal: Proposal, units: str) -> str:
    """A change from what to what."""
    name = proposal.what.replace("_", " ")
    now, then = (_amount(proposal.what, value, units) for value in (proposal.now, proposal.then))
    return f"{name} from {now} to {then}"


def grid(zone: RubberCorrection, units: str) -> Grid:
    """Now and after each change alone: the part and its pressures."""
    mm, press = in_units(MM, units).text, in_units(MPA, units).text
    rows = [("with the part file's material" if zone.nominal else "as it came out", zone.now, "")]
    rows += [(change_words(p, units), p.after, p.refused or "yes") for p in zone.proposals]
    columns: dict[str, Callable[[tuple[str, At, str]], str]] = {
        "change": lambda row: row[0],
        f"[{mm}]": lambda row: size(row[1].thickness, units, MM, bare=True),
        "fiber [%]": lambda row: in_percent(row[1].fiber_volume, bare=True),
        f"gel [{press}]": lambda row: _pressure(row[1], "gel", units),
        f"worst [{press}]": lambda row: _pressure(row[1], "worst", units),
        "answer": lambda row: row[2],
    }
    return columned(rows, columns, 1, 2)


def _keep(zone: RubberCorrection, units: str) -> Iterator[str]:
    """The core that keeps the pressure after each change that is not refused."""
    for proposal in zone.proposals:
        core = proposal.core
        if proposal.refused or core is None:
            continue
        what, now, then = sizes_of(core.width, core.volume, units)
        sizes = f"{what} {now} to {then}"
        if core.dummy is not None:
            sizes += f" (dummy {size(core.dummy[0], units)} to {size(core.dummy[1], units)})"
        yield f"{change_words(proposal, units)}: to keep the pressure at gel, core {core.core} {sizes}."


def core_alone_words(core: CoreAlone, units: str) -> str:
    """Core sizes that press what came out, the tool holding: pressure, not thickness."""
    what, now, low, high = sizes_of(core.width, (core.now, *core.volume), units)
    gel, worst = (
        f"{mpa(getattr(core.least, at), units, bare=True)} to {mpa(getattr(core.most, at), units)} at {at}"
        for at in ("gel", "worst")
    )
    return (
        f"Core {core.core} alone moves the pressure, not the thickness: a {what} of {low} to {high} presses "
        f"and holds over the whole ± of the bleed ({gel}, {worst}); it has {now}."
    )


def notes(zone: RubberCorrection, units: str) -> list[str]:
    """What is good to know beside the changes, the most needed first."""
    left, bleeds = zone.none_left_at, listed(f"{batch.batch} {_bled(batch)}" for batch in zone.earlier)
    return holding(
        (not zone.limit_given, "No pressure limit of the tool is given: only the clamp force is held."),
        (zone.run.void_content is None, "No void content was measured; with voids more has bled than said."),
        (left is not None, f"No pressure is left at a bleed of {in_percent(left)}."),
        (bleeds, f"Batch {zone.batch} is answered. Bleed of earlier ones: {bleeds}."),
    )


def scatter_words(zone: RubberCorrection) -> str:
    """What one batch does not tell, and what its ± takes for it."""
    return ONE_BATCH if zone.differences else UNSTATED


def offers(zone: RubberCorrection) -> bool:
    """Whether changes are shown."""
    return bool(zone.proposals) and zone.worth_changing is not None


def heading(zone: RubberCorrection) -> str:
    """The zone and what presses it."""
    return f"Zone {zone.zone}, {plies(zone.plies)}, pressed by {'rubber' if zone.run.room else 'a bladder'}"


def blocks(zone: RubberCorrection, units: str) -> Iterator[Block]:
    """One zone: each change alone, what it is pressed with, and what keeps the pressure."""
    yield Heading(heading(zone))
    yield from (grid(zone, units), Sentence(COLUMNS)) if offers(zone) else ()
    core, lines = zone.core_alone, [scatter_words(zone)]
    if core is None and zone.run.room and zone.now.gel is not None and not zone.check:
        lines.append("No core size is sure to press and to hold over the whole ± of the bleed.")
    if not hold_back(zone.depends_on):
        lines += [core_alone_words(core, units)] if core is not None else []
        lines += _keep(zone, units) if zone.worth_changing is not None else []
    lines += [*notes(zone, units), screening(units) if zone.run.room else ""]
    yield from sentences(lines)
