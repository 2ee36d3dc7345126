"""Quality's `trend`: batches over time, from their records."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from . import tables
from .answers import AsJson, Html, Units, print_json

if TYPE_CHECKING:
    pass

NO = 1


def trend(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="records, in it or below it")],
    part: Annotated[
        list[str] | None,
        typer.Option(metavar="NUMBER", help="of a part; repeatable; default: all", show_default=False),
    ] = None,
    zone: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="of the part; repeatable; default: all", show_default=False),
    ] = None,
    every: Annotated[bool, typer.Option("--every", help="also what is measured and has no limit")] = False,
    allowed_signers: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="use only records whose signatures it proves, as in verify",
            show_default=False,
        ),
    ] = None,
    revoked: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="OpenSSH key revocation list, or a list of public keys", show_default=False
        ),
    ] = None,
    need: Annotated[
        str | None,
        typer.Option(
            metavar="ROLE", help="a role that must be signed, for instance released", show_default=False
        ),
    ] = None,
    compute_all: Annotated[
        bool, typer.Option("--recompute", help="judge again also what signatures prove")
    ] = False,
    html: Html = None,
    units: Units = "metric",
    why: Annotated[
        bool, typer.Option("--why", help="every batch, test and capability, and how it is computed")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Chart batches over time: control limits, lots and capability.

    What signatures of allowed signers prove is taken as it says; every other record is computed again from
    its own inputs first. Exit status 1 where one does not verify; it is shown and not used.
    """
    from laminate.history.trending import trend as studied
    from laminate.records.record import recompute

    from .options import UNITS, Options

    options = Options()
    options.word("--units", units, UNITS)
    for option, given in (("--revoked", revoked), ("--need", need)):
        if given is not None and allowed_signers is None:
            options.say("option-alone", option, f"'{given}'", "--allowed-signers FILE beside it")
    options.check()
    chosen = {"part": part or [], "zone": zone or []}
    with tables.progress("records") as told:
        history = studied(
            folder,
            recompute=recompute,
            allowed_signers=allowed_signers,
            revoked=revoked,
            need=need,
            every=every,
            chosen=chosen,
            progress=told,
            compute_all=compute_all,
            processes=os.cpu_count() or 1,
        )
    if html is not None:
        from laminate.show.trend_page import page
        from laminate.values.durable import write_page

        write_page(html, page(history, units).encode())
    if as_json:
        from laminate.show.trend_json import trend_json

        print_json({**trend_json(history), **({"written": [str(html)]} if html else {})})
    else:
        from laminate.show.trend_page import trend_document

        tables.show(trend_document(history, units).screen(why=why, written=[html] if html else ()))
    if not history.all_verify:
        raise typer.Exit(NO)
