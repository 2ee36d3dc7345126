"""The methods that a plan may name, and those that a coupon was cut for: its cell `only`."""

from __future__ import annotations

import re

METHODS = (
    "immersion",
    "saturated immersion",
    "density given",
    "digestion",
    "ignition",
    "thickness",
    "areal weight",
    "point count",
)


def methods_in(text: str) -> list[str]:
    """The words of a cell `only`, each in the spelling of a plan, whether a method has this name or not.

    >>> methods_in("Thickness; areal  weight"), methods_in("")
    (['thickness', 'areal weight'], [])
    """
    words = (" ".join(piece.casefold().split()) for piece in re.split("[,;]", text))
    return list(dict.fromkeys(word for word in words if word))
