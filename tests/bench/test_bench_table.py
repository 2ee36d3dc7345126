"""The table on the disk: one cell changes, everything else stays, and a failing disk changes nothing."""

import errno
import os
import stat

import pytest

from laminate.bench.table import BenchTable, Changed
from laminate.files.coupons import COLUMNS, read_coupons
from laminate.files.named_file import NamedFile
from laminate.files.tables import read_table
from laminate.values import durable
from laminate.values.problems import Refused
from tests.messages.wording import says

MESSY = (
    "Coupons of Friday;;\r\n"
    "\r\n"
    "Specimen;colour;Mass_in_air (g);Thickness 1 [mm];remark\r\n"
    '0012;"red; dark";1,4427;2,871;"said ""again"""\r\n'
    "0013;blue;;2,9;\r\n"
    "mean;;;;\r\n"
)


@pytest.fixture
def messy(tmp_path):
    path = tmp_path / "messy.csv"
    path.write_bytes(MESSY.encode())
    return BenchTable(path, "messy.csv")


def test_only_the_row_that_changes_is_written_anew(messy):
    messy.keep({(5, "mass in air"): "1,5000"})
    assert messy.path.read_bytes().decode() == MESSY.replace("0013;blue;;", "0013;blue;1,5000;")
    assert messy.text(5, "mass in air") == "1,5000"
    assert [problem.code for problem in messy.told] == ["unknown-column"]


def test_a_row_written_anew_keeps_the_cells_nobody_knows(messy):
    messy.keep({(4, "thickness 1"): "2,872"})
    assert messy.path.read_bytes().decode() == MESSY.replace("2,871", "2,872")


def test_missing_columns_come_last_and_leave_what_the_other_rows_say_alone(messy):
    messy.keep({(5, "operator"): "JM", (5, "thickness 2"): "2,8"})
    lines = messy.path.read_bytes().decode().split("\r\n")
    assert lines[2].endswith(";remark;operator;thickness 2 [mm]")
    assert lines[3] == MESSY.split("\r\n")[3] + ";;"
    assert lines[4:6] == ["0013;blue;;2,9;;JM;2,8", "mean;;;;"]
    assert (messy.text(5, "operator"), messy.text(4, "operator")) == ("JM", "")


def test_a_column_more_makes_no_row_a_short_one_and_one_that_was_stays_so(tmp_path):
    """A row that ends before a column of numbers may have lost a cell: those are told, and no others."""
    path = tmp_path / "t.csv"
    path.write_bytes(
        b'specimen,thickness 1 [mm],mass in air [g],remark\n1,2.5,1.5,"a, b"\n2,1.6\n3,2.6,1.7\n'
    )
    table = BenchTable(path)
    table.add_column("thickness 2")
    table.keep({(2, "thickness 2"): "2.51", (2, "operator"): "JM"})
    head, *rows = path.read_text("utf-8").splitlines()
    assert [head.count(","), *rows] == [5, '1,2.5,1.5,"a, b",2.51,JM', "2,1.6", "3,2.6,1.7,,,"]
    (told,) = (note for note in table.view.notes if "cells" in note)
    assert ("row 3 ('2', 2 of " in told, "row 4" in told) == (True, False)


def test_new_rows_stand_below_the_specimens_and_above_the_means(messy):
    messy.keep({}, [{"specimen": "0014", "thickness 1": "2,7"}])
    lines = messy.path.read_bytes().decode().split("\r\n")
    assert lines[5:7] == ["0014;;;2,7;", "mean;;;;"]
    (table,) = read_table(NamedFile.at(messy.path), known=COLUMNS, problems=[])
    assert [row.cells[0] for row in table.rows] == ["0012", "0013", "0014"]


def test_a_last_line_without_end_gets_one(tmp_path):
    path = tmp_path / "t.csv"
    path.write_bytes(b"specimen,thickness [mm]\n1,2.5")
    BenchTable(path).keep({}, [{"specimen": "2"}])
    assert path.read_bytes() == b"specimen,thickness [mm]\n1,2.5\n2,\n"


