"""How the engineer's numbers are written: value ± expanded uncertainty with unit, chances, counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from laminate.show.numbers import chance, decimals, fixed, in_units, text, value_text
from laminate.values.quantities import MM, NUMBER, PERCENT, Unit, shown, shown_difference

if TYPE_CHECKING:
    from laminate.press.shared_inputs import Estimate


AT_95 = "± at 95 %"
NO_SIZE = ": no ± stated"
"""How the note of an input without ± ends."""


def with_spread(estimate: Estimate, unit: Unit, units: str) -> str:
    """Value ± expanded uncertainty at 95 % with its unit."""
    return text(estimate.value, estimate.expanded, in_units(unit, units))


def alone(estimate: Estimate, unit: Unit, units: str) -> str:
    """The value to the digits that its uncertainty supports, with its unit."""
    return value_text(estimate.value, estimate.expanded, in_units(unit, units))


def bare(estimate: Estimate | None, unit: Unit, units: str) -> str:
    """The value to the digits that its uncertainty supports, for a column whose heading has the unit."""
    if estimate is None:
        return "–"
    here = in_units(unit, units)
    spread = shown_difference(estimate.expanded, here) if estimate.expanded else None
    number = shown(estimate.value, here)
    return fixed(number, decimals(number, spread))


def size(value: float, units: str, unit: Unit = MM, spread: float | None = None) -> str:
    """A length [m] without ± of its own: to the micrometer or a tenth of a mil."""
    here = in_units(unit, units)
    if spread:
        return value_text(value, spread, here)
    places = {
        "mm": 3,
        "in": 4,
        "%": 1,
        "degC": 0,
        "degF": 0,
        "K": 0,
        "MPa": 1,
        "psi": 0,
        "kN": 0,
        "lbf": 0,
    }.get(here.text, 3)
    number = shown(value, here)
    places += 1 if here.text == "MPa" and abs(number) < 1.0 else 0
    return f"{fixed(number, places)} {here.text}".rstrip()


def change(value: float, units: str, unit: Unit = MM) -> str:
    """A difference of lengths [m] with its sign."""
    here = in_units(unit, units)
    number = shown_difference(value, here)
    places = {"mm": 3, "in": 4, "%": 1}.get(here.text, 1)
    return f"{'+' if number > 0 else ''}{fixed(number, places)} {here.text}".rstrip()


def bare_chance(share: float) -> str:
    """A chance for a column in percent."""
    return chance(share).replace("over ", ">").replace("under ", "<").removesuffix(" %")


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
    return listed(
        (f"{words.get(what, f'a {what}')} of {size(to, units)}" for what, to in sizes.items()), "or"
    )


def assumed(notes: Iterable[str]) -> list[str]:
    """What is assumed, a sentence each; the inputs that have no ± in one sentence.

    >>> assumed(["web area 1 m^2: no ± stated", "ends: taken as closed", "skin area 2 m^2: no ± stated"])
    ['ends: taken as closed', 'Assumed exact, as no ± is stated: web area 1 m^2, skin area 2 m^2.']
    """
    found = list(dict.fromkeys(notes))
    exact = [note.removesuffix(NO_SIZE) for note in found if note.endswith(NO_SIZE)]
    rest = [note for note in found if not note.endswith(NO_SIZE)]
    return [*rest, f"Assumed exact, as no ± is stated: {', '.join(exact)}."] if exact else rest


def plies(count: int) -> str:
    """So many plies, in words."""
    return "1 ply" if count == 1 else f"{count} plies"


__all__ = [
    "AT_95",
    "NUMBER",
    "PERCENT",
    "alone",
    "assumed",
    "bare",
    "bare_chance",
    "chance",
    "change",
    "listed",
    "plies",
    "size",
    "sizes_words",
    "with_spread",
]
