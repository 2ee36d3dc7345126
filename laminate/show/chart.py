"""What every picture shares: ink that prints, line styles, marks with letters, and how it becomes SVG.

Black and gray alone: nothing is told by color. A ring with a letter leads to its sentence beside the picture.
"""

from __future__ import annotations

import base64
import re
import textwrap
import warnings
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from threading import RLock
from typing import TYPE_CHECKING, Any

from laminate.show.blocks import Grid
from laminate.show.numbers import typeset
from laminate.values.quantities import Unit, shown

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK, GRAY, PALE, WASH = "#16202a", "#5b6672", "#8b96a1", "#e4e8eb"
FULL, DASHES, DOTS, MIXED = "solid", (0, (5, 2.5)), (0, (1, 2)), (0, (6, 2, 1, 2))
SIZE = 8.5
WIDTH, HEIGHT = 4.2, 3.7
"""Inches; so drawn, the text is readable on a telephone."""
BELOW, KEY, EDGE = 31.0, 38, 0.01
"""Of a key: below its axes [points], characters of a line; share of a picture that is free at its edges."""

_STYLE: dict[str, Any] = {
    "svg.fonttype": "none",
    "font.family": ["sans-serif"],
    **dict.fromkeys(
        ("font.size", "axes.labelsize", "xtick.labelsize", "ytick.labelsize", "legend.fontsize"), SIZE
    ),
    **dict.fromkeys(("text.color", "axes.labelcolor", "xtick.color", "ytick.color"), INK),
    "axes.edgecolor": GRAY,
    "text.parse_math": False,
    "hatch.linewidth": 0.6,
    "hatch.color": PALE,
}
_SETTINGS = RLock()
_NUMBER = re.compile(r"(?<=\d) (?=\S)")


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as SVG, what it shows in a line and in words, its letters, its numbers as a table.

    aloud: what is read aloud of it before the words, where a table beside it has the same; narrow: the same
    for a telephone, as SVG, where the picture is too wide for one; place: of the section where it stands.
    """

    svg: str
    title: str
    words: str
    marks: tuple[tuple[str, str], ...] = ()
    numbers: Grid | None = None
    aloud: str = ""
    narrow: str = ""
    place: str = ""


def source_of(svg: str) -> str:
    """An SVG as the address of an image that needs no network."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode('ascii')}"


@contextmanager
def styled(name: str = "laminate") -> Iterator[None]:
    """The settings of every picture, for one thread at a time; name: of the picture, for its identifiers."""
    import matplotlib as mpl

    with _SETTINGS, warnings.catch_warnings(), mpl.rc_context():
        # a name in letters that the measuring font lacks is drawn by the reader's own font
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        mpl.rcdefaults()
        settings: Any = mpl.rcParams
        settings.update({**_STYLE, "svg.hashsalt": name})
        yield


def svg_of(canvas: Any) -> str:
    """The figure as SVG without its XML head; equal figures give equal text. Call it inside `styled`."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    page = StringIO()
    svg: Any = FigureCanvasSVG(canvas)
    svg.print_svg(page, metadata=dict.fromkeys(("Date", "Creator", "Format", "Type")))
    text = page.getvalue()
    return text[text.index("<svg") :]


def drawn(draw: Callable[[Axes], None], name: str, *, size: tuple[float, float] = (WIDTH, HEIGHT)) -> str:
    """The SVG of what a function draws on empty axes."""
    from matplotlib.figure import Figure as Canvas

    with styled(name):
        canvas = Canvas(figsize=size, layout="constrained")
        draw(canvas.add_subplot())
        return svg_of(canvas)


def plain_axes(axes: Axes, across: str, up: str) -> None:
    """Axes with a frame at the left and below alone, and their words."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.ticklabel_format(useOffset=False, style="plain")
    axes.set_xlabel(across, parse_math=False)
    axes.set_ylabel(up, parse_math=False)


