"""A batch at the bench."""

import datetime as dt
import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from laminate.bench.coupon_sheet import csv_text
from laminate.bench.entry import TableChecker
from laminate.bench.session import Session
from laminate.bench.sheet import blank_table
from laminate.bench.table import BenchTable
from laminate.files.batch import Case, read_batch

#: the readings of the worked example, as balance, thermometer and micrometer would type them
READINGS = {
    "0101": ("1.4427", "0.5117", "22.8", "K1", "20.1000", "21.5425", "21.0763", "2.873", "2.871", "2.872"),
    "0102": ("1.4609", "0.5192", "22.8", "K2", "20.2000", "21.6607", "21.1884", "2.866", "2.868", "2.869"),
    "0103": ("1.4143", "0.5032", "22.9", "K3", "20.3000", "21.7141", "21.2573", "2.865", "2.868", "2.866"),
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The worked example, with the plan's blank table in the place of its readings."""
    for file in (files("laminate.examples") / "mast").iterdir():
        shutil.copy(str(file), tmp_path / file.name)
    (tmp_path / "coupons.csv").write_text(csv_text(blank_table(read_batch(tmp_path / "batch.toml"))), "utf-8")
    return tmp_path


@pytest.fixture
def case(folder: Path) -> Case:
    return read_batch(folder / "batch.toml")


@pytest.fixture
def table(folder: Path) -> BenchTable:
    return BenchTable(folder / "coupons.csv", "coupons.csv")


@pytest.fixture
def session(case: Case, table: BenchTable) -> Session:
    return Session(table, TableChecker(case), "JM", lambda: dt.datetime(2026, 11, 20, 14, 2))
