"""What a caller gives for a quantity, as the text of a file: so one reader knows every rule about it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from numbers import Real
from pathlib import PurePath
from typing import Any

from laminate.values.input_key import NUMBER, Key
from laminate.values.unit_names import KINDS
from laminate.values.units import SharedText, kind_of


def file_text(given: Any, shared: Mapping[Any, Key] | None = None) -> Any:
    """A quantity as the files write it; text, counts, words and tables pass as they are.

    given: text, `Value` (its `.text`), a quantity of a unit library (with `.magnitude` and `.units`), a pair
    (number or number of `uncertainties`, unit), or 0; shared: what moves other inputs too -> its name.

    >>> file_text((1.79, "g/cm^3"))
    '1.79 g/cm^3'
    """
    if not isinstance(given, str) and isinstance(getattr(given, "text", None), str):
        return given.text
    if isinstance(given, tuple) and len(given) == 2 and isinstance(given[1], str):
        return _with_unit(given[0], given[1], shared or {})
    if hasattr(given, "magnitude") and hasattr(given, "units"):
        return _with_unit(*_in_known_unit(given), shared or {})
    if hasattr(given, "nominal_value"):
        return _with_unit(given, "", shared or {})
    if getattr(given, "ndim", None) == 0:  # a number of numpy
        given = given.item()
    if isinstance(given, Decimal) and given.is_snan():
        return math.nan
    if isinstance(given, float | Decimal):
        return float(given) + 0.0  # -0.0 is nothing too
    return str(given) if isinstance(given, PurePath) else given


def _in_known_unit(given: Any) -> tuple[Any, str]:
    """Number and unit of a quantity: as it is where the files know its unit, else in that of its kind."""
    unit = f"{given.units:~C}".replace("**", "^").replace("Δ°", "delta_deg")
    if unit and unit not in KINDS["temperature_difference"].units and kind_of(f"1 {unit}") is None:
        plain = given.to_base_units()
        if not f"{plain.units:~C}":  # a share, such as g/kg, which an angle is compatible with too
            return 100.0 * plain.magnitude, "%"
        for kind in KINDS.values():
            spelled = next((name for name, size in kind.units.items() if size == kind.coherent), "")
            if spelled and given.is_compatible_with(kind.coherent):
                return given.to(kind.coherent).magnitude, spelled
    return given.magnitude, unit


def _with_unit(number: Any, unit: str, shared: Mapping[Any, Key]) -> str:
    if not hasattr(number, "nominal_value"):
        real = isinstance(number, Real | Decimal) and not isinstance(number, bool)
        plain = float(number) if real else number
        return f"{plain!r} {unit}".rstrip()
    if not number.std_dev:
        return f"{number.nominal_value!r} {unit}".rstrip()
    text = SharedText(f"{number.nominal_value!r} {unit} ± {number.std_dev!r} (standard)")
    text.shared = tuple(
        (shared[variable], float(slope * variable.std_dev))
        for variable, slope in number.derivatives.items()
        if variable in shared
    )
    return text


def call_text(given: Mapping[str, Any]) -> dict[str, Any]:
    """Everything that a call gives, as text: tables, lists and quantities.

    A number of `uncertainties` that moves several inputs stays one cause of error that moves them all, named
    by its tag, else by the inputs.
    """
    homes: dict[Any, list[str]] = {}
    _variables(given, "", homes)
    shared: dict[Any, Key] = {}
    for variable, places in homes.items():
        if len(places) > 1:
            tag = str(getattr(variable, "tag", None) or f"number in {' and '.join(places)}")
            taken = sum(key.quantity == tag for key in shared.values())
            shared[variable] = Key(NUMBER, f"{taken + 1}" if taken else "", tag)
    texts: dict[str, Any] = _texts(given, shared)
    return texts


def _variables(given: Any, place: str, homes: dict[Any, list[str]]) -> None:
    """The independent numbers of `uncertainties` in what is given, each with the places that it moves."""
    if isinstance(given, Mapping):
        for key, value in given.items():
            _variables(value, f"{place}.{key}".lstrip("."), homes)
    elif isinstance(given, list):
        for number, value in enumerate(given, 1):
            _variables(value, f"{place}[{number}]", homes)
    else:
        number = given[0] if isinstance(given, tuple) and given else getattr(given, "magnitude", given)
        for variable in getattr(number, "derivatives", ()):
            homes.setdefault(variable, []).append(place)


def _texts(table: Any, shared: Mapping[Any, Key]) -> Any:
    if isinstance(table, Mapping) and not isinstance(getattr(table, "text", None), str):
        return {str(key): _texts(value, shared) for key, value in table.items()}
    if isinstance(table, list):
        return [_texts(value, shared) for value in table]
    return file_text(table, shared)
