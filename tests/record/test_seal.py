"""A record is made of its inputs alone: equal content is equal bytes, and every byte of an input counts."""

import base64
import json
import os
import shutil
from hashlib import sha256
from pathlib import Path

import jsonschema
import pytest

from laminate.judging.reported import report
from laminate.records.record import inputs_of, recompute, seal
from laminate.show.schemas import schema
from laminate.values.canonical import canonical
from laminate.values.problems import Refused
from tests.messages.wording import says


def sealed(folder, name="batch.toml"):
    return seal(report(folder / name))


def test_the_same_inputs_elsewhere_give_the_same_bytes(shop, tmp_path, monkeypatch):
    whole = sealed(tmp_path)
    other = tmp_path / "somebody's folder" / "deeper"
    shutil.copytree(tmp_path, other, ignore=lambda *_: ["somebody's folder"])
    assert sealed(other) == whole
    assert seal(report(Path("batch.toml"))) == whole
    monkeypatch.chdir(other.parent)
    assert seal(report(Path("deeper/batch.toml"))) == whole
    assert seal(report(Path("deeper/../deeper/batch.toml"))) == whole
    assert b"somebody" not in whole
    assert str(tmp_path).encode() not in whole


def test_time_and_place_leave_no_trace(shop, tmp_path, monkeypatch):
    whole = sealed(tmp_path)
    for file in tmp_path.iterdir():
        os.utime(file, (1, 1))
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    monkeypatch.setenv("LANG", "de_DE.UTF-8")
    assert sealed(tmp_path) == whole


def test_it_is_canonical_and_has_twelve_digits(shop, tmp_path):
    whole = sealed(tmp_path)
    content = json.loads(whole)
    assert canonical(content) == whole
    assert {"answer", "characteristics", "concession", "format", "program", "settings"} <= content.keys()

    def numbers(value):
        if isinstance(value, dict | list):
            for inner in value.values() if isinstance(value, dict) else value:
                yield from numbers(inner)
        elif isinstance(value, float):
            yield value

    found = list(numbers(content))
    assert len(found) > 100
    assert [number for number in found if float(f"{number:.11e}") != number] == []


def test_the_bytes_of_every_input_are_in_it(shop, tmp_path):
    whole = sealed(tmp_path)
    rows = json.loads(whole)["inputs"]
    assert [(row["role"], row["file"]) for row in rows] == [
        ("batch", "batch.toml"),
        ("part", "part.toml"),
        ("coupons", "coupons.csv"),
    ]
    for row in rows:
        data = (tmp_path / row["file"]).read_bytes()
        assert base64.b64decode(row["base64"]) == data
        assert row["sha256"] == sha256(data).hexdigest()
    assert {one.name: one.data for one in inputs_of(whole)} == {
        row["file"]: (tmp_path / row["file"]).read_bytes() for row in rows
    }


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("batch.toml", "# What happened", "# what happened"),
        ("part.toml", "are invented", "are Invented"),
        ("coupons.csv", "1.4427", "1.4428"),
        ("batch.toml", 'serials = "031-01', 'serials = "031-02'),
    ],
)
def test_one_byte_of_an_input_changes_the_record(shop, tmp_path, name, old, new):
    before = sealed(tmp_path)
    shop.change(name, old, new)
    after = sealed(tmp_path)
    assert after != before
    assert recompute(after).findings == recompute(before).findings == ()


def test_several_tables_and_zones_and_a_part_in_another_folder(shop, tmp_path):
    folder = tmp_path / "batches" / "26-031"
    folder.mkdir(parents=True)
    (folder / "skin").mkdir()
    lines = shop.read("coupons.csv").splitlines()
    skin = [line.replace(",web,", ",skin,").replace("010", "020", 1) for line in lines]
    (folder / "skin/table.csv").write_text("\n".join(skin), "utf-8")
    for name in ("batch.toml", "coupons.csv"):
        (tmp_path / name).rename(folder / name)
    batch = (folder / "batch.toml").read_text("utf-8")
    batch = batch.replace('part = "part.toml"', 'part = "../../part.toml"')
    batch = batch.replace('["coupons.csv"]', '["coupons.csv", "skin/../skin/table.csv"]')
    (folder / "batch.toml").write_text(batch, "utf-8")
    whole = sealed(folder)
    content = json.loads(whole)
    names = [row["file"] for row in content["inputs"]]
    assert names == ["batch.toml", "../../part.toml", "coupons.csv", "skin/../skin/table.csv"]
    assert [zone["zone"] for zone in content["zones"]] == ["web", "skin"]
    assert recompute(whole).findings == ()
    elsewhere = shutil.copytree(tmp_path, tmp_path.with_name(f"{tmp_path.name}-copy"))
    assert sealed(elsewhere / "batches/26-031") == whole


