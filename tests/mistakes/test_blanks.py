"""Blank runs and check standards: what they give, with their degrees of freedom, and what is doubted."""

import json
import math
from importlib.resources import files
from statistics import NormalDist

import pytest
from scipy.optimize import brentq
from scipy.special import stdtrit

from laminate.cli.app import status
from tests.messages.wording import reads, says, worded

LOSS = "specimen,kind,zone,specimen mass [g],residue mass [g],method"
STANDARD = "specimen,kind,density [g/cm^3],mass in air [g],mass in liquid [g],liquid temperature [degC]"
WATER_23, AIR = 0.9975408, 0.0012


@pytest.fixture
def bare(shop):
    """The example without the blanks of its batch file and without the balance's calibration."""
    shop.change("batch.toml", '[blank]\nresidue_share = "0.2 % ± 0.1 (standard)"     # of neat resin\n', "")
    shop.change("batch.toml", 'fiber_loss = "0.4 % ± 0.2 (standard)"        # of bare fiber\n', "")
    shop.change("batch.toml", 'calibration = "0.1 mg (standard)"            # shared by all of them\n', "")
    return shop


def test_three_blanks_have_two_degrees_of_freedom(bare):
    """Shares 0.20, 0.22, 0.18 %: mean 0.2 %, s/sqrt(3) = 0.0115 %, two degrees of freedom.

    Each term of the expanded uncertainty carries its own Student factor; the degrees of freedom
    said are those whose factor gives the same. The last decimal, d = 0.1 mg, adds q^2/3 + q^2 to the
    variance of the share, q^2 = (1 + 0.002^2) d^2/12, and d^2/12 to that of each mass."""
    bare.table(
        LOSS, "n1,blank resin,,1.0000,0.0020,digestion", "n2,blank resin,,1.0000,0.0022,digestion",
        "n3,blank resin,,1.0000,0.0018,digestion", "1,,web,1.4425,0.9763,digestion",
    )  # fmt: skip
    one = bare.json("measure", "batch.toml")["specimens"][0]["fiber_content"]
    w = 0.9763 / 1.4425
    assert one["value"] == pytest.approx(100 * (w - 0.002) / 0.998, rel=1e-9)
    per_share = (1 - (w - 0.002) / 0.998) / 0.998
    q2 = (1 + 0.002**2) * 1e-4**2 / 12
    u_share, u_step = (per_share * math.sqrt(v) for v in ((0.0002**2 + q2) / 3, q2))
    per_mass = math.hypot(1 / 1.4425, w / 1.4425) / 0.998
    u_weighing = per_mass * math.sqrt(1e-4**2 + 1e-4**2 / 12)
    u = math.hypot(u_share, u_step, u_weighing)
    assert one["standard_uncertainty"] == pytest.approx(100 * u, rel=1e-6)
    normal = NormalDist().inv_cdf(0.975)
    most = math.hypot(stdtrit(2, 0.975) * u_share, normal * u_step, normal * u_weighing)
    ratio = most / u
    dof = brentq(lambda nu: stdtrit(nu, 0.975) - ratio, 2.0, 1e6)
    assert one["effective_degrees_of_freedom"] == pytest.approx(dof, rel=1e-5)


@pytest.mark.parametrize("rows", [1, 2])
def test_the_scatter_of_earlier_blanks_stands_for_that_of_a_few(rows, bare):
    """Of n blanks u of the share is s/sqrt(n), s = 0.05 % from earlier ones, which the F test does not deny.

    The last decimal, d = 0.1 mg, adds q^2/n + q^2, q^2 = (1 + 0.002^2) d^2/12, and d^2/12 to each mass."""
    bare.change("part.toml", "[part]\n", '[part]\nblank_scatter = "0.05 % (standard, dof=12)"\n')
    blanks = [f"n{i},blank resin,,1.0000,0.00{i},digestion" for i in (19, 21)]
    blanks = blanks if rows == 2 else ["n1,blank resin,,1.0000,0.0020,digestion"]
    bare.table(LOSS, *blanks, "1,,web,1.4425,0.9763,digestion")
    content = bare.json("measure", "batch.toml")["specimens"][0]["fiber_content"]
    w = 0.9763 / 1.4425
    assert content["value"] == pytest.approx(100 * (w - 0.002) / 0.998, rel=1e-9)
    per_share = (1 - (w - 0.002) / 0.998) / 0.998
    q2 = (1 + 0.002**2) * 1e-4**2 / 12
    per_mass = math.hypot(1 / 1.4425, w / 1.4425) / 0.998
    u_share, u_step = (per_share * math.sqrt(v) for v in ((0.0005**2 + q2) / rows, q2))
    u = math.hypot(u_share, u_step, per_mass * math.sqrt(1e-4**2 + 1e-4**2 / 12))
    assert content["standard_uncertainty"] == pytest.approx(100 * u, rel=1e-6)


