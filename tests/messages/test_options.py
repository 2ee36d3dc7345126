"""Options that are wrong, missing, or out of place beside a file: exact sentences, all at once."""

import pytest

DENSITIES = ("--fiber-density", "1.79 g/cm^3", "--resin-density", "1.22 g/cm^3")
PLY = ("--fiber-areal-weight", "134 g/m^2", "--resin-content", "35 %", "--fiber-density", "1.79 g/cm^3",
       "--resin-density", "1.30 g/cm^3")  # fmt: skip
MEASURE = ("measure", "coupons.csv", *DENSITIES)
MEANING = "(tolerance), (standard), (standard, dof=9), (k=2) or (95 %) after it"

WRONG = {
    "an unknown "
    "option": ((*MEASURE, "--balence", "0.1 mg"), ["--balence: unknown option; did you mean '--balance'?"]),
    "no option to bend a limit": (
        ("report", "batch.toml", "--guard", "0"),
        ["--guard: unknown option; known: --help, --html, --json, --out, --units, --why"]),
    "a bare spread": (
        (*MEASURE, "--balance", "0.1 mg"),
        [f"--balance: found '0.1 mg', which does not say what it means, expected {MEANING}"]),
    "a length for a mass": (
        (*MEASURE, "--balance", "0.1 mm (standard)"),
        ["--balance: found '0.1 mm (standard)', a length, expected a mass, such as \"3.1004 g\""]),
    "other units": (
        ("report", "batch.toml", "--units", "imperial"),
        ["--units: found 'imperial', expected one of 'metric', 'us'"]),
    "several at once": (
        ("measure", "coupns.csv", "--fiber-density", "1.79", "--resin-density", "1.22 "
                                                                                "mm", "--confidence", "120 %",
         "--units", "si", "--fiber", "glas", "--table", "x.txt", "--plies", "0"),
        ["--units: found 'si', expected one of 'metric', 'us'",
         "--table: found 'x.txt', expected a file name that ends in .csv or .xlsx",
         "coupns.csv: found no such file, expected a coupon table; did you mean 'coupons.csv'?",
         "--fiber-density: found '1.79' without a unit, expected a density with its unit, such as \"1.79 "
         "g/cm^3\"",
         "--resin-density: found '1.22 mm', a length, expected a density, such as \"1.79 g/cm^3\"",
         "--fiber: found 'glas', expected one of 'carbon', 'glass', 'aramid', 'other'; did you mean 'glass'?",
         "--confidence: found '120 %', expected a percentage from 50 to below 100 %",
         "--plies: found '0', expected a whole number, 1 or more"]),
    "options beside a batch file": (
        ("measure", "batch.toml", *DENSITIES[:2], "--confidence", "99 %"),
        ["--fiber-density: found '1.79 g/cm^3', expected no such option beside a batch file; the batch file "
         "says it",
         "--confidence: found '99 %', expected no such option beside a batch file; the batch file says it"]),
    "options beside a part file": (
        ("predict", "part.toml", "--resin-content", "35 %", "--area", "1 m^2"),
        ["--resin-content: found '35 %', expected no material option beside a file; the file says it",
         "--area: found an area, expected no --area beside a file; write it as the zone's area"]),
    "a batch file and a table": (
        ("measure", "batch.toml", "coupons.csv"),
        ["coupons.csv: found a second file, expected one batch file alone, which names its coupon tables"]),
    "nothing": (
        ("predict",),
        ["--fiber-areal-weight is missing: the areal weight of a ply, such as \"134 g/m^2\", "
         "or a part file",
         "--resin-content is missing: the resin content by weight, such as \"35 %\"",
         "--fiber-density is missing: a density, such as \"1.79 g/cm^3\"",
         "--resin-density is missing: the cured density, such as \"1.30 g/cm^3\""]),
    "both areal weights": (
        ("predict", *PLY, "--prepreg-areal-weight", "200 g/m^2"),
        ["--prepreg-areal-weight: found both fiber_areal_weight and prepreg_areal_weight, expected one of "
         "them: of the fiber alone, or of the prepreg"]),
    "volatiles without a basis": (
        ("predict", *PLY, "--volatiles", "1 %"),
        ["--resin-basis: found volatiles without 'resin_basis', expected 'as received', "
         "'volatile-free' or 'with "
         "volatiles', "
         "as the certificate says"]),
    "a basis nearly right": (
        ("predict", *PLY, "--volatiles", "1 %", "--resin-basis", "as recieved"),
        ["--resin-basis: found 'as recieved', expected one of 'as received', 'volatile-free', 'with "
         "volatiles'; "
         "did you mean 'as received'?"]),
    "all void": (
        ("predict", *PLY, "--void-content", "100 "
                                            "%"), ["--void-content: found '100 %', expected less than 100 "
                                                   "%"]),
    "plies as a word": (
        ("predict", *PLY, "--plies", "four"), ["--plies: found 'four', expected a whole number, 1 or more"]),
    "no "
    "plies": (("predict", *PLY, "--plies", "0"), ["--plies: found '0', expected a whole number, 1 or more"]),
    "plies of no zone": (
        ("predict", "part.toml", "--plies", "wep=20"),
        ["--plies: found 'wep=20', expected ZONE=COUNT, a zone of web, skin; did you mean 'web'?"]),
    "plies of which zone": (
        ("predict", "part.toml", "--plies", "20"), ["--plies: found '20', expected ZONE=COUNT, a zone of "
                                                    "web, skin"]),
    "fewer plies than fixed": (
        ("predict", "part.toml", "--plies", "web=3"), ["--plies: found '3', expected a whole number, 4 or "
                                                       "more"]),
    "a folder that is not there": (
        (*MEASURE, "--table", "nowhere/x.csv"),
        ["nowhere/x.csv: found no folder 'nowhere', expected a file in a folder that exists"]),
    "no "
    "file": (("report",), ["BATCH is missing: batch.toml; 'laminate report --help' shows the "
                           "call"]),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
def test_a_wrong_call(case, shop):
    arguments, sentences = WRONG[case]
    answer = shop.run(*arguments)
    assert (answer.status, answer.out, answer.err.splitlines()) == (2, "", sentences)
    problems = shop.json(*arguments, status=[2])["problems"]
    assert len(problems) == len(sentences)
    for problem, sentence in zip(problems, sentences, strict=True):
        assert set(problem) == {"code", "file", "place", "found", "expected", "hint"}
        assert sentence.startswith(problem["file"] or problem["place"])


def test_nothing_is_measured_or_written_where_the_call_is_wrong(shop):
    shop.run("measure", "batch.toml", "--confidence", "99 %", "--table", "x.csv")
    shop.run("report", "batch.toml", "--units", "si", "--html", "x.html")
    assert sorted(p.name for p in shop.folder.iterdir()) == ["batch.toml", "coupons.csv", "part.toml"]
