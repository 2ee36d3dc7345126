"""The page in a real browser: nothing leaves it, nothing runs, nothing runs over, nothing is cut in print."""

import re
from itertools import pairwise

import pytest

from . import cases

pytestmark = pytest.mark.browser

WIDTHS = (360, 800, 1600)
PAPERS = {"A4": (595, 842), "Letter": (612, 792)}
NAMES = ("example", "hostile", "long")


@pytest.fixture(params=NAMES)
def opened(request, browser, pages):
    """A page opened, with every request, message and error noted."""
    heard = []
    tab = browser.new_page(viewport={"width": 800, "height": 900})
    tab.on("request", lambda request: heard.append(request.url))
    tab.on("console", lambda message: heard.append(message.text))
    tab.on("pageerror", lambda error: heard.append(str(error)))
    tab.on("dialog", lambda dialog: (heard.append(dialog.message), dialog.dismiss()))
    tab.goto(pages[request.param].as_uri())
    yield request.param, tab, heard
    tab.close()


def test_nothing_leaves_the_page_and_nothing_runs(opened, pages):
    name, tab, heard = opened
    outside = [said for said in heard if not said.startswith("data:image/svg+xml;base64,")]
    assert [said for said in outside if said != "data:,"] == [pages[name].as_uri()]
    assert tab.evaluate("document.scripts.length") == 0
    assert (
        tab.evaluate("document.querySelectorAll('iframe, object, embed, link[rel=stylesheet]').length") == 0
    )
    assert tab.title().startswith("Batch ")


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_runs_over_the_side(opened, width):
    _, tab, _ = opened
    tab.set_viewport_size({"width": width, "height": 900})
    assert tab.evaluate("document.documentElement.scrollWidth") == width
    over = tab.evaluate(
        """() => [...document.querySelectorAll('main *')]
        .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5
                     || e.getBoundingClientRect().left < -0.5)
        .filter(e => !e.closest('thead'))
        .map(e => e.tagName + ' ' + e.textContent.slice(0, 40))"""
    )
    assert over == []


@pytest.mark.parametrize("width", WIDTHS)
def test_no_text_covers_another(opened, width):
    """Cells of a row, and names and values of a list, stay beside or below each other."""
    _, tab, _ = opened
    tab.set_viewport_size({"width": width, "height": 900})
    covering = tab.evaluate(
        """() => { const found = [];
        for (const row of document.querySelectorAll('tbody tr, dl > div')) {
          const boxes = [...row.children].map(e => {
            const range = document.createRange(); range.selectNodeContents(e);
            return [...range.getClientRects()].filter(b => b.width > 0); });
          for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++)
            for (const a of boxes[i]) for (const b of boxes[j])
              if (a.left < b.right - 1 && b.left < a.right - 1
                  && a.top < b.bottom - 1 && b.top < a.bottom - 1)
                found.push(row.textContent.slice(0, 60));
        } return found; }"""
    )
    assert covering == []


def test_the_answer_is_what_is_seen_first(opened):
    _, tab, _ = opened
    for width, height in ((360, 640), (800, 600), (1600, 900)):
        tab.set_viewport_size({"width": width, "height": height})
        box = tab.locator("#answer").bounding_box()
        assert box["y"] + box["height"] < height / 2
    sizes = tab.evaluate(
        "() => [...document.querySelectorAll('h1, h2, h3, p, td')]"
        ".map(e => [parseFloat(getComputedStyle(e).fontSize), e.id])"
    )
    assert max(sizes)[1] == "answer"


