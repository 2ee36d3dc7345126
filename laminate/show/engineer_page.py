"""The answers of `fill` and `core` as documents: words and pictures."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from laminate.press.cores import Cores
from laminate.press.curves import along_bleed, along_temperature
from laminate.press.filling import Fill, ZoneFill
from laminate.press.pressed import PressedFill
from laminate.press.room_question import RoomQuestion
from laminate.press.section import section_of
from laminate.show.chart import Picture
from laminate.show.core_words import core_blocks
from laminate.show.document import Document
from laminate.show.engineer_plots import fiber_volume_figure, gaps_figure
from laminate.show.fill_screen import screen_blocks
from laminate.show.fill_words import fill_blocks
from laminate.show.press_pictures import bleed_figure, temperature_figure
from laminate.show.section_picture import section_figure

BESIDE = 1
"""Counts on each side of the one advised whose pressures are drawn."""


def _named(answer: Fill | Cores) -> str:
    head = answer.part.part
    number = f"{head.number} issue {head.issue}" if head.number else ""
    return " ".join(word for word in (number, head.name) if word)


def asked_of(answer: Fill, zone: ZoneFill | PressedFill) -> RoomQuestion | None:
    """The room of a zone with its best count; None without a room, or where a count is not known."""
    press = answer.press
    room = press.room_of(zone.zone) if press is not None else None
    if press is None or room is None or not set(room.zones) <= set(press.counts(answer.counts)):
        return None
    return RoomQuestion(press, room, {**answer.counts, zone.zone: zone.best.plies})


def neighbours(zone: PressedFill, ask: RoomQuestion) -> list[dict[str, int]]:
    """The counts beside the one advised, the other zones as they are."""
    near = [row.plies for row in zone.rows if 0 < abs(row.plies - zone.best.plies) <= BESIDE]
    return [{**ask.plies, zone.zone: plies} for plies in near]


def _state(ask: RoomQuestion) -> str:
    stated = all(ask.press.stated(zone) is not None for zone in ask.room.zones)
    return ", with the stated bleed" if stated else ", with no bleed where none is stated"


def fill_figures(answer: Fill, units: str) -> Iterator[Picture]:
    """In the order of the zones: the gaps of each count, or of its room the cross-section and the pressure
    against bleed; then the fiber volume.
    """
    drawn = set()
    for i, zone in enumerate(answer.zones):
        if isinstance(zone, ZoneFill) and zone.gaps:
            yield gaps_figure(zone, units, f"gaps{i}")
        ask = asked_of(answer, zone)
        if isinstance(zone, PressedFill) and ask is not None:
            if ask.room.name not in drawn:
                drawn.add(ask.room.name)
                yield section_figure(section_of(ask), units, f"room{i}", _state(ask))
            if (along := along_bleed(ask, neighbours(zone, ask))) is not None:
                room_name = f"Room {ask.room.name}{f', {zone.zone}' if len(ask.room.zones) > 1 else ''}"
                yield bleed_figure(along, room_name, units, f"bleed-{zone.zone}")
        yield fiber_volume_figure(zone, f"zone{i}")


def fill_document(answer: Fill, units: str) -> Document:
    """The answer of `fill`: its words, and pictures of every room and zone."""
    whole, draw = partial(fill_blocks, answer, units), partial(fill_figures, answer, units)
    kind, short = "yes" if answer.good else "open", screen_blocks(answer, units)
    return Document("Plies that fill the gap", _named(answer), whole, short, kind, draw)


def core_figures(answer: Cores, units: str) -> Iterator[Picture]:
    """Of every room its cross-section and pressure against bleed, of every core that against temperature."""
    seen = set()
    for number, core in enumerate(answer.cores):
        ask = core.ask
        if ask.room.name not in seen:
            seen.add(ask.room.name)
            yield section_figure(section_of(ask), units, f"room{number}", _state(ask))
            if (along := along_bleed(ask)) is not None:
                yield bleed_figure(along, f"Room {ask.room.name}", units, f"bleed{number}")
        if (hot := along_temperature(ask, core.core, seed=answer.seed)) is not None:
            yield temperature_figure(hot, f"Core {core.core}", units, f"core{number}")


def core_document(answer: Cores, units: str) -> Document:
    """The answer of `core`: its words, and pictures of every room and core."""
    judged = all(core.holds or not core.rubber for core in answer.cores)
    kind = "no" if not answer.good else "yes" if judged else "open"
    whole, draw = partial(core_blocks, answer, units), partial(core_figures, answer, units)
    return Document("Expanding core", _named(answer), whole, whole(why=False), kind, draw)
