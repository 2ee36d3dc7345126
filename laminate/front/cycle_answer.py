"""The answer of `cycle`, whose picture is its curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.front.answer import Answer, AnswerLayout, Rows
from laminate.front.picture import axes_or_new, undrawn

if TYPE_CHECKING:
    from matplotlib.axes import Axes


class CycleAnswer(Answer):
    """The answer of `cycle`: one row a zone, or a zone and planned cycle."""

    _layout = AnswerLayout("zones", "cycle_json", "cycle_page.cycle_document", "good")

    def planned(self, cycle: str, zone: str | None = None) -> Rows:
        """A planned cycle: one answer for each zone and humidity.

        Parameters
        ----------
        cycle : its name, NAME of [cycle.NAME]
        zone : of this zone alone, of all where None

        Returns
        -------
        Rows : by place; each has `verdict`, its moments and margins

        Raises
        ------
        AttributeError : where nothing has that name
        """
        rows = self.to_dict()["zones"]
        some = [row for row in rows if row["cycle"] == cycle and zone in (None, row["zone"])]
        if not some:
            known = dict.fromkeys(f"{row['cycle']} of {row['zone']}" for row in rows if row["cycle"])
            raise AttributeError(f"no planned cycle {cycle!r}; there are {', '.join(known) or 'none'}")
        return Rows(some)

    def plot(self, ax: Axes | None = None, attribute: str | None = None) -> Axes:
        """Draw laminate temperature [degC] over time [min], and resin and vapor pressure, absolute [MPa].

        Parameters
        ----------
        ax : axes of matplotlib to draw on, a new picture where None
        attribute : the zone or the planned cycle, the first with curves where None

        Returns
        -------
        Axes : those that were drawn on

        Raises
        ------
        Refused : where there are no curves
        """
        drawable = [zone for zone in self.result.zones if zone.curves is not None]
        zones = [zone for zone in drawable if attribute in (None, zone.zone, zone.cycle)]
        if not zones:
            known = dict.fromkeys(name for zone in drawable for name in (zone.zone, zone.cycle) if name)
            raise undrawn(attribute, f"one of {', '.join(known)}" if known else "a zone with curves")
        from laminate.show.chart import keep_inside
        from laminate.show.cycle_page import draw_cycle, title_of

        ax = axes_or_new(ax)
        draw_cycle(ax, zones[0], alone=True)
        ax.set_title(f"{title_of(zones[0])}: {zones[0].verdict}")
        keep_inside(ax)
        return ax
