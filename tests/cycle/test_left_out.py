"""What is left out of part, batch or log never gives a better verdict, nor a higher chance."""

import re
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from laminate.curing.answers import CANNOT, IN_TIME, LATE
from laminate.curing.cycling import cycle
from laminate.show.blocks import Sentence
from laminate.show.cycle_words import cycle_blocks
from laminate.values.problems import Refused

from . import planned_shop, shop
from .planned_shop import PART as CORE_PART
from .shop import BATCH, PART, Press, answer, answers, changed
from .test_core_log import BATCH as CORE_BATCH
from .test_core_log import NO_CYCLE, RAMP, log_of

EXAMPLE = Path(__file__).parents[2] / "examples" / "cycle"
SLOW = {
    "deadline": None,
    "suppress_health_check": [HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
}
TC_3 = '"TC 3" = { reads = "laminate", instrument = "thermocouples", place = "middle" }\n'
WANTED = changed(
    PART, ("laminate = 1", "laminate = 2"), ("tool = 0", "tool = 1"), ('pressure" = 1', 'pressure" = 2')
)
SENSORS = PART.splitlines()[-1] + "\n"
MORE = (
    '"TC 4" = { reads = "laminate", instrument = "thermocouples" }\n'
    '"die" = { reads = "tool", instrument = "thermocouples" }\n'
    '"bag 2" = { reads = "bladder pressure", base = "over ambient", instrument = "gauge 4" }\n'
)


def no_better(less, whole, by_draws=0.0):
    """Neither a better verdict, nor a higher chance; one that is not known is no better.

    by_draws: how far chances may differ where other numbers are drawn.
    """
    assert whole.verdict == IN_TIME or less.verdict != IN_TIME
    if less.chance.both is not None and whole.chance.both is not None:
        assert less.chance.both <= whole.chance.both + by_draws


def without(log, batch, name):
    """A log and its batch without a column."""
    rows = [row.split(",") for row in log.strip().split("\n")]
    at = [cell.split(" [")[0] for cell in rows[0]].index(name)
    kept = "\n".join(",".join([*row[:at], *row[at + 1 :]]) for row in rows) + "\n"
    return kept, "\n".join(line for line in batch.split("\n") if not line.startswith(f'"{name}"'))


def six_columns(closes, seed):
    press, random = Press(closes=closes, step=1.0), np.random.RandomState(seed)
    hotter = np.minimum(23.0 + 3.0 * np.maximum(press.minutes - 1.0, 0.0), press.hold + 0.5)
    rows = press.csv().splitlines()
    for k in range(len(press.minutes)):
        noise = random.normal(0.0, 0.2, 2)
        rows[k + 1] += (
            f",{hotter[k] + noise[0]:.1f},{press.platen[k] - 0.5 + noise[1]:.1f},{press.bag[k]:.2f}"
        )
    return "\n".join([rows[0] + ",TC 4 [degC],die [degC],bag 2 [bar]", *rows[1:]]) + "\n", BATCH + MORE


@settings(max_examples=25, **SLOW)
@given(
    closes=st.floats(30.0, 60.0),
    seed=st.integers(0, 99),
    name=st.sampled_from(["TC 3", "TC 4", "top", "die", "bag", "bag 2"]),
)
def test_a_sensor_left_out_of_a_log_is_no_better_where_the_part_says_how_many_there_are(
    tmp_path, closes, seed, name
):
    log, batch = six_columns(closes, seed)
    whole = answer(tmp_path, log, batch, WANTED, draws=300)
    assert "sensors" not in whole.unknown
    no_better(answer(tmp_path, *without(log, batch, name), WANTED, draws=300), whole)


@settings(max_examples=25, **SLOW)
@given(
    closes=st.floats(30.0, 60.0),
    seed=st.integers(0, 99),
    name=st.sampled_from(["TC 3", "TC 4", "top", "die", "bag", "bag 2"]),
    cells=st.lists(st.integers(1, 60), min_size=1, max_size=30),
    bad=st.sampled_from(["", "---", "9999"]),
)
def test_readings_left_out_of_a_log_are_no_better(tmp_path, closes, seed, name, cells, bad):
    log, batch = six_columns(closes, seed)
    whole = answer(tmp_path, log, batch, WANTED, draws=300)
    rows = [row.split(",") for row in log.strip().split("\n")]
    at = [cell.split(" [")[0] for cell in rows[0]].index(name)
    for row in cells:
        rows[row][at] = bad
    less = answer(tmp_path, "\n".join(",".join(row) for row in rows) + "\n", batch, WANTED, draws=300)
    assert whole.verdict == IN_TIME or less.verdict != IN_TIME


def test_a_part_that_says_no_number_of_sensors_is_told_the_line_to_write(tmp_path):
    """Nobody asked for the number: the verdict stands, and says that a sensor could be missing."""
    found = answer(tmp_path, Press().csv(), part=changed(PART, (SENSORS, "")), draws=200)
    assert found.verdict == IN_TIME
    start = found.unknown["sensors"].index("sensors = {")
    line = found.unknown["sensors"][start:].partition(" in [zone.skin]")[0]
    told = answer(tmp_path, Press().csv(), part=changed(PART, (SENSORS, line + "\n")), draws=200)
    assert (told.verdict, "sensors" in told.unknown) == (IN_TIME, False)


def test_a_sensor_that_stops_before_gel_is_not_counted(tmp_path):
    rows = [row.split(",") for row in Press().csv().strip().split("\n")]
    assert answer(tmp_path, "\n".join(",".join(r) for r in rows) + "\n", draws=300).verdict == IN_TIME
    for row in rows[60:]:
        row[2] = ""
    found = answer(tmp_path, "\n".join(",".join(r) for r in rows) + "\n", draws=300)
    assert (found.verdict, found.chance.both) == (CANNOT, None)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('repeatability = "0.1 K (standard)"\n', ""),
        ('repeatability = "0.01 bar (standard)"\n', ""),
        ('calibration = "1 K (k=2)"\n', ""),
        ('calibration = "0.05 bar (k=2)"\n', ""),
        ('"laminate", instrument = "thermocouples", ', '"laminate", '),
        (', instrument = "gauge 4"', ""),
    ],
)
@pytest.mark.parametrize("closes", [10.0, 47.0, 70.0])
def test_a_sensor_of_which_no_calibration_is_stated_is_an_ordinary_one_and_said(tmp_path, old, new, closes):
    """± 2.5 K, class 2 of IEC 60584-1, or ± 2.5 % of the reading: wider than what is stated here."""
    whole = answer(tmp_path, Press(closes=closes).csv(), draws=2000)
    less = answer(tmp_path, Press(closes=closes).csv(), changed(BATCH, (old, new)), draws=2000)
    assert less.verdict == whole.verdict
    no_better(less, whole, 0.02)
    assert len(less.warnings) > len(whole.warnings)
    if "repeatability" not in old and closes == 47.0:
        assert less.chance.both < whole.chance.both or "bar" in old or "gauge" in old


