"""A row of an answer by its name: a zone for a zone's name, a refusal where several rows have it."""

from importlib.resources import files

import pandas as pd
import pytest

import laminate as lam
from laminate.front.answer import Rows

CASES = files("laminate.examples")


def refused(rows, name):
    with pytest.raises(lam.Refused) as refusal:
        rows[name]
    (problem,) = refusal.value.problems
    assert problem.code == "several-of-a-name"
    return problem


def test_the_name_of_a_zone_gives_the_zone():
    part = CASES / "mast" / "part.toml"
    fill, predict = lam.fill(part, draws=1000), lam.predict(part)
    assert (fill["web"].use, fill["web"].zone) == (fill.zones["web"].use, "web") == (20, "web")
    assert fill["web"].counts[0].plies == 18
    assert predict["skin"].fiber_volume == predict.zones["skin"].fiber_volume
    batch = CASES / "mast" / "batch.toml"
    measured, corrected = lam.measure(batch), lam.correct(batch)
    assert measured["web"].average.fiber_volume == measured.average.fiber_volume
    assert (measured["0101"].specimen, measured["0101"].zone) == ("0101", "web")
    assert corrected["web"].proposal == corrected.zones["web"].proposal
    assert corrected["fiber_volume"].attribute == "fiber_volume"


def test_a_name_of_several_rows_is_refused_with_what_tells_them_apart():
    fiber_volume = refused(lam.predict(CASES / "mast" / "part.toml"), "fiber_volume")
    assert "web, skin" in fiber_volume.found
    cycle = lam.cycle(CASES / "cycle" / "part.toml", draws=100)
    for rows in (cycle, cycle.zones):
        assert "hold, hot" in refused(rows, "wall").found
    assert cycle.zones[0].cycle == "hold"
    assert "wall" in refused(cycle, "hold").found
    once = cycle.zones[3:5]
    assert [once[name].cycle for name in ("hold", "hot")] == ["hold", "hot"]


def test_a_characteristic_of_two_zones_is_named_by_its_label(tmp_path):
    """The batch is not decided where one of them is not: no row of the other stands for both."""
    for path in (CASES / "mast").iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    part = tmp_path / "part.toml"
    lines = part.read_text("utf-8").splitlines()
    part.write_text("\n".join(line for line in lines if not line.startswith("represented_by")), "utf-8")
    report = lam.report(tmp_path / "batch.toml")
    problem = refused(report, "fiber_volume")
    assert (report.answer, report["fiber_volume.web"].decision) == ("undecided", "conforms")
    assert all(f"fiber_volume.{zone}" in problem.found for zone in ("web", "skin"))
    assert lam.report(CASES / "mast" / "batch.toml")["fiber_volume"].decision == "conforms"


def test_a_specimen_named_as_its_zone_is_the_specimen():
    frame = pd.DataFrame({"specimen": ["w", "B"], "zone": "w", "density [g/cm^3]": [1.55, 1.57]})
    measured = lam.measure(frame)
    assert measured["w"].density.value == pytest.approx(1.55)
    assert measured.zones["w"].average.density.value == pytest.approx(1.56)


def test_rows_of_one_name_and_key_are_counted():
    rows = Rows([{"batch": str(at), "name": "voids", "value": 1.0} for at in range(9)])
    assert "0, 1, 2, 3, 4, 5 and 3 more" in refused(rows, "voids").found
    assert "voids" in rows
    assert rows["8"].value == 1.0
    same = Rows([{"name": "Ann Lee"}, {"name": "Ann Lee"}])
    assert "2 rows" in refused(same, "Ann Lee").found
    with pytest.raises(AttributeError):
        same["Bo"]
