"""Numbers and times as files print them: decimal and thousands marks, whole numbers, fractions of a day.

ISO 80000-1, 7.3.2 (from memory): the decimal sign is a comma or a point, groups of three are parted by a space. The
other groupers (apostrophe, point, comma) are common practice, no source.
"""

from datetime import time

import pytest

from lapdelta.reading.clock import Duration, day_fraction, looks_timed, read_duration, read_time_of_day
from lapdelta.reading.numbers import certain_mark, decimals, read_number, tidy, whole_number


@pytest.mark.parametrize(
    ("printed", "point", "comma"),
    [
        ("14.250", 14.25, 14250), ("14,250", 14250, 14.25), ("98,4", None, 98.4), ("98.4", 98.4, None),
        ("1 234.5", 1234.5, None), ("1 234,5", None, 1234.5), ("1'234.5", 1234.5, None), ("1’234,5", None, 1234.5),
        ("1,234,567.8", 1234567.8, None), ("1.234.567,8", None, 1234567.8), ("1,234 567", None, None),
        ("12,34,567", None, None), ("1234 567", None, None), ("1 23", None, None), ("-1.5", -1.5, None),
        ("−1,5", None, -1.5), ("+2", 2, 2), (".5", 0.5, None), (",5", None, 0.5), ("5.", 5, None), ("1e3", 1000, 1000),
        ("2.5E-3", 0.0025, None), ("", None, None), (".", None, None), ("7a", None, None),
        ("1 234 567", 1234567, 1234567),
    ],
)  # fmt: skip
def test_a_number_under_either_mark(printed: str, point: float | None, comma: float | None) -> None:
    assert read_number(printed, ".") == point
    assert read_number(printed, ",") == comma


@pytest.mark.parametrize(
    ("printed", "mark"),
    [("98,4", ","), ("98.4", "."), ("14.250", None), ("14,250", None), ("1.234,5", ","), ("1,234.5", "."),
     ("7", None), ("1 234", None), ("", None), ("a.b", None), ("59.8730", ".")],
)  # fmt: skip
def test_a_cell_proves_a_mark_only_where_the_other_makes_no_number(printed: str, mark: str | None) -> None:
    assert certain_mark(printed) == mark


@pytest.mark.parametrize(
    ("printed", "count"),
    [("59.873", 3), ("59,9", 1), ("1:00.12", 2), ("60", 0), ("1:05", 2), ("1'05", 2), ('1\'05"5', 1), ("５９．８", 1),
     ("59.8s", None), ("59.", None), ("", None), ("Best", None), ("P1", 0)],
)  # fmt: skip
def test_digits_behind_the_last_mark(printed: str, count: int | None) -> None:
    assert decimals(printed) == count


@pytest.mark.parametrize(
    ("printed", "count"),
    [("7", 7), ("07", 7), ("7.0", 7), ("7,000", 7), ("7.", 7), ("７", 7), (" 12 ", 12), ("1234567", 1234567),
     ("12345678", None), ("7.5", None), ("7.0000", None), ("-7", None), ("", None), ("7a", None)],
)  # fmt: skip
def test_counts(printed: str, count: int | None) -> None:
    assert whole_number(printed) == count


def test_special_signs_are_made_plain() -> None:
    assert tidy(" ５９．８ ") == "59.8"
    assert tidy("–1 000") == "-1 000"
    assert tidy(" a ") == "a"


@pytest.mark.parametrize(
    ("printed", "told"),
    [
        # 86,400 seconds a day: ISO 8601-1, 4.2.1
        ("0.5", time(12)), ("0,25", time(6)), ("0", time(0)), ("0.999", time(23, 58, 33, 600_000)),
        ("0.4236111", time(10, 9, 59, 999_000)), ("6.9E-4", time(0, 0, 59, 616_000)), ("1", None), ("1.5", None),
        ("-0.25", None), ("0.9999999999", None), ("noon", None), ("", None), ("10:00", None),
    ],
)  # fmt: skip
def test_fraction_of_a_day(printed: str, told: time | None) -> None:
    """To the millisecond; midnight of the next day is no time of this one."""
    assert day_fraction(printed) == told


@pytest.mark.parametrize(
    ("printed", "found"),
    [
        ("59.873", Duration(None, 59.873, 59873.0)), ("59,873", Duration(None, 59.873, 59873.0)),
        ("59.87", Duration(None, 59.87)), ("59,87", Duration(None, 59.87)), ("60", Duration(None, 60.0, 60.0)),
        ("6.9E-4", Duration(None, 0.00069)), ("1e3", None), ("1E0", None), ("-5", Duration(None, -5.0, -5.0)),
    ],
)  # fmt: skip
def test_a_bare_number_keeps_both_readings(printed: str, found: Duration | None) -> None:
    """What the mark means is the column's affair."""
    assert read_duration(printed) == found


@pytest.mark.parametrize(
    ("printed", "seconds"),
    [
        ("1:00:123", 60.123), ("59:873", 59.873), ("059:873", 59.873), ("1:02:03:004", 3723.004),
        ("1:60:03:004", None), ("1.05.873", 65.873), ("1.60.5", None), ("1 05.873", 65.873), ("1 05,9", 65.9),
        ("1 60.5", None),
        ("1 min 5.5", 65.5), ("1 min 5", 65.0), ("1min60", None), ("2 minutes 3,25", 123.25), ("1h 2m 3.5s", 3723.5),
        ("1h 60m 3s", None), ("65 sec", 65.0), ("65,25 s", 65.25), ("1m 60s", None), ("59,5 ms", 0.0595),
        ("1'60\"5", None),
        ("1′05″25", 65.25), ("59\"9", 59.9), ("59''9", 59.9), ("P0DT1M5.5S", 65.5), ("PT1H0M5S", 3605.0),
        ("PT1H5S", 3605.0),
        ("PT5M", 300.0), ("PT1H5M", 3900.0), ("1:05", 65.0), ("1:5", None), ("1:00:05", 3605.0),
        ("1:05.123456", 65.123456),
        ("1:05.1234567", None),
    ],
)  # fmt: skip
def test_groups_of_digits(printed: str, seconds: float | None) -> None:
    """Sixty seconds are a minute: a larger group before them allows 59 at most."""
    found = read_duration(printed)
    assert (found and found.seconds) == (pytest.approx(seconds) if seconds is not None else None)


@pytest.mark.parametrize(
    ("printed", "told"),
    [
        ("23:59:59", time(23, 59, 59)), ("24:00", None), ("23:60", None), ("23:59:60", None), ("12:00 pm", time(12)),
        ("12:00 am", time(0)), ("0:05 am", None), ("13:05 pm", None), ("1:05 p.m.", time(13, 5)), ("12:59 P", None),
        ("10.05", time(10, 5)), ("10h05m06", time(10, 5, 6)), ("10:05:06.1234567", time(10, 5, 6, 123_456)),
        ("10:05:06z", None), ("10:05 -0500", time(10, 5)), ("１０：０５", time(10, 5)), ("", None),
    ],
)  # fmt: skip
def test_hours_of_both_kinds(printed: str, told: time | None) -> None:
    assert read_time_of_day(printed) == told


@pytest.mark.parametrize(
    ("text", "timed"),
    [("1:05", True), ("5000,5", True), ("0.5", True), ("4999.", False), ("5001", True),
     ("-6000", False), ("7.0", True)],
)  # fmt: skip
def test_which_cells_could_be_times(text: str, timed: bool) -> None:
    assert looks_timed(text) is timed
