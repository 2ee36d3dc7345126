"""Tabulated material values with their origin: what a table says where nobody has measured.

The tables are data files of `laminate.reference`, one source each, values as printed. A value found here is
always a tabulated one: `Material.note` says so, and every answer that uses it repeats the sentence.
"""

import builtins
import csv
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any

from laminate.values.quantities import G_CM3, GPA, PER_K
from laminate.values.said import Figure, Said, joined

#: printed unit: (unit inside, factor)
UNITS = {
    "1e-6/K": ("1/K", Decimal("1e-6")),
    "1e-6/degF": ("1/K", Decimal("1.8e-6")),
    "g/cm^3": ("kg/m^3", Decimal(1000)),
    "specific gravity": ("kg/m^3", Decimal(1000)),
    "GPa": ("Pa", Decimal("1e9")),
    "mm^2/s": ("m^2/s", Decimal("1e-6")),
    "%": ("1", Decimal("0.01")),
    "1": ("1", Decimal(1)),
}
#: printed unit that is not the trade's: factor to the one that is shown
SHOWN = {"1e-6/degF": Decimal("1.8"), "specific gravity": Decimal(1)}
#: unit inside: unit shown; others are shown as printed
FIGURES = {"1/K": PER_K, "kg/m^3": G_CM3, "Pa": GPA}
#: property: its words on a screen
PROPERTIES = {
    "expansion": "linear expansion",
    "density": "density",
    "youngs_modulus": "Young's modulus",
    "poissons_ratio": "Poisson's ratio",
    "bulk_modulus": "bulk modulus",
    "bulk_modulus_rise": "rise of bulk modulus with pressure",
    "moisture": "moisture content",
    "diffusivity": "thermal diffusivity",
}
#: properties that an answer takes from the tables where no value is given
TAKEN = ("expansion", "bulk_modulus", "bulk_modulus_rise")
_FOLDER = files("laminate.reference")
KINDS = ("tool", "core", "fiber", "resin", "laminate")


class UnknownMaterial(LookupError):
    """No table holds this material, or not this property of it; `near` lists what was perhaps meant."""

    def __init__(self, sentence: str, near: tuple[str, ...] = ()) -> None:
        super().__init__(sentence)
        self.near = near


class SourcesDisagree(LookupError):
    """Sources differ and none is preferred; the sentence says what each of them has."""


@dataclass(frozen=True, kw_only=True)
class Material:
    """One tabulated value: `value`, `low` and `high` in `unit` (coherent SI), and as printed with its origin.

    `value` is the middle of a printed range; a single printed figure has `low == value == high`.
    """

    name: str
    kind: str
    property: str
    value: float
    low: float
    high: float
    unit: str
    source: str
    edition: str
    table: str
    how_known: str
    remark: str
    title: str
    page: str
    file: str
    printed: str
    printed_unit: str
    printed_name: str
    conditions: str
    preferred: bool

    @builtins.property
    def tolerance(self) -> float | None:
        """Half-width of the printed range, a rectangular tolerance [unit]; None where one figure is printed.

        >>> round(find("PTFE", "expansion").tolerance * 1e6, 9)
        45.0
        """
        return (self.high - self.low) / 2 if self.high > self.low else None

    @builtins.property
    def as_printed(self) -> str:
        """The figure and unit as the source prints them.

        >>> find("P20", "expansion").as_printed
        '7.0e-6/degF'
        """
        return _text(self.printed, self.printed_unit)

    @builtins.property
    def shown(self) -> str:
        """The figure in the unit of the trade, to as many decimals as it is printed with.

        >>> find("P20", "expansion").shown
        '12.6e-6/K'
        >>> find("PTFE", "expansion").shown
        '126–216e-6/K'
        """
        if self.unit not in FIGURES:
            return self.as_printed
        unit, factor = FIGURES[self.unit], SHOWN.get(self.printed_unit, Decimal(1))
        printed = [Decimal(part) for part in self.printed.split("–")]
        texts = [(str((p * factor).quantize(p)), len(p.as_tuple().digits)) for p in printed]
        ends = zip((self.low, self.high), texts, strict=False)
        *first, last = [Figure(end, unit, digits, written=text) for end, (text, digits) in ends]
        return Said(*(part for end in first for part in (replace(end, bare=True), "–")), last)

    @builtins.property
    def origin(self) -> str:
        """Where the figure comes from and how it is known, in one phrase.

        >>> find("7075", "expansion").origin
        'Callister B.6, read'
        """
        return f"{self.source}, {self.how_known}"

    def others(self) -> "tuple[Material, ...]":
        """Give what the other rows of the tables say of the same property, where they say something else."""
        rows = listing(property=self.property)
        return tuple(r for r in rows if r.name == self.name and (r.low, r.high) != (self.low, self.high))

    @builtins.property
    def taken(self) -> bool:
        """Whether it is declared to be taken where tables differ, or the only one of what answers take."""
        return self.preferred or (self.property in TAKEN and not self.others())

    def note(self) -> Said:
        """Give the sentence that goes with every answer in which this value is used.

        >>> find("PTFE", "density").note()
        'PTFE, density 2.17 g/cm^3: tabulated, not measured (Callister B.1, read; room temperature).'
        """
        where = "; ".join(filter(None, (self.origin, self.conditions, self.remark)))
        others = self.others()
        elsewhere = Said(" Elsewhere: ", _says(others), ".") if others else ""
        what = f"{self.name}, {PROPERTIES[self.property]} "
        return Said(what, self.shown, f": tabulated, not measured ({where}).", elsewhere)


