"""The pages of `fill` and `core`: the words of the screen, and pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from laminate.press.curves import along_bleed, along_temperature
from laminate.press.filling import ZoneFill
from laminate.press.pressed import PressedFill
from laminate.press.room_question import RoomQuestion
from laminate.press.section import section_of
from laminate.show.core_words import core_blocks
from laminate.show.engineer_plots import fiber_volume_figure, gaps_figure
from laminate.show.fill_words import fill_blocks
from laminate.show.pages import page_of
from laminate.show.press_pictures import bleed_figure, temperature_figure
from laminate.show.section_picture import section_figure

if TYPE_CHECKING:
    from collections.abc import Sequence

    from laminate.press.filling import Fill
    from laminate.press.pressing import Cores
    from laminate.press.rooms import Room
    from laminate.show.blocks import Block
    from laminate.show.chart import Figure

BESIDE = 1
"""Counts on each side of the one advised whose pressures are drawn."""


def _page(
    found: Fill | Cores, title: str, blocks: Sequence[Block], figures: Sequence[Figure], kind: str
) -> str:
    head = found.part.part
    number = f"{head.number} issue {head.issue}" if head.number else ""
    return page_of(title, " ".join(word for word in (number, head.name) if word), blocks, figures, kind=kind)


def asked_of(found: Fill, room: Room) -> RoomQuestion | None:
    """A room at the counts of an answer; None where one of its counts is not known."""
    if found.asked is None or any(zone not in found.asked.counts(found.counts) for zone in room.zones):
        return None
    return RoomQuestion(found.asked, room, found.counts)


def neighbours(zone: PressedFill, ask: RoomQuestion) -> list[dict[str, int]]:
    """The counts beside the one advised, the other zones as they are."""
    near = [row.plies for row in zone.rows if 0 < abs(row.plies - zone.best.plies) <= BESIDE]
    return [{**ask.plies, zone.zone: plies} for plies in near]


def _state(ask: RoomQuestion) -> str:
    stated = all(ask.press.stated(zone) is not None for zone in ask.room.zones)
    return ", with the stated bleed" if stated else ", with no bleed where none is stated"


def fill_figures(found: Fill, units: str) -> list[Figure]:
    """In the order of the zones: the gaps of each count, or of its room the cross-section and the pressure
    against bleed; then the fiber volume.
    """
    figures, seen = [], set()
    rooms = {zone: room for room in (found.asked.rooms if found.asked else ()) for zone in room.zones}
    for i, one in enumerate(found.zones):
        if isinstance(one, ZoneFill) and one.gaps and one.hot_gap is not None:
            figures.append(gaps_figure(one, units, f"gaps{i}"))
        room = rooms.get(one.zone)
        ask = None if room is None else asked_of(found, room)
        if isinstance(one, PressedFill) and room is not None and ask is not None:
            if room.name not in seen:
                seen.add(room.name)
                figures.append(section_figure(section_of(ask), units, f"room{i}", _state(ask)))
            along = along_bleed(ask, neighbours(one, ask))
            if along is not None:
                words = f"room {room.name}, {one.zone}" if len(room.zones) > 1 else f"room {room.name}"
                figures.append(bleed_figure(along, words, units, f"bleed-{one.zone}"))
        figures.append(fiber_volume_figure(one, f"zone{i}"))
    return figures


def fill_page(found: Fill, units: str) -> str:
    """The page of `fill`: pictures of every room and zone, and the answer in words."""
    kind = "yes" if found.every_zone_fits else "open"
    blocks = fill_blocks(found, units)
    return _page(found, "Plies that fill the gap", blocks, fill_figures(found, units), kind)


def core_figures(found: Cores, units: str) -> list[Figure]:
    """Of every room its cross-section and pressure against bleed, of every core that against temperature."""
    figures, seen = [], set()
    for number, core in enumerate(found.cores):
        ask = core.in_press.ask
        if ask.room.name not in seen:
            seen.add(ask.room.name)
            figures.append(section_figure(section_of(ask), units, f"room{number}", _state(ask)))
            along = along_bleed(ask)
            if along is not None:
                figures.append(bleed_figure(along, f"room {ask.room.name}", units, f"bleed{number}"))
        hot = along_temperature(ask, core.core, seed=found.seed)
        if hot is not None:
            figures.append(temperature_figure(hot, f"core {core.core}", units, f"core{number}"))
    return figures


def core_page(found: Cores, units: str) -> str:
    """The page of `core`: pictures of every room and core, and the answer in words."""
    judged = all(core.in_press.holds or not core.rubber for core in found.cores)
    kind = "no" if not found.good else "yes" if judged else "open"
    return _page(found, "Expanding core", core_blocks(found, units), core_figures(found, units), kind)
