"""The [limits] of a part: which bounds hold for which attribute, zone, prepreg or process reading."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from laminate.files.toml import Peek, check_basis
from laminate.values.problems import Problem, both_given, missing_key, unknown_key
from laminate.values.quantities import ATTRIBUTES
from laminate.values.units import Unreadable, Value, kind_of, kind_words, parse

INDIVIDUAL, AVERAGE = "individual", "average"
SETTINGS = ("guard", "confidence", "coverage_factor", "chance", "chance_holds")
PREPREG_ATTRIBUTES = ("areal_weight", "prepreg_areal_weight", "resin_content", "volatiles")


@dataclass(frozen=True, slots=True)
class Bounds:
    """The least and greatest value allowed; None where there is no bound. SI units."""

    low: Value | None
    high: Value | None

    @property
    def pair(self) -> tuple[float | None, float | None]:
        """Both bounds as plain numbers [SI]."""
        return (self.low.value if self.low else None, self.high.value if self.high else None)


@dataclass(frozen=True, slots=True)
class Rule:
    """Bounds of one attribute: of every laminate zone, of one, of one prepreg, or of a process reading.

    temperature: above which a process reading counts time, None for any other.
    """

    attribute: str
    kind: str
    zone: str | None = None
    prepreg: str | None = None
    process: bool = False
    individual: Bounds | None = None
    average: Bounds | None = None
    temperature: Value | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """Every rule of a part, and how a value is held against it.

    chance, chance_holds: least chance that a count meets all limits, and that the tool stays shut on it.
    """

    guard: float = 1.0
    confidence: float | None = 0.95
    coverage_factor: float | None = None
    chance: float = 0.9
    chance_holds: float = 0.99
    rules: tuple[Rule, ...] = ()

    def of_zone(self, attribute: str, zone: str | None) -> Rule | None:
        """The rule of an attribute in a zone: the zone's own replaces the general one."""
        general = None
        for rule in self.rules:
            if rule.attribute == attribute and rule.prepreg is None and not rule.process:
                if zone is not None and rule.zone == zone:
                    return rule
                general = rule if rule.zone is None else general
        return general

    def laminate_attributes(self) -> list[str]:
        """Attributes that some zone is held to, in the order of the file."""
        return list(dict.fromkeys(r.attribute for r in self.rules if r.prepreg is None and not r.process))


