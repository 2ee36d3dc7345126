"""The readings of one batch under another name are no second batch."""

from __future__ import annotations

import json
import re
import shutil

import pytest

from laminate.history.correcting import correct
from tests.messages.wording import says

from .calls import call, swap


def copy_of(mast, *, other_names=False):
    """The batch again under another id, its coupons under their names or others."""
    copy = mast.parent / "copy"
    shutil.copytree(mast, copy)
    swap(copy / "batch.toml", ("26-031", "26-032"))
    text = (copy / "coupons.csv").read_text("utf-8")
    if other_names:
        text = re.sub(r"(?m)^01(\d\d),", r"B\1,", text)
    (copy / "coupons.csv").write_text(text, "utf-8")
    return copy / "batch.toml"


@pytest.mark.parametrize("other_names", [False, True])
def test_a_batch_with_the_readings_of_another_counts_once(mast, capsys, other_names):
    alone, copy = correct([mast / "batch.toml"]), copy_of(mast, other_names=other_names)
    both = correct([copy, mast / "batch.toml"])
    assert both.batches == ("26-031",)
    assert both.zones[0].centring.aims == alone.zones[0].centring.aims
    status, out, err = call(capsys, mast / "batch.toml", copy)
    assert (status, err) == (0, "")
    assert says("correct: a copied batch", " ".join(out.split()))
    answer = json.loads(call(capsys, mast / "batch.toml", copy, "--json")[1])
    assert answer["batches"] == answer["zones"][0]["from_batches"] == ["26-031"]
    assert ["26-032" in doubt for doubt in answer["doubts"]] == [True]


def test_two_coupons_of_one_equal_thickness_are_no_copy(mast):
    copy = copy_of(mast)
    for table in (mast / "coupons.csv", copy.parent / "coupons.csv"):
        table.write_text("specimen,zone,thickness [mm]\n1,web,2.87\n", "utf-8")
    assert correct([mast / "batch.toml", copy]).batches == ("26-031", "26-032")


def test_one_equal_reading_is_no_copy(mast):
    copy = copy_of(mast)
    rows = (copy.parent / "coupons.csv").read_text("utf-8")
    weighed = re.sub(r"\b(1\.\d\d)(\d\d)\b", lambda mass: f"{mass[1]}{(int(mass[2]) + 7) % 100:02}", rows)
    assert weighed != rows
    (copy.parent / "coupons.csv").write_text(weighed, "utf-8")
    both = correct([mast / "batch.toml", copy])
    assert both.batches == ("26-031", "26-032")
    assert not any("26-032 is not" in doubt for doubt in both.doubts)
