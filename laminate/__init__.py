"""Parts molded from prepreg: what they will be, what they are, whether they meet the drawing."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from laminate.problems import Problem, Refused

__all__ = ["Problem", "Refused", "__version__", "cycle"]

_HOME = {"Problem": "problems", "Refused": "problems", "cycle": "press_cycle"}


def __getattr__(name: str) -> object:
    """Load a public name when it is first asked for."""
    from importlib import import_module, metadata

    value: object
    if name == "__version__":
        value = metadata.version("laminate")
    elif name in _HOME:
        value = getattr(import_module(f"laminate.{_HOME[name]}"), name)
    else:
        raise AttributeError(f"module 'laminate' has no attribute {name!r}")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Name what is public, loaded or not."""
    return sorted(__all__)
