"""A batch that does not conform, or whose files say nothing: no lazy change makes it conform."""

import pytest

from laminate.judging.reported import report
from laminate.values.problems import Refused
from tests.messages.wording import says

from .rows import rows_of, write

GOOD = "conforms"
THICK = tuple(f"thickness {n} [mm]" for n in (1, 2, 3))
TOO_THICK = dict(zip(THICK, ("2.985", "2.986", "2.984"), strict=True))
AGAIN = "methods: measured again; thickness 1: measured again"
FOURTH = {
    "specimen": "0104", "mass in air [g]": "1.4311", "mass in liquid [g]": "0.5081",
    "specimen mass [g]": "1.4309", "residue mass [g]": "0.9680", **TOO_THICK, "accepted": AGAIN,
}  # fmt: skip


def answer(shop):
    try:
        return report(shop.folder / "batch.toml").judgement.answer
    except Refused:
        return "refused"


def a_bad_fourth(shop):
    rows = rows_of(shop)
    write(shop, [*rows, {**rows[0], **FOURTH}])
    shop.cut(web=4)


def a_bad_third(shop):
    rows = rows_of(shop)
    write(shop, [*rows[:2], {**rows[2], **TOO_THICK, "accepted": AGAIN}])


# the bad coupon is the last row: cells that are written over in it
LAST = {
    "a check standard": {"kind": "check standard"},
    "a check standard with a density": {"kind": "check standard", "density [g/cm^3]": "1.545"},
    "a blank of fiber": {"kind": "blank fiber"},
    "a blank of resin": {"kind": "blank resin"},
    "of another zone": {"zone": "skin"},
    "of a zone in capitals": {"zone": "Web"},
    "replaces itself": {"replaces": "0104"},
    "excluded": {"excluded": "looks odd"},
    "excluded and cut for others": {"excluded": "looks odd", "only": "digestion, immersion"},
    "cut for others": {"only": "digestion, immersion"},
    "cut for everything": {"only": "all"},
    "its thickness gone": dict.fromkeys(THICK, ""),
    "two of its thicknesses gone": dict.fromkeys(THICK[:2], ""),
    "an incoming test": {"prepreg mass [g]": "1.2", "area [mm^2]": "100"},
    "another one's name": {"specimen": "0103"},
    "no lot": {"lot": ""},
    "another method": {"method": "ignition"},
    "no method": {"method": ""},
    "an unknown balance": {"balance": "nobody"},
    "an unknown lot": {"lot": "L0000"},
    "other plies": {"plies": "21"},
    "no plies": {"plies": ""},
    "time of a day before": {"time": "2026-11-01T08:00"},
    "accepted in general": {"accepted": "fine"},
    "accepted without words": {"accepted": "yes"},
}


@pytest.mark.parametrize("change", LAST)
@pytest.mark.parametrize("batch", [a_bad_third, a_bad_fourth])
def test_a_bad_coupon_cannot_be_written_away(batch, change, shop):
    batch(shop)
    assert answer(shop) == "does not conform"
    rows = rows_of(shop)
    write(shop, [*rows[:-1], {**rows[-1], **LAST[change]}])
    assert answer(shop) != GOOD


SCATTERS = dict(zip(THICK, ("2.890", "2.862", "2.834"), strict=True))
NEAR = dict(zip(THICK, ("2.938", "2.939", "2.938"), strict=True))


def test_what_widens_every_uncertainty_is_not_written_away(shop):
    rows = rows_of(shop)
    shop.cut(web=4)
    counted = [*rows[:2], {**rows[2], **NEAR, "accepted": AGAIN}, {**rows[0], **FOURTH, **SCATTERS}]
    write(shop, counted)
    assert answer(shop) == "undecided"
    write(shop, [*counted[:-1], {**counted[-1], "excluded": "looks odd"}])
    judgement = report(shop.folder / "batch.toml").judgement
    assert judgement.answer == "undecided"
    assert judgement.judgement_of_all.answer == "undecided"
    assert [row.name for row in judgement.exclusions if row.matters] == ["0104"]


APPROVED = {
    "cause": "cut across the edge",
    "approved_by": "R. Stone",
    "number": "NC-031",
    "date": "2026-11-21",
}
# what the approval says instead -> operator of the row
APPROVALS = {
    "the operator": ({"approved_by": "J. M."}, "JM"),
    "the operator, surname first": ({"approved_by": "Stone, R."}, "R. Stone"),
    "the operator, with a title": ({"approved_by": "Dr. R. Stone"}, "R. Stone"),
    "the operator with a hyphen": ({"approved_by": "J-M"}, "JM"),
    "one of two operators": ({"approved_by": "AB"}, "JM, AB"),
    "one of two operators, with a stroke": ({"approved_by": "AB"}, "JM/AB"),
    "one of two operators, on two lines": ({"approved_by": "AB"}, "JM\nAB"),
    "one of two operators, with a bar": ({"approved_by": "AB"}, "JM | AB"),
    "one of two operators, with a hyphen": ({"approved_by": "AB"}, "JM - AB"),
    "one of two operators, with a dash": ({"approved_by": "AB"}, "JM – AB"),
    "one of two operators, with a point between": ({"approved_by": "AB"}, "JM · AB"),
    "one of two operators, with a backslash": ({"approved_by": "AB"}, "JM\\AB"),
    "one of two operators, in brackets": ({"approved_by": "AB"}, "JM (AB)"),
    "one of two operators, with a colon": ({"approved_by": "AB"}, "JM: AB"),
    "one of two operators, in German": ({"approved_by": "AB"}, "JM und AB"),
    "one of two operators, in French": ({"approved_by": "Ann Lee"}, "J. Meyer et Ann Lee"),
    "one of two operators, initials alone": ({"approved_by": "AB"}, "JM AB"),
    "one of two approvers": ({"approved_by": "R. Stone | JM"}, "JM"),
    "the operator with an accent beside its letter": ({"approved_by": "J. Mu\u0308ller"}, "J. Müller"),
    "nobody": ({"approved_by": "n/a"}, "JM"),
    "no operator": ({}, ""),
    "an unknown operator": ({}, "unknown"),
    "an operator that is none": ({}, "n/a"),
    "two operators that are none": ({}, "unknown; n/a"),
    "no number": ({"number": ""}, "JM"),
    "a number that is none": ({"number": "tbd"}, "JM"),
    "no cause": ({"cause": "-"}, "JM"),
    "a cause that is none": ({"cause": "N/A"}, "JM"),
    "a day before measuring": ({"date": "2026-11-01"}, "JM"),
    "one method of three": ({"method": "thickness"}, "JM"),
    "another coupon": ({"specimen": "0101"}, "JM"),
}


