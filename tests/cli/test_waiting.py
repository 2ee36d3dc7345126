"""A call that takes over a second shows on a terminal that it is at work, and takes that away again."""

import io
import sys
import time

import pytest

from laminate.cli import app, waiting


class Terminal(io.StringIO):
    """A stream that says it is a terminal, and notes what else has been written when it is written to."""

    def isatty(self):
        return True


@pytest.fixture
def slow(monkeypatch):
    """A program of one call that computes for a while, then prints, then computes again."""
    monkeypatch.setattr(waiting, "AFTER", 0.02)
    monkeypatch.setattr(waiting, "EVERY", 0.01)

    def run(arguments):
        time.sleep(0.2)
        print("the answer")
        time.sleep(0.1)
        return 0

    monkeypatch.setattr("laminate.cli.program.run", run)


def test_a_long_call_shows_its_sign_and_wipes_it_before_the_answer(slow, monkeypatch):
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setattr(sys, "stdout", screen)
    assert app.status(["report", "batch.toml"]) == 0
    before, _, after = screen.getvalue().partition("the answer")
    assert "report: at work" in before
    assert before.endswith(waiting.WIPE)
    assert after == "\n"
    assert sys.stdout is screen


@pytest.mark.parametrize("command", ["report", "enter"])
def test_a_file_and_the_bench_get_no_sign(slow, monkeypatch, command, capsys):
    if command == "enter":
        monkeypatch.setattr(sys, "stderr", Terminal())
    assert app.status([command, "batch.toml"]) == 0
    assert "at work" not in (sys.stderr.getvalue() if command == "enter" else capsys.readouterr().err)


def test_a_bar_of_its_own_ends_the_sign(slow, monkeypatch):
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with waiting.Spinner("trend"):
        waiting.stop()
        written = screen.getvalue()
        time.sleep(0.1)
        assert screen.getvalue() == written


def test_a_short_call_shows_nothing(monkeypatch):
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    with waiting.Spinner("materials"):
        pass
    assert screen.getvalue() == ""
