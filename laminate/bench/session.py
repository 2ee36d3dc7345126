"""A person at the bench: one cell after the other is typed, checked and kept; the page only shows it."""

from __future__ import annotations

import datetime as dt
import re
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from laminate.bench.catching_up import OPERATOR, TIME, Cell, with_person, with_time
from laminate.bench.cell import read_cell
from laminate.bench.entry import AWAITED, Findings, TableChecker
from laminate.bench.sheet import OTHER_ROWS, choices_of, columns_of
from laminate.bench.table import BenchTable, Changed
from laminate.coupons.doubt_reasons import written
from laminate.coupons.plan_readings import alike, two_names
from laminate.coupons.readings import PREPREG_COLUMNS
from laminate.files.coupons import NUMBERS, POINTS, base_name
from laminate.files.entries import COPIED, as_typed
from laminate.files.method_names import METHODS, methods_in
from laminate.files.reasons import is_reading
from laminate.values.problems import Answered, Problem, Refused

if TYPE_CHECKING:
    from laminate.files.table import Table

KEPT_BY_ITSELF = ("specimen", "operator", "time", "excluded", "accepted", "entry")
"""Columns that are not typed cell by cell."""
ASKED_WORDS = ("zone", "position", "lot", "method", "crucible", "balance")
PIECES = {*PREPREG_COLUMNS, "area"}
"""Readings of a piece of prepreg."""
NAMED = ("position", "crucible")
"""Words that stand between readings, and that a person chooses."""
UNDONE_AT_MOST = 500
TAKEN_BACK = "taken back at the bench"
"""The reason in the history where a change is undone."""
ANSWERED = "r"
"""Mark of a doubt that has its reason."""

ADVICE = {
    "specimen-floats": (
        "lighter than water allows: bubbles? wet it, wipe them off, weigh again; what really floats needs a "
        "sinker and its mass in the liquid"
    ),
    "impossible-density": (
        "no laminate of this fiber and resin has it: bubbles, cells swapped, a digit or the unit wrong? "
        "weigh again"
    ),
    "given-twice": "the coupon has another row that says otherwise: correct one of them",
}
"""What to do about a finding, where the bench can say more than the finding does."""


@dataclass(frozen=True)
class Outcome:
    """What came of one thing typed: kept on the disk or not, whether to stay at the cell, and why.

    was: what the cell holds, where it changes only with a reason and none was given.
    """

    kept: bool
    stay: bool
    said: tuple[str, ...] = ()
    was: str = ""


Clock = Callable[[], dt.datetime]
_Before = tuple[bytes, Cell, str, dict[str, tuple[str, str]]]
"""The table before a change, its cell, what it was, and the texts before and after by label."""


