"""Incoming tests of a prepreg: they come before certificates, and none of their rows is left out unseen."""

import re

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
        ((",3.2,0.9,1.54", "100,3.2,0.9,1.541", "100,3.2,0.9,1.5395"), ["P1 lacks area"]),
        (("100,3.2,0.9,1.54", "100,3.2,0.9,1.541", "100,3.2,0.9,"), ["P3 lacks fiber mass"]),
        (("100,3.2,0.9,", "100,3.2,0.9,1.541", "100,3.2,0.9,"), []),  # two of an areal weight alone
        (
            ("100,2.31,,1.54", "100,2.31,,1.541", "100,2.4,0.1,1.5395"),
            ["P1 lacks backing mass", "P2 lacks backing mass"],
        ),
        (("100,2.31,0,1.54", "100,2.31,0,1.541", "100,2.4,0.1,1.5395"), []),
    ],
)
def test_one_incoming_test_that_lacks_a_reading_is_incomplete(shop, cells, lacks):
    """Who leaves out one cell of the worst does not make the others decide."""
    heading, *rows = shop.read("coupons.csv").splitlines()
    more = ",area [cm^2],prepreg mass [g],backing mass [g],fiber mass [g]"
    tests = (f"P{n},,,L2231{',' * 11},{read}" for n, read in enumerate(cells, 1))
    shop.table(heading + more, *(f"{row},,,," for row in rows), *tests)
    whats = [reason["what"] for reason in report(shop, status=[0, 1])["held_back"]]
    assert [what for what in whats if " lacks " in what] == [f"incomplete: {lack}" for lack in lacks]


def test_a_test_that_can_be_of_two_prepregs_waits_for_its_lot_and_holds_up_no_finished_coupon(shop):
    """The lot is named where it is written, in the batch file; emptying the cell buys nothing."""
    second = '[prepreg.w245]\nfiber = "carbon"\nresin = "epoxy"\nform = "woven"\nresin_content = "39 %"\n'
    second += 'fiber_areal_weight = "245 g/m^2"\n'
    shop.change("part.toml", "[tool]\n", f'{second}resin_basis = "as received"\n[tool]\n')
    heading, *rows = shop.read("coupons.csv").splitlines()
    whole, batch = report(shop, status=[0]), shop.read("batch.toml")
    more = ",area [cm^2],prepreg mass [g],fiber mass [g],dried mass [g]"
    for lot, lots, lacks in (
        ("L2231", "none", ("[[lot]]", "batch.toml", '"ud150" or "w245"', '"L2231"')),
        ("", "none", ("[[lot]]", "batch.toml", '"ud150" or "w245"', "'lot'")),
        ("", "two", ("'lot'", "L2231 (ud150)", "W7 (w245)")),
        ("L2231", "two", ()),
        ("", "one", ()),
    ):
        without = re.sub(r"(?ms)^\[\[lot\]\].*?(?=^\[)", "", batch)
        also = '\n[[lot]]\nprepreg = "w245"\nnumber = "W7"\n' if lots == "two" else ""
        shop.write("batch.toml", without if lots == "none" else batch + also)
        shop.table(
            heading + more, *(f"{row},,,," for row in rows), f"P1,,,{lot}{',' * 11},100,2.3,1.54,2.291"
        )
        answer = report(shop, status=[1] if lacks else [0, 1])
        assert [coupon["specimen"] for coupon in answer["specimens"]] == ["0101", "0102", "0103"]
        if lots != "none":  # without any, the certificate's fiber areal weight is not there either
            assert answer["specimens"] == whole["specimens"]
        (one,) = answer["prepreg"]
        assert ("resin_content" in one, one.get("prepreg")) == ((False, None) if lacks else (True, "ud150"))
        held = [h for h in answer["held_back"] if h["rule"] == 1]
        assert [(all(x in h["say"] for x in lacks), h["concession"]) for h in held] == [(True, False)] * bool(
            lacks
        )
