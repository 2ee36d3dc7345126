"""What an answer shows is what was measured, whatever becomes of the frame or the files."""

import copy
import pickle
import shutil
from importlib.resources import files

import pandas as pd
import pytest

import laminate as lam

from .test_front import KAW
from .test_given import DENSITIES


def shown(answer):
    return answer.to_dict(), repr(answer), answer._repr_html_(), answer.to_frame().to_csv()


@pytest.mark.parametrize("rows", [2, 300], ids=["specimens", "columns"])
def test_a_measured_table_stays_as_it_was_measured(rows):
    """Whatever becomes of the frame, also in a copy of the answer: of few coupons and of a large table."""
    frame = pd.concat([pd.DataFrame(KAW)] * (rows // 2), ignore_index=True)
    frame["specimen"] = [f"S{at}" for at in range(rows)]
    frame.index = pd.Index([f"row {at}" for at in range(rows)], name="place")
    wanted = shown(lam.measure(frame, **DENSITIES, balance="2 mg (standard)"))
    answer = lam.measure(frame, **DENSITIES, balance="2 mg (standard)")
    early = pickle.dumps(lam.measure(frame, **DENSITIES, balance="2 mg (standard)"))
    frame["residue mass [g]"] = frame["specimen"] = "1.9"
    frame.index.name = "other"
    frame.index = range(rows)
    for twin in (answer, copy.copy(answer), pickle.loads(pickle.dumps(answer)), pickle.loads(early)):
        assert shown(twin) == wanted


def test_a_measured_file_is_not_read_again(tmp_path):
    table = tmp_path / "c.csv"
    pd.DataFrame(KAW).to_csv(table, index=False)
    shutil.copytree(files("laminate.examples") / "mast", tmp_path / "mast")
    answers = [lam.measure(table, **DENSITIES), lam.measure(tmp_path / "mast" / "batch.toml")]
    copies = [pickle.dumps(answer) for answer in answers]
    table.unlink()
    shutil.rmtree(tmp_path / "mast")
    for answer, twin in zip(answers, copies, strict=True):
        assert shown(pickle.loads(twin)) == shown(answer)