def test_a_part_that_limits_the_process_wants_calibrated_instruments(tmp_path):
    """Said, and the verdict at most 'cannot say', where the part sets a process limit."""
    part, batch = PART + LIMITED, changed(BATCH, (', instrument = "gauge 4"', ""))
    assert answer(tmp_path, Press().csv(), part=part, draws=200).verdict == IN_TIME
    assert answer(tmp_path, Press().csv(), batch, part, draws=200).verdict == CANNOT


def test_a_share_of_a_temperature_is_no_uncertainty(tmp_path):
    with pytest.raises(Refused) as refused:
        answer(tmp_path, Press().csv(), changed(BATCH, ("1 K (k=2)", "1 % (k=2)")))
    assert [problem.code for problem in refused.value.problems] == ["wrong-kind"]


@pytest.mark.parametrize("heading", ["TC 3 [degC]", "TC 3", "skin upper left"])
def test_a_column_in_the_log_that_nobody_names_may_be_a_sensor(tmp_path, heading):
    press = Press()
    log = press.csv().replace("Time [min],TC 3 [degC]", f"Time [min],{heading}")
    other = '"more" = { reads = "laminate", instrument = "thermocouples", place = "middle" }\n'
    rows = log.splitlines()
    both = "\n".join(
        [f"{rows[0]},more [degC]", *(f"{r},{v}" for r, v in zip(rows[1:], press.laminate, strict=True))]
    )
    named = changed(BATCH, (TC_3, other))
    found = answer(tmp_path, both + "\n", named, draws=300)
    assert (found.verdict, found.chance.both) == (CANNOT, None)
    said = f'"{heading.split(" [")[0]}" = {{ reads = "other" }}\n'
    assert answer(tmp_path, both + "\n", named + said, draws=300).verdict == IN_TIME


