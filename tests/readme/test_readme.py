"""What the README shows is what the program says, numbers included."""

import doctest
import json
import re
import runpy
import shlex
import subprocess
import textwrap
import tomllib
from pathlib import Path

import pytest

from laminate.cli import app
from tests.messages.wording import begins

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
SHOWN = re.findall(r"^    \$ laminate (.*)\n((?:    .*\n)+)", README, re.M)


def one_line(text):
    return " ".join(text.split())


@pytest.fixture
def folder(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert app.status(["example", "."]) == 0
    capsys.readouterr()
    return tmp_path


def test_it_shows_each_persons_work():
    assert {command.split()[0] for command, _ in SHOWN} >= {"fill", "measure", "report"}


@pytest.mark.parametrize(("command", "shown"), SHOWN, ids=[command for command, _ in SHOWN])
def test_output_is_as_shown(folder, capsys, command, shown):
    if "# without moldings" in command:
        batch = folder / "batch.toml"
        text = batch.read_text("utf-8")
        assert text.count("moldings = 12\n") == 1
        batch.write_text(text.replace("moldings = 12\n", ""), "utf-8")
    if "# of the case cycle" in command:
        (folder / "part.toml").unlink()
        (folder / "batch.toml").unlink()
        app.status(["example", ".", "--case", "cycle"])
        capsys.readouterr()
    app.status(shlex.split(command, comments=True))
    said = one_line(capsys.readouterr().out)
    at = 0
    for piece in re.split(r"^    \.\.\.\n", shown, flags=re.M):
        assert one_line(piece) in said[at:]
        at = said.index(one_line(piece), at) + len(one_line(piece))


@pytest.mark.openssh
def test_the_lines_for_signing(folder, capsys):
    """From no key to a proven record; the key without a passphrase, as nobody is there to type one."""
    assert app.status(["report", "batch.toml", "--out", "kept"]) == 0
    make, *calls = re.search(r"^## Signing\n\n((?:    .*\n)+)", README, re.M)[1].splitlines()
    subprocess.run([*shlex.split(make, comments=True), "-q", "-N", ""], check=True)
    assert len(calls) == 3
    for call in calls:
        line, _, file = call.partition(" >> ")
        capsys.readouterr()
        assert app.status(shlex.split(line)[1:]) == 0, line
        if file:
            (folder / file).write_text(capsys.readouterr().out, "utf-8")
    assert begins("readme: proven", capsys.readouterr().out)


def test_the_library_answers_as_shown(folder):
    lines = re.search(r"^## From Python\n\n((?:    .*\n)+)", README, re.M)
    assert lines
    test = doctest.DocTestParser().get_doctest(lines[1], {}, "README.md", "README.md", 0)
    assert len(test.examples) >= 5
    outcome = doctest.DocTestRunner().run(test)
    assert outcome.failed == 0


def test_the_part_file_and_the_table_shown_are_read(folder, capsys):
    part = re.search(r"This one is whole:\n\n((?:    .*\n)+)", README)[1]
    rows = re.search(r"may be missing:\n\n((?:    .*\n)+)", README)[1]
    (folder / "own.toml").write_text(textwrap.dedent(part), "utf-8")
    (folder / "own.csv").write_text(textwrap.dedent(rows), "utf-8")
    assert app.status(["predict", "own.toml"]) == app.status(["fill", "own.toml"]) == 0
    given = ["--fiber-density=1.79 g/cm^3", "--resin-density=1.28 g/cm^3"]
    assert app.status(["measure", "own.csv", *given]) == 0
    assert capsys.readouterr().err == ""


def test_the_batch_file_to_begin_with_asks_for_what_is_missing(folder, capsys):
    """The part, batch and table shown, as they stand: read, judged, and each line to write is printed."""
    shown = {
        "part.toml": re.search(r"This one is whole:\n\n((?:    .*\n)+)", README)[1],
        "batch.toml": re.search(r"has them all:\n\n((?:    .*\n)+)", README)[1],
        "coupons.csv": re.search(r"may be missing:\n\n((?:    .*\n)+)", README)[1],
    }
    for name, text in shown.items():
        (folder / name).write_text(textwrap.dedent(text), "utf-8")
    assert app.status(["report", "batch.toml", "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert answer["answer"] == "undecided"
    asked = " ".join(one["say"] or "" for one in answer["held_back"])
    for line in ("[instrument.balance]", "[instrument.thermometer]", "[[lot]]", "[laboratory]", "[blank]"):
        assert line in asked
    assert app.status(["correct", "batch.toml", "--json"]) == 0
    (zone,) = json.loads(capsys.readouterr().out)["zones"]
    real = [row["difference"]["value"] for row in zone["differences"] if row["means_something"]]
    assert app.status(["correct", "batch.toml"]) == 0
    table = capsys.readouterr().out
    assert [value for value in real if f"{value:+.1f}" not in table] == []
    assert len(real) == 1


def test_every_case_is_named():
    from laminate.cli.general import CASES

    assert all(f"`{case}`" in README for case in set(CASES) - {"mast"})


# row of the README's table, by how its source begins -> example, results and what each is multiplied with
CHECKED = {
    "prepreg data sheet": ("hexply_8552", {"fiber volume": 100, "thickness": 1e3}),
    "Kaw": ("kaw_digestion", {"voids": 100}),
    "burn-off of glass": ("burn_off", {"voids": 100}),
    "ASTM D792": ("water_d792", {"water": 1e-3}),
    "Tanaka": ("water_tanaka", {"at 20": 1}),
    "IAPWS-IF97": ("vapor_if97", {"at 500": 1e-6}),
    "manual of a density kit": ("hanger_wires", {"factor": 1}),
    "NIST TN 1297": ("students_t", {"dof 4": 1}),
    "ILAC-G8": ("accept_limit", {"chance": 100}),
    "NIST/SEMATECH 7.4.3": ("anova_resistors", {"lots.ratio": 1}),
    "CMH-17-1G": ("b_basis", {"10 values": 1}),
}


def test_the_table_of_published_values_is_computed():
    """Each value of the column 'here' to its last digit, and how its source was seen."""
    published = Path(__file__).parents[1] / "published"
    checks = runpy.run_path(str(published / "test_worked_examples.py"))
    table = re.search(r"^## How the numbers were checked\n(?:.*\n)*?\|---.*\n((?:\|.*\n)+)", README, re.M)
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table[1].splitlines()]
    assert len(rows) == len(CHECKED)
    for (source, printed_there, here), (begun, (name, wanted)) in zip(rows, CHECKED.items(), strict=True):
        assert source.startswith(begun)
        example = tomllib.loads((published / "data" / f"{name}.toml").read_text("utf-8"))
        assert f"({example['how_known']})" in source
        results = checks["run"](example)
        numbers = re.findall(r"\d+\.\d+", here)
        assert len(numbers) == len(wanted), source
        for text, (result, factor) in zip(numbers, wanted.items(), strict=True):
            value = float(checks["argument"](f"={result}", results)) * factor
            value = 100 - value if begun == "ILAC-G8" else value  # of a chance to accept falsely
            assert value == pytest.approx(float(text), abs=0.51 * 10.0 ** -len(text.partition(".")[2])), (
                source
            )
        printed = re.findall(r"\d+\.\d+", printed_there)
        assert len(printed) == len(numbers)
        for text, said in zip(numbers, printed, strict=True):
            digits = len(said.partition(".")[2])
            assert float(text) == pytest.approx(float(said), abs=0.51 * 10.0**-digits), source


def test_the_pictures_are_those_of_the_pages():
    """What stands in each picture, words and numbers; its lines follow them."""
    made = runpy.run_path(str(Path(__file__).with_name("pictures.py")))["pictures"]()
    for name, svg in made.items():
        assert f"(tests/readme/{name})" in README
        kept = Path(__file__).with_name(name).read_text("utf-8")
        shown = [re.findall(r"<text[^>]*>([^<]*)</text>", text) for text in (svg, kept)]
        assert shown[0] == shown[1]
        assert len(shown[0]) > 5
