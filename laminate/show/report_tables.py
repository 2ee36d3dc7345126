"""The tables of the report page that stand behind the answer: specimens, instruments, materials, files."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from operator import itemgetter
from typing import Any

from laminate.show.attribute_words import exact_sentence
from laminate.show.blocks import Grid
from laminate.show.numbers import DASH, quantity, spread
from laminate.show.page_words import Json, attribute, freedom, several
from laminate.values.cautions import DIGESTION, FURNACE
from laminate.values.problems import Problem
from laminate.values.quantities import ATTRIBUTES
from laminate.values.said import Said
from laminate.values.sequences import by_key

SHIFT_WORTH_SAYING = 0.5
"""Inputs that an adjustment moves by less [standard uncertainties] are not listed; no source."""

RESULTS_BESIDE, READINGS_BESIDE = 3, 5
"""Specimens that stand beside each other in a table."""

SUSPECTS_SHOWN = 3
"""The likeliest inputs that are listed for a discrepancy; the record has them all."""

CORE = (
    "An expanding core that cannot move presses much harder with every degree, and can overload "
    "clamp, bolts and tool. Its moldings are counted because it wears.",
)
ALWAYS = (
    "Tooling is hot. Silicone and PTFE give harmful fume above their temperature limits.",
    "Limits, test methods and release stay with the governing specification, local codes and authorized "
    "staff. This page computes; it approves nothing.",
)


def or_dash(value: object) -> str:
    """Text, or a dash where nothing was stated."""
    return DASH if value is None or value == "" else value if isinstance(value, str) else str(value)


def listing(caption: str, rows: Iterable[Json], columns: Json, *right: int) -> list[Grid]:
    """A table of these columns, each a key of the rows or what is said of one; none without rows."""
    reads = [itemgetter(read) if isinstance(read, str) else read for read in columns.values()]
    cells = tuple(tuple(or_dash(read(row)) for read in reads) for row in rows)
    return [Grid(tuple(columns), cells, right, caption)] if cells else []


def said(value: str, spread: str = "expanded_uncertainty", *, alone: bool = False) -> Callable[[Json], str]:
    """A quantity of a row: the keys of its value and its ±."""
    return lambda row: quantity(row[value], row[spread], row["unit"], alone=alone)


def cautions(answer: Json) -> Iterator[str]:
    """The cautions that this batch calls for, the general ones last."""
    methods = {method for specimen in answer["specimens"] for method in specimen["methods"]}
    for loss, words in (("ignition", FURNACE), ("digestion", DIGESTION)):
        yield from words if any(method.startswith(loss) for method in methods) else ()
    yield from (*(CORE if answer["batch"]["cores"] else ()), *ALWAYS)


def averages(answer: Json) -> Iterator[Grid]:
    """The averages of every zone, with the method of each attribute."""
    columns: dict[str, Any] = {
        "attribute": _attribute,
        "average ± U": said("value"),
        "coupons": "n",
        "standard deviation": lambda row: spread(row["standard_deviation"], row["unit"]),
        "coverage factor": _factor,
        "degrees of freedom": lambda row: (
            "" if row["standard_uncertainty"] is None else freedom(row["effective_degrees_of_freedom"])
        ),
        "method": "method",
    }
    for zone in answer["zones"]:
        caption = f"{_of(zone, 'Averages')}, each with its expanded uncertainty U"
        yield from listing(caption, _in_order(zone["average"]), columns, 1, 2, 3, 4, 5)


def _factor(row: Json) -> str:
    return "" if row["coverage_factor"] is None else f"{row['coverage_factor']:.3g}"


def _attribute(row: Json) -> str:
    return attribute(row.get("key") or row["attribute"])


def _in_order(by_attribute: Json) -> list[Json]:
    """Rows by attribute, in the order of the glossary, whatever order a file has them in."""
    return [{**by_attribute[key], "key": key} for key in ATTRIBUTES if key in by_attribute]


def _of(zone: Json, what: str) -> str:
    return f"{what} of zone {zone['zone']}" if zone["zone"] else what


def readings(answer: Json) -> Iterator[Grid]:
    """Every reading as it was typed, specimens side by side: with what, when, by whom if not the row's."""
    usual = {row["specimen"]: row["operator"] for row in (*answer["specimens"], *answer["prepreg"])}
    cells: dict[tuple[str, ...], dict[str, str]] = {}
    for reading in answer["readings"]:
        of = "" if reading["kind"] == "specimen" else f" ({reading['kind']})"
        row = (reading["column"], or_dash(reading["unit"]), or_dash(reading["instrument"]))
        who = "" if reading["operator"] == usual.get(reading["specimen"]) else reading["operator"]
        cell = "\n".join(text for text in (reading["typed"], reading["time"], who) if text)
        cells.setdefault(row, {})[f"{reading['specimen']}{of}"] = cell
    caption = "Readings as they were typed"
    return _side_by_side(caption, ("column", "unit", "instrument"), cells, READINGS_BESIDE)


