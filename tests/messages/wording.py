"""The catalog of wording: what the program says, in one file that people read.

A test holds code, place and facts of a finding; the sentence stands in `wording.csv` alone, and
`pytest --rewrite-wording`, with the tests to run, writes it anew. A rewrite may change a sentence, never its
facts: what is quoted, options, numbers with their units. A row without a code is a piece of a screen, page
or message, which a test asks for with `says`, `begins` or `reads`.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path

from laminate.values.problems import Problem

FILE = Path(__file__).parent / "wording.csv"
COLUMNS = ("case", "code", "place", "facts", "sentence")
FACTS = re.compile(
    r"'(?:[^']*)'|\"[^\"]*\"|`[^`]*`|--[a-z][a-z-]+"
    r"|(?<![\w.])-?\d+(?:[.,]\d+)*(?: ?(?:%|°C|g/cm³|g/m²|mm|MPa|kN|kg|g|K)(?!\w))?"
)
SENTENCES = re.compile(r"\n+|(?<=[.;!?])\s+|<[^>]*>")
LEAST_ALIKE = 0.6
Row = dict[str, str]


def facts(sentence: str) -> str:
    """What a sentence quotes, its options, and its numbers with their units, in one order."""
    return " | ".join(sorted(set(FACTS.findall(sentence))))


class Catalog:
    """The rows of the file by case, those that were met, and whether they are written anew."""

    def __init__(self, *, rewrite: bool = False, file: Path = FILE) -> None:
        self.rewrite, self.file, self.met = rewrite, file, dict[str, Row]()
        with file.open(encoding="utf-8", newline="") as lines:
            self.rows: dict[str, Row] = {row["case"]: row for row in csv.DictReader(lines)}

    def hold(self, case: str, problems: Sequence[Mapping[str, str]], sentences: Sequence[str]) -> None:
        """Hold what a call said, a line for each of its problems, to the rows of a case."""
        assert len(problems) == len(sentences), (problems, sentences)
        for i, (problem, sentence) in enumerate(zip(problems, sentences, strict=True), 1):
            name = case if len(problems) == 1 else f"{case}, {i} of {len(problems)}"
            place = ": ".join(filter(None, (problem["file"], problem["place"])))
            row = dict(zip(COLUMNS, (name, problem["code"], place, facts(sentence), sentence), strict=True))
            known = self.rows.get(name)
            if self.rewrite:
                known = known or row
                assert known == row | {"sentence": known["sentence"]}, (
                    f"{name}: another code, place or fact: {row}"
                )
                assert self.met.setdefault(name, row) == row, f"{name}: said in two ways"
            elif known != row:
                assert known == row, f"{name}: say it so with --rewrite-wording, if it is meant"

    def hold_problems(self, case: str, problems: Sequence[Problem]) -> None:
        """Hold findings that no call has printed yet to the rows of a case."""
        self.hold(case, [asdict(problem) for problem in problems], [one.sentence() for one in problems])

    def piece(self, case: str, text: str | Sequence[str], **given: str) -> str:
        """The sentence of a case with what is given for its `{names}`.

        Where it is written anew: the sentence of a text that is most like it, and has its facts.
        """
        row = self.rows[case]
        sentence = _filled(row["sentence"], given)
        if not self.rewrite or sentence in text:
            return sentence
        best = _most_alike(sentence, text if isinstance(text, str) else "\n".join(text))
        if not best:
            return sentence
        written = best
        for name, value in given.items():
            written = written.replace(value, f"{{{name}}}")
        self.met[case] = self.rows[case] = row | {"facts": facts(written), "sentence": written}
        return best

    def write(self) -> None:
        """Write the rows that were met among the others, in the order of their cases."""
        rows = self.rows | self.met
        with self.file.open("w", encoding="utf-8", newline="") as lines:
            writer = csv.DictWriter(lines, COLUMNS, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows[name] for name in sorted(rows))


CATALOG = Catalog()


def _alike(sentence: str, said: str) -> float:
    return difflib.SequenceMatcher(None, sentence, said).ratio()


def _most_alike(sentence: str, text: str) -> str:
    """The words of a text that are most like a sentence and have its facts; '' where none are like it."""
    named = {*facts(sentence).split(" | "), ""}
    near = [said for said in SENTENCES.split(text) if named <= {*facts(said).split(" | "), ""}]
    words = max(near, key=lambda said: _alike(sentence, said), default="").split(" ")
    runs = [" ".join(words[i:j]) for i in range(len(words)) for j in range(i + 1, len(words) + 1)]
    same = [run for run in runs if {*facts(run).split(" | "), ""} == named]
    best = max(same, key=lambda run: _alike(sentence, run), default="")
    return best if _alike(sentence, best) >= LEAST_ALIKE else ""


def _filled(sentence: str, given: Mapping[str, str]) -> str:
    for name, value in given.items():
        sentence = sentence.replace(f"{{{name}}}", value)
    return sentence


def says(case: str, text: str | Sequence[str], **given: str) -> bool:
    """Whether a text holds the sentence of a case, `{names}` in it as they are given."""
    return CATALOG.piece(case, text, **given) in text


def begins(case: str, text: str, **given: str) -> bool:
    """Whether a text begins with the sentence of a case."""
    return text.startswith(CATALOG.piece(case, text, **given))


def reads(case: str, text: str, **given: str) -> bool:
    """Whether a text is the sentence of a case and nothing else."""
    return text == CATALOG.piece(case, text, **given)


class worded:  # noqa: N801 (reads as a word where it stands in for a text)
    """Equal to a text that is the sentence of a case: in lists, tuples and tables of texts."""

    def __init__(self, case: str, **given: str) -> None:
        self.case, self.given = case, given

    def __eq__(self, text: object) -> bool:
        """Whether that is what the text reads."""
        return isinstance(text, str) and reads(self.case, text, **self.given)

    def __hash__(self) -> int:
        return hash(self.case)

    def __repr__(self) -> str:
        return repr(_filled(CATALOG.rows[self.case]["sentence"], self.given))
