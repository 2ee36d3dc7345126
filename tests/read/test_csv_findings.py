"""CSV files that are refused, each with its findings as the catalog of wording says them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from laminate.files.named_file import NamedFile
from laminate.files.tables import read_table
from laminate.values.problems import Problem
from tests.messages.wording import Catalog, reads

from .conftest import Read

HEAD = "specimen,zone,mass in air [g],thickness [mm]\n"

BAD: dict[str, str | bytes] = {
    "empty": "",
    "blank": " \n\n",
    "header alone": HEAD,
    "header and units alone": "specimen,mass in air\n,g\n",
    "totals alone": HEAD + "mean,,1,\n",
    "letters alone, as averages have them": "specimen,mass in air [g]\nN,1.4\nS,1.5\n",
    "no header": "01,web,1.5\n02,web,1.6\n",
    "a table on its side": "Coupons,,\nspecimen,01,02\nmass in air [g],1.5,1.6\nthickness [mm],2.8,2.9\n",
    "bars between the cells": "specimen|mass in air [g]\n01|1.5\n",
    "header misspelled": "Coupons\nspecimn,mas in air [g],thicknes [mm]\n01,1.5,2.8\n",
    "unknown columns, all of them": "specimen,zone,mass in ait [g],fibre points,colour of the sky\n"
    "01,web,1.5,3,blue\n",
    "German headings, both masses": ""
    "Probe;Masse in Luft [g];Masse in Flüssigkeit [g];Probenmasse [g]\n1;1;2;3\n",
    "headings in a language that is not known": "strefa;partia;Charge;metoda;massa [g]\nA;7;8;x;1,5\n",
    "column twice": "specimen,thickness [mm],Thickness (mm)\n01,2.8,2.9\n",
    "number twice": "specimen,thickness 1 [mm],thickness_01 [mm]\n01,2.8,2.9\n",
    "decimal comma, comma between": HEAD + "01,web,1,5,2,855\n",
    "too many cells": HEAD.replace(",", ";") + "01;web;1;2\n02;web;1;2;3\n",
    "column without heading": "specimen,,mass in air [g]\n01,web,1.5\n02,skin,1.6\n",
    "last column without heading": HEAD.replace("\n", ",\n") + "01,web,1.5,2.8,2.9\n02,skin,1.6,2.8,2.9\n",
    "a comma in another cell, a blank heading": HEAD.replace("\n", ",\n") + "01,web,1.5,2.8,2,9\n",
    "decimal signs mixed": HEAD.replace(",", ";") + "01;web;1,5;2,855\n02;web;1,6;2.85\n",
    "thousands in milligrams beside decimal commas": ""
    "specimen;mass in air [mg];thickness [mm]\n01;1.443;2,87\n",
    "decimal commas in quotes": HEAD + '01,web,"1,5","2,855"\n02,web,"1,6","2,861"\n',
    "commas in quotes between decimals or thousands": HEAD + '01,web,"1,443","2,855"\n',
    "two units": "specimen,zone,mass in air [g],thickness [mm]\n,,mg,mm\n01,web,1.5,2.855\n",
    "total between coupons": HEAD + "01,web,1.5,2.8\nmean,,1.5,2.8\n02,skin,1.6,2.9\naverage,,1.6,2.9\n",
    "a row in the way among the computed ones": HEAD
    + "01,web,1.5,2.8\nMean,,1.5,2.8\nStreuung,,0.1,0.1\nCV %,,6,4\n",
    "a signature between coupons": HEAD + "01,web,1.5,2.8\nSigned: JM,,,\n,,1.6,2.9\n",
    "words and counts numbered": "specimen,zone,zone 2,lot_2,remark (3),plies 2,points 1\n"
    "01,web,skin,L1,x,20,400\n",
    "a word column twice": "specimen,zone,Zone\n01,web,skin\n",
    "a comma in a remark": HEAD.replace("\n", ",operator,remark\n")
    + "01,web,1.5,2.8,JM,dropped, weighed again\n",
    "two commas in a remark, more columns after it": HEAD.replace("\n", ",remark,excluded\n")
    + "01,web,1.5,2.8,wet, dried, kept,\n",
    "decimal commas beside a remark": HEAD.replace("\n", ",remark\n") + "01,web,1,5,2,8,dropped\n",
    "a comma in another cell": HEAD.replace("\n", ",operator\n") + "01,web,1.5,2.8,JM,AB\n",
    "second table": HEAD + "01,web,1.5,2.8\n\nspecimen,mass in liquid [g]\n01,0.5\n",
    "quotation mark left open": HEAD + '01,web,1.5,2.8\n02,"web,1.6,2.9\n03,web,1.7,2.8\n',
    "quotation mark in a quoted cell": HEAD + '01,"3" wide",1.5,2.8\n',
    "not text": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(1, 256)),
    "bytes of no encoding": HEAD.encode() + b"\x81\x8d,web,1,2\n",
}


@pytest.mark.parametrize("name", BAD)
def test_file_is_refused(name: str, read: Read, wording: Catalog) -> None:
    data = BAD[name]
    _, problems = read(data.encode() if isinstance(data, str) else data, "coupons.csv")
    wording.hold_problems(f"CSV file: {name}", problems)


def test_all_findings_are_told_at_once(tmp_path, known, wording) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "coupons.csv"
    path.write_text("specimen;zone;mas in air [g];thickness [mm]\n01;web;1,5;2,8;x\n02;web;1,6;2.9\n")
    problems: list[Problem] = []
    read_table(NamedFile.at(path), known=known, problems=problems)
    assert [problem.code for problem in problems] == [
        "unknown-column",
        "too-many-cells",
        "mixed-decimals",
    ]
    assert {problem.file for problem in problems} == {str(path)}
    named = [replace(problem, file=path.name) for problem in problems]
    wording.hold_problems("CSV file: three findings", named)


def test_many_findings_of_one_kind_are_counted(read: Read) -> None:
    _, problems = read((HEAD + "1,web,1,2,3\n" * 50).encode(), "coupons.csv")
    assert len(problems) == 20
    assert problems[-1].place == "row 21"
    assert reads("read: many findings of one kind are counted", problems[-1].hint)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda path: None, "no such file, expected a coupon table (.csv or .xlsx)"),
        (lambda path: path.mkdir(), "a folder, expected a file; name the table inside it"),
    ],
)
def test_what_is_no_file_is_told(make, sentence: str, tmp_path, known) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "coupons.csv"
    make(path)
    problems: list[Problem] = []
    assert read_table(NamedFile.at(path), known=known, problems=problems) == []
    assert [problem.sentence() for problem in problems] == [f"{path}: found {sentence}"]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None)
@given(
    data=st.binary(max_size=80) | st.text(alphabet='specimen,zone;[]g"\n1.\t', max_size=80).map(str.encode)
)
def test_any_bytes_are_a_table_or_a_finding(data: bytes, read: Read) -> None:
    for opening in (b"", b"specimen;zone;density\n"):
        tables, problems = read(opening + data, "coupons.csv")
        assert tables or problems


OTHER_NAMES = {
    "comment": "remark",
    "Notes": "remark",
    "thk [mm]": "thickness",
    "thk 2 [mm]": "thickness",
    "temp [degC]": "liquid temperature",
    "weight in air [g]": "mass in air",
    "weight in water [g]": "mass in liquid",
    "crucible weight [g]": "crucible mass",
    "wet mass [g]": "saturated mass",
    "tester": "operator",
}


@pytest.mark.parametrize(("heading", "meant"), OTHER_NAMES.items())
def test_another_name_of_a_column_is_answered(heading: str, meant: str, read: Read) -> None:
    _, problems = read(f"specimen,zone,{heading}\n01,web,1\n".encode(), "coupons.csv")
    assert [problem.code for problem in problems] == ["unknown-column"]
    assert f"'{meant}'" in problems[0].hint


@pytest.mark.parametrize(
    ("heading", "meant"),
    [
        ("Masse an Luft [g]", "mass in air"),
        ("Masse in Wasser [g]", "mass in liquid"),
        ("Gewicht an Luft [g]", "mass in air"),
        ("Dicke 2 [mm]", "thickness"),
        ("Wassertemperatur [degC]", "liquid temperature"),
        ("mass in air g", "mass in air [g]"),
        ("thickness mm", "thickness [mm]"),
        ("mass in air mm", "mass in air"),
        ("mas in air g", "mass in air"),
    ],
)
def test_a_heading_in_other_words_is_pointed_at_its_column(heading: str, meant: str, read: Read) -> None:
    _, problems = read(f"specimen,zone,{heading}\n01,web,1.5\n".encode(), "coupons.csv")
    (problem,) = [problem for problem in problems if problem.code == "unknown-column"]
    assert f"'{meant}'" in problem.hint


@pytest.mark.parametrize(
    ("heading", "meant"),
    [
        ("Tare [g]", ""),
        ("fiber content [%]", ""),
        ("Prepreg FAW [g/m2]", ""),
        ("Wet weight [g]", ""),
        ("Crucible wt [g]", "crucible mass"),
        ("Crucible + ash [g]", "crucible with residue"),
        ("No. of plies", "plies"),
        ("Ash [g]", "residue mass"),
        ("Coupon #", "specimen"),
        ("thicknes [mm]", "thickness"),
    ],
)
def test_a_column_is_guessed_only_where_its_unit_fits(heading, meant, shop):
    shop.table(f"zone,mass in air [g],{heading}", "web,1.4427,1.2")
    (problem,) = (
        p
        for p in shop.json("measure", "batch.toml", status=(2,))["problems"]
        if p["code"] == "unknown-column"
    )
    assert (f"'{meant}'" in problem["hint"]) == bool(problem["hint"]) == bool(meant)


@pytest.mark.parametrize(
    "facts",
    [
        ("operator,JM,lot,L2231",),
        ("zone,web,operator,JM", "lot,L2231"),
        ("report 7", "lot,L1,zone,web,time,now"),
    ],
)
def test_facts_in_rows_above_the_header_are_none(facts, shop):
    table = shop.read("coupons.csv").splitlines()
    before = shop.json("measure", "batch.toml")["specimens"]
    shop.table(*facts, *table)
    assert shop.json("measure", "batch.toml")["specimens"] == before
    shop.table(*table, "specimen,zone,mass in air [g],thickness [mm]", "9,web,1.44,2.87")
    problems = shop.json("measure", "batch.toml", status=(2,))["problems"]
    assert [p["code"] for p in problems] == ["second-header"]
