"""The [limits] of a part: which bounds hold for which attribute, zone, prepreg or process reading."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from laminate.files.raw_file import Keys, RawFile
from laminate.files.toml import check_basis
from laminate.values.problems import both_given, inexact_limit, missing_key, unknown_key
from laminate.values.quantities import ATTRIBUTES
from laminate.values.units import SIValue, Unreadable, kind_of, kind_words, parse

BOUNDED = ("individual", "average")
NUMBERS = {"guard": (0.0, 10.0), "coverage_factor": (1.0, 10.0)}
SHARES = {"confidence": ("95 %", 0.5), "chance": ("90 %", 0.5), "chance_holds": ("99 %", 0.95)}
"""Settings: least and greatest number, and an example with the least percentage."""
PREPREG_ATTRIBUTES = ("areal_weight", "prepreg_areal_weight", "resin_content", "volatiles")


@dataclass(frozen=True, slots=True)
class Bounds:
    """The least and greatest value allowed; None where there is no bound. SI units."""

    low: SIValue | None
    high: SIValue | None

    @property
    def stated(self) -> list[SIValue]:
        """The bounds that there are."""
        return [bound for bound in (self.low, self.high) if bound is not None]

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
    zone: str | None = None
    prepreg: str | None = None
    process: bool = False
    individual: Bounds | None = None
    average: Bounds | None = None
    temperature: SIValue | None = None

    @property
    def kind(self) -> str:
        """The kind of quantity that its bounds are of."""
        if not self.process:
            return ATTRIBUTES[self.attribute].kind
        return next((kind_of(bound.text) for bound in self.bounds), None) or "number"

    @property
    def bounds(self) -> list[SIValue]:
        """Every bound that it has."""
        return [bound for both in (self.individual, self.average) if both for bound in both.stated]


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
        rules = [rule for rule in self.rules if rule.prepreg is None and not rule.process]
        of_zones = {rule.zone: rule for rule in rules if rule.attribute == attribute}
        return of_zones.get(zone) or of_zones.get(None)

    def laminate_attributes(self) -> list[str]:
        """Attributes that some zone is held to, in the order of the file."""
        return list(dict.fromkeys(r.attribute for r in self.rules if r.prepreg is None and not r.process))


class _LimitsReader:
    """The table [limits] on its way to rules; findings go to the view of the file."""

    def __init__(self, file: RawFile) -> None:
        self.file, self.say, self.note = file, file.say, file.note
        self.zones, self.prepregs = list(file.table("zone")), list(file.table("prepreg"))

    def settings(self, raw: Mapping[str, Any]) -> dict[str, float | None]:
        settings: dict[str, float | None] = {}
        for key, (low, high) in NUMBERS.items():
            number = raw.get(key, low)
            if isinstance(number, bool) or not isinstance(number, (int, float)) or not low <= number <= high:
                expected = f"a plain number from {low:g} to {high:g}"
                self.say("wrong-value", ("limits", key), repr(number), expected)
            elif key in raw:
                settings[key] = float(number)
        for key, (example, least) in SHARES.items():
            if key in raw:
                with self.file.telling("unreadable-value", ("limits", key)):
                    settings[key] = _share(raw[key], example, least)
        if "coverage_factor" in raw:
            if "confidence" in raw:
                self.note(both_given, ("limits", "coverage_factor"), "confidence", "coverage_factor")
            settings["confidence"] = None
        return settings

    def bound(self, raw: Any, keys: Keys, kind: str, basis: str = "") -> SIValue | None:
        if kind == "any":
            kind = (kind_of(raw) if isinstance(raw, str) else None) or "number"
        with self.file.telling("unreadable-value", keys):
            value = parse(raw, kind)
            check_basis(value, basis)
            if value.u is not None:
                self.note(inexact_limit, keys, value.text)
            return value
        return None

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
        if (
            low
            and high
            and low.value >= high.value
            and (kind != "any" or kind_of(low.text) == kind_of(high.text))
        ):
            self.say("min-above-max", keys, f"min '{low.text}' not below max '{high.text}'", "min below max")
        return Bounds(low, high)

    def rule(self, raw: Any, keys: Keys, others: Sequence[str] = (), **where: Any) -> Iterator[Rule]:
        """One rule; others: keys that may stand beside its bounds."""
        if not isinstance(raw, Mapping):
            self.say("wrong-type", keys, repr(raw), "individual = { min, max } or average = { min, max }")
            return
        self.unknown(raw, keys, [*BOUNDED, *others])
        known = None if where.get("process") else ATTRIBUTES[where["attribute"]]
        kind, basis = (known.kind, known.basis) if known else ("any", "")
        parts = {k: self.bounds(raw[k], (*keys, k), kind, basis) for k in BOUNDED if k in raw}
        if not parts:
            self.note(missing_key, keys, BOUNDED, "{ min = ..., max = ... }")
        rule = Rule(**(where | parts))
        if not known:
            self.of_one_kind(rule, keys)
        yield rule

    def of_one_kind(self, rule: Rule, keys: Keys) -> None:
        """The bounds of a process reading, of each and of the average, are of one kind of quantity."""
        for which, both in (("individual", rule.individual), ("average", rule.average)):
            for bound in both.stated if both else ():
                if kind_of(bound.text) != rule.kind:
                    expected = f"a limit of the same kind of quantity as '{rule.bounds[0].text}'"
                    self.say("wrong-kind", (*keys, which), f"'{bound.text}'", expected)

    def table(self, raw: Any, keys: Keys, expected: str) -> Mapping[str, Any]:
        """What stands at a key path; empty where it is no table, which is noted."""
        if isinstance(raw, Mapping):
            return raw
        self.say("wrong-type", keys, repr(raw), expected)
        return {}

    def unknown(self, raw: Mapping[str, Any], keys: Keys, known: Sequence[str]) -> None:
        for key in (key for key in raw if key not in known):
            self.note(unknown_key, (*keys, key), key, known)

    def attribute(self, key: str, raw: Any) -> Iterator[Rule]:
        keys = ("limits", key)
        zoned = [zone for zone in self.zones if isinstance(raw, Mapping) and zone in raw]
        if not isinstance(raw, Mapping) or not raw or not raw.keys().isdisjoint(BOUNDED):
            yield from self.rule(raw, keys, self.zones, attribute=key)
        else:
            self.unknown(raw, keys, [*BOUNDED, *self.zones])
        for zone in zoned:
            yield from self.rule(raw[zone], (*keys, zone), attribute=key, zone=zone)

    def prepreg(self, raw: Any) -> Iterator[Rule]:
        keys = ("limits", "prepreg")
        raw = self.table(raw, keys, "a table: limits.prepreg.NAME.resin_content")
        self.unknown(raw, keys, self.prepregs)
        for name in (name for name in self.prepregs if isinstance(raw.get(name), Mapping)):
            self.unknown(raw[name], (*keys, name), PREPREG_ATTRIBUTES)
            for key in (key for key in raw[name] if key in PREPREG_ATTRIBUTES):
                yield from self.rule(raw[name][key], (*keys, name, key), attribute=key, prepreg=name)

    def process(self, raw: Any) -> Iterator[Rule]:
        expected = 'a table: limits.process."cure temperature"'
        for key, inner in self.table(raw, ("limits", "process"), expected).items():
            keys, at = ("limits", "process", key), None
            if isinstance(inner, Mapping) and "temperature" in inner:
                at = self.bound(inner["temperature"], (*keys, "temperature"), "temperature")
            yield from self.rule(inner, keys, ["temperature"], attribute=key, process=True, temperature=at)


def _share(text: Any, example: str, least: float) -> float:
    """A percentage from the least to below 100. Raises `Unreadable`."""
    share = parse(text, "fraction").value
    if not least <= share < 1.0:
        words = f'a percentage from {100.0 * least:.0f} to below 100, such as "{example}"'
        raise Unreadable(repr(text), words)
    return share


def read_limits(file: RawFile) -> Limits:
    """The limits of a part; every finding in them is noted."""
    given, reader = file.at("limits"), _LimitsReader(file)
    raw = reader.table({} if given is None else given, ("limits",), "a table")
    settings = reader.settings(raw)
    reader.unknown(raw, ("limits",), [*NUMBERS, *SHARES, "prepreg", "process", *ATTRIBUTES])
    apart = {"prepreg": reader.prepreg, "process": reader.process}
    rules: list[Rule] = []
    for key, inner in raw.items():
        if key in ATTRIBUTES:
            rules += reader.attribute(key, inner)
        elif key in apart:
            rules += apart[key](inner)
    return Limits(**settings, rules=tuple(rules))  # type: ignore[arg-type]
