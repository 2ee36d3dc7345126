"""The command `laminate`: finds the command asked for, and turns whatever happens into an exit status."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from io import TextIOWrapper
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer
from typer.core import TyperCommand, TyperGroup

from laminate.values.problems import Problem, Refused, did_you_mean

from . import engineer, general, quality, tables, technician
from .answers import print_json

if TYPE_CHECKING:
    from collections.abc import Callable

DONE, NO, WRONG, INTERRUPTED, PIPE_CLOSED = 0, 1, 2, 130, 141

COMMANDS: dict[str, dict[str, Callable[..., None]]] = {
    "to begin": general.COMMANDS,
    "engineer": engineer.COMMANDS,
    "lab technician": technician.COMMANDS,
    "quality": quality.COMMANDS,
}

_CLOSING = (
    "Each command has --help, and --json for programs. Exit status: 0 done; 1 done, and the answer is no; "
    "2 the input or the call is wrong.",
    "Limits, methods and release stay with the governing specification, local codes and authorised staff.",
)


class Command(TyperCommand):
    """A command with its help in this program's layout."""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the call, what it does, its arguments and options."""
        parameters: list[Any] = list(self.params)
        arguments = [p for p in parameters if p.param_type_name == "argument"]
        options = [p for p in parameters if p.param_type_name == "option"]
        call = " ".join(
            [ctx.command_path, *(_argument(p) for p in arguments), *(["[options]"] if options else [])]
        )
        formatter.write(f"{call}\n\n")
        formatter.write_text(self.help or "")
        rows = [(_argument(p), p.help or "") for p in arguments if p.help]
        rows += [(_option(p), p.help or "") for p in options if not p.hidden]
        if rows:
            formatter.write_paragraph()
            formatter.write_dl([*rows, ("--help", "this text")])


class Program(TyperGroup):
    """The program: its help lists the commands by the person who runs them."""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the commands, a heading for each person."""
        formatter.write(f"{ctx.command_path} COMMAND ...\n\n")
        formatter.write_text(self.help or "")
        width = max(map(len, self.commands))
        for person, functions in COMMANDS.items():
            if functions:
                formatter.write(f"\n{person}\n")
                with formatter.indentation():
                    rows = [(name.ljust(width), _first_sentence(functions[name])) for name in functions]
                    formatter.write_dl(rows)
        for paragraph in _CLOSING:
            formatter.write_paragraph()
            formatter.write_text(paragraph)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Find the command, or name the one that was meant."""
        if args[0] not in self.commands:
            hint = did_you_mean(args[0], list(self.commands))
            raise Refused(Problem("unknown-command", "", args[0], "unknown command", "", hint))
        return super().resolve_command(ctx, args)


def _argument(parameter: Any) -> str:
    name = str(parameter.metavar or parameter.name.upper()) + ("..." if parameter.nargs != 1 else "")
    return name if parameter.required else f"[{name}]"


def _option(parameter: Any) -> str:
    names = ", ".join([*parameter.opts, *parameter.secondary_opts])
    return names if parameter.is_flag else f"{names} {parameter.metavar or 'VALUE'}"


def _first_sentence(function: Callable[..., None]) -> str:
    return (function.__doc__ or "").strip().split("\n", 1)[0].rstrip(".")


def _version(wanted: bool) -> None:
    if wanted:
        import laminate

        typer.echo(f"laminate {laminate.__version__}")
        raise typer.Exit


def _program(
    version: Annotated[bool, typer.Option("--version", is_eager=True, callback=_version)] = False,
) -> None:
    """Parts molded from prepreg: what they will be, what they are, and whether a batch meets its limits."""


def build(only: str = "") -> typer.Typer:
    """Gather every person's commands into one program.

    only: the one command that is called, so that the others need not be prepared; '' for all.
    """
    app = typer.Typer(cls=Program, add_completion=False, rich_markup_mode=None, callback=_program)
    for functions in COMMANDS.values():
        for name, function in functions.items():
            if only in ("", name):
                app.command(name, cls=Command)(function)
    return app


def run(arguments: Sequence[str]) -> int:
    """Run one call.

    arguments: as typed, without the program's name.
    Returns the exit status; raises `Refused`, usage errors and whatever else went wrong.
    """
    known = {name for functions in COMMANDS.values() for name in functions}
    command = typer.main.get_command(build(arguments[0] if arguments[0] in known else ""))
    try:
        with command.make_context("laminate", list(arguments)) as context:
            command.invoke(context)
    except typer.Exit as leave:
        return leave.exit_code
    return DONE


