"""Quality's `trend`: batches over time, from their records."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

from . import tables
from .answers import give_out
from .options import AsJson, Html, Options, Units, argument, flag, option


def trend(
    folder: Annotated[Path, argument("FOLDER", "records, in it or below it")],
    part: Annotated[list[str] | None, option("NUMBER", "of a part; repeatable; default: all")] = None,
    zone: Annotated[list[str] | None, option("NAME", "of the part; repeatable; default: all")] = None,
    every: Annotated[bool, flag("--every", "also what is measured and has no limit")] = False,
    allowed_signers: Annotated[
        Path | None, option("FILE", "use only records whose signatures it proves, as in verify")
    ] = None,
    revoked: Annotated[
        Path | None, option("FILE", "OpenSSH key revocation list, or a list of public keys")
    ] = None,
    need: Annotated[
        list[str] | None, option("ROLE", "that must be signed, for instance released; repeatable")
    ] = None,
    compute_all: Annotated[bool, flag("--recompute", "judge again also what signatures prove")] = False,
    html: Html = None,
    units: Units = "metric",
    why: Annotated[bool, flag("--why", "every batch, test and capability, and how it is computed")] = False,
    as_json: AsJson = False,
) -> None:
    """Chart batches over time: control limits, lots and capability.

    What signatures of allowed signers prove is taken as it says; every other record is computed again from
    its own inputs first. Exit status 1 where one does not verify; it is shown and not used.
    """
    from laminate.history.trending import trend as studied
    from laminate.records.record import recompute

    options = Options(units, why=why, as_json=as_json, html=html)
    for name, given in (("--revoked", revoked), ("--need", " ".join(need or ()))):
        if given and allowed_signers is None:
            options.say("option-alone", name, f"'{given}'", "--allowed-signers FILE beside it")
    options.check()
    chosen = {"part": part or [], "zone": zone or []}
    with tables.progress("records") as advance:
        history = studied(
            folder,
            recompute=recompute,
            allowed_signers=allowed_signers,
            revoked=revoked,
            need=need,
            every=every,
            chosen=chosen,
            progress=advance,
            compute_all=compute_all,
            processes=os.cpu_count() or 1,
        )
    from laminate.show.trend_json import trend_json
    from laminate.show.trend_page import trend_document

    give_out(
        options,
        lambda: {**trend_json(history), **({"written": [str(html)]} if html else {})},
        lambda: trend_document(history, units),
        good=history.all_verify,
    )
