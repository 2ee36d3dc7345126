"""How an answer leaves the command line: as JSON, on the screen, and as a page."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from pathlib import Path

    from laminate.front.answer import Answer
    from laminate.show.blocks import Block

    from .options import Options

    Writer = Callable[[Answer], list[Path]]

_BLOCK = 1000
NO = 1
"""Exit status of an answer that is no."""


def print_answer(
    options: Options, ask: Callable[[], Answer], *, page: str = "", keep: Writer | None = None
) -> None:
    """Ask, write the page where one is asked for, and print the answer: exit status 1 where it is no.

    page: key of the JSON with the page that was written, 'html', or 'written' for a list of every file; keep:
    writes files to keep, and names them.
    """
    answer = options.reads(ask)
    written = keep(answer) if keep else []
    html = options.html
    if html is not None:
        from laminate.records.page_beside import is_of_signed
        from laminate.show.pages import page_of
        from laminate.values.durable import write_page
        from laminate.values.problems import refusal

        if is_of_signed(html):
            hint = "'laminate report BATCH --out DIR' makes that page again; nothing was written over it"
            there = "the page beside a signed record"
            raise refusal("signed-page", str(html), "--html", there, "another name or folder", hint)
        write_page(html, page_of(answer.document(options.units)).encode())
        written = [*written, html]
    if options.as_json:
        files: dict[str, Any] = {"html": str(html) if html else None} if page == "html" else {}
        if page == "written" and written:
            files["written"] = [str(path) for path in written]
        print_json({**answer.printed(), **files})
    else:
        from . import tables

        tables.print_blocks(answer.document(options.units).screen(why=options.why, written=written))
    if not answer.good:
        raise typer.Exit(NO)


def print_json(answer: Mapping[str, object]) -> None:
    """Print one answer as JSON on standard output.

    answer: the keys after `"format": 1`; a number that is not finite raises ValueError before anything is
    written. Indented for a terminal; through a pipe or into a file each member of a long list, such as a
    specimen, has a line of its own.
    """
    whole = {"format": 1, **answer}
    _must_be_finite(whole)
    if sys.stdout.isatty():
        print(json_text(whole, indented=True), flush=True)
        return
    sys.stdout.writelines(_lines(whole))
    sys.stdout.flush()


def print_done(answer: Mapping[str, object], blocks: Iterable[Block], *, as_json: bool) -> None:
    """Print what was done, as JSON or on the screen."""
    if as_json:
        print_json(answer)
    else:
        from . import tables

        tables.print_blocks(blocks)


def json_text(value: object, *, indented: bool = False) -> str:
    """A value of JSON, long lists as text inside, as text on one line, or indented by two."""
    import orjson

    def of_blocks(blocks: Any) -> Any:
        return blocks.rows() if indented else orjson.Fragment(f"[{','.join(blocks.write())}]")

    option = orjson.OPT_SERIALIZE_NUMPY | (orjson.OPT_INDENT_2 if indented else 0)
    return orjson.dumps(value, of_blocks, option).decode()


def _lines(answer: Mapping[str, object]) -> Iterator[str]:
    """The text in pieces: a key a line, a member of a list of objects a line."""
    before = "{"
    for key, value in answer.items():
        head = f"{before}{json_text(key)}:"
        before = ",\n"
        if hasattr(value, "write"):
            blocks = value.write()
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            starts = range(0, len(value), _BLOCK)
            blocks = (",\n".join(map(json_text, value[start : start + _BLOCK])) for start in starts)
        else:
            yield head + json_text(value)
            continue
        yield f"{head}[\n"
        for at, block in enumerate(blocks):
            yield f",\n{block}" if at else block
        yield "\n]"
    yield "}\n"


def _must_be_finite(value: Mapping[str, Any]) -> None:
    """Raise ValueError where a number is not finite: it would be written as null."""
    waiting: list[Iterable[Any]] = [value.values()]
    while waiting:
        for item in waiting.pop():
            if isinstance(item, float):
                if item - item != 0.0:
                    raise ValueError(f"an answer with the number {item}")
            elif isinstance(item, dict):
                waiting.append(item.values())
            elif isinstance(item, list | tuple):
                waiting.append(item)