@pytest.mark.parametrize(("first", "verdict"), [(0, IN_TIME), (1, IN_TIME), (5001, IN_TIME), (None, CANNOT)])
def test_what_counts_the_rows_is_no_temperature(tmp_path, first, verdict):
    """One that stops for a row may be any reading."""
    heading, *rows = Press().csv().splitlines()
    counts = [at + first if first is not None else at - (at > 60) for at in range(len(rows))]
    log = "\n".join([f"No.,{heading}", *(f"{count},{row}" for count, row in zip(counts, rows, strict=True))])
    assert answer(tmp_path, log + "\n", draws=300).verdict == verdict


def test_an_unnamed_pressure_keeps_a_bladder_zone_back(tmp_path):
    rows = Press().csv().splitlines()
    log = "\n".join([f"{rows[0]},resin [bar]", *(f"{row},0.4" for row in rows[1:])]) + "\n"
    assert answer(tmp_path, log, draws=300).verdict == CANNOT


@pytest.mark.parametrize("names", [("bag", "bag 2"), ("bag 2", "bag")])
def test_of_two_gauges_the_lower_counts_whatever_their_order(tmp_path, names):
    rows = Press(bar=6.0).csv().replace("bag [bar]", f"{names[0]} [bar]").splitlines()
    log = "\n".join([f"{rows[0]},{names[1]} [bar]", *(f"{row},3.5" for row in rows[1:])]) + "\n"
    found = answer(tmp_path, log, BATCH + MORE.splitlines()[2] + "\n", draws=300)
    assert found.applied_pressure_at_gel.value == pytest.approx(3.5e5)


def test_a_charge_that_is_warm_when_it_is_said_to_be_cold(tmp_path):
    press = Press(closes=50.0)
    for minutes, verdict in ((0, CANNOT), (30, CANNOT)):
        line = f'zones = ["skin"]\ncharge_heated_since = "{minutes} min"'
        found = answer(tmp_path, press.csv(), changed(BATCH, ('zones = ["skin"]', line)), draws=500)
        assert found.verdict == verdict
        assert (found.chance.both is None) == (minutes == 30)


def test_a_zone_that_no_log_tells_of_cannot_be_said(tmp_path):
    part = (
        PART
        + '[zone.web]\nbladder = "bag"\nstack = ["10 ud150"]\npressed_at = "3 bar"\nbleed_limit = "0 %"\n'
    )
    found = answers(tmp_path, Press().csv(), part=part, draws=300)
    assert [(one.zone, one.verdict) for one in found.zones] == [("skin", IN_TIME), ("web", CANNOT)]
    assert (found.good, found.verdict) == (False, CANNOT)


# a rubber core


