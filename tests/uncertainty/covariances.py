"""What two results have in common, from the contributions that they carry."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from laminate.values.uncertainty import Result


def covariance(one: Result, other: Result) -> NDArray[np.float64]:
    """Covariance of two attributes of the same rows (n,): they share sources by name."""
    index = {source.name: i for i, source in enumerate(other.sources)}
    total = np.zeros(one.value.shape)
    for i, source in enumerate(one.sources):
        if (j := index.get(source.name)) is not None:
            total += one.contributions[i] * other.contributions[j]
    return total
