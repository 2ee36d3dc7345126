"""What several statements say of one thing: the side that calls no bad part good, whatever their order."""

import pytest

from laminate.curing.answers import CANNOT, IN_TIME
from laminate.curing.charges import contents_of
from laminate.files.batch import Lot
from laminate.files.part import part_of

from .shop import BATCH, PART, Press, answer, changed

LOTS = '[[lot]]\nprepreg = "ud150"\nnumber = "L1"'
GAUGES = '"bag" = { reads = "bladder pressure", base = "over ambient", instrument = "gauge 4" }'
WIDE = '[instrument."gauge 5"]\ncalibration = "2 bar (k=2)"\ndue = 2027-01-01\n[[log]]'


def two_gauges(first, second, offset):
    """A log with two gauges of the bladder; the second one reads less by an offset [bar]."""
    rows = Press(bar=4.0).csv().splitlines()
    values = [row.rsplit(",", 1) for row in rows[1:]]
    log = (
        "\n".join([f"{rows[0]},bag 2 [bar]", *(f"{a},{b},{float(b) - offset:.2f}" for a, b in values)]) + "\n"
    )
    columns = f'"bag" = {{ reads = "bladder pressure", base = "over ambient", instrument = "{first}" }}\n'
    columns += f'"bag 2" = {{ reads = "bladder pressure", base = "over ambient", instrument = "{second}" }}'
    return log, changed(BATCH, (GAUGES, columns), ("[[log]]", WIDE))


PART_OF_TWO = changed(PART, ('"bladder pressure" = 1', '"bladder pressure" = 2'))


@pytest.mark.parametrize("order", [("gauge 4", "gauge 5"), ("gauge 5", "gauge 4")])
def test_of_gauges_that_read_alike_the_best_known_decides(tmp_path, order):
    log, batch = two_gauges(*order, 0.0)
    assert answer(tmp_path, log, batch, PART_OF_TWO, draws=2000).verdict == IN_TIME


@pytest.mark.parametrize(
    ("order", "verdict"), [(("gauge 5", "gauge 4"), IN_TIME), (("gauge 4", "gauge 5"), CANNOT)]
)
def test_the_gauge_that_reads_least_at_gel_decides_with_its_own_error(tmp_path, order, verdict):
    log, batch = two_gauges(*order, 0.1)
    assert answer(tmp_path, log, batch, PART_OF_TWO, draws=2000).verdict == verdict


def test_a_second_lot_takes_no_spread_of_the_first_away(tmp_path):
    """The wetter lot by nominal value is known exactly, the other may be far wetter."""
    wide = ('stored_humidity = "45 % (exact)"', 'stored_humidity = "59 % ± 40 (tolerance)"')
    text = changed(BATCH, wide)
    whole = text[text.index("[[lot]]") : text.index("[instrument.thermocouples]")]
    lot = changed(whole, ('share = "100 %"', 'share = "50 %"'))
    exact = changed(lot, ('"L1"', '"L2"'), ('"59 % ± 40 (tolerance)"', '"60 % (exact)"'))
    alone = answer(tmp_path, Press(bar=1.0).csv(), text, draws=2000)
    both = answer(tmp_path, Press(bar=1.0).csv(), text.replace(whole, lot + exact), draws=2000)
    assert both.chance.above_vapor is not None
    assert both.chance.above_vapor <= alone.chance.above_vapor + 0.02


def test_the_larger_of_two_needs_keeps_the_spread_of_the_other(tmp_path):
    spread = ('pressed_at = "3 bar"', 'pressed_at = "5.5 bar ± 1 (tolerance)"')
    both = (spread[0], f'{spread[1]}\nwanted_pressure = "5.51 bar"')
    alone, with_wanted = (
        answer(tmp_path, Press().csv(), part=changed(PART, e), draws=2000) for e in (spread, both)
    )
    assert alone.verdict == with_wanted.verdict == CANNOT


def test_the_shortest_out_life_holds_whoever_states_it():
    def used(part_life="", lot_life=""):
        import tomllib

        tables = tomllib.loads(PART)
        tables["prepreg"]["ud150"] |= {"out_life": part_life} if part_life else {}
        lot = {
            "prepreg": "ud150",
            "number": "L1",
            "out_time": "12 d",
            **({"out_life": lot_life} if lot_life else {}),
        }
        part = part_of(tables, "part.toml")
        return contents_of(part, "skin", [Lot.model_validate(lot)]).charges[0].start.value

    # 20 % of the clock in 30 days; 13 days where part or lot state less
    assert used() == pytest.approx(0.2 * 12 / 30)
    assert (
        used(part_life="13 d")
        == used(lot_life="13 d")
        == used("20 d", "13 d")
        == pytest.approx(0.2 * 12 / 13)
    )
