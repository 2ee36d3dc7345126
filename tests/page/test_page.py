"""What the page says, without a browser."""

import base64
import json
import re
from html.parser import HTMLParser

import pytest

from laminate.judging.reported import report
from laminate.records.record import seal
from laminate.show.interval_drawing import Group, Row, drawing
from laminate.show.report_json import report_json
from laminate.show.report_page import page
from laminate.values.canonical import sha256
from tests.messages.wording import says

from . import cases
from .conftest import page_of

VOID = {"meta", "link", "img"}


class Reader(HTMLParser):
    """The text of a page, and whether every element is closed where it was opened."""

    def __init__(self):
        super().__init__()
        self.open, self.texts, self.tags = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] != "style":
            self.texts.append(data)


def read(html):
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return " ".join(" ".join(reader.texts).replace("\xa0", " ").split()), reader.tags


def said(shop, tmp_path):
    return read(page_of(tmp_path))[0]


def test_the_same_batch_gives_the_same_page(shop, tmp_path):
    assert page_of(tmp_path) == page_of(tmp_path)
    sealed = seal(report(tmp_path / "batch.toml"))
    found = report(tmp_path / "batch.toml")
    live = report_json(found)
    text, _ = read(page(live, sha256(sealed)))
    assert text.replace(f"{tmp_path}/", "") == said(shop, tmp_path)


def test_it_needs_nothing_else(shop, tmp_path):
    html = page_of(tmp_path)
    _, tags = read(html)
    assert "script" not in tags
    addresses = re.findall(r"""(?:src|href)=["']([^"']*)""", html) + re.findall(r"url\(([^)]*)", html)
    assert addresses
    assert [one for one in addresses if not one.startswith(("data:", "#"))] == []
    assert "http" not in html.replace('http-equiv="Content-Security-Policy"', "")
    for picture in re.findall(r"data:image/svg\+xml;base64,([^\"]*)", html):
        svg = base64.b64decode(picture).decode()
        assert "<image" not in svg
        assert [one for one in re.findall(r'href="([^"]*)"', svg) if not one.startswith("#")] == []


def test_the_answer_comes_first(shop, tmp_path):
    text = said(shop, tmp_path)
    covers = "It covers zone web; zone skin, represented by web; quantity 12; serials 031-01 to 031-12."
    assert text.index(f"Conforms {covers}") < 250
    assert "4 characteristics and 1 process reading" in text
    assert says("page: the answer comes first", text)


def test_everything_that_an_auditor_asks_for_is_there(shop, tmp_path):
    text = said(shop, tmp_path)
    sealed = seal(report(tmp_path / "batch.toml"))
    for wanted in (
        "MAST-04 issue B", "hydrofoil mast, lower section", "2026-11-18", "031-01 to 031-12", "P2",
        "2036-11-18", "shop laboratory", "LP-07 issue 4",
        "guard band of 1 × the expanded uncertainty (95 % confidence)",
        "each: 54 to 64 %", "average: 56 to 62 %", "58.79 ± 0.31 %", "each: at most 2 %",
        "digestion and immersion",
        "Where the standard uncertainty of the average comes from", "scatter between coupons",
        "BAL-02", "K-5521", "2027-05-01", "in calibration until 2027-05-01", "TH-05", "MIC-11",
        "lot L2231, certificate C-0192", "certificate F-118", "C-07", "press log P2-1118", "JM",
        "Assumed exact, as no ± is stated:", "layer 'film' stays in the part",
        "Monte Carlo on the same formulas agreed everywhere",
        "Not signed when this page was made.", "batch.toml", "part.toml", "coupons.csv", sha256(sealed),
        *(sha256((tmp_path / name).read_bytes()) for name in ("batch.toml", "part.toml", "coupons.csv")),
    ):  # fmt: skip
        assert wanted in text, wanted


