"""The [limits] of a part: which bounds hold for which attribute, zone, prepreg or process reading."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from laminate.files.peek import Keys, Peek
from laminate.files.toml import check_basis
from laminate.values.problems import both_given, missing_key, unknown_key
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


class _LimitsReader:
    def __init__(self, peek: Peek, zones: list[str], prepregs: list[str]) -> None:
        self.say, self.note, self.zones, self.prepregs = peek.say, peek.note, zones, prepregs

    def unreadable(self, keys: Keys, fault: Unreadable) -> None:
        self.say("unreadable-value", keys, fault.found, fault.expected, fault.hint)

    def number(self, raw: Any, key: str, low: float, high: float) -> float | None:
        if isinstance(raw, bool) or not isinstance(raw, (int, float)) or not low <= raw <= high:
            self.say("wrong-value", ("limits", key), repr(raw), f"a plain number from {low:g} to {high:g}")
            return None
        return float(raw)

    def settings(self, raw: Mapping[str, Any]) -> dict[str, float | None]:
        numbers: dict[str, float | None] = {}
        if "guard" in raw:
            guard = self.number(raw["guard"], "guard", 0.0, 10.0)
            numbers["guard"] = 1.0 if guard is None else guard
        shares = {"confidence": ("95 %", 0.5), "chance": ("90 %", 0.5), "chance_holds": ("99 %", 0.95)}
        if "coverage_factor" in raw:
            del shares["confidence"]
            if "confidence" in raw:
                self.note(both_given, ("limits", "coverage_factor"), "confidence", "coverage_factor")
            else:
                factor = self.number(raw["coverage_factor"], "coverage_factor", 1.0, 10.0)
                numbers |= {"coverage_factor": factor, "confidence": None}
        for key, (example, least) in shares.items():
            numbers |= self.percentage(raw, key, example, least)
        return numbers

    def percentage(self, raw: Mapping[str, Any], key: str, example: str, least: float) -> dict[str, float]:
        if key not in raw:
            return {}
        try:
            share = parse(raw[key], "fraction").value
            if not least <= share < 1.0:
                words = f'a percentage from {100.0 * least:.0f} to below 100, such as "{example}"'
                raise Unreadable(repr(raw[key]), words)
        except Unreadable as fault:
            self.unreadable(("limits", key), fault)
            return {}
        return {key: share}

    def bound(self, raw: Any, keys: Keys, kind: str, basis: str = "") -> Value | None:
        if kind == "any":
            kind = (kind_of(raw) if isinstance(raw, str) else None) or "number"
        try:
            value = parse(raw, kind)
            check_basis(value, basis)
        except Unreadable as fault:
            self.unreadable(keys, fault)
            return None
        if value.u is not None:
            hint = "a limit is exact; the ± of what is measured is computed"
            self.say("limit-with-tolerance", keys, f"'{value.text}'", "a limit without ±", hint)
        return value

    def bounds(self, raw: Any, keys: Keys, kind: str, basis: str) -> Bounds | None:
        if not isinstance(raw, Mapping) or not raw:
            words, example = kind_words("number" if kind == "any" else kind)
            expected = f'{{ min = ..., max = ... }} with {words}, such as "{example}"'
            self.say("wrong-type", keys, repr(raw), expected)
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

    def rule(
        self, raw: Any, keys: Keys, kind: str, *, others: Sequence[str] = (), **where: Any
    ) -> Rule | None:
        """One rule; others: keys that may stand beside its bounds."""
        expected = "individual = { min, max } or average = { min, max }"
        if not isinstance(raw, Mapping):
            self.say("wrong-type", keys, repr(raw), expected)
            return None
        self.unknown(raw, keys, [INDIVIDUAL, AVERAGE, *others])
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

    def unknown(self, raw: Mapping[str, Any], keys: Keys, known: list[str]) -> None:
        for key in (key for key in raw if key not in known):
            self.note(unknown_key, (*keys, key), key, known)

    def attribute(self, key: str, raw: Any) -> Iterator[Rule | None]:
        keys, kind = ("limits", key), ATTRIBUTES[key].kind
        limited_zones = [zone for zone in self.zones if isinstance(raw, Mapping) and zone in raw]
        if not isinstance(raw, Mapping) or not raw or INDIVIDUAL in raw or AVERAGE in raw:
            yield self.rule(raw, keys, kind, others=self.zones, attribute=key)
        else:
            self.unknown(raw, keys, [INDIVIDUAL, AVERAGE, *self.zones])
        for zone in limited_zones:
            yield self.rule(raw[zone], (*keys, zone), kind, attribute=key, zone=zone)

    def prepreg(self, raw: Any) -> Iterator[Rule | None]:
        keys = ("limits", "prepreg")
        if not isinstance(raw, Mapping):
            self.say("wrong-type", keys, repr(raw), "a table: limits.prepreg.NAME.resin_content")
            return
        self.unknown(raw, keys, self.prepregs)
        for name in (name for name in self.prepregs if isinstance(raw.get(name), Mapping)):
            self.unknown(raw[name], (*keys, name), list(PREPREG_ATTRIBUTES))
            for key in (key for key in raw[name] if key in PREPREG_ATTRIBUTES):
                kind = ATTRIBUTES[key].kind
                yield self.rule(raw[name][key], (*keys, name, key), kind, attribute=key, prepreg=name)

    def process(self, raw: Any) -> Iterator[Rule | None]:
        if not isinstance(raw, Mapping):
            expected = 'a table: limits.process."cure temperature"'
            self.say("wrong-type", ("limits", "process"), repr(raw), expected)
            return
        for key, inner in raw.items():
            keys = ("limits", "process", key)
            where: dict[str, Any] = {"attribute": key, "process": True}
            if isinstance(inner, Mapping) and "temperature" in inner:
                where["temperature"] = self.bound(inner["temperature"], (*keys, "temperature"), "temperature")
            yield self.rule(inner, keys, "any", others=["temperature"], **where)


def read_limits(peek: Peek) -> Limits:
    """The limits of a part; every finding in them is noted."""
    raw = peek.at("limits")
    if raw is None:
        return Limits()
    if not isinstance(raw, Mapping):
        peek.say("wrong-type", ("limits",), repr(raw), "a table")
        return Limits()
    reader = _LimitsReader(peek, list(peek.table("zone")), list(peek.table("prepreg")))
    settings = reader.settings(raw)
    reader.unknown(raw, ("limits",), [*SETTINGS, "prepreg", "process", *ATTRIBUTES])
    rules: list[Rule | None] = []
    for key, inner in raw.items():
        if key in ATTRIBUTES:
            rules.extend(reader.attribute(key, inner))
        elif key == "prepreg":
            rules.extend(reader.prepreg(inner))
        elif key == "process":
            rules.extend(reader.process(inner))
    return Limits(**settings, rules=tuple(rule for rule in rules if rule))  # type: ignore[arg-type]
