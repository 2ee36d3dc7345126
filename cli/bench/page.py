"""The page: the specimen's cells at the left, what follows from them at the right, what to say below."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from textual import events
from textual.app import App, ComposeResult
from textual.containers import Horizontal
from textual.widgets import Static

from laminate.bench.catching_up import Cell
from laminate.bench.session import Session, sentences
from laminate.files.reasons import is_reading, is_reason
from laminate.values.problems import Refused

from . import drawn
from .line import InputLine
from .words import ACROSS, ANSWERS, DOWN, HELP, OPEN, REFUSED, REPEATS, REPLY, TAKES_BACK, TYPE, WHO

PARTS = ("head", "cells", "derived", "said", "asked", "next")
T = TypeVar("T")
Dialog = Generator[str, str]
"""Yields each question, and is sent its answer."""


@dataclass
class Held:
    """A cell just filled from which the page has not gone on by itself, and that no reading may replace.

    why: in words, a doubt or that it is the last; not_taken: what has been typed since.
    """

    cell: Cell
    why: tuple[str, ...]
    not_taken: list[str]


class EntryScreen(App[None]):
    """The entry page of one table.

    session: the work; title: batch and part; greeting: what is to be said at the beginning.
    """

    CSS = """
    Screen, Static { background: ansi_default; color: ansi_default; }
    #head { height: 3; border-bottom: ascii ansi_default; }
    #body { height: 1fr; }
    #cells { width: 44; height: 100%; }
    #derived { width: 1fr; height: 100%; }
    #said { height: 5; border-top: ascii ansi_default; }
    #entry, #next { height: 1; }
    #asked { width: auto; }
    #line { width: 1fr; height: 1; border: none; padding: 0; background: ansi_default; color: ansi_default; }
    """
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, session: Session, title: str, greeting: tuple[str, ...] = ()) -> None:
        super().__init__(ansi_color=True)
        self.session, self.words = session, title
        self.said: tuple[str, ...] = greeting
        self.down = False
        self.help_shown = False
        self.interrupted = False
        self.failure: Refused | None = None
        self.held: Held | None = None
        self.cell: Cell = session.resume() or self._first()
        self.dialog = self.who()
        self.question: str | None = None if session.operator else next(self.dialog)
        empty_cell = partial(self.ask, self.empty)
        take, empty = (partial(self._then_show, action) for action in (self.take, empty_cell))
        self.line = InputLine(take, empty, self._keys())
        self.parts = {name: Static(id=name, markup=False) for name in PARTS}

    def compose(self) -> ComposeResult:
        """The parts of the page, from the top."""
        parts = self.parts
        yield parts["head"]
        yield Horizontal(parts["cells"], parts["derived"], id="body")
        yield parts["said"]
        yield Horizontal(parts["asked"], self.line, id="entry")
        yield parts["next"]

    def on_mount(self) -> None:
        """Begin at the first cell that is wanted."""
        self.line.focus()
        self.show()

    def on_resize(self, event: events.Resize) -> None:
        """Fit the list of cells to the new height."""
        self.call_after_refresh(self.show)

    def _keys(self) -> dict[str, Callable[[], None]]:
        actions: dict[str, Callable[[], None]] = {
            "f1": self.show_help,
            "f2 ctrl+n": partial(self.ask, self.new),
            "f3 ctrl+g": partial(self.ask, self.where),
            "f4 ctrl+r": self.repeat,
            "f5 ctrl+t": self.turn,
            "f6 ctrl+y": partial(self.ask, self.why_right),
            "f7 ctrl+x": partial(self.ask, self.why_excluded),
            "f8 ctrl+o": partial(self.ask, self.who),
            "f9 ctrl+z": self.undo,
            "f10 ctrl+q": self.exit,
            "ctrl+c": self.interrupt,
            "up": lambda: self.step(-1),
            "down": lambda: self.step(1),
            "pageup": lambda: self.step_row(-1),
            "pagedown": lambda: self.step_row(1),
            "escape": self.drop,
        }
        pairs = [(key, action) for keys, action in actions.items() for key in keys.split()]
        return {key: partial(self._then_show, action) for key, action in pairs}

    def interrupt(self) -> None:
        """Leave as any program does that is interrupted."""
        self.interrupted = True
        self.exit()

    def _then_show(self, action: Callable[..., None], *typed: str) -> None:
        closes = self.help_shown and action == self.show_help
        self.help_shown = False  # what an action says stands where the keys were
        if not closes:
            action(*typed)
        self.show()

    def _first(self) -> Cell:
        return self.session.next_cell() or (self.session.rows[0], self.session.labels[0])

    def _first_of(self, row: int, otherwise: str) -> Cell:
        """The first cell of a row that is wanted."""
        wanted = (label for label in self.session.labels if self.session.wanted(row, label))
        return row, next(wanted, otherwise)

    def _unask(self) -> None:
        """Drop the question, but that who measures must be answered."""
        self.question = None if self.session.operator else self.question

    # what is done -------------------------------------------------------------

    def take(self, typed: str) -> None:
        """Whatever was typed: the answer to a question, or the content of the cell."""
        text = typed.strip()
        if self.question is not None and text:
            self.question = None
            self._do(lambda: self._send(text))
        elif self.question is None and self.held is not None and self.held.cell == self.cell:
            self._answer(self.held, text)
        elif self.question is None and text:
            self._do(lambda: self.ask(lambda: self._type(typed)))

    def ask(self, begin: Callable[[], Dialog]) -> None:
        """Begin what may ask something, in place of what was asked."""
        dialog = begin()
        question = next(dialog, None)
        if question is not None:
            self.dialog, self.question, self.line.value = dialog, question, ""

    def _send(self, answer: str) -> None:
        """Go on with the answer to what was asked, to the next question where there is one."""
        with suppress(StopIteration):
            self.question = self.dialog.send(answer)

    def _type(self, typed: str) -> Dialog:
        cell = self.cell
        answer = self.session.type(*cell, typed)
        if answer.was:
            self.said = ("Esc leaves it as it is.",)
            why = yield from self._reason(f"{cell[1]} was {answer.was}. Why does it change?")
            self.cell = cell  # one more reading may have been begun meanwhile
            answer = self.session.type(*cell, typed, why)
        if not answer.kept:
            other = "Type it again, or go to the other cell and correct that one."
            self._refuse("Not kept. " + " ".join(answer.said), other)
        elif answer.stay:
            first, *others = answer.said
            self._hold(f"Saved, please check: {first}", *others)
        else:
            self._go_on(answer.said)

    def _refuse(self, *lines: str) -> None:
        """Say, and be heard, that something was not done or needs a look."""
        self.bell()
        self.said = lines

    def _hold(self, *why: str) -> None:
        """Stay, and take no reading until there is an answer: whoever does not look would replace one."""
        self._refuse(*why, ANSWERS)
        self.held = Held(self.cell, why, [])

    def _answer(self, held: Held, typed: str) -> None:
        """Go on where the line was empty; else say what was not taken, and why."""
        if not typed:
            self._go_on(())
            return
        held.not_taken.append(typed)
        label, holds = self.cell[1], self.session.table.text(*self.cell)
        self._refuse(f"{REFUSED}{', '.join(held.not_taken)}. {label} holds {holds}.", *held.why, ANSWERS)

    def _go_on(self, lines: tuple[str, ...]) -> None:
        """Go to the next cell that is wanted, or say that there is none and what is still open."""
        following, self.held = self.session.next_cell(self.cell, down=self.down), None
        if following is None:
            end = "Nothing is left to be measured here. F10 leaves."
            if unsettled := self.session.unsettled():
                end = f"Every cell is filled in. Still open, marked ? or !: {', '.join(unsettled)}. {OPEN}"
            if self.session.table.text(*self.cell):
                self.held = Held(self.cell, (end,), [])
            self.said = (*lines, end)
            return
        done = drawn.summary(self.session, self.cell[0]) if following[0] != self.cell[0] else ()
        self.said, self.cell = (*lines, *done), following

    def _do(self, change: Callable[[], None]) -> None:
        """Do it, or say why it cannot be done; a failure of the disk is remembered until it works again."""
        try:
            change()
            self.failure = None
        except Refused as refusal:
            self._refuse(*(problem.sentence() for problem in refusal.problems))
            self.failure = refusal
        if self.cell not in list(self.session.cells()):
            self.cell = self._first()

    def empty(self) -> Dialog:
        """Take the content of the cell out."""
        cell = self.cell
        was = self.session.table.text(*cell)
        if was and self.question is None:
            why = yield from self._reason(f"{cell[1]} was {was}. Why is it taken out?")
            self.session.empty(*cell, why)
            self.held = None

    def _reason(self, words: str) -> Generator[str, str, str]:
        """The reason that answers a question, which is asked until there is one."""
        while not is_reason(reason := (yield words)):
            refused = f"{REFUSED}{reason}. A reading" if is_reading(reason) else f"'{reason}'"
            self._refuse(f"{refused} is no reason: say why, in words. Esc drops the question.")
        return reason

    def who(self) -> Dialog:
        """Who measures: no reading that a balance types."""
        while is_reading(name := (yield WHO)):
            self._refuse(f"{REFUSED}{name}. Answer the question above first.")
        self.session.operator = name

    def drop(self) -> None:
        """Drop what was begun."""
        self._unask()
        self.said, self.line.value = (), ""

    def step(self, by: int) -> None:
        """Go to another cell, in the order of work, whether or not it is empty."""
        self._move(_neighbor(list(self.session.cells(down=self.down)), self.cell, by))

    def step_row(self, by: int) -> None:
        """Go to the same cell of another row."""
        self._move((_neighbor(self.session.rows, self.cell[0], by), self.cell[1]))

    def _move(self, cell: Cell) -> None:
        if cell != self.cell:
            self.held = None
        self._unask()
        self.cell, self.said, self.line.value = cell, (), ""

    def show_help(self) -> None:
        """Show the keys, until the next key of the page."""
        self.help_shown = True

    def turn(self) -> None:
        """Work across the table, specimen by specimen, or down it, column by column."""
        self.down = not self.down
        self.said = (DOWN if self.down else ACROSS,)

    def repeat(self) -> None:
        """One more reading of the cell's column."""
        if why := self.session.once(self.cell[1]):
            self._refuse(f"No column was added. {why}")
            return

        if label := self.session.still_empty(*self.cell):
            self.cell, self.said = (self.cell[0], label), (f"No column was added: {label} is still empty.",)
            return

        def add() -> None:
            self.cell = (self.cell[0], self.session.again(self.cell[1], self.cell))
            self.said = ("One more reading: it counts with the others, and shows their spread.",)

        self._do(add)

    def new(self) -> Dialog:
        """A new specimen below the others; whether it is a retest, of which one and why."""
        name = yield "Name of the new coupon?"
        if why := self.session.no_coupon(name, self.cell[0]):
            self._refuse(f"No coupon was added. {why}")
            return
        there = self.session.find(name)
        row = self.session.add(name, self.cell[0], self.cell)
        already = f"'{name}' is in the table already, and now shown; nothing was added."
        asked = self.session.asked_of(row)
        self.said = (already,) if there is not None else (asked, TAKES_BACK) if asked else ()
        self.cell = self._first_of(row, self.cell[1])
        if there is not None or not self.session.may_repeat(row):
            return
        while (known := self.session.find(name := (yield REPEATS))) is None or known == row:
            self._refuse(f"No other coupon '{name}' in this table.")
        repeated = self.session.name(known)
        why = yield from self._reason(f"Why is {repeated} measured again?")
        self.session.repeat(row, repeated, why, at=self.cell)

    def where(self) -> Dialog:
        """Go to a specimen by name."""
        name = yield "Go to which coupon?"
        row = self.session.find(name)
        if row is None:
            meant = f"Did you mean '{like}'? " if (like := self.session.like(name)) else ""
            self.said = (f"No coupon '{name}' in this table. {meant}F2 adds one.",)
            return
        self.cell, self.said = self._first_of(row, self.session.labels[0]), ()

    def why_right(self) -> Dialog:
        """Answer what is doubtful with a reason."""
        if not self.session.open_doubts(self.cell[0]):
            findings = self.session.findings(self.cell[0])
            others = f" Look at {', '.join(findings.elsewhere)}: F3 goes there." if findings.elsewhere else ""
            no_doubt = "Nothing is doubtful about this coupon."
            why = "Every doubt about this coupon has its reason." if findings.doubtful else no_doubt
            self.said = (why + others,)
            return
        reason = yield from self._reason("Reason to keep this reading?")
        self.session.accept(self.cell[0], reason, self.cell)
        self.said = ("The reason is kept with the row, and stands in the report.",)
        if self.session.table.text(*self.cell) and not self._hold_doubt(self.said):
            self._go_on(self.said)

    def _hold_doubt(self, lines: tuple[str, ...]) -> bool:
        """Hold a filled cell of a specimen about which a doubt is open; returns whether it was."""
        doubtful = self.session.table.text(*self.cell) and self.session.open_doubts(self.cell[0])
        if doubtful:
            self._hold(*lines, *sentences(self.session.findings(self.cell[0])))
        return bool(doubtful)

    def why_excluded(self) -> Dialog:
        """Keep the row from counting, with a reason; or let it count again."""
        row = self.cell[0]
        if self.session.table.text(row, "excluded"):
            self._do(lambda: self.session.exclude(row, "", self.cell))
            self.said = ("The row counts again.",) if self.failure is None else self.said
            return
        reason = yield from self._reason("Reason to exclude this coupon?")
        self.session.exclude(row, reason, self.cell)
        self.said = ("The row stays, and is shown; results are given with and without it.",)
        if self.held is not None:
            self._go_on(self.said)

    def undo(self) -> None:
        """Take back the last change."""

        def back() -> None:
            undone = self.session.undo()
            if undone is None:
                self.said = ("Nothing to take back since this page was opened.",)
                return
            self.held = None
            self.cell, self.said = undone[0], (f"Taken back: {undone[1]}.",)
            self._hold_doubt(self.said)

        self._unask()
        self._do(back)

    # what is shown ------------------------------------------------------------

    def show(self) -> None:
        """Draw everything anew."""
        session, row, parts = self.session, self.cell[0], self.parts
        findings = session.findings(row)
        size = max(self.size.width, 40), self.size.height
        asks = [self.question] if self.question else []
        messages = [*asks, *(self.said or sentences(findings))]
        asks += [words for words in messages[len(asks) : len(asks) + 1] if words.startswith(REFUSED)]
        folded_lines = drawn.folded(messages, *size)
        left = max(3, size[1] - drawn.AROUND - len(folded_lines))
        alert = sum(1 for line in drawn.folded(asks, *size) if line)
        lines = [drawn.in_words(f"{words}\n  {text}") for _, words, text in drawn.derived(findings)]
        elsewhere = f"also look at: {', '.join(findings.elsewhere)}" if findings.elsewhere else ""
        marked = drawn.marks(findings)
        shown = drawn.cells(session, self.cell, marked, left)
        parts["head"].update(drawn.head(session, row, marked, self.words, size[0]))
        parts["cells"].update(HELP if self.help_shown else shown)
        parts["cells"].styles.width = "1fr" if self.help_shown else 44
        parts["derived"].update("\n".join(filter(None, (findings.coverage, elsewhere, *lines))))
        parts["said"].update(drawn.standing_out(folded_lines, alert))
        parts["said"].styles.height = len(folded_lines) + 1
        for name in ("derived", "said"):
            parts[name].display = not self.help_shown
        parts["asked"].update(f" {'answer' if self.question else drawn.asked(session, self.cell)} > ")
        parts["next"].update(REPLY if self.question else TYPE)


def _neighbor(order: Sequence[T], start: T, by: int) -> T:
    """What stands so many places after another of a sequence, or at its end."""
    return order[min(max(order.index(start) + by, 0), len(order) - 1)]