def core_log(folder, width, shift=0.0, noise=0.2, seed=0, part=NO_CYCLE):
    """A log with a sensor that reads the mean of the core, and so much more once it is warm [K]."""
    own = changed(part, ("31.20 mm", f"{width} mm"))
    plan = planned_shop.first(folder, own + RAMP, draws=2)
    rows = log_of(plan, noise=noise, seed=seed).splitlines()
    seconds = 30.0 * np.arange(len(rows) - 1)
    core = np.interp(seconds, plan.curves.seconds, plan.curves.temperatures["core fore, mean"]) - 273.15
    core = np.where(core > 60.0, core + shift, core)
    lines = [f"{row},{value:.1f}" for row, value in zip(rows[1:], core, strict=True)]
    return "\n".join([f"{rows[0]},mid [degC]", *lines[::2]]) + "\n", own


CORE_SENSOR = CORE_BATCH + '"mid" = { reads = "core", instrument = "thermocouples" }\n'


@pytest.mark.parametrize("width", [30.9, 31.2])
def test_a_sensor_in_the_core_that_agrees_changes_nothing(tmp_path, width):
    log, part = core_log(tmp_path, width)
    whole = answer(tmp_path, log, CORE_SENSOR, part, draws=500)
    less = answer(tmp_path, *without(log, CORE_SENSOR, "mid"), part, draws=500)
    assert (whole.verdict, whole.chance) == (less.verdict, less.chance)
    assert whole.applied_pressure_at_gel == less.applied_pressure_at_gel


@pytest.mark.parametrize(("shift", "words"), [(-35.0, "colder"), (60.0, "hotter")])
def test_a_sensor_in_the_core_that_conduction_contradicts_keeps_it_back(tmp_path, shift, words):
    log, part = core_log(tmp_path, 31.2, shift)
    found = answer(tmp_path, log, CORE_SENSOR, part, draws=300)
    assert (found.verdict, found.chance.both) == (CANNOT, None)
    assert any(words in why for why in found.why)
    wanted = changed(part, ("core = 0", "core = 1"))
    less = answer(tmp_path, *without(log, CORE_SENSOR, "mid"), wanted, draws=300)
    assert (less.verdict, less.chance.both) == (CANNOT, None)


@pytest.mark.parametrize(
    "gone",
    [
        CORE_PART[CORE_PART.index("[heat.laminate]") : CORE_PART.index("[heat.core.fore]")],
        CORE_PART[CORE_PART.index("[heat.core.fore]") : CORE_PART.index("[cycle.slow]")],
        'contact = { laminate = "1000 W/m^2/K ± 600 (tolerance)" }\n',
    ],
)
def test_a_sensor_in_the_core_stands_in_for_no_heat(tmp_path, gone):
    log, part = core_log(tmp_path, 31.2)
    found = answer(tmp_path, log, CORE_SENSOR, changed(part, (gone, "")), draws=300)
    assert (found.verdict, found.chance.both) == (CANNOT, None)
    assert "[heat." in found.why[0]


def test_a_core_that_the_part_heats_from_inside_has_the_temperature_of_its_sensor(tmp_path):
    log, part = core_log(tmp_path, 31.2, noise=0.0)
    inside = RAMP + 'core = { fore = [["0 min", "23 degC"], ["60 min", "110 degC"]] }\n'
    no_heat = changed(
        part, (CORE_PART[CORE_PART.index("[heat.core.fore]") : CORE_PART.index("[cycle.slow]")], "")
    )
    found = answer(tmp_path, log, CORE_SENSOR, no_heat + inside, draws=300)
    assert found.applied_pressure_at_gel.value > 1e5
    less = answer(tmp_path, *without(log, CORE_SENSOR, "mid"), no_heat + inside, draws=300)
    assert less.applied_pressure_at_gel is None
    no_better(less, found)


ALL_WANTED = ("laminate = 1", "laminate = 2"), ("core = 0", "core = 1")


