"""The command `example`: a complete case to begin with."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from laminate.show.page_words import several
from laminate.values.problems import Problem, Refused, near_hint, refusal

from .answers import print_json
from .options import argument, flag, option
from .tables import progress

ONE_SCREEN = 24
CASES = {
    "mast": "rubber core in a closed press, a batch with its coupons",
    "glass": "burn-off, US units, a batch undecided and then decided",
    "panel": "matched tool, two prepregs, 25 records for a chart",
    "box": "four walls over one rubber core",
    "bladder": "tube pressed by a bladder",
    "oil": "core heated by oil",
    "paddle": "no ply count fits well",
    "cycle": "planned press cycles, and the log of a press",
}


def example(
    folder: Annotated[Path, argument("DIR", "where to write; made where it does not exist")],
    case: Annotated[str, option("NAME", "; ".join(map(": ".join, CASES.items())))] = "mast",
    as_json: Annotated[bool, flag("--json", "the written files as JSON")] = False,
) -> None:
    """Write a worked example: part, batch and coupons, all invented.

    A file that is already there is never overwritten.
    """
    from importlib.resources import files

    if case not in CASES:
        expected = f"one of {', '.join(CASES)}"
        raise refusal("unknown-case", "", "--case", repr(case), expected, near_hint(case, CASES))
    originals = sorted((files("laminate.examples") / case).iterdir(), key=lambda file: file.name)
    there = [folder / file.name for file in originals if (folder / file.name).exists()]
    if there:
        hint = "nothing was written; name a new folder"
        raise Refused([Problem("file-exists", str(path), "", "already there", "", hint) for path in there])
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for file in originals:
        with (folder / file.name).open("xb") as copy:
            copy.write(file.read_bytes())
        written.append(str(folder / file.name))
    if case == "panel":
        from laminate.examples.panel_batches import write_records

        with progress("batches judged and sealed") as advance:
            written += [str(path) for path in write_records(folder, advance)]
    if as_json:
        print_json({"written": written})
    else:
        batch = folder / "batch.toml"
        judge = "report" if (folder / "coupons.csv").exists() else "cycle"
        then = f"{judge} {batch}" if batch.exists() else f"fill {folder / 'part.toml'}"
        last = f"{several(len(written), 'file')} written. Try: laminate {then}"
        first = [last] if len(written) > ONE_SCREEN else []
        print("\n".join([*first, *written, last]))
