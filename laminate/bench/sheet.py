"""The blank coupon table of a batch: columns that the plan asks for, specimens, what a cell may hold."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.coupons.checks import LOSS_BLANKS, ORDERS, Order
from laminate.coupons.methods import DENSITY_COLUMNS
from laminate.coupons.readings import COLDEST, CRUCIBLE, HOTTEST, WEIGHED_IN_LIQUID
from laminate.files.coupons import BOUNDS, KINDS, LOSS_METHODS, NUMBERS, base_name
from laminate.files.method_names import METHODS
from laminate.files.table import TABLE_WORDS
from laminate.values.cautions import DIGESTION, FURNACE
from laminate.values.problems import Refused, refusal, unknown_name
from laminate.values.quantities import DEG_C, KIND_UNITS, US, Unit, shown
from laminate.values.said import Said, between, say_in
from laminate.values.units import Unreadable, parse_spread

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.table import Table

WORDS: dict[str, str] = {
    name: words for names in TABLE_WORDS["columns"].values() for name, words in names.items()
}
"""What to write in a column."""

READINGS = 3
"""Columns for the thickness: common practice, no source; any number may be added."""

PIECES = 3
"""Rows a lot for the incoming test of a prepreg: common practice, no source; any number may be added."""

SINKER = "sinker mass in liquid"
_LOSS = ("crucible", *CRUCIBLE)
_LIQUID = ("liquid temperature", "liquid density")
OTHER_ROWS = {
    **dict.fromkeys(LOSS_BLANKS, (*_LOSS, "method", "balance", "specimen mass", "residue mass")),
    "check standard": (*WEIGHED_IN_LIQUID["immersion"], *_LIQUID, SINKER, "balance", "density"),
}
"""What is typed of a row that is no specimen, by its kind."""
US_KINDS = ("temperature", "length", "area")
"""Kinds of quantity that a sheet in US units has in these; laboratories weigh in grams."""
HALF = 0.5
STEPS = {"plies": 1, "points": 1, "fiber points": HALF, "void points": HALF}
"""Columns of counts, and the step of their numbers."""
_COUNTED = tuple(Order(name, "points", level=True) for name in ("fiber points", "void points"))
_PREPREG = ("area", "prepreg mass", "backing mass", "fiber mass", "dried mass")
_COLUMNS = {
    **DENSITY_COLUMNS,
    "digestion": _LOSS,
    "ignition": _LOSS,
    "thickness": ("thickness",),
    "areal weight": ("mass in air", "length", "width"),
    "point count": ("field", "points", "fiber points", "void points"),
}


@dataclass(frozen=True)
class Column:
    """One column of a blank table.

    name: without number; label: with it; heading: as written; words: what to write; choices: the only words
    allowed, empty where anything is; bounds: of a number in the unit of the heading: low, whether that itself
    is allowed, high, and these in words; orders: '<' or '>', the cells of its row that it must stay below or
    above, and whether it may be equal; sinker: label of the cell whose mass is taken from a mass in liquid
    before that.
    """

    name: str
    label: str
    heading: str
    words: str
    choices: tuple[str, ...] = ()
    bounds: tuple[float, bool, float, str] | None = None
    orders: tuple[tuple[str, str, bool], ...] = ()
    sinker: str = ""

    @property
    def in_liquid(self) -> bool:
        """Whether it must keep an order with a mass in liquid, which a sinker may outweigh."""
        return "mass in liquid" in {self.name if sign == "<" else other for sign, other, _ in self.orders}


@dataclass(frozen=True)
class Blank:
    """A blank table: columns, prefilled rows of text (one cell a column), and the page that explains it."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    filling_in: tuple[str, ...]
    cautions: tuple[str, ...]


def heading(label: str, units: str = "metric") -> str:
    """The heading of a column with its unit; label: with the number of a repeat; units: 'metric' or 'us'.

    >>> heading("thickness 2"), heading("lot"), heading("liquid temperature", "us")
    ('thickness 2 [mm]', 'lot', 'liquid temperature [degF]')
    """
    unit = _unit(name, units).text if (name := base_name(label)) in NUMBERS else ""
    return f"{label} [{unit}]" if unit else label


def _unit(column: str, units: str) -> Unit:
    """The unit of the heading of a column."""
    unit = KIND_UNITS[kind := NUMBERS[column]]
    return US[unit] if units == "us" and kind in US_KINDS else unit


