"""What the standard library lacks for sequences: items made when asked for, and things put together."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Hashable, Iterable, Sequence
from typing import Any, NoReturn, TypeVar, overload

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


def _refused(*_: Any, **__: Any) -> NoReturn:
    raise TypeError("what was read does not change: make another of changed tables")


def _fixed(kind: type, changing: str) -> Any:
    """A kind of dict or list whose methods that change it are refused; copies are of this kind too."""
    name = f"Fixed{kind.__name__.capitalize()}"
    methods = dict.fromkeys((*changing.split(), "clear", "pop", "__setitem__", "__delitem__"), _refused)
    reduced = {"__reduce__": lambda self: (globals()[name], (kind(self),)), "__module__": __name__}
    return type(name, (kind,), {**methods, **reduced})


FixedDict = _fixed(dict, "popitem setdefault update __ior__")
FixedList = _fixed(list, "append extend insert remove reverse sort __iadd__ __imul__")


def fixed(value: Any) -> Any:
    """Dicts and lists that do not change, with what lies in them; all else as it is.

    >>> fixed({"web": [1, 2]})["web"].append(3)
    Traceback (most recent call last):
    TypeError: what was read does not change: make another of changed tables
    """
    if isinstance(value, dict):
        return FixedDict({key: fixed(inner) for key, inner in value.items()})
    return FixedList(map(fixed, value)) if isinstance(value, list) else value
