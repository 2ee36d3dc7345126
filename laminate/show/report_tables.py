"""The tables of the report page that stand behind the answer: specimens, instruments, materials, files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from laminate.show.blocks import Grid
from laminate.show.numbers import DASH, quantity, spread
from laminate.show.page_words import attribute, freedom, several
from laminate.values.cautions import DIGESTION, FURNACE
from laminate.values.problems import Problem
from laminate.values.quantities import ATTRIBUTES
from laminate.values.said import Said

SHIFT_WORTH_SAYING = 0.5
"""Inputs that an adjustment moves by less [standard uncertainties] are not listed; no source."""

RESULTS_BESIDE, READINGS_BESIDE = 3, 5
"""Specimens that stand beside each other in a table."""

SUSPECTS_SHOWN = 3
"""The likeliest inputs that are listed for a discrepancy; the record has them all."""

CORE = (
    "An expanding core that cannot move presses with tenths of a MPa more for every kelvin, and can overload "
    "clamp, bolts and tool. Its moldings are counted because it wears.",
)
ALWAYS = (
    "Tooling is hot. Silicone and PTFE give harmful fume above their temperature limits.",
    "Limits, test methods and release stay with the governing specification, local codes and authorized "
    "staff. This page computes; it approves nothing.",
)


def table(
    caption: str, columns: Sequence[str], rows: Sequence[Sequence[str]], *right: int, narrow: bool = False
) -> Grid:
    """A table of text; right: the columns that hold numbers."""
    return Grid(tuple(columns), tuple(map(tuple, rows)), right, caption, narrow)


def or_dash(value: object) -> str:
    """Text, or a dash where nothing was stated."""
    return DASH if value is None or value == "" else value if isinstance(value, str) else str(value)


def cautions(answer: Mapping[str, Any]) -> list[str]:
    """The cautions that this batch calls for, the general ones last."""
    methods = {method for specimen in answer["specimens"] for method in specimen["methods"]}
    ignition = any(method.startswith("ignition") for method in methods)
    digestion = any(method.startswith("digestion") for method in methods)
    core = CORE if answer["batch"]["cores"] else ()
    return [*(FURNACE if ignition else ()), *(DIGESTION if digestion else ()), *core, *ALWAYS]


def averages(answer: Mapping[str, Any]) -> list[Grid]:
    """The averages of every zone, with the method of each attribute."""
    tables = []
    for zone in answer["zones"]:
        rows = [
            (
                attribute(key),
                quantity(one["value"], one["expanded_uncertainty"], one["unit"]),
                str(one["n"]),
                spread(one["standard_deviation"], one["unit"]),
                "–" if one["coverage_factor"] is None else f"{one['coverage_factor']:.3g}",
                "–" if one["standard_uncertainty"] is None else freedom(one["effective_degrees_of_freedom"]),
                or_dash(one["method"]),
            )
            for key, one in _in_order(zone["average"])
        ]
        columns = (
            "attribute",
            "average ± U",
            "coupons",
            "standard deviation",
            "coverage factor",
            "degrees of freedom",
            "method",
        )
        tables.append(
            table(
                f"{_of(zone, 'Averages')}, each with its expanded uncertainty U", columns, rows, 1, 2, 3, 4, 5
            )
        )
    return tables


def _in_order(by_attribute: Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Attributes in the order of the glossary, whatever order a file has them in."""
    return [(key, by_attribute[key]) for key in ATTRIBUTES if key in by_attribute]


def _of(zone: Mapping[str, Any], what: str) -> str:
    return f"{what} of zone {zone['zone']}" if zone["zone"] else what


def readings(answer: Mapping[str, Any]) -> list[Grid]:
    """Every reading as it was typed, specimens side by side: with what, when, by whom if not the row's."""
    usual = {one["specimen"]: one["operator"] for one in (*answer["specimens"], *answer["prepreg"])}
    cells: dict[tuple[str, ...], dict[str, str]] = {}
    for reading in answer["readings"]:
        name = (
            reading["specimen"]
            if reading["kind"] == "specimen"
            else f"{reading['specimen']} ({reading['kind']})"
        )
        row = (reading["column"], or_dash(reading["unit"]), or_dash(reading["instrument"]))
        who = "" if reading["operator"] == usual.get(reading["specimen"]) else reading["operator"]
        told = "\n".join(text for text in (reading["typed"], reading["time"], who) if text)
        cells.setdefault(row, {})[name] = told
    caption = "Readings as they were typed"
    return _side_by_side(caption, ("column", "unit", "instrument"), cells, READINGS_BESIDE)


def _side_by_side(
    caption: str, columns: tuple[str, ...], cells: Mapping[tuple[str, ...], Mapping[str, str]], beside: int
) -> list[Grid]:
    """A table for each few specimens, which stand beside each other.

    cells: what begins a row -> its text for each specimen, a dash where it has none; beside: so many.
    """
    names = list(dict.fromkeys(name for row in cells.values() for name in row))
    tables = []
    for start in range(0, len(names), beside):
        some = names[start : start + beside]
        rows = [
            (*row, *(or_dash(told.get(name)) for name in some))
            for row, told in cells.items()
            if any(name in told for name in some)
        ]
        of = f"{caption}: {some[0]} to {some[-1]}" if len(names) > beside else caption
        tables.append(table(of, (*columns, *some), rows, *range(len(columns), len(columns) + len(some))))
    return tables


