"""Every screen of every command on every example, at 80 columns: the answer first, on one screen."""

import json
import os
import re
from dataclasses import dataclass

import pytest

from laminate.cli import app, commands
from laminate.cli.general import CASES

WIDE, MOST, LONG = 80, 40, 24
DATA = re.compile(r"^\{")
DRAWS = {"fill": ("--draws", "1000"), "core": ("--draws", "1000")}
PART = ("predict", "fill", "core", "cycle")
BATCH = (*PART, "measure", "report", "correct")
"""What reads a part file, and what reads a batch file."""
PREFIX = 12
"""Characters of an answer that its repetition at the end has at least."""


@dataclass(frozen=True)
class Screen:
    """A call with what it printed."""

    call: tuple[str, ...]
    status: int
    out: list[str]
    err: list[str]


class Rendered:
    """Calls in one folder, each as a person at 80 columns sees it."""

    def __init__(self, folder, capsys):
        self.folder, self.capsys, self.screens = folder, capsys, []

    def call(self, *arguments):
        """Call the program, and keep its screen."""
        self.capsys.readouterr()
        status = app.status(arguments)
        out, err = self.capsys.readouterr()
        made = Screen(arguments, status, out.splitlines(), err.splitlines())
        self.screens.append(made)
        return made


@pytest.fixture
def rendered(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", str(WIDE))
    return Rendered(tmp_path, capsys)


def faults(screen):
    """What a screen has against it."""
    found, lines = [], screen.out or screen.err
    call = " ".join(screen.call)
    if screen.status not in (0, 1, 2) or not lines:
        return [f"{call}: status {screen.status}, {len(lines)} lines"]
    if screen.status == 2 and (screen.out or not screen.err):
        found.append("a refusal is on standard error alone")
    if screen.status != 2 and screen.err:
        found.append(f"standard error: {screen.err[0]}")
    if screen.status == 2:
        return [f"{call}: {one}" for one in found]
    if "--why" not in screen.call and len(lines) > MOST:
        found.append(f"{len(lines)} lines")
    found += [f"wider: {line}" for line in lines if len(line) > WIDE]
    found += [f"blanks at the end: {line!r}" for line in lines if line != line.rstrip()]
    first = " ".join(_paragraph(lines))
    if not (re.search(r"\d", first) or answers(first)):
        found.append(f"no number and no decision first: {first}")
    if len(lines) > LONG and not any(_again(first, line) for line in lines[-6:]):
        found.append(f"the answer is not said again at the end: {first[:60]} / {lines[-1]}")
    return [f"{call}: {one}" for one in found]


DECISIONS = (
    "conforms",
    "does not",
    "undecided",
    "no ",
    "use ",
    "best is",
    "may ",
    "opens",
    "in time",
    "too early",
)
DECISIONS += ("cannot", "signed", "proven", "written", "nothing", "as predicted")


def answers(line):
    """Whether a line says a decision."""
    return any(word in line.casefold() for word in DECISIONS)


def _paragraph(lines):
    """The first lines, up to the end of their sentence."""
    end = next((at for at, line in enumerate(lines) if line.endswith(".") or not line), len(lines) - 1)
    return lines[: end + 1]


def _again(first, line):
    told = line.rstrip(".")
    return len(told) >= PREFIX and first.replace(",", ":").startswith(told[:PREFIX].replace(",", ":"))


def key(tmp_path):
    """A private key without a passphrase, made by ssh-keygen."""
    import subprocess

    made = ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(tmp_path / "key")]
    subprocess.run(made, check=True)
    return "key"


def of_a_case(rendered, case):
    """Every command that the files of a case can be given to."""
    rendered.call("example", "case", "--case", case)
    os.chdir("case")
    for command in PART:
        rendered.call(command, "part.toml", *DRAWS.get(command, ()))
        rendered.call(command, "part.toml", *DRAWS.get(command, ()), "--why")
    if not os.path.exists("batch.toml"):
        return
    for command in BATCH:
        rendered.call(command, "batch.toml", *DRAWS.get(command, ()))
        rendered.call(command, "batch.toml", *DRAWS.get(command, ()), "--why")
    rendered.call("sheet", "batch.toml", "--out", "blank.csv")
    rendered.call("report", "batch.toml", "--out", "kept")
    rendered.call("trend", "kept")
    rendered.call("trend", "kept", "--why")
    rendered.call("extract", "kept/record.json", "inside")
    rendered.call("sign", "kept/record.json", "--role", "prepared", "--name", "Ann Lee")
    rendered.call("verify", "kept/record.json")