def find(name: str, property: str) -> Material:
    """Find one property of a material in the tables.

    Upper and lower case, spaces and hyphens do not matter; common spellings are known. `property` is a key of
    `PROPERTIES`. Where tables differ, the value comes from the row declared preferred.
    Raises UnknownMaterial, with the near names, and SourcesDisagree where the choice is the user's to make.

    >>> find("AL 6061", "expansion").value
    2.36e-05
    """
    canonical = _spellings().get(_key(name))
    if canonical is None:
        near = near_names(name)
        meant = f" Did you mean {' or '.join(near)}?" if near else ""
        raise UnknownMaterial(f"'{name}' is not in the material tables.{meant}", near)
    held = [row for row in _rows() if row.name == canonical]
    rows = [row for row in held if _key(row.property) == _key(property)]
    if not rows:
        has = tuple(dict.fromkeys(row.property for row in held))
        raise UnknownMaterial(f"The tables hold no {property} of {canonical}, only {', '.join(has)}.", has)
    rows = [row for row in rows if row.preferred] or rows
    if len({(row.low, row.high) for row in rows}) > 1:
        raise SourcesDisagree(f"The tables disagree on the {property} of {canonical}: {_says(rows)}.")
    return rows[0]


def listing(kind: str | None = None, property: str | None = None, text: str | None = None) -> list[Material]:
    """List the tabulated values, by material and property, narrowed by use, property or a piece of text.

    `kind` is one of `KINDS`, `property` a key of `PROPERTIES`; `text` is looked for in the name, its other
    spellings and the name as printed. An empty list means that nothing fits.

    >>> [m.printed for m in listing(property="density", text="E-glass")]
    ['2.58', '2.54', '2.54', '2.4']
    """
    wanted = None if text is None else _key(text)
    named = {name for key, name in _spellings().items() if wanted and wanted in key}
    rows = [
        row
        for row in _rows()
        if (kind is None or kind in row.kind.split(", "))
        and (property is None or row.property == property)
        and (wanted is None or row.name in named or (wanted and wanted in _key(row.printed_name)))
    ]
    order = {name: place for place, name in enumerate(_catalog())}
    return sorted(rows, key=lambda r: (order[r.name], list(PROPERTIES).index(r.property)))


def _says(rows: Sequence[Material]) -> Said:
    """What several rows say, each with its source."""
    where = (", ".join(part for part in (row.source, row.conditions) if part) for row in rows)
    return joined(", ", [Said(row.shown, f" ({at})") for row, at in zip(rows, where, strict=True)])


def _text(figure: str, unit: str) -> str:
    if unit.startswith("1e-6/"):
        return figure + unit[1:]
    return figure if unit == "1" else f"{figure} {unit}"


def _key(name: str) -> str:
    plain = name.casefold().replace("aluminum", "aluminium").replace("fibre", "fiber")
    return "".join(c for c in plain if c.isalnum())


def near_names(name: str) -> tuple[str, ...]:
    """Give up to four names of materials that a person may have meant by `name`."""
    known = _spellings()
    key = _key(name)
    close = get_close_matches(key, known, n=6, cutoff=0.6)
    within = [k for k in known if len(key) > 2 and key in k]
    return tuple(dict.fromkeys(known[k] for k in [*within, *close]))[:4]


def catalog_entry(name: str) -> dict[str, Any]:
    """Give what materials.toml says of a material by any of its spellings, with its `name`; empty: not there.

    >>> catalog_entry("VMQ")["name"], catalog_entry("VMQ")["acts_as"], catalog_entry("pine")
    ('silicone rubber', 'rubber', {})
    """
    canonical = _spellings().get(_key(name))
    return {} if canonical is None else {"name": canonical, **_catalog()[canonical]}


@cache
def _catalog() -> dict[str, dict[str, Any]]:
    return tomllib.loads((_FOLDER / "materials.toml").read_text("utf-8"))


@cache
def _spellings() -> dict[str, str]:
    return {_key(s): name for name, entry in _catalog().items() for s in (name, *entry["spellings"])}


@cache
def _rows() -> tuple[Material, ...]:
    tables = sorted(f.name.removesuffix(".csv") for f in _FOLDER.iterdir() if f.name.endswith(".csv"))
    return tuple(row for table in tables for row in _read(table))


def _read(table: str) -> Iterator[Material]:
    head = tomllib.loads((_FOLDER / f"{table}.toml").read_text("utf-8"))
    of_source = {key: head[key] for key in ("edition", "table", "how_known", "title", "page")}
    for line in csv.DictReader((_FOLDER / f"{table}.csv").read_text("utf-8").splitlines()):
        for column, printed_unit in head["columns"].items():
            if not line[column]:
                continue
            unit, factor = UNITS[printed_unit]
            low, high = (Decimal(p) * factor for p in (line[column].split("–") * 2)[:2])
            yield Material(
                name=line["material"],
                kind=", ".join(_catalog()[line["material"]]["kind"]),
                property=column,
                value=float((low + high) / 2),
                low=float(low),
                high=float(high),
                unit=unit,
                source=head["short"],
                **of_source,
                remark=line["remark"],
                file=table,
                printed=line[column],
                printed_unit=printed_unit,
                printed_name=line["printed_name"],
                conditions=line["conditions"] or head["conditions"],
                preferred=line["preferred"] == "yes",
            )
