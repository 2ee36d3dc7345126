"""Days in a text: read where they read in one way, known as unread where one was meant."""

import datetime as dt

import pytest

from laminate.values.days import days_in, means_unread_day

DAY = dt.date(2026, 11, 28)
READ = (
    "2026-11-28", "2026/11/28", "2026.11.28", "2026 11 28", "2026_11_28", "2026:11:28 09:14",
    "20261128", "20261128T0914", "202611280914", "20261128091405", "2026\u201111\u201128",
    "2026\u201311\u201328", "2026\u221211\u221228", "2026\u00ad-11-28", "28.11.2026", "28. 11. 2026",
    "28.11.2026 09:14", "2026-11-28T09:14:05.123+01:00", "11/28/2026", "28/11/2026 09:14", "11-28-2026",
    "11.28.2026", "28 Nov 2026", "28Nov2026", "28-Nov-2026 09:14", "Nov 28, 2026", "November 28th 2026 9 am",
    "Sat, 28th of Nov. 2026", "28 de noviembre de 2026", "28. November 2026", "Nov. 28 2026",
)  # fmt: skip
UNREAD = (
    "28112026", "281126", "112826", "261128", "28 11 2026", "28:11:2026", "28,11,2026", "28.11.",
    "28. 11. 26", "28th November", "28th of Nov", "Sat 28th", "Sat. 28", "28 juin", "31 Nov 2026",
    "28 Brumaire 2026", "2026年11月28日", "28 Nov 26", "28/11/26", "Nov 2026", "13/28/2026", "2026-332",
    "2026332", "46354",
    "11/10/2026", "20261328", "2026-02-30", "1764321240", "2026-W48", "2026W48", "KW 48/2026",
)  # fmt: skip
NONE = (
    "", "-", "07:45", "10:15-10:40", "09:14:05", "0914", "145930", "091400", "T091405", "9h14", "9.14",
    "9.14 Uhr", "7 am", "Sat 09:14", "Mon 7 am", "Monday", "morning", "noon", "shift 2", "2nd shift",
    "late 3", "main shift", "primary 2", "batch 2 of 3", "after 2 h", "0914 to 2015",
    "Mon 2nd shift", "Mon 0930", "Monday 14.05", "9:5", "14:05:", "run 1234567", "Tue 7:30", "Sat 3rd shift",
)  # fmt: skip


@pytest.mark.parametrize("text", READ)
def test_a_day_that_reads_in_one_way_is_read(text):
    assert days_in(text) == {DAY}
    assert not means_unread_day(text)


@pytest.mark.parametrize("text", UNREAD)
def test_a_day_that_reads_as_none_or_in_two_ways_is_known_as_meant(text):
    assert days_in(text) == set()
    assert means_unread_day(text)


@pytest.mark.parametrize("text", NONE)
def test_clock_times_and_words_name_no_day(text):
    assert days_in(text) == set()
    assert not means_unread_day(text)


@pytest.mark.parametrize(
    ("month", "names"),
    [
        (1, "January Januar janvier enero"),
        (2, "February Februar février fév."),
        (3, "March März mars marzo"),
        (4, "April avril abril"),
        (5, "May Mai mayo"),
        (6, "June Juni juin junio"),
        (7, "July Juli juillet julio"),
        (8, "August août agosto"),
        (9, "September Sept. septembre"),
        (10, "October Okt. octobre"),
        (11, "November nov."),
        (12, "December Dez. décembre diciembre"),
    ],
)
def test_a_month_is_read_by_its_name(month, names):
    for name in names.split():
        assert days_in(f"5 {name} 2026") == {dt.date(2026, month, 5)}


def test_every_day_of_a_text_is_read():
    assert days_in("2026-11-27 18:00 to 28.11.2026 06:00") == {dt.date(2026, 11, 27), DAY}


@pytest.mark.parametrize("blank", [" " * 3000, "\n\t ", "\N{NO-BREAK SPACE}"])
def test_however_many_blanks_stand_for_one(blank):
    assert days_in(f"28.11.2026{blank}09:14") == {DAY}
    assert means_unread_day(f"28{blank}juin")
    assert not means_unread_day(f"1{blank}shift")
