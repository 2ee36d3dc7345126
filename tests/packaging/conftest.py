"""The wheel, and a fresh environment outside the checkout where it is installed."""

import os
import shutil
import subprocess
import sys
import sysconfig
import venv
from collections.abc import Callable
from pathlib import Path

import pytest

FOLDERS = ("laminate", "cli", "reference", "examples")


@pytest.fixture(scope="session")
def source(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what the wheel is made from: nothing that an earlier build left can slip in."""
    copy = tmp_path_factory.mktemp("source")
    for folder in FOLDERS:
        shutil.copytree(checkout / folder, copy / folder, ignore=shutil.ignore_patterns("__pycache__"))
    for file in ("pyproject.toml", "README.md"):
        shutil.copy(checkout / file, copy / file)
    return copy


@pytest.fixture(scope="session")
def wheel(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel."""
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(source)]
    built = subprocess.run(command, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stdout + built.stderr
    (path,) = out.glob("*.whl")
    return path


@pytest.fixture(scope="session")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The programs of a fresh environment that holds the wheel; dependencies are lent by the running one."""
    home = tmp_path_factory.mktemp("environment")
    venv.create(home, with_pip=False, symlinks=True)
    python = home / "bin" / "python"
    command = [
        sys.executable,
        "-m",
        "pip",
        "--python",
        str(python),
        "install",
        "--no-deps",
        "--no-index",
        str(wheel),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    asked = [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"]
    site = Path(subprocess.run(asked, capture_output=True, text=True, check=True).stdout.strip())
    lent = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (site / "lent.pth").write_text("\n".join(sorted(lent)) + "\n", "utf-8")
    return home / "bin"


@pytest.fixture
def call(installed: Path, tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run a program of the fresh environment in an empty folder."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    environment["PATH"] = f"{installed}{os.pathsep}{environment['PATH']}"

    def run(*command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False, timeout=120
        )

    return run
