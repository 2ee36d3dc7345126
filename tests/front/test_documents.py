"""Every answer as a person reads it: on a screen, as a page, in a notebook, from one document."""

import re
from importlib.resources import files

import pandas as pd
import pytest

import laminate as lam
from laminate.judging.reported import report
from laminate.records.record import seal
from laminate.show.pages import page_of

MAST, CYCLE = files("laminate.examples") / "mast", files("laminate.examples") / "cycle"


def kept(folder):
    """A folder with one record."""
    (folder / "record.json").write_bytes(seal(report(MAST / "batch.toml")))
    return folder


ANSWERS = {
    "predict": lambda folder: lam.predict(MAST / "part.toml"),
    "fill": lambda folder: lam.fill(MAST / "part.toml", draws=1000),
    "core": lambda folder: lam.core(MAST / "part.toml", draws=1000),
    "cycle": lambda folder: lam.cycle(CYCLE / "batch.toml", draws=100),
    "measure": lambda folder: lam.measure(MAST / "batch.toml"),
    "report": lambda folder: lam.report(MAST / "batch.toml"),
    "correct": lambda folder: lam.correct(MAST / "batch.toml"),
    "trend": lambda folder: lam.trend(kept(folder)),
    "judge": lambda folder: lam.judge("1.2 % ± 0.1 (standard)", max="2 %"),
}


def words(html):
    return " ".join(
        re.sub(r"<style>.*?</style>|<[^>]*>", " ", html, flags=re.S).replace("\u00a0", " ").split()
    )


@pytest.mark.parametrize("name", ANSWERS)
def test_screen_page_and_notebook_say_the_same_answer(name, tmp_path):
    answer = ANSWERS[name](tmp_path)
    document = answer.document()
    first = document.blocks[0]
    assert first.strong
    lines = repr(answer).splitlines()
    assert 1 <= len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert "\x1b" not in repr(answer)
    html = answer._repr_html_()
    assert html.count("<div") == html.count("</div") == 1
    assert html.startswith("<div")
    assert html.endswith("</div>")
    assert "currentColor" in html
    assert "<script" not in html
    start = " ".join(" ".join(lines).split())[:30]
    for said in (words(html), words(page_of(document)), " ".join(str(document).split())):
        assert start in said
    assert html.count("<tr>") - html.count("<thead>") <= 60


def test_us_units_are_on_every_one():
    document = lam.predict(MAST / "part.toml").document("us")
    for said in (repr(document), str(document), words(document._repr_html_()), words(page_of(document))):
        assert " in, " in said
        assert " mm" not in said


def test_a_long_table_shows_sixty_rows_and_counts_the_others():
    table = {"specimen": [f"C{i}" for i in range(150)], "mass in air [g]": ["1.8000"] * 150}
    table["mass in liquid [g]"] = [f"0.{6500 + i}" for i in range(150)]
    answer = lam.measure(
        pd.DataFrame(table), fiber_density="1.79 g/cm^3", resin_density="1.30 g/cm^3",
        liquid_density="0.998 g/cm^3",
    )  # fmt: skip
    html = answer._repr_html_()
    assert html.count("<tr>") - 1 <= 60
    assert "more rows" in html
