"""The line that is typed into, by a person or by a balance that types: one key after the other, none lost."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from textual import events
from textual.widgets import Input

ENDS = ("enter", "tab", "ctrl+j")
"""Keys that end an entry, whichever the balance sends."""
PAIR = {"enter", "ctrl+j"}
"""A carriage return and a line feed, in either order, are one end."""


class InputLine(Input):
    """An input that hands over what was typed at once, before the next key is looked at.

    A balance types a reading, Enter, and perhaps the next one in the same instant. So every key of the page
    is answered here, in its turn: anywhere else it would be answered before, or after, the digits around it.

    take: what was typed, at its end; empty: the cell is to be emptied; keys: what any other key does.
    """

    def __init__(
        self, take: Callable[[str], None], empty: Callable[[], None], keys: Mapping[str, Callable[[], None]]
    ) -> None:
        super().__init__(id="line", select_on_focus=False, compact=True)
        self._take, self._empty, self._keys = take, empty, keys
        self._ended = ""

    def on_key(self, event: events.Key) -> None:
        """Answer a key of the page; digits and letters are left to the input."""
        before, self._ended = self._ended, event.key if event.key in ENDS else ""
        if event.key in ENDS:
            if {before, event.key} == PAIR and not self.value:
                self._ended = ""
            else:
                self._hand_over()
        elif event.key in self._keys:
            self._keys[event.key]()
        elif event.key == "delete" and not self.value:
            self._empty()
        else:
            return
        event.stop()
        event.prevent_default()

    def on_paste(self, event: events.Paste) -> None:
        """Take pasted text as if it were typed, line ends included; empty lines say nothing."""
        event.stop()
        event.prevent_default()
        for piece in event.text.splitlines(keepends=True):
            self.insert_text_at_cursor(piece.rstrip("\r\n"))
            if piece.endswith(("\r", "\n")) and self.value:
                self._hand_over()

    def _hand_over(self) -> None:
        typed, self.value = self.value, ""
        self._take(typed)