def status(arguments: Sequence[str]) -> int:
    """Run one call and answer for everything that can go wrong; returns the exit status."""
    in_json = "--json" in arguments
    try:
        try:
            if not arguments:
                run(["--help"])
                return WRONG
            return run(arguments)
        except Refused as refusal:
            _tell(refusal.problems, in_json=in_json)
        except typer.TyperException as error:
            _tell([_usage_problem(error, arguments)], in_json=in_json)
        finally:
            if sys.stdout is not None:  # closed by the caller
                sys.stdout.flush()
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED
    except OSError as error:
        found = (error.strerror or str(error)).lower()
        _tell([Problem("file-access", str(error.filename or ""), "", found, "")], in_json=in_json)
    except Exception as error:  # noqa: BLE001 (the one place where anything may arrive)
        _tell([_fault(error)], in_json=in_json)
    return WRONG


def main() -> NoReturn:
    """The command `laminate`: answer the call and leave with its exit status."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    sys.exit(status(sys.argv[1:]))


def _tell(problems: Iterable[Problem], *, in_json: bool) -> None:
    if in_json:
        print_json({"problems": [problem.as_json() for problem in problems]})
    else:
        for problem in problems:
            tables.complain(problem.sentence())


def _usage_problem(error: typer.TyperException, arguments: Sequence[str]) -> Problem:
    """Say what is wrong with a call, in one sentence with the nearest known option."""
    context, parameter = getattr(error, "ctx", None), getattr(error, "param", None)
    option = getattr(error, "option_name", "")
    place = option or ("" if parameter is None else next(iter(parameter.opts)))
    if hasattr(error, "possibilities"):
        known = (
            [name for p in context.command.params for name in p.opts if name.startswith("-")]
            if context
            else []
        )
        hint = did_you_mean(option, [*known, "--help"]) or _see_help(context)
        return Problem("unknown-option", "", place, "unknown option", "", hint)
    if option:
        return Problem("option-without-value", "", place, "nothing", "a value", _see_help(context))
    if parameter is not None:
        if not parameter.opts[0].startswith("-"):
            place = parameter.metavar or parameter.name.upper()
        if not error.message:
            about = getattr(parameter, "help", None)
            expected = "a value"
            if place.startswith("-") and about and parameter.metavar:
                expected = f"{parameter.metavar} ({about})"
            return Problem("missing", "", place, "nothing", expected, _see_help(context))
        return _option_value(place, error.message.rstrip("."), arguments, _see_help(context))
    return Problem(
        "wrong-call",
        "",
        "",
        error.message[:1].lower() + error.message[1:].rstrip("."),
        "",
        _see_help(context),
    )


def _option_value(place: str, message: str, arguments: Sequence[str], hint: str) -> Problem:
    """A value that an option cannot take: what was typed, and what is expected."""
    typed = next((one.partition("=")[2] for one in arguments if one.startswith(f"{place}=")), "")
    if place in arguments[:-1]:
        typed = arguments[arguments.index(place) + 1]
    expected = message.removeprefix("Input should be ").removeprefix("a valid ")
    if not typed or expected == message:
        return Problem("option-value", "", place, message, "", hint)
    for said, plain in (("integer", "a whole number"), ("number", "a number")):
        expected = plain if expected.startswith(said) else expected
    for said, plain in (("greater than or equal to ", " or more"), ("less than or equal to ", " or less")):
        expected = expected.removeprefix(said) + plain if expected.startswith(said) else expected
    return Problem("option-value", "", place, f"'{typed}'", expected, hint)


def _see_help(context: Any) -> str:
    return f"'{context.command_path} --help' shows the call" if context else ""


def _fault(error: Exception) -> Problem:
    """Say that the program itself failed, and keep its traceback for who asks for it."""
    if os.environ.get("LAMINATE_TRACEBACK") == "1":
        import traceback

        traceback.print_exception(error)
    hint = "please keep the files and report it; with LAMINATE_TRACEBACK=1 set, the same call shows where"
    return Problem("internal-fault", "", "", f"internal fault ({type(error).__name__})", "", hint)
