"""What a shell is told where a person presses Tab."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from laminate.cli import completing


@pytest.fixture
def asked(shop, monkeypatch):
    def ask(line):
        words = line.split(" ")
        monkeypatch.setenv(completing.VARIABLE, "complete_bash")
        monkeypatch.setenv("COMP_WORDS", line)
        monkeypatch.setenv("COMP_CWORD", str(len(words) - 1))
        assert completing.answer() == 0
        return shop.capsys.readouterr().out.split()

    return ask


def test_commands(asked):
    assert asked("laminate pre") == ["predict"]
    assert {"report", "record"} & set(asked("laminate rep")) == {"report"}


def test_options(asked):
    assert set(asked("laminate measure --bal")) >= {"--balance", "--balance-calibration"}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("laminate fill part.toml --zone ", ["web", "skin"]),
        ("laminate fill part.toml --zone w", ["web"]),
        ("laminate fill part.toml --plies s", ["skin="]),
        ("laminate core part.toml --core ", ["fore"]),
        ("laminate core missing.toml --core ", []),
        ("laminate sign --role re", ["reviewed", "released", "rejected"]),
        ("laminate verify record.json --need re", ["reviewed", "released", "rejected"]),
        ("laminate trend kept --need p", ["prepared"]),
        ("laminate materials --kind ", ["tool", "core", "fiber", "resin", "laminate"]),
        ("laminate schema b", ["batch"]),
        ("laminate example new --case pa", ["paddle", "panel"]),
        ("laminate report batch.toml --units ", ["metric", "us"]),
    ],
)
def test_names_of_the_file_and_words(line, words, asked):
    assert sorted(asked(line)) == sorted(words)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_the_lines_that_make_a_shell_ask(shell, shop, monkeypatch):
    monkeypatch.setenv(completing.VARIABLE, f"source_{shell}")
    assert completing.answer() == 0
    assert f"{completing.VARIABLE}" in shop.capsys.readouterr().out


@pytest.mark.shells
@pytest.mark.parametrize(
    ("line", "words"),
    [("laminate fill part.toml --zone ", {"web", "skin"}), ("laminate sign x --role rel", {"released"})],
)
def test_fish_completes(shop, line, words):
    lines = f"_LAMINATE_COMPLETE=source_fish laminate | source; complete -C '{line}'"
    assert words <= set(in_shell(["fish", "--no-config", "-c", lines], shop).split())


@pytest.mark.shells
def test_zsh_takes_the_lines_and_asks_with_them(shop):
    """The words that zsh hands to `_arguments`, from the function that its own lines define."""
    lines = (
        "autoload -Uz compinit; compinit -u -D; "
        'eval "$(_LAMINATE_COMPLETE=source_zsh laminate)"; '
        "_arguments() { print -r -- $@ }; _describe() { print -r -- ${(P)2} $@ }; "
        "words=(laminate fill part.toml --zone s); CURRENT=5; $_comps[laminate]"
    )
    assert "skin" in in_shell(["zsh", "-f", "-c", lines], shop)


def in_shell(call, shop):
    """What a shell prints, with this environment's program first on its path."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    made = subprocess.run(
        call, cwd=shop.folder, env={**os.environ, "PATH": path}, capture_output=True, check=True, timeout=120
    )
    return made.stdout.decode()