@pytest.mark.slow
@settings(max_examples=10, **SLOW)
@given(
    width=st.sampled_from([30.85, 30.95, 31.05]),
    seed=st.integers(0, 99),
    name=st.sampled_from(["TC 3", "in", "top", "mid"]),
)
def test_a_sensor_left_out_beside_a_core_is_no_better(tmp_path, width, seed, name):
    log, part = core_log(tmp_path, width, seed=seed)
    part = changed(part, *ALL_WANTED)
    whole = answer(tmp_path, log, CORE_SENSOR, part, draws=300)
    with suppress(Refused):
        no_better(answer(tmp_path, *without(log, CORE_SENSOR, name), part, draws=300), whole)


def test_a_tool_that_nothing_reads_is_as_hot_as_anything_in_the_log(tmp_path):
    log, part = core_log(tmp_path, 30.95, noise=0.0)
    whole = answer(tmp_path, log, CORE_SENSOR, part, draws=300)
    less = answer(tmp_path, *without(log, CORE_SENSOR, "top"), part, draws=300)
    assert less.applied_pressure_at_gel.value <= whole.applied_pressure_at_gel.value + 1e4


def test_the_shop_of_these_tests_is_in_time(tmp_path):
    log, batch = six_columns(10.0, 0)
    assert shop.answer(tmp_path, log, batch, WANTED, draws=300).verdict == IN_TIME
    log, part = core_log(tmp_path, 31.2)
    part = changed(part, *ALL_WANTED)
    assert shop.answer(tmp_path, log, CORE_SENSOR, part, draws=300).verdict == IN_TIME


# what is not known


