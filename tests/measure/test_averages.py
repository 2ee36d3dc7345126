"""Averages by hand: what averages out, what does not, and the coverage factor."""

import math

import pytest

from tests.messages.wording import says

HEADING = "specimen,thickness [mm]"
MICROMETER = ("--micrometer", "0.002 mm (standard)")
STUDENT_95 = {1: 12.706, 2: 4.303, 3: 3.182, 4: 2.776}  # JCGM 100 table G.2, 95 %


def thickness(shop, values, *options):
    shop.table(HEADING, *(f"{i},{value}" for i, value in enumerate(values)))
    answer = shop.json(
        "measure", "coupons.csv", "--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3", *options
    )
    return answer["average"]["thickness"], answer["budget"]["thickness"]


def deviation(values):
    mean = sum(values) / len(values)
    return math.sqrt(sum((v - mean) ** 2 for v in values) / (len(values) - 1))


@pytest.mark.parametrize("values", [(2.86, 2.90), (2.86, 2.87, 2.90), (2.85, 2.86, 2.87, 2.90)])
def test_few_coupons_that_scatter_have_a_large_factor(values, shop):
    """k = 12.7 at n = 2 and 4.3 at n = 3 where the scatter dominates; the last decimals are 1 nm."""
    average, budget = thickness(shop, [f"{v:.6f}" for v in values], *MICROMETER)
    n, s = len(values), deviation(values)
    assert average["value"] == pytest.approx(sum(values) / n, rel=1e-12)
    assert average["standard_deviation"] == pytest.approx(s, rel=1e-9)
    assert average["standard_uncertainty"] == pytest.approx(s / math.sqrt(n), rel=1e-9)
    assert average["effective_degrees_of_freedom"] == pytest.approx(n - 1)
    assert average["coverage_factor"] == pytest.approx(STUDENT_95[n - 1], abs=6e-4)
    assert average["expanded_uncertainty"] == pytest.approx(STUDENT_95[n - 1] * s / math.sqrt(n), rel=2e-4)
    assert [line["input"] for line in budget if line["share"] > 1e-4] == ["scatter between coupons"]


def test_the_last_decimal_of_a_column_does_not_average_out(shop):
    """Two decimals are d = 0.01 mm, q = d/sqrt(12) = 0.00289 mm.

    u^2 = (s^2 + q^2)/n + q^2 and U^2 = t^2 (s^2 + q^2)/n + 1.95996^2 q^2, t = 4.303 of 2 degrees of freedom.
    """
    values = (2.86, 2.87, 2.90)
    average, budget = thickness(shop, values, *MICROMETER)
    q2, seen = 0.01**2 / 12, deviation(values) ** 2 + 0.01**2 / 12
    u = math.sqrt(seen / 3 + q2)
    assert average["standard_deviation"] == pytest.approx(deviation(values), rel=1e-9)
    assert average["standard_uncertainty"] == pytest.approx(u, rel=1e-9)
    wide = math.sqrt(4.30265**2 * seen / 3 + 1.95996**2 * q2)
    assert average["expanded_uncertainty"] == pytest.approx(wide, rel=1e-5)
    shares = {line["input"]: line["share"] for line in budget}
    assert shares == {
        "scatter between coupons": pytest.approx(100 * seen / 3 / u**2),
        "thickness, resolution": pytest.approx(100 * q2 / u**2),
    }


@pytest.mark.parametrize(
    ("told", "step"), [(None, 0.0001), ("0.003 mm", 0.003), ("0.00001 mm", 0.0001), ("0.001 in", 0.0254)]
)
def test_three_readings_alike_are_no_better_than_their_instrument(told, step, shop):
    """The last decimal is 0.0001 mm: what is told counts where it is coarser. t = 4.303, n = 3.

    s = 5.77e-5 mm alone would be U = 0.00014 mm. One reading has u = d/sqrt(12) with nothing else told.
    """
    values = ("2.9490", "2.9490", "2.9491")
    options = () if told is None else ("--micrometer-resolution", told)
    average, _ = thickness(shop, values, *options)
    q2, s2 = step**2 / 12, deviation([float(v) for v in values]) ** 2
    wide = math.sqrt(4.30265**2 * (s2 + q2) / 3 + 1.95996**2 * q2)
    assert average["expanded_uncertainty"] == pytest.approx(wide, rel=1e-5)
    if told == "0.003 mm":
        assert average["expanded_uncertainty"] > 0.002


def test_a_resolution_is_told_of_an_instrument_of_the_batch(shop):
    """Of one reading, repeatability 0.002 mm, calibration 0.003/2 mm and d/sqrt(12) of d = 0.01 mm."""
    shop.change("batch.toml", 'calibration = "0.003 mm (k=2)"', 'calibration = "0.003 mm (k=2)"\n'
                'resolution = "0.01 mm"')  # fmt: skip
    shop.table("specimen,zone,thickness [mm]", "a,web,2.868", "b,web,2.87")
    answer = shop.json("measure", "batch.toml")
    u = math.sqrt(0.002**2 + 0.0015**2 + 0.01**2 / 12)
    assert answer["specimens"][0]["thickness"]["standard_uncertainty"] == pytest.approx(u, rel=1e-9)
    assert "thickness, resolution" in {line["input"] for line in answer["budget"]["thickness"]}


