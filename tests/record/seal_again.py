"""Seal the sample of a version that is not released yet again: `python tests/record/seal_again.py`.

Samples of other versions are frozen for good, and left alone.
"""

from __future__ import annotations

import json
from pathlib import Path

from laminate.judging.reported import report_of
from laminate.records.inputs import file_bytes
from laminate.records.record import inputs_of, program, seal

FROZEN = Path(__file__).parent / "frozen"


def again(data: bytes) -> bytes:
    """A record of the same inputs as another one."""
    return seal(report_of(*file_bytes(inputs_of(data))))


if __name__ == "__main__":
    for file in sorted(FROZEN.glob("*.json")):
        if json.loads(file.read_bytes())["program"]["version"] == program()["version"]:
            file.write_bytes(again(file.read_bytes()))
            print(f"sealed again: {file.name}")