def key_below(axes: Axes, *, pad: float = 0.2, letters: Iterable[tuple[str, str]] = (), **which: Any) -> None:
    """The key of the lines below the axes, and of letters where the picture stands without a page.

    pad: room above it [letters]; which: `handles` of some lines alone.
    """
    from matplotlib.lines import Line2D
    from matplotlib.transforms import ScaledTranslation

    handles = which.pop("handles", None) or axes.get_legend_handles_labels()[0]
    labels = [in_lines(f"{letter}: {words}", KEY) for letter, words in letters]
    marks = [Line2D([], [], linestyle="none", label=label) for label in labels]
    below = axes.transAxes + ScaledTranslation(0.0, -BELOW / 72.0, axes.figure.dpi_scale_trans)
    axes.legend(
        handles=[*handles, *marks], loc="upper center", bbox_to_anchor=(0.5, 0.0), bbox_transform=below,
        ncols=2, frameon=False, handlelength=2.6, columnspacing=1.2, labelspacing=0.3, borderaxespad=pad,
        fontsize=SIZE,
    )  # fmt: skip


def in_lines(text: str, width: int) -> str:
    """A text in lines that end inside no number with its unit."""
    return textwrap.fill(_NUMBER.sub("\u00a0", typeset(text)), width)


def keep_inside(axes: Axes) -> None:
    """Shrink axes whose words run out of a picture that has no layout of its own."""
    figure = axes.figure
    if figure.get_layout_engine() is not None:
        return
    both = [other for other in figure.axes if other.get_position().bounds == axes.get_position().bounds]
    for _ in range(2):  # words that are laid out anew
        boxes = [box for other in both if (box := other.get_tightbbox()) is not None]
        seen = type(boxes[0]).union(boxes).transformed(figure.transSubfigure.inverted())
        at = axes.get_position()
        left, low = at.x0 + max(EDGE - seen.x0, 0.0), at.y0 + max(EDGE - seen.y0, 0.0)
        right, high = at.x1 - max(seen.x1 - 1.0 + EDGE, 0.0), at.y1 - max(seen.y1 - 1.0 + EDGE, 0.0)
        axes.set_position((left, low, max(right - left, 0.1), max(high - low, 0.1)))


def in_numbers(title: str, *columns: tuple[str, Iterable[str]]) -> Grid:
    """The numbers of a picture as a table; columns: the heading and the cells of each."""
    rows = tuple(zip(*(cells for _, cells in columns), strict=True))
    headings = tuple(heading for heading, _ in columns)
    return Grid(headings, rows, tuple(range(len(columns))), caption=f"{title}, in numbers")


def ring(
    axes: Axes, x: float, y: float, letter: str, shift: tuple[float, float] = (0.0, 0.0), *, dot: bool = True
) -> None:
    """A ring with a letter that leads to its sentence; shift: beside its point [points], dot: on it."""
    arrow = {"arrowstyle": "-", "color": INK, "linewidth": 0.8, "shrinkA": 0, "shrinkB": 0}
    if dot and any(shift):
        axes.plot([x], [y], marker="o", markersize=3.2, color=INK, zorder=6, clip_on=False)
    axes.annotate(
        letter, (x, y), xytext=shift, textcoords="offset points", ha="center", va="center",
        fontsize=SIZE - 1.0, color=INK, zorder=7, arrowprops=arrow if dot and any(shift) else None,
        bbox={"boxstyle": "circle,pad=0.22", "facecolor": "white", "edgecolor": INK, "linewidth": 0.9},
    )  # fmt: skip


def scaled(values: Iterable[float], unit: Unit) -> list[float]:
    """Numbers [SI] in the unit in which they are drawn."""
    return [shown(value, unit) for value in values]


def blank(pad: float) -> dict[str, str]:
    """What is behind words that stand on lines; pad: around them [letters]."""
    return {"boxstyle": f"square,pad={pad}", "facecolor": "white", "edgecolor": "none"}


def on_line(axes: Axes, x: float, y: float, words: str, color: str = INK) -> None:
    """Words that stand on their line."""
    axes.text(
        x, y, words, ha="center", va="center", fontsize=SIZE - 0.5, color=color, zorder=5, clip_on=True,
        bbox=blank(0.12),
    )  # fmt: skip
