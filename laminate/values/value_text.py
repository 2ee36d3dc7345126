"""The wording of a value: a number, its unit as text, and what the words behind a ± say of it.

Nothing here knows what a unit is worth; `laminate.values.units` puts number and unit together.
"""

from __future__ import annotations

import math
import re
from typing import Literal, NamedTuple

from laminate.values.unit_names import KINDS

Shape = Literal["exact", "normal", "rectangular"]

MEANINGS = "(tolerance), (standard), (standard, dof=9), (k=2) or (95 %) after it"
FORMS = f"{MEANINGS}, or 1.790(5) for a standard uncertainty in the last digits"
EXACT = "exact"
LONGEST = 200
MOST_FACTOR = 300.0
"""No coverage factor is larger: Student's t of one degree of freedom is 236 at 99.73 %."""


class Unreadable(ValueError):
    """A text that is not a value of the kind asked for: found, expected, and what would mend it."""

    def __init__(self, found: str, expected: str, hint: str = "") -> None:
        self.found, self.expected, self.hint = found, expected, hint
        super().__init__(f"found {found}, expected {expected}" + (f"; {hint}" if hint else ""))


_LOOKALIKE = str.maketrans(
    {"µ": "u", "μ": "u", "−": "-", "–": "-", "\u00a0": " ", "\u202f": " ", "\u2009": " "}
    | {"º": "°", "″": '"', "”": '"', "·": " ", "⋅": " ", "\u00d7": "x"}
    | {"℃": "°C", "℉": "°F", "％": "%"}
)
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻", "0123456789+-")


def clean(text: str) -> str:
    """One character for those that look alike, powers as `^2`."""
    text = re.sub("[⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]+", lambda raised: "^" + raised[0].translate(_RAISED), text)
    return text.translate(_LOOKALIKE).replace("**", "^").strip()


_PLAIN = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
_EXPONENT = r"[eE][+-]?[0-9]+"
_NUMBER = re.compile(
    rf"(?P<mantissa>[+-]?{_PLAIN})(?P<before>{_EXPONENT})?(?:\((?P<digits>[0-9]+)\)(?P<after>{_EXPONENT})?)?"
    rf"(?:\s*[x*]?\s*10\^(?P<power>[+-]?[0-9]+))?(?P<unit>.*)",
    re.DOTALL,
)
_BRACKETS = re.compile(r"\(([^()]*)\)\s*$")
_ENCLOSED = re.compile(r"\(([^()±]+)±([^()±]+)\)([^()±]*(?:\([^()]*\))?)")
_DOF = re.compile(rf"dof\s*=\s*({_PLAIN})")
_FACTOR = re.compile(rf"k\s*=\s*({_PLAIN})")
_CONFIDENCE = re.compile(rf"({_PLAIN})\s*%")

_POINT = "write the decimal sign as a point, and no thousands separator"
_RANGE = "a range is written as its middle ± half its width (tolerance)"
_UNEVEN = "an uneven tolerance is written as the middle of its range ± half its width (tolerance)"
_MISTAKES = (
    (re.compile(r"[.,'’_][0-9]|\s[0-9]{3}(?![0-9])"), _POINT),
    (re.compile(r"\s*[0-9]*/[0-9]"), "write a fraction as a decimal number, such as 0.125"),
    (re.compile(r"\s*(?:-|to\b|\.\.+|…)\s*\.?[0-9]"), _RANGE),
    (re.compile(r"\s*\+\s*\.?[0-9]"), _UNEVEN),
    (re.compile(r"\s*(?!1/|1e-6/)[+-]?\.?[0-9]"), ""),  # "1/K" and "1e-6/K" are units
)


class Reading(NamedTuple):
    """A number, the standard uncertainty of its last digits (1.790(5): 0.005) and the unit behind it."""

    number: float
    digits: float | None
    unit: str


def read(text: str, kind: str, written: str) -> Reading:
    """A number, with the uncertainty of its last digits where it has one, and the unit behind it."""
    known = KINDS[kind]
    expected = f'{known.words}, number first, such as "{known.example}"'
    match = _NUMBER.fullmatch(text)
    if match is None:
        not_finite = re.match(r"[+-]?(nan|inf|∞)", text, re.IGNORECASE)
        raise Unreadable(f"'{written}'", known.finite if not_finite else expected)
    for mistake, hint in _MISTAKES:
        if mistake.match(match["unit"]):
            raise Unreadable(f"'{written}'", expected, hint)
    exponents = [match[name] for name in ("before", "after", "power") if match[name] is not None]
    if len(exponents) > 1:
        raise Unreadable(f"'{written}'", expected)
    exponent = int(exponents[0].lstrip("eE")) if exponents else 0
    number = float(f"{match['mantissa']}e{exponent}")
    if not math.isfinite(number):
        raise Unreadable(f"'{written}'", known.finite)
    last = exponent - len(match["mantissa"].partition(".")[2])
    digits = None if match["digits"] is None else float(f"{match['digits']}e{last}")
    return Reading(number, digits, match["unit"].strip())