def specimens(answer: Mapping[str, Any]) -> list[Grid]:
    """Every specimen: where from, and whether it counts; then every result of every specimen."""
    ones = [*answer["specimens"], *answer["prepreg"]]
    if not ones:
        return []
    rows = [
        (
            row["specimen"],
            or_dash(row["zone"] or row.get("prepreg")),
            or_dash(row["position"]),
            or_dash(row["lot"]),
            or_dash(row["plies"]),
            _state(row),
            or_dash("; ".join(text for text in (row["operator"], row["time"], row["remark"]) if text)),
        )
        for row in ones
    ]
    columns = ("specimen", "zone or prepreg", "position", "lot", "plies", "counts", "operator, time, remark")
    tables = [table("Specimens", columns, rows)]
    results: dict[tuple[str, ...], dict[str, str]] = {}
    for row in ones:
        for key in ATTRIBUTES:
            if isinstance(row.get(key), dict):
                told = row[key]
                value = quantity(told["value"], told["expanded_uncertainty"], told["unit"])
                k = told["coverage_factor"]
                cell = value if k is None else Said(value, f"\nk {k:.3g}")
                results.setdefault((attribute(key), told["method"]), {})[row["specimen"]] = cell
    caption = "Results of each coupon with expanded uncertainty U = k u"
    return [*tables, *_side_by_side(caption, ("attribute", "method"), results, RESULTS_BESIDE)]


def _state(row: Mapping[str, Any]) -> str:
    if row["excluded"]:
        return f"excluded: {row['excluded']}"
    if row["replaced_by"]:
        return f"replaced by the retest {row['replaced_by']}"
    return f"yes, a retest of {row['replaces']}" if row["replaces"] else "yes"


def agreement(answer: Mapping[str, Any]) -> list[Grid]:
    """Two methods of one attribute held against each other, over all specimens that have both."""
    pairs: dict[tuple[str, ...], list[tuple[str, Mapping[str, Any]]]] = {}
    for specimen in answer["specimens"]:
        for pair in specimen["agreement"]:
            pairs.setdefault((pair["attribute"], *pair["methods"]), []).append((specimen["specimen"], pair))
    rows = []
    for (key, *methods), differences in pairs.items():
        _, worst = max(differences, key=lambda item: abs(float(item[1]["difference"])))
        apart = [name for name, pair in differences if not pair["agree"]]
        rows.append(
            (
                attribute(key),
                " against ".join(methods),
                quantity(worst["difference"], worst["allowed"], worst["unit"], alone=True),
                spread(worst["allowed"], worst["unit"]),
                f"no: {', '.join(apart)}" if apart else f"yes, on {several(len(differences), 'coupon')}",
            )
        )
    columns = ("attribute", "methods", "largest difference", "allowed there", "they agree")
    return [table("Methods against each other", columns, rows, 2, 3)] if rows else []


def evidence(answer: Mapping[str, Any]) -> list[Grid]:
    """Which inputs, likeliest first, would reconcile methods that disagree; the weighed charge."""
    reconciliation = answer["reconciliation"]
    rows = [
        (
            discrepancy["specimen"],
            attribute(discrepancy["attribute"]),
            " against ".join(discrepancy["methods"]),
            suspect["text"],
        )
        for discrepancy in reconciliation["discrepancies"]
        for suspect in discrepancy["suspects"][:SUSPECTS_SHOWN]
    ]
    columns = ("specimen", "attribute", "methods", "one change that would make them agree")
    tables = [table("Evidence only; no value was changed by it", columns, rows)] if rows else []
    adjusted = reconciliation["adjustment"]
    if adjusted is not None:
        inputs = [
            (
                row["input"],
                quantity(row["value"], row["standard_uncertainty"], row["unit"], alone=True),
                quantity(row["adjusted"], row["adjusted_standard_uncertainty"], row["unit"], alone=True),
                f"{row['shift_in_u']:+.1f}",
            )
            for row in adjusted["inputs"]
            if abs(row["shift_in_u"]) >= SHIFT_WORTH_SAYING
        ]
        caption = (
            f"All inputs adjusted together (evidence only): chi squared {adjusted['chi_squared']:.3g} with "
            f"{several(adjusted['degrees_of_freedom'], 'degree')} of freedom, p {adjusted['p']:.2g}"
        )
        moved = ("input", "stated", "adjusted", "moved by how many standard uncertainties")
        tables += [table(caption, moved, inputs, 1, 2, 3)] if inputs else []
    charge = answer["charge"]
    if charge is not None:
        resin, left = charge["resin_content"], charge["mass_left"]
        row = (
            charge["prepreg"],
            quantity(resin["value"], resin["standard_uncertainty"], resin["unit"]),
            quantity(left["value"], None, left["unit"]),
        )
        weighed = ("prepreg", "resin content ± standard uncertainty", "mass that left")
        tables.append(table("Resin content by weighing the charge", weighed, [row], 1, 2))
    return tables


