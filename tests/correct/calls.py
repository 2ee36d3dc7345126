"""Calls of `correct`, and changes of the files it reads."""

import re

from laminate.cli import app

OFF = (
    ('min = "2.75 mm", max = "2.95 mm"', 'min = "2.70 mm", max = "2.90 mm"'),
    ('average = { min = "56 %", max = "62 %" }', 'average = { min = "57 %", max = "63 %" }'),
    ('bleed_limit = "15 %"\nprojected_area', 'bleed_limit = "25 %"\nprojected_area'),
)
"""Limits of the mast whose middles lie 0.069 mm and 1.2 % off: more than its batches may scatter."""


def call(capsys, *arguments):
    status = app.status(["correct", *map(str, arguments)])
    out, err = capsys.readouterr()
    return status, out, err


def swap(path, *pairs):
    text = path.read_text("utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text, "utf-8")


def calibrate(batch, spread):
    """Give the micrometer of a batch file another calibration."""
    text = batch.read_text("utf-8")
    pattern = r"(\[instrument.micrometer\](?:\n[^\[]+)*?\ncalibration = )\"[^\"]*\""
    changed = re.sub(pattern, rf'\1"{spread}"', text)
    assert changed != text
    batch.write_text(changed, "utf-8")
