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


def test_the_help_loads_no_command_and_no_library():
    modules = loaded("['--help']")
    ours = {name for name in modules if name.split(".")[0] == "laminate"}
    assert ours == {"laminate", "laminate.cli", "laminate.cli.app", "laminate.cli.commands"}
    assert "typer" not in modules


def test_a_prediction_of_exact_values_needs_neither_special_functions_nor_the_table_library():
    call = (
        "['predict', '--fiber-areal-weight', '134 g/m^2', '--resin-content', '35 %', '--plies', '12', "
        "'--fiber-density', '1.79 g/cm^3', '--resin-density', '1.30 g/cm^3']"
    )
    modules = loaded(call)
    assert "laminate.press.prediction" in modules
    assert (
        sorted(
            modules & {"pint", "scipy.special", "pandas", "rich", "rich.console", "matplotlib", "openpyxl"}
        )
        == []
    )
