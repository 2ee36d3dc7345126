"""What the report says would decide a batch does decide it: the batch is judged again with that change."""

import re
from itertools import product

import pytest

from tests.messages.wording import says, worded

ZONE = "specimen,zone,thickness [mm]"


def thickness(shop, rows, limits, plan="coupons = 3", micrometer="0.003 mm (k=2)"):
    text = shop.read("part.toml")
    start = text.index("[plan.web]")
    kept = f"{text[:start]}[plan.web]\n{plan}\n[limits]\nguard = 1.0\n[limits.thickness.web]\n{limits}\n"
    shop.write("part.toml", kept)
    shop.table(ZONE, *(f"{i},web,{value}" for i, value in enumerate(rows)))
    calibrated(shop, micrometer)


def calibrated(shop, spread):
    lines = shop.read("batch.toml").splitlines()
    place = next(i for i, line in enumerate(lines) if line.startswith('identity = "MIC')) + 2
    assert lines[place].startswith("calibration")
    lines[place] = f'calibration = "{spread}"'
    shop.write("batch.toml", "\n".join(lines) + "\n")


def judged(shop):
    answer = shop.json("report", "batch.toml", status=[0, 1])
    (one,) = [c for c in answer["characteristics"] if c["name"] == "thickness"]
    return one


def ways(one):
    coupons = [way["coupons"] for way in one["to_decide"] if "coupons" in way]
    return coupons, {way["input"]: way for way in one["to_decide"] if "input" in way}


