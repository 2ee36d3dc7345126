"""What must agree between the keys of a batch file, and between it and its part file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from laminate.files.method_names import METHODS
from laminate.files.part_checks import BASIS, OF_WHAT, check_shares
from laminate.files.raw_file import Keys, RawFile
from laminate.values.problems import both_given, given_twice, missing_key, nearest, unknown_name
from laminate.values.sequences import by_key
from laminate.values.units import Spread, Unreadable, kind_of, parse, parse_spread

if TYPE_CHECKING:
    from laminate.files.limits import Rule
    from laminate.files.part import Part, Zone

INSTRUMENT_KINDS = {
    "balance": "mass",
    "liquid balance": "mass",
    "thermometer": "temperature_difference",
    "micrometer": "length",
    "caliper": "length",
    "density": "density",
    "template": "area",
}


STEP = 'the smallest step that it shows, above 0 and without ±, such as "0.01 mm"'


def instrument_spread(text: Any, kind: str) -> Spread:
    """The uncertainty of readings of one kind; of a thermometer in any degrees: 0.1 degF are 0.1/1.8 K.

    Raises `Unreadable`.
    """
    try:
        return parse_spread(text, kind)
    except Unreadable:
        if kind == "temperature_difference":
            with suppress(Unreadable):
                return parse_spread(text, "temperature")
        raise


def instrument_step(text: Any, kind: str) -> float:
    """The smallest step of readings of one kind [SI], above 0. Raises `Unreadable`."""
    if not isinstance(text, str) or any(sign in text for sign in "()±"):
        raise Unreadable(f"{text!r}", STEP)
    try:
        spread = instrument_spread(f"{text} (standard)", kind)
    except Unreadable as fault:
        fault_text = fault.found.replace(" (standard)", "")
        raise Unreadable(fault_text, fault.expected.replace(" (standard)", ""), fault.hint) from None
    if spread.relative or spread.u <= 0.0:
        raise Unreadable(f"'{text}'", STEP)
    return spread.u


SAID_OF_READINGS: dict[str, Callable[[Any, str], Any]] = {
    "repeatability": instrument_spread,
    "calibration": instrument_spread,
    "resolution": instrument_step,
}


def check_batch(file: RawFile, part: Part | None) -> None:
    """Note every finding across keys; `part` is None where it could not be read."""
    for keys, instrument in file.tables("instrument.*"):
        _instrument(file, keys, instrument)
    _laboratory(file)
    _lots(file)
    _blank(file)
    _exclusions(file)
    molded = file.at("batch", "molded")
    file.order(("batch", "retain_until"), file.at("batch", "retain_until"), molded, "it was molded")
    charge, out, relation = ("charge", "mass"), ("charge", "part_and_trim"), "not below the charge"
    file.above("mass", out, charge, relation, "less than the charge")
    if part is not None:
        _against_part(file, part)


def _instrument(file: RawFile, keys: Keys, instrument: dict[str, Any]) -> None:
    """What it says of its readings is of the kind that its name says; it is due after it was calibrated."""
    kind = INSTRUMENT_KINDS.get(str(keys[-1]).casefold().replace("_", " "), "")
    for key, read in SAID_OF_READINGS.items():
        text = instrument.get(key)
        if kind and isinstance(text, str):
            other = kind_of(text.partition("(")[0].strip().lstrip("±").strip())
            base_kind = "temperature" if kind == "temperature_difference" else kind
            code = "unreadable-value" if other in (None, "fraction", base_kind) else "wrong-kind"
            with file.telling(code, (*keys, key)):
                read(text, kind)
    file.order((*keys, "due"), instrument.get("due"), instrument.get("calibrated"), "it was calibrated")


def _laboratory(file: RawFile) -> None:
    if file.at("laboratory", "wires"):
        wire, beaker = (("laboratory", key) for key in ("wire_diameter", "beaker_diameter"))
        for _, key in (wire, beaker):
            file.needs("laboratory", key, 'a length, such as "0.2 mm"')
        file.above("length", wire, beaker, "not thinner than the beaker", "a thinner wire", level=True)


def _blank(file: RawFile) -> None:
    for keys, blank in file.tables("blank"):
        other = next((key for key in blank if key != "none"), None)
        if "none" in blank and other:
            file.note(both_given, (*keys, "none"), "none", other)
        elif not blank:
            expected = 'residue_share and fiber_loss, or none = "why there is no blank"'
            file.note(missing_key, keys, ("residue_share", "none"), expected)


def _exclusions(file: RawFile) -> None:
    seen: dict[tuple[str, str], int] = {}
    file.names("exclusion.*.method", METHODS, "a method, as a plan names it")
    for keys, exclusion in file.tables("exclusion.*"):
        which = (str(exclusion.get("specimen")), str(exclusion.get("method") or ""))
        if which in seen:
            what, first = f"coupon '{which[0]}'", f"in exclusion[{seen[which] + 1}]"
            file.note(given_twice, (*keys, "specimen"), what, first, "one table per exclusion")
        seen.setdefault(which, int(keys[-1]))
        if isinstance(exclusion.get("date"), dt.date):
            events = {"molded": file.at("batch", "molded"), "measured": file.at("laboratory", "measured")}
            days = {event: day for event, day in events.items() if type(day) is type(exclusion["date"])}
            if days:
                last = max(days, key=lambda event: days[event])
                file.order((*keys, "date"), exclusion["date"], days[last], f"it was {last}")


def _lots(file: RawFile) -> None:
    """Each lot by itself, and those of one prepreg together."""
    file.needs("lot.*", "resin_basis", BASIS, beside="resin_content")
    file.one_of("lot.*", "fiber_areal_weight", "prepreg_areal_weight", OF_WHAT)
    every = file.tables("lot.*")
    for keys, lot in every:
        if isinstance(lot.get("expires"), dt.date):
            file.order((*keys, "expires"), lot["expires"], lot.get("made"), "it was made")
    for prepreg, lots in by_key((str(lot.get("prepreg")), (keys, lot)) for keys, lot in every).items():
        if len(lots) > 1 or "share" in lots[0][1]:
            _shares(file, prepreg, lots)
            _stated_alike(file, prepreg, lots)


def _shares(file: RawFile, prepreg: str, lots: Sequence[tuple[Keys, dict[str, Any]]]) -> None:
    """Lots of one prepreg: each has its own number and its share, 100 % together."""
    first_of: dict[str, Keys] = {}
    for keys, lot in ((keys, lot) for keys, lot in lots if lot.get("number")):
        first = first_of.setdefault(str(lot.get("number")), keys)
        if first is not keys:
            what, place = f"lot '{lot.get('number')}' of '{prepreg}'", f"in lot[{int(first[-1]) + 1}]"
            file.note(given_twice, (*keys, "number"), what, place, "a different number for each lot")
    shares = [file.value("fraction", *keys, "share") for keys, _ in lots]
    for keys, lot in lots:
        if "share" not in lot:
            expected = f"its share among the {len(lots)} lots of '{prepreg}', such as \"60 %\""
            file.note(missing_key, keys, "share", expected)
    known = [share.value for share in shares if share is not None]
    if len(known) == len(lots) and not 0.999 < sum(known) < 1.001:
        wrong_sum = f"shares of '{prepreg}' that sum to {100 * sum(known):.4g} %"
        file.say("wrong-sum", (*lots[-1][0], "share"), wrong_sum, "100 % together")


def _stated_alike(file: RawFile, prepreg: str, lots: Sequence[tuple[Keys, dict[str, Any]]]) -> None:
    """Lots of one prepreg state the same keys, on the same basis."""
    for key in ("resin_basis", "fiber_areal_weight", "prepreg_areal_weight", "resin_content", "volatiles"):
        given = [lot.get(key) for _, lot in lots]
        some = any(value is None for value in given) != all(value is None for value in given)
        if some or (key == "resin_basis" and len(set(map(str, given))) > 1):
            difference = f"lots of '{prepreg}' that state '{key}' differently"
            file.say("lots-differ", (*lots[-1][0], key), difference, "the same for every lot of one prepreg")


def _plies(file: RawFile, keys: Keys, plies: Any, place: Zone, part: Part) -> None:
    """The fiber plies laid up are those that the part file fixes, and those that fill besides."""
    fixed = sum(count for count, name in place.fixed() if name in part.prepreg)
    if not isinstance(plies, int) or isinstance(plies, bool):
        return
    if plies < fixed or (plies > fixed and place.fill_with is None):
        least = "at least " if place.fill_with is not None else ""
        expected = f"{least}the {fixed} that the part file fixes, which are part of the count"
        file.say("ply-count", keys, f"{plies} plies", expected)


def _against_part(file: RawFile, part: Part) -> None:
    for keys, lot in file.tables("lot.*"):
        if (prepreg := part.prepreg.get(str(lot.get("prepreg")))) is not None:
            resin = file.value("fraction", *keys, "resin_content") or prepreg.resin_content
            volatiles = file.value("fraction", *keys, "volatiles") or prepreg.volatiles
            check_shares(file, keys, resin, volatiles, lot.get("resin_basis") or prepreg.resin_basis)
    for key, part_value in (("part_number", part.part.number), ("part_issue", part.part.issue)):
        given = file.at("batch", key)
        if isinstance(given, str) and given != part_value:
            expected = f"the {key.removeprefix('part_')} of the part file, '{part_value}'"
            file.say("another-part", ("batch", key), f"'{given}'", expected)
    file.names("fiber.*", part.fiber, "a fiber of the part file")
    file.names("resin.*", part.resin, "a resin of the part file")
    file.names("core_used.*", part.core, "a core of the part file")
    file.names("batch.plies.*", part.zone, "a zone of the part file")
    file.names("batch.cut.*", part.zone, "a zone of the part file")
    file.names("lot.*.prepreg", part.prepreg, "a prepreg of the part file")
    for keys, zone in file.places("log.*.zones.*"):
        file.refers(keys, zone, part.zone, "a zone of the part file")
    for keys, plies in file.places("batch.plies.*"):
        if keys[-1] in part.zone:
            _plies(file, keys, plies, part.zone[keys[-1]], part)
    kinds = {rule.attribute: rule for rule in part.limits.rules if rule.process}
    left = [known for known in kinds if known not in file.table("process")]
    for name in file.table("process"):
        keys = ("process", name)
        if name in kinds:
            _kind_of_limit(file, keys, file.at(*keys, "value"), kinds[name])
        elif nearest(name, left):
            file.note(unknown_name, keys, name, "a process reading that the part file limits", left)


def _kind_of_limit(file: RawFile, keys: Keys, text: Any, rule: Rule) -> None:
    """A process reading is of the kind of quantity that its limit is."""
    readable = kind_of(text) is not None if isinstance(text, str) else isinstance(text, (int, float))
    if readable:
        with file.telling("wrong-kind", (*keys, "value")):
            parse(text, rule.kind)
