"""The page of `correct`: what is drawn is what is said, and nothing else is needed to read it."""

import base64
import html
import json
import re
import shutil
from importlib.resources import as_file, files

import pytest

from laminate.history.correcting import correct
from laminate.show.correct_page import correct_document, correct_figures
from laminate.show.pages import page_of
from laminate.values.quantities import MM, shown

from .calls import call
from .test_rubber import rubber


def numbers(text):
    return [float(found) for found in re.findall(r"\d+\.\d+|\d+", text)]


def test_a_gap_shows_predicted_achieved_and_each_change(mast, capsys, tmp_path):
    path = tmp_path / "correct.html"
    status, out, _ = call(capsys, mast / "batch.toml", "--html", path)
    assert status == 0
    assert str(path) in out
    page = path.read_text("utf-8")
    drawn = re.findall(r'src="data:image/svg\+xml;base64,([^"]*)"', page)
    assert len(drawn) == 2  # fiber volume and thickness
    for one in drawn:
        svg = base64.b64decode(one).decode()
        assert ">predicted<" in svg
        assert ">achieved<" in svg
    assert not re.search(r'(?:src|href)="(?!#|data:)|<script|@import', page)
    found = correct([mast / "batch.toml"])
    (zone,) = found.zones
    figure = correct_figures(found, "metric")[1]
    thick = next(one for one in zone.differences if one.attribute == "thickness")
    told = numbers(figure.words)
    for mean in (thick.predicted.mean.value, thick.achieved.mean.value):
        assert min(abs(shown(mean, MM) - number) for number in told) < 5e-4
    for aim in zone.centring.aims:
        for change in aim.changes:
            words = next(text for _, text in figure.marks if f"{1e3 * change.then:.3f} mm" in text)
            assert numbers(words)[-1] == pytest.approx(shown(aim.then["thickness"], MM), abs=5e-4)


def test_rubber_shows_each_proposal_with_the_pressures_beside_it(mast):
    answer = rubber(mast, 2.86)
    assert answer.proposals
    found = correct([mast / "batch.toml"])
    figures = correct_figures(found, "metric")
    marks = [text for figure in figures for _, text in figure.marks]
    assert any(one.what == "ply_count" for one in found.rubber[0].proposals)
    thicker = [one for one in found.rubber[0].proposals if one.what == "ply_count"]
    for one in thicker:
        words = next(text for text in marks if text.startswith("ply count"))
        assert str(round(one.then)) in words
        assert one.refused in words
    text = page_of(correct_document(found, "metric"))
    assert "worst [MPa]" in text
    assert "gel [MPa]" in text


def cells(page):
    """Every row of every table of a page: its headings with the words of its cells."""
    for table in re.findall(r"<table.*?</table>", page, re.DOTALL):
        headings = [plain(one) for one in re.findall(r"<th role=\"columnheader\".*?</th>", table, re.DOTALL)]
        for row in re.findall(r"<tr role=\"row\">(.*?)</tr>", table.split("</thead>")[1], re.DOTALL):
            found = re.findall(r"<t[hd] .*?</t[hd]>", row, re.DOTALL)
            yield dict(
                zip(
                    headings,
                    (plain(re.sub(r'<span class="label".*?</span>', "", one)) for one in found),
                    strict=True,
                )
            )


def plain(piece):
    return html.unescape(" ".join(re.sub(r"<[^>]*>", " ", piece).split()))


def shows(cell, *values):
    """Whether the numbers of a cell are these, each rounded to the decimals that stand there."""
    written = re.findall(r"\d+(?:\.\d+)?", cell)
    assert len(written) == len(values), (cell, values)
    assert all(near(text, abs(value)) for text, value in zip(written, values, strict=True)), (cell, values)


def row_of(rows, first, word):
    """The one row whose first cell begins with a word."""
    found = [row for row in rows if first in row and row[first].startswith(word)]
    assert len(found) == 1, (first, word)
    return found[0]


