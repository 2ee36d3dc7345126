"""How each result on the report page is computed, so that an auditor can do it again from the page alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from laminate.show.blocks import Grid
from laminate.show.report_tables import STATED, listing, table

LOSSES = ("digestion", "ignition", "loss of matrix")
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


def formulas(answer: Mapping[str, Any]) -> list[Grid]:
    """The formula of each result on the page, its symbols and source; none where nothing was measured."""
    rows = list(_rows({method for specimen in answer["specimens"] for method in specimen["methods"]}, answer))
    columns = ("result", "formula", "symbols", "source")
    return [table("Formulas", columns, rows)] if rows else []


def measuring(answer: Mapping[str, Any]) -> list[Grid]:
    """With what was measured: every input that is neither a reading nor a material value."""
    return listing("Instruments, liquid and blanks as stated", answer["measuring"], STATED)


def _rows(methods: set[str], answer: Mapping[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    columns = {reading["column"] for reading in answer["readings"]}
    if "immersion" in methods:
        sinker, wires = "sinker mass in liquid" in columns, _wires(answer)
        lost = f"a {'+ s ' if sinker else ''}− b"
        lost = f"({lost}) f" if wires else lost
        yield (
            "density by immersion",
            f"ρ = a (ρ_l − ρ_air) / ({lost}) + ρ_air",
            "a: mass in air; b: mass in liquid"
            + (", with sinker; s: sinker alone in liquid" if sinker else "")
            + "; ρ_l: density of the liquid"
            + ("; f = 1 − N d²/D², N wires of diameter d in a beaker of diameter D" if wires else ""),
            "ASTM D792, with the buoyancy of air",
        )
    if "saturated immersion" in methods:
        yield (
            "density, saturated",
            "ρ = m_dry (ρ_l − ρ_air) / (m_sat − b) + ρ_air",
            "m_dry, m_sat: dry and saturated mass in air; b: saturated, in liquid; sinker and wires as above",
            "Archimedes",
        )
    if "liquid temperature" in columns:
        yield (
            "density of water",
            "ρ_l = 0.99997495 [1 − (t − 3.983035)² (t + 301.797) / (522528.9 (t + 69.34881))] g/cm³",
            "t: liquid temperature in °C",
            "Tanaka et al., Metrologia 38 (2001) 301",
        )
    if any(method.startswith(LOSSES) for method in methods):
        crucible = "crucible with residue" in columns
        yield (
            "fiber content by weight",
            "w_f = (R − r S) / ((1 − l − r) S); resin content 1 − w_f",
            ("S, R: crucible with specimen, with residue, less the crucible" if crucible else
             "S: specimen mass; R: residue mass")
            + "; r: residue share of neat resin; l: loss of bare fiber; 0 where none is told",
            "ASTM D3171, with blanks",
        )  # fmt: skip
    if any(method.startswith(LOSSES) and " and " in method for method in methods):
        yield (
            "volumes and voids",
            "V_f = w_f ρ/ρ_f; V_r = (1 − w_f) ρ/ρ_r; voids 1 − V_f − V_r",
            "ρ_f, ρ_r: densities of fiber and cured resin; of several, 1/Σ(share by weight/density)",
            "ASTM D3171, D2734",
        )
    if "thickness" in methods:
        yield (
            "thickness",
            "h: mean of its readings; of a cured ply (h − layers)/n",
            "n: plies; layers: what is between them and is no prepreg",
            "no source",
        )
    if any(method.startswith("thickness and areal weight") for method in methods):
        yield (
            "fiber volume by thickness",
            "V_f = Σ n W / (ρ_f h)",
            "n plies of fiber areal weight W each; with a density, w_f = V_f ρ_f/ρ",
            "ASTM D3171, method II",
        )


def _wires(answer: Mapping[str, Any]) -> bool:
    stated = {row["input"]: row["stated"] for row in answer["measuring"]}
    return bool(stated.get("wires through the surface", "0") != "0")
