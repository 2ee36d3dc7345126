"""How the engineer's numbers are written: value ± expanded uncertainty with unit, chances, counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import partial

from laminate.curing.answers import Known
from laminate.press.shared_inputs import Estimate
from laminate.show.attribute_words import exact_sentence
from laminate.show.blocks import Block, Heading, sentences
from laminate.show.numbers import DASH, in_units, size, text, value_text
from laminate.show.page_words import several
from laminate.values.quantities import CM3, Unit
from laminate.values.said import NoSpread, say_in

AT_95 = "± at 95 %"


def with_spread(estimate: Estimate | Known | None, unit: Unit, units: str, *, bare: bool = False) -> str:
    """Value ± expanded uncertainty at 95 % with its unit, a dash without it; bare: without the unit."""
    if estimate is None:
        return DASH
    return text(estimate.value, estimate.expanded, in_units(unit, units), bare=bare)


def alone(estimate: Estimate | None, unit: Unit, units: str, *, bare: bool = False) -> str:
    """The value to the digits that its uncertainty supports, with its unit, a dash without it; bare: without
    the unit.
    """
    if estimate is None:
        return DASH
    return value_text(estimate.value, estimate.expanded, in_units(unit, units), bare=bare)


def past_moldings(core: str, moldings: int, limit: int) -> str:
    """That a core was used more often than it may be.

    >>> past_moldings("fore", 60, 50)
    'fore: 60 moldings, past its limit of 50. Take another core.'
    """
    return f"{core}: {moldings} moldings, past its limit of {limit}. Take another core."


def volume(value: float, units: str) -> str:
    """A volume [m3] to four digits."""
    return value_text(value, None, in_units(CM3, units))


bare = partial(alone, bare=True)
"""The same for a column whose heading has the unit."""


def listed(words: Iterable[str], last: str = "and") -> str:
    """Words with commas and a last joint.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    texts = list(words)
    return f" {last} ".join([", ".join(texts[:-1]), texts[-1]]) if len(texts) > 1 else "".join(texts)


def few(words: Iterable[str], most: int = 4) -> str:
    """The first of some words, and how many more there are.

    >>> few(["a", "b", "c", "d"], 2)
    'a, b and 2 more'
    """
    texts = list(words)
    more = len(texts) - most
    return listed(texts) if more < 2 else listed([*texts[:most], f"{more} more"])


def sizes_words(sizes: Mapping[str, float], units: str) -> str:
    """Cold sizes, each of which alone would do."""
    words = {"gap": "a cold gap", "cavity": "a cavity", "core width": "a core"}
    each = (f"{words.get(what, f'a {what}')} of {size(to, units)}" for what, to in sizes.items())
    return listed(each, "or")


def assumed(notes: Iterable[str]) -> list[str]:
    """What is assumed, a sentence each; the inputs that have no ± in one sentence.

    >>> assumed([NoSpread("web area", 1.0, "1 m^2"), "ends: taken as closed", NoSpread("gap", 0.002, "2 mm")])
    ['ends: taken as closed', 'Assumed exact, as no ± is stated: web area 1 m^2, gap 2 mm.']
    """
    distinct = list(dict.fromkeys(notes))
    return [*(note for note in distinct if not isinstance(note, NoSpread)), *assumed_exact(distinct)]


def assumed_exact(notes: Iterable[str], most: int | None = None) -> list[str]:
    """The inputs that have no ± in one sentence; where only so many are named, cores first, zeros last."""
    exact = [note for note in notes if isinstance(note, NoSpread)]
    if most is not None:
        exact.sort(key=lambda note: (note.value == 0.0, getattr(note.name, "table", "") != "core"))
    words = [f"{note.name} {note.written}" for note in exact]
    return exact_sentence(words if most is None else filter(None, [few(words, most)]))


def assumption_blocks(notes: Iterable[str], units: str) -> list[Block]:
    """A part of its own, which a telephone folds."""
    lines = [f"{say_in(words, units).rstrip('.')}." for words in assumed(notes)]
    return [Heading("Assumptions and inputs without ±", detail=True), *sentences(lines)] if lines else []


def without_spread(count: int) -> str:
    """How many assumptions and inputs without ± there are."""
    return f"{several(count, 'assumption or input', 'assumptions and inputs')} without ±"


def plies(count: int) -> str:
    """So many plies, in words."""
    return "1 ply" if count == 1 else f"{count} plies"
