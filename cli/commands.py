"""The list of commands, and the help of the whole program, which loads nothing else."""

from __future__ import annotations

import os
from collections.abc import Iterator

ABOUT = "Parts molded from prepreg: what they will be, what they are, and whether a batch meets its limits."
COMMANDS: dict[str, dict[str, tuple[str, str]]] = {
    "to begin": {
        "example": (
            "general",
            "Write the worked example: part, batch and coupons of an invented case",
        ),
        "materials": (
            "materials",
            "Show tabulated values of materials, and where each comes from",
        ),
        "schema": (
            "schemas",
            "Show the JSON Schema of part, batch or record files",
        ),
    },
    "engineer": {
        "predict": (
            "predicting",
            "Predict cured ply thickness, fiber volume, laminate thickness, density, areal weight and mass",
        ),
        "fill": (
            "filling",
            "Find the ply count that fills each gap at cure temperature, its fiber volume and its chances",
        ),
        "core": (
            "cores",
            "Find when an expanding core touches, how hard it presses, what the clamp bears, its cold size",
        ),
        "cycle": (
            "cycling",
            "Say whether the press presses before the resin gels, and above the vapor of its water",
        ),
        "correct": (
            "correcting",
            "Compare batches with what was predicted, and propose what would center the next one",
        ),
    },
    "lab technician": {
        "measure": (
            "measuring",
            "Measure fiber volume, resin content, void content, density and thickness from coupon tables",
        ),
        "sheet": (
            "sheets",
            "Write a blank coupon table for what the part's plan wants measured",
        ),
        "enter": (
            "sheets",
            "Enter readings at the bench, each checked and on the disk before the next is asked for",
        ),
    },
    "quality": {
        "report": (
            "reporting",
            "Report whether a batch meets the limits of its part, with the risk of a wrong decision",
        ),
        "sign": (
            "signing",
            "Sign a record in a role",
        ),
        "verify": (
            "signing",
            "Prove who signed a record, and that nothing changed since",
        ),
        "extract": (
            "signing",
            "Write the files inside a record to a folder, so that its batch can be judged anew",
        ),
        "trend": (
            "trending",
            "Show batches over time: control charts, scatter between lots, capability, basis values",
        ),
    },
}
"""Person -> command -> its module, and the first sentence of its function's docstring."""

CLOSING = (
    "Each command has --help, and --json for programs. Exit status: 0 done; 1 done, and the answer is no; "
    "2 the input or the call is wrong.",
    "Limits, methods and release stay with the governing specification, local codes and authorized staff.",
)


def listed() -> dict[str, tuple[str, str]]:
    """Every command with its module and sentence."""
    return {name: command for mine in COMMANDS.values() for name, command in mine.items()}


def help_text() -> str:
    """The help of the whole program: the commands, a heading for each person, folded to the screen."""
    width = _width()
    names = max(map(len, listed()))
    lines = ["laminate COMMAND ...", "", *_folded(ABOUT, width)]
    for person, mine in COMMANDS.items():
        lines += ["", person] if mine else []
        for name, (_, sentence) in mine.items():
            first, *rest = _folded(sentence, width - names - 4)
            lines += [f"  {name:{names}}  {first}", *(" " * (names + 4) + line for line in rest)]
    for paragraph in CLOSING:
        lines += ["", *_folded(paragraph, width)]
    return "\n".join([*lines, ""])


def _width() -> int:
    """The columns that the help of every command takes."""
    try:
        columns = int(os.environ.get("COLUMNS") or 0) or os.get_terminal_size(1).columns
    except (ValueError, OSError):
        columns = 80
    return max(min(columns, 80) - 2, 50)


def _folded(text: str, width: int) -> Iterator[str]:
    line = ""
    for word in text.split():
        if line and len(line) + 1 + len(word) > width:
            yield line
            line = ""
        line = f"{line} {word}" if line else word
    yield line
