"""The catalog of wording: a sentence may be written anew, its facts may not; what is not meant is seen."""

import ast

import pytest

from .wording import Catalog, facts

ASKING = {"says", "begins", "reads", "worded"}
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


@pytest.mark.parametrize("rewrite", [False, True])
@pytest.mark.parametrize("key", ["code", "place"])
def test_another_code_or_place_is_seen(key, rewrite, file):
    with pytest.raises(AssertionError):
        Catalog(rewrite=rewrite, file=file).hold("x", [PROBLEM | {key: "other"}], ["it says '1.x' 2 mm"])


def test_a_rewrite_changes_the_sentence_alone(file):
    catalog = Catalog(rewrite=True, file=file)
    with pytest.raises(AssertionError, match="fact"):
        catalog.hold("x", [PROBLEM], ["here stands '1.y' 2 mm"])
    catalog.hold("x", [PROBLEM], ["here stands '1.x' 2 mm"])
    catalog.write()
    Catalog(rewrite=False, file=file).hold("x", [PROBLEM], ["here stands '1.x' 2 mm"])


PIECE = "case,code,place,facts,sentence\nx,,,2 mm,20 plies leave 2 mm\n"


@pytest.mark.parametrize("rewrite", [False, True])
def test_a_piece_of_a_screen_is_found(rewrite, file):
    file.write_text(PIECE)
    catalog = Catalog(rewrite=rewrite, file=file)
    assert catalog.piece("x", "First. 20 plies leave 2 mm; and more.") == "20 plies leave 2 mm"
    assert catalog.met == {}


def test_a_piece_of_a_screen_is_written_anew_with_its_facts(file):
    file.write_text(PIECE.replace("2 mm,20", "20 | 2 mm,20"))
    catalog = Catalog(rewrite=True, file=file)
    said = "20 plies leave 3 mm. Say so: 20 plies leave some 2 mm, and more.\n"
    assert catalog.piece("x", said) == "20 plies leave some 2 mm,"
    catalog.write()
    assert Catalog(file=file).rows["x"]["facts"] == "2 mm | 20"


@pytest.mark.parametrize("text", ["20 plies leave 3 mm.", "Zinc melts in 20 ovens, doors 2 mm off."])
def test_another_fact_or_a_sentence_unlike_it_is_no_rewording(text, file):
    file.write_text(PIECE.replace("2 mm,20", "20 | 2 mm,20"))
    catalog = Catalog(rewrite=True, file=file)
    assert catalog.piece("x", text) not in text
    assert catalog.met == {}


def test_every_piece_is_asked_for_by_a_test(checkout):
    """Each case without a code stands in a test, and each case that a call asks for by name is there."""
    asked, written = set(), set()
    for path in (checkout / "tests").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant):
                written.add(node.value)
            elif isinstance(node, ast.Call) and ast.unparse(node.func) in {
                "says",
                "begins",
                "reads",
                "worded",
            }:
                asked |= {piece.value for piece in ast.walk(node.args[0]) if isinstance(piece, ast.Constant)}
    kept = {case for case, row in Catalog().rows.items() if not row["code"]}
    assert kept - written == set()
    assert asked - kept == set()
