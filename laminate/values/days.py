"""Days as shops and instruments write them: which ones a text names, and whether it means one unreadably."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata

_YEAR_FIRST = re.compile(r"(?<!\d)((?:19|20)\d\d|\d{4}(?=[-./]))([-./_ :])(\d\d?)\2(\d\d?)(?!\d)")
_BASIC = re.compile(r"(?<!\d)((?:19|20)\d\d)(\d\d)(\d\d)(?=(?:\d{4}|\d{6})?(?!\d))")
_DAY_FIRST = re.compile(r"(?<![\d.])(\d\d?)\.\s?(\d\d?)\.\s?(\d{4})(?!\d)")
"""Dates that read in one way: 2026-11-20, 2026/11/20, 20261120T0914, 20.11.2026; not 11/10/2026."""
_EITHER_FIRST = re.compile(r"(?<![\d./-])(\d\d?)([-./])(\d\d?)\2(\d{4})(?!\d)")
"""One that does where its day is above 12, or the number of the month: 11/20/2026."""
_CLOCK = re.compile(
    r"(?<!\d)\d\d?:\d\d(?::\d\d(?:[.,]\d+)?)?(?![\d:])|(?<![\d.])\d\d?(?:\.\d\d)?\s*(?:[ap]\.?m|h|uhr)\b"
    r"|(?<=t)\d{4,6}(?!\d)",
    re.IGNORECASE,
)
_BY_MONTH = (
    "jan|enero", "feb|f[eé]v", "mar|m[aä]rz", "apr|avr|abril", "ma[iy]o?(?![a-z])", "jun|juin", "jul|juil",
    "aug|ao[uû]t|agosto", "sep", "o[ck]t", "nov", "d[eé][cz]|dici?embre",
)  # fmt: skip
_MONTHS, _TH = "|".join(_BY_MONTH), "(?:st|nd|rd|th)?"
_MONTH = rf"({_MONTHS})[^\W\d_]*"
_NAMED_MONTH = re.compile(
    rf"(?<![\d./-])(\d\d?){_TH}[-./ ]{{0,2}}(?:of |de )?{_MONTH}[-.,/ ]{{0,2}}(?:de )?(\d{{4}})(?!\d)"
    rf"|(?<![^\W_]){_MONTH}[-./ ]{{0,2}}(\d\d?){_TH}[-,/ ]{{1,2}}(\d{{4}})(?!\d)",
    re.IGNORECASE,
)
_WEEKDAYS = (
    "mon|tues?|wed|wednes|thu|thurs|fri|sat|satur|sun|montag|dienstag|mittwoch|donnerstag|freitag|samstag|"
    "sonntag|lundi|mardi|mercredi|jeudi|vendredi|samedi|dimanche"
)
_WORD, _END = r"(?<![^\W\d_])", r"(?![^\W\d_])"
_A_DAY = re.compile(
    r"\d\s*[/_-]\s*\d|\d[.,]\s?\d+[.,]|(?<!\d)\d\d? \d\d? \d{4}(?!\d)|(?<!\d)[3-5]\d{4}(?!\d)"
    r"|(?<!\d)(?:\d{4}20[2-4]\d|20[2-4]\d[0-3]\d\d\d?|1[6-9]\d{8}|\d\d?:\d\d?:(?:19|20)\d\d)(?!\d)"
    r"|(?<!\d)(?:19|20)\d\d[- ]?w\d\d?(?!\d)|(?<![^\W\d_])(?:kw|cw|wk)\.?\s?\d\d?(?!\d)"
    rf"|\d\s*[年月日년월일]|\d\s*(?:st|nd|rd|th)?\s*\.?\s*-?(?:of\s+|de\s+)?(?:{_MONTHS})|{_WORD}(?:{_MONTHS})[^\W\d_]*\.?\s*\d"
    rf"|{_WORD}(?:{_WEEKDAYS})(?:day)?{_END}\.?,?\s*(?:3[01]|[12]\d|0?[1-9])(?:st|nd|rd|th)?+(?!\s*shift|[\d:]|\.\d)"
    r"|(?<!\d)\d\d?\.?\s*(?:de\s+)?[^\W\d_]{3,}\.?\s+(?:de\s+)?(?:19|20)\d\d(?!\d)",
    re.IGNORECASE,
)
"""What was meant as a day, a spreadsheet's number of one (40000 is in 2009) too, and seconds since 1970."""
_SIX = re.compile(r"(?<!\d)(\d\d)(\d\d)(\d\d)(?!\d)")


def days_in(text: str) -> set[dt.date]:
    """The days that a text names in a way that reads as one alone.

    >>> days_in("20.11.2026 09:14") == days_in("Nov 20, 2026") == {dt.date(2026, 11, 20)}
    True
    """
    normal = _plain(text)
    dates = _BASIC.findall(normal) + [(year, *rest) for year, _, *rest in _YEAR_FIRST.findall(normal)]
    dates += [(year, month, day) for day, month, year in _DAY_FIRST.findall(normal)]
    either = ((int(a), int(b), year) for a, _, b, year in _EITHER_FIRST.findall(normal))
    dates += [(year, min(a, b), max(a, b)) for a, b, year in either if a == b or max(a, b) > 12]
    for day, month, year, other_month, other_day, other_year in _NAMED_MONTH.findall(normal):
        months = (re.match(names, month or other_month, re.IGNORECASE) for names in _BY_MONTH)
        number = next(number for number, match in enumerate(months, 1) if match)
        dates.append((year or other_year, number, day or other_day))
    return {day for date in dates if (day := _date(*map(int, date))) is not None}


def means_unread_day(text: str) -> bool:
    """Whether a text was meant to name a day, and reads as none or in two ways; no clock time, no 'shift 2'.

    >>> [means_unread_day(text) for text in ("03/04/2026", "281126", "28 juin", "09:14", "shift 2")]
    [True, True, True, False, False]
    """
    if days_in(text):
        return False
    rest = _CLOCK.sub(" ", _plain(text))
    return bool(_A_DAY.search(rest)) or any(_six_are_a_day(*map(int, six)) for six in _SIX.findall(rest))


def _plain(text: str) -> str:
    """A text with one kind of dash and digit, one blank between words, and no sign that nobody sees."""
    normal = " ".join(unicodedata.normalize("NFKC", text).split())
    kinds = ((sign, unicodedata.category(sign)) for sign in normal)
    return "".join("-" if kind == "Pd" or sign == "−" else sign for sign, kind in kinds if kind != "Cf")


def _six_are_a_day(first: int, second: int, third: int) -> bool:
    """Whether six digits are a day of 2020 to 2049, in any of the usual orders; 091400 is a clock time."""
    orders = ((third, second, first), (third, first, second), (first, second, third))
    return any(20 <= year < 50 and _date(2000 + year, month, day) for year, month, day in orders)


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None
