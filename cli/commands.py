"""The list of commands, and the help of the whole program, which loads nothing else."""

from __future__ import annotations

import os
import textwrap

ABOUT = (
    "Prepreg parts from a heated press: predict them, measure them, decide whether a batch meets its limits."
)
COMMANDS: dict[str, dict[str, tuple[str, str]]] = {
    "to begin": {
        "example": ("general", "Write a worked example: part, batch and coupons, all invented"),
        "materials": ("materials", "Show tabulated values of materials and their sources"),
        "schema": ("schemas", "Show the JSON Schema of a file, a record or an answer"),
    },
    "engineer": {
        "predict": ("engineer", "Predict ply thickness, fiber volume, thickness, density and mass"),
        "fill": ("engineer", "Find the ply count for each gap, its fiber volume and its chance"),
        "core": ("engineer", "Find how hard an expanding core presses, and its cold size"),
        "cycle": ("engineer", "Check that the press acts before gel and above vapor pressure"),
        "correct": ("engineer", "Compare batches with prediction; propose what centers the next"),
    },
    "lab technician": {
        "measure": ("measuring", "Compute fiber volume, resin, voids and density from coupons"),
        "sheet": ("sheets", "Write a blank coupon table for what the plan asks to measure"),
        "enter": ("sheets", "Type readings at the bench; each is checked and saved at once"),
    },
    "quality": {
        "report": ("quality", "Decide whether a batch meets its limits, with the risk of error"),
        "sign": ("signing", "Sign a record in a role"),
        "verify": ("signing", "Check who signed a record and that nothing changed since"),
        "extract": ("signing", "Write the files inside a record to a folder"),
        "trend": ("quality", "Chart batches over time: control limits, lots and capability"),
    },
}
"""Person -> command -> its module, and the first sentence of its function's docstring."""

CLOSING = (
    "Each command has --help (-h), and --json for programs; --version tells the version. Exit status: "
    "0 done; 1 done, and the answer is no; 2 the input or the call is wrong.",
    "Limits, methods and release stay with the governing specification, local codes and authorized staff.",
)


def listed() -> dict[str, tuple[str, str]]:
    """Every command with its module and sentence."""
    return {name: command for mine in COMMANDS.values() for name, command in mine.items()}


def help_text() -> str:
    """The help of the whole program: the commands, a heading for each person, folded to the screen."""
    width = _width()
    names = max(map(len, listed()))
    lines = ["laminate COMMAND ...", "", *folded(ABOUT, width)]
    for person, mine in COMMANDS.items():
        lines += ["", person] if mine else []
        for name, (_, sentence) in mine.items():
            first, *rest = folded(sentence, width - names - 4)
            lines += [f"  {name:{names}}  {first}", *(" " * (names + 4) + line for line in rest)]
    for paragraph in CLOSING:
        lines += ["", *folded(paragraph, width)]
    return "\n".join([*lines, ""])


def _width() -> int:
    """The columns that the help of every command takes."""
    try:
        columns = int(os.environ.get("COLUMNS") or 0) or os.get_terminal_size(1).columns
    except (ValueError, OSError):
        columns = 80
    return max(min(columns, 80) - 2, 50)


def folded(text: str, width: int) -> list[str]:
    """The lines of a paragraph, broken between words alone."""
    return textwrap.wrap(text, width, break_long_words=False, break_on_hyphens=False)