class Session:
    """The work on one table.

    table: held by this person alone; checker: of each specimen; operator: who measures; now: the clock.
    """

    def __init__(
        self, table: BenchTable, checker: TableChecker, operator: str, now: Clock = dt.datetime.now
    ) -> None:
        self.table, self.checker, self.operator, self._now = table, checker, operator, now
        self.choices = choices_of(checker.case)
        self.kept = 0
        self._before: deque[_Before] = deque(maxlen=UNDONE_AT_MOST)
        self._entries: dict[Cell, str] = {}
        self._looked: tuple[bytes, dict[str, Findings]] = (b"", {})

    @property
    def rows(self) -> list[int]:
        """Numbers of the rows, top to bottom."""
        return [row.number for row in self.table.view.rows]

    def name(self, row: int) -> str:
        """The specimen of a row."""
        return self.table.text(row, "specimen")

    @property
    def labels(self) -> list[str]:
        """The columns that are typed, repeats beside their first."""
        typed = [label for label in self.table.labels if base_name(label) not in KEPT_BY_ITSELF]
        first = {name: at for at, name in reversed(list(enumerate(map(base_name, typed))))}
        return sorted(typed, key=lambda label: (first[base_name(label)], typed.index(label)))

    def findings(self, row: int) -> Findings:
        """What is to be said of the specimen of a row."""
        data, known = self._looked
        if data != self.table.data:
            self._looked = self.table.data, (known := {})
        name = self.name(row)
        if name not in known:
            known[name] = self.checker.check(self.table.view, name, self.table.history)
        return known[name]

    def wanted(self, row: int, label: str) -> bool:
        """Whether a cell is empty and part of the work: a reading, or words without which it says nothing."""
        name = base_name(label)
        if self.table.text(row, label) or self.table.text(row, "excluded") or self._one_more(label):
            return False
        again = self.name(row) in [self.name(other) for other in self.rows if other < row]
        if again and self.table.text(row, "field"):
            return name in POINTS
        if (kind := self.table.text(row, "kind")) in OTHER_ROWS:
            return name in OTHER_ROWS[kind]
        if {*PREPREG_COLUMNS} <= {*map(base_name, self.table.labels)}:
            if self._of_prepreg(row):
                return name in (*PIECES, "lot", "balance")
            if name in PIECES:
                return False
        part = self.checker.case.part
        plan = part.plan.get(self.table.text(row, "zone"))
        if cut_for := methods_in(self.table.text(row, "only")) or (plan.measured_by if plan else []):
            mine = {column for method in cut_for for column in columns_of(method)}
            if name not in mine and any(name in columns_of(method) for method in METHODS):
                return False
        if name == "position" and plan is not None and not plan.positions:
            return False
        if name == "density" and part.part.check_standards:  # the column is there for them
            return any("density given" in plan.measured_by for plan in part.plan.values())
        return name in NUMBERS or name in ASKED_WORDS

    def _one_more(self, label: str) -> bool:
        """Whether a column was added for one more reading of one coupon: no other has to have it."""
        index = {heading.label: heading.index for heading in self.table.view.headings}
        number = self.table.heading(label).number
        return number is not None and index[label] > index.get("entry", index[label])

    def _of_prepreg(self, row: int) -> bool:
        """Whether a row is of an incoming test: it has no zone, and no reading of a coupon."""
        columns = {base_name(x) for x in self.table.labels}
        read = {base_name(x) for x in self.table.labels if self.table.text(row, x)}
        alone = "zone" in columns or not (columns & {*NUMBERS}) - PIECES
        return alone and (read & {*NUMBERS, "zone"}) <= PIECES

    def cells(self, *, down: bool = False) -> Iterator[Cell]:
        """Every cell in the order of work: row by row, or column by column where `down`."""
        if down:
            return ((row, label) for label in self.labels for row in self.rows)
        return ((row, label) for row in self.rows for label in self.labels)

    def next_cell(self, after: Cell | None = None, *, down: bool = False) -> Cell | None:
        """The next cell that is wanted, from the top again where none is left below; None: all done."""
        order = list(self.cells(down=down))
        at = order.index(after) + 1 if after in order else 0
        others = (cell for cell in [*order[at:], *order[:at]] if cell != after)
        return next((cell for cell in others if self.wanted(*cell)), None)

    def resume(self) -> Cell | None:
        """The first wanted cell of the row that was typed last, else below it; None: none is left."""
        cells = {row: self.table.text(row, TIME) for row in self.rows}
        times = {row: cell.rpartition("; ")[2] for row, cell in cells.items() if cell}
        if not times:
            return self.next_cell()
        last = max(times, key=lambda row: (times[row], row))
        in_row = ((last, label) for label in self.labels if self.wanted(last, label))
        return next(in_row, None) or self.next_cell((last, self.labels[-1]))

    def find(self, name: str) -> int | None:
        """The first row of a specimen, capitals and spaces forgiven; None where there is none."""
        wanted = " ".join(name.split()).casefold()
        return next((row for row in self.rows if self.name(row).casefold() == wanted), None)

    def like(self, name: str) -> str:
        """Another coupon whose name is read as this one, '' where there is none: 0102 for 102."""
        names = dict.fromkeys(map(self.name, self.rows))
        return next((other for other in names if other != name and alike(other) == alike(name)), "")

    def asked_of(self, row: int) -> str:
        """What to ask of a name that is read as that of another row, '' where none is."""
        other = self.like(self.name(row))
        return two_names(other, self.name(row)) if other else ""

    def left(self) -> int:
        """How many wanted cells are empty."""
        return sum(self.wanted(*cell) for cell in self.cells())

    def open_doubts(self, row: int) -> list[Problem]:
        """What is doubtful about the specimen of a row and has no reason."""
        return [p for p in self.findings(row).doubtful if not isinstance(p, Answered)]

    def unsettled(self) -> list[str]:
        """The specimens that cannot be so, or about which a doubt is open."""
        named = reversed({self.name(row): row for row in reversed(self.rows)}.items())
        return [name for name, row in named if self.findings(row).cannot or self.open_doubts(row)]

    def type(self, row: int, label: str, typed: str, why: str = "") -> Outcome:
        """Check what was typed into a cell and put it on the disk.

        why: the reason of a change of what the cell holds already; without one it is asked for. Not kept,
        with the reason: what cannot be read, and what makes the specimen impossible. Kept, but to be looked
        at before going on: what is doubtful. Raises `Changed` where another program has written the file,
        `Refused` where the disk failed.
        """
        try:
            entered = read_cell(typed, self.table.heading(label), self.table.decimal, self.choices)
        except Refused as refusal:
            return Outcome(False, True, tuple(_sentence(problem) for problem in refusal.problems))
        place = self.table.view.place(row, self.table.heading(label))
        before, changed = self.findings(row), self.table.with_cell(row, label, entered.text)
        after = self.checker.check(changed, self.name(row), self.table.history)
        known = {(problem.code, problem.place) for problem in before.cannot}
        bad = [p for p in after.cannot if (p.code, p.place) not in known or p.place == place]
        if bad:
            return Outcome(False, True, tuple(_sentence(problem) for problem in bad))
        was = self.table.typed_last(row, label)
        if was and not as_typed(entered.text, was) and not why:
            return Outcome(False, True, was=was)
        what, others = f"{label} of {self.name(row)}", self._now_doubtful(before, after, changed)
        self._put({(row, label): entered.text}, (row, label), what, why, entered.typed)
        if entered.typed:
            after = self.findings(row)
        self._looked = self.table.data, {self.name(row): after}
        seen = {(p.code, p.place, p.found) for p in before.doubtful}
        new = [p for p in after.doubtful if (p.code, p.place, p.found) not in seen or p.place == place]
        doubts = [problem for problem in new if not isinstance(problem, Answered)]
        led = [_led(problem, label, entered.text, of_cell=problem.place == place) for problem in doubts]
        doubt_words = [*filter(None, (self._no_name(row, label, entered.text), *led, *others))]
        later = [p for p in after.later if p not in before.later or p.place == place]
        waits = [problem.found for problem in later if problem.code == AWAITED]
        return Outcome(True, bool(doubt_words), (*doubt_words, *filter(None, (entered.said,)), *waits))

    def _now_doubtful(self, before: Findings, after: Findings, changed: Table) -> list[str]:
        """What a reading puts in doubt about other rows.

        before, after: what is to be said of its own; changed: the table with it.
        """
        rows = {name: self.find(name) for name in after.elsewhere if name not in before.elsewhere}
        known = {name: self.findings(row) for name, row in rows.items() if row is not None}
        looks = {name: self.checker.check(changed, name, self.table.history) for name in known}
        return [
            f"{name}: {_sentence(problem)}"
            for name, check in looks.items()
            for problem in (*check.cannot, *check.doubtful)
            if problem not in (*known[name].cannot, *known[name].doubtful)
            and not isinstance(problem, Answered)
        ]

    def _no_name(self, row: int, label: str, text: str) -> str:
        """What to ask of a name that looks like a reading and is new; '' where there is nothing to ask."""
        if base_name(label) not in NAMED or not is_reading(text):
            return ""
        known = {*self.choices.get(label, ()), *(self.table.text(x, label) for x in self.rows if x != row)}
        return "" if text in known else f"{label} '{text}' looks like a reading: typed into the wrong cell?"

    def empty(self, row: int, label: str, why: str) -> None:
        """Take the content of a cell out, with the reason. Raises as `type` does."""
        if self.table.text(row, label):
            self._put({(row, label): ""}, (row, label), f"{label} of {self.name(row)}", why)

    def once(self, label: str) -> str:
        """Why a column has one cell in a row and no more, '' where readings may be repeated."""
        name = base_name(label)
        if name in POINTS:
            return f"'{name}' is counted in fields of view: another field is another row."
        if name not in NUMBERS or name == "plies":
            return f"'{name}' is no reading: it says one thing of the specimen, and is not measured again."
        return ""

    def still_empty(self, row: int, label: str) -> str:
        """The first empty cell of a row for a repeated reading, '' where none is or it is not repeated."""
        alike = [other for other in self.labels if base_name(other) == base_name(label)]
        return next((x for x in alike if len(alike) > 1 and not self.table.text(row, x)), "")

    def again(self, label: str, at: Cell | None = None) -> str:
        """Add a numbered column for one more reading; returns its label.

        label: of a column whose readings may be repeated; at: where the work stands, to which `undo` returns.
        Raises as `type` does.
        """
        name = base_name(label)
        same = [heading for heading in self.table.view.headings if heading.name == name]
        new = f"{name} {max(heading.number or 1 for heading in same) + 1}"
        data = self.table.data
        self._guard(lambda: self.table.add_column(new))
        self._before.append((data, at or (self.rows[0] if self.rows else 0, label), f"the column {new}", {}))
        return new

    def accept(self, row: int, reason: str, at: Cell | None = None) -> None:
        """Answer what is doubtful about a row with a reason; `at` as in `again`. Raises as `type` does."""
        open_ = self.open_doubts(row)
        coupon = self.checker.coupon(self.table.view, self.name(row))
        before = self.table.text(row, "accepted")
        text = "; ".join(filter(None, (before, written(coupon, open_, reason))))
        what = f"the reason at {self.name(row)}"
        self._put({(row, "accepted"): text}, at or (row, self.labels[0]), what, reason)

    def exclude(self, row: int, reason: str, at: Cell | None = None) -> None:
        """Keep a row out of every result with a reason, empty: count it again.

        at: as in `again`. Raises as `type` does.
        """
        what = f"the exclusion of {self.name(row)}"
        self._put({(row, "excluded"): reason}, at or (row, self.labels[0]), what, reason or "counts again")

    def add(self, name: str, like: int | None = None, at: Cell | None = None) -> int:
        """The row of a specimen, added below the others where it is new.

        name: of the specimen; like: the row whose zone, lot and method it has; at: as in `again`. Raises as
        `type` does.
        """
        if (there := self.find(name)) is not None:
            return there
        new = self._new_row(name, like)
        data, what = self.table.data, f"the row of {new['specimen']}"
        self._guard(lambda: self.table.keep({}, [new]))
        self._before.append((data, at or (like or self.rows[0], self.labels[0]), what, {}))
        return self.rows[-1]

    def may_repeat(self, row: int) -> bool:
        """Whether a row may be a retest: the plan of its zone allows them, and has all its other coupons."""
        plans = self.checker.case.part.plan
        zones = {other: self.table.text(other, "zone") or next(iter(plans), "") for other in self.rows}
        alike = {self.name(other) for other, zone in zones.items() if zone == zones[row]}
        plan = plans.get(zones[row])
        return plan is not None and plan.retests > 0 and len(alike) > plan.most

    def repeat(self, row: int, name: str, reason: str, at: Cell | None = None) -> None:
        """Say that a row is the retest of a coupon, and why it is measured again.

        at: as in `again`. Raises as `type` does.
        """
        texts = {(row, "replaces"): name, (row, "remark"): reason}
        self._put(texts, at or (row, self.labels[0]), f"that {self.name(row)} repeats {name}", reason)

    def no_coupon(self, name: str, like: int | None = None) -> str:
        """Why a row of this name cannot be added, '' where it can or is there; arguments as of `add`."""
        if self.find(name) is not None or self.table.would_show(self._new_row(name, like)):
            return ""
        return f"'{name}' reads as a row below the coupons: an average or a signature. Use another name."

    def _new_row(self, name: str, like: int | None) -> dict[str, str]:
        copied = {label: self.table.text(like, label) for label in COPIED} if like is not None else {}
        return {"specimen": " ".join(name.split())} | {k: text for k, text in copied.items() if text}

    def undo(self) -> tuple[Cell, str] | None:
        """Put the table back to before the last change; returns its cell and what it was, None if none."""
        if not self._before:
            return None
        data, cell, what, changes = self._before[-1]
        row = cell[0]

        def back() -> None:
            entries = dict(self._entries)
            if changes:
                reverted = {label: (new, old) for label, (old, new) in changes.items()}
                entries |= self.table.record(row, reverted, **self._said(row, TAKEN_BACK))
            self.table.put_back(data, entries)
            there = set(self.rows)  # a row that was added is gone
            self._entries = {place: text for place, text in entries.items() if place[0] in there}

        self._guard(back)
        self._before.pop()
        return cell, what

    def _said(self, row: int, why: str) -> dict[str, Any]:
        """What a line of the history says beside the change."""
        findings = self.findings(row)
        codes = [problem.code for problem in (*findings.cannot, *self.open_doubts(row))]
        now = self._now().astimezone().isoformat(timespec="seconds")
        return {"who": self.operator, "time": now, "why": why, "doubts": codes}

    def _put(self, edits: dict[Cell, str], cell: Cell, what: str, why: str = "", typed: str = "") -> None:
        row = cell[0]
        changes = {label: (self.table.typed_last(row, label), text) for (_, label), text in edits.items()}
        entry_fields = self._said(row, why) | {"typed": typed}
        people = self.table.text(row, OPERATOR)
        if (both := with_person(people, self.operator)) != people:
            edits[row, OPERATOR] = both
        edits[row, TIME] = with_time(self.table.text(row, TIME), entry_fields["time"])
        data = self.table.data

        def put() -> None:
            entry = self.table.record(row, changes, **entry_fields)
            self.table.keep(edits | entry)
            self._entries |= entry

        self._guard(put)
        self._before.append((data, cell, what, changes))
        self.kept += 1

    def _guard(self, change: Callable[[], None]) -> None:
        history = self.table.history
        try:
            change()
        except Refused as refusal:
            self.table.forget(history)
            if isinstance(refusal, Changed):
                self._before.clear()
                self._entries.clear()
            raise


