"""What `read_batch` returns stands for its batch file wherever one is asked for."""

from pathlib import Path

import pytest

import laminate as lam

MAST, CYCLE = (Path(__file__).parents[2] / "examples" / name / "batch.toml" for name in ("mast", "cycle"))


@pytest.mark.parametrize(
    ("ask", "file"),
    [
        (lambda batch: lam.fill(batch, zones="web", draws=1000), MAST),
        (lambda batch: lam.core(batch, draws=1000), MAST),
        (lam.predict, MAST),
        (lam.measure, MAST),
        (lam.report, MAST),
        (lam.correct, MAST),
        (lambda batch: lam.cycle(batch, draws=100), CYCLE),
    ],
    ids=["fill", "core", "predict", "measure", "report", "correct", "cycle"],
)
def test_a_batch_that_was_read_is_taken_for_its_file(ask, file):
    assert ask(lam.read_batch(file)).to_dict() == ask(file).to_dict()


def test_a_batch_that_was_read_keeps_its_name_in_findings(tmp_path, monkeypatch):
    (tmp_path / "batch.toml").write_bytes(MAST.read_bytes())
    (tmp_path / "part.toml").write_bytes((MAST.parent / "part.toml").read_bytes())
    monkeypatch.chdir(tmp_path)
    case = lam.read_batch("batch.toml")
    with pytest.raises(lam.Refused) as found:
        lam.report(case)  # no coupons.csv beside it
    assert {problem.file for problem in found.value.problems} == {"batch.toml"}
