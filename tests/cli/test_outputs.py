"""Where an answer goes, what is read, and what is left when something stands in the way."""

import io
import json
import os
import subprocess
import sys
import threading
import time

import pytest

from laminate.cli import app
from laminate.files.named_file import NamedFile
from laminate.files.toml import load
from laminate.show.blocks import Grid, Sentence
from laminate.show.terminal import answer_lines
from laminate.values import durable
from laminate.values.problems import Refused
from tests.messages.wording import says

POSIX = pytest.mark.skipif(os.name != "posix", reason="devices and pipes of a POSIX system")


@POSIX
@pytest.mark.parametrize(
    "arguments", [["materials", "--json"], ["materials"], ["report", "none.toml", "--json"]]
)
def test_an_output_that_fails_is_exit_2_and_said(arguments):
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "laminate", *arguments], stdout=full, stderr=-1, check=False
        )
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr
    assert done.stderr


@POSIX
@pytest.mark.parametrize("arguments", [["materials", "--json"], ["materials"], ["--help"]])
def test_a_closed_output_is_exit_2_and_said(arguments):
    closed = [sys.executable, "-c", "import os, sys; os.close(1); os.execv(sys.executable, sys.argv[1:])"]
    call = [sys.executable, "-m", "laminate", *arguments]
    done = subprocess.run([*closed, *call], stderr=-1, check=False)
    assert (done.returncode, b"Traceback" in done.stderr, done.stderr.count(b"\n")) == (2, False, 1)


@POSIX
@pytest.mark.parametrize(("arguments", "status"), [(["materials"], 0), (["report", "none.toml"], 2)])
def test_closed_standard_error_leaves_the_answer_and_the_status(arguments, status):
    closed = [sys.executable, "-c", "import os, sys; os.close(2); os.execv(sys.executable, sys.argv[1:])"]
    done = subprocess.run([*closed, sys.executable, "-m", "laminate", *arguments], stdout=-1, check=False)
    assert (done.returncode, bool(done.stdout)) == (status, status == 0)


@POSIX
def test_a_page_is_written_through_a_pipe_and_other_files_refuse_it(tmp_path, checkout, capsys):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    got = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    batch = str(checkout / "examples/mast/batch.toml")
    app.status(["report", batch, "--html", str(pipe), "--json"])
    reader.join(20)
    assert got[0].startswith(b"<!DOCTYPE html>")
    with pytest.raises(Refused) as refused:
        durable.write_whole(pipe, b"x")
    assert refused.value.problems[0].code == "not-a-file"


def test_of_two_files_the_one_that_is_a_folder_is_named(tmp_path):
    (tmp_path / "report.html").mkdir()
    with pytest.raises(Refused) as refused:
        durable.write_together({tmp_path / "record.json": b"x", tmp_path / "report.html": b"x"})
    (problem,) = refused.value.problems
    assert (problem.code, problem.file) == ("not-a-file", str(tmp_path / "report.html"))
    assert not (tmp_path / "record.json").exists()


@pytest.mark.parametrize("folder", [".", "..", "/"])
@pytest.mark.parametrize("command", ["measure", "report", "fill", "core", "predict", "cycle", "correct"])
def test_a_folder_in_the_place_of_a_file_is_named(command, folder, capsys):
    assert app.status([command, folder, "--json"]) == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["code"], problem["file"]) == ("file-is-a-directory", folder)


@POSIX
def test_a_pipe_or_a_device_is_not_read(tmp_path):
    os.mkfifo(tmp_path / "part.toml")
    for path in (tmp_path / "part.toml", durable.Path("/dev/zero")):
        with pytest.raises(Refused) as refused:
            load(NamedFile(path, "part.toml"))
        assert refused.value.problems[0].code == "file-unreadable"


