"""`laminate trend` as it is called: words, JSON, page, exit status."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser

import pytest

from laminate.cli import app
from laminate.history import trending
from laminate.records.record import recompute
from laminate.show.trend_plot import shortened
from laminate.values.canonical import canonical, read_canonical
from tests.messages.wording import says

from .shop import Shop

DRIFT = [5.0, 5.02, 4.97, 5.01, 4.98, 5.0, 4.99, *([5.11, 5.13, 5.12] * 3)]
LOT = "L1 <script>alert(1)</script> & $x^2$"


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    made = Shop(tmp_path_factory.mktemp("shop"), limits=(4.5, 5.5))
    for number, value in enumerate(DRIFT, 1):
        made.batch(number, [value, value + 0.01], lot=LOT if number < 9 else "L2")
    return made


def call(capsys, *arguments):
    status = app.status(["trend", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


def test_the_first_line_is_the_answer(shop, capsys):
    status, out, err = call(capsys, shop.folder)
    assert status == 0
    assert err == ""
    first = out.splitlines()[0]
    assert "1 of 1 series" in first
    assert "laminate thickness, zone web" in first
    drifting = (
        "laminate thickness, zone web: 16 batches, drifting: nine in a row above the middle since 26-008"
    )
    assert drifting in out
    assert says("trend: the first line is the answer", out)
    assert says("trend: the first line is the answer, 2", out)


def test_two_processes_say_what_one_does(shop, capsys, monkeypatch):
    (shop.folder / "26-003" / "record.json").replace(kept := shop.folder.parent / "kept.json")
    changed = kept.read_bytes().replace(b"4.97", b"4.96")
    (shop.folder / "26-003" / "record.json").write_bytes(changed)
    try:
        monkeypatch.setattr("os.cpu_count", lambda: 1)
        alone = call(capsys, shop.folder, "--json")
        monkeypatch.setattr("os.cpu_count", lambda: 2)
        monkeypatch.setattr(trending, "WORTH_A_PROCESS", 1)
        assert call(capsys, shop.folder, "--json") == alone
        assert alone[0] == 1
    finally:
        kept.replace(shop.folder / "26-003" / "record.json")


def test_an_archive_is_computed_again_by_several_processes(tmp_path, monkeypatch):
    """As many records as are worth two processes are held for them."""
    made, pooled = Shop(tmp_path / "records"), list[int]()
    made.batches([[5.0 + number / 1000.0] for number in range(2 * trending.WORTH_A_PROCESS)])

    class Pool(ThreadPoolExecutor):
        def map(self, judge, records):
            pooled.append(len(records))
            return super().map(judge, records)

    monkeypatch.setattr("concurrent.futures.ProcessPoolExecutor", lambda workers, mp_context: Pool(workers))
    answer = trending.trend(made.folder, recompute=recompute, processes=2)
    assert (pooled, answer.computed) == ([40], 40)


def test_json_alone_on_standard_output(shop, capsys):
    status, out, err = call(capsys, shop.folder, "--json")
    assert (status, err) == (0, "")
    answer = json.loads(out)
    assert answer["format"] == 1
    assert answer["all_verify"] is True
    (series,) = answer["series"]
    assert series["text"].startswith("laminate thickness, zone web: 16 batches, drifting")
    assert (series["name"], series["zone"], series["unit"], series["state"]) == (
        "thickness",
        "web",
        "mm",
        "drifting",
    )
    signal = next(s for s in series["chart"]["signals"] if s["code"] == "one-side" and s["side"] == "above")
    assert signal["first_batch"] == "26-008"
    assert [change["batch"] for change in series["changes"]] == ["26-009"]
    assert [len(batch["coupons"]) for batch in series["batches"]] == [2] * 16
    assert [record["status"] for record in answer["records"]] == ["counts"] * 16


def test_a_record_that_does_not_verify_ends_with_one(tmp_path, capsys):
    made = Shop(tmp_path / "records")
    made.batches([[5.0], [5.1], [5.05]])
    path = made.folder / "26-002" / "record.json"
    path.write_bytes(path.read_bytes().replace(b"2026-01-02", b"2026-01-09"))
    status, out, _ = call(capsys, made.folder)
    assert status == 1
    assert says("trend: a record that does not verify ends", out)
    status, out, _ = call(capsys, made.folder, "--json")
    assert status == 1
    answer = json.loads(out)
    assert answer["all_verify"] is False
    assert [record["status"] for record in answer["records"]].count("does not verify") == 1


def test_a_missing_folder_ends_with_two(tmp_path, capsys):
    status, out, err = call(capsys, tmp_path / "none")
    assert (status, out) == (2, "")
    assert says("trend: a missing folder ends", err)
    status, out, err = call(capsys, tmp_path / "none", "--json")
    assert (status, err) == (2, "")
    assert json.loads(out)["problems"][0]["code"] == "file-missing"


def test_a_file_is_no_folder(tmp_path, capsys):
    (tmp_path / "file").write_bytes(b"{}")
    status, out, err = call(capsys, tmp_path / "file", "--json")
    (problem,) = json.loads(out)["problems"]
    assert (status, err, problem["code"], problem["file"]) == (2, "", "wrong-file", str(tmp_path / "file"))


def test_options_that_need_another_are_told(shop, capsys):
    status, _, err = call(capsys, shop.folder, "--need", "released", "--revoked", "list")
    assert status == 2
    assert err.count("--allowed-signers FILE beside it") == 2


def keys(folder):
    """A key of Ann Lee, and who may sign what."""
    key, allowed = folder / "key", folder / "allowed"
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(key)], check=True)
    public = " ".join(key.with_name("key.pub").read_text().split()[:2])
    allowed.write_text(f'"Ann Lee" namespaces="laminate-record-prepared" {public}\n')
    return key, allowed


@pytest.mark.openssh
def test_unsigned_records_do_not_count_where_signatures_are_required(shop, tmp_path, capsys):
    _, allowed = keys(tmp_path)
    status, out, _ = call(capsys, shop.folder, "--allowed-signers", allowed)
    assert status == 1
    assert says("signature: nobody signed", out)
    assert says("trend: unsigned records do not count", out)


@pytest.mark.openssh
def test_signed_records_count(tmp_path, capsys):
    made = Shop(tmp_path / "records")
    made.batches([[5.0], [5.1]])
    key, allowed = keys(tmp_path)
    record = made.folder / "26-001" / "record.json"
    signed = ["sign", str(record), "--role", "prepared", "--name", "Ann Lee", "--key", str(key)]
    assert app.status(signed) == 0
    capsys.readouterr()
    status, out, _ = call(capsys, made.folder, "--allowed-signers", allowed, "--json")
    assert status == 1
    answer = json.loads(out)
    assert [record["status"] for record in answer["records"]] == ["counts", "does not verify"]
    assert [batch["batch"] for batch in answer["series"][0]["batches"]] == ["26-001"]
    status, out, _ = call(capsys, made.folder, "--allowed-signers", allowed, "--need", "released", "--json")
    assert [record["status"] for record in json.loads(out)["records"]] == ["does not verify"] * 2
    shutil.rmtree(made.folder / "26-002")
    (made.folder / "kept").mkdir()
    shutil.copy(record, made.folder / "kept")  # without its signatures
    status, out, _ = call(capsys, made.folder, "--allowed-signers", allowed, "--json")
    assert [record["status"] for record in json.loads(out)["records"]] == ["counts", "copy"]
    assert status == 0


@pytest.mark.openssh
def test_a_rejection_alone_proves_no_figure(tmp_path, capsys):
    """A record may be rejected whatever it says; what it says is computed again."""
    made = Shop(tmp_path / "records")
    made.batches([[5.0], [5.1]])
    key, allowed = keys(tmp_path)
    allowed.write_text(allowed.read_text().replace("prepared", "*"))
    for name in ("26-001", "26-002"):
        record = made.folder / name / "record.json"
        content = read_canonical(record.read_bytes())
        record.write_bytes(canonical({**content, "readings": []} if name == "26-002" else content))
        signed = ["sign", str(record), "--role", "rejected", "--name", "Ann Lee", "--goods", "scrapped"]
        assert app.status([*signed, "--key", str(key)]) == 0
    capsys.readouterr()
    assert app.status(["trend", str(made.folder), "--allowed-signers", str(allowed), "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert [record["status"] for record in answer["records"]] == ["counts", "does not verify"]
    assert ["scrapped" in " ".join(record["notes"]) for record in answer["records"]] == [True, True]


def test_us_units_on_the_screen(shop, capsys):
    _, out, _ = call(capsys, shop.folder, "--units", "us", "--why")
    assert "value [in]" in out
    assert re.search(r"^26-001 +2026-01-01 +0\.1970", out, re.MULTILINE)


class Page(HTMLParser):
    """What a page asks for and says."""

    def __init__(self, text):
        super().__init__()
        self.asked, self.tags, self.images, self.ids = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        found = dict(attributes)
        self.tags.append(tag)
        self.asked += [found[name] for name in ("src", "href") if name in found]
        if tag == "img":
            self.images.append(found)
        if "id" in found:
            self.ids.append(found["id"])


def test_the_page_stands_alone_and_escapes_what_people_wrote(shop, tmp_path, capsys):
    path = tmp_path / "pages" / "trend.html"
    status, out, _ = call(capsys, shop.folder, "--html", path)
    assert status == 0
    assert f"Written: {path}" in out
    text = path.read_text("utf-8")
    page = Page(text)
    assert all(url.startswith(("data:image/svg+xml;base64,", "data:,", "#")) for url in page.asked)
    assert "script" not in page.tags
    assert "&lt;script&gt;" in text
    assert [image["alt"].startswith("Control chart: laminate thickness") for image in page.images] == [True]
    assert len(page.ids) == len(set(page.ids))
    assert {url[1:] for url in page.asked if url.startswith("#")} <= set(page.ids)


def test_equal_records_give_the_same_page(shop, tmp_path, capsys):
    for name in ("one.html", "two.html"):
        call(capsys, shop.folder, "--html", tmp_path / name)
    assert (tmp_path / "one.html").read_bytes() == (tmp_path / "two.html").read_bytes()


def test_the_page_names_every_record_that_it_used(shop, tmp_path, capsys):
    path = tmp_path / "trend.html"
    call(capsys, shop.folder, "--html", path)
    text = path.read_text("utf-8")
    records = json.loads(call(capsys, shop.folder, "--json")[1])["records"]
    assert len(records) == len(DRIFT)
    for record in records:
        assert record["file"] in text
        assert record["sha256"][:16] in text


def test_long_names_of_batches_leave_the_chart_its_room(tmp_path, capsys):
    """A collapsed chart warns, and a warning is an error here."""
    made = Shop(tmp_path / "records")
    for number, value in enumerate(DRIFT, 1):
        made.batch(number, [value, value + 0.01], name=f"26-{number:03} {'of the second shift ' * 5}".strip())
    assert call(capsys, made.folder, "--html", tmp_path / "trend.html")[0] == 0


@pytest.mark.parametrize(
    ("names", "short"),
    [
        (["26-031", "26-032"], ["26-031", "26-032"]),
        (["26-031 of the second shift", "26-032"], ["26-031 of the s…", "26-032"]),
        (
            ["molded on press P2, 26-031", "molded on press P2, 26-032"],
            ["…ress P2, 26-031", "…ress P2, 26-032"],
        ),
    ],
)
def test_a_long_name_keeps_the_end_that_tells_it_apart(names, short):
    assert shortened(names) == short


def test_no_bar_where_nobody_looks(shop):
    done = subprocess.run(
        [sys.executable, "-m", "laminate", "trend", str(shop.folder), "--json"],
        capture_output=True,
        check=True,
    )
    assert done.stderr == b""
    assert json.loads(done.stdout)["format"] == 1


def test_control_characters_do_not_reach_the_screen(tmp_path, capsys):
    made = Shop(tmp_path / "records")
    made.batch(1, [5.0], lot="L\\u001b[31m")
    made.batch(2, [5.1])
    _, out, _ = call(capsys, made.folder, "--why")
    assert "\x1b" not in out
    assert "L\\x1b[31m" in out


@pytest.mark.browser
def test_the_page_asks_for_nothing_and_fits_a_narrow_screen(shop, tmp_path, capsys):
    from playwright.sync_api import sync_playwright

    path = tmp_path / "trend.html"
    call(capsys, shop.folder, "--html", path)
    with sync_playwright() as play:
        found = shutil.which("chromium")
        assert found, "install the system's package chromium, or leave these tests out with -m 'not browser'"
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 360, "height": 700})
        asked, said = [], []
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        page.goto(path.as_uri())
        width = page.evaluate("document.documentElement.scrollWidth")
        loaded = page.evaluate("[...document.images].every(image => image.naturalWidth > 0)")
        browser.close()
    assert all(url.startswith(("file:", "data:")) for url in asked)
    assert said == []
    assert width <= 360
    assert loaded
