"""The rooms and their arrows, drawn from the imports: `python -m tests.house.drawing`.

With `--write` the drawing in DEVELOPERS.md is made again.
"""

import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from .conftest import Module, _modules
from .test_arrows import ROOMS

ORDER = [*ROOMS, "cli"]
BEGIN, END = "<!-- drawn by python -m tests.house.drawing --write -->", "<!-- end of the drawing -->"
RUNS, TYPES = "x", "."


def room_of(name: str) -> str:
    """The room that a dotted name of the project stands in, '' for none.

    >>> room_of("laminate.press.stack.Sums"), room_of("laminate.Refused"), room_of("numpy.exp")
    ('press', '', '')
    """
    parts = name.split(".")
    return parts[1] if parts[0] == "laminate" and len(parts) > 2 else ""


def arrows(modules: Iterable[Module]) -> dict[tuple[str, str], str]:
    """Room and room that it imports -> `RUNS` or, of types alone, `TYPES`."""
    found: dict[tuple[str, str], str] = {}
    for module in modules:
        for typing_only, mark in ((True, TYPES), (False, RUNS)):
            for name in module.imports(typing_only=typing_only):
                here, there = room_of(f"{module.name}."), room_of(name)
                if here and there and here != there and found.get((here, there)) != RUNS:
                    found[here, there] = mark
    return found


def drawing(modules: Iterable[Module], order: Sequence[str]) -> str:
    """A row a room and a column a room that it imports: left of the diagonal run the arrows of the house."""
    found = arrows(modules)
    tops = [f"{'':10}" + "".join(f"{room[at : at + 1]:>2}" for room in order[:-1]) for at in range(9)]
    rows = [
        f"{room:10}"
        + "".join(f"{'-' if room == other else found.get((room, other), ''):>2}" for other in order)
        for room in order
    ]
    return "\n".join(line.rstrip() for line in [*tops, *rows] if line.strip())


def in_page(text: str) -> str:
    """The drawing that stands between the marks of a page."""
    return text.partition(f"{BEGIN}\n```\n")[2].partition(f"\n```\n{END}")[0]


def main() -> None:
    """Print the drawing, or write it."""
    checkout = Path(__file__).parents[2]
    drawn = drawing(_modules(checkout), ORDER)
    if "--write" not in sys.argv:
        print(drawn)
        return
    page = checkout / "DEVELOPERS.md"
    head, _, rest = page.read_text("utf-8").partition(BEGIN)
    tail = rest.partition(END)[2]
    page.write_text(f"{head}{BEGIN}\n```\n{drawn}\n```\n{END}{tail}", "utf-8")


if __name__ == "__main__":
    main()
