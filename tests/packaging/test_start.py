"""How the program starts: quickly, because nothing heavy is loaded until it is needed."""

import subprocess
import sys

import pytest

HEAVY = [
    "numpy",
    "scipy",
    "pandas",
    "pint",
    "matplotlib",
    "openpyxl",
    "asyncssh",
    "textual",
    "rich",
    "jinja2",
]


def loaded(arguments: str) -> set[str]:
    code = (
        "import sys\n"
        "from laminate.cli.app import status\n"
        f"status({arguments})\n"
        "print('loaded:', *sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.rpartition("loaded:")[2].split())


@pytest.mark.parametrize("arguments", ["['--help']", "['--version']", "['exmple']", "['example', '--help']"])
def test_nothing_heavy_is_loaded(arguments):
    modules = loaded(arguments)
    assert "laminate.cli.app" in modules
    assert sorted(modules & set(HEAVY)) == []
