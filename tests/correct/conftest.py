"""What the tests of `correct` share."""

import shutil
from importlib.resources import as_file, files

import pytest


@pytest.fixture
def mast(tmp_path):
    with as_file(files("laminate.examples") / "mast") as folder:
        shutil.copytree(folder, tmp_path / "mast")
    return tmp_path / "mast"