@pytest.mark.parametrize(
    ("rows", "code", "found", "hint"),
    [
        (
            ["n1,blank resin,,1.0000,0.0200,digestion", "n2,blank resin,,1.0000,0.0022,digestion"],
            "blank-unlikely", worded("mistakes: a blank that no blank gives"),
            worded("mistakes: a blank that no blank gives, 4"),
        ),
        (
            ["n1,blank resin,,1.0000,0.0020,ignition"],
            "blank-unlikely", worded("mistakes: a blank that no blank gives, 2"),
            worded("mistakes: a blank that no blank gives, 5"),
        ),
        (
            ["f1,blank fiber,,1.0000,0.9000,digestion"],
            "blank-unlikely", worded("mistakes: a blank that no blank gives, 3"),
            worded("mistakes: a blank that no blank gives, 4"),
        ),
    ],
)  # fmt: skip
def test_a_blank_that_no_blank_gives(rows, code, found, hint, bare):
    bare.table(LOSS, *rows, "1,,web,1.4425,0.9763,digestion")
    told = [w for w in bare.json("measure", "batch.toml")["warnings"] if w["code"] == code]
    assert (told[0]["found"], told[0]["hint"]) == (found, hint)


def test_a_blank_without_readings_is_waited_for(bare):
    """As the sheet of a batch whose part asks for blanks: they burn last."""
    rows = (LOSS, "1,,web,1.4425,0.9763,digestion")
    bare.table(*rows)
    without = bare.json("measure", "batch.toml")
    bare.table(*rows, "n1,blank resin,,,,digestion", "f1,blank fiber,,,,digestion")
    waiting = bare.json("measure", "batch.toml")
    assert waiting["specimens"] == without["specimens"]
    [note] = [note for note in waiting["notes"] if note not in without["notes"]]
    assert "'specimen mass'" in note
    assert "n1, f1" in note


def test_the_report_says_which_blanks_have_no_readings(tmp_path, monkeypatch, capsys):
    for file in (files("laminate.examples") / "glass").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    table = tmp_path / "coupons.csv"
    lines = table.read_text("utf-8").splitlines()
    emptied = [
        ",".join([*line.split(",")[:3], "", "JM", *[""] * 6, "ignition", *[""] * 7]) for line in lines[6:]
    ]
    table.write_text("\n".join([*lines[:6], *emptied]) + "\n", "utf-8")
    monkeypatch.chdir(tmp_path)
    assert status(["report", "batch.toml", "--json"]) == 1
    held = json.loads(capsys.readouterr().out)["held_back"]
    says = {line["say"] for line in held if any(name in line["what"] for name in ("B1", "B2", "B3", "B4"))}
    assert len(says) == 4
    assert all("'specimen mass'" in words for words in says)


def test_blanks_in_table_and_batch_file_are_refused(shop):
    shop.table(LOSS, "n1,blank resin,,1.0000,0.0020,digestion", "1,,web,1.4425,0.9763,digestion")
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("both-given", "row 2, column 'kind'")
    assert reads("mistakes: blanks in table and batch file", problem["found"])


def test_a_blank_with_a_residue_over_its_specimen_is_refused(bare):
    bare.table(LOSS, "f1,blank fiber,,1.0000,1.0100,digestion", "1,,web,1.4425,0.9763,digestion")
    (problem,) = bare.json("measure", "batch.toml", status=[2])["problems"]
    assert (problem["code"], problem["place"]) == ("wrong-order", "row 2, column 'residue mass'")


@pytest.mark.parametrize(("liquid", "warned"), [("1.4260", True), ("1.4302", False)])
def test_a_check_standard_weighed_in_the_liquid(liquid, warned, shop):
    """Silicon, 2.329 g/cm^3: 2.5 g lose 2.5 (rho_w - rho_a)/(2.329 - rho_a) = 1.0700 g in water, 23 degC."""
    lost = 2.5 * (WATER_23 - AIR) / (2.329 - AIR)
    assert lost == pytest.approx(1.0700, abs=5e-5)
    shop.table(STANDARD, f"Si,check standard,2.3290,2.5000,{liquid},23")
    answer = shop.json("measure", "batch.toml")
    told = answer["warnings"]
    assert len(told) == warned
    assert any(says("mistakes: a standard that agrees", note) for note in answer["notes"]) != warned
    if warned:
        assert (told[0]["code"], told[0]["place"]) == ("check-standard-off", "row 2, column 'density'")
        assert told[0]["found"].endswith("stated 2.329 g/cm^3")


