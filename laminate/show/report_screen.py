"""A judged batch on one screen: the answer, what to know of it, and each result between its limits."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from laminate.formulas.conformity import CONFORMS, FAILS, UNDECIDED
from laminate.judging.sampling import NOT_ENOUGH
from laminate.show.attribute_words import RESPONSIBILITY
from laminate.show.blocks import Block, Grid, Sentence, sentences
from laminate.show.limits_drawing import between
from laminate.show.numbers import bounds
from laminate.show.page_words import Json
from laminate.show.report_summary import (
    ahead,
    answer_line,
    cause,
    every,
    in_doubt,
    low_chance,
    not_inside,
    open_ones,
    open_words,
    rule_words,
    ways,
)
from laminate.show.report_view import held_to, key_of, result_words
from laminate.show.screenful import screenful
from laminate.values.said import Said, joined, say_in

ONE_LINE = 20
"""Characters of a result, above which it stands on two lines."""


def screen_blocks(answer: Json, units: str, *, every_row: bool = False) -> Sequence[Block]:
    """The answer, what to know ahead, a row for each limit, the rule; every_row: as a notebook has it."""
    under = [*cause(answer), *in_doubt(answer), *open_words(answer), *ways(answer)[:1], *ahead(answer)]
    rows, spare = _rows(answer)
    grid = Grid(("what", "limits", "result ± U", "|limits|", "decision"), tuple(rows))
    rule = f"Rule of the part: {rule_words(answer['decision_rule'])}. Where each ± comes from: --why."
    after = [rule, RESPONSIBILITY]
    parts, last = max(len(answer["covers"]["zones"]), 1), answer_line(answer, short=True)
    lines = [say_in(sentence, units) for sentence in (*under, low_chance(answer)) if sentence]
    grid = grid.changed(partial(say_in, units=units))
    if every_row:
        return [Sentence(answer_line(answer), strong=True), *sentences(lines), grid, *sentences(after)]
    return screenful(answer_line(answer), lines, grid, after, spare=spare, parts=parts, last=last)


def brief_title(c: Json) -> str:
    """What a characteristic is, in the fewest words: quantity, zone or prepreg, lot."""
    name, lot = str(c["name"]), str(c["lot"] or "").removeprefix("lot ")
    if name.startswith("prepreg."):
        _, prepreg, key = name.split(".", 2)
        return " ".join(filter(None, [f"{key.replace('_', ' ')}, {prepreg}", lot]))
    name = name.replace("_", " ")
    return f"{name}, {c['zone']}" if c["zone"] else name


def _rows(answer: Json) -> tuple[list[tuple[str, ...]], list[int]]:
    """A row for each limit of each characteristic, and which of them conform without more to say."""
    rows: list[tuple[str, ...]] = []
    spare: list[int] = []
    for c in open_ones(answer) + [c for c in every(answer) if c["decision"] == CONFORMS]:
        for words, limits, held in held_to(c):
            if c["decision"] == CONFORMS and not (held and not_inside(c, held)):
                spare.append(len(rows))
            # no row says more than the characteristic: a figure in doubt fails nothing, and passes nothing
            decision = held["decision"] if held and c["decision"] == FAILS else c["decision"]
            name = "" if rows and rows[-1][0] == brief_title(c) else brief_title(c)
            pair = Said(f"{words} ", bounds(limits, c["limits"]["unit"], key_of(c), bare=True))
            rows.append((name or "  its average", pair, _result(c, held), _drawing(limits, held), decision))
    return rows, spare


def _drawing(limits: Json, result: Json | None) -> str:
    readings = result["readings"] if result else []
    if not readings:
        return ""
    widest = max(reading["expanded_uncertainty"] for reading in readings)
    return between([reading["value"] for reading in readings], widest, limits["min"], limits["max"])


def _result(c: Json, result: Json | None) -> str:
    """The average, or the individuals from least to greatest; those not inside by name, what else is open."""
    if result is None or not result["readings"]:
        return "none"
    words, besides = result_words(c, result), not_inside(c, result)
    if c["decision"] == UNDECIDED and result["decision"] == CONFORMS:
        besides.append(c["reason"].partition("; ")[0].removeprefix(f"{NOT_ENOUGH}: "))
    if len(words.parts) > 1 and len(words) - len(" to ") > ONE_LINE:
        words = Said(*(" to\n" if part == " to " else part for part in words.parts))
    return joined("\n", [words, *besides])
