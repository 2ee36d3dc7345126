"""The catalog of wording: a sentence may be written anew, its facts may not; what is not meant is seen."""

import pytest

from .wording import Catalog, facts

PROBLEM = {"code": "not-a-number", "file": "a.csv", "place": "row 2"}


@pytest.fixture
def file(tmp_path):
    """A catalog of one case."""
    path = tmp_path / "wording.csv"
    path.write_text(
        "case,code,place,facts,sentence\nx,not-a-number,a.csv: row 2,'1.x' | 2 mm,it says '1.x' 2 mm\n"
    )
    return path


def test_facts_are_quotes_options_and_numbers_with_units():
    said = "--balance: found '0.1 mm', expected 2 mm, 14.5 % or \"3 g\" in row 7"
    assert facts(said).split(" | ") == ['"3 g"', "'0.1 mm'", "--balance", "14.5 %", "2 mm", "7"]


@pytest.mark.parametrize("sentence", ["here stands '1.x' 2 mm", "it says '1.y' 2 mm", "it says '1.x' 3 mm"])
def test_another_sentence_is_seen(sentence, file):
    with pytest.raises(AssertionError):
        Catalog(rewrite=False, file=file).hold("x", [PROBLEM], [sentence])


@pytest.mark.parametrize("key", ["code", "place"])
def test_another_code_or_place_is_seen(key, file):
    with pytest.raises(AssertionError):
        Catalog(rewrite=False, file=file).hold("x", [PROBLEM | {key: "other"}], ["it says '1.x' 2 mm"])


def test_a_rewrite_changes_the_sentence_alone(file):
    catalog = Catalog(rewrite=True, file=file)
    with pytest.raises(AssertionError, match="facts"):
        catalog.hold("x", [PROBLEM], ["here stands '1.y' 2 mm"])
    catalog.hold("x", [PROBLEM], ["here stands '1.x' 2 mm"])
    catalog.write()
    Catalog(rewrite=False, file=file).hold("x", [PROBLEM], ["here stands '1.x' 2 mm"])
