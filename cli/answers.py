"""How an answer for programs leaves the command line."""

from __future__ import annotations

import json
from collections.abc import Mapping


def print_json(answer: Mapping[str, object]) -> None:
    """Print one answer as JSON on standard output.

    answer: the keys after `"format": 1`; a number that is not finite raises ValueError.
    """
    print(json.dumps({"format": 1, **answer}, ensure_ascii=False, allow_nan=False, indent=2), flush=True)
