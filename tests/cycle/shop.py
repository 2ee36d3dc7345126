"""An invented shop: a skin under a bladder, its resin's gel times, and logs that a press might write."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from laminate.curing.cycling import cycle

PART = """\
format = 1
[part]
number = "P-1"
issue = "A"
[temperature]
room = "23 degC"
gel = "120 degC"
cure = "125 degC"
[fiber.carbon]
kind = "carbon"
density = "1.79 g/cm^3"
[resin.epoxy]
density = "1.22 g/cm^3"
releases = "nothing"
gel_time = [["120 degC", "28 min ± 3 (tolerance)"], ["150 degC", "10 min ± 1 (tolerance)"]]
gel_test = "prepreg"
gel_source = "certificate C-0192"
out_life = { time = "30 d", temperature = "23 degC", share = "20 % ± 10 (tolerance)" }
[prepreg.ud150]
fiber = "carbon"
resin = "epoxy"
fiber_areal_weight = "150 g/m^2"
resin_content = "33 %"
resin_basis = "as received"
[bladder.bag]
pressure = "6 bar"
[zone.skin]
bladder = "bag"
stack = ["10 ud150"]
pressed_at = "3 bar"
bleed_limit = "0 %"
sensors = { laminate = 1, platen = 1, tool = 0, "bladder pressure" = 1, "resin pressure" = 0 }
"""

BATCH = """\
format = 1
[batch]
id = "b1"
part = "part.toml"
part_number = "P-1"
part_issue = "A"
molded = 2026-11-18
[[lot]]
prepreg = "ud150"
number = "L1"
out_time = "12 d"
stored_humidity = "45 % (exact)"
share = "100 %"
gel_time = [["120 degC", "28 min ± 3 (tolerance)"], ["150 degC", "10 min ± 1 (tolerance)"]]
[instrument.thermocouples]
calibration = "1 K (k=2)"
repeatability = "0.1 K (standard)"
due = 2027-01-01
[instrument."gauge 4"]
calibration = "0.05 bar (k=2)"
repeatability = "0.01 bar (standard)"
due = 2027-01-01
[[log]]
file = "log.csv"
zones = ["skin"]
[log.columns]
"TC 3" = { reads = "laminate", instrument = "thermocouples", place = "middle" }
"top" = { reads = "platen", instrument = "thermocouples" }
"bag" = { reads = "bladder pressure", base = "over ambient", instrument = "gauge 4" }
"""


@dataclass
class Press:
    """A ramp of 3 K/min to a hold, the laminate two minutes behind, and a bladder [min, degC, bar]."""

    closes: float = 10.0
    hold: float = 125.0
    step: float = 0.5
    total: float = 120.0
    bar: float = 6.0
    minutes: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        self.minutes = np.arange(0.0, self.total + 1e-9, self.step)
        self.platen = np.minimum(23.0 + 3.0 * self.minutes, self.hold)
        self.laminate = np.minimum(23.0 + 3.0 * np.maximum(self.minutes - 2.0, 0.0), self.hold - 1.0)
        self.bag = np.where(self.minutes >= self.closes, self.bar, 0.0)

    def csv(self, keep: np.ndarray | None = None) -> str:
        """The log as a plain CSV file."""
        rows = zip(self.minutes, self.laminate, self.platen, self.bag, strict=True)
        lines = [f"{a:.2f},{b:.1f},{c:.1f},{d:.2f}" for a, b, c, d in rows]
        if keep is not None:
            lines = [line for line, kept in zip(lines, keep, strict=True) if kept]
        return "\n".join(["Time [min],TC 3 [degC],top [degC],bag [bar]", *lines]) + "\n"


def answer(folder: Path, log: str, batch: str = BATCH, part: str = PART, **settings: int):
    """The answer of the first zone."""
    return answers(folder, log, batch, part, **settings).zones[0]


def answers(folder: Path, log: str, batch: str = BATCH, part: str = PART, **settings: int):
    """The whole answer."""
    (folder / "part.toml").write_text(part, "utf-8")
    (folder / "batch.toml").write_text(batch, "utf-8")
    (folder / "log.csv").write_text(log, "utf-8")
    return cycle(folder / "batch.toml", **settings)


def changed(text: str, *pairs: tuple[str, str]) -> str:
    """A text with each old part replaced by a new one; each must be there."""
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return text
