"""The tables of the report page that stand behind the answer: specimens, instruments, materials, files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from operator import itemgetter

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

AVERAGES = (
    *("attribute", "average ± U", "coupons", "standard deviation", "coverage factor"),
    *("degrees of freedom", "method"),
)
CHARGE = ("prepreg", "resin content ± standard uncertainty", "mass that left ± standard uncertainty")
"""Columns of the averages, and of the charge that was weighed."""

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


def listing(
    caption: str, columns: Sequence[str], rows: Iterable[Iterable[object]], *right: int
) -> list[Grid]:
    """A table, a dash where a cell is nothing; none without rows."""
    cells = tuple(tuple(map(or_dash, row)) for row in rows)
    return [Grid(tuple(columns), cells, right, caption)] if cells else []


def quantity_of(
    row: Json, value: str = "value", spread: str = "expanded_uncertainty", *, alone: bool = False
) -> str:
    """A quantity of a row: the keys of its value and its ±."""
    return quantity(row[value], row[spread], row["unit"], alone=alone)


def cautions(answer: Json) -> Iterator[str]:
    """The cautions that this batch calls for, the general ones last."""
    methods = {method for specimen in answer["specimens"] for method in specimen["methods"]}
    for loss, words in (("ignition", FURNACE), ("digestion", DIGESTION)):
        yield from words if any(method.startswith(loss) for method in methods) else ()
    yield from (*(CORE if answer["batch"]["cores"] else ()), *ALWAYS)


def averages(answer: Json) -> Iterator[Grid]:
    """The averages of every zone, with the method of each attribute."""
    for zone in answer["zones"]:
        caption = f"{_of(zone, 'Averages')}, each with its expanded uncertainty U"
        rows = map(_average_row, _in_order(zone["average"]))
        yield from listing(caption, AVERAGES, rows, 1, 2, 3, 4, 5)


def _average_row(row: Json) -> tuple[str, ...]:
    scatter = spread(row["standard_deviation"], row["unit"])
    dof = "" if row["standard_uncertainty"] is None else freedom(row["effective_degrees_of_freedom"])
    return _attribute(row), quantity_of(row), row["n"], scatter, _factor(row), dof, row["method"]


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
    keys = ("position", "lot", "plies")
    columns = ("specimen", "zone or prepreg", *keys, "counts", "operator, time, remark")
    rows = (
        (
            row["specimen"],
            row["zone"] or row.get("prepreg"),
            *itemgetter(*keys)(row),
            _state(row),
            _remarks(row),
        )
        for row in ones
    )
    yield from listing("Specimens", columns, rows)
    results: dict[tuple[str, ...], dict[str, str]] = {}
    for row in ones:
        for result in _in_order({key: row[key] for key in ATTRIBUTES if isinstance(row.get(key), dict)}):
            value, k = quantity_of(result), _factor(result)
            cell = Said(value, f"\nk {k}") if k else value
            results.setdefault((_attribute(result), result["method"]), {})[row["specimen"]] = cell
    caption = "Results of each coupon with expanded uncertainty U = k u"
    yield from _side_by_side(caption, ("attribute", "method"), results, RESULTS_BESIDE)


def _remarks(row: Json, *keys: str) -> str:
    """What stands under some keys of a row: who measured it, when, and a remark."""
    return "; ".join(row[key] for key in keys or ("operator", "time", "remark") if row[key])


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
        largest, most = quantity_of(worst, "difference", "allowed", alone=True), worst["allowed"]
        verdict = f"no: {', '.join(apart)}" if apart else on_all
        rows.append((_attribute(worst), _methods(worst), largest, spread(most, worst["unit"]), verdict))
    columns = ("attribute", "methods", "largest difference", "allowed there", "they agree")
    return listing("Methods against each other", columns, rows, 2, 3)


def _methods(row: Json) -> str:
    return " against ".join(row["methods"])


def evidence(answer: Json) -> Iterator[Grid]:
    """Which inputs, likeliest first, would reconcile methods that disagree; the weighed charge."""
    reconciliation = answer["reconciliation"]
    rows = [
        (differing["specimen"], _attribute(differing), _methods(differing), suspect["text"])
        for differing in reconciliation["discrepancies"]
        for suspect in differing["suspects"][:SUSPECTS_SHOWN]
    ]
    columns = ("specimen", "attribute", "methods", "one change that would make them agree")
    yield from listing("Evidence only; no value was changed by it", columns, rows)
    if (adjusted := reconciliation["adjustment"]) is not None:
        moved = [row for row in adjusted["inputs"] if abs(row["shift_in_u"]) >= SHIFT_WORTH_SAYING]
        caption = (
            f"All inputs adjusted together (evidence only): chi squared {adjusted['chi_squared']:.3g} with "
            f"{several(adjusted['degrees_of_freedom'], 'degree')} of freedom, p {adjusted['p']:.2g}"
        )
        moves = ("input", "stated", "adjusted", "moved by how many standard uncertainties")
        yield from listing(caption, moves, map(_moved, moved), 1, 2, 3)
    if charge := answer["charge"]:
        sizes = (charge[key] for key in ("resin_content", "mass_left"))
        row = (charge["prepreg"], *(quantity_of(size, "value", "standard_uncertainty") for size in sizes))
        yield from listing("Resin content by weighing the charge", CHARGE, [row], 1, 2)


def _moved(row: Json) -> tuple[str, ...]:
    """An input with its value before and after the adjustment."""
    stated = quantity_of(row, "value", "standard_uncertainty", alone=True)
    adjusted = quantity_of(row, "adjusted", "adjusted_standard_uncertainty", alone=True)
    return row["input"], stated, adjusted, f"{row['shift_in_u']:+.1f}"


def excluded(answer: Json) -> Iterator[Grid]:
    """Averages with and without what does not count: excluded and replaced specimens."""
    columns = ("attribute", "as judged: average, coupons", "with every coupon: average, coupons")
    for zone in answer["zones"]:
        caption = _of(zone, "With and without excluded and replaced coupons: averages")
        every, judged = _in_order(zone["average_with_excluded"]), zone["average"].get
        rows = ((_attribute(row), _average(judged(row["key"])), _average(row)) for row in every)
        yield from listing(caption, columns, rows, 1, 2)


def _average(row: Json | None) -> Said | None:
    return Said(quantity_of(row), f", {row['n']}") if row else None


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
    keys = ("identity", "certificate", "calibrated", "due")
    columns = ("instrument", *keys, "on the day of measuring")
    return [
        *listing("Instruments", columns, map(itemgetter("name", *keys, "state"), answer["instruments"])),
        *_stated("Instruments, liquid and blanks as stated", answer["measuring"]),
    ]


def _stated(caption: str, rows: Iterable[Json]) -> list[Grid]:
    return listing(caption, ("input", "value", "from"), map(itemgetter("input", "stated", "from"), rows))


def materials(answer: Json) -> list[Grid]:
    """Material values with where each comes from, lots and cores."""
    batch = answer["batch"]
    lots = map(itemgetter("prepreg", "number", "certificate"), batch["lots"])
    keys = ("core", "identity", "moldings")
    cores = map(itemgetter(*keys, "limit_moldings"), batch["cores"])
    return [
        *_stated("Material values", answer["values"]),
        *listing("Lots", ("prepreg", "lot", "certificate"), lots),
        *listing("Cores", (*keys, "limit of moldings"), cores, 2, 3),
    ]


def signatures(rows: Sequence[Json]) -> list[Grid]:
    """Who signed the record as what, by their own statements."""
    columns = ("role", "name", "time as claimed (UTC)", "key", "remark")
    cells = (
        (*itemgetter("role", "name", "time", "key")(row), _remarks(row, "goods", "remark")) for row in rows
    )
    return listing("Statements signed beside the record", columns, cells)


def files(answer: Json) -> list[Grid]:
    """Every input with its digest."""
    return listing(
        "Files that were read", ("file", "SHA-256"), map(itemgetter("file", "sha256"), answer["inputs"])
    )