class Meaning(NamedTuple):
    """What makes a standard uncertainty of the number before it: u = number / divisor."""

    divisor: float
    shape: Shape
    dof: float = math.inf


def _positive(match: re.Match[str] | None) -> float | None:
    number = float(match[1]) if match else math.nan
    return number if 0.0 < number < math.inf else None


def meaning(text: str, written: str) -> Meaning:
    """What the words in brackets say of the number before them (JCGM 100, 4.3 and 7.2)."""
    parts = [part.strip() for part in text.casefold().split(",")]
    dofs = [_positive(_DOF.fullmatch(part)) for part in parts[1:]]
    dof, hint = dofs[0] if dofs else math.inf, ""
    if len(dofs) < 2 and dof is not None:
        word = parts[0]
        if word == "standard":
            return Meaning(1.0, "normal", dof)
        if word == "tolerance" and not dofs:
            return Meaning(math.sqrt(3.0), "rectangular")
        if (factor := _positive(_FACTOR.fullmatch(word))) is not None:
            if factor <= MOST_FACTOR:
                return Meaning(factor, "normal", dof)
            hint = f"k is the coverage factor, {MOST_FACTOR:g} at most"
        if (percent := _positive(_CONFIDENCE.fullmatch(word))) is not None and percent < 100.0:
            from laminate.formulas.statistics import students_t

            return Meaning(students_t(confidence=percent / 100.0, dof=dof), "normal", dof)
    raise Unreadable(f"'({text})' in '{written}'", f"what the ± means: {FORMS}", hint)


def short(text: str, kind: str) -> str:
    """The text as written, refused where it is too long to be a value."""
    written = text.strip()
    if len(written) > LONGEST:
        raise Unreadable(f"'{written[:40]}…', {len(written)} characters", KINDS[kind].expected)
    return written


def not_text(content: object, kind: str) -> Unreadable:
    """The refusal of what is neither text nor a number."""
    names = {bool: str(content).lower(), list: "a list", dict: "a table", type(None): "nothing"}
    return Unreadable(names.get(type(content), f"{content}"), KINDS[kind].expected)


def sized(text: str, kind: str, written: str, bare: Unreadable, where: str) -> tuple[Reading, Meaning]:
    """Size, unit and meaning of an uncertainty; `bare` is raised where no meaning stands behind it."""
    brackets = _BRACKETS.search(text)
    if brackets is None:
        raise bare
    size = read(text[: brackets.start()].strip(), kind, written)
    if size.digits is not None:
        raise Unreadable(f"'{written}'", f"a plain number {where}")
    if size.number < 0.0:
        raise Unreadable(f"'{written}'", f"a positive number {where}")
    return size, meaning(brackets[1].strip(), written)


def halves(text: str, kind: str, written: str) -> tuple[str, str | None, bool]:
    """What stands before and behind the ±, None where there is none, and whether a bracket holds both."""
    cleaned = _one_sign(text)
    enclosed = _ENCLOSED.fullmatch(cleaned)
    if enclosed:
        return enclosed[1].strip(), f"{enclosed[2]} {enclosed[3]}".strip(), True
    head, sign, tail = cleaned.partition("±")
    if "±" in tail:
        raise Unreadable(f"'{written}'", f'one ±, as in "{KINDS[kind].example} ± 0.1 (standard)"')
    return head.strip(), tail.strip() if sign else None, False


def alone(text: str) -> str:
    """An uncertainty without the ± that some write before it."""
    return _one_sign(text).removeprefix("±").strip()


def _one_sign(text: str) -> str:
    return clean(text).replace("+/-", "±").replace("+-", "±")


def stray_brackets(unit: str) -> str | None:
    """The words in brackets at the end of a unit."""
    match = _BRACKETS.search(unit)
    return match[1] if match else None


def without_exact(text: str) -> tuple[str, bool]:
    """A text without `(exact)` at its end, and whether it stood there: a value that is exact on purpose."""
    words = stray_brackets(text)
    if words is None or words.strip().casefold() != EXACT:
        return text, False
    return _BRACKETS.sub("", text).strip(), True