def nulls(value, path=""):
    """The dotted paths of everything that is null."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield from nulls(one, f"{path}.{key}" if path else key)
    elif value is None:
        yield path


NO_GEL = PART[PART.index("gel_time") : PART.index("gel_source")]


@pytest.mark.parametrize(
    ("press", "batch", "part"),
    [
        (Press(), BATCH, PART),
        (Press(closes=49.0), BATCH, PART),
        (Press(closes=70.0), BATCH, PART),
        (Press(total=30.0), BATCH, PART),
        (Press(), BATCH, changed(PART, ('"nothing"', '"water"'))),
        (Press(), BATCH, changed(PART, (NO_GEL, ""))),
        (Press(), changed(BATCH, (TC_3, "")), PART),
        (Press(), changed(BATCH, (BATCH.splitlines()[-1] + "\n", "")), PART),
    ],
)
def test_everything_that_is_null_has_a_reason(tmp_path, press, batch, part):
    from laminate.show.cycle_json import ANSWER, EVENTS

    zone = ANSWER.json(answers(tmp_path, press.csv(), batch, part, draws=300))["zones"][0]
    said = zone["not_known"]
    assert "cycle" not in said
    for path in nulls({key: zone[key] for key in zone if key not in ("cycle", "log", "events", "readings")}):
        names = {path, path.split(".")[0]}
        assert names & {*said} or path.endswith("standard_uncertainty"), path
    there = {event["event"] for event in zone["events"]}
    assert "events" in said or {*EVENTS} - there <= {*said}


@settings(max_examples=20, **SLOW)
@given(
    hold=st.floats(110.0, 140.0),
    rises=st.lists(st.tuples(st.integers(0, 100), st.floats(0.1, 8.0)), min_size=1, max_size=30),
    days=st.floats(0.0, 30.0),
    more=st.floats(0.0, 10.0),
)
def test_gel_is_never_later_where_any_reading_is_hotter_or_the_out_time_longer(
    tmp_path, hold, rises, days, more
):
    def gel(press, out):
        batch = changed(BATCH, ('"12 d"', f'"{out:.3f} d"'))
        found = answer(tmp_path, press.csv(), batch, draws=50).event("gel first")
        return np.inf if found is None else found.time.value

    press, hotter = Press(hold=hold, step=1.0), Press(hold=hold, step=1.0)
    for row, kelvin in rises:
        hotter.laminate[row : row + 6] += kelvin
    before = gel(press, days)
    assert gel(hotter, days) <= before + 1e-6
    assert gel(press, days + more) <= before + 1e-6


@settings(max_examples=20, **SLOW)
@given(
    low=st.floats(1.0, 99.0), high=st.floats(1.0, 99.0), bar=st.floats(3.5, 12.0), more=st.floats(0.0, 5.0)
)
def test_the_margin_falls_with_humidity_and_rises_with_pressure_one_to_one(tmp_path, low, high, bar, more):
    def margin(humidity, pressure):
        batch = changed(BATCH, ('"45 % (exact)"', f'"{humidity:.4f} %"'))
        log = Press(bar=round(pressure, 2), step=2.0).csv()
        return answer(tmp_path, log, batch, draws=50).vapor_margin.value

    dry, wet = sorted((low, high))
    assert margin(wet, bar) <= margin(dry, bar) + 1e-6
    rise = 1e5 * (round(bar + more, 2) - round(bar, 2))
    assert margin(low, bar + more) - margin(low, bar) == pytest.approx(rise, abs=1.0)


LIMITED = '[limits.process."peak temperature"]\nindividual = { max = "130 degC" }\n'


def shorter(text):
    """The text without each line, each key of an inline table, and each table."""
    lines = text.splitlines(keepends=True)
    heads = [at for at, line in enumerate(lines) if line.startswith("[")]
    for at in range(len(lines)):
        yield "".join(lines[:at] + lines[at + 1 :])
    for start, end in zip(heads, [*heads[1:], len(lines)], strict=True):
        yield "".join(lines[:start] + lines[end:])
    for key in re.finditer(r'(?<=[{ ])("[^"]+"|[a-z_]+) = ("[^"]*"|\d+)(, )?', text):
        yield text[: key.start()] + text[key.end() :]
    for spread in re.finditer(r' ± [^"]*(?=")', text):
        yield text[: spread.start()] + text[spread.end() :]


@pytest.mark.parametrize("closes", [10.0, 48.0, 70.0])
def test_no_line_key_or_table_left_out_of_part_or_batch_is_any_better(tmp_path, closes):
    log = Press(closes=closes, step=1.0).csv()
    due = changed(BATCH, ("due = 2027-01-01", "due = 2026-11-01")) if closes == 10.0 else BATCH
    part = PART + (LIMITED if closes == 10.0 else "")
    whole = answer(tmp_path, log, due, part, draws=300)
    assert whole.verdict == (LATE if closes == 70.0 else CANNOT)
    tried = [(text, due) for text in shorter(PART)] if closes != 10.0 else []
    for less_part, less_batch in [*tried, *((part, text) for text in shorter(due))]:
        with suppress(Refused):
            no_better(answer(tmp_path, log, less_batch, less_part, draws=300), whole, 0.03)


@pytest.mark.parametrize("file", ["part.toml", "batch.toml"])
def test_a_spread_left_out_is_named_beside_pressed_in_time(tmp_path, file):
    """A spread is asked for along a cycle where a usual one would matter; one that would not is named."""
    stated = EXAMPLE / "part.toml"
    bare = changed(stated.read_text("utf-8"), ("265e-6 /K ± 5e-6 (tolerance)", "265e-6 /K"))
    for name in ("batch.toml", "P2-1120.csv"):
        (tmp_path / name).write_text((EXAMPLE / name).read_text("utf-8"), "utf-8")
    for text, named in ((bare, True), (stated.read_text("utf-8"), False)):
        (tmp_path / "part.toml").write_text(text, "utf-8")
        made = cycle(tmp_path / file)
        assert made.zones[0].verdict == IN_TIME
        lines = [
            block.text for block in cycle_blocks(made, "metric", why=False) if isinstance(block, Sentence)
        ]
        assert any("265e-6 /K" in line for line in lines) is named
