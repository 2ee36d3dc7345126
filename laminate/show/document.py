"""An answer as people read it: the same words on a screen, as a page and in a notebook."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from laminate.show.blocks import Block, Heading, Sentence, changed, sentences
from laminate.show.notebook import notebook_of
from laminate.show.terminal import WIDTH, answer_lines

if TYPE_CHECKING:
    from pathlib import Path

    from laminate.show.chart import Picture

LINES = 24
_OPTION = re.compile(r"(?<![\w-])--([a-z]+(?:-[a-z]+)*)( FILE)?")
_PAGE = ", or --html FILE"
"""What the command alone writes."""
ALL = "print(answer.document())"
"""What shows all of an answer in Python."""
SHORT = 6
"""Lines of a screen whose answer is not said again at its end."""


@dataclass(frozen=True, slots=True, repr=False)
class Document:
    """An answer as people read it, on a screen, as a page or in a notebook.

    title, named: what it is about; write: makes all of it, the answer first; short: what one screen shows,
    the answer again at its end; kind: of the answer, yes, no or open; draw: makes its pictures; verdict:
    what a page says, large, in place of the first sentence; foot: at the foot of every sheet; notebook: what
    a notebook shows, where that is more than one screen.
    """

    title: str
    named: str
    write: Callable[[], Iterable[Block]]
    short: Sequence[Block]
    kind: str = ""
    draw: Callable[[], Iterable[Picture]] = tuple
    verdict: str = ""
    foot: str = ""
    notebook: Sequence[Block] = ()

    @property
    def blocks(self) -> Sequence[Block]:
        """Everything, the answer first."""
        return list(self.write())

    def screen(self, *, why: bool = False, written: Sequence[Path] = ()) -> list[Block]:
        """The blocks of a screen, with `why` all of them; written: files, named before the last answer."""
        first = [*(self.blocks if why else self.first), *sentences([f"Written: {path}" for path in written])]
        again = why or len(answer_lines(first, WIDTH)) > SHORT
        return [*first, *self.short[len(self.first) :]] if again else first

    @property
    def first(self) -> Sequence[Block]:
        """What one screen shows before it says the answer again."""
        strong = [isinstance(block, Sentence) and block.strong for block in self.short]
        start = next((at for at in range(len(strong), 0, -1) if not strong[at - 1]), 0)
        return self.short[: start or len(strong)]

    def __str__(self) -> str:
        return "\n".join(answer_lines(self.screen(why=True), WIDTH))

    def __repr__(self) -> str:
        blocks = _in_python(self.first)
        lines = answer_lines(blocks, WIDTH)
        if len(lines) <= LINES:
            return "\n".join(lines)
        ends = [len(answer_lines(blocks[:at], WIDTH)) for at in range(len(blocks) + 1)]
        whole = max(at for at, end in enumerate(ends) if end < LINES)
        kept = LINES - 1
        if whole and isinstance(blocks[whole], Sentence):  # a caution that is cut in two can say the opposite
            kept = ends[whole - isinstance(blocks[whole - 1], Heading)]
        return "\n".join([*lines[:kept], f"{len(lines) - kept} more lines; all, with cautions: {ALL}"])

    def _repr_html_(self) -> str:
        return notebook_of(self.title, _in_python(self.notebook or self.first))


def _in_python(blocks: Sequence[Block]) -> list[Block]:
    """The same, with a call or its parameter in place of an option of the command."""

    def spoken(text: str) -> str:
        without_page = text.replace(_PAGE, "").replace("--why", ALL)
        return _OPTION.sub(lambda o: o[1].replace("-", "_") + ('="FILE"' if o[2] else ""), without_page)

    return [changed(block, spoken) for block in blocks]