def test_a_check_standard_without_its_density_is_refused(shop):
    shop.table(STANDARD, "Si,check standard,,2.5000,1.4302,23")
    (problem,) = shop.json("measure", "batch.toml", status=[2])["problems"]
    assert reads("mistakes: a check standard without its density", problem["found"])


WHOLE = (
    "specimen,kind,zone,specimen mass [g],residue mass [g],method,"
    "mass in air [g],mass in liquid [g],liquid density [g/cm^3]"
)
GOOD = [
    f"{n},,web,{air},{res},digestion,{air},{liquid},0.9975"
    for n, air, res, liquid in (
        (1, 1.4425, 0.9763, 0.5117),
        (2, 1.4607, 0.9884, 0.5192),
        (3, 1.4141, 0.9571, 0.5032),
    )
]


def test_while_a_blank_is_in_doubt_no_specimen_is_accused_of_what_it_gives(bare):
    """A fiber loss of 10 % moves every fiber content and void content: the blank alone is told."""
    bare.table(WHOLE, "f1,blank fiber,,1.0000,0.9000,digestion,,,", *GOOD)
    told = bare.json("measure", "batch.toml")["warnings"]
    assert [(w["code"], w["place"]) for w in told] == [("blank-unlikely", "row 2, column 'specimen'")]
    held = bare.json("report", "batch.toml", status=[0, 1])["held_back"]
    doubts = [one["what"] for one in held if one["rule"] == 2]
    assert len(doubts) == 1
    assert "row 2" in doubts[0]


def test_an_answered_blank_says_again_what_does_not_fit(bare):
    rows = ["f1,blank fiber,,1.0000,0.9000,digestion,,,,new sizing", *(f"{row}," for row in GOOD)]
    bare.table(f"{WHOLE},accepted", *rows)
    told = bare.json("measure", "batch.toml")["warnings"]
    assert {w["place"].partition(",")[0] for w in told} == {"row 2", "row 3", "row 4", "row 5"}


def test_a_slip_in_one_specimen_shows_beside_its_fellows_whatever_the_blank(bare):
    slipped = [row.replace("0.9884", "0.8984") for row in GOOD]
    bare.table(WHOLE, "f1,blank fiber,,1.0000,0.9000,digestion,,,", *slipped)
    told = bare.json("measure", "batch.toml")["warnings"]
    assert {w["place"] for w in told} == {"row 2, column 'specimen'", "row 4, column 'residue mass'"}


def test_a_content_above_all_that_only_the_blank_gives_is_said_of_the_blank(bare):
    """0.9763 g over 0.6 of fiber that is left are 1.63 g of fiber in 1.44 g."""
    bare.table(WHOLE, "f1,blank fiber,,1.0000,0.6000,digestion,,,", *GOOD)
    problems = bare.json("measure", "batch.toml", status=[2])["problems"]
    assert [(p["code"], p["place"]) for p in problems] == [("blank-unlikely", "row 2, column 'specimen'")]


POTS = "specimen,kind,zone,crucible mass [g],crucible with specimen [g],crucible with residue [g],method"
BARE = [
    "f1,blank fiber,,25.4599,26.8931,26.8902,digestion",
    "f2,blank fiber,,25.7800,27.2434,27.2410,digestion",
]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("25.4599", "0.254599", "row 2, column 'crucible mass'"),
        ("25.4599", "2.54599", "row 2, column 'crucible mass'"),
        ("26.8931,26.8902", "82.8931,82.8902", "row 2, column 'crucible with specimen'"),
    ],
)
def test_a_slip_in_a_blank_that_leaves_its_loss_near_nothing(old, new, place, bare):
    good = "1,,web,25.1000,26.5425,26.0763,digestion"
    bare.table(POTS, *BARE, good)
    assert bare.json("measure", "batch.toml")["warnings"] == []
    bare.table(POTS, BARE[0].replace(old, new), BARE[1], good)
    told = bare.json("measure", "batch.toml")["warnings"]
    assert [(w["code"], w["place"]) for w in told] == [("blank-unlikely", place)]


@pytest.mark.parametrize("digit_too_many", ["0.00202", "0.00220", "0.00200"])
def test_a_digit_too_many_in_a_blank_is_asked_about(digit_too_many, bare):
    rows = [f"n{i},blank resin,,1.000{i},0.002{i},digestion" for i in range(4)]
    good = ["1,,web,1.4425,0.9763,digestion"]
    bare.table(LOSS, *rows, *good)
    assert bare.json("measure", "batch.toml")["warnings"] == []
    bare.table(LOSS, rows[0].replace("0.0020", digit_too_many), *rows[1:], *good)
    (warning,) = bare.json("measure", "batch.toml")["warnings"]
    assert (warning["code"], warning["place"]) == ("digits-unlike", "row 2, column 'residue mass'")