@pytest.mark.parametrize(
    ("old", "new", "there", "not_there"),
    [
        ("digestion", "digestion", "page: cautions, 3", "free fiber dust"),
        (
            ",digestion,",
            ",ignition,",
            "page: cautions, 4",
            "never in a closed vessel",
        ),
    ],
)
def test_cautions_are_those_of_the_methods(shop, tmp_path, old, new, there, not_there):
    shop.write("coupons.csv", shop.read("coupons.csv").replace(old, new))
    shop.change("part.toml", '"immersion", "digestion", "thickness"', '"immersion"')
    text = said(shop, tmp_path)
    assert says(there, text)
    assert not_there not in text
    assert says("page: cautions", text)
    assert says("page: cautions, 2", text)


def test_what_does_not_conform_is_named_first(shop, tmp_path):
    shop.change("part.toml", 'max = "2.95 mm"', 'max = "2.86 mm"')
    text = said(shop, tmp_path)
    assert says("page: not conforming comes first", text[:250])
    assert text.index(" Laminate thickness, zone web does not conform: outside the") < 350
    assert says("page: what does not conform is named first", text)


def test_what_would_decide_an_undecided_batch_is_said(shop, tmp_path):
    shop.change(
        "part.toml", 'average = { min = "56 %", max = "62 %" }', 'average = { min = "56 %", max = "59.05 %" }'
    )
    text = said(shop, tmp_path)
    assert says("page: what would decide an undecided batch", text)
    assert says("page: what would decide an undecided batch, 2", text)


def test_an_instrument_past_its_due_date_is_a_reason(shop, tmp_path):
    shop.change("batch.toml", "due = 2027-05-01", "due = 2026-11-01")
    text = said(shop, tmp_path)
    words = "balance BAL-02: calibration was due on 2026-11-01, before the day of measuring 2026-11-20."
    assert text.index(f" Cause: {words}") < 350


def test_excluded_rows_are_shown_with_and_without(shop, tmp_path):
    head, *rows = shop.read("coupons.csv").splitlines()
    spoiled = rows[0].replace("0101", "0104").replace("1.4427", "1.4527")
    shop.table(f"{head},excluded", *(f"{row}," for row in rows), f"{spoiled},chipped while it was cut")
    text = said(shop, tmp_path)
    assert says("page: excluded rows are shown", text)
    assert says("page: excluded rows are shown, 2", text)
    part = text.partition("With and without excluded and replaced coupons")[2]
    assert re.search(r"density as judged: average, coupons 1\.5467 ± 0\.\d+ g/cm³, 3", part)
    assert re.search(r"density .* 1\.54\d+ ± 0\.\d+ g/cm³, 4", part)


def test_warnings_are_shown_with_their_answer(shop, tmp_path):
    head, *rows = shop.read("coupons.csv").splitlines()
    bare = [row.replace("digestion", "") for row in rows]
    shop.table(
        f"{head},accepted", f"{bare[0]},by digestion; see the bench book", f"{bare[1]},", f"{bare[2]},"
    )
    text = said(shop, tmp_path)
    assert "found a loss of matrix without its method" in text
    assert says("page: warnings are shown with their answer", text)
    assert text.count("(not answered)") == 2


def test_what_would_reconcile_methods_and_the_weighed_charge_are_shown(shop, tmp_path):
    shop.change("coupons.csv", "2.866,2.868,2.869", "2.766,2.768,2.769")
    shop.change("part.toml", '["4 ud150", "1 film"]', '["4 ud150"]')
    shop.add("batch.toml", '[charge]\nmass = "1.204 kg"\npart_and_trim = "1.191 kg"')
    text = said(shop, tmp_path)
    assert says("page: what would reconcile methods", text)
    assert says("page: what would reconcile methods, 2", text)
    assert says("page: what would reconcile methods, 3", text)
    assert says("page: what would reconcile methods, 4", text)
    assert re.search(r"mass that left ± standard uncertainty [\w ]*13.00 g", text)


def test_simple_acceptance_and_a_fixed_factor_are_said(shop, tmp_path):
    shop.change("part.toml", "guard = 1.0", "guard = 0")
    shop.change("part.toml", 'confidence = "95 %"', "coverage_factor = 2")
    assert says("page: simple acceptance and a fixed factor", said(shop, tmp_path))


