"""The commands as one program: what each is called with, and what a wrong call is told."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from importlib import import_module, metadata
from typing import Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from laminate.values.problems import Problem, Refused, did_you_mean, refusal, refuse_all

from . import commands

_EXTRA = re.compile(r"unexpected extra argument(?:\(s\)|s)? \((.*)\)")
FULL_HELP = "laminate.whole help"
MOST = 20
"""Options that a help explains without --why."""

HELP = {"help_option_names": ["--help", "-h"]}


class Command(TyperCommand):
    """A command with its help in this program's layout."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Note whether the whole help is asked for, and take the arguments.

        Raises `Refused` where an option that takes one value is given several times.
        """
        ctx.meta[FULL_HELP] = "--why" in args
        given: list[Any] = self.make_parser(ctx).parse_args(args=list(args))[2]
        options = [p for p in given if p.param_type_name == "option"]
        single = Counter(p.opts[0] for p in options if not (p.multiple or p.is_flag))
        expected, twice = "one value: this option is not repeatable", [n for n in single if single[n] > 1]
        refuse_all([Problem("given-twice", "", name, f"{single[name]} values", expected) for name in twice])
        return super().parse_args(ctx, args)

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the call, what it does, its arguments and options; beyond a screen some by name alone."""
        parameters: list[Any] = list(self.params)
        arguments = [p for p in parameters if p.param_type_name == "argument"]
        options = [p for p in parameters if p.param_type_name == "option" and not p.hidden]
        ending = ["[options]"] if options else []
        call = " ".join([ctx.command_path, *map(_argument, arguments), *ending])
        formatter.write(f"{call}\n\n")
        formatter.write_text(self.help or "")
        rows = [(_argument(p), p.help or "") for p in arguments if p.help]
        whole = ctx.meta.get(FULL_HELP) or len(options) <= MOST
        apart = [] if whole else [p for p in options if getattr(p, "rich_help_panel", None)]
        rows += [(_option(p), p.help or "") for p in options if p not in apart]
        rows.append(("--help, -h", "this text; with --why every option in full" if apart else "this text"))
        formatter.write_paragraph()
        formatter.write_dl(rows)
        if apart:
            formatter.write_paragraph()
            names = ", ".join(p.opts[0] for p in apart)
            for line in commands.folded(f"{apart[0].rich_help_panel}: {names}.", formatter.width):
                formatter.write(f"{line}\n")


class Program(TyperGroup):
    """The program: its help lists the commands by the person who runs them."""

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """Write the commands, a heading for each person."""
        formatter.write(commands.help_text())

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Find the command, or name the one that was meant."""
        if args[0] not in self.commands:
            hint = did_you_mean(args[0], list(self.commands))
            raise refusal("unknown-command", "", args[0], "unknown command", "", hint)
        return super().resolve_command(ctx, args)


def _argument(parameter: Any) -> str:
    name = str(parameter.metavar or parameter.name.upper()) + ("..." if parameter.nargs != 1 else "")
    return name if parameter.required else f"[{name}]"


def _option(parameter: Any) -> str:
    names = ", ".join([*parameter.opts, *parameter.secondary_opts])
    return names if parameter.is_flag else f"{names} {parameter.metavar or 'VALUE'}"


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"laminate {metadata.version('laminate')}")
        raise typer.Exit


def _program(
    version: Annotated[bool, typer.Option("--version", is_eager=True, callback=_version)] = False,
) -> None:
    """Take what stands before the command."""


def build(only: str = "") -> typer.Typer:
    """Gather every person's commands into one program.

    only: the one command that is called, so that the others need not be prepared; '' for all.
    """
    app = typer.Typer(
        cls=Program,
        add_completion=False,
        rich_markup_mode=None,
        callback=_program,
        help=commands.ABOUT,
        context_settings=HELP,
    )
    for name, (module, _) in commands.listed().items():
        if only in ("", name):
            function: Callable[..., None] = getattr(import_module(f"{__package__}.{module}"), name)
            app.command(name, cls=Command, context_settings=HELP)(function)
    return app


def run(arguments: Sequence[str]) -> int:
    """Run one call.

    arguments: as typed, without the program's name.
    Returns the exit status; raises `Refused`, also for a wrong call, and whatever else went wrong.
    """
    first = arguments[0]
    command = typer.main.get_command(build(first if first in commands.listed() else ""))
    try:
        with command.make_context("laminate", list(arguments)) as context:
            command.invoke(context)
    except typer.Exit as leave:
        return leave.exit_code
    except typer.Abort:
        raise KeyboardInterrupt from None
    except typer.TyperException as error:
        raise Refused(_usage_problem(error, arguments)) from None
    return 0


def _usage_problem(error: typer.TyperException, arguments: Sequence[str]) -> Problem:
    """Say what is wrong with a call, in one sentence with the nearest known option."""
    context, parameter = getattr(error, "ctx", None), getattr(error, "param", None)
    option = getattr(error, "option_name", "")
    place = option or ("" if parameter is None else next(iter(parameter.opts)))
    if hasattr(error, "possibilities"):
        parameters = context.command.params if context else []
        known = [name for p in parameters for name in p.opts if name.startswith("-")]
        hint = did_you_mean(option, [*known, "--help"]) or _see_help(context)
        return Problem("unknown-option", "", place, "unknown option", "", hint)
    if option:
        return Problem("option-without-value", "", place, "no value after it", "", _see_help(context))
    if parameter is not None:
        if not parameter.opts[0].startswith("-"):
            place = parameter.metavar or parameter.name.upper()
        if not error.message:
            about = getattr(parameter, "help", None)
            expected = about or "a value"
            if place.startswith("-") and about and parameter.metavar:
                expected = f"{parameter.metavar} ({about})"
            return Problem("missing", "", place, "nothing", expected, _see_help(context))
        return _option_value(place, error.message.rstrip("."), arguments, _see_help(context))
    if extra := _EXTRA.search(error.message):
        return Problem("wrong-call", "", extra[1], "one argument too many", "", _see_help(context))
    message = error.message[:1].lower() + error.message[1:].rstrip(".")
    return Problem("wrong-call", "", "", message, "", _see_help(context))


def _option_value(place: str, message: str, arguments: Sequence[str], hint: str) -> Problem:
    """A value that an option cannot take: what was typed, and what is expected."""
    given = (argument.partition("=") for argument in arguments)
    typed = next((value for option, equals, value in given if equals and option == place), "")
    if place in arguments[:-1]:
        typed = arguments[arguments.index(place) + 1]
    expected = message.removeprefix("Input should be ").removeprefix("a valid ")
    if not typed or expected == message:
        return Problem("option-value", "", place, message, "", hint)
    for phrase, plain in (("integer", "a whole number"), ("number", "a number")):
        expected = plain if expected.startswith(phrase) else expected
    for phrase, plain in (("greater than or equal to ", " or more"), ("less than or equal to ", " or less")):
        expected = expected.removeprefix(phrase) + plain if expected.startswith(phrase) else expected
    return Problem("option-value", "", place, f"'{typed}'", expected, hint)


def _see_help(context: Any) -> str:
    return f"'{context.command_path} --help' shows the call" if context else ""
