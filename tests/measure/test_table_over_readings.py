"""A table of results never takes the place of readings."""

import pytest

from laminate.coupons.batch_measure import measure_batch
from laminate.files.batch import read_batch
from laminate.files.coupons import read_coupons
from laminate.show.table_file import write_table
from laminate.values.problems import Refused


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_readings_are_never_written_over_and_results_are(tmp_path, ending):
    from importlib.resources import files

    case = read_batch(files("laminate.examples") / "mast" / "batch.toml")
    found = measure_batch(case, read_coupons(case.tables()))
    out = tmp_path / f"results.{ending}"
    write_table(found, out)
    write_table(found, out)
    readings = tmp_path / "coupons.csv"
    readings.write_bytes(case.tables()[0].data())
    with pytest.raises(Refused) as refusal:
        write_table(found, readings)
    assert [problem.code for problem in refusal.value.problems] == ["holds-readings"]
    assert readings.read_bytes() == case.tables()[0].data()
