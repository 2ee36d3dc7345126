"""What the plan of a part asks of a batch, and what a batch leaves out of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from laminate.coupons.checks import awaited
from laminate.coupons.plan_readings import NO_ZONE, alike_pairs, incomplete, methods_of, two_names
from laminate.files.batch import lot_name
from laminate.files.coupons import base_name
from laminate.files.named_file import relative_name
from laminate.files.not_recorded import NotRecorded
from laminate.files.reasons import is_stated
from laminate.judging.open_point import OpenPoint

if TYPE_CHECKING:
    from laminate.coupons.measured import Specimen
    from laminate.files.batch import Case
    from laminate.files.coupons import Coupon
    from laminate.judging.evidence import BatchEvidence
    from laminate.judging.open_point import Rule

INCOMPLETE, UNPLANNED, LAYUP, ASKED, BLANKS = 1, 4, 8, 9, 11
BACKING = "backing mass"
APPROVAL = 'cause = "...", approved_by = "...", number = "...", date = YYYY-MM-DD'
"""What an exclusion tells beside its specimen."""
BY_LAYUP = ("fiber_volume", "resin_volume", "void_content")


def plan_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Specimens that lack a reading, pairs of names alike, and more or fewer names than were cut."""
    case, measured = judged.case, judged.measured
    by_name = {s.name: s for s in (*measured.specimens, *measured.prepregs)}
    lacks = incomplete(case, [s.coupon for s in by_name.values()])
    for name, missing in lacks.items():
        coupon = by_name[name].coupon
        say = f"{coupon.file}, coupon {name}: {', '.join(missing)}"
        if cut_for := _cut_for(case, by_name[name], missing):
            say += f", or only = {'; '.join(cut_for)} if it was cut for nothing else"
        if not (coupon.numbers or coupon.words or coupon.fields):
            say += "; or remove the row if it is a note and no coupon"
        if by_name[name].excluded:
            say = f'{case.name}, [[exclusion]]: specimen = "{name}", {APPROVAL}'
        yield OpenPoint(INCOMPLETE, f"incomplete: {name} lacks {', '.join(missing)}", say)
    for name, other in alike_pairs(lacks):
        say = f"{by_name[other].coupon.file}: one name for one coupon"
        yield OpenPoint(INCOMPLETE, two_names(name, other), say)
    unplaced = any(NO_ZONE in missing for missing in lacks.values())  # each zone may be theirs
    for zone in () if unplaced else case.part.zone:
        plan = case.part.plan.get(zone)
        there = sum(s.zone == zone for s in measured.specimens)
        cut = case.batch.batch.cut.get(zone, plan.most if plan else 0)
        if there != cut and (plan is not None or zone in case.batch.batch.cut):
            noun = "coupon" if there == 1 else "coupons"
            stated = zone in case.batch.batch.cut
            asked = f"{cut} were cut" if stated else f"the plan asks for {cut}"
            what = f"zone {zone}: {there} {noun} in the tables, {asked}"
            table = ", ".join(f"{name} = {n}" for name, n in {**case.batch.batch.cut, zone: there}.items())
            say = f"{case.name}, [batch]: cut = {{ {table} }} if so many were cut, with those "
            say += "excluded, replaced and retested"
            if plan is not None and there < plan.most and not (there and stated):  # no plan is met by fewer
                tables = ", ".join(file.name for file in case.coupon_files())
                lacking = "the coupons" if not there else "the coupons that are missing"
                measure = f"{tables or f'{case.name}, [batch]: coupons'}, {lacking} of zone {zone}"
                say = f"{measure}; or {say}" if there else measure
            yield OpenPoint(INCOMPLETE, what, say)


def _cut_for(case: Case, specimen: Specimen, missing: list[str]) -> list[str]:
    """The methods that a coupon has readings of, none unless its plan has numbers of coupons by method."""
    plan = case.part.plan.get(specimen.zone or "")
    if plan is None or not isinstance(plan.coupons, dict) or not {*missing} <= {*plan.measured_by}:
        return []
    unlike = len({*plan.coupons.values()}) > 1
    return [m for m in methods_of(specimen.coupon, plan) if unlike and m not in missing]


def limited(case: Case) -> list[str]:
    """Zones that a limit of the laminate holds for."""
    limits = case.part.limits
    attributes = limits.laminate_attributes()
    return [zone for zone in case.part.zone if any(limits.of_zone(a, zone) for a in attributes)]


def zones_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Zones under limits without a plan, or behind another one against a limit of their own."""
    case = judged.case
    file = relative_name(case.name, case.batch.batch.part)
    for zone in limited(case):
        plan = case.part.plan.get(zone)
        attributes = [r.attribute for r in case.part.limits.rules if r.zone == zone]
        measured = {c.name for c in judged.characteristics if c.zone == zone and c.average_of is not None}
        if plan is None:
            say = f'{file}, [plan.{zone}]: coupons = 3, or represented_by = "ZONE", or not_measured = "..."'
            yield OpenPoint(UNPLANNED, f"zone {zone} has limits and no plan", say)
        elif plan.represented_by and attributes and not measured.issuperset(attributes):
            words = ", ".join(attribute.replace("_", " ") for attribute in attributes)
            what = f"zone {zone} has limits of its own for {words}, which zone {plan.represented_by} "
            say = f"{file}, [plan.{zone}]: coupons = ..., methods = [...]"
            yield OpenPoint(UNPLANNED, f"{what}cannot meet", say)


def layup_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Mixed stacks, and layers that stay, without a ply count."""
    unknown = [s for s in judged.measured.specimens if s.recipe.unknown_layup and s.counts]
    for zone in dict.fromkeys(s.zone for s in unknown):
        opens = tuple(c.label for c in judged.characteristics if c.zone == zone and c.name in BY_LAYUP)
        if opens:
            say = f"{judged.case.name}, [batch]: plies = {{ {zone} = ... }}"
            what = f"zone {zone}: plies not stated, but its mixed stack or its layer makes them decide"
            yield OpenPoint(LAYUP, what, say, opens=opens)