def _led(problem: Problem, label: str, text: str, *, of_cell: bool) -> str:
    """A doubt as it is told when a cell has been typed: that cell first where it is named or meant."""
    sentence, name = _sentence(problem), base_name(label)
    named = of_cell or re.search(rf"(?<!\w){re.escape(name)}(?!\w)", sentence)
    if name not in NUMBERS or not named or sentence.startswith(name):
        return sentence
    return f"{label} '{text}': {sentence}"


def _sentence(problem: Problem) -> str:
    """A finding as a person at the bench is told it: what, what would be right, what to do."""
    if isinstance(problem, Answered):
        return f"{problem.found}: kept, because {problem.reason}"
    advice = ADVICE.get(problem.code, problem.hint)
    text = f"{problem.found}; expected {problem.expected}" if problem.expected else problem.found
    return f"{text}: {advice}" if advice else text


def mark(doubt: Problem) -> str:
    """The mark of a doubt: '?' open, another where it has its reason."""
    return ANSWERED if isinstance(doubt, Answered) else "?"


def sentences(findings: Findings) -> list[str]:
    """Everything that is to be said of a specimen, worst first, each with a mark that is not a color."""
    return [
        *(f"! {_sentence(problem)}" for problem in findings.cannot),
        *(f"{mark(problem)} {_sentence(problem)}" for problem in sorted(findings.doubtful, key=mark)),
        *(f"… {problem.found}" for problem in findings.later),
    ]
