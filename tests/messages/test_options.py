"""Options that are wrong, missing, or out of place beside a file: as the catalog says, all at once."""

import pytest

DENSITIES = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")
PLY = ("--fiber-areal-weight", "134 g/m^2", "--resin-content", "35 %", "--fiber-density", "1.79 g/cm^3",
       "--resin-density", "1.30 g/cm^3")  # fmt: skip
MEASURE = ("measure", "coupons.csv", *DENSITIES)

WRONG = {
    "an unknown option": ((*MEASURE, "--balence", "0.1 mg"), ["--balence"]),
    "no option to bend a limit": (("report", "batch.toml", "--guard", "0"), ["--guard"]),
    "a bare spread": ((*MEASURE, "--balance", "0.1 mg"), ["--balance"]),
    "a length for a mass": ((*MEASURE, "--balance", "0.1 mm (standard)"), ["--balance"]),
    "other units": (("report", "batch.toml", "--units", "imperial"), ["--units"]),
    "several at once": (
        ("measure", "coupns.csv", "--fiber-density", "1.79", "--resin-density", "1.22 mm", "--confidence",
         "120 %", "--units", "si", "--fiber", "glas", "--table", "x.txt", "--plies", "0"),
        ["--units", "--table", "coupns.csv", "--fiber-density", "--resin-density", "--fiber", "--confidence",
         "--plies"],
    ),
    "options beside a batch file": (
        ("measure", "batch.toml", "--fiber-density", "1.79 g/cm^3", "--confidence", "99 %"),
        ["--fiber-density", "--confidence"],
    ),
    "options beside a part file": (
        ("predict", "part.toml", "--resin-content", "35 %", "--area", "1 m^2"),
        ["--resin-content", "--area"],
    ),
    "a batch file and a table": (("measure", "batch.toml", "coupons.csv"), ["coupons.csv"]),
    "nothing": (
        ("predict",),
        ["--fiber-areal-weight", "--resin-content", "--fiber-density", "--resin-density"],
    ),
    "both areal weights": (
        ("predict", *PLY, "--prepreg-areal-weight", "200 g/m^2"),
        ["--prepreg-areal-weight"],
    ),
    "volatiles without a basis": (("predict", *PLY, "--volatiles", "1 %"), ["--resin-basis"]),
    "a basis nearly right": (
        ("predict", *PLY, "--volatiles", "1 %", "--resin-basis", "as recieved"),
        ["--resin-basis"],
    ),
    "all void": (("predict", *PLY, "--void-content", "100 %"), ["--void-content"]),
    "plies as a word": (("predict", *PLY, "--plies", "four"), ["--plies"]),
    "no plies": (("predict", *PLY, "--plies", "0"), ["--plies"]),
    "plies of no zone": (("predict", "part.toml", "--plies", "wep=20"), ["--plies"]),
    "plies of which zone": (("predict", "part.toml", "--plies", "20"), ["--plies"]),
    "fewer plies than fixed": (("predict", "part.toml", "--plies", "web=3"), ["--plies"]),
    "a folder that is not there": ((*MEASURE, "--table", "nowhere/x.csv"), ["nowhere/x.csv"]),
    "one option twice": (("predict", *PLY, "--resin-content", "36 %"), ["--resin-content"]),
    "no file": (("report",), ["BATCH"]),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_call(case, shop):
    arguments, places = WRONG[case]
    problems = shop.refused(f"options: {case}", *arguments)
    assert [problem["file"] or problem["place"] for problem in problems] == places
    for problem in problems:
        assert set(problem) == {"code", "file", "place", "found", "expected", "hint"}


def test_nothing_is_measured_or_written_where_the_call_is_wrong(shop):
    shop.run("measure", "batch.toml", "--confidence", "99 %", "--table", "x.csv")
    shop.run("report", "batch.toml", "--units", "si", "--html", "x.html")
    assert sorted(p.name for p in shop.folder.iterdir()) == ["batch.toml", "coupons.csv", "part.toml"]
