"""What a caller gives for a quantity, as the text of a file: so one reader knows every rule about it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from laminate.front.value import Value
from laminate.values.problems import Problem, Refused

FORMS = "text with its unit, a Value, a quantity of a unit library, or (number, unit)"


def file_text(given: Any, place: str) -> Any:
    """A quantity as the files write it; text, counts, words and tables pass as they are.

    given: text, `Value`, a quantity of a unit library (with `.magnitude` and `.units`), a pair (number or
    number of `uncertainties`, unit), or 0; place: name of the parameter or key. Raises `Refused` for a
    number of `uncertainties` that is computed from others: it moves with them, and text cannot say so.

    >>> file_text((1.79, "g/cm^3"), "fiber_density")
    '1.79 g/cm^3'
    """
    if isinstance(given, Value):
        return given.text
    if isinstance(given, tuple) and len(given) == 2 and isinstance(given[1], str):
        return _with_unit(given[0], given[1], place)
    if hasattr(given, "magnitude") and hasattr(given, "units"):
        unit = f"{given.units:~C}".replace("**", "^")
        return _with_unit(given.magnitude, _plain_unit(unit), place)
    if hasattr(given, "nominal_value"):
        return _with_unit(given, "", place)
    if hasattr(given, "item") and not isinstance(given, Mapping):  # a number of numpy
        return given.item()
    return str(given) if isinstance(given, PurePath) else given


def _plain_unit(unit: str) -> str:
    words = {
        "degree_Celsius": "degC",
        "°C": "degC",
        "°F": "degF",
        "delta_degC": "K",
        "dimensionless": "",
        "Δ°C": "K",
    }
    return words.get(unit, unit)


def _with_unit(number: Any, unit: str, place: str) -> str:
    if not hasattr(number, "nominal_value"):
        return f"{float(number)!r} {unit}".rstrip()
    if len(getattr(number, "derivatives", {})) > 1:
        raise Refused(
            Problem(
                "correlated-input",
                "",
                place,
                f"{number}, computed from {len(number.derivatives)} other numbers",
                "a number with an uncertainty of its own",
                "give the numbers that it is computed from, or its value with u as a Value",
            )
        )
    return (
        f"{number.nominal_value!r} {unit} ± {number.std_dev!r} (standard)"
        if number.std_dev
        else (f"{number.nominal_value!r} {unit}".rstrip())
    )


def one_variable_each(given: Mapping[str, Any]) -> None:
    """Raise `Refused` where one number of `uncertainties` stands for several inputs."""
    seen: dict[Any, str] = {}
    problems: list[Problem] = []
    for name, value in given.items():
        number = value[0] if isinstance(value, tuple) and value else getattr(value, "magnitude", value)
        for variable in getattr(number, "derivatives", ()):
            if variable in seen:
                problems.append(
                    Problem(
                        "correlated-input",
                        "",
                        name,
                        f"the same uncertain number as {seen[variable]}",
                        "inputs that are independent of each other",
                        "give each its own number; inputs that move together are not taken yet",
                    )
                )
            seen.setdefault(variable, name)
    if problems:
        raise Refused(problems)


def table_text(table: Any, place: str = "") -> Any:
    """A mapping as of a file, every quantity in it as text."""
    if isinstance(table, Mapping):
        return {str(key): table_text(value, f"{place}.{key}".lstrip(".")) for key, value in table.items()}
    if isinstance(table, list):
        return [table_text(value, f"{place}[{i}]") for i, value in enumerate(table, 1)]
    return file_text(table, place)
