"""What is wrong with an input, as data: one `Problem` a finding, all findings of a file raised at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches
from typing import TypeVar

from laminate.values.said import Figure, Said, say_in

K = TypeVar("K", bound=Hashable)
T = TypeVar("T")

MISSING_KEY = "missing-key"

NOTHING = "nothing"
"""What is found where something is missing."""

LONGEST = 60
"""Characters of a quoted cell on a screen."""

UNSEEN = re.compile(
    "[\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u202a-\u202e\u2060-\u206f"
    "\u3164\ufe00-\ufe0f\ufeff\uffa0\ufff0-\ufff8\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e0fff]"
)
"""Characters that nobody sees: those that a display may ignore (Unicode, Default_Ignorable_Code_Point)."""

_BARE = re.compile(r"('.*') without a unit")
_QUOTED = re.compile(rf"'([^']{{{LONGEST}}})[^']+'")


def _cut(text: str) -> str:
    """What was found, quoted cells cut."""
    return _QUOTED.sub(r"'\1…'", text)


def marked(text: str, kept: str = "") -> str:
    r"""A text with marks for characters that would drive a terminal, or that nobody sees; kept: without.

    >>> print(marked("26-03\u200b1\x1b[8m"))
    26-03\u200b1\x1b[8m
    """
    if text.isprintable() and (text.isascii() or not UNSEEN.search(text)):
        return text
    seen = (c in kept or (c.isprintable() and not UNSEEN.match(c)) for c in text)
    return "".join(c if is_seen else ascii(c)[1:-1] for c, is_seen in zip(text, seen, strict=True))


@dataclass(frozen=True, slots=True)
class Problem:
    """One finding in one place of one input.

    Parameters
    ----------
    code : kebab-case word for programs
    file : as the person named it, '' for a call or the command line
    place : a key path, a row and column, a cell, an option or a parameter
    found, expected : in words, `Said` where they carry quantities of the program
    hint : what to write, '' where there is nothing to add

    Examples
    --------
    >>> import laminate as lam
    >>> lam.Problem("missing-key", "part.toml", "zone.web", "key 'gap' is missing", "a length").sentence()
    "part.toml: zone.web: key 'gap' is missing: a length"
    """

    code: str
    file: str
    place: str
    found: str
    expected: str
    hint: str = ""

    def sentence(self, units: str = "metric") -> str:
        """The finding as one line of text.

        Parameters
        ----------
        units : 'metric' or 'us', of the quantities that the program says in it

        Returns
        -------
        str : place, what was found and expected, and the hint
        """
        where = ": ".join(part for part in (self.file, self.place) if part)
        fault, expected, hint = (say_in(text, units) for text in (self.found, self.expected, self.hint))
        bare = _BARE.fullmatch(fault)
        if isinstance(self, UnknownKey) and where:
            text = fault
        elif bare:
            text = f"{bare[1]} has no unit; write {expected}"
        elif fault == NOTHING and where:
            where, text = "", f"{where} is missing: {expected}"
        elif self.code == MISSING_KEY:
            text = f"{fault}: {expected}"
        else:
            text = f"found {_cut(fault)}, expected {expected}" if expected else _cut(fault)
        text = f"{where}: {text}" if where else text
        return marked(f"{text}; {hint}" if hint else text)

    def as_json(self) -> dict[str, str]:
        """The finding with stable keys.

        Returns
        -------
        dict : `code`, `file`, `place`, `found`, `expected`, `hint`
        """
        return {key: str(getattr(self, key)) for key in Problem.__slots__}


@dataclass(frozen=True, slots=True)
class Answered(Problem):
    """A finding that the row of a table answers with a reason."""

    reason: str = ""


@dataclass(frozen=True, slots=True)
class UnknownKey(Problem):
    """A key that nothing reads, and the known one that was most likely meant, '' where none is."""

    meant: str = ""


class Refused(Exception):
    """An input that cannot be used; carries every `Problem` found in it.

    Parameters
    ----------
    problems : one finding, several, or the text of one; they stand in `problems`, one a line in the message

    Examples
    --------
    >>> import laminate as lam
    >>> try:
    ...     lam.Value.parse("1.79 parsec")
    ... except lam.Refused as refusal:
    ...     print([problem.code for problem in refusal.problems])
    ['unreadable-value']
    """

    def __init__(self, problems: Problem | Iterable[Problem] | str) -> None:
        if isinstance(problems, str):
            problems = Problem("refused", "", "", problems, "")
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(problem.sentence() for problem in self.problems))

    def __reduce__(self) -> tuple[type[Refused], tuple[tuple[Problem, ...]]]:
        """What a copy is made of, also in another process: its findings, not its message."""
        return type(self), (self.problems,)


def each(make: Callable[[K], T], keys: Iterable[K]) -> dict[K, T]:
    """What a function makes of each key; raises `Refused` with the findings of all of them, each once."""
    made: dict[K, T] = {}
    problems: list[Problem] = []
    for key in keys:
        try:
            made[key] = make(key)
        except Refused as refused:
            problems += [problem for problem in refused.problems if problem not in problems]
    refuse_all(problems)
    return made


def refuse_all(problems: Collection[Problem]) -> None:
    """Raise `Refused` with all of the problems, where there are any."""
    if problems:
        raise Refused(problems)


def refusal(code: str, file: str, place: str, found: str, expected: str, hint: str = "") -> Refused:
    """The refusal for one finding; the arguments are those of `Problem`."""
    return Refused(Problem(code, file, place, found, expected, hint))


def missing_key(file: str, place: str, key: str | Sequence[str], expected: str, hint: str = "") -> Problem:
    """A key that is needed, or one of several; expected: what it holds."""
    keys = [key] if isinstance(key, str) else key
    return Problem(MISSING_KEY, file, place, f"key {' or '.join(map(repr, keys))} is missing", expected, hint)


def both_given(file: str, place: str, key: str, other_key: str, hint: str = "") -> Problem:
    """Two keys of which one alone can stand."""
    return Problem("both-given", file, place, f"both '{key}' and '{other_key}'", "one of them", hint)


def unknown_name(
    file: str, place: str, name: object, what: str, known: Collection[str], *, listed: bool = False
) -> Problem:
    """A name that points to nothing; listed: whether `what` lists the known ones already."""
    hint = (near_hint if listed else did_you_mean)(str(name), known)
    return Problem("unknown-name", file, place, f"'{name}'", what, hint)


def unknown_key(file: str, place: str, key: str, known: Collection[str]) -> Problem:
    """A key that nothing reads."""
    hint, meant = did_you_mean(key, known), nearest(key, known) or ""
    return UnknownKey("unknown-key", file, place, f"unknown key '{key}'", "a known key", hint, meant)


def unused_key(file: str, place: str, key: str, why: str) -> Problem:
    """A key that counts for nothing where it stands."""
    return Problem("unused-key", file, place, f"'{key}'", "no such key here", why)


def wrong_word(file: str, place: str, word: object, choices: Collection[str]) -> Problem:
    """A word that is none of the few."""
    expected = "one of " + ", ".join(f"'{choice}'" for choice in choices)
    return Problem("wrong-word", file, place, repr(word), expected, near_hint(str(word), choices))


def wrong_order(
    file: str, place: str, value: object, relation: str, other: object, expected: str, hint: str = ""
) -> Problem:
    """Of two values, the one that is too early, too large or too small; relation: what it is to the other."""
    compared = Said(f"'{value}', {relation} ", other if isinstance(other, Figure) else f"'{other}'")
    return Problem("wrong-order", file, place, compared, expected, hint)


def inexact_limit(file: str, place: str, limit: str) -> Problem:
    """A limit with a ±."""
    hint = "a limit is exact; the program computes the ± of what is measured"
    return Problem("limit-with-tolerance", file, place, f"'{limit}'", "a limit without ±", hint)


def given_twice(file: str, place: str, what: str, first: str, expected: str, hint: str = "") -> Problem:
    """Something that stands in two places; first: where, or as what, it stands before."""
    return Problem("given-twice", file, place, f"{what} again, first {first}", expected, hint)


def disk_words(error: OSError) -> str:
    """What the system says of an error of the disk."""
    return (error.strerror or str(error)).lower()


def unreadable_file(file: str, error: OSError, what: str) -> Problem:
    """A file that the disk does not give."""
    return Problem("file-unreadable", file, "", error.strerror or str(error), f"{what} that can be read")


def wrong_file(file: str, kind: str, expected: str, hint: str = "") -> Problem:
    """A file of another kind; kind: what it is."""
    return Problem("wrong-file", file, "", kind, expected, hint)


def too_few(file: str, place: str, count: int, what: str, expected: str) -> Problem:
    """Fewer things than are needed; count: those there are."""
    return Problem("missing-value", file, place, f"{count} {what}", expected)


def missing_file(file: str, place: str, name: str, what: str, known: Collection[str] = ()) -> Problem:
    """A file or folder that is not there; name: '' where `file` says it, known: what is there instead."""
    absence = f"no such file '{name}'" if name else "no such file"
    return Problem("file-missing", file, place, absence, what, did_you_mean(name or file, known))


def nearest(word: str, known: Collection[str], like: float = 0.6) -> str | None:
    """The known word that `word` most likely meant, or None; like: the share of letters that agree at least.

    >>> nearest("fibre_areal_wieght", ["fiber_areal_weight", "resin_content"])
    'fiber_areal_weight'
    """
    if word.startswith("--"):
        return _nearest_option(word, known)
    by_folded = {name.casefold(): name for name in known}
    matches = get_close_matches(word.casefold(), list(by_folded), n=1, cutoff=like)
    return by_folded[matches[0]] if matches else None


def _nearest_option(word: str, known: Collection[str]) -> str | None:
    """The option most like the one typed, as a whole or in one of its words."""
    typed = word.casefold().lstrip("-")

    def score(option: str) -> float:
        name = option.casefold().lstrip("-")
        whole, *parts = (SequenceMatcher(None, typed, text).ratio() for text in (name, *name.split("-")))
        return max(whole, *(0.95 * part for part in parts))

    best = max(sorted(known), key=score, default=None)
    return best if best is not None and score(best) >= 0.7 else None


def near_hint(word: str, known: Collection[str]) -> str:
    """The hint for an unknown word whose choices are listed already: the near miss or nothing."""
    near = nearest(word, known)
    return f"did you mean '{near}'?" if near is not None else ""


def did_you_mean(word: str, known: Collection[str]) -> str:
    """The hint for an unknown word: the near miss, or the list where it is short.

    >>> did_you_mean("resin contents", ["resin content", "volatiles"])
    "did you mean 'resin content'?"
    """
    listed = f"known: {', '.join(sorted(known))}" if 0 < len(known) <= 24 else ""
    return near_hint(word, known) or listed
