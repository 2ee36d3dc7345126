"""Names of inputs: a key where a file's tables name it, words where no table does."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

LOT, CERTIFICATE, NUMBER = "lot", "certificate", "number"
ITSELF = ("core", "room", "bladder")
"""Tables that are said before their names."""
WORDS = {
    "outer_half_width": "outer half-width",
    "inner_half_width": "inner half-width",
    "clamp_force": "clamp force",
    "pressure_limit": "pressure limit",
}


class Key(NamedTuple):
    """An input as the files spell it: table, name in it, quantity. Its words are made only where it is shown.

    Parameters
    ----------
    table : of the file, such as "fiber"; 'lot' for a value of one lot of a prepreg, 'certificate' where it is
        only compared with
    name : in the table, '' where the table has no names; of a lot its number
    quantity : the key, such as "density"; of a lot prepreg and key with a point between
        What no file says has a table of its own: 'scatter' of the plies of a prepreg in a zone, with prepreg
        and quantity likewise; 'lots', of which of two lots of a prepreg a zone is; 'supposed'; 'number', of
        the `uncertainties` library: its tag, and as name '' or its count among those of one tag

    Examples
    --------
    >>> import laminate as lam
    >>> str(lam.Key("fiber", "carbon", "density")), str(lam.Key("instrument", "balance", "calibration"))
    ('carbon density', 'calibration of balance')
    >>> str(lam.Key("lot", "L2231", "ud150.resin_content")), str(lam.Key("core", "fore", "bulk_modulus"))
    ('ud150 resin content, lot L2231', 'core fore bulk modulus')
    >>> str(lam.Key("temperature", "", "gel")), str(lam.Key("zone", "web", "gap"))
    ('gel temperature', 'web gap')
    """

    table: str
    name: str
    quantity: str

    def __str__(self) -> str:
        if self.table == NUMBER:
            return f"{self.quantity} #{self.name}" if self.name else self.quantity
        of, _, last = self.quantity.rpartition(".")
        words = WORDS.get(last) or last.replace("_", " ")
        if self.table in (LOT, CERTIFICATE):
            return f"{of} {words}, {self.table} {self.name}"
        if self.table == "instrument":
            return f"{words} of {self.name}"
        if self.table == "temperature":
            return f"{words} temperature"
        if not self.name:
            return words if last in WORDS or self.table == "supposed" else f"{self.table} {words}"
        before = self.table if self.table in ITSELF or last == "projected_area" else ""
        return " ".join(part for part in (before, self.name, of, words) if part)


Name = Key | str
"""What an input or a cause of error goes by."""


def quantity_of(name: Name) -> str:
    """The quantity of an input in words, without what it is of.

    >>> quantity_of(Key("lot", "L2231", "ud150.resin_content")), quantity_of("residue share")
    ('resin content', 'residue share')
    """
    return name.quantity.rpartition(".")[2].replace("_", " ") if isinstance(name, Key) else name


def in_words(names: Iterable[Name]) -> dict[Name, str]:
    """The words of each name; the table is said only where two would read alike.

    >>> list(in_words([Key("fiber", "main", "density"), Key("resin", "main", "density"), "area"]).values())
    ['fiber main density', 'resin main density', 'area']
    """
    texts = {name: str(name) for name in names}
    often = Counter(texts.values())
    return {
        name: f"{name.table} {words}" if isinstance(name, Key) and often[words] > 1 else words
        for name, words in texts.items()
    }
