"""One person at a time: who has the table is said, and a session that died leaves it free."""

import errno
import fcntl
import json
import os
import signal
import socket
import subprocess
import sys

import pytest

from laminate.bench.lock import held, lock_of, user
from laminate.values.problems import Refused
from tests.messages.wording import begins, says

HOLD = """
import sys, time
from pathlib import Path
from laminate.bench.lock import held
with held(Path(sys.argv[1]), "t.csv"):
    print("held", flush=True)
    time.sleep(60)
"""


@pytest.fixture
def other(tmp_path):
    """Another process that has the table."""
    call = [sys.executable, "-c", HOLD, str(tmp_path / "t.csv")]
    with subprocess.Popen(call, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield process
        process.kill()


def test_the_second_is_told_who_has_it(tmp_path, other):
    with pytest.raises(Refused) as refused, held(tmp_path / "t.csv", "t.csv"):
        pass
    sentence = str(refused.value)
    assert begins("bench: the second is told who has it", sentence, who=f"{user()} on {socket.gethostname()}")
    assert f"(process {other.pid})" in sentence


def test_not_even_taking_over_takes_it_from_the_living(tmp_path, other):
    with pytest.raises(Refused), held(tmp_path / "t.csv", "t.csv", take_over=True):
        pass
    assert lock_of(tmp_path / "t.csv").exists()


def test_a_killed_session_leaves_it_free_and_is_told(tmp_path, other):
    other.send_signal(signal.SIGKILL)
    other.wait()
    assert lock_of(tmp_path / "t.csv").exists()
    with held(tmp_path / "t.csv", "t.csv") as said:
        assert begins("bench: the session of another", said, who=f"{user()} on {socket.gethostname()}")
        assert json.loads(lock_of(tmp_path / "t.csv").read_text())["pid"] == os.getpid()
    assert not lock_of(tmp_path / "t.csv").exists()


def test_left_in_order_nothing_is_said(tmp_path):
    for _ in range(2):
        with held(tmp_path / "t.csv", "t.csv") as said:
            assert said == ""
    assert list(tmp_path.iterdir()) == []


def test_a_session_on_another_computer_may_still_live(tmp_path):
    theirs = {"user": "ann", "host": "elsewhere", "pid": 1, "since": "2026-11-20 14:02"}
    lock_of(tmp_path / "t.csv").write_text(json.dumps(theirs))
    with pytest.raises(Refused, match="ann on elsewhere") as refused, held(tmp_path / "t.csv", "t.csv"):
        pass
    assert "--take-over" in str(refused.value)
    with held(tmp_path / "t.csv", "t.csv", take_over=True) as said:
        assert says("bench: a session on another computer may", said)


@pytest.mark.parametrize(("pid", "free"), [("mine", False), ("gone", True), ("none", True)])
def test_a_disk_without_locks_believes_the_process_named(tmp_path, monkeypatch, pid, free):
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    process = {"mine": os.getpid(), "gone": gone.pid, "none": "x"}[pid]
    theirs = {"user": "ann", "host": socket.gethostname(), "pid": process, "since": "2026-11-20 14:02"}
    lock_of(tmp_path / "t.csv").write_text(json.dumps(theirs))

    def no_locks(*_):
        raise OSError(errno.EOPNOTSUPP, "not supported")

    monkeypatch.setattr(fcntl, "flock", no_locks)
    if free:
        with held(tmp_path / "t.csv", "t.csv") as said:
            assert says("bench: a disk without locks believes", said)
    else:
        with pytest.raises(Refused, match="ann on"), held(tmp_path / "t.csv", "t.csv"):
            pass


def test_an_unreadable_lock_file_is_no_hindrance(tmp_path):
    lock_of(tmp_path / "t.csv").write_bytes(b"\xff\x00 half a li")
    with held(tmp_path / "t.csv", "t.csv") as said:
        assert said == ""