def _side_by_side(
    caption: str, columns: tuple[str, ...], cells: Mapping[tuple[str, ...], Mapping[str, str]], beside: int
) -> Iterator[Grid]:
    """A table for each few specimens, which stand beside each other.

    cells: what begins a row -> its text for each specimen, a dash where it has none; beside: so many.
    """
    names = list(dict.fromkeys(name for row in cells.values() for name in row))
    for start in range(0, len(names), beside):
        some = names[start : start + beside]
        filled = [(row, texts) for row, texts in cells.items() if any(name in texts for name in some)]
        rows = [(*row, *(or_dash(texts.get(name)) for name in some)) for row, texts in filled]
        of = f"{caption}: {some[0]} to {some[-1]}" if len(names) > beside else caption
        yield Grid((*columns, *some), tuple(rows), tuple(range(len(columns), len(columns) + len(some))), of)


def specimens(answer: Json) -> Iterator[Grid]:
    """Every specimen: where from, and whether it counts; then every result of every specimen."""
    ones = [*answer["specimens"], *answer["prepreg"]]
    columns: dict[str, Any] = {
        "specimen": "specimen",
        "zone or prepreg": lambda row: row["zone"] or row.get("prepreg"),
        **{key: key for key in ("position", "lot", "plies")},
        "counts": _state,
        "operator, time, remark": lambda row: _joined(row, "operator", "time", "remark"),
    }
    yield from listing("Specimens", ones, columns)
    results: dict[tuple[str, ...], dict[str, str]] = {}
    for row in ones:
        for result in _in_order({key: row[key] for key in ATTRIBUTES if isinstance(row.get(key), dict)}):
            value, k = said("value")(result), _factor(result)
            cell = Said(value, f"\nk {k}") if k else value
            results.setdefault((_attribute(result), result["method"]), {})[row["specimen"]] = cell
    caption = "Results of each coupon with expanded uncertainty U = k u"
    yield from _side_by_side(caption, ("attribute", "method"), results, RESULTS_BESIDE)


def _joined(row: Json, *keys: str) -> str:
    return "; ".join(row[key] for key in keys if row[key])


def _state(row: Json) -> str:
    if row["excluded"]:
        return f"excluded: {row['excluded']}"
    if row["replaced_by"]:
        return f"replaced by the retest {row['replaced_by']}"
    return f"yes, a retest of {row['replaces']}" if row["replaces"] else "yes"


def agreement(answer: Json) -> list[Grid]:
    """Two methods of one attribute held against each other, over all specimens that have both."""
    pairs = by_key(
        ((pair["attribute"], *pair["methods"]), (specimen["specimen"], pair))
        for specimen in answer["specimens"]
        for pair in specimen["agreement"]
    )
    rows = []
    for differences in pairs.values():
        worst = max((pair for _, pair in differences), key=lambda pair: abs(float(pair["difference"])))
        apart = [name for name, pair in differences if not pair["agree"]]
        on_all = f"yes, on {several(len(differences), 'coupon')}"
        rows.append({**worst, "verdict": f"no: {', '.join(apart)}" if apart else on_all})
    columns: dict[str, Any] = {
        "attribute": _attribute,
        "methods": _methods,
        "largest difference": said("difference", "allowed", alone=True),
        "allowed there": lambda row: spread(row["allowed"], row["unit"]),
        "they agree": "verdict",
    }
    return listing("Methods against each other", rows, columns, 2, 3)


def _methods(row: Json) -> str:
    return " against ".join(row["methods"])


def evidence(answer: Json) -> Iterator[Grid]:
    """Which inputs, likeliest first, would reconcile methods that disagree; the weighed charge."""
    reconciliation = answer["reconciliation"]
    rows = [
        {**discrepancy, "text": suspect["text"]}
        for discrepancy in reconciliation["discrepancies"]
        for suspect in discrepancy["suspects"][:SUSPECTS_SHOWN]
    ]
    columns: dict[str, Any] = {
        "specimen": "specimen",
        "attribute": _attribute,
        "methods": _methods,
        "one change that would make them agree": "text",
    }
    yield from listing("Evidence only; no value was changed by it", rows, columns)
    if (adjusted := reconciliation["adjustment"]) is not None:
        moved = [row for row in adjusted["inputs"] if abs(row["shift_in_u"]) >= SHIFT_WORTH_SAYING]
        caption = (
            f"All inputs adjusted together (evidence only): chi squared {adjusted['chi_squared']:.3g} with "
            f"{several(adjusted['degrees_of_freedom'], 'degree')} of freedom, p {adjusted['p']:.2g}"
        )
        columns = {
            "input": "input",
            "stated": said("value", "standard_uncertainty", alone=True),
            "adjusted": said("adjusted", "adjusted_standard_uncertainty", alone=True),
            "moved by how many standard uncertainties": lambda row: f"{row['shift_in_u']:+.1f}",
        }
        yield from listing(caption, moved, columns, 1, 2, 3)
    estimate = said("value", "standard_uncertainty")
    columns = {
        "prepreg": "prepreg",
        "resin content ± standard uncertainty": lambda row: estimate(row["resin_content"]),
        "mass that left ± standard uncertainty": lambda row: estimate(row["mass_left"]),
    }
    charges = [answer["charge"]] if answer["charge"] else []
    yield from listing("Resin content by weighing the charge", charges, columns, 1, 2)