def test_a_workbook_is_embedded_as_it_is(shop, tmp_path):
    from openpyxl import Workbook

    book = Workbook()
    for line in shop.read("coupons.csv").splitlines():
        book.active.append([_cell(text) for text in line.split(",")])
    book.save(tmp_path / "coupons.xlsx")
    shop.change("batch.toml", "coupons.csv", "coupons.xlsx")
    whole = sealed(tmp_path)
    assert inputs_of(whole)[2].data == (tmp_path / "coupons.xlsx").read_bytes()
    assert recompute(whole).findings == ()


def _cell(text):
    try:
        return text if text.startswith("0") else float(text)
    except ValueError:
        return text


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("{folder}/part.toml", "it is an absolute path"),
        ("../../../../../../../../../part.toml", None),
    ],
)
def test_a_path_that_means_nothing_elsewhere_is_refused(shop, tmp_path, name, words):
    told = name.format(folder=tmp_path)
    deep = tmp_path / "1/2/3/4/5/6/7/8/9"
    deep.mkdir(parents=True)
    shop.change("batch.toml", 'part = "part.toml"', f'part = "{told}"')
    for file in ("batch.toml", "coupons.csv"):
        shutil.copy(tmp_path / file, deep / file)
    judged = report(deep / "batch.toml")
    with pytest.raises(Refused) as refusal:
        seal(judged)
    (problem,) = refusal.value.problems
    assert (problem.code, problem.place) == ("name-not-portable", "batch.part")
    assert words in problem.found if words else says("record: climbs too far", problem.found)


def test_an_amended_batch_names_the_earlier_record(shop, tmp_path):
    earlier = sealed(tmp_path)
    digest = sha256(earlier).hexdigest()
    shop.add("batch.toml", f'[replaces]\nrecord = "{digest}"\nreason = "wrong lot certificate"')
    amended = sealed(tmp_path)
    assert json.loads(amended)["replaces"] == {"record": digest, "reason": "wrong lot certificate"}
    assert json.loads(earlier)["replaces"] is None
    assert recompute(amended).findings == ()


def test_an_earlier_record_has_a_digest(shop, tmp_path):
    shop.add("batch.toml", '[replaces]\nrecord = "the old one"\nreason = "wrong lot certificate"')
    with pytest.raises(Refused) as refusal:
        report(tmp_path / "batch.toml")
    assert says("record: an earlier record has a digest", str(refusal.value))


def test_a_batch_that_does_not_conform_is_sealed_too(shop, tmp_path):
    shop.change("part.toml", 'max = "2.95 mm"', 'max = "2.86 mm"')
    content = json.loads(sealed(tmp_path))
    assert content["answer"] == "does not conform"
    jsonschema.validate(content, schema("record"))


def test_evidence_is_sealed_too(shop, tmp_path):
    shop.change("coupons.csv", "2.866,2.868,2.869", "2.766,2.768,2.769")
    shop.change("part.toml", '["4 ud150", "1 film"]', '["4 ud150"]')
    shop.add("batch.toml", '[charge]\nmass = "1.204 kg"\npart_and_trim = "1.191 kg"')
    whole = sealed(tmp_path)
    content = json.loads(whole)
    assert content["reconciliation"]["discrepancies"]
    assert content["reconciliation"]["adjustment"]["inputs"]
    assert content["charge"]
    jsonschema.validate(content, schema("record"))
    assert recompute(whole).findings == ()


def test_a_record_is_as_its_schema_says(shop, tmp_path):
    jsonschema.validate(json.loads(sealed(tmp_path)), schema("record"))
