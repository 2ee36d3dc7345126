"""What must agree between the keys that tell of the press cycle."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from laminate.files.cycle_keys import CLOCK, PRESSURES, SENSORS, TEMPERATURES
from laminate.values.problems import both_given, missing_key, too_few, unused_key, wrong_order
from laminate.values.units import Value

if TYPE_CHECKING:
    from laminate.files.toml import Peek


def kind_read(reads: str) -> str:
    """The kind of quantity that a column of a log holds.

    >>> kind_read("platen"), kind_read("bladder pressure")
    ('temperature', 'pressure')
    """
    if reads in TEMPERATURES:
        return "temperature"
    return "pressure" if reads in PRESSURES else "time" if reads == CLOCK else "force"


def check_part_cycle(peek: Peek) -> None:
    """Note every finding across the cycle's keys of a part file."""
    for name in peek.table("resin"):
        here = peek.table("resin", name)
        gel_times(peek, ("resin", name))
        if "gel_time" in here:
            for key, words in (
                ("gel_test", "'prepreg' (strings end, ASTM D3532) or 'neat resin': they differ"),
                ("releases", "'nothing', 'water' or 'solvent': what the cure sets free"),
            ):
                if key not in here:
                    peek.note(missing_key, ("resin", name), key, words)
    for zone in peek.table("zone"):
        for reads in peek.table("zone", zone, "sensors"):
            keys = ("zone", zone, "sensors", reads)
            peek.refers(keys, reads, SENSORS, f"what a column reads: {', '.join(SENSORS)}")
    for name in peek.table("heat", "core"):
        peek.refers(("heat", "core", name), name, peek.table("core"), "a [core.NAME] table")
        _modulus(peek, ("heat", "core", name, "bulk_modulus"))
    for name in ("tool", "laminate"):
        if "bulk_modulus" in peek.table("heat", name):
            peek.note(unused_key, ("heat", name, "bulk_modulus"), "bulk_modulus", "a core has it")
    for name in peek.table("cycle"):
        for key in ("platen", "pressure", "clamp_force"):
            _rising(peek, ("cycle", name, key))
        for core in peek.table("cycle", name, "core"):
            keys = ("cycle", name, "core", core)
            peek.refers(keys, core, peek.table("core"), "a [core.NAME] table")
            _rising(peek, keys)
        if "pressure" in peek.table("cycle", name) and "clamp_force" in peek.table("cycle", name):
            place = ("cycle", name, "clamp_force")
            peek.note(both_given, place, "pressure", "clamp_force", "of the bladder, or of the press")


def _pairs(peek: Peek, keys: tuple[Any, ...], first: str, second: str) -> list[tuple[Value, Value]]:
    pairs = []
    rows = peek.at(*keys)
    for index, row in enumerate(rows if isinstance(rows, list) else []):
        if isinstance(row, list) and len(row) == 2:
            pair = peek.value(first, *keys, index, 0), peek.value(second, *keys, index, 1)
            if pair[0] is not None and pair[1] is not None:
                pairs.append((pair[0], pair[1]))
    return pairs


def gel_times(peek: Peek, table: tuple[Any, ...]) -> None:
    """Gel times: at two temperatures or more, and shorter where it is hotter."""
    rows = peek.at(*table, "gel_time")
    if rows is None:
        return
    keys = (*table, "gel_time")
    pairs = _pairs(peek, keys, "temperature", "time")
    expected = 'gel times at two temperatures or more: [["120 degC", "28 min"], ["150 degC", "10 min"]]'
    if isinstance(rows, list) and len({hot.value for hot, _ in pairs}) < 2:
        peek.note(too_few, keys, len(rows), "gel times", expected)
        return
    if any(time.value <= 0.0 for _, time in pairs):
        return
    x = [1.0 / hot.value for hot, _ in pairs]
    y = [math.log(time.value) for _, time in pairs]
    middle, level = sum(x) / len(x), sum(y) / len(y)
    if sum((a - middle) * (b - level) for a, b in zip(x, y, strict=True)) <= 0.0:
        peek.say("wrong-order", keys, "gel times that do not fall as it gets hotter", expected)


def _modulus(peek: Peek, keys: tuple[Any, ...]) -> None:
    """Bulk moduli of a core: at two temperatures or more, which rise."""
    rows = peek.at(*keys)
    if rows is None:
        return
    at = [warm.value for warm, _ in _pairs(peek, keys, "temperature", "pressure")]
    if isinstance(rows, list) and len(at) == len(rows) and (len(at) < 2 or at != sorted(set(at))):
        expected = (
            'values at two temperatures or more that rise: [["23 degC", "1.1 GPa"], ["120 degC", "0.85 GPa"]]'
        )
        peek.say("wrong-order", keys, f"{len(at)} values of bulk_modulus", expected)


def _rising(peek: Peek, keys: tuple[Any, ...]) -> None:
    rows = peek.at(*keys)
    times = [
        (index, peek.value("time", *keys, index, 0))
        for index in range(len(rows if isinstance(rows, list) else []))
    ]
    known = [(index, value) for index, value in times if value is not None]
    if len(times) == 1 and keys[-1] != "platen":
        peek.note(too_few, keys, 1, "point", "two points or more, each a time and a value")
    for index, value in known:
        if value.spread:
            expected = "a time without ±; the value beside it may have one"
            peek.say("wrong-value", (*keys, index, 0), f"'{value.text}'", expected)
    for (_, early), (index, late) in pairwise(known):
        if late.value <= early.value:
            expected = "times that rise from point to point"
            peek.note(wrong_order, (*keys, index, 0), late.text, "after", early.text, expected)
