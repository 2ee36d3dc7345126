"""The page of `correct`: what is drawn is what is said, and nothing else is needed to read it."""

import base64
import re

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
    assert any(one.what == "ply_count" for one in found.rubber[0].answer.proposals)
    thicker = [one for one in found.rubber[0].answer.proposals if one.what == "ply_count"]
    for one in thicker:
        words = next(text for text in marks if text.startswith("ply count"))
        assert str(round(one.then)) in words
        assert one.refused in words
    text = page_of(correct_document(found, "metric"))
    assert "worst [MPa]" in text
    assert "gel [MPa]" in text
