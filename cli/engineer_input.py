"""What `fill` and `core` take from files and options alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from laminate.front.options import at_options

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from laminate.files.part import Part
    from laminate.press.pressing import Stacks
    from laminate.press.stack import Ingredients

    from .options import Options


@dataclass(frozen=True)
class Asked:
    """What a question is asked about: a part, its lots, the batch, the file's name, a stack of options.

    part: None where something is wrong with the options; at_options: raises problems where they are to be
    written.
    """

    part: Part | None
    made: Ingredients | None
    batch: Any
    name: str
    at_options: AbstractContextManager[None]
    stacks: Stacks | None = None


def asked(options: Options, file: Path | None, given: Mapping[str, Any], command: str) -> Asked:
    """The part of a file, or the one that options describe."""
    if file is not None:
        refuse_beside_file(options, given)
        return Asked(*read_file(file), str(file), nullcontext())
    part = options.part(given, command)
    stacks = options.stacks(given) if command == "core" else None
    return Asked(part, None, None, "", at_options(given, command, spelled=True), stacks)


def read_file(file: Path) -> tuple[Part, Ingredients | None, Any]:
    """A part file, or a batch file with its lots; the batch comes last, None for a part file."""
    from laminate.files.part import read_part
    from laminate.files.toml import load

    if "batch" in load(file, str(file))[0]:
        from laminate.files.batch import read_batch

        case = read_batch(file)
        return case.part, case.ingredients(), case.batch
    return read_part(file)[0], None, None


def refuse_beside_file(options: Options, given: Mapping[str, Any]) -> None:
    """Note every option that the file says."""
    for name, text in given.items():
        if text is not None:
            option, expected = f"--{name.replace('_', '-')}", "no such option beside a file"
            options.say("option-beside-file", option, f"'{text}'", expected, "the file says it")


def counts_of(options: Options, part: Part | None, plies: Sequence[str] | None) -> dict[str, int]:
    """All fiber plies by zone, from COUNT or ZONE=COUNT."""
    from laminate.press.stack import fixed_plies

    if part is None:
        return {}
    least = {name: max(fixed_plies(part, zone), 1) for name, zone in part.zone.items()}
    return _counts(options, "--plies", "zone", plies, least)


def moldings_of(
    options: Options, part: Part | None, batch: Any, moldings: Sequence[str] | None
) -> dict[str, int]:
    """Uses so far by core: of the batch, or from COUNT or CORE=COUNT."""
    if part is None:
        return {}
    cores_used = batch.core_used.items() if batch is not None else ()
    used = {name: core.moldings for name, core in cores_used if core.moldings is not None}
    return used | _counts(options, "--moldings", "core", moldings, dict.fromkeys(part.core, 0))


def _counts(
    options: Options, option: str, noun: str, texts: Sequence[str] | None, least: Mapping[str, int]
) -> dict[str, int]:
    """Counts by name; least: of each name, a text without one is of the only name."""
    counts: dict[str, int] = {}
    for text in texts or ():
        name, equals, number = text.rpartition("=")
        if not equals and len(least) == 1:
            name = next(iter(least))
        if name in least:
            counts[name] = options.count(option, number, least[name])
        else:
            expected = f"{noun.upper()}=COUNT, a {noun} of {', '.join(least)}"
            options.unknown(option, text, expected, name, least)
    return counts


def names_of(
    options: Options, about: Asked, names: Sequence[str] | None, option: str = "--zone"
) -> list[str] | None:
    """The zones or cores of a file that are asked for, None for all."""
    if names and not about.name:
        options.say("option-without-file", option, f"'{names[0]}'", "a part file")
    if about.part is None or not about.name:
        return None
    known = list(about.part.zone if option == "--zone" else about.part.core)
    for name in names or ():
        if name not in known:
            expected = f"one of {', '.join(known)}" if known else "a part file that has one"
            options.unknown(option, name, expected, name, known)
    return list(dict.fromkeys(names)) if names else None
