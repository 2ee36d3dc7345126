"""Whether the press closes a gap: the clamp must have pressure left for it beside rubber and bladders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from laminate.press.counts import FITS, NOT_JUDGED, TOO_MANY, GapRow, Verdict
from laminate.press.pressed_zone import do_not_press, is_pressed
from laminate.press.shared_inputs import FEW_DRAWS
from laminate.press.state import State
from laminate.press.unstated import as_asked
from laminate.values.input_key import Key

if TYPE_CHECKING:
    from laminate.press.case import ZoneCase
    from laminate.press.conditions import Press
    from laminate.press.names import Counts


@dataclass(frozen=True, slots=True)
class Closing:
    """What the press leaves a gap; as it stands, all that it takes to close.

    verdict: of a count that fills and closes; chance: share of the draws in which enough is left, None
    without a press; left: pressure that the clamp has left [Pa], None where left_out names what is not given;
    missing: what is not stated and may leave less; taken: at which counts of other zones, a sentence;
    advised: the same beside what is advised for zones that state other counts, None where none does; moved:
    the plies of these.
    """

    verdict: Verdict = FITS
    chance: float | None = None
    left: float | None = None
    left_out: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    taken: tuple[str, ...] = ()
    advised: Closing | None = None
    moved: tuple[str, ...] = ()

    def of(self, row: GapRow) -> GapRow:
        """A count of a gap as the press closes it."""
        if self.chance is None:
            return row
        return replace(row, chance=row.chance.at_least(self.chance)).judged(self.verdict)

    def least(self, chance: float | None) -> float | None:
        """The least that a chance can be together with that of closing."""
        return chance if chance is None or self.chance is None else max(chance + self.chance - 1.0, 0.0)


CLOSES = Closing()


def closing_of(press: Press, case: ZoneCase, counts: Counts, asked: Counts, advised: Counts) -> Closing:
    """What the press leaves the gap of a zone.

    counts: at which all zones are judged; asked: that were asked for; advised: of zones under rubber and
    bladders, beside which it has to close too.
    """
    closing = _beside(press, case, counts, do_not_press(press, asked, counts))
    moved = [Key("zone", zone, "plies") for zone, count in advised.items() if count != counts.get(zone)]
    if not moved:
        return closing
    with_advised = _beside(press, case, {**counts, **advised}, [])
    return replace(closing, advised=with_advised, moved=tuple(as_asked(press.part, moved)))


def _beside(press: Press, case: ZoneCase, counts: Counts, unknown: Sequence[Key]) -> Closing:
    """With so many plies in other zones; unknown: plies of these that may leave less."""
    state, wanted, name = State(press.at(), counts), case.wanted, case.name
    left, keys = None if state.left_out else state.left_to_close, [*unknown]
    if wanted is None and left is not None and float(left) < state.conditions.needed(name):
        room = case.zone.room
        keys.insert(0, Key("zone" if room is None else "room", room or name, "wanted_pressure"))
    silent = [z for z in counts if z not in press.counts({}) and is_pressed(press, z)]
    taken = " and ".join(f"{counts[z]} plies in {z}" for z in silent)
    closing = Closing(
        NOT_JUDGED,
        chance=1.0,
        left_out=tuple(map(str, state.left_out)),
        missing=tuple(as_asked(press.part, keys)),
        taken=(f"the press: judged with {taken}, not stated in the part file",) if taken else (),
    )
    if left is None:
        return closing
    need = 0.0 if wanted is None else wanted.value
    few = press.of_draws(min(press.inputs.draws, FEW_DRAWS))
    drawn = few.simulate(lambda c: {"closes": State(c, counts).closes_with(need)})
    verdict = FITS if state.closes_with(need) else TOO_MANY
    return replace(closing, verdict=verdict, chance=float(drawn["closes"].mean()), left=float(left))
