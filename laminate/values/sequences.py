"""What the standard library lacks for sequences: items made when asked for, and things put together."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Hashable, Iterable, Sequence
from typing import TypeVar, overload

K = TypeVar("K", bound=Hashable)
T = TypeVar("T")
Item = TypeVar("Item", covariant=True)


class LazySequence(Sequence[Item]):
    """Items that are made when they are asked for by place."""

    @abstractmethod
    def item(self, at: int) -> Item:
        """The one at a place."""

    @overload
    def __getitem__(self, at: int) -> Item: ...
    @overload
    def __getitem__(self, at: slice) -> list[Item]: ...
    def __getitem__(self, at: int | slice) -> Item | list[Item]:
        if isinstance(at, slice):
            return [self.item(i) for i in range(*at.indices(len(self)))]
        return self.item(at)


def by_key(pairs: Iterable[tuple[K, T]]) -> dict[K, list[T]]:
    """Key -> what comes with it, keys and things in the order of the pairs.

    >>> by_key([("web", 1), ("skin", 2), ("web", 3)])
    {'web': [1, 3], 'skin': [2]}
    """
    groups: dict[K, list[T]] = {}
    for key, thing in pairs:
        groups.setdefault(key, []).append(thing)
    return groups
