"""Calls of `correct`, and changes of the files it reads."""

import re

from laminate.cli import app


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