def test_a_header_alone_takes_its_first_row(tmp_path):
    path = tmp_path / "t.csv"
    path.write_bytes(b"specimen,thickness,lot\n,mm,\n")
    table = BenchTable(path)
    assert (table.labels, table.view.rows) == (["specimen", "thickness", "lot"], ())
    table.keep({}, [{"specimen": "0012", "thickness": "2.5"}])
    coupons = read_coupons([NamedFile(path, "t.csv")]).coupons
    assert [(c.specimen, c.numbers["thickness"]) for c in coupons] == [("0012", 0.0025)]


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", b""),
        ("utf-8-sig", b"\xef\xbb\xbf"),
        ("cp1252", b"\xef\xbb\xbf"),
        ("utf-16", b"\xef\xbb\xbf"),
    ],
)
def test_whatever_the_encoding_the_words_stay(tmp_path, encoding, mark):
    path = tmp_path / "t.csv"
    path.write_bytes("specimen,thickness [mm],remark\n0012,,größer\n".encode(encoding))
    table = BenchTable(path)
    table.keep({(2, "thickness"): "2.5"})
    assert path.read_bytes() == mark + "specimen,thickness [mm],remark\n0012,2.5,größer\n".encode()


def test_what_another_program_wrote_is_not_overwritten(messy):
    theirs = MESSY.replace("blue", "green").encode()
    messy.path.write_bytes(theirs)
    with pytest.raises(Changed) as caught:
        messy.keep({(5, "mass in air"): "1,5"})
    assert says("bench: what another program wrote", str(caught.value))
    assert messy.path.read_bytes() == theirs
    messy.keep({(5, "mass in air"): "1,5"})
    assert b"0013;green;1,5" in messy.path.read_bytes()


def test_mode_and_link_of_the_file_stay(messy, tmp_path):
    messy.path.chmod(0o640)
    link = tmp_path / "link.csv"
    link.symlink_to(messy.path)
    BenchTable(link).keep({(5, "mass in air"): "1,5"})
    assert link.is_symlink()
    assert stat.S_IMODE(messy.path.stat().st_mode) == 0o640
    assert b"0013;blue;1,5" in messy.path.read_bytes()


def test_the_content_is_synced_before_it_takes_its_place_and_the_folder_after(messy, monkeypatch):
    steps = []
    fsync, replace = os.fsync, os.replace

    def synced(handle):
        steps.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        fsync(handle)

    def replaced(old, new):
        steps.append("rename")
        replace(old, new)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "replace", replaced)
    messy.keep({(5, "mass in air"): "1,5"})
    assert steps == ["file", "rename", "folder"]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "bench: a full disk is said and the reading"),
        (errno.EROFS, "bench: a failing disk is said and changes, 2"),
        (errno.EACCES, "bench: a failing disk is said and changes, 3"),
        (errno.EIO, "bench: a failing disk is said and changes, 4"),
    ],
)
@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failing_disk_is_said_and_changes_nothing(messy, monkeypatch, number, words, step):
    def fail(*_):
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as patched:
        patched.setattr(os, step, fail)
        with pytest.raises(Refused) as refused:
            messy.keep({(5, "mass in air"): "1,5"})
    assert str(refused.value).startswith("messy.csv: ")
    assert says(words, str(refused.value))
    assert says("bench: a failing disk is said and changes", str(refused.value))
    assert messy.path.read_bytes() == MESSY.encode()
    assert sorted(path.name for path in messy.path.parent.iterdir()) == ["messy.csv"]
    messy.keep({(5, "mass in air"): "1,5"})
    assert messy.text(5, "mass in air") == "1,5"


def test_a_folder_that_cannot_be_made_a_file_in_is_said(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(OSError, match="Not a directory") as failed:
        durable.replace_file(tmp_path / "file" / "t.csv", b"")
    assert durable.disk_problem(failed.value, "t.csv").code == "file-access"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"\x00\x01\x02\xff\xfe", "not-text"),
        (b"nothing,here\n1,2\n", "header-missing"),
        (b"zone,thickness [mm]\nweb,2.5\n", "missing-column"),
        (b'specimen,thickness [mm]\n1,"2.5\n', "broken-quotes"),
        (b"specimen;thickness [mm];width [mm]\n1;2,5;3.5\n", "mixed-decimals"),
    ],
)
def test_what_is_no_table_is_refused(tmp_path, content, code):
    path = tmp_path / "t.csv"
    path.write_bytes(content)
    with pytest.raises(Refused) as refused:
        BenchTable(path)
    assert code in [problem.code for problem in refused.value.problems]
    assert path.read_bytes() == content
