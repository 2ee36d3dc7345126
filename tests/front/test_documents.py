"""Every answer as a person reads it: on a screen, as a page, in a notebook, from one document."""

import re
from importlib.resources import files

import pandas as pd
import pytest

import laminate as lam
from laminate.judging.reported import report
from laminate.records.record import seal
from laminate.show.pages import page_of
from laminate.show.terminal import answer_lines

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


@pytest.mark.parametrize("name", ["core", "fill"])
def test_what_is_cut_to_one_screen_is_cut_between_sentences(name):
    """Half a caution can say the opposite of the whole."""
    *lines, last = repr(ANSWERS[name](None)).splitlines()
    assert re.match(r"\d+ ", last)
    assert lines[-1].endswith(".") or lines[-1].split()[0].isdigit()  # a sentence, or the row of a count
    assert int(last.split()[0]) > 1


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


def weighed(count, zones=1, name="C{}"):
    """An answer of `measure` of so many coupons."""
    table = {"specimen": [name.format(i) for i in range(count)], "mass in air [g]": ["1.8000"] * count}
    table["mass in liquid [g]"] = [f"0.{6500 + i}" for i in range(count)]
    table["zone"] = [f"z{i * zones // count}" for i in range(count)]
    return lam.measure(
        pd.DataFrame(table), fiber_density="1.79 g/cm^3", resin_density="1.30 g/cm^3",
        liquid_density="0.998 g/cm^3",
    )  # fmt: skip


def body_rows(html):
    return html.count("<tr>") - html.count("<thead>")


def test_a_screen_of_many_zones_keeps_the_first_and_last_rows():
    screen = answer_lines(weighed(140, 70).document().screen(), 80)
    assert [line.split()[0] for line in screen if re.match(r"C\d+ ", line)] == ["C0", "C1", "C139"]
    assert len(screen) <= 42


def test_coupons_are_counted_beside_many_doubts():
    """One weighing in ten is far off."""
    table = {"specimen": [f"C{n}" for n in range(140)], "mass in air [g]": ["1.8000"] * 140}
    table["mass in liquid [g]"] = [f"0.{4500 if n % 10 == 5 else 6500 + n}" for n in range(140)]
    answer = lam.measure(
        pd.DataFrame(table), fiber_density="1.79 g/cm^3", resin_density="1.30 g/cm^3",
        liquid_density="0.998 g/cm^3",
    )  # fmt: skip
    assert answer.to_dict()["warnings"]
    screen = answer_lines(answer.document().screen(), 80)
    shown = sum(re.match(r"C\d+ ", line) is not None for line in screen)
    assert f"{140 - shown} more rows: see --why." in screen


@pytest.mark.parametrize("zones", [7, 70])
def test_a_notebook_has_a_table_however_many_zones_there_are(zones):
    """A row a coupon, and the largest ± above them, up to 60."""
    assert body_rows(weighed(21, min(zones, 21))._repr_html_()) == 22
    assert 40 < body_rows(weighed(140, zones)._repr_html_()) <= 60


def test_rows_that_are_not_shown_are_all_counted():
    answer = weighed(150)
    html = answer._repr_html_()
    left = int(re.search(r"(\d+) more rows", html)[1])
    assert body_rows(html) - 1 + left == 150  # without the row of the largest ±
    screen = "\n".join(answer_lines(answer.document().screen(), 80))
    shown = len(re.findall(r"^C\d+ ", screen, re.M))
    assert shown + int(re.search(r"(\d+) more rows", screen)[1]) == 150


def test_coupons_with_long_names_keep_their_rows_on_a_screen():
    """The middle of a name gives way, not the row; a notebook has the name whole."""
    names = ["n" * 69 + str(number) for number in range(3)]
    batch = pd.read_csv(MAST / "coupons.csv", dtype=str).assign(specimen=names)
    answer = lam.measure(
        batch, fiber_density="1.79 g/cm^3 ± 0.01 (k=2)", resin_density="1.30 g/cm^3 ± 0.01 (k=2)"
    )
    rows = [line for line in repr(answer).splitlines() if line.startswith("nnn")]
    assert [row.split()[0] for row in rows] == [f"{'n' * 13}...{'n' * 12}{number}" for number in range(3)]
    assert all(name in answer._repr_html_() for name in names)


def test_a_notebook_names_parameters_and_no_options_of_the_command():
    ply = {"fiber_areal_weight": "134 g/m^2", "resin_content": "35 %", "fiber_density": "1.79 g/cm^3"}
    answer = lam.fill(gap="3 mm", resin_density="1.30 g/cm^3", **ply)
    for shown in (repr(answer), answer._repr_html_()):
        assert "liquid_density" in shown
        assert "--" not in shown
    assert "--liquid-density" in "\n".join(answer_lines(answer.document().screen(), 80))


def test_a_row_shows_where_it_was_cut():
    assert "'immersion', 'digestion..., operator=JM" in repr(lam.measure(MAST / "batch.toml")["0101"])