def test_concession_and_amendment_are_said(shop, tmp_path):
    shop.add(
        "batch.toml",
        '[concession]\nnumber = "W-12"\nauthority = "customer quality"\ncharacteristics = ["thickness.web"]\n'
        f'reason = "trial"\n[replaces]\nrecord = "{"ab" * 32}"\nreason = "wrong lot"',
    )
    text = said(shop, tmp_path)
    assert says("judge: concession and amendment stand near", text)
    assert f"Amended: this replaces the record {'ab' * 32}. Reason: wrong lot" in text


def test_no_limits_and_no_coupons(shop, tmp_path):
    text = shop.read("part.toml")
    shop.write("part.toml", text[: text.index("[limits]")])
    shop.change("batch.toml", 'coupons = ["coupons.csv"]\n', "")
    text = said(shop, tmp_path)
    assert says("page: no limits and no coupons", text)
    assert says("page: no limits and no coupons, 2", text)
    assert says("page: no limits and no coupons, 3", text)


def test_a_page_without_a_record_says_so(shop, tmp_path):
    found = report(tmp_path / "batch.toml")
    answer = report_json(found)
    text, _ = read(page(answer, None))
    assert says("page: a page without a record says so", text)
    assert says("page: a page without a record says so, 2", text)


def test_who_signed_is_listed(shop, tmp_path):
    answer = json.loads(seal(report(tmp_path / "batch.toml")))
    ann = {"role": "prepared", "name": "Ann <b>Lee", "time": "2026-11-20T09:00:00Z", "key": "SHA256:abc"}
    bob = {"role": "rejected", "name": "Bob Ray", "time": None, "key": None}
    rows = [
        {**ann, "goods": None, "remark": None},
        {**bob, "goods": "scrapped", "remark": "it is not signed"},
    ]
    text, tags = read(page(answer, "0" * 64, rows))
    assert says("page: who signed is listed", text)
    assert says("page: who signed is listed, 2", text)
    assert says("page: who signed is listed, 3", text)
    assert "Not signed" not in text
    assert "b" not in tags


def test_every_hostile_text_is_only_text(example, tmp_path):
    used = cases.hostile(tmp_path, example)
    text, tags = read(page_of(tmp_path))
    assert [one for one in used if one not in text] == []
    allowed = {
        "html", "head", "meta", "link", "title", "style", "body", "header", "main", "section", "nav",
        "article", "h1", "h2", "h3", "h4", "p", "ul", "li", "a", "code", "em",
        "strong", "div", "span", "figure", "img", "details", "summary",
        "table", "caption", "thead", "tbody", "tr", "th", "td", "dl", "dt", "dd",
    }  # fmt: skip
    assert set(tags) <= allowed
    assert (tags.count("h1"), tags.count("title"), tags.count("style")) == (1, 1, 1)


def test_a_drawing_is_the_same_each_time_whatever_stands_in_settings():
    import matplotlib as mpl

    groups = [Group((Row("a", 1.0, 0.1, 0.1), Row("$x_1$ <b>", 1.2, 0.2, 0.2)), 0.5, None)]
    first = drawing(groups, "%")
    with mpl.rc_context({"svg.fonttype": "path", "font.size": 30, "lines.linewidth": 9}):
        assert drawing(groups, "%") == first
    assert "$x_1$ &lt;b&gt;" in first
    assert "Date" not in first


def test_names_in_other_letters_are_drawn_without_a_warning():
    assert "试样一" in drawing([Group((Row("试样一", 1.0, 0.1, 0.0),), 0.0, 2.0)], "%")


@pytest.mark.parametrize("rows", [1, 30, 31, 2000])
def test_a_drawing_of_any_number_of_rows_stays_on_one_sheet(rows):
    many = tuple(Row(str(number), 1.0 + number * 1e-4, 0.01, 0.01) for number in range(rows))
    svg = drawing([Group(many, 0.5, 2.0), Group(many[:1], 0.5, 2.0, True)], "%")
    height = float(re.search(r'height="([0-9.]+)pt"', svg)[1])
    assert height < 520
