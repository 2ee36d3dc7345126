"""A row that was taken back at the bench: its old value is weighed in the zone that it can have had."""

import pytest

from laminate.judging.reported import report

from .test_history import bench, rules

PART = """\
format = 1
[part]
number = "T1"
issue = "A"
[temperature]
room = "23 degC"
[fiber.c]
kind = "carbon"
density = "1.79 g/cm^3 ± 0.01 (k=2)"
[resin.e]
density = "1.22 g/cm^3 ± 0.01 (k=2)"
[prepreg.ud]
fiber = "c"
resin = "e"
fiber_areal_weight = "150 g/m^2 ± 2 (tolerance)"
resin_content = "33 % ± 1 (tolerance)"
[zone.web]
fill_with = "ud"
gap = "3 mm"
[zone.flange]
fill_with = "ud"
gap = "3 mm"
[plan.web]
coupons = 3
methods = ["thickness"]
repeats = { thickness = 1 }
[plan.flange]
coupons = 1
methods = ["thickness"]
repeats = { thickness = 1 }
[limits]
guard = 1.0
confidence = "95 %"
[limits.thickness.web]
individual = { min = "2.8 mm", max = "2.9 mm" }
"""
FLANGE = '[limits.thickness.flange]\nindividual = { min = "3.8 mm", max = "3.9 mm" }\n'
BATCH = """\
format = 1
[batch]
id = "B1"
part = "part.toml"
part_number = "T1"
part_issue = "A"
molded = 2026-11-18
quantity = 1
serials = "B1-1"
press = "P1"
coupons = ["coupons.csv"]
[[lot]]
prepreg = "ud"
number = "L1"
expires = 2027-06-01
out_time = "2 d"
out_life = "30 d"
[instrument.micrometer]
identity = "MIC"
repeatability = "0.002 mm (standard)"
calibration = "0.0015 mm (standard)"
calibrated = 2026-01-20
due = 2027-06-20
[laboratory]
measured = 2026-11-20
"""
TYPED = {"A1": ("web", "2.861"), "A2": ("web", "2.871"), "A3": ("web", "2.861"), "F1": ("flange", "3.851")}
LABEL = "thickness 1"


@pytest.fixture
def folder(tmp_path):
    """Two zones of unlike thickness, typed at the bench; the batch conforms."""
    return made(tmp_path, FLANGE, TYPED)


def made(folder, limits, typed):
    """A batch that is typed at the bench and conforms."""
    (folder / "part.toml").write_text(PART + limits, "utf-8")
    (folder / "batch.toml").write_text(BATCH, "utf-8")
    rows = [f"{name},{zone}," for name, (zone, _) in typed.items()]
    text = "\n".join(["specimen,zone,thickness 1 [mm]", *rows, ""])
    (folder / "coupons.csv").write_text(text, "utf-8")
    session = bench(folder)
    for row, (_, value) in zip(session.rows, typed.values(), strict=True):
        assert session.type(row, LABEL, value).kept
    assert answer(folder) == "conforms"
    return folder


def answer(folder):
    return report(folder / "batch.toml").judgement.answer


def taken_back(folder, name, like, value, zone=""):
    """A row like another, or with a zone that is typed, and its reading, all of it undone."""
    session = bench(folder)
    row = session.add(name, session.find(like) if like else None)
    if zone:
        assert session.type(row, "zone", zone).kept
    assert session.type(row, LABEL, value).kept
    while session.undo():
        pass
    assert session.find(name) is None


@pytest.mark.parametrize(
    ("like", "value", "held"),
    [
        ("F1", "3.852", []),
        ("A3", "2.852", []),
        ("A3", "2.991", [2]),
        ("F1", "3.991", [2]),
    ],
)
def test_it_is_weighed_where_it_is_judged_best(folder, like, value, held):
    taken_back(folder, "X1", like, value)
    assert rules(folder) == held


def test_good_values_of_two_zones_are_let_go_together(folder):
    taken_back(folder, "F2", "F1", "3.852")
    taken_back(folder, "A4", "A1", "2.852")
    assert rules(folder) == []


def test_a_zone_without_limits_is_not_where_it_would_be_in_doubt(folder):
    (folder / "part.toml").write_text(PART, "utf-8")
    taken_back(folder, "A4", "A3", "2.951")
    assert rules(folder) == [2]


@pytest.mark.parametrize(("zone", "held"), [("web", [2]), ("flange", [])])
def test_a_zone_that_was_typed_is_the_zone(tmp_path, zone, held):
    """The value would be good in the other: the history says which it was."""
    limits = FLANGE.replace("3.8", "2.9").replace("3.9", "3.0")
    folder = made(tmp_path, limits, TYPED | {"F1": ("flange", "2.951")})
    taken_back(folder, "X1", "", "2.952", zone)
    assert rules(folder) == held


def test_what_the_report_says_to_write_settles_a_value_truly_bad(folder):
    taken_back(folder, "A4", "A3", "2.991")
    (one,) = report(folder / "batch.toml").judgement.held_back
    assert all(words in one.say for words in ("A4", f"{LABEL} 2.991", "[[exclusion]]"))
    session = bench(folder)
    row = session.add("A4", session.find("A3"))
    assert session.type(row, LABEL, "2.991").kept
    assert answer(folder) == "does not conform"
    session.exclude(row, "read off the wrong coupon")
    assert 3 in rules(folder)
    batch = folder / "batch.toml"
    cut = BATCH.replace("quantity = 1", "quantity = 1\ncut = { web = 4 }")
    approval = 'specimen = "A4"\ncause = "slip"\napproved_by = "KL"\nnumber = "N-1"\ndate = 2026-11-21\n'
    batch.write_text(f"{cut}[[exclusion]]\n{approval}", "utf-8")
    assert (answer(folder), rules(folder)) == ("conforms", [])


def test_a_reason_answers_a_cell_that_is_empty_since(folder):
    session = bench(folder)
    row = session.rows[0]
    new = session.again(LABEL)
    assert session.type(row, new, "2.951").kept
    session.empty(row, new, "slipped")
    assert rules(folder) == [2]
    session.table.keep({(row, "accepted"): f"{new}: the anvil was dirty"})
    assert rules(folder) == []
