"""A record is judged again from its own inputs; what it says otherwise, or is damaged, is told in words."""

import base64
import json
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from laminate.judging.reported import report
from laminate.records.inputs import Damaged
from laminate.records.record import inputs_of, seal
from laminate.records.record import recompute as judged_again
from laminate.values.canonical import canonical
from tests.messages.wording import begins, reads, says, worded


@pytest.fixture(scope="module")
def whole(checkout):
    return seal(report(checkout / "examples/mast/batch.toml"))


def recompute(data):
    return list(judged_again(data).findings)


def changed(whole, change):
    content = json.loads(whole)
    change(content)
    return canonical(content)


def at(content, *keys):
    for key in keys:
        content = content[key]
    return content


def embed(row, data):
    row["base64"], row["sha256"] = base64.b64encode(data).decode(), sha256(data).hexdigest()


def test_an_honest_record_says_the_same(whole):
    assert recompute(whole) == []


@pytest.mark.parametrize(
    ("keys", "new", "words"),
    [
        (["answer"], "undecided", "record: another value is named"),
        (
            ["characteristics", 0, "result", "value"],
            57.0,
            "record: another value is named, 2",
        ),
        (
            ["characteristics", 1, "decision"],
            "undecided",
            "record: another value is named, 3",
        ),
        (
            ["specimens", 1, "remark"],
            "weighed twice",
            "record: another value is named, 4",
        ),
        (["batch", "quantity"], 13, "record: another value is named, 5"),
        (["settings", "joint", "seed"], 1, "record: another value is named, 6"),
        (["instruments", 0, "due"], "2030-01-01", "record: another value is named, 7"),
        (
            ["zones", 0, "budget", "density", 0, "share"],
            1.5,
            "record: another value is named, 8",
        ),
        (
            ["monte_carlo", 0, "agree"],
            1,
            "record: another value is named, 9",
        ),
        (["notes"], [], "record: another value is named, 10"),
        (["process"], {}, "record: another value is named, 11"),
        (["added"], "x", "record: another value is named, 12"),
    ],
)
def test_another_value_is_named(whole, keys, new, words):
    def change(content):
        at(content, *keys[:-1])[keys[-1]] = new

    found = recompute(changed(whole, change))
    assert len(found) == 1, found
    assert begins(words, found[0])


def test_a_value_that_was_taken_out_is_named(whole):
    found = recompute(changed(whole, lambda content: content["batch"].pop("serials")))
    assert found == [worded("record: serials taken out")]


def test_many_differences_are_counted(whole):
    def change(content):
        for one in content["specimens"]:
            for key in ("fiber_volume", "density", "void_content", "thickness"):
                one[key]["value"] *= 1.01
                one[key]["standard_uncertainty"] *= 1.01

    found = recompute(changed(whole, change))
    assert len(found) == 21
    assert found[-1] == "and 4 more"


@pytest.mark.parametrize(("by", "same"), [(1 + 2e-10, True), (1 + 3e-9, False), (1 - 3e-9, False)])
def test_numbers_agree_within_a_billionth(whole, by, same):
    def change(content):
        content["characteristics"][0]["result"]["value"] *= by

    found = recompute(changed(whole, change))
    assert (found == []) is same, found


def test_an_input_that_was_changed_with_its_digest_says_something_else(whole):
    def change(content):
        row = content["inputs"][2]
        data = base64.b64decode(row["base64"]).replace(b"1.4427", b"1.4437")
        embed(row, data)

    found = recompute(changed(whole, change))
    assert found[0].startswith("characteristics[fiber_volume.web].")
    assert any(says("record: an input that was changed", words) for words in found)


def test_an_input_that_was_changed_is_named(whole):
    def change(content):
        row = content["inputs"][1]
        row["base64"] = base64.b64encode(b"# " + base64.b64decode(row["base64"])).decode()

    (words,) = recompute(changed(whole, change))
    assert begins("record: an input that was changed is named", words)


def test_an_input_that_is_refused_now_is_told(whole):
    def change(content):
        row = content["inputs"][1]
        embed(row, base64.b64decode(row["base64"]).replace(b'issue = "B"', b'isue = "B"'))

    found = recompute(changed(whole, change))
    assert any("part.isue" in words for words in found), found
    assert all(begins("record: an input that is refused now is told", words) for words in found)


def test_another_version_is_named_where_something_differs(whole):
    def change(content):
        content["program"]["version"] = "0.0.9"
        content["program"]["formulas_sha256"] = "0" * 64
        content["characteristics"][0]["result"]["value"] = 57.0

    *_, last = recompute(changed(whole, change))
    assert begins("record: another version is named", last)
    assert says("record: another version is named, 2", last)


def test_formulas_of_which_the_first_digits_are_alike_are_shown_whole(whole):
    now = json.loads(whole)["program"]["formulas_sha256"]
    then = now[:-1] + ("1" if now[-1] == "0" else "0")

    def change(content):
        content["program"]["formulas_sha256"] = then

    (note,) = judged_again(changed(whole, change)).notes
    assert (then in note, now in note) == (True, True)


