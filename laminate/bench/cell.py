"""One cell as it is typed, or sent by a balance that types: what is stored, or why it cannot be."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from laminate.files.coupons import BOUNDS, NUMBERS, within
from laminate.files.table import LOOK_ALIKE, Heading, looks_like_number, parse_number
from laminate.values.problems import Refused, near_hint, refusal
from laminate.values.units import Unreadable, column_unit, scale

_NUMBER_UNIT = re.compile(r"\s*([+\-\N{MINUS SIGN}]?)\s*([\d.,'’]+(?:[eE][+-]?\d+)?)\s*(.*?)\s*")
_UNIT_BEGINS = re.compile(r"[^\W\d_]|[%°µ]")
_SENT = re.compile(
    r"(?:(ST|US|OL)\s*,(?:\s*(GS|NT|TR|PT)\s*,)?|S\s([SD])\s|(P?T|[GN])\s(?=\s*[+-]?\s*\d))\s*", re.I
)
"""What balances send before a number: settled, moving or overloaded; gross, net or tare.

`ST,GS,` and its kind second-hand, from programs that read such balances; `S S`, `N`, `PT` from memory.
"""
_TARE = ("TR", "PT", "T")
_NOT_SETTLED = {"US": "still moving", "D": "still moving", "OL": "overloaded"}
_PADDED = re.compile(r"0\d+(?:[eE].*)?")
_DIGITS = 12
"""Most digits of a converted number."""


@dataclass(frozen=True)
class Entered:
    """What a cell takes: its text in the unit of the column, and what was understood where not plain.

    typed: number and unit where the unit was another one.
    """

    text: str
    said: str = ""
    typed: str = ""


def read_cell(typed: str, heading: Heading, decimal: str, choices: Mapping[str, Sequence[str]]) -> Entered:
    """The content of a cell from what was typed.

    typed: a number with or without a unit (`3.1004`, `3100.4 mg`), or words; heading: of the column; decimal:
    sign of the table, '' where either may be; choices: the words that a column may hold, by column.
    Raises `Refused` with what to type instead.

    >>> mass = Heading("mass in air", None, "g", "mass in air [g]", 1)
    >>> read_cell("3100.40 mg", mass, ".", {}).text
    '3.10040'
    """
    text = " ".join(typed.split())
    if heading.name not in NUMBERS:
        return Entered(_word(text, heading, choices))
    kind = NUMBERS[heading.name]
    try:
        text = _sent(text)
        parts = _NUMBER_UNIT.fullmatch(text)
        if parts is None:
            parse_number(text, decimal or ".")
            raise Unreadable(f"'{text}'", "a number")
        sign, digits, unit = parts[1], parts[2], parts[3]
        if unit:
            _no_unit(text, unit, decimal or ".")
        if _PADDED.fullmatch(digits):
            expected = "a reading: one that begins with 0 has a decimal sign"
            raise Unreadable(f"'{text}'", expected, "the name of a coupon? go to it first")
        converts = unit and unit.casefold() != heading.unit.casefold()
        written = sign.replace("\N{MINUS SIGN}", "-") + digits
        number = _decimal(written, decimal, None if converts else heading)
        note = in_its_unit = ""
        if converts:
            in_its_unit = f"{number} {unit}"
            number = _converted(number, unit, heading.unit, kind, text)
            note = f"{text} is {_plain(number, '.')} {heading.unit}"
        elif unit:
            scale(unit, kind, text)
        stored = _plain(number, decimal or ("," if "," in digits else "."))
        if not _fits(float(number), heading):
            in_unit = f"{stored} {heading.unit}".strip()
            raise Unreadable(f"'{in_unit}'", BOUNDS[heading.name][-1])
    except Unreadable as fault:
        raise _refused(heading, fault.found, fault.expected, fault.hint) from None
    return Entered(stored, note, in_its_unit)


def _sent(text: str) -> str:
    """The reading without what a balance sends before it, and without the zeros that then pad it.

    Raises `Unreadable` where the balance says that it has not settled, or that this is its tare.

    >>> _sent("ST,GS,+0001.4425  g"), _sent("N + 1.4425 g"), _sent("1.4425")
    ('+1.4425  g', '+ 1.4425 g', '1.4425')
    """
    before = _SENT.match(text)
    if before is None:
        return text
    state, of_what = (before[1] or before[3] or "").upper(), (before[2] or before[4] or "").upper()
    if state in _NOT_SETTLED:
        unsettled = f"'{text}': the balance says {_NOT_SETTLED[state]}"
        raise Unreadable(unsettled, "a settled reading", "wait until it stands still, then send it again")
    if of_what in _TARE:
        hint = "the tare is no reading: print the weight, or type it without the letters before it"
        raise Unreadable(f"'{text}': the balance says tare", "what the piece weighs", hint)
    return re.sub(r"^([+-]?\s*)0+(?=\d)", r"\1", text[before.end() :])


def _no_unit(text: str, unit: str, decimal: str) -> None:
    """Raise `Unreadable` where what follows the digits is no unit: letters typed for digits, or signs."""
    word = text.split(" ")[0].replace(".", decimal).replace(",", decimal)
    in_digits = "".join(LOOK_ALIKE.get(sign, sign) for sign in word)
    if looks_like_number(in_digits, decimal) and not looks_like_number(word, decimal):
        parse_number(word, decimal)
    if not _UNIT_BEGINS.match(unit):
        parse_number(text, decimal)


def _refused(heading: Heading, fault: str, expected: str, hint: str = "") -> Refused:
    return refusal("unreadable-cell", "", heading.label, fault, expected, hint)


def _decimal(text: str, decimal: str, heading: Heading | None) -> Decimal:
    """The number with all its digits; the other decimal sign only where it can mean nothing else.

    heading: of the column where the number is in its unit: what is out of its bounds has no thousands in it.
    Raises `Unreadable` where it is none.
    """
    signs = [decimal] if decimal else [".", ","]
    other = {".": ",", ",": "."}.get(decimal, "")
    thousands = re.fullmatch(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", text)
    if thousands and heading and not _fits(float(re.sub("[.,]", "", text)), heading):
        thousands = None
    if other and decimal not in text and text.count(other) == 1 and not thousands:
        signs.append(other)
    parse_number(text, next((sign for sign in signs if looks_like_number(text, sign)), signs[0]))
    return Decimal(text.replace(",", "."))


def _converted(number: Decimal, unit: str, wanted: str, kind: str, written: str) -> Decimal:
    """The number in the unit of the column.

    Every digit is kept where the units differ by a power of ten; else the last one is the coarsest that is no
    coarser than the last one typed: 0.113 in is 2.87 mm.
    """
    factor, offset = scale(unit, kind, written)
    to, to_offset = scale(wanted, kind) if kind != "number" else (1.0, 0.0)
    ratio = Decimal(f"{factor / to:.15g}").normalize()
    shift = Decimal(f"{(offset - to_offset) / to:.15g}")
    value = number * ratio + shift if shift else number * ratio
    if ratio.as_tuple().digits == (1,):
        return value
    step = Decimal(1).scaleb(int(number.as_tuple().exponent)) * ratio
    last = min(0, max(step.adjusted(), value.adjusted() - _DIGITS))
    return value.quantize(Decimal(1).scaleb(last)) + 0


def _plain(number: Decimal, sign: str) -> str:
    """All digits, no exponent."""
    return f"{number:f}".replace(".", sign)


def _word(text: str, heading: Heading, choices: Mapping[str, Sequence[str]]) -> str:
    """Words as typed; of a column with a list, the one that is meant, whose beginning is enough."""
    allowed = list(choices.get(heading.name, ()))
    if not allowed:
        return text
    exact = [word for word in allowed if word.casefold() == text.casefold()]
    begun = exact or [word for word in allowed if word.casefold().startswith(text.casefold())]
    if len(begun) == 1:
        return begun[0]
    if heading.name == "position":
        return text
    hint = "" if begun else near_hint(text, allowed)
    raise _refused(heading, f"'{text}'", f"one of {', '.join(begun or allowed)}", hint)


def _fits(number: float, heading: Heading) -> bool:
    """Whether the column can hold the number, as it would be written there."""
    factor, offset = column_unit(heading.unit, NUMBERS[heading.name])
    return bool(within(heading.name, number * factor + offset, number))
