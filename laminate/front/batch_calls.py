"""Batches, records and reference tables as functions: plain values in, an `Answer` out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from numbers import Real
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

from laminate.front.answer import Answer, AnswerLayout, Rows
from laminate.front.call import Call, by_parameters, level_of, path_of
from laminate.front.options import TREND, Trend
from laminate.front.value import Value
from laminate.values.argument_text import file_text
from laminate.values.problems import Refused, inexact_limit, refusal, refuse_all, too_few, wrong_order

if TYPE_CHECKING:
    import pandas as pd

    from laminate.history.records import Progress
    from laminate.judging.acceptance import Reading


UNSTATED = "no ± is stated: the value is judged as exact"


class ReportAnswer(Answer):
    """The answer of `report`: one row a characteristic or process reading."""

    _layout = AnswerLayout(
        "characteristics",
        "report_json",
        "report_page.report_document",
        "conforms",
        of_keys=True,
        more="process",
    )

    def __getitem__(self, name: str) -> Any:
        """What is held to limits, by its name or zone. Raises as that of any answer."""
        return Rows(self._rows())[name]


class JudgeAnswer(Answer):
    """The answer of `judge`: one row."""

    _layout = AnswerLayout(document="judged_value.judged_document", of_keys=True)


class CorrectAnswer(Answer):
    """The answer of `correct`: one row a zone and attribute that was predicted and achieved."""

    _layout = AnswerLayout("zones.differences", "correct_json", "correct_page.correct_document")


class TrendAnswer(Answer):
    """The answer of `trend`: one row a batch and series."""

    _layout = AnswerLayout("series.batches", "trend_json", "trend_page.trend_document", "all_verify")


class VerifyAnswer(Answer):
    """The answer of `verify`: one row a signature."""

    _layout = AnswerLayout("signatures", "verify_json", "signed_words.verified_document", "proven")


def report(batch: str | PathLike[str]) -> Answer:
    """Judge the batch of a batch file against the limits of its part.

    Parameters
    ----------
    batch : path of batch.toml, or what `read_batch` made of it; the part and the coupon tables that it
        names are read too

    Returns
    -------
    Answer : `answer.answer` is 'conforms', 'does not conform' or 'undecided'; `answer.to_frame()` has one row
        a characteristic or process reading, with the chance that it is inside its limits

    Raises
    ------
    Refused : with every finding in its files

    Notes
    -----
    A value is accepted where it stays inside its limits by the guard band, a multiple of its expanded
    uncertainty (JCGM 106:2012, 8.3).

    Examples
    --------
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> r = lam.report(files("laminate.examples") / "mast" / "batch.toml")
    >>> r.answer
    'conforms'
    """
    from laminate.judging.reported import report as judged

    return ReportAnswer(judged(path_of(batch)))


def judge(
    value: Any, *, min: Any = None, max: Any = None, guard: float = 1.0, confidence: Any = 0.95
) -> Answer:
    """Judge one value with its uncertainty against limits, with a guard band of `guard` times U.

    Parameters
    ----------
    value : quantity with its ±; one that a person gives without is judged as exact, which `reasons` say; one
        of an answer conforms only where its ± is known, at the confidence that it was measured for
    min, max : limits, exact (± 0 is), None where there is none
    guard, confidence : guard band in expanded uncertainties; their confidence, from 0 to 1 or as "95 %"

    Returns
    -------
    Answer : `decision` (conforms, does not conform, undecided), `probability_of_conformity` (flat prior), and
        `value`, `min`, `max` in the unit of the value

    Raises
    ------
    Refused : where a quantity cannot be read, a limit has a ±, none is given, or `min` is above `max`

    Notes
    -----
    Accepted from ``min + guard U`` to ``max - guard U``, rejected beyond the same bands outside; U = k u,
    k of Student's t (JCGM 106:2012, 8.3; JCGM 100:2008, annex G), and no more than a tolerance's half-width.

    Examples
    --------
    >>> import laminate as lam
    >>> lam.judge("1.2 % ± 0.1 (standard)", max="2 %").decision
    'conforms'
    """
    from laminate.files.toml import quantity, read_as
    from laminate.formulas.conformity import CONFORMS, UNDECIDED
    from laminate.formulas.statistics import students_t
    from laminate.judging.acceptance import Reading, acceptance_of
    from laminate.values.units import kind_of

    text = file_text(value)
    kind = (kind_of(text) if isinstance(text, str) else "number") or "number"
    given = read_as(quantity(kind), text, "value")
    nothing = "0" if kind == "temperature" else f"0 {given.unit}".rstrip()
    texts = {name: file_text(limit) for name, limit in (("min", min), ("max", max)) if limit is not None}
    texts = {name: nothing if str(limit) in ("0", "0.0") else limit for name, limit in texts.items()}
    if not texts:
        raise Refused(too_few("", "max", 0, "limits", "min, max or both"))
    limits = {name: read_as(quantity(kind), limit, name) for name, limit in texts.items()}
    refuse_all([inexact_limit("", name, limit.text) for name, limit in limits.items() if limit.spread])
    low, high = (limits[name].value if name in limits else None for name in ("min", "max"))
    if not isinstance(guard, Real) or isinstance(guard, bool) or not 0.0 <= guard < math.inf:
        raise refusal("wrong-value", "", "guard", repr(guard), "a plain number, 0 or more, such as 1")
    if low is not None and high is not None and low > high:
        raise Refused(wrong_order("", "min", file_text(min), "above max", file_text(max), "not above max"))
    k = float(students_t(confidence=level_of(confidence), dof=given.dof))
    alone = given.half_width if given.shape == "rectangular" and given.spread else None
    reading = Reading("value", given.value, given.spread, given.dof, k, {}, given.spread, alone)
    held = acceptance_of([reading], minimum=low, maximum=high, guard=guard, attribute="")
    if doubt := _in_doubt(getattr(value, "answer", None), reading):
        decision = UNDECIDED if held.decision == CONFORMS else held.decision
        held = replace(held, decision=decision, reasons=(*held.reasons, doubt))
    unstated = given.u is None and not doubt
    judged = Value.parse(str(text))
    known = {name: Value.parse(str(limit)).to(judged.unit) for name, limit in texts.items()}
    freedom = {} if math.isinf(judged.dof) else {"effective_degrees_of_freedom": judged.dof}
    data = {
        "decision": held.decision,
        "value": {"value": judged.value, "unit": judged.unit, "standard_uncertainty": judged.u, **freedom},
        **{name: {"value": limit.value, "unit": limit.unit} for name, limit in known.items()},
        "reasons": [*held.reasons, *([UNSTATED] if unstated else [])],
        "probability_of_conformity": held.probability,
        "coverage_factor": reading.coverage_factor,
    }
    return JudgeAnswer(held, data | {"answer": held.decision})


def _in_doubt(answer: Mapping[str, Any] | None, reading: Reading) -> str:
    """Why a value of an answer cannot conform by the ± that it is judged with, '' where it can."""
    from laminate.judging.acceptance import OTHER_LEVEL, UNKNOWN

    if not isinstance(answer, Mapping):
        return ""
    u, expanded = answer.get("standard_uncertainty"), answer.get("expanded_uncertainty")
    if u is None or (u == 0.0 and "n" in answer):  # an average that neither scatters nor has a ±
        return UNKNOWN
    whole = "effective_degrees_of_freedom" in answer  # without them no factor serves but its own
    if not expanded or (answer.get("n", 1) == 1 and not answer.get("effective_degrees_of_freedom")):
        return ""
    more = reading.k * u / expanded - 1.0
    return OTHER_LEVEL if (more if whole else abs(more)) > 1e-9 else ""


def correct(*batches: str | PathLike[str], nominal: bool = False) -> Answer:
    """Compare batches with what was predicted of them, and propose what would center the next one.

    Parameters
    ----------
    batches : paths of batch.toml, or what `read_batch` made of them, one or more, of one part
    nominal : predict from the part file alone, without the certificates of the lots used

    Returns
    -------
    Answer : `answer.zones["web"]` tells whether predicted and achieved differ by more than their ±, and what
        to change: gap, core, ply count, resin, fiber weight or bleed

    Raises
    ------
    Refused : with every finding in the files

    Notes
    -----
    A difference keeps the signed part of each cause that both figures share (JCGM 100:2008, 5.2); it is real
    where it is larger than its expanded uncertainty. One batch does not tell how batches scatter: what is
    stated of press, plies and temperatures counts for it, of n batches that agree 1/sqrt(n) of that. A batch
    with the readings of another is left out.

    Examples
    --------
    >>> import laminate as lam
    >>> from importlib.resources import files
    >>> c = lam.correct(files("laminate.examples") / "mast" / "batch.toml")
    >>> [zone.zone for zone in c.zones]
    ['web']
    """
    from laminate.history.correcting import correct as compared

    if not batches:
        raise TypeError("no batch is named")
    if not isinstance(nominal, bool):
        raise refusal("wrong-value", "", "nominal", repr(nominal), "True or False")
    return CorrectAnswer(compared([path_of(batch) for batch in batches], nominal=nominal))


@TREND.takes
def trend(folder: str | Path, **options: Unpack[Trend]) -> Answer:
    """Follow batches over time, from the records in a folder.

    Parameters
    ----------
    folder : with records, in it or in the folders below

    Returns
    -------
    Answer : control charts with their signals, scatter between lots, capability and basis values of each
        series; `answer.to_frame()` has one row a batch and series

    Raises
    ------
    Refused : where the folder cannot be read, or holds no record

    Notes
    -----
    Charts of individual values with the run tests of Nelson, J. Quality Technology 16 (1984) 237
    (second-hand); basis values by one-sided tolerance factors (CMH-17 volume 1, chapter 8).

    Examples
    --------
    >>> import laminate as lam
    >>> try:
    ...     lam.trend("no-such-folder")
    ... except lam.Refused as refusal:
    ...     print(refusal.problems[0].file)
    no-such-folder
    """
    with by_parameters():
        return studied(Call(TREND, path_of(folder), options))


def studied(call: Call, progress: Progress | None = None, processes: int = 1) -> Answer:
    """The answer of `trend` to a call; progress: told how many records are done; processes: that judge."""
    from laminate.history.trending import trend as ask
    from laminate.records.record import recompute

    given = call.given
    for name in ("revoked", "need"):
        if name in given and "allowed_signers" not in given:
            words = " ".join(call.listed(name))
            call.say("option-alone", name, f"'{words}'", f"{call.place('allowed_signers')} FILE beside it")
    call.check()
    history = ask(
        Path(call.source),
        recompute=recompute,
        **{name: Path(given[name]) for name in ("allowed_signers", "revoked") if name in given},
        need=given.get("need"),
        every=bool(given.get("every")),
        chosen={name: call.listed(name) for name in ("part", "zone")},
        progress=progress,
        compute_all=bool(given.get("recompute")),
        processes=processes,
    )
    return TrendAnswer(history)


def verify(
    record: str | Path,
    allowed_signers: str | Path,
    *,
    revoked: Any = None,
    need: str | Sequence[str] | None = None,
) -> Answer:
    """Prove who signed a record, and that nothing changed since.

    Parameters
    ----------
    record : path of record.json; its signatures stand beside it
    allowed_signers : path of an OpenSSH allowed-signers file
    revoked : path of a list of revoked keys, or None
    need : roles that must be signed, such as "released"

    Returns
    -------
    Answer : `answer.proven`; `answer.to_frame()` has one row a signature

    Raises
    ------
    Refused : where a file cannot be read

    Notes
    -----
    Signatures of OpenSSH (PROTOCOL.sshsig). The record is judged again from the inputs inside it.

    Examples
    --------
    >>> import laminate as lam
    >>> try:
    ...     lam.verify("kept/record.json", "signers")
    ... except lam.Refused as refusal:
    ...     print(refusal.problems[0].code)
    file-access
    """
    paths = (path_of(record), path_of(allowed_signers), None if revoked is None else path_of(revoked))
    with by_parameters():
        return verified(*paths, need)


def verified(record: Path, allowed_signers: Path, revoked: Path | None, need: Any) -> Answer:
    """The answer of `verify` to paths."""
    from laminate.records.record import page_of, recompute
    from laminate.records.signature import verify as proved

    return VerifyAnswer(proved(record, allowed_signers, revoked, need, recompute=recompute, page=page_of))


def materials(text: str | None = None) -> pd.DataFrame:
    """Tabulated values of materials, each with its source.

    Parameters
    ----------
    text : narrows the list to materials, properties or sources with this text; None for all

    Returns
    -------
    DataFrame : one row a value, as printed: `material`, `property`, `value`, `at`, `source`, `how known`;
        empty where no row has the text

    Examples
    --------
    >>> import laminate as lam
    >>> lam.materials("PTFE").set_index("property")["value"]["density"]
    '2.17 g/cm^3'
    """
    import pandas as pd

    from laminate.files.reference_tables import listing

    if text is not None and not isinstance(text, str):
        raise TypeError(f"a text is looked for, not {type(text).__name__}")
    fields = ("name", "property", "shown", "conditions", "source", "how_known")
    rows = [[getattr(row, field) for field in fields] for row in listing(text=text)]
    return pd.DataFrame(rows, columns=("material", "property", "value", "at", "source", "how known"))
