"""The page in a real terminal: typed, killed, taken up again, two at once, left."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time

import pytest

from laminate.bench.lock import lock_of
from laminate.bench.table import BenchTable
from tests.messages.wording import says

from .conftest import READINGS

pytestmark = pytest.mark.terminal
PATIENCE = 60.0


class Terminal:
    """One terminal of 80 by 24 with a shell in it."""

    def __init__(self, socket, folder):
        self.call = [shutil.which("tmux") or "tmux", "-S", str(socket), "-f", os.devnull]
        self.run("new-session", "-d", "-x", "80", "-y", "24", "-c", str(folder), "env -u COLUMNS PS1='$ ' sh")

    def run(self, *arguments):
        done = subprocess.run([*self.call, *arguments], capture_output=True, text=True, check=True)
        return done.stdout

    def type(self, *keys):
        self.run("send-keys", *keys)

    def screen(self):
        return self.run("capture-pane", "-p")

    def wait(self, words):
        end = time.monotonic() + PATIENCE
        while words not in (shown := self.screen()):
            assert time.monotonic() < end, f"no '{words}' on:\n{shown}"
            time.sleep(0.05)
        return shown


@pytest.fixture
def terminal(folder):
    opened = []

    def another():
        opened.append(Terminal(folder / f"terminal{len(opened)}", folder))
        return opened[-1]

    yield another
    for one in opened:
        one.run("kill-server")


ENTER = f"{sys.executable} -m laminate enter batch.toml --operator JM"


def entries(*texts):
    return [key for text in texts for key in (text, "Enter")]


def test_killed_taken_up_again_and_left(terminal, folder):
    path = folder / "coupons.csv"
    done = []
    for texts in (READINGS["0101"][:2], READINGS["0101"][2:5], READINGS["0101"][5:]):
        one = terminal()
        one.type(ENTER, "Enter")
        shown = one.wait("F1: all keys")
        if done:
            assert says("bench: a disk without locks believes", " ".join(shown.split()))
        one.type(*entries(*texts))
        done += texts
        one.wait(f"{30 - len(done)} cells to go")
        os.kill(json.loads(lock_of(path).read_text())["pid"], signal.SIGKILL)
        one.wait("Killed")
        cells = BenchTable(path).view.rows[0].cells
        assert [cell for cell in cells if cell in done] == done
        assert lock_of(path).exists()
    one = terminal()
    one.type(ENTER, "Enter")
    shown = one.wait("F1: all keys")
    assert "coupon 0102" in shown
    assert says("bench: killed taken up again and left", shown)
    two = terminal()
    two.type(f"clear; {ENTER}; echo status $?", "Enter")
    refused = two.wait("status 2")
    assert says("bench: two at once is refused", refused.replace("\n", ""))
    one.type("PageUp")
    shown = one.wait("coupon 0101")
    for words in ("58.74 ± 0.31 %", "1.54524 ± 0.00043 g/cm³", "0.59 ± 0.40 %"):
        assert words in shown
    one.type("F10")
    one.wait("still to be filled in")
    assert not lock_of(path).exists()
    two.type(f"clear; {ENTER} --json > out.json; echo status $?", "Enter")
    two.wait("coupon 0102")
    two.type(*entries("1.4609"), "C-q")
    two.wait("status 0")
    assert '"kept":1' in (folder / "out.json").read_text()
    two.type(f"clear; {ENTER}; echo status $?", "Enter")
    two.wait("F1: all keys")
    two.type("0.51", "C-c")
    assert "'0.51'" in two.wait("status 130")


def test_a_doubt_survives_a_kill_and_blind_typing(terminal, folder):
    path = folder / "coupons.csv"
    one = terminal()
    one.type(ENTER, "Enter")
    one.wait("F1: all keys")
    one.type(*entries(*READINGS["0101"][:8], "3.871"))
    one.wait("Saved, please check")
    one.type(*entries("2.868", "2.868"))
    one.wait("NOT RECORDED: 2.868, 2.868")
    os.kill(json.loads(lock_of(path).read_text())["pid"], signal.SIGKILL)
    one.wait("Killed")
    kept = BenchTable(path)
    row = kept.view.rows[0].number
    assert [kept.text(row, f"thickness {n}") for n in (1, 2, 3)] == ["2.873", "3.871", ""]
    two = terminal()
    two.type(ENTER, "Enter")
    shown = two.wait("F1: all keys")
    assert "> thickness 3" in " ".join(shown.split())
    assert "?" in shown
    two.type("Up", "Delete", *entries("read wrongly", "2.871", "2.872"))
    two.wait("coupon 0102")
    two.type("F10")
    two.wait("still to be filled in")
    assert [BenchTable(path).text(row, f"thickness {n}") for n in (2, 3)] == ["2.871", "2.872"]


def test_what_is_refused_is_folded_between_words(terminal, folder):
    """A sentence longer than the screen ends its lines at blanks."""
    one = terminal()
    one.type(f"clear; {ENTER} --table coupons.xlsx; echo status $?", "Enter")
    shown = " ".join(line.strip() for line in one.wait("status 2").splitlines())
    assert says("bench: a workbook is not filled in here", shown)