def excluded(answer: Json) -> Iterator[Grid]:
    """Averages with and without what does not count: excluded and replaced specimens."""
    columns: dict[str, Any] = {
        "attribute": _attribute,
        "as judged: average, coupons": lambda row: row["judged"] and _average(row["judged"]),
        "with every coupon: average, coupons": _average,
    }
    for zone in answer["zones"]:
        caption = _of(zone, "With and without excluded and replaced coupons: averages")
        judged, every = zone["average"], _in_order(zone["average_with_excluded"])
        rows = [{**row, "judged": judged.get(row["key"])} for row in every]
        yield from listing(caption, rows, columns, 1, 2)


def _average(row: Json) -> Said:
    return Said(said("value")(row), f", {row['n']}")


def warnings(answer: Json, units: str) -> Iterator[str]:
    """Every warning as a sentence, with the reason with which it was accepted."""
    for warning in answer["warnings"]:
        stated, accepted = dict(warning), warning["accepted"]
        del stated["accepted"]
        problem = Problem(**stated | {"hint": ""} if accepted else stated)
        response = f"accepted: {accepted}" if accepted else "not answered"
        yield f"Warning: {problem.sentence(units)} ({response})"
    for name, ones in by_key((row["specimen"], row) for row in answer["outliers"]).items():
        most = max(ones, key=lambda row: float(row["normed_residual"]))
        what = "; ".join(f"{attribute(row['attribute'])} by {row['method']}" for row in ones)
        where = f"{name} lies far from the others of zone {or_dash(most['zone'])}: {what}"
        size = f"normed residual up to {most['normed_residual']:.2f}, critical {most['critical']:.2f}"
        yield f"Warning: {where} ({size}) (flagged, not removed)"


def notes(answer: Json) -> Iterator[str]:
    """What else must be known of the numbers."""
    yield from (f"{note}." for note in answer["notes"])
    if checks := answer["monte_carlo"]:
        apart = [f"{_attribute(check)} of {check['specimen']}" for check in checks if not check["agree"]]
        result = f"disagreed for {', '.join(apart)}, and was used there" if apart else "agreed everywhere"
        yield f"Uncertainties are of first order. Monte Carlo on the same formulas {result}."
    yield from exact_sentence(answer["not_measured"], readings=True)


def instruments(answer: Json) -> list[Grid]:
    """Instruments with their due dates on the day of measuring, and what else is stated of measuring."""
    columns = {"instrument": "name", **{key: key for key in ("identity", "certificate", "calibrated", "due")}}
    return [
        *listing("Instruments", answer["instruments"], {**columns, "on the day of measuring": "state"}),
        *listing("Instruments, liquid and blanks as stated", answer["measuring"], STATED),
    ]


STATED = {"input": "input", "value": "stated", "from": "from"}


def materials(answer: Json) -> list[Grid]:
    """Material values with where each comes from, lots and cores."""
    batch = answer["batch"]
    lots = {"prepreg": "prepreg", "lot": "number", "certificate": "certificate"}
    cores = {**{key: key for key in ("core", "identity", "moldings")}, "limit of moldings": "limit_moldings"}
    return [
        *listing("Material values", answer["values"], STATED),
        *listing("Lots", batch["lots"], lots),
        *listing("Cores", batch["cores"], cores, 2, 3),
    ]


def signatures(rows: Sequence[Json]) -> list[Grid]:
    """Who signed the record as what, by their own statements."""
    columns: dict[str, Any] = {
        **{key: key for key in ("role", "name")},
        "time as claimed (UTC)": "time",
        "key": "key",
        "remark": lambda row: _joined(row, "goods", "remark"),
    }
    return listing("Statements signed beside the record", rows, columns)


def files(answer: Json) -> list[Grid]:
    """Every input with its digest."""
    return listing("Files that were read", answer["inputs"], {"file": "file", "SHA-256": "sha256"})