def test_columns_are_rounded_each_on_its_own(shop):
    """Crucible weighings of 10 mg: w = (m3 - m1)/(m2 - m1), three roundings that do not cancel."""
    shop.table(
        "specimen,crucible mass [g],crucible with specimen [g],crucible with residue [g],method",
        "a,20.00,22.00,21.36,digestion",
    )
    answer = shop.json("measure", "coupons.csv", "--fiber-density", "1.79 g/cm^3",
                       "--resin-density", "1.22 g/cm^3", "--balance-resolution", "10 mg")  # fmt: skip
    w, u = 0.68, 0.01 / math.sqrt(12)
    by_hand = 100 * math.sqrt((u / 2) ** 2 + (w * u / 2) ** 2 + ((1 - w) * u / 2) ** 2)
    found = answer["specimens"][0]["fiber_content"]["standard_uncertainty"]
    assert found == pytest.approx(by_hand, rel=1e-9)


def test_repeats_do_not_average_a_rounding_out(shop):
    """Two repeats alike, nothing told: (s^2 + q^2)/2 with s = 0, and q^2 besides."""
    shop.table("specimen,thickness 1 [mm],thickness 2 [mm]", "a,2.86,2.86")
    answer = shop.json(
        "measure", "coupons.csv", "--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3"
    )
    found = answer["specimens"][0]["thickness"]["standard_uncertainty"]
    assert found == pytest.approx(math.sqrt(1.5 * 0.01**2 / 12), rel=1e-9)


@pytest.mark.parametrize("text", ["0.01", "0 mm", "0.01 mm (k=2)", "1 %", "0.1 mg", "-0.01 mm"])
def test_a_resolution_that_is_no_step_is_refused(text, shop):
    shop.change("batch.toml", 'calibration = "0.003 mm (k=2)"', 'calibration = "0.003 mm (k=2)"\n'
                f'resolution = "{text}"')  # fmt: skip
    found = shop.run("measure", "batch.toml")
    assert found.status == 2
    assert "instrument.micrometer.resolution" in found.err


def test_the_scatter_of_repeats_is_pooled_without_what_is_excluded_or_in_doubt(shop):
    """Spreads 0.01/sqrt(2) of a and b; c is off by 0.3 mm: excluded or doubted it tells nothing of theirs.

    u^2 = (s^2 + q^2)/2 + q^2, s^2 = 0.01^2/2, q^2 = 0.001^2/12; accepted, c counts: s^2 = 0.0901/6.
    """
    heading = "specimen,thickness 1 [mm],thickness 2 [mm],excluded,accepted"
    rows = ["a,2.860,2.870", "b,2.880,2.870"]
    q2 = 0.001**2 / 12
    sound = math.sqrt((0.01**2 / 2 + q2) / 2 + q2)
    every = math.sqrt(((0.01**2 + 0.01**2 + 0.3**2) / 6 + q2) / 2 + q2)
    for words, u in (
        (",", sound),
        ("slipped,", sound),
        (",thickness 1: on a ridge; thickness 2: too", every),
    ):
        shop.table(heading, *(f"{row},," for row in rows), f"c,2.870,3.170,{words}")
        answer = shop.json(
            "measure", "coupons.csv", "--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3"
        )
        assert answer["specimens"][0]["thickness"]["standard_uncertainty"] == pytest.approx(u, rel=1e-9)
        assert any(says("measure: the scatter of repeats is pooled", note) for note in answer["notes"]) == (
            u == sound
        )


def test_a_shared_calibration_does_not_average_out(shop):
    """u^2 = (s^2 + q^2)/n + u_cal^2 + q^2; U^2 with the t of each: 3.182 of 3, 2.262 of 9 degrees."""
    values = (2.868, 2.870, 2.871, 2.866)
    shop.change("batch.toml", 'calibration = "0.003 mm (k=2)"', 'calibration = "0.002 mm (standard, dof=9)"')
    shop.table("specimen,zone,thickness [mm]", *(f"{i},web,{v}" for i, v in enumerate(values)))
    answer = shop.json("measure", "batch.toml")
    average = answer["average"]["thickness"]
    q2 = 0.001**2 / 12  # of the last decimal
    scatter = math.sqrt(deviation(values) ** 2 + q2) / 2
    u = math.sqrt(scatter**2 + 0.002**2 + q2)
    wide = math.hypot(3.18245 * scatter, 2.26216 * 0.002, 1.95996 * math.sqrt(q2))
    assert average["standard_uncertainty"] == pytest.approx(u, rel=1e-9)
    assert average["expanded_uncertainty"] == pytest.approx(wide, rel=1e-5)
    assert average["coverage_factor"] == pytest.approx(wide / u, rel=1e-5)
    assert 3 < average["effective_degrees_of_freedom"] < 9
    shares = {line["input"]: line["share"] for line in answer["budget"]["thickness"]}
    assert shares == {
        "scatter between coupons": pytest.approx(100 * scatter**2 / u**2),
        "calibration of micrometer": pytest.approx(100 * 0.002**2 / u**2),
        "thickness, resolution": pytest.approx(100 * q2 / u**2),
    }