class _LimitsReader(Peek):
    def __init__(self, name: str, zones: list[str], prepregs: list[str]) -> None:
        super().__init__({}, name)
        self.zones, self.prepregs = zones, prepregs

    def number(self, raw: Any, keys: tuple[Any, ...], low: float, high: float, words: str) -> float | None:
        if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not low <= raw <= high:
            self.say("wrong-value", keys, repr(raw), words)
            return None
        return float(raw)

    def settings(self, raw: Mapping[str, Any]) -> dict[str, float | None]:
        numbers: dict[str, float | None] = {}
        if "guard" in raw:
            guard = self.number(raw["guard"], ("limits", "guard"), 0.0, 10.0, "a plain number from 0 to 10")
            numbers["guard"] = 1.0 if guard is None else guard
        if "confidence" in raw and "coverage_factor" in raw:
            self.note(both_given, ("limits", "coverage_factor"), "confidence", "coverage_factor")
        elif "coverage_factor" in raw:
            words = "a plain number from 1 to 10"
            numbers["coverage_factor"] = self.number(
                raw["coverage_factor"], ("limits", "coverage_factor"), 1.0, 10.0, words
            )
            numbers["confidence"] = None
        elif "confidence" in raw:
            numbers |= self.percentage(raw, "confidence", "95 %")
        for key, example, least in (("chance", "90 %", 0.5), ("chance_holds", "99 %", 0.95)):
            numbers |= self.percentage(raw, key, example, least)
        return numbers

    def percentage(
        self, raw: Mapping[str, Any], key: str, example: str, least: float = 0.5
    ) -> dict[str, float | None]:
        if key not in raw:
            return {}
        try:
            share = parse(raw[key], "fraction").value
            if not least <= share < 1.0:
                words = f'a percentage from {100.0 * least:.0f} to below 100, such as "{example}"'
                raise Unreadable(repr(raw[key]), words)
        except Unreadable as fault:
            self.say("unreadable-value", ("limits", key), fault.found, fault.expected, fault.hint)
            return {}
        return {key: share}

    def bound(self, raw: Any, keys: tuple[Any, ...], kind: str, basis: str = "") -> Value | None:
        try:
            if kind != "any":
                value = parse(raw, kind)
            elif isinstance(raw, str) and (wrong_kind := kind_of(raw)):
                value = parse(raw, wrong_kind)
            else:
                value = parse(raw, "number")
            check_basis(value, basis)
        except Unreadable as fault:
            self.say("unreadable-value", keys, fault.found, fault.expected, fault.hint)
            return None
        if value.u is not None:
            self.say(
                "limit-with-tolerance",
                keys,
                f"'{value.text}'",
                "a limit without ±",
                "a limit is exact; the ± of what is measured is computed",
            )
        return value

    def bounds(self, raw: Any, keys: tuple[Any, ...], kind: str, basis: str) -> Bounds | None:
        if not isinstance(raw, Mapping) or not raw:
            words, example = kind_words("number" if kind == "any" else kind)
            self.say(
                "wrong-type", keys, repr(raw), f'{{ min = ..., max = ... }} with {words}, such as "{example}"'
            )
            return None
        self.unknown(raw, keys, ["min", "max"])
        low, high = (
            self.bound(raw[k], (*keys, k), kind, basis) if k in raw else None for k in ("min", "max")
        )
        if kind == "any" and low and high and kind_of(low.text) != kind_of(high.text):
            expected = f"a max of the same kind of quantity as min '{low.text}'"
            self.say("wrong-kind", keys, f"'{high.text}'", expected)
        elif low and high and low.value >= high.value:
            self.say("min-above-max", keys, f"min '{low.text}' not below max '{high.text}'", "min below max")
        return Bounds(low, high)

    def rule(self, raw: Any, keys: tuple[Any, ...], kind: str, **where: Any) -> Rule | None:
        if not isinstance(raw, Mapping):
            self.say("wrong-type", keys, repr(raw), "individual = { min, max } or average = { min, max }")
            return None
        known = None if where.get("process") else ATTRIBUTES.get(where["attribute"])
        basis = known.basis if known else ""
        parts = {
            key: self.bounds(raw[key], (*keys, key), kind, basis)
            for key in (INDIVIDUAL, AVERAGE)
            if key in raw
        }
        if not parts:
            self.note(missing_key, keys, (INDIVIDUAL, AVERAGE), "{ min = ..., max = ... }")
        return Rule(kind=kind, **where, individual=parts.get(INDIVIDUAL), average=parts.get(AVERAGE))

    def unknown(self, raw: Mapping[str, Any], keys: tuple[Any, ...], known: list[str]) -> None:
        for key in raw:
            if key not in known:
                self.note(unknown_key, (*keys, key), key, known)

    def attribute(self, key: str, raw: Any) -> Iterator[Rule | None]:
        keys, kind = ("limits", key), ATTRIBUTES[key].kind
        if not isinstance(raw, Mapping):
            yield self.rule(raw, keys, kind, attribute=key)
            return
        self.unknown(raw, keys, [INDIVIDUAL, AVERAGE, *self.zones])
        if INDIVIDUAL in raw or AVERAGE in raw or not raw:
            yield self.rule(raw, keys, kind, attribute=key)
        for zone in self.zones:
            if zone in raw:
                inner = raw[zone]
                if isinstance(inner, Mapping):
                    self.unknown(inner, (*keys, zone), [INDIVIDUAL, AVERAGE])
                yield self.rule(inner, (*keys, zone), kind, attribute=key, zone=zone)

    def prepreg(self, raw: Any) -> Iterator[Rule | None]:
        if not isinstance(raw, Mapping):
            self.say(
                "wrong-type", ("limits", "prepreg"), repr(raw), "a table: limits.prepreg.NAME.resin_content"
            )
            return
        self.unknown(raw, ("limits", "prepreg"), self.prepregs)
        for name in (name for name in self.prepregs if isinstance(raw.get(name), Mapping)):
            self.unknown(raw[name], ("limits", "prepreg", name), list(PREPREG_ATTRIBUTES))
            for key in (key for key in raw[name] if key in PREPREG_ATTRIBUTES):
                keys = ("limits", "prepreg", name, key)
                if isinstance(raw[name][key], Mapping):
                    self.unknown(raw[name][key], keys, [INDIVIDUAL, AVERAGE])
                yield self.rule(raw[name][key], keys, ATTRIBUTES[key].kind, attribute=key, prepreg=name)

    def process(self, raw: Any) -> Iterator[Rule | None]:
        if not isinstance(raw, Mapping):
            self.say(
                "wrong-type", ("limits", "process"), repr(raw), 'a table: limits.process."cure temperature"'
            )
            return
        for key, inner in raw.items():
            keys = ("limits", "process", key)
            temperature = None
            if isinstance(inner, Mapping):
                self.unknown(inner, keys, [INDIVIDUAL, AVERAGE, "temperature"])
                if "temperature" in inner:
                    temperature = self.bound(inner["temperature"], (*keys, "temperature"), "temperature")
            yield self.rule(inner, keys, "any", attribute=key, process=True, temperature=temperature)


def read_limits(raw: Any, name: str, zones: list[str], prepregs: list[str]) -> tuple[Limits, list[Problem]]:
    """The limits of a part and every finding in them.

    raw: the [limits] table, None where the file has none; zones, prepregs: the names that the file defines.
    """
    if raw is None:
        return Limits(), []
    reader = _LimitsReader(name, zones, prepregs)
    if not isinstance(raw, Mapping):
        reader.say("wrong-type", ("limits",), repr(raw), "a table")
        return Limits(), reader.problems
    settings = reader.settings(raw)
    known = [*SETTINGS, "prepreg", "process", *ATTRIBUTES]
    reader.unknown(raw, ("limits",), known)
    rules: list[Rule | None] = []
    for key, inner in raw.items():
        if key in ATTRIBUTES:
            rules.extend(reader.attribute(key, inner))
        elif key == "prepreg":
            rules.extend(reader.prepreg(inner))
        elif key == "process":
            rules.extend(reader.process(inner))
    return Limits(**settings, rules=tuple(rule for rule in rules if rule)), reader.problems  # type: ignore[arg-type]
