"""Names of inputs: a key where a file's tables name it, words where no table does."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

LOT, CERTIFICATE = "lot", "certificate"


class Key(NamedTuple):
    """An input as the files spell it: table, name in it, quantity. Its words are made only where it is shown.

    Parameters
    ----------
    table : of the file, such as "fiber"; 'lot' for a value of one lot of a prepreg, 'certificate' where it is
        only compared with
    name : in the table, '' where the table has no names; of a lot its number
    quantity : the key, such as "density"; of a lot prepreg and key with a point between

    Examples
    --------
    >>> str(Key("fiber", "carbon", "density")), str(Key("instrument", "balance", "calibration"))
    ('carbon density', 'calibration of balance')
    >>> str(Key("lot", "L2231", "ud150.resin_content"))
    'ud150 resin content, lot L2231'
    """

    table: str
    name: str
    quantity: str

    def __str__(self) -> str:
        if self.table in (LOT, CERTIFICATE):
            prepreg, _, quantity = self.quantity.rpartition(".")
            return f"{prepreg} {quantity.replace('_', ' ')}, {self.table} {self.name}"
        quantity = self.quantity.replace("_", " ")
        return f"{quantity} of {self.name}" if self.table == "instrument" else f"{self.name} {quantity}"


Name = Key | str
"""What an input or a cause of error goes by."""


def in_words(names: Iterable[Name]) -> dict[Name, str]:
    """The words of each name; the table is said only where two would read alike.

    >>> list(in_words([Key("fiber", "main", "density"), Key("resin", "main", "density"), "area"]).values())
    ['fiber main density', 'resin main density', 'area']
    """
    told = {name: str(name) for name in names}
    often = Counter(told.values())
    return {
        name: f"{name.table} {words}" if isinstance(name, Key) and often[words] > 1 else words
        for name, words in told.items()
    }
