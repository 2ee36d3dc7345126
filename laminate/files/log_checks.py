"""What must agree between the keys of a batch file that tell of the press cycle, and with its part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.files.batch_checks import instrument_spread
from laminate.files.cycle_checks import gel_times, kind_read
from laminate.files.cycle_keys import CLOCK, FROM_LOG, NOT_OF_THE_ZONE, PRESSURES
from laminate.files.log_time import form_of
from laminate.files.raw_file import Keys, RawFile
from laminate.values.problems import both_given, missing_key, unknown_name, unused_key
from laminate.values.units import column_unit, kind_words

if TYPE_CHECKING:
    from laminate.files.part import Part

NEEDS_BASE = ("ram pressure", "bladder pressure", "resin pressure")
ONLY_OF = {"base": PRESSURES, "ram_area": ("ram pressure",), "place": ("laminate",)}
"""Keys of a column, and what it must read where it has them."""
JOIN = "write both into one file with one time column: rows in order of time, cells without a reading empty"


def check_batch_cycle(file: RawFile, part: Part | None) -> None:
    """Note every finding across the cycle's keys of a batch file."""
    for keys, _ in file.tables("lot.*"):
        gel_times(file, keys)
    taken: dict[str, int] = {}
    for keys, zone in file.places("log.*.zones.*"):
        if isinstance(zone, str):
            _zone(file, keys, zone, part, taken)
    file.names("log.*.columns.*.instrument", file.table("instrument"), "an [instrument.NAME] table")
    used: dict[tuple[int, str, str], str] = {}
    for keys, column in file.tables("log.*.columns.*"):
        reads, instrument = column.get("reads"), column.get("instrument")
        if isinstance(reads, str):
            _column(file, keys, column, reads)
            if isinstance(instrument, str) and instrument in file.table("instrument"):
                used[keys[1], instrument, kind_read(reads)] = reads
    for (_, instrument, _), reads in used.items():
        _spreads(file, instrument, reads)
    for keys, process in file.tables("process.*"):
        _process(file, keys, process, part, taken)


def _zone(file: RawFile, keys: Keys, zone: str, part: Part | None, taken: dict[str, int]) -> None:
    """A zone is in one log, and its part file says what presses a bladder's laminate together."""
    if zone in taken:
        taken_zone = f"zone '{zone}', which log[{taken[zone] + 1}] names too"
        hint = "" if taken[zone] == keys[1] else JOIN
        file.say("twice", keys, taken_zone, "each zone in one log", hint)
        return
    taken[zone] = int(keys[1])
    place = part.zone.get(zone) if part is not None else None
    if place is not None and place.bladder is not None and place.pressed_at is None:
        expected = f"in the part file, the pressure over ambient that closes up the laminate of '{zone}'"
        file.note(missing_key, keys, "pressed_at", expected, f'[zone.{zone}] pressed_at = "3 bar"')


def _column(file: RawFile, keys: Keys, column: dict[str, Any], reads: str) -> None:
    if reads in NEEDS_BASE and "base" not in column:
        expected = "'over ambient', 'absolute' or 'below ambient': the reading alone does not tell"
        file.note(missing_key, keys, "base", expected)
    if reads == "ram pressure" and "ram_area" not in column:
        file.note(missing_key, keys, "ram_area", 'an area, such as "314 cm^2"')
    for key, wanted in ONLY_OF.items():
        if key in column and reads not in wanted:
            file.note(unused_key, (*keys, key), key, f"the column reads {reads}")
    unit = column.get("unit")
    if isinstance(unit, str) and reads != NOT_OF_THE_ZONE and not (reads == CLOCK and form_of(unit)):
        with file.telling("wrong-unit", (*keys, "unit")):
            column_unit(unit, kind_read(reads))


def _spreads(file: RawFile, name: str, reads: str) -> None:
    """What an instrument says of itself must fit what its columns read."""
    kind = kind_read(reads)
    kind = "temperature_difference" if kind == "temperature" else kind
    for key in ("repeatability", "calibration") if kind != "time" else ():
        keys, text = ("instrument", name, key), file.at("instrument", name, key)
        if not isinstance(text, str):
            continue
        with file.telling("wrong-kind", keys):
            if instrument_spread(text, kind).relative and kind == "temperature_difference":
                expected = 'a temperature difference, such as "1 K (k=2)": a share of degC has no meaning'
                file.say("wrong-kind", keys, f"'{text}'", expected)


def _process(
    file: RawFile, keys: Keys, process: dict[str, Any], part: Part | None, taken: dict[str, int]
) -> None:
    zone, name = process.get("zone"), keys[-1]
    if "from" not in process:
        if "value" not in process:
            expected = 'a value, such as "126 degC ± 1 (tolerance)", or from = "log"'
            file.note(missing_key, keys, ("value", "from"), expected)
        if part is not None:
            file.refers((*keys, "zone"), zone, part.zone, "a zone of the part file")
        return
    for key in ("value", "source"):
        if key in process:
            file.note(both_given, (*keys, key), "from", key)
    if name not in FROM_LOG:
        file.note(unknown_name, keys, name, "a reading that a log gives", FROM_LOG)
    if zone is None:
        file.note(missing_key, keys, "zone", 'the zone of the log, beside from = "log"')
    elif isinstance(zone, str) and zone not in taken:
        file.note(unknown_name, (*keys, "zone"), zone, "a zone of a [[log]]", taken)
    rules = part.limits.rules if part is not None and name in FROM_LOG else ()
    rule = next((r for r in rules if r.process and r.attribute == name), None)
    if rule is not None and rule.kind != FROM_LOG[name]:
        words, example = kind_words(FROM_LOG[name])
        wanted = f'a limit in the part file that is {words}, such as "{example}", as a log gives'
        file.say("wrong-kind", (*keys, "from"), f"'{rule.bounds[0].text}'", wanted)
    if rule is not None and name == "time above" and rule.temperature is None:
        expected = f'in the part file: [limits.process."{name}"] temperature = "120 degC"'
        file.note(missing_key, keys, "temperature", expected)
