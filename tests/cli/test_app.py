"""Whatever happens, a call ends with an exit status and sentences a person can act on."""

import json
import os
import subprocess
import sys
from importlib import import_module
from types import SimpleNamespace
from typing import Annotated

import pytest
import typer

from laminate.cli import app, commands
from tests.messages.wording import begins, reads


@pytest.fixture
def command(monkeypatch):
    """Put a function among the commands, as `try`."""

    def put(function):
        begin = {**commands.COMMANDS["to begin"], "try": ("tried", "Try it")}
        monkeypatch.setitem(commands.COMMANDS, "to begin", begin)
        monkeypatch.setitem(sys.modules, "laminate.cli.tried", SimpleNamespace(**{"try": function}))

    return put


def test_help_names_every_command_by_its_person(capsys):
    assert app.status(["--help"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    for person, mine in commands.COMMANDS.items():
        assert (f"\n{person}\n" in out) == bool(mine)
        for name in mine:
            assert f"\n  {name} " in out
    assert "governing specification" in out


def test_the_list_of_commands_says_what_their_functions_say():
    for name, (module, sentence) in commands.listed().items():
        function = getattr(import_module(f"laminate.cli.{module}"), name)
        assert function.__doc__.split("\n", 1)[0] == f"{sentence}."


@pytest.mark.parametrize("columns", ["", "30", "64", "80", "200"])
def test_the_help_is_folded_as_that_of_a_command(columns, monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", columns)
    lines = commands.help_text().splitlines()
    limit = max(min(int(columns or 80), 80) - 2, 50)
    assert max(map(len, lines)) <= limit
    words = iter(commands.help_text().split())
    assert all(word in words for _, sentence in commands.listed().values() for word in sentence.split())
    assert app.status(["fill", "--help"]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= limit


def test_every_command_and_every_option_is_explained(capsys):
    for name in commands.listed():
        whole = ["--why"] if name in ("fill", "core", "measure") else []
        assert app.status([name, "--help", *whole]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert lines[0].startswith(f"laminate {name} ")
        bare = [line for line in lines if line.startswith("--") and len(line.split("  ", 1)) < 2]
        starts = [lines[lines.index(line) + 1] for line in bare]
        assert all(line.startswith("  ") for line in starts), f"{name}: {bare}"


def test_no_command_is_a_wrong_call_that_shows_the_help(capsys):
    assert app.status([]) == 2
    assert "laminate COMMAND" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["exmple", "x"], "exmple: unknown command; did you mean 'example'?"),
        (["example", "--jsn", "x"], "--jsn: unknown option; did you mean '--json'?"),
        (
            ["example"],
            "DIR is missing: where to write; made where it does not exist; "
            "'laminate example --help' shows the call",
        ),
        (
            ["example", "a", "b"],
            "b: one argument too many; 'laminate example --help' shows the call",
        ),
        (["--versio"], "--versio: unknown option; did you mean '--version'?"),
    ],
)
def test_a_wrong_call_is_one_sentence(arguments, sentence, capsys):
    assert app.status(arguments) == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", f"{sentence}\n")


def test_a_wrong_call_in_json(capsys):
    assert app.status(["example", "x", "--jsno", "--json"]) == 2
    out, err = capsys.readouterr()
    assert err == ""
    assert json.loads(out) == {
        "format": 1,
        "problems": [
            {
                "code": "unknown-option",
                "file": "",
                "place": "--jsno",
                "found": "unknown option",
                "expected": "",
                "hint": "did you mean '--json'?",
            }
        ],
    }


@pytest.mark.parametrize("arguments", [["--offset", "-0.5 mm"], ["--offset=-0.5 mm"], ["--offset", "-5"]])
def test_a_negative_value_is_a_value(arguments, command, capsys):
    def offset(offset: Annotated[str, typer.Option(help="off center")]) -> None:
        """Say the offset."""
        print(offset)

    command(offset)
    assert app.status(["try", *arguments]) == 0
    assert capsys.readouterr().out.strip() == arguments[-1].removeprefix("--offset=")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--plies", "x"], "cli: a wrong option value names the option"),
        (["--plies"], "cli: a wrong option value names the option, 2"),
        ([], "cli: a wrong option value names the option, 3"),
    ],
)
def test_a_wrong_option_value_names_the_option(arguments, sentence, command, capsys):
    def plies(plies: Annotated[int, typer.Option(help="how many")]) -> None:
        """Say the plies."""
        print(plies)

    command(plies)
    assert app.status(["try", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert begins(sentence, err)
    assert err.count("\n") == 1


@pytest.mark.parametrize(("code", "status"), [(0, 0), (1, 1)])
def test_the_answer_no_has_its_own_status(code, status, command):
    def answer() -> None:
        """Answer."""
        raise typer.Exit(code)

    command(answer)
    assert app.status(["try"]) == status


def raising(error):
    def fail(as_json: Annotated[bool, typer.Option("--json", help="as JSON")] = False) -> None:
        """Fail."""
        raise error

    return fail


def test_an_interruption_is_quiet(command, capsys):
    command(raising(KeyboardInterrupt()))
    assert app.status(["try"]) == 130
    assert capsys.readouterr() == ("", "")


def test_a_file_that_cannot_be_read_is_named(command, capsys):
    command(raising(FileNotFoundError(2, "No such file or directory", "part.toml")))
    assert app.status(["try"]) == 2
    assert capsys.readouterr() == ("", "part.toml: no such file or directory\n")


def test_an_internal_fault_is_one_plain_line(command, capsys, monkeypatch):
    monkeypatch.delenv("LAMINATE_TRACEBACK", raising=False)
    command(raising(ZeroDivisionError("division by zero")))
    assert app.status(["try"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert reads("cli: an internal fault is one plain line", err)


def test_an_internal_fault_in_json_keeps_standard_output_clean(command, capsys, monkeypatch):
    monkeypatch.setenv("LAMINATE_TRACEBACK", "1")
    command(raising(ZeroDivisionError("division by zero")))
    assert app.status(["try", "--json"]) == 2
    out, err = capsys.readouterr()
    assert json.loads(out)["problems"][0]["code"] == "internal-fault"
    assert "Traceback" in err
    assert "division by zero" in err


def test_a_closed_pipe_is_quiet():
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "laminate", "--help"],
        stdout=write,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(write)
    assert (done.returncode, done.stderr) == (141, "")


def test_a_full_disk_is_said():
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "laminate", "--help"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert (done.returncode, done.stderr) == (2, "no space left on device\n")
