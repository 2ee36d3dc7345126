"""With what the coupons were measured, as JSON: instruments, liquid, air, wires and blanks as stated."""

from __future__ import annotations

from collections.abc import Iterator

from laminate.files.batch import Case
from laminate.files.batch_checks import INSTRUMENT_KINDS
from laminate.show.fields import TEXT, WORDS, first, rows, second, table, third
from laminate.values.quantities import GRAM, KELVIN, MM, Unit, shown_difference

TOLD, TAKEN = "batch file", "not stated, taken so"
_STEPS: dict[str, Unit] = {"mass": GRAM, "length": MM, "temperature_difference": KELVIN}


def _stated(case: Case) -> Iterator[tuple[str, str, str]]:
    """What an auditor needs beside readings and material values: name, text and origin of each."""
    batch, laboratory = case.batch, case.batch.laboratory
    for name, instrument in batch.instrument.items():
        for what in ("repeatability", "calibration"):
            if (spread := getattr(instrument, what)) is not None:
                yield f"{name}, {what}", spread.text, TOLD
        unit = _STEPS.get(INSTRUMENT_KINDS.get(name, "mass"))
        if instrument.resolution is not None and unit is not None:
            step = f"{shown_difference(instrument.resolution, unit):g} {unit.text}"
            yield f"{name}, resolution", step, TOLD
    if batch.batch.coupons:
        for key in ("liquid", "liquid_density", "air_density", "wires", "wire_diameter", "beaker_diameter"):
            if (value := getattr(laboratory, key)) is not None:
                name = "wires through the surface" if key == "wires" else key.replace("_", " ")
                origin = TOLD if key in laboratory.model_fields_set else TAKEN
                yield name, str(getattr(value, "text", value)), origin
    for what, key in (("residue share of neat resin", "residue_share"), ("loss of bare fiber", "fiber_loss")):
        if batch.blank is not None and key in batch.blank.model_fields_set:
            yield what, getattr(batch.blank, key).text, TOLD
    if (scatter := case.part.part.blank_scatter) is not None:
        yield "scatter of a blank", scatter.text, "part file"


MEASURING = rows(table(input=TEXT(first), stated=WORDS(second), **{"from": TEXT(third)}))(
    lambda report: _stated(report.case)
)