RESIN, FIBER = "1.0000,0.0020,digestion", "1.0000,0.9960,digestion"
PLAIN = [f"{n},,web,{m},{r},digestion" for n, m, r in (
    (1, 1.4425, 0.9763), (2, 1.4607, 0.9884), (3, 1.4141, 0.9571))]  # fmt: skip


@pytest.mark.parametrize(
    ("blanks", "rows"),
    [
        # both pairs exchanged in one: 1 - 0.497 - 0.503 leaves nothing
        (
            ["r1,blank resin,," + RESIN, "r2,blank resin,," + FIBER, "f1,blank fiber,," + RESIN,
             "f2,blank fiber,," + FIBER], {"row 3", "row 4"},
        ),
        (["r1,blank resin,," + FIBER], {"row 2"}),
        (["f1,blank fiber,," + RESIN], {"row 2"}),
        # 1 - 0.9 - 0.5 < 0 gives 0.67 - 0.9 over -0.4: a fiber content of 57 %
        (["r1,blank resin,,1.0000,0.9000,digestion", "f1,blank fiber,,1.0000,0.5000,digestion"],
         {"row 2", "row 3"}),
        # a specimen among the blanks: the others are as much, 0 % of fiber
        (["s,blank resin,,1.4400,0.9756,digestion"], {"row 2"}),
    ],
)  # fmt: skip
def test_blanks_that_leave_no_fiber_are_refused_and_no_specimen_is(blanks, rows, bare):
    bare.table(LOSS, *blanks, *PLAIN)
    problems = bare.json("measure", "batch.toml", status=[2])["problems"]
    assert {p["code"] for p in problems} == {"blank-unlikely"}
    assert {p["place"] for p in problems} == {f"{row}, column 'specimen'" for row in rows}


@pytest.mark.parametrize(
    "rows",
    [
        ["f1,blank fiber,,1.0000,0.9700,digestion", "r1,blank resin,,1.0000,0.0004,digestion"],
        ["r1,blank resin,,0.3000,0.0000,digestion", "r2,blank resin,,0.3000,0.0002,digestion"],
        ["f1,blank fiber,,1.4688,1.4631,digestion", "f2,blank fiber,,1.4988,1.4963,digestion"],
    ],
)
def test_blanks_as_they_are_pass(rows, bare):
    """Aramid in acid, small pieces on a balance of 0.1 mg, glass burnt off."""
    bare.table(LOSS, *rows, *PLAIN)
    assert bare.json("measure", "batch.toml")["warnings"] == []


def test_neat_resin_full_of_filler_passes_with_its_reason(bare):
    """Half of the resin is filler: (0.9763/1.4425 - 0.45)/0.55 of fiber."""
    rows = ["r1,blank resin,,1.0000,0.4500,digestion,filled with chalk", *(f"{row}," for row in PLAIN)]
    bare.table(f"{LOSS},accepted", *rows)
    first = bare.json("measure", "batch.toml")["specimens"][0]["fiber_content"]["value"]
    assert first == pytest.approx(100 * (0.9763 / 1.4425 - 0.45) / 0.55, rel=1e-9)


@pytest.mark.parametrize(("residue", "status"), [("0.0010", 2), ("0.0028", 0), ("0.0030", 0)])
def test_less_residue_than_neat_resin_leaves_is_refused(residue, status, bare):
    """0.2 % of 1.4425 g are 2.9 mg; a coupon of neat resin may leave somewhat less."""
    rows = [f"r{i},blank resin,,1.0000,0.00{r},digestion" for i, r in enumerate((18, 20, 22))]
    bare.table(LOSS, *rows, f"1,,web,1.4425,{residue},digestion")
    answer = bare.json("measure", "batch.toml", status=[status])
    if status:
        assert [p["place"] for p in answer["problems"]] == ["row 5, column 'residue mass'"]


def test_beside_each_other_specimens_may_scatter_by_what_a_doubted_blank_adds(bare):
    """Half of the fiber lost doubles every fiber content, and what they scatter."""
    contents = (0.368, 0.342, 0.350)
    rows = [f"{i},,web,1.4000,{1.4 * w:.4f},digestion" for i, w in enumerate(contents)]
    bare.table(LOSS, "f1,blank fiber,,1.0000,0.5000,digestion", *rows)
    assert [w["code"] for w in bare.json("measure", "batch.toml")["warnings"]] == ["blank-unlikely"]
