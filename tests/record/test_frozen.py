"""Records of earlier versions go on saying the same."""

import json

import jsonschema
import pytest

from laminate.records.record import inputs_of, program, recompute
from laminate.show.report_page import page
from laminate.show.schemas import schema
from laminate.values.canonical import sha256

from .seal_again import FROZEN, again

RECORDS = sorted(FROZEN.glob("*.json"))
CHANGED = (
    "what the program says of an old record has changed. If the version that sealed it is released: the "
    "number or decision is mended, or named in DEVELOPERS.md. If not: python tests/record/seal_again.py"
)


@pytest.fixture(params=RECORDS, ids=[file.stem for file in RECORDS])
def frozen(request):
    return request.param.read_bytes()


def test_there_is_one_of_this_version():
    assert program()["version"] in {file.stem for file in RECORDS}


def test_it_is_named_after_its_version():
    assert [json.loads(file.read_bytes())["program"]["version"] for file in RECORDS] == [
        file.stem for file in RECORDS
    ]


def test_it_verifies(frozen):
    assert recompute(frozen).findings == (), CHANGED


def test_it_is_sealed_again_to_the_same_bytes_but_for_the_formulas(frozen):
    """Of this version; another one may say more."""
    old, new = json.loads(frozen), json.loads(again(frozen))
    assert new["inputs"] == old["inputs"]
    if old["program"]["version"] == new["program"]["version"]:
        del old["program"], new["program"]
        assert new.keys() == old.keys(), CHANGED


def test_it_holds_what_is_hard_to_keep(frozen):
    content = json.loads(frozen)
    assert len(content["zones"]) == 2
    assert [one.role for one in inputs_of(frozen)] == ["batch", "part", "coupons", "coupons"]
    assert any(one.name.startswith("../") for one in inputs_of(frozen))
    assert content["replaces"]
    assert content["concession"]
    assert {content["answer"]} | {one["decision"] for one in content["characteristics"]} >= {
        "does not conform",
        "conforms",
    }
    assert any(one["excluded"] for one in content["specimens"])
    assert content["prepreg"]


def test_its_page_can_be_made(frozen):
    content = json.loads(frozen)
    jsonschema.validate(content, schema("record"))
    assert content["batch"]["id"] in page(content, sha256(frozen))
