"""What is in the wheel, and what it does once installed elsewhere."""

import re
import tomllib
import zipfile
from importlib import metadata

ROOTS = {
    "laminate": "laminate",
    "cli": "laminate.cli",
    "reference": "laminate.reference",
    "examples": "laminate.examples",
}


def test_every_folder_with_modules_is_a_package(checkout):
    setup = tomllib.loads((checkout / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
    folders = set()
    for folder, package in ROOTS.items():
        for file in (checkout / folder).rglob("*.py"):
            folders.add(".".join([package, *file.parent.relative_to(checkout / folder).parts]))
    assert set(setup["packages"]) == folders
    assert setup["package-dir"] == {package: folder for folder, package in ROOTS.items()}


def test_every_file_of_the_packages_is_in_the_wheel(source, wheel):
    files = set()
    for folder, package in ROOTS.items():
        for path in (source / folder).rglob("*"):
            if path.is_file():
                files.add(f"{package.replace('.', '/')}/{path.relative_to(source / folder).as_posix()}")
    inside = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    assert inside == files


def test_it_runs_outside_the_checkout(call, installed):
    where = call(
        "python",
        "-c",
        "import laminate, laminate.cli; print(laminate.__file__); print(laminate.cli.__file__)",
    )
    assert where.stderr == ""
    assert all(line.startswith(str(installed.parent)) for line in where.stdout.splitlines())
    shown = call("laminate", "--help")
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "example" in shown.stdout
    assert call("python", "-m", "laminate", "--help").stdout == shown.stdout


def test_the_version_is_the_projects(call, checkout):
    project = tomllib.loads((checkout / "pyproject.toml").read_text("utf-8"))["project"]
    assert call("laminate", "--version").stdout == f"laminate {project['version']}\n"
    assert metadata.version("laminate") == project["version"]


def test_the_first_command_of_the_readme_works(call, checkout):
    """All of it but the making of the environment, which is the fixture's."""
    line = re.search(
        r"^ +python3 -m venv .*bin/pip install \. && (.*)$", (checkout / "README.md").read_text("utf-8"), re.M
    )
    assert line is not None
    for step in line[1].split(" && "):
        done = call(*step.replace(".venv/bin/", "").split())
        assert (done.returncode, done.stderr) == (0, ""), step
        assert done.stdout


def test_the_check_run_runs_the_second_command_of_the_readme(checkout):
    line = re.search(
        r"^ +(python3 -m venv .*'\.\[test\]'.*)$", (checkout / "README.md").read_text("utf-8"), re.M
    )
    assert line is not None
    assert f"\n{line[1]} || status=1\nrun .venv/bin/pytest -n 2 -q -m slow\n" in (
        checkout / ".ci/run"
    ).read_text("utf-8")


def test_the_readme_lists_the_commands_there_are(checkout):
    from laminate.cli.commands import listed

    commands = re.search(
        r"^## Commands$.*?(?=^## )", (checkout / "README.md").read_text("utf-8"), re.M | re.S
    )
    told = re.findall(r"^\| `([a-z]+)", commands[0], re.M)
    assert sorted(told) == sorted(listed())
