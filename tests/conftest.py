"""What every test shares."""

import importlib.util
import json
import os
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from .messages.wording import CATALOG, Catalog


def pytest_addoption(parser: pytest.Parser) -> None:
    """An option that writes the catalog of wording anew, from the tests that are run, in one process."""
    parser.addoption("--rewrite-wording", action="store_true", help="write tests/messages/wording.csv anew")


settings.register_profile("any speed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any speed")  # a busy machine is slow, which says nothing about the program


@pytest.fixture(scope="session", autouse=True)
def one_line_a_sentence(pytestconfig: pytest.Config) -> None:
    """Let a sentence of the program be one line, but where a test asks for a screen."""
    reporter = pytestconfig.pluginmanager.get_plugin("terminalreporter")
    if reporter is not None:  # its own lines stay as wide as the screen
        reporter._tw.fullwidth = shutil.get_terminal_size().columns
    os.environ["COLUMNS"] = "10000"


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The folder that holds pyproject.toml."""
    return Path(__file__).parents[1]


PROGRAMS = {
    "browser": ("chromium", "pdftotext"),
    "terminal": ("tmux",),
    "openssh": ("ssh-keygen",),
    "shells": ("fish", "zsh"),
}
"""Marker -> the system's programs that its tests drive."""


def missing_programs() -> dict[str, str]:
    """Markers whose programs are not on this machine; in continuous integration all must be, but for dask."""
    scale = {} if importlib.util.find_spec("dask") else {"scale": "dask"}
    if os.environ.get("CI"):
        return scale
    return scale | {
        marker: program
        for marker, programs in PROGRAMS.items()
        for program in programs
        if shutil.which(program) is None
    }


def pytest_report_header() -> list[str]:
    """Name what is left out, ahead of everything."""
    return [
        f"left out: tests marked '{marker}', for this machine has no {program}"
        for marker, program in missing_programs().items()
    ]


LEFT_FOR = {"slow": "-m slow", "long": "-m long", "benchmark": "-m benchmark --benchmark-only"}
"""Marker that an ordinary run leaves out -> how to run it."""


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Name what was left out once more, with how to run it, after everything."""
    chosen = config.option.markexpr
    left_out = [
        f"{marker} (`pytest {call}`)" for marker, call in LEFT_FOR.items() if f"not {marker}" in chosen
    ]
    if left_out:
        terminalreporter.write_line(f"left out by their marker: {', '.join(left_out)}")
    for line in pytest_report_header():
        terminalreporter.write_line(line)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark whatever times something, so that it runs alone; leave out what has no program.

    The tests left out are counted as deselected and named in the header.
    """
    signatures = Path(__file__).parent / "signature"
    for item in items:
        if "benchmark" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.benchmark)
        if item.path.is_relative_to(signatures):
            item.add_marker(pytest.mark.openssh)
    missing = missing_programs()
    left_out = [item for item in items if any(item.get_closest_marker(marker) for marker in missing)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]


@dataclass(frozen=True)
class Answer:
    """What one call printed, and how it ended."""

    status: int
    out: str
    err: str


class Shop:
    """A folder with the example's part, batch and coupons, changed one text at a time; calls run in it."""

    def __init__(self, folder: Path, capsys: pytest.CaptureFixture[str], wording: Catalog) -> None:
        self.folder, self.capsys, self.wording = folder, capsys, wording
        for name in ("part.toml", "batch.toml", "coupons.csv"):
            text = (Path(__file__).parents[1] / "examples" / "mast" / name).read_text("utf-8")
            self.write(name, text)

    def read(self, name: str) -> str:
        """The text of a file, the no-break spaces of a page as spaces."""
        return (self.folder / name).read_text("utf-8").replace("\N{NO-BREAK SPACE}", " ")

    def write(self, name: str, text: str) -> None:
        """Write a file."""
        (self.folder / name).write_text(text, "utf-8")

    def table(self, *lines: str, name: str = "coupons.csv") -> None:
        """Write a coupon table, the heading first."""
        self.write(name, "".join(f"{line}\n" for line in lines))

    def change(self, name: str, old: str, new: str) -> None:
        """Change the one place in a file where a text stands."""
        text = self.read(name)
        assert text.count(old) == 1, f"{text.count(old)} times {old!r} in {name}"
        self.write(name, text.replace(old, new))

    def cut(self, web: int) -> None:
        """Say how many specimens were cut of the web."""
        lines = [line for line in self.read("batch.toml").splitlines() if not line.startswith("cut = ")]
        lines.insert(lines.index("[batch]") + 1, f"cut = {{ web = {web} }}")
        self.write("batch.toml", "\n".join(lines) + "\n")

    def unplan(self) -> None:
        """Take every plan out of the part: no reading is wanted then, and one alone says nothing."""
        before, _, rest = self.read("part.toml").partition("[plan.web]")
        self.write("part.toml", f"{before}[limits]{rest.partition('[limits]')[2]}")

    def add(self, name: str, text: str) -> None:
        """Write more at the end of a file."""
        self.write(name, f"{self.read(name)}\n{text}\n")

    def run(self, *arguments: str) -> Answer:
        """Call the program."""
        from laminate.cli import app

        self.capsys.readouterr()
        status = app.status(arguments)
        return Answer(status, *self.capsys.readouterr())

    def refused(self, case: str, *arguments: str) -> list[dict]:
        """Call the program, hold what it refuses to a case of the catalog of wording; its problems."""
        answer = self.run(*arguments)
        assert (answer.status, answer.out) == (2, "")
        problems = self.json(*arguments, status=[2])["problems"]
        self.wording.hold(case, problems, answer.err.splitlines())
        return problems

    def json(self, *arguments: str, status: Iterable[int] = (0,)) -> dict:
        """Call the program with --json; its answer, once standard error is seen to be empty."""
        answer = self.run(*arguments, "--json")
        assert (answer.err, answer.status in status) == ("", True), answer
        return json.loads(answer.out, parse_constant=lambda word: pytest.fail(f"{word} in JSON"))


@pytest.fixture(scope="session", autouse=True)
def wording(pytestconfig: pytest.Config) -> Iterator[Catalog]:
    """The catalog of wording, written at the end where that is asked for."""
    CATALOG.rewrite = pytestconfig.getoption("rewrite_wording")
    yield CATALOG
    if CATALOG.rewrite:
        CATALOG.write()


@pytest.fixture
def shop(tmp_path, capsys, monkeypatch, wording) -> Shop:
    """A folder with the files of the example, in which the program is called."""
    monkeypatch.chdir(tmp_path)
    return Shop(tmp_path, capsys, wording)
