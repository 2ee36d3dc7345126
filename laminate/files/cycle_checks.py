"""What must agree between the keys that tell of the press cycle."""

from __future__ import annotations

from itertools import pairwise

from laminate.files.cycle_keys import CLOCK, PRESSURES, TEMPERATURES
from laminate.files.raw_file import Keys, RawFile
from laminate.values.problems import too_few, unused_key, wrong_order
from laminate.values.units import SIValue


def kind_read(reads: str) -> str:
    """The kind of quantity that a column of a log holds.

    >>> kind_read("platen"), kind_read("bladder pressure")
    ('temperature', 'pressure')
    """
    if reads in TEMPERATURES:
        return "temperature"
    return "pressure" if reads in PRESSURES else "time" if reads == CLOCK else "force"


def check_part_cycle(file: RawFile) -> None:
    """Note every finding across the cycle's keys of a part file."""
    for table, _ in file.tables("resin.*"):
        gel_times(file, table)
    differ = "'prepreg' (strings end, ASTM D3532) or 'neat resin': the two differ"
    file.needs("resin.*", "gel_test", differ, beside="gel_time")
    released = "'nothing', 'water' or 'solvent': what the cure sets free"
    file.needs("resin.*", "releases", released, beside="gel_time")
    for table, _ in file.tables("heat.core.*"):
        _modulus(file, (*table, "bulk_modulus"))
    for name in ("tool", "laminate"):
        for keys, _ in file.places(f"heat.{name}.bulk_modulus"):
            file.note(unused_key, keys, "bulk_modulus", "a core has it")
    for key in ("platen", "pressure", "clamp_force", "core.*"):
        for keys, _ in file.places(f"cycle.*.{key}"):
            _rising(file, keys)
    file.one_of("cycle.*", "pressure", "clamp_force", "of the bladder, or of the press")


def _pairs(file: RawFile, keys: Keys, first: str, second: str) -> list[tuple[SIValue, SIValue]]:
    rows = [at for at, row in enumerate(file.rows(*keys)) if isinstance(row, list) and len(row) == 2]
    pairs = ((file.value(first, *keys, at, 0), file.value(second, *keys, at, 1)) for at in rows)
    return [(left, right) for left, right in pairs if left is not None and right is not None]


def gel_times(file: RawFile, table: Keys) -> None:
    """Gel times: at two temperatures or more, and shorter where it is hotter."""
    keys = (*table, "gel_time")
    rows, pairs = file.at(*keys), _pairs(file, keys, "temperature", "time")
    expected = 'gel times at two temperatures or more: [["120 degC", "28 min"], ["150 degC", "10 min"]]'
    if isinstance(rows, list) and len({hot.value for hot, _ in pairs}) < 2:
        file.note(too_few, keys, len(rows), "gel times", expected)
        return
    if not pairs or any(time.value <= 0.0 for _, time in pairs):
        return
    from laminate.formulas.gel_clock import gel_line

    hots, times = ([value.value for value in values] for values in zip(*pairs, strict=True))
    if gel_line(temperatures=hots, times=times).b <= 0.0:
        file.say("wrong-order", keys, "gel times that do not fall as it gets hotter", expected)


def _modulus(file: RawFile, keys: Keys) -> None:
    """Bulk moduli of a core: at two temperatures or more, which rise."""
    rows = file.at(*keys)
    at = [warm.value for warm, _ in _pairs(file, keys, "temperature", "pressure")]
    if isinstance(rows, list) and len(at) == len(rows) and (len(at) < 2 or at != sorted(set(at))):
        example = '[["23 degC", "1.1 GPa"], ["120 degC", "0.85 GPa"]]'
        expected = f"values at two temperatures or more, in rising order: {example}"
        file.say("wrong-order", keys, f"{len(at)} values of bulk_modulus", expected)


def _rising(file: RawFile, keys: Keys) -> None:
    times = [(index, file.value("time", *keys, index, 0)) for index in range(len(file.rows(*keys)))]
    known = [(index, value) for index, value in times if value is not None]
    if len(times) == 1 and keys[-1] != "platen":
        file.note(too_few, keys, 1, "point", "two points or more, each a time and a value")
    for index, value in known:
        if value.spread:
            expected = "a time without ±; the value beside it may have one"
            file.say("wrong-value", (*keys, index, 0), f"'{value.text}'", expected)
    for (_, early), (index, late) in pairwise(known):
        if late.value <= early.value:
            expected = "times that rise from point to point"
            file.note(wrong_order, (*keys, index, 0), late.text, "after", early.text, expected)
