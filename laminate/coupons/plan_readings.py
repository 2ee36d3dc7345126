"""The readings that the plan of a part wants of each coupon, and those that a coupon lacks."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator
from itertools import combinations
from typing import TYPE_CHECKING

from laminate.coupons.instruments import bench_of
from laminate.coupons.methods import DENSITY_COLUMNS
from laminate.coupons.readings import CRUCIBLE, PREPREG_COLUMNS, WEIGHED_IN_LIQUID
from laminate.files.coupons import LOSS_METHODS, NUMBERS, Coupon, base_name
from laminate.files.entries import histories_of
from laminate.files.method_names import methods_in
from laminate.press.stack import prepregs_of
from laminate.values.problems import Problem, near_hint
from laminate.values.sequences import by_key

if TYPE_CHECKING:
    from laminate.files.batch import Case
    from laminate.files.part import Plan

ZoneOf = Callable[[Coupon], "str | None"]

NO_ZONE = "'zone'"
"""What a coupon lacks that tells no zone, where there are several."""
_ALIKE = str.maketrans("olis", "0115")
_OWN = {
    **{way: tuple(c for c in columns if c != "mass in air") for way, columns in DENSITY_COLUMNS.items()},
    **dict.fromkeys(LOSS_METHODS, ("specimen mass", "residue mass", *CRUCIBLE)),
    "thickness": ("thickness",),
    "areal weight": ("area", "length", "width"),
    "point count": ("points", "fiber points", "void points"),
}
"""Columns whose readings belong to a method alone."""
_WORDS = {
    **dict.fromkeys(LOSS_METHODS, (("method",),)),
    "point count": (("field",), ("points",), ("fiber points",)),
}
"""Columns of words and counts without which a method says nothing."""


def methods_of(coupon: Coupon, plan: Plan) -> list[str]:
    """The methods of the plan that a coupon was cut for: all, or those in its cell `only`."""
    only = methods_in(coupon.word("only"))
    return [method for method in plan.measured_by if method in only or not only]


def zone_of(case: Case) -> ZoneOf:
    """How a coupon finds its zone: by its cell, or as the only zone of the part."""
    zones = list(case.part.zone)
    lone = zones[0] if len(zones) == 1 else None
    return lambda coupon: coupon.word("zone") or lone


def wrong_only(case: Case, coupons: Iterable[Coupon]) -> Iterator[Problem]:
    """Cells `only` that name no method of the plan, or another one than what was measured.

    Read are the table and its history: a reading that was taken out was made all the same.
    """
    rows = [coupon for coupon in coupons if coupon.word("only") and coupon.kind == "specimen"]
    if not rows:
        return
    zone, typed = zone_of(case), _typed(case)
    for coupon in rows:
        plan = case.part.plan.get(zone(coupon) or "")
        if plan is None or not plan.measured_by:
            continue
        only = methods_in(coupon.word("only"))
        planned = ", ".join(plan.measured_by)
        for odd in (method for method in only if method not in plan.measured_by):
            hint = near_hint(odd, plan.measured_by)
            expected = f"methods of its plan: {planned}; an empty cell where it was cut for all of them"
            yield coupon.problem("wrong-word", "only", f"'{odd}'", expected, hint)
        measured = {base_name(label) for label in coupon.numbers} | typed.get(coupon.specimen, set())
        measured |= {"points"} if coupon.fields else set()
        mine = {column for method in only for column in _OWN.get(method, ())}
        for method in plan.measured_by:
            others = [c for c in _OWN[method] if c in measured and c not in mine]
            if method not in only and others and set(only) <= {*plan.measured_by}:
                what = f"'{coupon.word('only')}', and {coupon.specimen} has or had '{others[0]}'"
                expected = "methods that include every one it was measured by"
                hint = f"write '{coupon.word('only')}, {method}', or leave the cell empty"
                yield coupon.problem("contradicting", "only", what, expected, hint)


def _typed(case: Case) -> dict[str, set[str]]:
    """Specimen -> the columns that its history tells a reading of."""
    typed: dict[str, set[str]] = {}
    for history in histories_of(case.coupon_files()).values():
        for line in history.lines:
            column = base_name(line.label)
            if column in NUMBERS and (line.new or line.old):
                typed.setdefault(line.specimen, set()).add(column)
    return typed


def _columns(case: Case, coupon: Coupon, method: str) -> Iterator[tuple[str, ...]]:
    """What a method reads: each entry the columns of which one is enough."""
    if method in WEIGHED_IN_LIQUID:
        yield from ((column,) for column in WEIGHED_IN_LIQUID[method])
        bench = bench_of(case)
        if bench.liquid_density is None:
            yield ("liquid temperature", "liquid density") if bench.liquid == "water" else ("liquid density",)
    elif method in LOSS_METHODS:
        columns = CRUCIBLE if any(map(coupon.has, CRUCIBLE)) else ("specimen mass", "residue mass")
        yield from ((column,) for column in columns)
    elif method == "areal weight":
        yield from (("area", "length"), ("area", "width"), ("mass in air",))
    elif method != "point count":
        yield from ((column,) for column in DENSITY_COLUMNS.get(method, (method,)))


def columns_lacking(case: Case, columns: Collection[str]) -> list[str]:
    """The columns that the plans want and no table has; columns: those of all tables."""
    could_have = Coupon("", "", dict.fromkeys(columns, 0.0))
    lacks = [
        alternatives[0]
        for plan in case.part.plan.values()
        for method in plan.measured_by
        for alternatives in (*_columns(case, could_have, method), *_WORDS.get(method, ()))
        if not {*columns} & {*alternatives}
    ]
    return list(dict.fromkeys(lacks))


def _fields_lacking(coupon: Coupon, planned: int) -> Iterator[str]:
    """Fields that are not counted, and constituents that are counted in some of the fields alone."""
    wanted = max(planned, len(coupon.fields))
    if missing := wanted - len(coupon.fields):
        yield f"point count in {missing} of {wanted} fields"
    for constituent in ("fiber", "void"):
        empty = sum(getattr(field, constituent) is None for field in coupon.fields)
        if 0 < empty < len(coupon.fields):
            yield f"{constituent} points in {empty} of {wanted} fields"


def lacking(case: Case, coupon: Coupon, plan: Plan, methods: Iterable[str]) -> list[str]:
    """What a coupon lacks: methods of which nothing is there, else columns and repeats."""
    missing_texts: list[str] = []
    for method in methods:
        if method == "point count":
            missing_texts += _fields_lacking(coupon, plan.fields)
            continue
        wanted = list(_columns(case, coupon, method))
        missing = [alternatives[0] for alternatives in wanted if not any(map(coupon.has, alternatives))]
        other = method in LOSS_METHODS and coupon.word("method") != method
        its_own = [c for alternatives in wanted if "mass in air" not in alternatives for c in alternatives]
        if other or (missing and not any(map(coupon.has, its_own))):
            missing_texts.append(method)
            continue
        missing_texts += [f"'{column}'" for column in missing]
        for column in dict.fromkeys(c for alternatives in wanted for c in alternatives if coupon.has(c)):
            there, least = len(coupon.readings(column)), plan.repeats_of(column)
            if there < least:
                missing_texts.append(f"'{column}' {least - there} of {least} times")
    return list(dict.fromkeys(missing_texts))


def prepregs_tested(case: Case, coupon: Coupon) -> list[str]:
    """The prepregs that an incoming test can be of: that of its lot, else of any lot, else of the part."""
    lots = {lot.number: lot.prepreg for lot in case.batch.lot}
    mine = coupon.word("lot") and lots.get(coupon.word("lot"))
    return [mine] if mine else list(dict.fromkeys(lots.values())) or [*case.part.prepreg]


def lot_lacking(case: Case, coupon: Coupon) -> str:
    """What tells the prepreg of an incoming test that can be of several, '' where it can be of one alone."""
    prepregs, lots = prepregs_tested(case, coupon), [lot for lot in case.batch.lot if lot.number]
    if len(prepregs) == 1 or not any(map(coupon.has, PREPREG_COLUMNS)):
        return ""
    if lots:
        return f"'lot': one of {', '.join(f'{lot.number} ({lot.prepreg})' for lot in lots)}"
    names, number = " or ".join(f'"{name}"' for name in prepregs), coupon.word("lot") or "..."
    also = "" if coupon.word("lot") else ", and this number as its 'lot'"
    return f'[[lot]] in {case.name}: prepreg = {names}, number = "{number}"{also}'


def incomplete(case: Case, coupons: Iterable[Coupon]) -> dict[str, list[str]]:
    """Specimen -> what it lacks, of every planned zone; an incoming test lacks what tells its prepreg.

    An excluded one lacks nothing where an `[[exclusion]]` tells its cause: of all its readings, or of the
    method that it names.
    """
    missing_by_name: dict[str, list[str]] = {}
    zone, rows = zone_of(case), [coupon for coupon in coupons if coupon.kind == "specimen"]
    by_lot = _by_lot(case, {zone(coupon) for coupon in rows if coupon.word("lot")})
    planned = any(plan.most for plan in case.part.plan.values())
    for coupon in rows:
        coupon_zone = zone(coupon)
        plan = case.part.plan.get(coupon_zone or "")
        approved = [e.method for e in case.batch.exclusion if e.specimen == coupon.specimen]
        approved = approved if coupon.word("excluded") else []
        if "" in approved:
            continue
        if lot := lot_lacking(case, coupon):
            missing_by_name[coupon.specimen] = [lot]
        if any(map(coupon.has, PREPREG_COLUMNS)):
            continue
        if coupon_zone is None and planned:
            missing_by_name[coupon.specimen] = [NO_ZONE]
        if plan is None or not plan.most:
            continue
        methods = [method for method in methods_of(coupon, plan) if method not in approved]
        if approved and not methods:
            continue
        lacks = lacking(case, coupon, plan, methods)
        if coupon_zone in by_lot and not coupon.word("lot"):
            lacks.append("'lot'")
        if lacks:
            missing_by_name[coupon.specimen] = lacks
    return missing_by_name


def _by_lot(case: Case, named: Iterable[str | None]) -> set[str]:
    """The zones of several lots of which coupons name theirs: one that does not would take their mean."""
    lots = [lot.prepreg for lot in case.batch.lot]
    zones = [zone for zone in named if zone is not None and zone in case.part.zone]
    return {z for z in zones if any(lots.count(p) > 1 for p in prepregs_of(case.part, case.part.zone[z]))}


def incomplete_words(
    missing_by_method: dict[str, list[str]], pairs: Iterable[tuple[str, str]] | None = None
) -> str:
    """The incomplete specimens in one line, '' where there is none; two names alike are asked about.

    pairs: of names to ask about, those alike among the incomplete where it is not said.
    """
    clauses = [f"{name} lacks {', '.join(what)}" for name, what in missing_by_method.items()]
    asked = alike_pairs(missing_by_method) if pairs is None else pairs
    clauses += [two_names(name, other) for name, other in asked]
    return f"incomplete: {'; '.join(clauses)}" if clauses else ""


def begun_words(case: Case, coupons: Collection[Coupon]) -> str:
    """As `incomplete_words`, of coupons that are being measured: of those alone that have a reading.

    A name with readings is asked about too where one like it has none: it was planned, and another was typed.
    """
    begun = {coupon.specimen for coupon in coupons if coupon.numbers or coupon.fields}
    missing = incomplete(case, coupons)
    pairs = [
        (name, other)
        for name, other in alike_pairs(coupon.specimen for coupon in coupons if coupon.kind == "specimen")
        if (name in begun) != (other in begun) or (name in begun and {name, other} <= missing.keys())
    ]
    return incomplete_words({name: what for name, what in missing.items() if name in begun}, pairs)


def two_names(name: str, other: str) -> str:
    """What is asked of two names that are read alike."""
    return f"{name} and {other}: one coupon under two names?"


def alike_pairs(names: Iterable[str]) -> list[tuple[str, str]]:
    """Names that are read alike, two by two."""
    groups = by_key((alike(name), name) for name in dict.fromkeys(names)).values()
    return [pair for group in groups for pair in combinations(group, 2)]


def alike(name: str) -> str:
    """A name as it is read in a hurry: without case, space, punctuation, leading zeros, look-alikes.

    >>> alike("F-3") == alike("f03"), alike("S1O") == alike("510"), alike("F3") == alike("F4")
    (True, True, False)
    """
    plain = re.sub(r"[\W_]", "", name.casefold()).translate(_ALIKE)
    return re.sub(r"(?<!\d)0+(?=\d)", "", plain)