def of_another_version(content):
    content["program"]["version"] = "0.0.9"
    content["program"]["formulas_sha256"] = "0" * 64
    content["settings"] = {}


def test_another_version_may_word_things_otherwise_and_that_it_differs_is_said(whole):
    def change(content):
        of_another_version(content)
        content["characteristics"][0]["reason"] = "it is inside"

    found = judged_again(changed(whole, change))
    assert found.findings == ()
    assert any("0.0.9" in note for note in found.notes)
    assert found.content["answer"] == "conforms"


@pytest.mark.parametrize(
    ("keys", "place"),
    [
        (["process"], "process"),
        (["monte_carlo"], "monte_carlo"),
        (["warnings"], "warnings"),
        (["batch", "press"], "batch.press"),
        (["characteristics", 0, "reason"], "characteristics[fiber_volume.web].reason"),
        (["instruments", 0, "undecided_because"], "instruments[balance].undecided_because"),
        (["specimens", 0, "excluded"], "specimens[0101].excluded"),
    ],
)
def test_no_version_is_an_excuse_for_a_key_that_was_cut_out(whole, keys, place):
    def change(content):
        of_another_version(content)
        at(content, *keys[:-1]).pop(keys[-1])

    first, *_ = recompute(changed(whole, change))
    assert begins("record: nothing of it", first, place=place)


def test_no_version_is_an_excuse_for_a_remark_that_was_emptied(whole):
    def change(content):
        of_another_version(content)
        content["not_judged"] = []
        content["characteristics"][0]["reason"] = ""

    found = recompute(changed(whole, change))
    assert [words.partition(":")[0] for words in found[:2]] == [
        "characteristics[fiber_volume.web].reason",
        "not_judged",
    ]


@pytest.mark.parametrize(("by", "same"), [(1e-4, True), (-1.9e-4, True), (3e-4, False)])
@pytest.mark.parametrize("key", ["probability_of_conformity", "risk_if_rejected"])
def test_chances_of_other_formulas_may_lie_two_in_ten_thousand_apart(whole, key, by, same):
    def change(content):
        of_another_version(content)
        content["characteristics"][0][key] -= by

    assert (recompute(changed(whole, change)) == []) is same
    content = json.loads(whole)
    content["characteristics"][0][key] -= by
    assert recompute(canonical(content)) != []


def test_a_decision_that_flips_is_told_whatever_the_version(whole):
    def change(content):
        of_another_version(content)
        content["characteristics"][0]["decision"] = "undecided"

    first, *_ = recompute(changed(whole, change))
    assert first.startswith("characteristics[fiber_volume.web].decision")


def test_a_record_of_format_1_is_not_proven_and_has_its_answer_of_today():
    old = (Path(__file__).parent / "older/format-1.json").read_bytes()
    found = judged_again(old)
    assert len(found.findings) == 1
    assert "format 1" in found.findings[0]
    assert found.content["answer"] == json.loads(old)["answer"] == "does not conform"


def test_nothing_is_written_and_no_input_is_read_from_the_disk(whole, monkeypatch):
    import builtins
    import io
    import os

    honest = io.open
    opened = []

    def watched(file, *more, **options):
        opened.append(str(file))
        return honest(file, *more, **options)

    for module in (builtins, io):
        monkeypatch.setattr(module, "open", watched)
    monkeypatch.setattr(os, "mkdir", None)
    assert recompute(whole) == []
    assert not [
        name for name in opened if name.endswith((".toml", ".csv", ".xlsx")) and "reference" not in name
    ]


@pytest.mark.parametrize(
    ("written", "words"),
    [
        (
            3,
            "record: another format is told",
        ),
        (0, "record: another format is told, 2"),
        ("1", "record: another format is told, 3"),
        (True, "record: another format is told, 3"),
        (None, "record: another format is told, 3"),
    ],
)
def test_another_format_is_told(whole, written, words):
    (found,) = recompute(changed(whole, lambda content: content.update(format=written)))
    assert begins(words, found)


@pytest.mark.parametrize("key", ["program", "settings", "inputs"])
def test_a_missing_key_is_told(whole, key):
    assert recompute(changed(whole, lambda content: content.pop(key))) == [
        worded("record: a key taken out", key=repr(key))
    ]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "record: what is no record is told"),
        (b"\xff\xfe", "record: what is no record is told, 2"),
        (b"[]", "record: what is no record is told, 3"),
        (b'{"a":1,"a":2}', "record: what is no record is told, 4"),
        (b'{"format": 1}', "record: the inputs of a damaged record"),
        (b"[" * 100_000, "record: what is no record is told, 5"),
        (b'{"format":1}', "record: what is no record is told, 6"),
    ],
)
def test_what_is_no_record_is_told(data, words):
    found = recompute(data)
    assert says(words, found[0])


def test_a_record_of_another_program_is_told(whole):
    content = json.loads(whole)
    content["program"]["name"] = "laminatx"
    assert len(recompute(canonical(content))) == 1


