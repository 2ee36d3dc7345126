"""What a concession covers, each rule tried: a release under it, or the rule that it cannot cover."""

import json

import pytest

from laminate.records.rules import read_record, release_faults

from .rows import rows_of, write
from .test_nothing_is_bought import TOO_THICK, a_bad_fourth

CONCESSION = '[concession]\nnumber = "W-12"\nauthority = "customer quality"\nreason = "as agreed"\n'
BLANK = (
    '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
    'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n'
)


def batch(old, new):
    return lambda shop: shop.change("batch.toml", old, new)


def part(old, new):
    return lambda shop: shop.change("part.toml", old, new)


def cells(row, **more):
    def change(shop):
        rows = rows_of(shop)
        rows[row] = {**rows[row], **more}
        write(shop, rows)

    return change


def excluded(shop):
    a_bad_fourth(shop)
    rows = rows_of(shop)
    write(shop, [*rows[:-1], {**rows[-1], "excluded": "looks odd"}])


def misfit(shop):
    """Densities that leave less than no room for voids."""
    shop.change("batch.toml", '"1.786 g/cm^3 ± 0.006 (k=2)"', '"1.70 g/cm^3 ± 0.006 (k=2)"')
    rows = [
        {**row, "accepted": "methods: seen; void content: seen; mass in liquid: seen"}
        for row in rows_of(shop)
    ]
    write(shop, rows)


def changed_outside(shop):
    rows = [{**row, "entry": "7" if row["specimen"] == "0102" else ""} for row in rows_of(shop)]
    write(shop, rows)


# rule, change, names of the concession
COVERED = {
    "3 an exclusion that nobody approved": (3, excluded, ["exclusion.0104"]),
    "5 a balance without identity": (5, batch('identity = "BAL-02"\n', ""), ["instrument.balance"]),
    "6 a core past its moldings": (6, batch("moldings = 12", "moldings = 51"), ["core.fore"]),
    "7 a lot expired": (7, batch("expires = 2027-06-01 ", "expires = 2026-11-17 "), ["lot.L2231"]),
    "7 a lot without a number": (7, batch('number = "L2231"', 'number = "?"'), ["lot.?"]),
    "7 no day of molding": (7, batch("molded = 2026-11-18\n", ""), ["lot.L2231"]),
    "9 a plan that is not met": (
        None,
        part('positions = ["root", "mid", "tip"]', 'positions = ["root", "mid", "heel"]'), ["plan.web"]),
    "a characteristic that fails": (None, part('max = "2.95 mm"', 'max = "2.80 mm"'), ["thickness.web"]),
    "a characteristic that is undecided": (None, part('max = "2 %"', 'max = "0.7 %"'), ["void_content.web"]),
}  # fmt: skip
NEVER = {
    "1 an incomplete coupon": (1, cells(2, **{"residue mass [g]": "", "specimen mass [g]": ""})),
    "1 more were cut": (1, batch("[batch]\n", "[batch]\ncut = { web = 4 }\n")),
    "2 an open doubt": (2, cells(2, **{"thickness 2 [mm]": "2.898"})),
    "2 quantity and serials": (2, batch("quantity = 12", "quantity = 13")),
    "4 a zone without plan": (4, part('[plan.skin]\nrepresented_by = "web" ', "# ")),
    "8 no plies": (8, batch("plies = { web = 20, skin = 20 }", "plies = { skin = 20 }")),
    "9 what the part asks for": (
        9, part('issue = "B"\n', 'issue = "B"\nasks = ["resin.epoxy.density"]\n')),
    "9 voids below -2u": (9, misfit),
    "10 no ±": (10, batch('"1.786 g/cm^3 ± 0.006 (k=2)"', '"1.786 g/cm^3"')),
    "11 no blank": (11, batch(BLANK, "")),
    "12 an entry without a history": (12, changed_outside),
}  # fmt: skip


def released(shop, names):
    """What stands against a release of the batch under a concession for these names."""
    if names:
        shop.add("batch.toml", CONCESSION + f"characteristics = {json.dumps(names)}")
    shop.run("report", "batch.toml", "--out", "kept")
    record = read_record((shop.folder / "kept/record.json").read_bytes())
    return [one.code for one in release_faults(record, prepared=True)]


@pytest.mark.parametrize("case", COVERED)
def test_a_concession_covers(case, shop):
    rule, change, names = COVERED[case]
    change(shop)
    if case == "7 a lot without a number":
        shop.write("coupons.csv", shop.read("coupons.csv").replace("L2231", "?"))
    found = shop.json("report", "batch.toml", status=[1])
    assert {one["rule"] for one in found["held_back"]} == ({rule} if rule else set())
    assert released(shop, []) == ["not-conforming"]
    open_ones = [c["label"] for c in found["characteristics"] if c["decision"] != "conforms"]
    more = [] if names[0].startswith("plan.") else [label for label in open_ones if label not in names]
    assert released(shop, [*names, *more]) == []
    again = shop.json("report", "batch.toml", status=[1])
    assert again["answer"] == found["answer"]


@pytest.mark.parametrize("case", NEVER)
def test_a_concession_never_covers(case, shop):
    rule, change = NEVER[case]
    change(shop)
    if case.startswith("8"):
        shop.write("coupons.csv", shop.read("coupons.csv").replace(",JM,20,", ",JM,,"))
    found = shop.json("report", "batch.toml", status=[1])
    mine = [one for one in found["held_back"] if one["rule"] == rule]
    assert mine
    assert not any(one["concession"] for one in mine)
    every = [c["label"] for c in (*found["characteristics"], *found["process"])]
    every += [
        "plan.web",
        "lot.L2231",
        "core.fore",
        *(f"instrument.{i['name']}" for i in found["instruments"]),
    ]
    assert released(shop, list(dict.fromkeys(every))) == ["concession-too-narrow"]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ('"W-12"', '"..."', "concession.number"),
        ('"customer quality"', '"-"', "concession.authority"),
        ('"as agreed"', '"tbd"', "concession.reason"),
        ('"wrong lot"', '"..."', "replaces.reason"),
    ],
)
def test_what_a_concession_and_an_amendment_say_is_more_than_a_placeholder(old, new, place, shop):
    whole = f'{CONCESSION}characteristics = []\n[replaces]\nrecord = "{"ab" * 32}"\nreason = "wrong lot"\n'
    shop.add("batch.toml", whole.replace(old, new))
    (problem,) = shop.json("report", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("wrong-value", place)


def test_a_plan_alone_is_not_a_limit(shop):
    """A concession for the plan does not cover a value too close to its limit."""
    part('positions = ["root", "mid", "tip"]', 'positions = ["root", "mid", "heel"]')(shop)
    part('max = "2.95 mm"', 'max = "2.871 mm"')(shop)
    assert released(shop, ["plan.web"]) == ["concession-too-narrow"]


def test_too_thick_is_too_thick(shop):
    cells(2, **TOO_THICK, accepted="methods: again; thickness 1: again")(shop)
    assert released(shop, []) == ["not-conforming"]
