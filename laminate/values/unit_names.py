"""The units of the trade as `units.toml` beside this file lists them: definitions, kinds, spellings."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import NamedTuple

_TABLES = tomllib.loads(Path(__file__).with_name("units.toml").read_text("utf-8"))
_SYMBOLS = dict(symbol.split("=") for symbol in _TABLES["symbols"].split())

DEFINITIONS: str = _TABLES["definitions"]
"""In the language of the unit library."""

_PREFIXES = {name: float(size) for name, size in re.findall(r"(\w+)- = (\S+)", DEFINITIONS)}
_METRIC: dict[str, float] = _TABLES["metric"]
PLAIN = _METRIC | {f"{by}{unit}": _PREFIXES[by] * size for by in _PREFIXES for unit, size in _METRIC.items()}
"""Metric units in coherent ones: what needs no other takes no registry."""

WORDS: dict[str, str] = {word: name for name, words in _TABLES["words"].items() for word in words.split()}
"""Whole words, in small letters -> the symbol that stands for them."""


class Kind(NamedTuple):
    """A kind of quantity: its words, an example, its coherent unit, and spelling -> expression of each unit.

    Spellings are folded ones (`units.parse` forgives more): symbols, `^` for powers, no spaces.
    """

    words: str
    example: str
    coherent: str
    units: dict[str, str]

    @property
    def expected(self) -> str:
        """What is expected where such a quantity stands."""
        return f'{self.words}, such as "{self.example}"'

    @property
    def finite(self) -> str:
        """What is expected in the place of NaN and of an infinity."""
        return f'a finite number, as in "{self.example}"'


def _expression(symbols: str) -> str:
    """The expression of a unit that is written in symbols."""
    return re.sub("[A-Za-z]+", lambda symbol: _SYMBOLS[symbol[0]], symbols).replace("^", "**")


def _units(listed: dict[str, str]) -> dict[str, str]:
    """The expression of each spelling; a name of a table in braces stands for each of its units."""
    units: dict[str, str] = {}
    for spellings, meaning in listed.items():
        for spelling in spellings.split():
            table = re.search(r"{(\w+)}", spelling)
            mark, symbols = (table[0], _TABLES[table[1]]) if table else ("{}", {"": ""})
            for symbol, unit in symbols.items():
                units[spelling.replace(mark, symbol)] = meaning.replace(mark, unit) or _expression(spelling)
    return units


KINDS: dict[str, Kind] = {
    name: Kind(**kind | {"units": _units(kind["units"])}) for name, kind in _TABLES["kind"].items()
}