def test_a_file_larger_than_its_kind_is_not_read(tmp_path):
    path = tmp_path / "part.toml"
    with path.open("wb") as file:
        file.truncate(durable.MOST_TEXT + 1)
    with pytest.raises(Refused) as refused:
        load(NamedFile(path, "part.toml"))
    assert (refused.value.problems[0].code, "4 MiB" in refused.value.problems[0].found) == (
        "file-unreadable",
        True,
    )


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a = 1\nb = " + "[" * 1500, "line 2, column 69"),
        ("b = " + "{a=" * 1500, "line 1, column 197"),
        ("[" + "a." * 1500 + "a]", "line 1, column 2"),
        ("a = 1\nb = " + "9" * 5000, "line 2, column 5"),
    ],
)
def test_deep_or_huge_toml_is_a_finding_with_its_place(tmp_path, text, place):
    (tmp_path / "part.toml").write_text(text)
    with pytest.raises(Refused) as refused:
        load(NamedFile(tmp_path / "part.toml", "part.toml"))
    assert [(one.code, one.place) for one in refused.value.problems] == [("not-toml", place)]


def test_brackets_in_text_and_remarks_do_not_count(tmp_path):
    text = f'a = "{"[" * 99}"\n# {"{" * 99}\nb = """\n{"[" * 99}"""\nc = \'{"[" * 99}\'\n'
    (tmp_path / "part.toml").write_text(text)
    assert set(load(NamedFile(tmp_path / "part.toml", "part.toml"))[0]) == {"a", "b", "c"}


def test_two_files_change_together_or_neither(tmp_path, monkeypatch):
    one, two = tmp_path / "record.json", tmp_path / "report.html"
    durable.write_together({one: b"1", two: b"1"})
    honest, calls = os.replace, []

    def failing(old, new):
        calls.append(new)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        honest(old, new)

    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(Refused) as refused:
        durable.write_together({one: b"2", two: b"2"})
    assert (one.read_bytes(), two.read_bytes()) == (b"1", b"1")
    assert says("bench: a failing disk is said and changes", refused.value.problems[0].hint)
    assert sorted(path.name for path in tmp_path.iterdir()) == [durable.LOCK, "record.json", "report.html"]


def test_a_new_pair_that_fails_leaves_no_file(tmp_path, monkeypatch):
    honest, calls = os.replace, []

    def failing(old, new):
        calls.append(new)
        if len(calls) == 2:
            raise OSError(5, "Input/output error")
        honest(old, new)

    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(Refused):
        durable.write_together({tmp_path / "record.json": b"2", tmp_path / "report.html": b"2"})
    assert [path.name for path in tmp_path.iterdir()] == [durable.LOCK]


def test_two_at_once_leave_one_whole_pair(tmp_path):
    one, two = tmp_path / "record.json", tmp_path / "report.html"

    def write(what):
        for _ in range(20):
            durable.write_together({one: what, two: what})

    threads = [threading.Thread(target=write, args=(bytes([65 + n]) * 5000,)) for n in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert one.read_bytes() == two.read_bytes()


def test_a_draft_that_a_killed_call_left_is_removed_and_a_fresh_one_is_not(tmp_path):
    old, fresh = durable.draft_beside(tmp_path / "x"), durable.draft_beside(tmp_path / "x")
    assert old != fresh
    for draft in (old, fresh):
        draft.write_bytes(b"half")
    os.utime(old, (time.time() - 2 * durable.LEFT_BEHIND,) * 2)
    durable.write_whole(tmp_path / "x", b"whole")
    assert (old.exists(), fresh.exists()) == (False, True)


def test_a_table_of_results_is_written_whole(tmp_path, checkout, capsys):
    path = tmp_path / "results.csv"
    batch = str(checkout / "examples/mast/batch.toml")
    assert app.status(["measure", batch, "--table", str(path), "--json"]) == 0
    json.loads(capsys.readouterr().out)
    assert len(path.read_text("utf-8").splitlines()) > 1


def test_a_screen_of_ascii_has_its_signs_in_ascii_within_its_width():
    """A rule is as wide as the table, and ± is written as the files read it."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    blocks = [Sentence("1.5 ± 0.1 g/cm^3 at 23 degC, 2 × 3 – 4"), Grid(("a", "b"), (("0.5–0.6", "1 ± 2"),))]
    lines = answer_lines(blocks, 80, stream)
    assert "".join(lines).isascii()
    assert lines[0] == "1.5 +/- 0.1 g/cm^3 at 23 degC, 2 x 3 - 4"
    assert lines[-2:] == ["-" * len(lines[-1]), "0.5-0.6  1 +/- 2"]  # the rule above the row
    latin = answer_lines(blocks, 80, io.TextIOWrapper(io.BytesIO(), encoding="latin-1"))
    assert "".join(latin).encode("latin-1")