def blank_table(
    case: Case,
    *,
    zones: Sequence[str] = (),
    methods: Sequence[str] = (),
    specimens: int | None = None,
    fields: int | None = None,
    units: str = "metric",
    prepregs: Sequence[str] = (),
    sinker: bool = False,
    tables: Sequence[Table] = (),
) -> Blank:
    """The blank table that a batch's part plans.

    zones: of the part, those with a plan where none is named; methods and specimens (in each zone): in the
    place of the plan's; fields: rows a specimen for point counts, as planned where None; units: 'metric' or
    'us'; prepregs: whose incoming test has rows below those of the zones, and the only ones where the part
    has no plan and no zone or method is named; sinker: whether specimens are weighed with one; tables: of
    the batch, whose names are not given again where they have readings of the same columns.
    Raises `Refused` for an unknown zone, method or prepreg, a sinker without a method that weighs in a
    liquid, and where nothing says what is to be measured.
    """
    _check_names("--prepreg", prepregs, case.part.prepreg, "a prepreg of the part file")
    alone = bool(prepregs) and not (zones or methods or case.part.plan)
    wanted = [] if alone else _zones(case, zones)
    used = {zone: _methods(case, zone, methods) for zone in wanted}
    every = list(dict.fromkeys(method for chosen in used.values() for method in chosen))
    if sinker and not any(method in WEIGHED_IN_LIQUID for method in every):
        expected = f"a method that weighs in a liquid: {', '.join(WEIGHED_IN_LIQUID)}"
        raise refusal("sinker-unused", "", "--sinker", ", ".join(every) or "no method", expected)
    names = _names(case, wanted, every, prepregs, sinker=sinker)
    taken, shared = _in_use(tables, names)
    rows: list[dict[str, str]] = []
    for zone in wanted:
        planned = case.part.plan[zone].fields if zone in case.part.plan else 1
        repeats = (fields or planned) if "point count" in used[zone] else 1
        rows += _rows(case, zone, used[zone], specimens, repeats, taken)
    rows += _other_rows(case, every, taken)
    for name in dict.fromkeys(prepregs):
        rows += _pieces(case, name, taken)
    if any(known.get("only") for known in rows):
        names.insert(names.index("kind"), "only")
    columns = tuple(_columns(case, wanted, names, units))
    cells = tuple(tuple(known.get(column.name, "") for column in columns) for known in rows)
    cautions = [*(FURNACE if "ignition" in every else ()), *(DIGESTION if "digestion" in every else ())]
    cautions += stated_blanks(case, every)
    if both := [name for name in dict.fromkeys(known["specimen"] for known in rows) if name in shared]:
        cautions.append(f"Measured in another table already: {', '.join(both)}. These readings join those.")
    part, batch = case.part.part, case.batch.batch
    title = f"batch {batch.id}, part {part.number} issue {part.issue}"
    logged = any(resin.gel_time for resin in case.part.resin.values())
    logged = logged or any(rule.process for rule in case.part.limits.rules)
    page = TABLE_WORDS["sheet"]
    filling_in = (*page["filling_in"], *(page["the_log"] if logged else ()))
    return Blank(title, columns, cells, filling_in, (*cautions, *page["always"]))


def stated_blanks(case: Case, methods: Sequence[str]) -> Iterator[str]:
    """What to do where the part asks for blanks and the batch file has the shares of earlier ones."""
    if case.batch.blank is not None and _least_blanks(case, methods):
        yield f"{case.name}: remove [blank]: the part asks for blanks, whose rows replace it."


def _least_blanks(case: Case, methods: Sequence[str]) -> int:
    return 0 if {*methods}.isdisjoint(LOSS_METHODS) else case.part.part.blanks


def _in_use(tables: Sequence[Table], columns: Sequence[str]) -> tuple[set[str], set[str]]:
    """Names in tables that have a reading in one of some columns, which are taken; and in others alone."""
    taken: set[str] = set()
    shared: set[str] = set()
    for table in tables:
        names = [heading.name for heading in table.headings]
        for row in table.rows:
            cells = {name: text for name, text in zip(names, row.cells, strict=True) if text}
            if read := {*cells} & {*NUMBERS} - {"plies"}:
                (shared if read.isdisjoint(columns) else taken).add(cells.get("specimen", ""))
    return taken, shared - taken


def _free(begin: str, digits: int, taken: Collection[str]) -> Iterator[str]:
    """Names that no table has: a beginning and a number, from 1."""
    known = {name.lstrip("0") for name in taken}
    names = (f"{begin}{number:0{digits}d}" for number in itertools.count(1))
    return (name for name in names if name.lstrip("0") not in known)


def columns_of(method: str) -> tuple[str, ...]:
    """The columns that only coupons cut for a method need."""
    if method in WEIGHED_IN_LIQUID:
        return (*WEIGHED_IN_LIQUID[method], *_LIQUID, SINKER)
    return (*_COLUMNS[method], *(("method",) if method in LOSS_METHODS else ()))


def _check_names(
    option: str, names: Sequence[str], known: Collection[str], what: str, *, listed: bool = False
) -> None:
    """Raise `Refused` for the first name of an option that is not known; listed: as of `unknown_name`."""
    for name in (name for name in names if name not in known):
        raise Refused(unknown_name("", option, name, what, known, listed=listed))