def same_numbers(capsys, tmp_path, batch):
    """The page of a batch and its JSON; what stands in the tables of the page is also on the screen."""
    path = tmp_path / "correct.html"
    status, out, _ = call(capsys, batch, "--html", path, "--why")
    assert status == 0
    rows = list(cells(path.read_text("utf-8")))
    screen = " ".join(out.split())
    for row in rows:
        for cell in row.values():
            assert all(number in screen for number in re.findall(r"\d+\.\d+", cell)), cell
    zones = json.loads(call(capsys, batch, "--json")[1])["zones"]
    for change in (one for zone in zones for aim in zone["centre"] for one in aim["changes"]):
        told = [
            re.sub(r"[^-+.\d]+", " ", found).split()
            for found in re.findall(rf"{change['size']} by ([-+]\d.*? from .*? to \S+) mm", screen)
        ]
        wide = 1.96 * change["change"]["standard_uncertainty"]
        assert any(
            near(words[0], change["change"]["value"])
            and near(words[-2], change["now"]["value"])
            and near(words[-1], change["then"]["value"])
            and float(words[1]) > 0.99 * wide
            for words in told
        ), (change, told)
    return rows, zones


def near(text, value):
    """Whether a written number is this one, rounded to its decimals."""
    return abs(float(text) - value) <= 0.5 * 10.0 ** -len(text.partition(".")[2]) * (1 + 1e-9)


NAMES = {"fiber_volume": "fiber volume", "thickness": "laminate thickness",
         "cured_ply_thickness": "cured ply thickness", "resin_content": "resin content by weight",
         "areal_weight": "areal weight"}  # fmt: skip


@pytest.mark.parametrize("case", ["mast", "panel", "glass"])
def test_a_gap_has_the_same_numbers_on_page_screen_and_in_json(case, capsys, tmp_path):
    with as_file(files("laminate.examples") / case) as folder:
        shutil.copytree(folder, tmp_path / case)
    rows, (zone,) = same_numbers(capsys, tmp_path, tmp_path / case / "batch.toml")
    assert zone["differences"]
    for one in zone["differences"]:
        row = row_of(rows, "attribute", NAMES[one["attribute"]])
        shows(row["predicted"], one["predicted"]["value"])
        shows(row["achieved"], one["achieved"]["value"])
        shows(row["difference"], one["difference"]["value"])
        shows(row["± (95 %)"], one["difference"]["expanded_uncertainty"])
        assert row["real difference"] == ("yes" if one["means_something"] else "no")
    for count in zone["counts"]:
        row = row_of(rows, "plies", str(count["plies"]))
        assert row["verdict"] == count["verdict"]
        for key, words in (("fiber_volume", "fiber volume [%]"), ("thickness", "laminate thickness [mm]")):
            shows(row[words], count["then"][key]["value"])


def test_rubber_has_the_same_numbers_on_page_screen_and_in_json(mast, capsys, tmp_path):
    assert rubber(mast, 2.86).proposals
    rows, zones = same_numbers(capsys, tmp_path, mast / "batch.toml")
    zone = next(one for one in zones if one["zone"] == "skin")
    told = [row for row in rows if "gel [MPa]" in row]
    assert len(told) == 1 + len(zone["proposals"])
    now = {**zone["achieved"], **zone["pressure_now"]}
    for row, state in zip(told, [now, *(one["after"] for one in zone["proposals"])], strict=True):
        shows(row["[mm]"], state["thickness"]["value"])
        shows(row["fiber [%]"], state["fiber_volume"]["value"])
        for moment, heading in (("at_gel", "gel [MPa]"), ("at_worst", "worst [MPa]")):
            band = state[moment]
            ends = () if "(" not in row[heading] else (band["low"], band["high"])
            assert ends or band["low"] == band["high"] == band["value"]
            shows(row[heading], band["value"], *ends)
    for row, one in zip(told[1:], zone["proposals"], strict=True):
        assert (row["answer"] == "yes") == (one["refused"] is None)
        words = re.search(r"from (\S+).* to (\S+)", row["change"])
        shows(words[1], one["now"]["value"])
        shows(words[2], one["then"]["value"])