def asks_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """What the part asks a batch to tell, and it does not."""
    case = judged.case
    for asked in case.part.part.asks:
        table, _unused, rest = asked.partition(".")
        name, _unused, key = rest.rpartition(".")
        if not all(_told(item, key) for item in _items(case, table, name)):
            place = f"[[lot]] of {name}" if table == "lot" else f"[{table}.{name}]" if name else f"[{table}]"
            what = f"the batch does not state {asked}, which the part asks for"
            yield OpenPoint(ASKED, what, f"{case.name}, {place}: {key} = ...")


def _items(case: Case, table: str, name: str) -> list[object]:
    """The tables of the batch file that are asked; one that is not there tells nothing."""
    if table == "lot":
        return [lot for lot in case.batch.lot if lot.prepreg == name] or [None]
    items = getattr(case.batch, table)
    return [items.get(name)] if name else [items]


def _told(table: object, key: str) -> bool:
    given: frozenset[str] = getattr(table, "model_fields_set", frozenset())
    value = getattr(table, key, None)
    if key not in given or value in (None, []) or isinstance(value, NotRecorded):
        return False
    return is_stated(value) if isinstance(value, str) else True


def unfinished(row: Coupon) -> str:
    """What a blank or check standard was not weighed for, so that it says nothing; '' where it was."""
    columns = [column for _, later in awaited(row) for column in later]
    if row.kind == "check standard" and not row.has("mass in liquid"):
        columns = ["mass in liquid"]
    return " and ".join(f"'{column}'" for column in dict.fromkeys(columns))


def least_rows_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Blanks and check standards that the part asks for, and those that were begun and not finished."""
    case = judged.case
    finished = []
    for row in (row for row in judged.measured.others if not row.word("excluded")):
        if lacks := unfinished(row):
            say = f"{row.file}, row of {row.specimen}: {lacks}, or the reason in 'excluded' and an "
            yield OpenPoint(BLANKS, f"{row.kind} {row.specimen} lacks its {lacks}", f"{say}[[exclusion]]")
        else:
            finished.append(row.kind)
    head = case.part.part
    blanks = sum(kind.startswith("blank") for kind in finished)
    table = ", ".join(file.name for file in case.coupon_files()) or case.name
    without = f"; {case.name}: remove [blank], which these rows replace" if case.batch.blank else ""
    for there, least, what, kind, also in (
        (blanks, head.blanks, "blanks", "blank fiber' or 'blank resin", without),
        (finished.count("check standard"), head.check_standards, "check standards", "check standard", ""),
    ):
        if there < least:
            say = f"{table}: rows with '{kind}' in the column 'kind'{also}"
            yield OpenPoint(BLANKS, f"{there} of {least} {what} that the part asks for", say)


def incoming_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """The one row of an incoming test under limits that lacks a reading which another of its prepreg has.

    Several rows that are read alike may be of tests that need no more, but not of pieces whose backing counts
    as resin where that of another piece was weighed.
    """
    limited = {rule.prepreg for rule in judged.case.part.limits.rules if rule.prepreg}
    rows = [s for s in judged.measured.prepregs if s.prepreg in limited and not s.excluded]
    backed = {s.prepreg for s in rows if s.coupon.has(BACKING)}
    for specimen in rows:
        read = _read(specimen.coupon)
        others = [_read(s.coupon) for s in rows if s.prepreg == specimen.prepreg and s is not specimen]
        more: list[str] = next((other for other in others if set(other) > set(read)), [])
        if any(set(other) == set(read) for other in others):
            more = [BACKING] if specimen.prepreg in backed and specimen.coupon.has("prepreg mass") else []
        if missing := [column for column in more if column not in read]:
            name, lacks = specimen.name, ", ".join(missing)
            say = f"{specimen.coupon.file}, coupon {name}: {lacks}"
            say += " (0 where it was weighed without)" if missing == [BACKING] else ""
            yield OpenPoint(INCOMPLETE, f"incomplete: {name} lacks {lacks}", say)


def pieces_rule(judged: BatchEvidence) -> Iterator[OpenPoint]:
    """Lots of which fewer pieces were tested than the part wants; a row without a lot is of the only one."""
    case = judged.case
    table = ", ".join(file.name for file in case.coupon_files()) or case.name
    for name, prepreg in case.part.prepreg.items():
        tested = [s.coupon.word("lot") for s in judged.measured.prepregs if s.prepreg == name and s.counts]
        lots = [lot.number for lot in case.batch.lot if lot.prepreg == name]
        for lot in lots or [""]:
            there = tested.count(lot) + (tested.count("") if lot and len(lots) == 1 else 0)
            if there < prepreg.tested_pieces:
                of_lot = f"{lot_name(lot)} of {name}" if lot else name
                what = f"{there} of {prepreg.tested_pieces} pieces of {of_lot} that the part wants tested"
                yield OpenPoint(
                    ASKED, what, f"{table}: rows of its incoming test", True, f"lot.{lot or name}"
                )


def _read(coupon: Coupon) -> list[str]:
    """The columns that a row has readings of; length and width are an area."""
    columns = list(dict.fromkeys(base_name(label) for label in coupon.numbers))
    sides = ("length", "width")
    return [*(c for c in columns if c not in sides), *(["area"] if coupon.has(*sides) else [])]


PLAN_RULES: tuple[Rule, ...] = (
    plan_rule, zones_rule, layup_rule, asks_rule, least_rows_rule, incoming_rule,
    pieces_rule,
)  # fmt: skip