def _zones(case: Case, zones: Sequence[str]) -> list[str]:
    part = case.part
    _check_names("--zone", zones, part.zone, "a zone of the part file")
    planned = [zone for zone, plan in part.plan.items() if plan.most]
    return list(dict.fromkeys(zones)) or planned or list(part.zone)


def _methods(case: Case, zone: str, methods: Sequence[str]) -> list[str]:
    _check_names("--method", methods, METHODS, f"one of {', '.join(METHODS)}", listed=True)
    plan = case.part.plan.get(zone)
    chosen = list(methods) or (plan.measured_by if plan else [])
    if not chosen:
        expected = f"methods under [plan.{zone}] of the part file"
        hint = "or name them here: --method immersion --method digestion"
        raise refusal("no-plan", "", f"zone '{zone}'", "no method to measure by", expected, hint)
    return chosen


def _rows(
    case: Case, zone: str, methods: Sequence[str], specimens: int | None, fields: int, taken: Collection[str]
) -> Iterator[dict[str, str]]:
    """What is known of each row: names are text, two digits for the zone and two for the specimen."""
    plan = case.part.plan.get(zone)
    positions = plan.positions if plan else []
    count = specimens or (plan.most if plan else 1)
    lots = case.batch.lot
    place = 1 + list(case.part.zone).index(zone)
    for number, name in zip(range(1, count + 1), _free(f"{place:02d}", 2, taken), strict=False):
        known = {"specimen": name, "zone": zone}
        cut_for = list(methods)
        if plan and specimens is None and cut_for == plan.measured_by:
            cut_for = [method for method in plan.measured_by if plan.of(method) >= number]
            known["only"] = "; ".join(cut_for) if cut_for != plan.measured_by else ""
        losses = [method for method in cut_for if method in LOSS_METHODS]
        known["position"] = positions[(number - 1) % len(positions)] if positions else ""
        known["lot"] = lots[0].number if len(lots) == 1 else ""
        known["method"] = losses[0] if len(losses) == 1 else ""
        seen = fields if "point count" in cut_for else 1
        yield {**known, **({"field": "1"} if seen > 1 else {})}
        for field in range(2, seen + 1):
            yield {"specimen": name, "zone": zone, "field": str(field)}


def _other_rows(case: Case, methods: Sequence[str], taken: Collection[str]) -> Iterator[dict[str, str]]:
    """The rows of the blanks, of resin and fiber in turns, and check standards that the part asks for."""
    losses = [method for method in methods if method in LOSS_METHODS]
    blanks = range(_least_blanks(case, methods))
    for number, name in zip(blanks, _free("B", 1, taken), strict=False):
        kind = "blank fiber" if number % 2 else "blank resin"
        yield {"specimen": name, "kind": kind, "method": losses[0] if len(losses) == 1 else ""}
    standards = range(0 if {*methods}.isdisjoint(WEIGHED_IN_LIQUID) else case.part.part.check_standards)
    for _, name in zip(standards, _free("S", 1, taken), strict=False):
        yield {"specimen": name, "kind": "check standard"}


def _pieces(case: Case, prepreg: str, taken: Collection[str]) -> Iterator[dict[str, str]]:
    """The rows of the incoming test of a prepreg: pieces of each of its lots."""
    place = 1 + list(case.part.prepreg).index(prepreg)
    lots = [lot.number for lot in case.batch.lot if lot.prepreg == prepreg] or [""]
    wanted = case.part.prepreg[prepreg].tested_pieces or PIECES
    pieces = [lot for lot in lots for _ in range(wanted)]
    for lot, name in zip(pieces, _free(f"P{place:02d}", 2, taken), strict=False):
        yield {"specimen": name, "lot": lot}


def prepregs_to_test(case: Case) -> list[str]:
    """The prepregs that the part wants tested, and those with limits that no certificate of a lot answers."""
    from laminate.press.prepreg_lots import lot_values

    wanted = [name for name, prepreg in case.part.prepreg.items() if prepreg.tested_pieces]
    held = [(rule.prepreg, rule.attribute) for rule in case.part.limits.rules]
    wanted += [name for name, what in held if name and not lot_values(case, name, what)]
    return list(dict.fromkeys(wanted))


def _repeats(case: Case, zones: Sequence[str], name: str) -> Sequence[str]:
    """Labels of the columns of a reading: as many as a plan asks for, without a number where one will do."""
    plans = [case.part.plan[zone] for zone in zones if zone in case.part.plan]
    asked = max((plan.repeats_of(name) for plan in plans), default=1)
    stated = any(name in plan.repeats for plan in plans)
    asked = READINGS if name == "thickness" and not stated else asked
    return [f"{name} {number}" for number in range(1, asked + 1)] if asked > 1 else [name]