@pytest.mark.parametrize("case", sorted(CASES))
def test_screens_of_an_example(case, rendered):
    of_a_case(rendered, case)
    assert len(rendered.screens) >= 9
    assert sum(screen.status != 2 for screen in rendered.screens) >= 5
    assert "\n".join(fault for screen in rendered.screens for fault in faults(screen)) == ""


PARTS = {"predict": "zones", "fill": "zones", "core": "cores", "cycle": "zones", "correct": "zones"}
ONE, EACH_MORE = 24, 8


def between(screen, parts):
    """Lines between the first answers, a paragraph each, and the last line's."""
    first, rest = [], screen.out
    for _ in range(parts):
        head = _paragraph(rest)
        first, rest = [*first, *head], rest[len(head) :]
    whole = " ".join(first)
    tail = next(
        (len(rest) - at for at in range(max(len(rest) - 8, 0), len(rest)) if _again(whole, rest[at])), 0
    )
    return len(rest) - tail


@pytest.mark.parametrize("case", sorted(CASES))
def test_one_screen_between_the_answers(case, rendered):
    """24 lines where one zone, core or cycle is answered, eight for each further one."""
    rendered.call("example", "case", "--case", case)
    os.chdir("case")
    seen = []
    for command, key_of in PARTS.items():
        file = "batch.toml" if command == "correct" else "part.toml"
        shown = rendered.call(command, file, *DRAWS.get(command, ()))
        if shown.status == 2:
            continue
        rendered.call(command, file, *DRAWS.get(command, ()), "--json")
        answer = json.loads("\n".join(rendered.screens[-1].out))
        parts = len(answer.get(key_of, [])) or 1
        lines = between(shown, 2 * parts if command == "core" else parts)  # whether it holds, when it touches
        seen.append(command)
        assert lines <= ONE + EACH_MORE * (parts - 1), f"{command}: {lines} lines of {parts} answers"
    assert len(seen) >= 2


@pytest.mark.openssh
def test_screens_of_signatures(rendered):
    rendered.call("example", "case")
    os.chdir("case")
    rendered.call("report", "batch.toml", "--out", "kept")
    made = key(rendered.folder / "case")
    who = ("--role", "prepared", "--name", "Ann Lee", "--key", made)
    line = rendered.call("sign", "--print-signer", *who)
    (rendered.folder / "case" / "signers").write_text("\n".join(line.out) + "\n")
    rendered.screens.pop()  # a line to paste is as long as its key
    rendered.call("sign", "kept/record.json", *who)
    rendered.call("verify", "kept/record.json", "--allowed-signers", "signers", "--need", "prepared")
    rendered.call("verify", "kept/record.json", "--allowed-signers", "signers", "--need", "released")
    rendered.call("trend", "kept", "--allowed-signers", "signers")
    assert [screen.status for screen in rendered.screens] == [0, 0, 0, 0, 1, 0]
    assert "\n".join(fault for screen in rendered.screens for fault in faults(screen)) == ""


def test_screens_without_files(rendered):
    for command in commands.listed():
        rendered.call(command, "--help")
        rendered.call(command, "-h")
    for command in ("fill", "core", "measure"):
        rendered.call(command, "-h", "--why")
    rendered.call("--help")
    rendered.call("--version")
    rendered.call("materials")
    for text in ("silicone", "aluminum", "epoxy", "steel", "carbon"):
        rendered.call("materials", text)
    for use in ("tool", "core", "fiber", "resin", "laminate"):
        rendered.call("materials", "--kind", use)
    rendered.call("schema")
    helps = [screen for screen in rendered.screens if {"--help", "-h"} & set(screen.call)]
    assert [screen.out[0].startswith("laminate ") for screen in helps] == [True] * len(helps)
    told = [fault for screen in rendered.screens for fault in faults(screen)]
    assert "\n".join(one for one in told if "no number" not in one and "not said again" not in one) == ""


def test_what_a_batch_fills_in_has_one_screen(rendered):
    """The schemas are data, and their text is JSON however wide."""
    for kind in ("part", "batch", "record"):
        made = rendered.call("schema", kind)
        assert (made.status, made.err) == (0, [])
        assert json.loads("\n".join(made.out))["$schema"]
