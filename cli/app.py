"""The command `laminate`: turns whatever happens into an exit status.

Nothing that loads slowly is imported before it is needed: the help of the whole program needs none of it.
"""

from __future__ import annotations

import gc
import os
import sys
from contextlib import nullcontext
from io import TextIOWrapper
from itertools import pairwise
from typing import TYPE_CHECKING, NoReturn

from . import commands

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from laminate.values.problems import Problem

DONE, NO, WRONG, INTERRUPTED, PIPE_CLOSED = 0, 1, 2, 130, 141


def status(arguments: Sequence[str]) -> int:
    """Run one call and answer for everything that can go wrong; returns the exit status."""
    in_json = "--json" in arguments
    if sys.stdout is None:  # closed by the caller: told before any file can take its number
        from laminate.values.problems import Problem

        closed = Problem("output-lost", "", "standard output", "it is closed", "a place for the answer")
        _tell([closed], in_json=False)
        return WRONG
    try:
        return _answered(arguments, in_json)
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED
    except OSError as error:  # the answer could not be written
        _tell_at_last(_problems_of(error), in_json=in_json)
    return WRONG


def _tell_at_last(problems: Iterable[Problem], *, in_json: bool) -> None:
    """Tell what went wrong where it can be told: a full disk may be what standard output goes to."""
    try:
        _tell(problems, in_json=in_json)
        sys.stdout.flush()
    except OSError as error:
        from laminate.values.problems import Problem

        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        reason = (error.strerror or str(error)).lower()
        lost = Problem("output-lost", "", "standard output", reason, "an answer that is written whole")
        _tell([lost], in_json=False)


def _answered(arguments: Sequence[str], in_json: bool) -> int:
    try:
        if list(arguments) in ([], ["--help"], ["-h"]):
            print(commands.help_text(), end="")
            return DONE if arguments else WRONG
        from .program import run
        from .waiting import Spinner

        with Spinner(arguments[0]) if arguments[0] != "enter" else nullcontext():
            return run(arguments)
    except BrokenPipeError:
        raise
    except Exception as error:  # noqa: BLE001 (the one place where anything may arrive)
        _tell(_problems_of(error), in_json=in_json, units=_units(arguments))
        return WRONG
    finally:
        sys.stdout.flush()


def _units(arguments: Sequence[str]) -> str:
    """The units that a call asks for, wherever it goes wrong."""
    asked = [*arguments, ""]
    return "us" if "--units=us" in asked or ("--units", "us") in pairwise(asked) else "metric"


def main() -> NoReturn:
    """The command `laminate`: answer the call and leave with its exit status."""
    gc.set_threshold(200_000, 50, 1000)  # many rows and hardly a cycle: looking less often saves a tenth
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # none is due: look for none
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # no large matrices: other threads only spin
    sys.stderr = sys.stderr or open(os.devnull, "w")  # noqa: SIM115 (closed by the caller)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    if "_LAMINATE_COMPLETE" in os.environ:
        from .completing import answer

        sys.exit(answer())
    sys.exit(status(sys.argv[1:]))


def _tell(problems: Iterable[Problem], *, in_json: bool, units: str = "metric") -> None:
    if in_json:
        from .answers import print_json

        print_json({"problems": [problem.as_json() for problem in problems]})
    else:
        from . import tables

        for problem in problems:
            tables.complain(problem.sentence(units))


def _problems_of(error: Exception) -> Sequence[Problem]:
    """What went wrong; of a fault of the program itself the traceback is kept for who asks for it."""
    from laminate.values.problems import Problem, Refused

    if isinstance(error, Refused):
        return error.problems
    if isinstance(error, OSError):
        reason = (error.strerror or str(error)).lower()
        return [Problem("file-access", str(error.filename or ""), "", reason, "")]
    if os.environ.get("LAMINATE_TRACEBACK") == "1":
        import traceback

        traceback.print_exception(error)
    hint = "please keep the files and report it; with LAMINATE_TRACEBACK=1 set, the same call shows where"
    return [Problem("internal-fault", "", "", f"internal fault ({type(error).__name__})", "", hint)]
