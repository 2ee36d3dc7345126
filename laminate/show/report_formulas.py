"""How each result on the report page is computed, so that an auditor can do it again from the page alone."""

from __future__ import annotations

from operator import itemgetter

from laminate.show.blocks import Grid
from laminate.show.page_words import Json
from laminate.show.report_tables import listing
from laminate.show.words_file import words_file

LOSSES = ("digestion", "ignition", "loss of matrix")
COLUMNS = {"sinker": "sinker mass in liquid", "crucible": "crucible with residue"}
"""What a column of readings says of how a result is computed."""
UNCERTAINTY = (
    "Standard uncertainty u of an input: a ± marked (k=2) halved, (standard) as it stands, (tolerance) "
    "over √3. Of a reading: its repeatability, over √n for a mean of n, and its last decimal (or the "
    "stated resolution) over √12; both count. A calibration moves every reading of its instrument "
    "alike. Readings that scatter more than their instrument explains count with their own scatter.",
    "u of a result: move one input by its u and see how far the result moves; do so for every input; "
    "add the squares; take the root. U: the same, each move first multiplied by Student's t of that "
    "input's own degrees of freedom: 1.96 at 95 % where they are infinite, 12.7 for the scatter of two "
    "blanks (one degree). k = U/u.",
    "u of an average: what all coupons share moves all of them together; the scatter between n coupons "
    "adds s over √n with n − 1 degrees of freedom. U: each contribution times Student's t of its own degrees "
    "of freedom (4.30 for the scatter of three coupons), squares added, the root taken.",
    "Decision: a value is inside where it keeps its guard band from both limits, outside where it is beyond "
    "one by its guard band, undecided between.",
)


def formulas(answer: Json) -> list[Grid]:
    """The formula of each result on the page, its symbols and source; none where nothing was measured."""
    holds, known = _holds(answer), words_file("formulas")["formula"]
    used = [row for row in known if holds.issuperset(row["when"]) and holds.isdisjoint(row["unless"])]
    keys = ("result", "formula", "symbols", "source")
    return listing("Formulas", keys, map(itemgetter(*keys), used))


def _holds(answer: Json) -> set[str]:
    """By what the results on the page were measured."""
    methods = {method for specimen in answer["specimens"] for method in specimen["methods"]}
    read = {reading["column"] for reading in answer["readings"]}
    warm, typed = (
        {reading["specimen"] for reading in answer["readings"] if reading["column"] == column}
        for column in ("liquid temperature", "liquid density")
    )
    stated = {row["input"]: row["stated"] for row in answer["measuring"]}
    lost = [method for method in methods if method.startswith(LOSSES)]
    facts = {
        "loss": lost,
        "loss with density": any(" and " in method for method in lost),
        "thickness and areal weight": any(method.startswith("thickness and areal") for method in methods),
        "liquid temperature": "liquid density" not in stated and warm - typed,
        "wires": stated.get("wires through the surface", "0") != "0",
        **{fact: column in read for fact, column in COLUMNS.items()},
    }
    return methods | {fact for fact, holds in facts.items() if holds}
