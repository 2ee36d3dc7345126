"""Process readings from the log in the report, and the record that judges its own logs again."""

import json

import pytest

from laminate.cli import app
from laminate.judging.reported import report
from laminate.records.record import recompute, seal
from laminate.show.numbers import with_size
from laminate.values.problems import Refused

from .shop import BATCH, PART, Press, changed

LIMITS = """
[limits.process."peak temperature"]
individual = { max = "130 degC" }
[limits.process."time above"]
individual = { min = "60 min" }
temperature = "115 degC"
[limits.process."vapor margin"]
individual = { min = "0.5 bar" }
"""
READINGS = """
[process."peak temperature"]
from = "log"
zone = "skin"
[process."time above"]
from = "log"
zone = "skin"
[process."vapor margin"]
from = "log"
zone = "skin"
"""


def judged(folder, batch=BATCH + READINGS, part=PART + LIMITS, log=None):
    (folder / "part.toml").write_text(part, "utf-8")
    (folder / "batch.toml").write_text(batch, "utf-8")
    (folder / "log.csv").write_text(log or Press().csv(), "utf-8")
    return report(folder / "batch.toml")


def test_readings_come_from_the_log(tmp_path):
    found = judged(tmp_path).judgement
    by_name = {one.name: one for one in found.process}
    assert {name: one.decision for name, one in by_name.items()} == dict.fromkeys(by_name, "conforms")
    assert by_name["peak temperature"].average_of.value == pytest.approx(273.15 + 124.0)
    # 115 degC is passed 30.67 min + 2 min after the start, for good
    assert by_name["time above"].average_of.value / 60 == pytest.approx(120 - 2 - 92 / 3, abs=0.02)


@pytest.mark.parametrize(
    ("right", "slip"), [('min = "60 min"', 'min = "60 degC"'), ('"130 degC"', '"0.9 bar"')]
)
def test_a_limit_of_another_kind_than_the_log_gives_is_refused(tmp_path, right, slip):
    """60 degC would be held as 333 s."""
    with pytest.raises(Refused) as refused:
        judged(tmp_path, part=PART + changed(LIMITS, (right, slip)))
    (problem,) = refused.value.problems
    assert (problem.code, problem.place.endswith(".from")) == ("wrong-kind", True)


def test_a_log_makes_no_batch_conform_by_itself(tmp_path):
    found = judged(tmp_path).judgement
    assert {one.decision for one in found.process} == {"conforms"}
    assert (found.answer, [one.name for one in found.held_back]) == ("undecided", ["coupons"])
    limits = LIMITS + '\n[limits.void_content]\nindividual = { max = "2 %" }\n'
    assert judged(tmp_path, part=PART + limits).judgement.answer == "undecided"


def test_typed_and_logged_that_differ_are_undecided(tmp_path):
    typed = BATCH + '\n[process."peak temperature"]\nvalue = "119 degC ± 1 (tolerance)"\nzone = "skin"\n'
    limits = '\n[limits.process."peak temperature"]\nindividual = { max = "130 degC" }\n'
    found = judged(tmp_path, typed, PART + limits).judgement
    assert found.answer == "undecided"
    assert [one.name for one in found.held_back] == ["peak temperature"]
    agreed = judged(tmp_path, changed(typed, ("119 degC", "124 degC")), PART + limits).judgement
    assert (agreed.answer, agreed.held_back) == ("conforms", [])


def test_a_late_press_gives_no_time_from_pressed_to_gel(tmp_path):
    batch = BATCH + '\n[process."time from pressed to gel"]\nfrom = "log"\nzone = "skin"\n'
    limits = '\n[limits.process."time from pressed to gel"]\nindividual = { min = "5 min" }\n'
    found = judged(tmp_path, batch, PART + limits, Press(closes=70.0).csv()).judgement
    assert (found.answer, found.process[0].decision) == ("undecided", "undecided")


def test_the_record_keeps_the_log_and_says_the_same_again(tmp_path):
    data = seal(judged(tmp_path))
    content = json.loads(data)
    assert [one["file"] for one in content["inputs"] if one["role"] == "log"] == ["log.csv"]
    zone = content["cycle"]["zones"][0]
    assert zone["verdict"] == "pressed in time"
    assert zone["log"] == next(one["sha256"] for one in content["inputs"] if one["role"] == "log")
    assert list(recompute(data).findings) == []


def test_the_record_fits_its_schema(tmp_path):
    from jsonschema import Draft202012Validator

    from laminate.show.schemas import schema

    content = json.loads(seal(judged(tmp_path)))
    assert [error.message for error in Draft202012Validator(schema("record")).iter_errors(content)] == []


PEAK = '[process."peak temperature"]\nfrom = "log"\nzone = "skin"\n'


@pytest.mark.parametrize(
    ("new", "code"),
    [
        (changed(PEAK, ('zone = "skin"\n', "")), "missing-key"),
        (PEAK + 'value = "1 degC"\n', "both-given"),
        (changed(PEAK, ("peak temperature", "peak temperatur")), "unknown-name"),
        (changed(PEAK, ('"skin"', '"web"')), "unknown-name"),
    ],
)
def test_what_a_reading_from_the_log_needs(tmp_path, new, code):
    from laminate.values.problems import Refused

    with pytest.raises(Refused) as refused:
        judged(tmp_path, changed(BATCH + READINGS, (PEAK, new)))
    assert code in {problem.code for problem in refused.value.problems}


def test_the_record_of_a_core_along_a_log_says_the_same_again(tmp_path):
    from importlib.resources import as_file, files

    with as_file(files("laminate.examples") / "cycle" / "batch.toml") as path:
        data = seal(report(path))
    content = json.loads(data)
    zone = content["cycle"]["zones"][0]
    assert zone["verdict"] == "pressed in time"
    assert zone["applied_pressure_at_gel"]["value"] > 5.0
    assert {one["event"] for one in zone["events"]} >= {"liquid full", "pressed", "gel first"}
    assert list(recompute(data).findings) == []


def test_the_screen_has_the_spread_at_95_percent_of_each_number_whose_json_has_one(tmp_path, capsys):
    """The margin too, which can be smaller than its ±."""
    judged(tmp_path)
    assert app.status(["cycle", str(tmp_path / "batch.toml"), "--json"]) == 0
    zone = json.loads(capsys.readouterr().out)["zones"][0]
    assert app.status(["cycle", str(tmp_path / "batch.toml")]) == 0
    screen = capsys.readouterr().out
    quantities = [event["time"] for event in zone["events"]]
    quantities += [zone["vapor_margin"], *zone["readings"].values()]
    spreads = [(q["value"], 1.959964 * u) for q in quantities if q and (u := q["standard_uncertainty"])]
    assert len(spreads) >= 5
    assert [with_size(*both) for both in spreads if with_size(*both) not in screen] == []