def _rename(row, name):
    def change(content):
        content["inputs"][row]["file"] = name

    return change


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("../x", "record: a name that leads elsewhere is refused"),
        ("/etc/passwd", "record: a name that leads elsewhere is refused, 2"),
        ("C:coupons.csv", "record: a name that leads elsewhere is refused, 3"),
        ("a\\b.csv", "record: a name that leads elsewhere is refused, 4"),
        (
            "a\x00b.csv",
            "record: a name that leads elsewhere is refused, 5",
        ),
        ("", "record: a name that leads elsewhere is refused, 6"),
        ("..", "record: a name that leads elsewhere is refused, 6"),
        ("a/", "record: a name that leads elsewhere is refused, 6"),
        ("../" * 9 + "a.csv", "record: climbs too far"),
        ("a" * 401, "record: a name that leads elsewhere is refused, 7"),
        ("a" * 300, "record: a name that leads elsewhere is refused, 8"),
        ("part.toml", "record: a name that leads elsewhere is refused, 9"),
        ("./part.toml", "record: a name that leads elsewhere is refused, 10"),
        ("part.toml/coupons.csv", "record: a name that leads elsewhere is refused, 8"),
    ],
)
def test_a_name_that_leads_elsewhere_is_refused(whole, name, words):
    found = recompute(changed(whole, _rename(2, name)))
    assert any(says(words, said) for said in found), found


@pytest.mark.parametrize("named", ["/etc/hostname", "/dev/zero", "../../../../../etc/hostname"])
def test_a_batch_that_names_a_file_of_this_machine_reads_none(whole, named):
    def change(content):
        row = content["inputs"][0]
        embed(row, base64.b64decode(row["base64"]).replace(b'"part.toml"', f'"{named}"'.encode()))

    found = recompute(changed(whole, change))
    assert reads("record: a file that is not embedded", found[0], named=repr(named))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda rows: rows.clear(), "record: damaged inputs are told"),
        (lambda rows: rows.append("x"), "record: damaged inputs are told, 2"),
        (lambda rows: rows.append({}), "record: damaged inputs are told, 3"),
        (lambda rows: rows[0].pop("base64"), "record: damaged inputs are told, 4"),
        (lambda rows: rows[0].update(base64="*"), "record: damaged inputs are told, 5"),
        (lambda rows: rows[0].update(base64="é"), "record: damaged inputs are told, 5"),
        (lambda rows: rows[0].update(base64="QR=="), "record: damaged inputs are told, 6"),
        (lambda rows: rows[0].update(sha256=""), "record: damaged inputs are told, 7"),
        (lambda rows: rows[0].update(more=1), "record: damaged inputs are told, 8"),
        (lambda rows: rows[0].update(role="boss"), "record: damaged inputs are told, 9"),
        (
            lambda rows: rows[0].update(role="part"),
            "record: damaged inputs are told, 10",
        ),
        (
            lambda rows: rows[2].update(role="part"),
            "record: damaged inputs are told, 11",
        ),
        (lambda rows: rows.pop(2), "record: a name that leads elsewhere is refused"),
        (lambda rows: rows.append({**rows[2], "file": "more.csv"}), "record: damaged inputs are told, 12"),
        (lambda rows: embed(rows[0], b"\xff"), "record: damaged inputs are told, 13"),
        (lambda rows: embed(rows[0], b"batch = 1"), "record: damaged inputs are told, 12"),
        (lambda rows: embed(rows[1], b""), "record: damaged inputs are told, 14"),
    ],
)
def test_damaged_inputs_are_told(whole, change, words):
    found = recompute(changed(whole, lambda content: change(content["inputs"])))
    assert any(says(words, said) for said in found), found


def test_every_damaged_input_is_told_at_once(whole):
    def change(content):
        for row in content["inputs"]:
            row["base64"] = "*"

    assert len(recompute(changed(whole, change))) == 3


def test_the_inputs_of_a_damaged_record_are_not_given_out(whole):
    with pytest.raises(Damaged) as caught:
        inputs_of(whole + b"\n")
    assert says("record: the inputs of a damaged record", str(caught.value))


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(place=st.floats(0, 1, exclude_max=True), byte=st.integers(0, 255))
@example(place=0.3522819622821727, byte=32)  # in the name of the batch file
def test_any_other_byte_is_noticed_or_told(whole, place, byte):
    """Words, never an error; nothing is said only where it is the program or a last digit."""
    where = int(place * len(whole))
    data = whole[:where] + bytes([byte]) + whole[where + 1 :]
    found = recompute(data)
    assert isinstance(found, list)
    if data == whole:
        assert found == []
    elif not found:
        assert _only_unheard(json.loads(whole), json.loads(data))


def _only_unheard(one, other):
    """Whether two records differ in nothing but the program's own name, that of the batch file, which nothing
    else names, or the last digits of a number.
    """
    if isinstance(one, dict):
        free = {"program", "file"} if one.get("role") == "batch" else {"program"}
        return one.keys() == other.keys() and all(
            key in free or _only_unheard(one[key], other[key]) for key in one
        )
    if isinstance(one, list):
        return len(one) == len(other) and all(map(_only_unheard, one, other))
    if isinstance(one, float):
        return abs(one - other) <= 1e-9 * abs(one) + 1e-12
    return one == other