def _columns(case: Case, zones: Sequence[str], names: Sequence[str], units: str) -> Iterator[Column]:
    choices = choices_of(case, zones)
    labels = [(name, label) for name in names for label in _repeats(case, zones, name)]
    for name, label in labels:
        if name not in NUMBERS:
            yield Column(name, label, heading(name), WORDS[name], choices.get(name, ()))
            continue
        bounds, orders = _bounds(case, name, names, units), tuple(_orders(name, names))
        sinker = SINKER if SINKER in names else ""
        yield Column(name, label, heading(label, units), WORDS[name], (), bounds, orders, sinker)


def _names(
    case: Case, zones: Sequence[str], methods: Sequence[str], prepregs: Sequence[str], *, sinker: bool
) -> list[str]:
    """The columns in the order of the work; a sinker hangs in the liquid before a specimen does."""
    names = ["specimen", *(("zone", "position") if zones else ()), "kind"]
    names += ["lot"] if case.batch.lot or prepregs else []
    names += ["balance"] if len(balances(case)) > 1 else []
    names += ["plies"] if any(zone not in case.batch.batch.plies for zone in zones) else []
    for method in methods:
        names += _COLUMNS[method]
        if method in WEIGHED_IN_LIQUID:
            names += liquid_columns(case)
        if method in LOSS_METHODS and "method" not in names:
            names.insert(names.index("crucible"), "method")
    if sinker:
        names.insert(names.index("mass in liquid"), SINKER)
    if case.part.part.check_standards and not {*methods}.isdisjoint(WEIGHED_IN_LIQUID):
        names.append("density")
    names += _PREPREG if prepregs else ()
    again = any(case.part.plan[zone].retests for zone in zones if zone in case.part.plan)
    last = ("operator", *(("replaces",) if again else ()), "remark", "excluded", "accepted")
    return list(dict.fromkeys([*names, *last]))


def liquid_columns(case: Case) -> list[str]:
    """The column that says how dense the liquid is: none where the batch file does."""
    laboratory = case.batch.laboratory
    if laboratory.liquid_density is not None:
        return []
    return [_LIQUID[laboratory.liquid.strip().casefold() != "water"]]


def choices_of(case: Case, zones: Sequence[str] = ()) -> dict[str, tuple[str, ...]]:
    """The words that a column may hold, by column; a column that may hold any is left out.

    zones: whose positions count, all where none is named.
    """
    plans = [case.part.plan[zone] for zone in zones or case.part.zone if zone in case.part.plan]
    choices = {
        "zone": tuple(case.part.zone),
        "position": tuple(dict.fromkeys(position for plan in plans for position in plan.positions)),
        "kind": KINDS,
        "method": LOSS_METHODS,
        "lot": tuple(dict.fromkeys(lot.number for lot in case.batch.lot)),
        "balance": tuple(balances(case)),
        "liquid balance": tuple(balances(case)),
    }
    return {column: words for column, words in choices.items() if words}


def balances(case: Case) -> list[str]:
    """The instruments that weigh: by their name, or by the unit of their repeatability or calibration."""

    def weighs(text: str) -> bool:
        with suppress(Unreadable):
            return not parse_spread(text, "mass").relative
        return False

    return [
        name
        for name, instrument in case.batch.instrument.items()
        if "balance" in name
        or any(weighs(spread.text) for spread in (instrument.repeatability, instrument.calibration) if spread)
    ]


def _bounds(case: Case, name: str, names: Sequence[str], units: str) -> tuple[float, bool, float, str]:
    """Bounds of a column in the unit of its heading, and in words."""
    low, equal, high, words = BOUNDS[name]
    unit = _unit(name, units)
    if name == "liquid temperature" and "water" in case.batch.laboratory.liquid.casefold():
        low, equal, high = COLDEST, True, HOTTEST
        words = Said("water from ", between(COLDEST, HOTTEST, DEG_C))
    if name == "mass in liquid" and SINKER not in names:
        low, equal, words = 0.0, False, "a mass above 0 (a coupon that floats needs a sinker)"
    least, most = (round(shown(bound, unit), 9) for bound in (low, high))
    if unit not in US.values():
        units = "metric"  # as the heading: masses are in grams on every sheet
    return least, equal, most, f"{say_in(words, units)}{', in halves' if STEPS.get(name) == HALF else ''}"


def _orders(name: str, names: Sequence[str]) -> Iterator[tuple[str, str, bool]]:
    """The columns that are here and that a column must stay below, then above, and may be equal to or not."""
    there = [order for order in (*ORDERS, *_COUNTED) if {*order[:2]} <= {*names}]
    yield from (("<", order.large, order.level) for order in there if order.small == name)
    yield from ((">", order.small, order.level) for order in there if order.large == name)
