"""The curves of a cycle as a matplotlib figure, for those who call the library."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from laminate.curing.answers import ZoneCycle


def drawn(zones: list[ZoneCycle]) -> Any:
    """Temperature [degC] and absolute pressures [MPa] over time [min], one row of axes a zone."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 3.2 * max(len(zones), 1)), layout="constrained")
    axes = figure.subplots(max(len(zones), 1), 2, squeeze=False)
    for (left, right), one in zip(axes, zones, strict=False):
        curves = one.curves
        assert curves is not None
        minutes = curves.seconds / 60.0
        for label, values in curves.temperatures.items():
            left.plot(minutes, values - 273.15, label=label)
        for label, pressure in (("resin", curves.resin), ("vapor", curves.vapor)):
            if pressure is not None:
                right.plot(minutes, pressure / 1e6, label=label)
        left.set(title=f"{one.zone}: {one.verdict}", xlabel="time [min]", ylabel="temperature [degC]")
        right.set(xlabel="time [min]", ylabel="absolute pressure [MPa]")
        left.legend()
        if right.lines:
            right.legend()
    return figure
