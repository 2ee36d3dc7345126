"""Parts molded from prepreg: what they will be, what they are, whether they meet the drawing.

Before molding: `predict` (fiber volume and thickness), `fill` (ply counts), `core` (pressure of an expanding
core), `cycle` (press cycle). After it: `measure`, `measure_frame` and `combine` (coupons), `report` (a batch
against its limits), `judge` (one value against a limit), `correct` (the next batch), `trend` (many batches),
`verify` (a record). Beside them: `read_part` and `read_batch`, `materials`, `Value`. Each gives an `Answer`;
a wrong input raises `Refused`. `help(laminate.fill)` shows one of them.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from laminate.files.part import Part
    from laminate.front.answer import Answer
    from laminate.front.batch_calls import correct, judge, materials, report, trend, verify
    from laminate.front.call import read_batch, read_part
    from laminate.front.calls import measure, predict
    from laminate.front.frame_averages import combine
    from laminate.front.frames import measure_frame
    from laminate.front.press_calls import core, cycle, fill
    from laminate.front.value import Value
    from laminate.values.input_key import Key
    from laminate.values.problems import Problem, Refused

    __version__: str

_HOME = {
    name: module
    for module, names in {
        "files.part": "Part",
        "front.answer": "Answer",
        "front.batch_calls": "correct judge materials report trend verify",
        "front.call": "read_batch read_part",
        "front.calls": "measure predict",
        "front.frame_averages": "combine",
        "front.frames": "measure_frame",
        "front.press_calls": "core cycle fill",
        "front.value": "Value",
        "values.input_key": "Key",
        "values.problems": "Problem Refused",
    }.items()
    for name in names.split()
}

__all__ = [
    "Answer",
    "Key",
    "Part",
    "Problem",
    "Refused",
    "Value",
    "__version__",
    "combine",
    "core",
    "correct",
    "cycle",
    "fill",
    "judge",
    "materials",
    "measure",
    "measure_frame",
    "predict",
    "read_batch",
    "read_part",
    "report",
    "trend",
    "verify",
]


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
