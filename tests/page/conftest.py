"""The page of a batch, and the system's browser to look at it."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from laminate.judging.reported import report
from laminate.records.record import seal
from laminate.show.report_page import page
from laminate.values.canonical import sha256

from . import cases

SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def needed(program: str, package: str) -> str:
    """The path of a program of the system, without which these tests fail."""
    path = shutil.which(program)
    if path is None:
        pytest.fail(
            f"{program} is not there: install the system's package {package}, or leave these tests out with "
            "-m 'not benchmark and not browser'"
        )
    return path


def page_of(folder: Path) -> str:
    """The page of the batch in a folder, as `report --out` writes it."""
    sealed = seal(report(folder / "batch.toml"))
    return page(json.loads(sealed), sha256(sealed))


@pytest.fixture(scope="module")
def example(checkout: Path) -> Path:
    """The folder of the worked example."""
    return checkout / "examples/mast"


@pytest.fixture(scope="module")
def pages(example: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A page each of the example, of hostile text, and of many specimens, as files."""
    made: dict[str, Path] = {}
    for name in ("example", "hostile", "long"):
        folder = tmp_path_factory.mktemp(name)
        if name == "example":
            shutil.copytree(example, folder, dirs_exist_ok=True)
        else:
            getattr(cases, name)(folder, example)
        made[name] = folder / "report.html"
        made[name].write_text(page_of(folder), "utf-8")
    return made


@pytest.fixture(scope="module")
def browser() -> Iterator[object]:
    """The system's Chromium, without a window."""
    from playwright.sync_api import sync_playwright

    path = needed("chromium", "chromium")
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=path, args=SWITCHES)
        yield running
        running.close()


@pytest.fixture(scope="module")
def pdf_text() -> Callable[[bytes], list[str]]:
    """What a PDF says, a text a page, any white space as one blank."""
    path = needed("pdftotext", "poppler-utils")

    def read(data: bytes) -> list[str]:
        done = subprocess.run([path, "-raw", "-", "-"], input=data, capture_output=True, check=True)
        return [" ".join(text.split()) for text in done.stdout.decode("utf-8").split("\f")[:-1]]

    return read
