"""What each column of a blank coupon table is for, in the words of whoever fills it in."""

from __future__ import annotations

from laminate.files.coupons import NUMBERS

METRIC = {
    "mass": "g",
    "temperature": "degC",
    "density": "g/cm^3",
    "length": "mm",
    "area": "cm^2",
    "number": "",
}
US = {**METRIC, "temperature": "degF", "length": "in", "area": "in^2"}

WORDS = {
    "specimen": (
        "The name on the specimen, as it is written there: 0012 stays 0012. Rows with one name belong "
        "together."
    ),
    "zone": "The zone of the part that the coupon was cut from.",
    "position": "Where in the zone it was cut.",
    "kind": (
        "Leave it empty for a coupon. Blank fiber: bare fiber that went through the same digestion or "
        "burn-off. Blank resin: neat cured resin that did. Check standard: a piece of known density (write "
        "it under 'density')."
    ),
    "lot": "The prepreg lot, as in the batch file.",
    "operator": "Who measured: initials will do.",
    "time": "When it was measured.",
    "remark": "Anything worth knowing. Words belong here, never beside a number.",
    "excluded": (
        "Why this row is not to count: cut askew, dropped, crucible tipped. The row is kept and shown, and "
        "the results are given with and without it. Never delete a row."
    ),
    "accepted": (
        "Why a reading that was questioned is right, after the column that it is about: "
        "'mass in air: weighed three times', for instance."
    ),
    "plies": "How many fiber plies the coupon has.",
    "mass in air": "The clean, dry coupon on the balance.",
    "mass in liquid": (
        "The coupon hanging in the liquid, wire tared or weighed before, no bubbles on it, not touching "
        "the glass. With a sinker: specimen, sinker and wire together."
    ),
    "sinker mass in liquid": "Sinker and wire alone in the liquid, at the same depth.",
    "saturated mass": "The soaked coupon in air, surface wiped with a damp cloth.",
    "dry mass": "The coupon dried to constant mass, before soaking.",
    "liquid temperature": "Of the liquid, read when the coupon hangs in it.",
    "liquid density": "Of the liquid at its temperature.",
    "density": "A density that is known already: from a certificate, or measured elsewhere.",
    "balance": "Which balance, where there are several.",
    "method": "How the matrix was removed: digestion (acid or peroxide) or ignition (furnace).",
    "crucible": "The number on the crucible.",
    "crucible mass": "Empty, clean and dried to constant mass.",
    "crucible with specimen": (
        "Before the matrix is removed. Check it at once: afterwards it cannot be repeated."
    ),
    "crucible with residue": "After washing and drying, or after the furnace, cooled in the desiccator.",
    "thickness": "One reading a column, at different places of the coupon.",
    "area": "Of the piece of prepreg, one side.",
    "prepreg mass": (
        "The piece of prepreg as cut, with its backing where that is still on. Such a row needs no zone."
    ),
    "backing mass": "Paper or film of this piece alone. Empty where the piece was weighed without it.",
    "fiber mass": "The dry fiber that is left once the resin is extracted.",
    "dried mass": "The piece after the oven, without its backing.",
    "length": "Of the piece whose area counts.",
    "width": "Of the piece whose area counts.",
    "field": "The field of view: one row a field, the same coupon name in each.",
    "points": "All points of the grid.",
    "fiber points": "Points that fall on fiber; a point on an edge counts a half.",
    "void points": "Points that fall on a void; a point on an edge counts a half.",
}

FILLING_IN = (
    "One row a coupon. Leave a cell empty where nothing was measured; a zero is a reading.",
    "The unit stands in the heading. Write numbers alone, with all the digits the balance shows.",
    (
        "A repeat goes into a numbered column: 'mass in air 2 [g]' beside 'mass in air [g]'. Columns may be "
        "added and moved; their names stay as they are."
    ),
    (
        "Look at the row before the coupon is digested or burnt: 'laminate measure' says what cannot be "
        "right while it can still be weighed again."
    ),
)
THE_LOG = (
    (
        "The press's log is a file of its own. In the batch file [[log]] names it, and [log.columns] says "
        "what each of its columns reads, by its heading without the unit in brackets: "
        '"TC 3" = { reads = "laminate", instrument = "thermocouples" }. '
        'What is not of the zone: reads = "other".'
    ),
)
ALWAYS = (
    (
        "Limits, methods and release stay with the governing specification, local codes and authorized "
        "staff. This table replaces no test method and no safety instruction."
    ),
)


def heading(name: str, number: int | None = None, units: str = "metric") -> str:
    """The heading of a column with its unit.

    name: of the column; number: of a repeat; units: 'metric' or 'us'.

    >>> heading("thickness", 2), heading("lot"), heading("liquid temperature", units="us")
    ('thickness 2 [mm]', 'lot', 'liquid temperature [degF]')
    """
    label = name if number is None else f"{name} {number}"
    unit = (US if units == "us" else METRIC)[NUMBERS[name]] if name in NUMBERS else ""
    return f"{label} [{unit}]" if unit else label