def excluded(shop, operator, **approval):
    rows = rows_of(shop)
    write(shop, [*rows[:-1], {**rows[-1], "excluded": "cut wrongly", "operator": operator}])
    keys = {"specimen": "0104", **APPROVED, **approval}
    lines = [f'{key} = "{text}"' if key != "date" else f"date = {text}" for key, text in keys.items()]
    shop.add("batch.toml", "\n[[exclusion]]\n" + "\n".join(lines))


@pytest.mark.parametrize("approval", [None, *APPROVALS])
def test_an_approval_is_whole_or_none(approval, shop):
    a_bad_fourth(shop)
    said, operator = APPROVALS[approval] if approval else ({}, "JM")
    excluded(shop, operator, **said)
    assert (answer(shop) == GOOD) is (approval is None)


@pytest.mark.parametrize(
    ("operator", "approver"),
    [
        ("JM", "KM"),
        ("Ann-Lee Smith", "Lee"),
        ("J. O'Brien", "R. Brien"),
        ("JM, n/a", "R. Stone"),
        ("JM (lab)", "KM (lab)"),
        ("jm@shop.example", "km@shop.example"),
        ("OP_12", "OP_15"),
        ("Ann Lee - Quality", "Bob Ray - Quality"),
        ("LI NA", "LI WU"),
    ],
)
def test_another_person_approves(operator, approver, shop):
    a_bad_fourth(shop)
    excluded(shop, operator, approved_by=approver)
    assert answer(shop) == GOOD


BLANK = (
    'residue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n'
    'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n'
)
DATES = "calibrated = 2026-05-01\ndue = 2027-05-01\n"
# a statement that the example makes, and one that says nothing
EMPTY = {
    "identity blank": ('identity = "BAL-02"', 'identity = " "'),
    "identity ?": ('identity = "BAL-02"', 'identity = "?"'),
    "identity n/a": ('identity = "BAL-02"', 'identity = "n/a"'),
    "traceable yes": (DATES, 'traceable = "yes"\n'),
    "traceable no": (DATES, 'traceable = "no:"\n'),
    "traceable n/a": (DATES, 'traceable = "no: n/a"\n'),
    "expires n/a": ("expires = 2027-06-01 ", 'expires = "not recorded: n/a" '),
    "out time unknown": ('out_time = "12 d"', 'out_time = "not recorded: unknown"'),
    "out time below nothing": ('out_time = "12 d"', 'out_time = "-12 d"'),
    "lot number unknown": ('number = "L2231"', 'number = "n/a"'),
    "blank n/a": (BLANK, 'none = "n/a"\n'),
    "moldings below nothing": ("moldings = 12", "moldings = -1"),
    "another core": ("[core_used.fore]", "[core_used.aft]"),
    "another process reading": ('[process."cure temperature"]', '[process."cure temp"]'),
    "measured before molded": ("measured = 2026-11-20", "measured = 2026-11-17"),
    "quantity and thru": ('"031-01 to 031-12"', '"031-01 thru 031-11"'),
    "quantity and dash": ('"031-01 to 031-12"', '"031-01 - 031-11"'),
    "quantity and and": ('"031-01 to 031-12"', '"031-01 to 031-10 and 031-11"'),
    "guard in the batch": ("[batch]\n", "[batch]\nguard = 0\n"),
    "allowance in the batch": ("[batch]\n", "[batch]\nallowed_outside = 3\n"),
    "no table": ('coupons = ["coupons.csv"]', "coupons = []"),
    "a wide micrometer": ('"0.002 mm (standard)"', '"0.5 mm (standard)"'),
}


@pytest.mark.parametrize("change", EMPTY)
def test_a_statement_that_says_nothing_is_none(change, shop):
    old, new = EMPTY[change]
    if change == "lot number unknown":
        shop.write("coupons.csv", shop.read("coupons.csv").replace("L2231", "n/a"))
    shop.change("batch.toml", old, new)
    assert answer(shop) != GOOD


def test_a_zone_is_left_out_for_a_reason_alone(shop):
    shop.change("part.toml", 'represented_by = "web" ', 'not_measured = "n/a" ')
    assert answer(shop) == "refused"


@pytest.mark.parametrize("serials", ["tbd", "n/a", "?"])
def test_serials_that_say_nothing_are_not_told(serials, shop):
    shop.change("batch.toml", '"031-01 to 031-12"', f'"{serials}"')
    assert says(
        "judge: serials that say nothing are not told", shop.json("report", "batch.toml")["covers"]["text"]
    )
    shop.change("part.toml", 'issue = "B"\n', 'issue = "B"\nasks = ["batch.serials"]\n')
    assert answer(shop) == "undecided"
