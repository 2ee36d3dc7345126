"""The command `materials`: what the tables say, and where each figure comes from."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Annotated

from laminate.files import reference_tables as reference
from laminate.show.blocks import Block, Facts, Grid, Heading, Sentence, sentences
from laminate.show.page_words import several
from laminate.values.problems import refusal
from laminate.values.sequences import by_key

from . import tables
from .answers import print_json
from .options import argument, flag, one_of, option

#: lines of a table and its remarks
MOST = 30

#: unit inside: (unit in JSON, factor)
_JSON_UNITS = {"kg/m^3": ("g/cm^3", 1e3), "Pa": ("MPa", 1e6)}

_NOT_MEASURED = (
    "Tabulated, not measured: a certificate of the lot or a measurement of the compound comes first. Where "
    "tables differ, the row marked 'taken by default' is used; where none is marked, give the value yourself."
)


def materials(
    text: Annotated[str, argument("TEXT", "part of a name; all materials without it")] = "",
    kind: Annotated[str, option("USE", f"one of: {', '.join(reference.KINDS)}")] = "",
    property: Annotated[str, option("PROPERTY", "for instance density or expansion")] = "",
    why: Annotated[bool, flag("--why", "with every value, and the whole title of each source")] = False,
    as_json: Annotated[bool, flag("--json", "the same as JSON")] = False,
) -> None:
    """Show tabulated values of materials and their sources.

    Tabulated, not measured: a certificate of the lot or a measurement of the compound comes before them.
    """
    words = reference.PROPERTIES
    keys = {word: key for key, word in words.items()} | {key: key for key in words}
    wanted = keys[one_of("--property", property, keys, words)] if property else None
    use = one_of("--kind", kind, reference.KINDS) if kind else None
    rows = reference.listing(kind=use, property=wanted, text=text or None)
    if text and not reference.listing(text=text):
        near = reference.near_names(text)
        hint = f"did you mean '{near[0]}'?" if near else "'laminate materials' lists them all"
        raise refusal("unknown-material", "", text, f"'{text}'", "a material of the tables", hint)
    if as_json:
        print_json({"materials": [_as_json(row) for row in rows]})
    elif rows and (why or text or use or wanted):
        _show(rows, why)
    elif rows:
        _names(rows)
    else:
        print("Nothing in the material tables fits all of that.")


def _names(rows: list[reference.Material]) -> None:
    """Print the names of all materials by use."""
    names = list(dict.fromkeys(row.name for row in rows))
    call = "laminate materials TEXT, for instance laminate materials silicone"
    by_use = by_key((use, row.name) for row in rows for use in row.kind.split(", "))
    uses = [(use, ", ".join(dict.fromkeys(by_use[use]))) for use in reference.KINDS]
    lead = Sentence(f"{len(names)} materials. Values of one: {call}.", strong=True)
    tables.print_blocks([lead, Facts(tuple(uses)), Sentence(f"{_NOT_MEASURED} Every value: --why.")])


def _figure(row: reference.Material) -> str:
    """The value as it is shown; of a range both ends have their power of ten."""
    low, dash, high = row.shown.partition("–")
    power = re.search(r"e-?\d+", high)
    return f"{low}{power.group() if power else ''} to {high}" if dash else low


def _show(rows: list[reference.Material], why: bool) -> None:
    names = reference.PROPERTIES
    defaults = [f"{row.name}, {names[row.property]} {_figure(row)}" for row in rows if row.taken]
    many = several(len({row.name for row in rows}), "material")
    lead = f"{several(len(rows), 'value')} of {many}"
    if len(defaults) <= 4:
        taken = f"taken by default: {'; '.join(defaults)}" if defaults else "none is taken by default"
        lead += f"; {taken}"
    cells, remarks = list[tuple[str, str, str]](), dict[str, None]()
    for row in rows:
        what, figure = f"{row.name}, {names[row.property]}", _figure(row)
        at = f" at {row.conditions}" if row.conditions else ""
        cells.append((what, f"{figure}{at}", f"{row.origin}{', taken by default' if row.taken else ''}"))
        remarks |= {f"{what} {figure}: {row.remark}": None} if row.remark else {}
    shown, shown_remarks = len(cells), list(remarks)
    while not why and shown > 1 and len(tables.lines_of(_below(cells[:shown], shown_remarks))) > MOST:
        shown, shown_remarks = (shown, shown_remarks[:-1]) if shown_remarks else (shown - 1, shown_remarks)
    tables.print_blocks([Sentence(f"{lead}.", strong=True), *_below(cells[:shown], shown_remarks)])
    left = {"values": len(cells) - shown, "remarks": len(remarks) - len(shown_remarks)}
    hidden = [f"{count} more {what}" for what, count in left.items() if count]
    print()
    more: list[Block] = [Sentence(f"See --why: {', '.join([*hidden, 'the whole title of each source'])}.")]
    if why:
        more = [Heading("Sources"), Facts(tuple(dict.fromkeys((row.source, _source(row)) for row in rows)))]
    tables.print_blocks([Sentence(_NOT_MEASURED), *more])


def _below(cells: Sequence[tuple[str, ...]], remarks: Sequence[str]) -> list[Block]:
    """The table and the remarks below it."""
    grid = Grid(("material, property", "value", "source, how known"), tuple(cells))
    return [grid, *([Heading("Remarks")] if remarks else []), *sentences([f"- {r}" for r in remarks])]


def _source(row: reference.Material) -> str:
    if row.how_known == "no source":
        return row.title
    page = "" if row.page in ("not known", "one page") else f", p. {row.page}"
    return f"{row.title}; {row.edition}; table {row.table}{page}; {row.how_known}"


def _as_json(row: reference.Material) -> dict[str, object]:
    unit, factor = _JSON_UNITS.get(row.unit, (row.unit, 1.0))
    of_source = {key: getattr(row, key) for key in ("title", "edition", "table", "page")}
    as_it_is = ("printed_name", "conditions", "preferred", "how_known", "remark")
    return {
        "name": row.name,
        "kind": row.kind.split(", "),
        "property": row.property,
        **{key: getattr(row, key) / factor for key in ("value", "low", "high")},
        "unit": unit,
        "measured": False,
        "printed": row.as_printed,
        **{key: getattr(row, key) for key in as_it_is},
        "source": {"short": row.source, **of_source},
    }
