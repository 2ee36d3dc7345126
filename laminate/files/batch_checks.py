"""What must agree between the keys of a batch file, and between it and its part file."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from laminate.files.method_names import METHODS
from laminate.files.part_checks import BASIS, OF_WHAT
from laminate.files.toml import Peek
from laminate.values.problems import both_given, given_twice, missing_key, nearest, unknown_name, wrong_order
from laminate.values.units import Spread, Unreadable, kind_of, parse, parse_spread

if TYPE_CHECKING:
    from laminate.files.limits import Rule
    from laminate.files.part import Part

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


def check_batch(peek: Peek, part: Part | None) -> None:
    """Note every finding across keys; `part` is None where it could not be read."""
    _instruments(peek)
    _laboratory(peek)
    _lots(peek)
    _blank(peek)
    _exclusions(peek)
    molded = peek.at("batch", "molded")
    peek.order(("batch", "retain_until"), peek.at("batch", "retain_until"), molded, "it was molded")
    charge, out = peek.value("mass", "charge", "mass"), peek.value("mass", "charge", "part_and_trim")
    if charge and out and out.value > charge.value:
        keys = ("charge", "part_and_trim")
        peek.note(wrong_order, keys, out.text, "not below the charge", charge.text, "less than the charge")
    if part is not None:
        _against_part(peek, part)


def _instruments(peek: Peek) -> None:
    for keys, instrument in peek.tables("instrument"):
        kind = INSTRUMENT_KINDS.get(str(keys[-1]).casefold().replace("_", " "))
        for key in ("repeatability", "calibration", "resolution"):
            if kind and isinstance(instrument.get(key), str):
                try:
                    (instrument_step if key == "resolution" else instrument_spread)(instrument[key], kind)
                except Unreadable as fault:
                    other = kind_of(instrument[key].partition("(")[0].strip().lstrip("±").strip())
                    base_kind = "temperature" if kind == "temperature_difference" else kind
                    code = "unreadable-value" if other in (None, "fraction", base_kind) else "wrong-kind"
                    peek.say(code, (*keys, key), fault.found, fault.expected, fault.hint)
        peek.order((*keys, "due"), instrument.get("due"), instrument.get("calibrated"), "it was calibrated")


def _laboratory(peek: Peek) -> None:
    laboratory = peek.table("laboratory")
    if laboratory.get("wires"):
        sizes = ("wire_diameter", "beaker_diameter")
        for key in (key for key in sizes if key not in laboratory):
            peek.note(missing_key, ("laboratory",), key, 'a length, such as "0.2 mm"')
        wire, beaker = (peek.value("length", "laboratory", key) for key in sizes)
        if wire and beaker and wire.value >= beaker.value:
            keys, relation = ("laboratory", "wire_diameter"), "not thinner than the beaker"
            peek.note(wrong_order, keys, wire.text, relation, beaker.text, "a thinner wire")


def _blank(peek: Peek) -> None:
    blank = peek.table("blank")
    if "none" in blank and len(blank) > 1:
        other = next(key for key in blank if key != "none")
        peek.note(both_given, ("blank", "none"), "none", other)
    elif "blank" in peek.raw and not blank and isinstance(peek.at("blank"), dict):
        expected = "residue_share and fiber_loss, or none and why there is no blank"
        peek.note(missing_key, ("blank",), ("residue_share", "none"), expected)


def _exclusions(peek: Peek) -> None:
    seen: dict[tuple[str, str], int] = {}
    for keys, exclusion in peek.tables("exclusion"):
        method = exclusion.get("method")
        peek.refers((*keys, "method"), method, METHODS, "a method, as a plan names it")
        which = (str(exclusion.get("specimen")), str(method or ""))
        if which in seen:
            what, first = f"coupon '{which[0]}'", f"in exclusion[{seen[which] + 1}]"
            peek.note(given_twice, (*keys, "specimen"), what, first, "one table for one exclusion")
        seen.setdefault(which, int(keys[-1]))
        if isinstance(exclusion.get("date"), dt.date):
            events = {"molded": peek.at("batch", "molded"), "measured": peek.at("laboratory", "measured")}
            days = {event: day for event, day in events.items() if type(day) is type(exclusion["date"])}
            if days:
                last = max(days, key=lambda event: days[event])
                peek.order((*keys, "date"), exclusion["date"], days[last], f"it was {last}")


def _lots(peek: Peek) -> None:
    by_prepreg: dict[Any, list[int]] = {}
    for keys, lot in peek.tables("lot"):
        by_prepreg.setdefault(lot.get("prepreg"), []).append(int(keys[-1]))
        _lot(peek, keys, lot)
    lots = peek.rows("lot")
    for prepreg, indexes in by_prepreg.items():
        if len(indexes) > 1 or "share" in lots[indexes[0]]:
            _shares(peek, prepreg, indexes, lots)
            _stated_alike(peek, prepreg, indexes, lots)


def _lot(peek: Peek, keys: tuple[Any, ...], lot: dict[str, Any]) -> None:
    """One lot: a basis beside its resin content, dates in order, one areal weight."""
    if "resin_content" in lot and "resin_basis" not in lot:
        peek.note(missing_key, keys, "resin_basis", BASIS)
    if isinstance(lot.get("expires"), dt.date):
        peek.order((*keys, "expires"), lot["expires"], lot.get("made"), "it was made")
    peek.one_of(keys, "fiber_areal_weight", "prepreg_areal_weight", OF_WHAT)


def _shares(peek: Peek, prepreg: Any, indexes: list[int], lots: list[Any]) -> None:
    """Lots of one prepreg: each has its share, 100 % together."""
    shares = [peek.value("fraction", "lot", index, "share") for index in indexes]
    for index in indexes:
        if "share" not in lots[index]:
            expected = f"its share among the {len(indexes)} lots of '{prepreg}', such as \"60 %\""
            peek.note(missing_key, ("lot", index), "share", expected)
    known = [share.value for share in shares if share is not None]
    if len(known) == len(indexes) and not 0.999 < sum(known) < 1.001:
        wrong_sum = f"shares of '{prepreg}' that sum to {100 * sum(known):.4g} %"
        peek.say("wrong-sum", ("lot", indexes[-1], "share"), wrong_sum, "100 % together")


def _stated_alike(peek: Peek, prepreg: Any, indexes: list[int], lots: list[Any]) -> None:
    """Lots of one prepreg state the same keys, on the same basis."""
    keys = ("resin_basis", "fiber_areal_weight", "prepreg_areal_weight", "resin_content", "volatiles")
    for key in keys:
        given = [lots[index].get(key) for index in indexes]
        some = any(value is None for value in given) != all(value is None for value in given)
        if some or (key == "resin_basis" and len(set(map(str, given))) > 1):
            difference = f"lots of '{prepreg}' that state '{key}' differently"
            expected = "the same for every lot of one prepreg"
            peek.say("lots-differ", ("lot", indexes[-1], key), difference, expected)


def _plies(peek: Peek, keys: tuple[Any, ...], plies: Any, part: Part, zone: str) -> None:
    """The fiber plies laid up are those that the part file fixes, and those that fill besides."""
    place = part.zone[zone]
    fixed = sum(count for count, name in place.fixed() if name in part.prepreg)
    if not isinstance(plies, int) or isinstance(plies, bool):
        return
    if plies < fixed or (plies > fixed and place.fill_with is None):
        least = "at least " if place.fill_with is not None else ""
        expected = f"{least}the {fixed} that the part file fixes, which count too"
        peek.say("ply-count", keys, f"{plies} plies", expected)


def _against_part(peek: Peek, part: Part) -> None:
    for key, part_value in (("part_number", part.part.number), ("part_issue", part.part.issue)):
        given = peek.at("batch", key)
        if isinstance(given, str) and given != part_value:
            what = key.removeprefix("part_")
            peek.say(
                "another-part", ("batch", key), f"'{given}'", f"the {what} of the part file, '{part_value}'"
            )
    for table, known in (("fiber", part.fiber), ("resin", part.resin), ("core_used", part.core)):
        for name in peek.table(table):
            what = f"a {table.removesuffix('_used')} of the part file"
            peek.refers((table, name), name, list(known), what)
    for key in ("plies", "cut"):
        for zone, plies in peek.table("batch", key).items():
            place = ("batch", key, zone)
            if peek.refers(place, zone, part.zone, "a zone of the part file") and key == "plies":
                _plies(peek, place, plies, part, zone)
    for keys, lot in peek.tables("lot"):
        peek.refers((*keys, "prepreg"), lot.get("prepreg"), part.prepreg, "a prepreg of the part file")
    kinds = {rule.attribute: rule for rule in part.limits.rules if rule.process}
    for name in peek.table("process"):
        left = [known for known in kinds if known not in peek.table("process")]
        if name not in kinds and nearest(name, left):
            expected = "a process reading that the part file limits"
            peek.note(unknown_name, ("process", name), name, expected, left)
        elif name in kinds:
            _kind_of_limit(peek, name, kinds[name])


def _kind_of_limit(peek: Peek, name: str, rule: Rule) -> None:
    """A process reading is of the kind of quantity that its limit is."""
    text = peek.at("process", name, "value")
    bounds = rule.individual or rule.average
    bound = bounds and (bounds.low or bounds.high)
    readable = kind_of(text) is not None if isinstance(text, str) else isinstance(text, (int, float))
    if bound and readable:
        try:
            parse(text, kind_of(bound.text) or "number")
        except Unreadable as fault:
            peek.say("wrong-kind", ("process", name, "value"), fault.found, fault.expected, fault.hint)