def test_a_shared_offset_cancels_in_a_difference_of_two_readings(shop):
    """Crucible weighings on one balance: its calibration moves none of the masses, its scatter does.

    The masses have seven decimals, so that their rounding adds 3e-8 g.
    """
    shop.table(
        "specimen,zone,crucible mass [g],crucible with specimen [g],crucible with residue [g],method",
        *(f"{i},web,20.0000000,22.0000000,{21.36 + 0.002 * i:.7f},digestion" for i in range(3)),
    )
    shop.change("batch.toml", 'calibration = "0.1 mg (standard)"', 'calibration = "50 mg (standard)"')
    shop.change("batch.toml", '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
                'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber', "")  # fmt: skip
    answer = shop.json("measure", "batch.toml")
    one = answer["specimens"][0]["fiber_content"]
    w, u = 0.68, 1e-4  # shares and grams: w = (m3 - m1)/(m2 - m1)
    by_hand = 100 * math.sqrt((u / 2) ** 2 + (w * u / 2) ** 2 + ((1 - w) * u / 2) ** 2)
    assert one["standard_uncertainty"] == pytest.approx(by_hand, rel=1e-6)
    shares = {line["input"]: line["share"] for line in answer["budget"]["fiber_content"]}
    assert shares.get("calibration of balance", 0.0) < 1e-12


@pytest.mark.parametrize("key", ["fiber_volume", "void_content", "resin_content", "density", "thickness"])
def test_every_budget_sums_to_the_whole(key, shop):
    answer = shop.json("measure", "batch.toml")
    lines = answer["budget"][key]
    assert sum(line["share"] for line in lines) == pytest.approx(100.0, abs=1e-9)
    whole = math.hypot(*(line["standard_uncertainty"] for line in lines))
    assert whole == pytest.approx(answer["average"][key]["standard_uncertainty"], rel=1e-9)
    for line in lines:
        rest = whole**2 - 0.75 * line["standard_uncertainty"] ** 2
        assert line["if_halved"] == pytest.approx(math.sqrt(rest), rel=1e-9)


def test_one_coupon_has_no_scatter(shop):
    average, budget = thickness(shop, (2.87,), *MICROMETER)
    assert average["value"] == 2.87
    assert {k: average[k] for k in ("standard_deviation", "standard_uncertainty", "coverage_factor")} == {
        "standard_deviation": None,
        "standard_uncertainty": None,
        "coverage_factor": None,
    }
    assert [line["input"] for line in budget] == ["thickness, resolution", "thickness, each reading"]
    words = shop.run("measure", "coupons.csv", "--fiber-density", "1.79 g/cm^3",
                     "--resin-density", "1.22 g/cm^3").out  # fmt: skip
    assert says("measure: one coupon has no scatter", words)


@pytest.mark.parametrize("count", [1, 2])
def test_a_pooled_scatter_stands_in_with_its_degrees_of_freedom(count, shop):
    pooled = 'pooled_scatter = { thickness = "0.004 mm (standard, dof=20)" }'
    shop.change("part.toml", "coupons = 3", f"coupons = 1\n{pooled}")
    shop.table("specimen,zone,thickness [mm]", *(f"{i},web,2.87{i}000" for i in range(count)))
    average = shop.json("measure", "batch.toml")["average"]["thickness"]
    q2 = 1e-6**2 / 12  # of the last decimal
    scatter, shared = math.sqrt((0.004**2 + q2) / count), math.hypot(0.0015, math.sqrt(q2))
    u = math.hypot(scatter, shared)
    assert average["standard_uncertainty"] == pytest.approx(u, rel=1e-9)
    wide = math.hypot(2.08596 * scatter, 1.95996 * shared)  # t of 20 degrees: 2.09, JCGM 100 table G.2
    assert average["expanded_uncertainty"] == pytest.approx(wide, rel=1e-5)


def test_the_part_may_fix_the_factor(shop):
    shop.change("part.toml", 'confidence = "95 %"', "coverage_factor = 2.5")
    answer = shop.json("measure", "batch.toml")
    for average in answer["average"].values():
        if "coverage_factor" in average:
            assert average["coverage_factor"] == 2.5
            assert average["expanded_uncertainty"] == pytest.approx(2.5 * average["standard_uncertainty"])


def test_each_zone_has_its_own_average(shop):
    rows = ("a,web,2.86", "b,skin,2.80", "c,web,2.88", "d,skin,2.82", "e,skin,2.84")
    shop.table("specimen,zone,thickness [mm]", *rows)
    answer = shop.json("measure", "batch.toml")
    by_zone = answer["average"]["zones"]
    assert by_zone["web"]["thickness"]["value"] == pytest.approx(2.87)
    assert by_zone["skin"]["thickness"]["value"] == pytest.approx(2.82)
    assert by_zone["skin"]["thickness"]["n"] == 3
    assert answer["average"]["thickness"]["n"] == 5
