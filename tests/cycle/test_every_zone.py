"""A limit of the process holds in every molded zone, whichever zone the batch names for its reading."""

import pytest

from laminate.judging.reported import report

from .shop import BATCH, PART, Press, changed

SKIN = PART[PART.index("[zone.skin]") :]
LIMITS = """
[limits.process."peak temperature"]
individual = { max = "127 degC" }
[limits.process."time from pressed to gel"]
individual = { min = "10 min" }
[limits.thickness.skin]
individual = { max = "9 mm" }
[plan.skin]
coupons = 1
methods = ["thickness"]
[plan.web]
represented_by = "skin"
"""
PART_OF_TWO = PART + SKIN.replace("zone.skin", "zone.web") + LIMITS
READINGS = """
[process."peak temperature"]
from = "log"
zone = "skin"
[process."time from pressed to gel"]
from = "log"
zone = "skin"
"""
WEB = BATCH[BATCH.index("[[log]]") :].replace("log.csv", "web.csv").replace('"skin"', '"web"')
BOTH = BATCH + READINGS + WEB


def judged(folder, batch=BOTH, web=None, part=PART_OF_TWO):
    """The judgement of a batch of two zones, each with its log."""
    (folder / "part.toml").write_text(part, "utf-8")
    (folder / "batch.toml").write_text(batch, "utf-8")
    (folder / "log.csv").write_text(Press().csv(), "utf-8")
    (folder / "web.csv").write_text((web or Press()).csv(), "utf-8")
    return report(folder / "batch.toml").judgement


def rows(judgement):
    """Zone, name and decision of each process reading, None for the zone that the batch names."""
    return [(row.zone, row.name, row.decision) for row in judgement.process]


GOOD = [(None, "peak temperature", "conforms"), (None, "time from pressed to gel", "conforms")]


def held(judgement):
    return [reason.name for reason in judgement.held_back if reason.rule == 12 and reason.name != "coupons"]


@pytest.mark.parametrize(
    ("web", "row"),
    [
        (Press(hold=130.0), ("web", "peak temperature", "does not conform")),
        (Press(hold=127.5), ("web", "peak temperature", "undecided")),
        (Press(closes=70.0), ("web", "time from pressed to gel", "undecided")),
        (Press(closes=46.0), ("web", "time from pressed to gel", "does not conform")),
        (Press(step=10.0), ("web", "time from pressed to gel", "undecided")),
    ],
)
def test_the_log_of_another_zone_keeps_to_the_limit_too(tmp_path, web, row):
    assert [r for r in rows(judged(tmp_path, web=web)) if r[0]] == [row]
    for_web = BOTH.replace('zone = "skin"', 'zone = "web"')
    assert ("does not conform" in {r[2] for r in rows(judged(tmp_path, for_web, web))}) == ("not" in row[2])


def test_zones_that_keep_to_it_add_nothing(tmp_path):
    judgement = judged(tmp_path)
    assert (rows(judgement), held(judgement)) == (GOOD, [])
    in_one = changed(BATCH + READINGS, ('zones = ["skin"]', 'zones = ["skin", "web"]'))
    judgement = judged(tmp_path, in_one)
    assert (rows(judgement), held(judgement)) == (GOOD, [])


@pytest.mark.parametrize(
    ("plan", "names"),
    [
        ('represented_by = "skin"', []),
        ('not_measured = "a fairing"', []),
        ('coupons = 1\nmethods = ["thickness"]', ["web"]),
    ],
)
def test_a_zone_without_a_log_holds_the_batch_back_unless_another_stands_for_it(tmp_path, plan, names):
    part = changed(PART_OF_TWO, ('represented_by = "skin"', plan))
    judgement = judged(tmp_path, BATCH + READINGS, part=part)
    assert (rows(judgement), held(judgement)) == (GOOD, names)


def test_a_log_of_another_day_or_of_nobodys_sensor_counts_in_every_zone(tmp_path):
    untraced = changed(WEB, ('reads = "laminate", instrument = "thermocouples"', 'reads = "laminate"'))
    judgement = judged(tmp_path, BATCH + READINGS + untraced)
    assert "instrument.TC 3" in [reason.name for reason in judgement.held_back]


TYPED = """
[process."peak temperature"]
value = "124 degC ± 1 (tolerance)"
source = "paper chart"
zone = "skin"
[process."time from pressed to gel"]
value = "25 min ± 1 (tolerance)"
source = "paper chart"
"""
TYPED_FOR_SKIN = TYPED + 'zone = "skin"\n'
TYPED_OF_ALL = TYPED.replace('zone = "skin"\n', "")
NO_LOG = BATCH[: BATCH.index("[instrument")]


@pytest.mark.parametrize(
    ("batch", "web", "expected"),
    [
        (NO_LOG + TYPED, None, GOOD),
        (BATCH + TYPED, None, GOOD),
        (
            BATCH + TYPED + WEB,
            Press(hold=127.5),
            [GOOD[0], ("web", "peak temperature", "undecided"), GOOD[1]],
        ),
        (
            BATCH + TYPED_FOR_SKIN + WEB,
            Press(closes=70.0),
            [*GOOD, ("web", "time from pressed to gel", "undecided")],
        ),
        (
            BATCH + TYPED_OF_ALL + WEB,
            Press(hold=127.5),
            [GOOD[0], ("web", "peak temperature", "undecided"), GOOD[1]],
        ),
        (
            BATCH + TYPED_OF_ALL + WEB,
            Press(hold=130.0),
            [GOOD[0], ("web", "peak temperature", "does not conform"), GOOD[1]],
        ),
        (
            BATCH + TYPED + WEB,
            Press(hold=130.0),
            [GOOD[0], ("web", "peak temperature", "does not conform"), GOOD[1]],
        ),
    ],
)
def test_what_is_typed_stands_unless_the_log_of_a_zone_breaks_the_limit(tmp_path, batch, web, expected):
    judgement = judged(tmp_path, batch, web)
    assert (rows(judgement), "web" in held(judgement)) == (expected, False)


def test_a_typed_value_is_no_better_than_the_log_of_the_zone_that_it_names(tmp_path):
    wide = changed(TYPED, ("124 degC ± 1 (tolerance)", "124 degC ± 2.5 (tolerance)"))
    for zone in ('zone = "skin"', 'zone = "web"', ""):
        batch = BATCH + wide.replace('zone = "skin"', zone) + WEB
        judgement = judged(tmp_path, batch, Press(hold=130.0))
        assert ("web", "peak temperature", "does not conform") in rows(judgement), zone


@pytest.mark.parametrize("typed", [TYPED, TYPED_FOR_SKIN])
def test_a_time_typed_of_what_its_log_says_was_pressed_late_contradicts_it(tmp_path, typed):
    late = changed(BATCH + typed, ('zones = ["skin"]', 'zones = ["skin", "web"]'))
    (tmp_path / "part.toml").write_text(PART_OF_TWO, "utf-8")
    (tmp_path / "batch.toml").write_text(late, "utf-8")
    (tmp_path / "log.csv").write_text(Press(closes=70.0).csv(), "utf-8")
    judgement = report(tmp_path / "batch.toml").judgement
    assert "time from pressed to gel" in {reason.name for reason in judgement.held_back if reason.rule == 12}