def test_so_many_coupons_with_the_same_mean_and_scatter_do_decide(shop):
    rows = [2.900, 2.910, 2.920]
    thickness(
        shop, rows, 'average = { max = "2.93 mm" }', plan="coupons = 3\nretests = 1\nretest_coupons = 12"
    )
    one = judged(shop)
    (count,), _ = ways(one)
    assert one["decision"] == "undecided"

    def again(n):
        """n coupons of the same mean and standard deviation."""
        half = 0.01 * ((n - 1) / (2 * (n // 2))) ** 0.5
        middle = [2.910] if n % 2 else []
        values = [*[2.910 - half] * (n // 2), *[2.910 + half] * (n // 2), *middle]
        thickness_rows = [f"{i},web,{value!r}" for i, value in enumerate(values)]
        shop.table(ZONE, *thickness_rows)
        return judged(shop)["decision"]

    assert 3 < count <= 12
    assert [again(count - 1), again(count)] == ["undecided", "conforms"]


@pytest.mark.parametrize(("plan", "counts"), [("coupons = 3", []), ("coupons = 3\nretest_coupons = 4", [])])
def test_more_coupons_than_the_plan_has_are_not_proposed(plan, counts, shop):
    thickness(shop, [2.900, 2.910, 2.920], 'average = { max = "2.93 mm" }', plan=plan)
    one = judged(shop)
    assert (one["decision"], ways(one)[0]) == ("undecided", counts)


def test_a_pooled_scatter_keeps_its_degrees_of_freedom_with_more_coupons(shop):
    pooled = 'pooled_scatter = { thickness = "0.02 mm (standard, dof=20)" }'
    plan = f"coupons = 2\nretests = 1\nretest_coupons = 30\n{pooled}"
    thickness(shop, [2.905, 2.915], 'average = { max = "2.93 mm" }', plan=plan)
    one = judged(shop)
    (count,), _ = ways(one)
    for n, decision in ((count - 1, "undecided"), (count, "conforms")):
        shop.table(ZONE, *(f"{i},web,2.910" for i in range(n)))
        assert judged(shop)["decision"] == decision


@pytest.mark.parametrize("which", ["individual", "average"])
def test_an_input_at_the_uncertainty_named_does_decide(which, shop):
    """The calibration of the micrometer is shared; its contribution is its own standard uncertainty."""
    rows = [2.9000, 2.9005, 2.8995, 2.9002, 2.8998]
    thickness(
        shop, rows, f'{which} = {{ max = "2.92 mm" }}', plan="coupons = 5", micrometer="0.02 mm (standard)"
    )
    one = judged(shop)
    way = ways(one)[1]["calibration of micrometer"]
    assert one["decision"] == "undecided"
    assert way["contribution_now"] == pytest.approx(0.02)
    assert way["share_of_its_uncertainty"] == pytest.approx(way["contribution_needed"] / 0.02)
    for share, decision in ((1.01, "undecided"), (1.0, "conforms")):
        calibrated(shop, f"{share * way['contribution_needed']!r} mm (standard)")
        assert judged(shop)["decision"] == decision


@pytest.mark.parametrize(
    ("value", "stated"),
    [
        *product(("127.4", "127.3", "127.5"), ("± 1 (tolerance)", "± 0.5 (standard)")),
        ("127.5", "± 0.50002 (tolerance)"),
    ],
)
def test_the_number_that_is_printed_does_decide(value, stated, shop):
    """Printed for the ± as it was stated, and rounded so that it is small enough; limit 128 degC."""
    shop.change("batch.toml", "126 degC ± 1 (tolerance)", f"{value} degC {stated}")
    (one,) = shop.json("report", "batch.toml", status=[1])["process"]
    (way,) = one["to_decide"]
    now, needed = (float(number) for number in re.findall(r"± ([\d.]+)", way["text"]))
    assert f"± {now:g}" in stated
    assert needed < now
    half = 3**0.5 if "tolerance" in stated else 1.0
    assert 0.9 < needed / (half * way["contribution_needed"]) <= 1.0
    shop.change(
        "batch.toml", f"{value} degC {stated}", f"{value} degC {stated.replace(f'± {now:g}', f'± {needed}')}"
    )
    assert shop.json("report", "batch.toml", status=[0])["answer"] == "conforms"


def test_outside_by_less_than_the_guard_band_says_what_would_reject_it(shop):
    rows = [2.9300, 2.9305, 2.9295, 2.9302, 2.9298]
    thickness(
        shop, rows, 'average = { max = "2.92 mm" }', plan="coupons = 5", micrometer="0.02 mm (standard)"
    )
    one = judged(shop)
    way = ways(one)[1]["calibration of micrometer"]
    assert says("judge: outside by less than the guard band", way["text"])
    calibrated(shop, f"{0.999 * way['contribution_needed']!r} mm (standard)")
    assert judged(shop)["decision"] == "does not conform"


def test_an_input_that_would_not_help_is_not_proposed_as_if_it_did(shop):
    """Three coupons that scatter: their own part of U alone is more than the room that is left."""
    rows = [2.900, 2.910, 2.920]
    thickness(shop, rows, 'average = { max = "2.928 mm" }', micrometer="0.006 mm (standard)")
    one = judged(shop)
    way = ways(one)[1]["calibration of micrometer"]
    assert (way["contribution_needed"], way["text"]) == (
        None,
        worded("judge: not even exact"),
    )
    calibrated(shop, "0.000001 mm (standard)")
    assert judged(shop)["decision"] == "undecided"


def test_a_method_without_room_names_what_must_improve(shop):
    shop.change("part.toml", 'individual = { max = "2 %" }', 'individual = { max = "0.7 %" }')
    shop.change(
        "batch.toml",
        "[fiber.carbon]",
        '[resin.epoxy]\ndensity = "1.212 g/cm^3 ± 0.04 (k=2)"\n\n[fiber.carbon]',
    )
    answer = shop.json("report", "batch.toml", status=[1])
    (one,) = [c for c in answer["characteristics"] if c["name"] == "void_content"]
    assert says("judge: a method without room names what must", one["reason"])
    way = ways(one)[1]["epoxy density"]
    if way["contribution_needed"] is None:
        pytest.fail(f"not enough: {one}")
    needed = 0.02 * way["share_of_its_uncertainty"]
    shop.change("batch.toml", '"1.212 g/cm^3 ± 0.04 (k=2)"', f'"1.212 g/cm^3 ± {needed!r} (standard)"')
    answer = shop.json("report", "batch.toml", status=[0, 1])
    (one,) = [c for c in answer["characteristics"] if c["name"] == "void_content"]
    assert one["decision"] == "conforms"
