"""`extract` writes the files inside a record again: below its folder, all or none."""

import base64
import json
import os
from hashlib import sha256

import pytest

from laminate.cli import app
from laminate.judging.reported import report
from laminate.records.record import inputs_of, seal
from laminate.values.canonical import canonical
from tests.messages.wording import says

from .seal_again import FROZEN, again


def called(capsys, *arguments):
    status = app.status(["extract", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.fixture
def kept(tmp_path):
    path = tmp_path / "kept.json"
    path.write_bytes(again((FROZEN / "0.1.0.json").read_bytes()))
    return path


def files_below(folder):
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_what_it_writes_is_judged_to_the_same_record(kept, tmp_path, capsys):
    status, out, _ = called(capsys, kept, tmp_path / "out", "--json")
    answer = json.loads(out)
    assert (status, answer["format"], answer["proven"]) == (0, 1, None)
    assert [row["role"] for row in answer["files"]] == ["batch", "part", "coupons", "coupons"]
    for row in answer["files"]:
        with open(row["file"], "rb") as file:
            assert sha256(file.read()).hexdigest() == row["sha256"]
    assert files_below(tmp_path) == {
        "kept.json", "out/part.toml", "out/in/batch.toml", "out/in/web.csv", "out/in/skin and prepreg.csv",
    }  # fmt: skip
    assert seal(report(tmp_path / "out/in/batch.toml")) == kept.read_bytes()
    assert answer["batch"] == str(tmp_path / "out/in/batch.toml")


def test_an_empty_folder_is_taken_and_a_full_one_left_alone(kept, tmp_path, capsys):
    out = tmp_path / "out"
    out.mkdir()
    assert called(capsys, kept, out)[0] == 0
    before = files_below(out)
    status, _, err = called(capsys, kept, out)
    assert (status, says("record: an empty folder is taken and a full", " ".join(err.split()))) == (2, True)
    assert files_below(out) == before


def test_a_link_is_no_folder_to_write_into(kept, tmp_path, capsys):
    (tmp_path / "elsewhere").mkdir()
    os.symlink(tmp_path / "elsewhere", tmp_path / "out")
    assert called(capsys, kept, tmp_path / "out")[0] == 2
    assert files_below(tmp_path / "elsewhere") == set()


def rewritten(kept, change):
    content = json.loads(kept.read_bytes())
    change(content["inputs"])
    kept.write_bytes(canonical(content))


@pytest.mark.parametrize(
    "change",
    [
        lambda rows: rows[1].update(file="/etc/part.toml"),
        lambda rows: rows[1].update(sha256="0" * 64),
        lambda rows: rows[2].update(file="../part.toml/web.csv"),
        lambda rows: rows[2].update(file="a" * 300),
        lambda rows: rows[2].update(base64=base64.b64encode(b"x").decode()),
    ],
)
@pytest.mark.parametrize("there", [True, False])
def test_nothing_is_left_where_one_file_cannot_be_written(kept, tmp_path, capsys, change, there):
    rewritten(kept, change)
    out = tmp_path / "out"
    if there:
        out.mkdir()
    status, said, _ = called(capsys, kept, out, "--json")
    assert status == 2
    assert json.loads(said)["problems"]
    assert files_below(tmp_path) == {"kept.json"}
    assert out.exists() is there


def test_what_is_no_record_is_refused(tmp_path, capsys):
    (tmp_path / "kept.json").write_text("{}")
    assert called(capsys, tmp_path / "kept.json", tmp_path / "out")[0] == 2
    assert not (tmp_path / "out").exists()


def test_a_record_of_format_1_gives_its_files_too(tmp_path, capsys):
    old = FROZEN.parent / "older/format-1.json"
    assert called(capsys, old, tmp_path / "out")[0] == 0
    assert len(files_below(tmp_path / "out")) == len(inputs_of(old.read_bytes()))


def test_a_folder_within_a_name_that_goes_back_is_made(shop, tmp_path, capsys):
    (tmp_path / "web").mkdir()
    shop.change("batch.toml", '"coupons.csv"', '"web/../coupons.csv"')
    (tmp_path / "record.json").write_bytes(seal(report(tmp_path / "batch.toml")))
    assert called(capsys, tmp_path / "record.json", tmp_path / "out")[0] == 0
    assert seal(report(tmp_path / "out/batch.toml")) == (tmp_path / "record.json").read_bytes()
