"""A sensor in the core, held against what heat conduction can make of it until the laminate cools."""

import numpy as np
import pytest

from laminate.curing.answers import IN_TIME

from .shop import answer
from .test_left_out import CORE_SENSOR, core_log


@pytest.mark.parametrize(("share", "asked"), [(1.0, False), (0.8, False), (0.0, True)])
def test_a_sensor_that_falls_behind_while_the_laminate_is_held_is_colder_than_it_can_be(
    tmp_path, share, asked
):
    """The laminate is at its highest as it comes to its hold, 2 K above it; the core warms on by a share."""
    log, part = core_log(tmp_path, 31.2)
    head, *rows = log.splitlines()
    cells = np.array([[float(cell) for cell in row.split(",")] for row in rows])
    hold = int(np.argmax(cells[:, 1] > cells[:, 1].max() - 2.0))
    cells[hold, 1] += 4.0
    warming = cells[hold:, -1] - cells[hold, -1]
    cells[hold:, -1] = cells[hold, -1] + share * warming + 0.1 * (np.arange(len(warming)) % 3)
    lines = [",".join(f"{cell:.1f}" for cell in row) for row in cells]
    found = answer(tmp_path, "\n".join([head, *lines]) + "\n", CORE_SENSOR, part, draws=300)
    assert any("colder" in why for why in found.why) is asked
    assert (found.verdict == IN_TIME) is not asked
