"""Fields of a point count: each that the plan wants, with every constituent that is counted in the others."""

import pytest

from laminate.bench.sheet import blank_table
from laminate.files.batch import read_batch
from laminate.judging.reported import report

PART = """\
format = 1
[part]
number = "PC-1"
issue = "A"
[fiber.carbon]
kind = "carbon"
density = "1.79 g/cm^3 ± 0.01 (k=2)"
[resin.epoxy]
density = "1.28 g/cm^3 ± 0.01 (k=2)"
[prepreg.ud150]
fiber = "carbon"
resin = "epoxy"
fiber_areal_weight = "150 g/m^2 ± 2 (tolerance)"
resin_content = "35 % ± 1 (tolerance)"
[tool]
material = "aluminum 6061"
[zone.flat]
fill_with = "ud150"
[plan.flat]
coupons = { "point count" = 2 }
fields = 4
[limits.fiber_volume]
average = { min = "45 %", max = "75 %" }
[limits.void_content]
average = { max = "9 %" }
"""
BATCH = """\
format = 1
[batch]
id = "P1"
part = "part.toml"
part_number = "PC-1"
part_issue = "A"
molded = 2026-11-20
coupons = ["counts.csv"]
quantity = 1
serials = "1"
[[lot]]
prepreg = "ud150"
number = "L1"
expires = 2027-06-01
out_time = "2 d"
out_life = "30 d"
[laboratory]
measured = 2026-11-21
"""
HEADING = "specimen,zone,lot,field,points,fiber points,void points,operator"
ROWS = [
    f"{name},flat,L1,{field},100,{56 + field + shift},{field % 2 + shift},JM"
    for name, shift in (("0101", 0), ("0102", 1))
    for field in (1, 2, 3, 4)
]


@pytest.fixture
def counted(tmp_path):
    """The judgement of a batch with such rows."""

    def judged(rows):
        (tmp_path / "part.toml").write_text(PART, "utf-8")
        (tmp_path / "batch.toml").write_text(BATCH, "utf-8")
        (tmp_path / "counts.csv").write_text("\n".join([HEADING, *rows]) + "\n", "utf-8")
        return report(tmp_path / "batch.toml").judgement

    return judged


def test_all_fields_are_counted(counted):
    assert counted(ROWS).answer == "conforms"


@pytest.mark.parametrize(
    ("change", "lacks"),
    [
        (lambda rows: rows[1:], "0101 lacks point count in 1 of 4 fields"),
        (lambda rows: rows[3:], "0101 lacks point count in 3 of 4 fields"),
        (
            lambda rows: [rows[0].replace(",1,JM", ",,JM"), *rows[1:]],
            "0101 lacks void points in 1 of 4 fields",
        ),
        (lambda rows: [rows[0].replace(",57,", ",,"), *rows[1:]], "0101 lacks fiber points in 1 of 4 fields"),
    ],
)
def test_a_field_or_a_count_left_out_is_incomplete(counted, change, lacks):
    judgement = counted(change(ROWS))
    assert judgement.answer == "undecided"
    assert f"incomplete: {lacks}" in [reason.what for reason in judgement.held_back]


def test_a_sheet_has_the_rows_that_the_plan_wants(counted, tmp_path):
    counted(ROWS)
    case = read_batch(tmp_path / "batch.toml", "batch.toml")
    assert len(blank_table(case).rows) == 8
    assert len(blank_table(case, fields=2).rows) == 4
