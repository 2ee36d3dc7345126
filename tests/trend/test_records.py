"""Which records count: damaged, amended, copied, rival, undated and foreign ones."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path

import pytest

from laminate.history.trending import trend
from laminate.judging.reported import report
from laminate.records.record import recompute, seal
from laminate.show import trend_json
from laminate.show.blocks import Sentence
from laminate.show.trend_words import blocks
from laminate.values.canonical import sha256
from laminate.values.problems import Refused
from tests.messages.wording import says, worded

from .shop import Shop

VALUES = [[5.0], [5.1], [4.9], [5.05]]


def replaces(data: bytes) -> str:
    return f'[replaces]\nrecord = "{sha256(data)}"\nreason = "a reading was mistyped"'


def found(shop: Shop):
    return trend(shop.folder, recompute=recompute)


def values(answer):
    return answer.studied[0].series.values if answer.studied else []


def by_file(answer):
    return {filed.file: filed for filed in answer.records}


def test_order_is_that_of_molding_then_of_the_batch(shop):
    shop.batch(1, [5.3], name="26-10", molded="2026-03-01")
    shop.batch(2, [5.2], name="26-9", molded="2026-03-01")
    shop.batch(3, [5.1], name="27-1", molded="2026-02-01")
    answer = found(shop)
    assert [point.origin.batch for point in answer.studied[0].series.points] == ["27-1", "26-9", "26-10"]


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        (b'"press":"P1"', b'"press":"P9"', "press"),
        (b'"molded":"2026-01-02"', b'"molded":"2026-02-02"', "molded"),
        (b'"number":"L1"', b'"number":"L7"', "L7"),
    ],
)
def test_a_changed_record_is_shown_and_not_used(shop, old, new, word):
    shop.batches(VALUES)
    path = shop.folder / "26-002" / "record.json"
    assert old in path.read_bytes()
    path.write_bytes(path.read_bytes().replace(old, new))
    answer = found(shop)
    filed = by_file(answer)["26-002/record.json"]
    assert not filed.verifies
    assert any(word in fault for fault in filed.faults)
    assert values(answer) == [5.0, 4.9, 5.05]
    assert not answer.all_verify


def test_every_kind_of_damage_is_told(shop):
    shop.batches(VALUES)
    first = (shop.folder / "26-001" / "record.json").read_bytes()
    damaged = {
        "spaces": first.replace(b'"answer":', b'"answer": '),
        "cut": first[:-100],
        "empty": b"",
        "list": b"[]",
        "input": first.replace(b'"base64":"Zm9ybWF0', b'"base64":"Zm9ybWF1'),
    }
    for name, data in damaged.items():
        folder = shop.folder / name
        folder.mkdir()
        (folder / "record.json").write_bytes(data)
    answer = found(shop)
    assert all(by_file(answer)[f"{name}/record.json"].faults for name in damaged)
    assert values(answer) == [5.0, 5.1, 4.9, 5.05]


def test_an_amended_batch_takes_the_place_of_the_earlier_record(shop):
    shop.batches(VALUES)
    second = shop.batch(2, [5.25], where="amended", more=replaces(shop.made["26-002"]))
    shop.batch(2, [5.35], where="amended twice", more=replaces(second))
    answer = found(shop)
    assert answer.all_verify
    assert values(answer) == [5.0, 5.35, 4.9, 5.05]
    records = by_file(answer)
    assert records["26-002/record.json"].replaced_by == "amended/record.json"
    assert records["amended/record.json"].replaced_by == "amended twice/record.json"
    assert [filed.counts for filed in answer.records].count(True) == 4


def test_a_damaged_amendment_replaces_nothing(shop):
    shop.batches(VALUES)
    data = shop.batch(2, [5.25], where="amended", more=replaces(shop.made["26-002"]))
    (shop.folder / "amended" / "record.json").write_bytes(data.replace(b'"press":"P1"', b'"press":"P9"'))
    answer = found(shop)
    assert values(answer) == [5.0, 5.1, 4.9, 5.05]
    assert not answer.all_verify


def test_an_amendment_of_an_absent_record_counts_and_says_so(shop):
    absent = Shop(shop.folder.parent / "elsewhere").batch(2, [5.1])
    shop.batch(2, [5.25], more=replaces(absent))
    answer = found(shop)
    assert answer.all_verify
    assert answer.records[0].notes == [worded("trend: a record replaced that is not here")]


def test_a_record_cannot_replace_one_of_another_part(shop):
    shop.batches(VALUES)
    other = Shop(shop.folder, part="P-2")
    other.batch(7, [5.0], more=replaces(shop.made["26-002"]))
    answer = found(shop)
    assert "another part" in by_file(answer)["26-007/record.json"].faults[0]
    assert values(answer) == [5.0, 5.1, 4.9, 5.05]


def test_two_records_of_one_batch_count_neither(shop):
    shop.batches(VALUES)
    shop.batch(2, [5.4], where="again")
    answer = found(shop)
    records = by_file(answer)
    for name, other in (("26-002", "again"), ("again", "26-002")):
        assert records[f"{name}/record.json"].faults == [
            worded("trend: two records of one batch", other=repr(f"{other}/record.json"))
        ]
    assert values(answer) == [5.0, 4.9, 5.05]


def with_coupons_of_second(shop: Shop, **more: str) -> None:
    """A batch 26-006 whose table has the name and reading of that of 26-002."""
    shop.batch(6, [5.1], **more)
    copied = shop.folder / "26-006"
    table = (copied / "coupons.csv").read_text("utf-8")
    (copied / "coupons.csv").write_text(table.replace("26-006-", "26-002-"), "utf-8")
    (copied / "record.json").write_bytes(seal(report(copied / "batch.toml")))


def test_an_amendment_under_another_batch_may_keep_the_readings(shop):
    shop.batches(VALUES)
    with_coupons_of_second(shop, more=replaces(shop.made["26-002"]))
    answer = found(shop)
    assert answer.all_verify
    assert by_file(answer)["26-006/record.json"].counts


def test_another_batch_with_its_own_readings_replaces_nothing(shop):
    shop.batches(VALUES)
    shop.batch(6, [5.02], more=replaces(shop.made["26-002"]))
    answer = found(shop)
    assert "'26-002/record.json'" in by_file(answer)["26-006/record.json"].faults[0]
    assert values(answer) == [5.0, 5.1, 4.9, 5.05]


@pytest.mark.parametrize(("amended", "counts"), [(False, [False, False]), (True, [True, False])])
def test_readings_of_another_batch_stand_against_a_record_though_that_one_was_amended(shop, amended, counts):
    shop.batches(VALUES)
    if amended:
        shop.batch(2, [5.25], where="amended", more=replaces(shop.made["26-002"]))
    with_coupons_of_second(shop)
    records = by_file(found(shop))
    files = ["amended/record.json" if amended else "26-002/record.json", "26-006/record.json"]
    assert [records[file].counts for file in files] == counts
    assert "'26-002/record.json'" in records[files[1]].faults[0]


def test_readings_of_a_batch_stand_against_a_record_though_that_batch_has_two(shop):
    """Neither of the two counts, and the copy of one of them does not either."""
    shop.batches(VALUES)
    shop.batch(2, [5.4], where="again")
    with_coupons_of_second(shop)
    answer = found(shop)
    assert "'26-002/record.json'" in by_file(answer)["26-006/record.json"].faults[0]
    assert values(answer) == [5.0, 4.9, 5.05]


def test_a_copy_counts_once(shop):
    shop.batches(VALUES)
    (shop.folder / "copy.json").write_bytes(shop.made["26-002"])
    answer = found(shop)
    assert answer.all_verify
    assert values(answer) == [5.0, 5.1, 4.9, 5.05]
    assert by_file(answer)["copy.json"].copy_of == "26-002/record.json"


def test_a_batch_without_date_has_no_place_in_time(shop):
    shop.batches(VALUES)
    shop.batch(9, [5.4], molded="")
    answer = found(shop)
    assert answer.all_verify
    assert by_file(answer)["26-009/record.json"].undated
    assert values(answer) == [5.0, 5.1, 4.9, 5.05]


def test_a_batch_without_date_is_not_used_and_says_what_to_write(shop):
    shop.batches(VALUES)
    data = shop.batch(9, [9.4], molded="")
    answer = found(shop)
    (reason,) = by_file(answer)["26-009/record.json"].reasons
    assert reason == worded("trend: a batch without date", digest=sha256(data))
    assert answer.all_verify
    shop.batch(9, [5.4], where="amended", more=replaces(data))
    answer = found(shop)
    assert [filed.reasons for filed in answer.records] == [[]] * 6
    assert answer.all_verify
    assert values(answer) == [5.0, 5.1, 4.9, 5.05, 5.4]


def test_other_json_is_passed_over_by_name(shop):
    shop.batches(VALUES)
    (shop.folder / "settings.json").write_text('{"a": 1}')
    answer = found(shop)
    assert answer.passed_over == ("settings.json",)
    assert answer.all_verify


@pytest.mark.parametrize("text", ['{"a": 1, // a comment\n}', "[1,", "", "all is well"])
def test_what_is_no_json_and_not_like_a_record_is_passed_over_too(shop, text):
    shop.batches(VALUES)
    (shop.folder / ".editor").mkdir()
    (shop.folder / ".editor" / "settings.json").write_text(text)
    answer = found(shop)
    assert answer.passed_over == (".editor/settings.json",)
    assert answer.all_verify
    (shop.folder / ".editor" / "record.json").write_text(text)
    assert not found(shop).all_verify


def test_a_record_counts_however_its_ending_is_spelled(shop):
    shop.batches(VALUES)
    path = shop.folder / "26-002" / "record.json"
    path.rename(path.with_name("Record.JSON"))
    answer = found(shop)
    assert values(answer) == [5.0, 5.1, 4.9, 5.05]
    path.with_name("Record.JSON").write_text("{}", "utf-8")
    assert by_file(found(shop))["26-002/Record.JSON"].faults


def test_what_may_hold_records_and_is_not_read_is_named(shop, tmp_path):
    shop.batches(VALUES)
    (shop.folder / "26-002").rename(tmp_path / "elsewhere")
    (shop.folder / "26-002").symlink_to(tmp_path / "elsewhere")
    (shop.folder / "26-003" / "record.json").rename(shop.folder / "26-003" / "record.json.bak")
    (shop.folder / "26-001" / "coupons.csv.history.jsonl").write_text("")
    (shop.folder / "26-001" / "record.txt").write_bytes(shop.made["26-002"])
    for name, data in (("old.zip", shop.made["26-002"]), ("photos.zip", b"jpg")):
        with zipfile.ZipFile(shop.folder / name, "w") as archive:
            archive.writestr("file", data)
    answer = found(shop)
    assert values(answer) == [5.0, 5.05]
    assert answer.aside == ("26-001/record.txt", "26-002", "26-003/record.json.bak", "old.zip")
    out = "".join(block.text for block in blocks(answer, "metric", why=False) if isinstance(block, Sentence))
    assert says("trend: what is not looked at", out)
    assert trend_json.ANSWER.json(answer)["not_looked_at"] == [*answer.aside]


def test_json_that_cannot_be_read_may_be_a_damaged_record(shop):
    shop.batches(VALUES)
    whole = shop.made["26-002"]
    broken = {"a": whole[:-1], "b": whole[:99], "c": whole[2:], "d": whole.decode().encode("utf-16")}
    for name, data in broken.items():
        (shop.folder / f"{name}.json").write_bytes(data)
    answer = found(shop)
    assert [by_file(answer)[f"{name}.json"].verifies for name in broken] == [False] * 4


def test_a_folder_that_cannot_be_looked_into_is_told(shop, monkeypatch):
    shop.batches(VALUES)
    look = os.scandir

    def guarded(place):
        if str(place).endswith("26-002"):
            raise PermissionError(13, "Permission denied", str(place))
        return look(place)

    monkeypatch.setattr(os, "scandir", guarded)
    answer = found(shop)
    assert by_file(answer)["26-002"].faults == [worded("trend: permission denied")]
    assert not answer.all_verify
    assert values(answer) == [5.0, 4.9, 5.05]


def test_a_dangling_link_is_told(shop):
    shop.batches(VALUES)
    (shop.folder / "link.json").symlink_to(shop.folder / "nowhere.json")
    answer = found(shop)
    assert answer.passed_over == ("link.json",)
    assert answer.all_verify
    (shop.folder / "26-001" / "record.json").unlink()
    (shop.folder / "26-001" / "record.json").symlink_to(shop.folder / "nowhere.json")
    assert by_file(found(shop))["26-001/record.json"].faults == [
        "it cannot be read (no such file or directory)"
    ]


def test_parts_and_zones_are_kept_apart_and_can_be_chosen(shop):
    shop.batches(VALUES)
    Shop(shop.folder, part="P-2").batch(7, [6.0])
    answer = found(shop)
    assert [(one.series.key.part, one.series.values) for one in answer.studied] == [
        ("P-1", [5.0, 5.1, 4.9, 5.05]),
        ("P-2", [6.0]),
    ]
    chosen = trend(shop.folder, recompute=recompute, chosen={"part": ["P-2"], "zone": []})
    assert [one.series.key.part for one in chosen.studied] == ["P-2"]
    with pytest.raises(Refused) as caught:
        trend(shop.folder, recompute=recompute, chosen={"zone": ["none"]})
    assert says("trend: parts and zones are kept apart and can", str(caught.value))


def test_a_part_is_one_however_it_is_spelled(shop):
    shop.batches(VALUES)
    Shop(shop.folder, part="p 1").batch(7, [6.0])
    answer = found(shop)
    (only,) = answer.studied
    assert (only.series.key.part, only.series.values) == ("P-1", [5.0, 5.1, 4.9, 5.05, 6.0])
    assert by_file(answer)["26-007/record.json"].notes == [worded("trend: a part in two spellings")]
    for name in ("P-1", "p 1"):
        chosen = trend(shop.folder, recompute=recompute, chosen={"part": [name], "zone": []})
        assert [len(one.series.points) for one in chosen.studied] == [5]
        assert len(chosen.used) == 5


def test_what_has_no_limit_is_shown_on_request(shop):
    shop.batches(VALUES, plies=33)
    plain = {one.series.key.name for one in found(shop).studied}
    every = {one.series.key.name for one in trend(shop.folder, recompute=recompute, every=True).studied}
    assert plain == {"thickness"}
    assert every == {"thickness", "cured_ply_thickness", "fiber_volume", "void_content"}


@pytest.mark.parametrize(
    ("name", "code"), [("missing", "file-missing"), ("file", "wrong-file"), ("empty", "no-record")]
)
def test_no_records_is_a_wrong_call(tmp_path, name, code):
    (tmp_path / "file").write_text("")
    (tmp_path / "empty").mkdir()
    with pytest.raises(Refused) as refused:
        trend(Path(tmp_path / name), recompute=recompute)
    assert refused.value.problems[0].code == code
