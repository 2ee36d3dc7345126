"""Incoming tests of a prepreg: they come before certificates, and none of their rows is left out unseen."""

import pytest

from .test_report import characteristic, report


def test_incoming_tests_come_before_certificates(shop):
    heading, *rows = shop.read("coupons.csv").splitlines()
    more = ",area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g]"
    cells = ("P1,,,L2231" + "," * 11 + f",100,3.2,0.9,{fiber}" for fiber in (1.54, 1.541, 1.5395))
    shop.table(heading + more, *(f"{row},,,," for row in rows), *cells)
    text = shop.read("coupons.csv").replace("P1", "P{}")
    shop.write("coupons.csv", text.format(1, 2, 3))
    one = characteristic(report(shop), "prepreg.ud150.resin_content", None)
    assert (one["lot"], one["result"]["n"]) == (None, 3)
    assert one["result"]["value"] == pytest.approx(100 * (1 - 1.540166667 / 2.3 - 0.004), abs=1e-4)


def test_an_extraction_without_drying_wants_the_volatiles_stated(shop):
    """A resin content as received leaves them out: taken for 0, those who do not dry gain their share."""
    heading, *rows = shop.read("coupons.csv").splitlines()
    more = ",area [cm^2],prepreg mass [g],fiber mass [g],dried mass [g]"
    tests = [f"P{n},,,L2231{',' * 11},100,2.3,{1.54 + n / 1000}," for n in range(1, 4)]
    shop.table(heading + more, *(f"{row},,,," for row in rows), *tests)
    rule = 10
    assert rule not in {reason["rule"] for reason in report(shop)["held_back"]}
    for file in ("part.toml", "batch.toml"):
        shop.change(file, 'volatiles = "0.4 % ± 0.2 (tolerance)"\n', "")
    held = [reason for reason in report(shop, status=[1])["held_back"] if reason["rule"] == rule]
    assert [("ud150" in h["what"], "P1, P2, P3" in h["what"], "dried mass" in h["say"]) for h in held] == [
        (True, True, True)
    ]
    shop.table(heading + more, *(f"{row},,,," for row in rows), *(f"{test}2.2908" for test in tests))
    assert rule not in {reason["rule"] for reason in report(shop, status=[0, 1])["held_back"]}


def test_a_tested_piece_whose_row_is_gone_is_missed_where_the_part_counts_them(shop):
    """Three pieces of the lot: leaving one out, or its lot's name, is no way to a better mean."""
    shop.change("part.toml", "[prepreg.ud150]\n", "[prepreg.ud150]\ntested_pieces = 3\n")
    heading, *rows = shop.read("coupons.csv").splitlines()
    more = ",area [cm^2],prepreg mass [g],fiber mass [g],dried mass [g]"
    for lots, short in ((("L2231",) * 3, 0), (("L2231", "", "L2231"), 0), (("L2231",) * 2, 1), ((), 1)):
        tests = [f"P{n},,,{lot}{',' * 11},100,2.3,{1.54 + n / 1000},2.291" for n, lot in enumerate(lots)]
        shop.table(heading + more, *(f"{row},,,," for row in rows), *tests)
        held = [h for h in report(shop, status=[0, 1])["held_back"] if h["rule"] == 9]
        assert [(h["concession"], f"{len(lots)} of 3" in h["what"]) for h in held] == [(True, True)] * short


def test_the_blank_sheet_has_the_pieces_that_the_part_counts(shop):
    shop.change("part.toml", "[prepreg.ud150]\n", "[prepreg.ud150]\ntested_pieces = 4\n")
    shop.run("sheet", "batch.toml", "--out", "blank.csv")
    assert sum(row.startswith("P01") for row in shop.read("blank.csv").splitlines()) == 4


@pytest.mark.parametrize(
    ("cells", "lacks"),
    [
        ((",3.2,0.9,1.54", "100,3.2,0.9,1.541", "100,3.2,0.9,1.5395"), "P1 lacks area"),
        (("100,3.2,0.9,1.54", "100,3.2,0.9,1.541", "100,3.2,0.9,"), "P3 lacks fiber mass"),
        (("100,3.2,0.9,", "100,3.2,0.9,1.541", "100,3.2,0.9,"), None),  # two of an areal weight alone
    ],
)
def test_one_incoming_test_that_lacks_a_reading_is_incomplete(shop, cells, lacks):
    """Who leaves out one cell of the worst does not make the others decide."""
    heading, *rows = shop.read("coupons.csv").splitlines()
    more = ",area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g]"
    tests = (f"P{n},,,L2231{',' * 11},{read}" for n, read in enumerate(cells, 1))
    shop.table(heading + more, *(f"{row},,,," for row in rows), *tests)
    whats = [reason["what"] for reason in report(shop, status=[0, 1])["held_back"]]
    assert [what for what in whats if " lacks " in what] == ([f"incomplete: {lacks}"] if lacks else [])
