"""The engineer's screens at 80 columns: nothing wider, and no value broken over two lines."""

import re

import pytest

from laminate.cli import tables
from tests.messages.wording import says

CALLS = {
    "predict": ("predict", "part.toml"),
    "fill": ("fill", "part.toml", "--draws", "2000"),
    "core": ("core", "part.toml", "--draws", "2000"),
    "correct": ("correct", "batch.toml"),
}
VALUE = re.compile(r"(?<![\w.])[<>]?-?\d+\.?\d*(?: ± \d+\.?\d*)? (?:mm|mil|in|MPa|psi|°C|°F|g/cm³|oz/yd²|%)")


def squeezed(text):
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("name", CALLS)
@pytest.mark.parametrize("units", ["metric", "us"])
def test_no_value_is_broken_at_80_columns(name, units, shop, monkeypatch):
    wide = shop.run(*CALLS[name], "--units", units).out
    monkeypatch.setattr(tables, "screen_width", lambda: 80)
    narrow = shop.run(*CALLS[name], "--units", units).out
    lines = narrow.splitlines()
    assert max(map(len, lines)) <= 80
    whole = [squeezed(line) for line in lines]
    values = {found for line in wide.splitlines() for found in VALUE.findall(squeezed(line))}
    assert len(values) > 5
    assert {value for value in values if not any(value in line for line in whole)} == set()


def words(text):
    return sorted(re.sub(r"[─\s]+", " ", text).split())


@pytest.mark.parametrize("name", ["fill", "core"])
def test_a_narrow_screen_a_wide_one_and_a_pipe_say_the_same(name, shop, monkeypatch):
    piped = shop.run(*CALLS[name]).out
    for width in (80, 200):
        monkeypatch.setattr(tables, "screen_width", lambda width=width: width)
        out = shop.run(*CALLS[name]).out
        assert max(map(len, out.splitlines())) <= width
        assert words(out) == words(piped)
        assert "\x1b" not in out


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_verdict_and_the_count_to_use_stay_on_one_line(units, shop, monkeypatch):
    monkeypatch.setattr(tables, "screen_width", lambda: 80)
    out = shop.run("fill", "part.toml", "--draws", "2000", "--units", units).out
    assert out.count("fits, use") == 1
    assert re.search(r"^ +20 +presses, use ", out, re.MULTILINE)
    assert re.search(r"^ +21 +too many ", out, re.MULTILINE)
    assert re.search(r"^ +19 +too few +0\.98\d +\d+\.\d short", out, re.MULTILINE)


def test_every_spread_says_its_coverage(shop):
    """Where ± stands in an answer, 95 % or 'standard' stands in the same sentence, heading or footnote."""
    fill, core = (shop.run(*CALLS[name]).out for name in ("fill", "core"))
    assert all("(± at 95 %)" in line for line in fill.splitlines()[:2])
    assert "(± at 95 %)" in core.splitlines()[1]
    assert says("cli: every spread says its coverage", fill)
    predict = shop.run(*CALLS["predict"], "--why").out
    assert "value ± (95 %)" in predict
    assert re.search(r"^input +standard ± +share +total if halved$", predict, re.MULTILINE)


def test_the_page_shows_the_same_spread_as_the_screen(shop):
    out = shop.run("fill", "part.toml", "--draws", "2000", "--html", "fill.html").out
    page = shop.read("fill.html")
    volume = re.search(r"[\d.]+ ± [\d.]+ % fiber volume", out)[0]
    assert volume in page
    assert says("cli: the page shows the same spread", page)
    assert "standard uncertainty" not in page