def excluded(answer: Mapping[str, Any]) -> list[Grid]:
    """Averages with and without what does not count: excluded and replaced specimens."""
    tables = []
    for zone in answer["zones"]:
        rows = []
        for key, other in _in_order(zone["average_with_excluded"]):
            own = zone["average"].get(key)
            rows.append(
                (
                    attribute(key),
                    Said(_average(own), f", {own['n']}") if own else DASH,
                    Said(_average(other), f", {other['n']}"),
                )
            )
        if rows:
            columns = ("attribute", "as judged: average, coupons", "with every coupon: average, coupons")
            caption = _of(zone, "With and without excluded and replaced coupons: averages")
            tables.append(table(caption, columns, rows, 1, 2))
    return tables


def _average(row: Mapping[str, Any]) -> str:
    return quantity(row["value"], row["expanded_uncertainty"], row["unit"])


def warnings(answer: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Every warning as a sentence, with the reason with which it was accepted."""
    rows = [
        (
            Problem(
                **{
                    k: "" if k == "hint" and warning["accepted"] else text
                    for k, text in warning.items()
                    if k != "accepted"
                }
            ).sentence(),
            f"accepted: {warning['accepted']}" if warning["accepted"] else "not answered",
        )
        for warning in answer["warnings"]
    ]
    far: dict[str, list[Mapping[str, Any]]] = {}
    for one in answer["outliers"]:
        far.setdefault(one["specimen"], []).append(one)
    for name, ones in far.items():
        most = max(ones, key=lambda one: float(one["normed_residual"]))
        what = "; ".join(f"{attribute(row['attribute'])} by {row['method']}" for row in ones)
        where = f"{name} lies far from the others of zone {or_dash(most['zone'])}: {what}"
        size = f"normed residual up to {most['normed_residual']:.2f}, critical {most['critical']:.2f}"
        rows.append((f"{where} ({size})", "flagged, not removed"))
    return rows


def notes(answer: Mapping[str, Any]) -> list[str]:
    """What else must be known of the numbers."""
    lines = [f"{note}." for note in answer["notes"]]
    checks = answer["monte_carlo"]
    if checks:
        apart = [
            f"{attribute(check['attribute'])} of {check['specimen']}"
            for check in checks
            if not check["agree"]
        ]
        said = f"disagreed for {', '.join(apart)}, and was used there" if apart else "agreed everywhere"
        lines.append(f"Uncertainties are of first order. Monte Carlo on the same formulas {said}.")
    if answer["not_measured"]:
        told = "They are taken as exact, but for the last decimal of readings."
        lines.append(f"No ± was stated for: {', '.join(answer['not_measured'])}. {told}")
    return lines


def instruments(answer: Mapping[str, Any]) -> list[Grid]:
    """Instruments with their due dates on the day of measuring."""
    rows = [
        (
            instrument["name"],
            or_dash(instrument["identity"]),
            or_dash(instrument["certificate"]),
            or_dash(instrument["calibrated"]),
            or_dash(instrument["due"]),
            instrument["state"],
        )
        for instrument in answer["instruments"]
    ]
    columns = ("instrument", "identity", "certificate", "calibrated", "due", "on the day of measuring")
    return [table("Instruments", columns, rows)] if rows else []


def materials(answer: Mapping[str, Any]) -> list[Grid]:
    """Material values with where each comes from, lots and cores."""
    batch = answer["batch"]
    tables = [
        table(
            "Material values",
            ("input", "value", "from"),
            [(value["input"], or_dash(value["stated"]), value["from"]) for value in answer["values"]],
        )
    ]
    lots = [(lot["prepreg"], lot["number"], or_dash(lot["certificate"])) for lot in batch["lots"]]
    if lots:
        tables.append(table("Lots", ("prepreg", "lot", "certificate"), lots))
    cores = [
        (core["core"], or_dash(core["identity"]), or_dash(core["moldings"]), or_dash(core["limit_moldings"]))
        for core in batch["cores"]
    ]
    if cores:
        tables.append(table("Cores", ("core", "identity", "moldings", "limit of moldings"), cores, 2, 3))
    return [table for table in tables if table.rows]


def signatures(rows: Sequence[Mapping[str, Any]]) -> list[Grid]:
    """Who signed the record as what, by their own statements."""
    told = [
        (
            or_dash(row["role"]),
            or_dash(row["name"]),
            or_dash(row["time"]),
            or_dash(row["key"]),
            or_dash("; ".join(text for text in (row["goods"], row["remark"]) if text)),
        )
        for row in rows
    ]
    columns = ("role", "name", "time as claimed (UTC)", "key", "remark")
    return [table("Statements signed beside the record", columns, told)] if told else []


def files(answer: Mapping[str, Any]) -> Grid:
    """Every input with its digest."""
    rows = [(row["file"], row["sha256"]) for row in answer["inputs"]]
    return table("Files that were read", ("file", "SHA-256"), rows)
