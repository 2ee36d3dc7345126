"""An invented shop that measures thickness: files of many batches, and their records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from laminate.judging.reported import report
from laminate.records.record import seal

PART = """\
format = 1
[part]
number = "{part}"
issue = "A"
name = "plate"
[fiber.carbon]
kind = "carbon"
density = "1.79 g/cm^3 ± 0.01 (k=2)"
[resin.epoxy]
density = "1.22 g/cm^3 ± 0.01 (k=2)"
[prepreg.ud]
fiber = "carbon"
resin = "epoxy"
fiber_areal_weight = "150 g/m^2 ± 2 (tolerance)"
resin_content = "33 % ± 1 (tolerance)"
resin_basis = "as received"
[zone.web]
fill_with = "ud"
[plan.web]
coupons = 1
[core.fore]
expansion = "200e-6 /K"
width = "30 mm"
held = "no"
[limits.thickness]
{limits}
"""

BATCH = """\
format = 1
[batch]
id = "{id}"
part = "part.toml"
part_number = "{part}"
part_issue = "A"
{molded}
cut = {{ web = {cut} }}
press = "{press}"
{plies}
coupons = ["coupons.csv"]
[core_used.fore]
identity = "{core}"
moldings = {moldings}
[[lot]]
prepreg = "ud"
number = "{lot}"
expires = 2030-01-01
out_time = "1 d"
out_life = "30 d"
[instrument.micrometer]
identity = "MIC-1"
repeatability = "0.002 mm (standard)"
calibration = "0.002 mm (standard)"
calibrated = 2026-01-01
due = 2030-01-01
[laboratory]
measured = 2026-06-01
{more}
"""

LIMITS = 'individual = {{ min = "{0} mm", max = "{1} mm" }}\naverage = {{ min = "{0} mm", max = "{1} mm" }}'


@dataclass
class Shop:
    """Batches below a folder, each in a folder of its own, with its record."""

    folder: Path
    part: str = "P-1"
    limits: tuple[float, float] = (2.0, 8.0)
    made: dict[str, bytes] = field(default_factory=dict)

    def batch(
        self,
        number: int,
        thicknesses: Sequence[float],
        *,
        lot: str = "L1",
        press: str = "P1",
        core: str = "C-1",
        moldings: int | None = None,
        molded: str | None = None,
        more: str = "",
        plies: int = 0,
        where: str = "",
        name: str = "",
    ) -> bytes:
        """Write the files of a batch and its record; returns the bytes of the record."""
        called = name or f"26-{number:03}"
        folder = self.folder / (where or called)
        folder.mkdir(parents=True, exist_ok=True)
        limits = LIMITS.format(*self.limits)
        (folder / "part.toml").write_text(PART.format(part=self.part, limits=limits), "utf-8")
        day = f"2026-{1 + (number - 1) // 28:02}-{1 + (number - 1) % 28:02}" if molded is None else molded
        filled = BATCH.format(
            id=called,
            part=self.part,
            molded=f"molded = {day}" if day else "",
            cut=len(thicknesses),
            press=press,
            plies=f"plies = {{ web = {plies} }}" if plies else "",
            core=core,
            moldings=number if moldings is None else moldings,
            lot=lot,
            more=more,
        )
        (folder / "batch.toml").write_text(filled, "utf-8")
        rows = "".join(f"{called}-{i},web,{value!r}\n" for i, value in enumerate(thicknesses, 1))
        (folder / "coupons.csv").write_text(f"specimen,zone,thickness [mm]\n{rows}", "utf-8")
        data = seal(report(folder / "batch.toml"))
        (folder / "record.json").write_bytes(data)
        self.made[called] = data
        return data

    def batches(self, values: Sequence[Sequence[float]], **more: object) -> None:
        """One batch for each set of thicknesses."""
        for number, thicknesses in enumerate(values, 1):
            self.batch(number, thicknesses, **more)  # type: ignore[arg-type]
