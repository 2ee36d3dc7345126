"""The answers of `fill` and `core`, whose pictures are drawn from the state of the press."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from laminate.front.answer import Answer, AnswerLayout
from laminate.front.picture import axes_or_new, undrawn

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from laminate.press.room_question import RoomQuestion

SECTION, BLEED, TEMPERATURE = "section", "bleed", "temperature"


class FillAnswer(Answer):
    """The answer of `fill`: one row a zone and count."""

    _layout = AnswerLayout("zones.counts", "fill_json", "engineer_page.fill_document", "good")

    def plot(self, ax: Axes | None = None, attribute: str | None = None) -> Axes:
        """Draw the first zone that rubber presses; without one, each count's value with ± two u.

        Parameters
        ----------
        ax : axes of matplotlib to draw on, a new picture where None
        attribute : 'bleed', pressure above ambient [MPa] against bleed [%] with window and limits, the
            default; 'section', its room to scale; or the key of a quantity of the counts

        Returns
        -------
        Axes : those that were drawn on

        Raises
        ------
        Refused : where there is nothing to draw
        """
        from laminate.press.pressed import PressedFill
        from laminate.show.engineer_page import asked_of, neighbours

        answer = self.result
        for zone in answer.zones if attribute in (None, BLEED, SECTION) else ():
            ask = asked_of(answer, zone)
            if ask is None or (attribute != SECTION and not isinstance(zone, PressedFill)):
                continue
            others = neighbours(zone, ask) if isinstance(zone, PressedFill) else ()
            return _draw(ask, attribute or BLEED, ax, others=others)
        if attribute in (BLEED, SECTION):
            raise undrawn(attribute, "a zone with a room that rubber presses")
        return super().plot(ax, attribute)


class CoreAnswer(Answer):
    """The answer of `core`: one row a core."""

    _layout = AnswerLayout("cores", "core_json", "engineer_page.core_document", "good")

    def plot(self, ax: Axes | None = None, attribute: str | None = None) -> Axes:
        """Draw the first core of rubber.

        Parameters
        ----------
        ax : axes of matplotlib to draw on, a new picture where None
        attribute : 'temperature', pressure above ambient [MPa] against temperature [degC], the default;
            'bleed', against bleed [%]; 'section', its room to scale; or the key of a quantity

        Returns
        -------
        Axes : those that were drawn on

        Raises
        ------
        Refused : where there is nothing to draw
        """
        answer = self.result
        if attribute not in (None, SECTION, BLEED, TEMPERATURE):
            return super().plot(ax, attribute)
        for core in answer.cores:
            if core.rubber or attribute == SECTION:
                return _draw(core.ask, attribute or TEMPERATURE, ax, core=core.core)
        raise undrawn(attribute, "a core of rubber")


def _draw(ask: RoomQuestion, what: str, ax: Axes | None, *, core: str = "", others: Any = ()) -> Axes:
    """One picture of a room on axes."""
    from laminate.press.curves import along_bleed, along_temperature
    from laminate.press.section import section_of
    from laminate.show.chart import keep_inside
    from laminate.show.press_pictures import draw_bleed, draw_temperature
    from laminate.show.section_picture import draw_section, marks_of, with_letters

    name = ask.room.name
    if what == SECTION:
        section = section_of(ask)
        if section.width is None:
            raise undrawn(what, f"room {name} by its sizes: a volume has no shape")
        ax = axes_or_new(ax)
        draw_section(ax, section)
        with_letters(ax, marks_of(section, "metric"))
    elif what == BLEED:
        bled = along_bleed(ask, others)
        if bled is None:
            raise undrawn(what, f"a pressure of room {name}, and resin that can leave")
        ax = axes_or_new(ax)
        draw_bleed(ax, bled)
    else:
        hot = along_temperature(ask, core)
        if hot is None:
            raise undrawn(what, f"a pressure of room {name}")
        ax = axes_or_new(ax)
        draw_temperature(ax, hot, alone=True)
    if what != SECTION:
        ax.set_title(f"Room {name}")
    keep_inside(ax)
    return ax