def test_it_can_be_read_without_seeing_it(opened):
    _, tab, _ = opened
    assert tab.evaluate("document.documentElement.lang") == "en"
    levels = tab.evaluate("() => [...document.querySelectorAll('h1,h2,h3,h4')].map(e => +e.tagName[1])")
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    assert tab.evaluate("() => [...document.images].map(e => e.alt.length > 30)").count(False) == 0
    assert tab.evaluate("document.images.length") == 5
    broken = tab.evaluate("() => [...document.images].filter(e => !e.complete || !e.naturalWidth).length")
    assert broken == 0
    for width in WIDTHS:
        tab.set_viewport_size({"width": width, "height": 900})
        tables = tab.evaluate(
            """() => [...document.querySelectorAll('table')].map(t => [
              t.caption.textContent.length > 3,
              [...t.querySelectorAll('thead th')].every(e => e.scope === 'col' && e.textContent),
              [...t.querySelectorAll('tbody tr')].every(r => r.cells[0].scope === 'row'),
              [...t.querySelectorAll('tbody tr')].every(r => r.cells.length === t.tHead.rows[0].cells.length),
              t.getAttribute('role') === 'table' ])"""
        )
        assert len(tables) > 10
        assert all(all(row) for row in tables)
    targets = tab.evaluate(
        "() => [...document.querySelectorAll('a')].every(e => document.querySelector(e.getAttribute('href')))"
    )
    assert targets
    ids = tab.evaluate("() => [...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(ids) == len(set(ids))
    labels = tab.evaluate(
        "() => [...document.querySelectorAll('section')].map(e => e.getAttribute('aria-labelledby'))"
    )
    assert set(labels) <= set(ids)


def test_black_on_white_is_enough(opened):
    """No color carries a meaning: every one used is a gray or near to it, dark enough where it is text."""
    _, tab, _ = opened
    colors = tab.evaluate(
        """() => [...new Set([...document.querySelectorAll('body *')].flatMap(e => {
          const s = getComputedStyle(e); return [s.color, s.backgroundColor, s.borderTopColor]; }))]"""
    )
    assert len(colors) >= 3
    for color in colors:
        red, green, blue, *alpha = (float(part) for part in color.partition("(")[2].rstrip(")").split(","))
        assert alpha == [0.0] or max(red, green, blue) - min(red, green, blue) <= 24, color
    texts = tab.evaluate(
        "() => [...new Set([...document.querySelectorAll('main *')].map(e => getComputedStyle(e).color))]"
    )
    assert all(_contrast(color) >= 7.0 for color in texts), texts


def _contrast(color):
    """Contrast ratio on white (WCAG 2.2, definitions of contrast ratio and relative luminance)."""
    parts = [float(part) / 255.0 for part in color.partition("(")[2].rstrip(")").split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 1.05 / (0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2] + 0.05)


@pytest.mark.parametrize("paper", PAPERS)
def test_everything_is_printed_and_no_row_is_cut(opened, pdf_text, paper):
    name, tab, _ = opened
    data = tab.pdf(format=paper)
    width, height = PAPERS[paper]
    boxes = {tuple(map(float, box.split())) for box in _boxes(data)}
    assert boxes
    assert all(box == pytest.approx((0.0, 0.0, width, height), abs=1.5) for box in boxes)
    texts = pdf_text(data)
    assert 1 < len(texts) <= {"example": 10, "hostile": 14, "long": 34}[name]
    for number, text in enumerate(texts, 1):
        assert f"page {number} of {len(texts)}" in text
    squeezed = ["".join(text.split()) for text in texts]
    tab.emulate_media(media="print")
    rows = tab.evaluate(
        """() => [...document.querySelectorAll('tbody tr, dl > div, .answer > p, main > section > .item')]
        .map(r => [...r.querySelectorAll('.line').length ? r.querySelectorAll('.line') : [r]]
                  .map(e => e.textContent))"""
    )
    assert len(rows) > 60
    missing = []
    for row in rows:
        cells = ["".join(cell.split()) for cell in row]
        if not any(all(cell in text for cell in cells) for text in squeezed):
            missing.append(row)
    assert missing == []


def _boxes(data):
    return [found.decode() for found in re.findall(rb"/MediaBox \[([0-9. ]+)\]", data)]


@pytest.mark.parametrize("paper", PAPERS)
def test_a_row_of_many_lines_stays_on_one_sheet(browser, pages, pdf_text, example, tmp_path, paper):
    marks = cases.long(tmp_path, example)
    tab = browser.new_page()
    tab.goto(pages["long"].as_uri())
    texts = pdf_text(tab.pdf(format=paper))
    tab.close()
    parted = [first for first, last in marks if not any(first in text and last in text for text in texts)]
    assert parted == []
    assert sum(first in text for first, _ in marks for text in texts) == len(marks)


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_runs_over_the_side_of_the_paper(opened, paper):
    _, tab, _ = opened
    margins = 2 * 14 / 25.4 * 96
    inside = round(PAPERS[paper][0] / 72 * 96 - margins)
    tab.emulate_media(media="print")
    tab.set_viewport_size({"width": inside, "height": 900})
    assert tab.evaluate("document.documentElement.scrollWidth") <= inside


def test_hostile_text_is_seen_as_it_was_typed(browser, pages, example, tmp_path):
    used = cases.hostile(tmp_path, example)
    assert len(used) > 40
    tab = browser.new_page()
    tab.goto(pages["hostile"].as_uri())
    seen = " ".join(tab.evaluate("document.body.textContent").split())
    alternatives = " ".join(tab.evaluate("() => [...document.images].map(e => e.alt).join(' ')").split())
    assert [text for text in used if text not in seen] == []
    assert used[0] in alternatives
    assert tab.evaluate("document.querySelectorAll('h1').length") == 1
    assert (
        tab.evaluate("document.querySelectorAll('main svg, main b, main img:not([src^=data])').length") == 0
    )
    tab.close()


def test_a_printed_page_is_tagged(browser, pages):
    """What reads a PDF aloud finds language, headings, header cells and the words of each picture."""
    tab = browser.new_page()
    tab.goto(pages["example"].as_uri())
    data = tab.pdf(format="A4", tagged=True, outline=True)
    tab.close()
    assert b"/StructTreeRoot" in data
    assert b"/Marked true" in data
    assert re.search(rb"/Lang ?\(en", data)
    kinds = set(re.findall(rb"/S /(\w+)", data))
    assert kinds >= {b"H1", b"H2", b"H3", b"Table", b"TR", b"TH", b"TD", b"Figure"}
    assert data.count(b"/Alt ") >= 5
    assert b"/Outlines" in data
