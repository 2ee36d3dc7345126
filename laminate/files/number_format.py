"""Number formats of workbooks that put words around a number: what a person sees of a name or a reading."""

from __future__ import annotations

import re
from functools import lru_cache

from laminate.values.units import kind_of

_TOKENS = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|(?P<unseen>\[[^]]*\]|_.|\*.)|(?P<general>General)'
    r"|(?P<digit>[0#])|(?P<bare>[-+/(): !^&'~{}<>=$])|(?P<other>.)",
    re.IGNORECASE | re.DOTALL,
)

_CURRENCY = re.compile(r"\[\$([^]-]*)(?:-[^]]*)?\]|.*", re.DOTALL)
_INCHES = ("″", "zoll", "pouce", "pouces", "pollici", "pulgadas")


@lru_cache(256)
def _tokens(form: str) -> tuple[re.Match[str], ...]:
    """The pieces of a format as it shows numbers of 0 or more."""
    pieces = list(_TOKENS.finditer(form))
    end = next((at for at, piece in enumerate(pieces) if piece["other"] == ";"), len(pieces))
    return tuple(pieces[:end])


@lru_cache(256)
def words_of(form: str) -> str:
    """What a number format puts around a number, '' where that is space and brackets alone.

    >>> [words_of(form) for form in ('"F-"000', "0-0", "#,##0_-", "0.00")]
    ['F-', '-', '', '']
    """
    words = "".join(map(_word, _tokens(form)))
    return words if re.search(r"[^\s()$]", words) else ""


def _word(piece: re.Match[str]) -> str:
    return piece["quoted"] or piece["escaped"] or piece["bare"] or ""


def _around(form: str) -> tuple[str, str]:
    """What a number format shows before and behind a number, quoted or not, or as its currency."""
    pieces = _tokens(form)
    digits = [at for at, piece in enumerate(pieces) if piece["digit"] or piece["general"]] or [0]
    shown = [
        _word(piece) or _CURRENCY.sub(r"\1", piece["unseen"] or "") or piece["other"] or ""
        for piece in pieces
    ]
    texts = shown[: digits[0]], shown[digits[-1] + 1 :]
    before, behind = ("".join(text for text in part if text not in ".,?%@") for part in texts)
    return before, behind


@lru_cache(256)
def unit_of(form: str) -> str:
    """The unit that a number format puts beside a number, '' where it puts none; ° is taken for none.

    >>> [unit_of(form) for form in ('0.0000" in"', "0.0°F", "0.0[$ °F-409]", '"in "0.0', '0.0"°"', '"F-"000')]
    ['in', '°F', '°F', 'in', '', '']
    """
    for words in _around(form)[::-1]:
        unit = words.strip("[]() ")
        unit = "in" if unit.casefold() in _INCHES else unit
        if kind_of(f"1 {unit}") not in (None, "number", "angle"):
            return unit
    return ""


@lru_cache(256)
def shows_other_number(form: str) -> bool:
    """Whether a number format shows another number: in thousands, or with digits of its own.

    >>> [shows_other_number(form) for form in ("0.0000,", '"2"0.000', '0.0"e-3"', "#,##0.0", '"F-"000')]
    [True, True, True, False, False]
    """
    before, behind = _around(form)
    plain = "".join(piece[0] for piece in _tokens(form) if piece["digit"] or piece["other"])
    return bool(
        plain.endswith(",") or re.search(r"[\d.,]$", before) or re.match(r"\s*[x×*·e]?[-+\s]*\d", behind)
    )


def shown_name(value: float, form: str) -> str | None:
    """A whole number as its format shows it, '' where that puts no word around it; None: cannot be told.

    value: 0 or more, else nothing can be told; form: the number format as a workbook holds it.

    >>> [shown_name(12, form) for form in ('"F-"000', '0-0', "#,##0", "0.00", '"F-"0.0')]
    ['F-012', '1-2', '', '', None]
    """
    tokens = _tokens(form)
    if not (words := words_of(form)):
        return ""
    slots = sum(piece["digit"] is not None for piece in tokens)
    general = sum(piece["general"] is not None for piece in tokens)
    once = general + bool(slots) == 1 and not any(piece["other"] for piece in tokens)
    if value < 0 or value != int(value) or not once:
        return None if re.search(r"\w", words) else ""
    digits, text = str(int(value)), ""
    left, rest = digits[: max(0, len(digits) - slots)], iter(digits[-slots:].rjust(slots))
    for piece in tokens:
        if piece["general"]:
            text += digits
        elif piece["digit"]:
            digit = next(rest)
            text += left + (digit if digit != " " else piece["digit"].strip("#"))
            left = ""
        else:
            text += _word(piece)
    return text.strip()
