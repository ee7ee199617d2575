"""Dates in words and figures, and what a column of them decides: ISO 8601-1 forms, all others common practice."""

from datetime import date

import pytest

from lapdelta.reading.dates import date_readings, decide_day_order, pick_date

DAY = date(2026, 5, 16)


@pytest.mark.parametrize(
    "printed",
    ["2026-05-16", "2026-5-16", "2026.05.16", "2026/05/16", "20260516", "2026年05月16日", "16.05.2026", "16. 5. 2026",
     "16.05.26", "16.05.2026.", "16 May 2026", "16-May-2026", "16. Mai 2026", "16th May 2026",
     "May 16 2026", "May. 16, 2026", "16 mai 2026", "16 maggio 2026", "16 de mayo de 2026",
     "Sat 16 May 2026", "Sat. 16.05.2026", "２０２６-０５-１６",
     "May 16th, 2026", "Saturday 16 May 2026", "16th of May 2026", "Saturday, 16th of May, 2026", "Sat, May 16th, 2026",
     "the 16th of May, 2026", "Samstag, den 16. Mai 2026", "Sa., 16.05.2026", "le samedi 16 mai 2026",
     "sabato 16 maggio 2026", "sábado, 16 de mayo del 2026", "sábado, 16 de maio de 2026", "zaterdag 16 mei 2026",
     "sobota, 16 maja 2026 r.", "sobota 16. května 2026", "lördag den 16:e maj 2026", "lørdag den 16. maj 2026",
     "2026年5月16日(土)", "2026年5月16日（土曜日）", "la 16.05.2026"],
)  # fmt: skip
def test_forms_that_leave_no_doubt(printed: str) -> None:
    assert date_readings(printed) == {"sure": DAY}
    assert pick_date(printed, None) == DAY
    assert pick_date(printed, "mdy") == DAY
    assert decide_day_order([printed]) == "any"


@pytest.mark.parametrize(
    "printed",
    ["2026-13-01", "2026-02-29", "20261301", "19991231", "16.13.2026", "32.05.2026", "16 May", "May 2026",
     "Mumble 16, 2026",
     "0.05.2026", "16.05/2026", "16/05.2026", "26-05-16", "16-05-26", "2026-05-16 10:00", "16.05.026",
     "99/99/2026", "lap 7"],
)  # fmt: skip
def test_what_is_no_date_has_no_reading(printed: str) -> None:
    assert date_readings(printed) == {}
    assert pick_date(printed, "dmy") is None
    assert decide_day_order([printed]) == "any"  # and decides nothing


@pytest.mark.parametrize("sign", ["/", "-", " "])
def test_with_these_signs_the_month_may_come_first(sign: str) -> None:
    both = sign.join(("05", "06", "2026"))
    assert date_readings(both) == {"dmy": date(2026, 6, 5), "mdy": date(2026, 5, 6)}
    assert date_readings(sign.join(("16", "05", "2026"))) == {"dmy": DAY}
    assert date_readings(sign.join(("05", "16", "2026"))) == {"mdy": DAY}


#: Months and ordinals as the languages write them, and the month and day they mean; from the languages themselves.
MONTHS = [
    ("1er mars 2026", (3, 1)), ("1º de março de 2026", (3, 1)), ("1. marts 2026", (3, 1)), ("1. Jänner 2026", (1, 1)),
    ("2. listopadu 2026", (11, 2)), ("3 de setiembre de 2026", (9, 3)), ("Mar 16 2026", (3, 16)),
    ("mar 17 mars 2026", (3, 17)),
]  # fmt: skip


@pytest.mark.parametrize(("printed", "wanted"), MONTHS)
def test_months_and_ordinals(printed: str, wanted: tuple[int, int]) -> None:
    """``mar`` is a month in English, a weekday (mardi) in French."""
    assert date_readings(printed) == {"sure": date(2026, *wanted)}


def test_years_of_two_digits_are_of_this_century() -> None:
    assert date_readings("16/05/26") == {"dmy": DAY}
    assert date_readings("16 05 26") == {"dmy": DAY}
    assert date_readings("16/05/00") == {"dmy": date(2000, 5, 16)}


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["05/06/2026", "16/05/2026", "2026-01-01"], "dmy"), (["05/05/2026", "05/16/2026"], "mdy"),
        (["05/05/2026", "06/06/2026"], "any"), (["05/05/2026", "05/06/2026"], None), (["05/06/2026"] * 9, None),
        (["16/05/2026", "17/05/2026", "05/18/2026"], None), (["lap", "", "16.05.2026"], "any"),
    ],
)  # fmt: skip
def test_the_column_decides_or_asks(cells: list[str], order: str | None) -> None:
    assert decide_day_order(cells) == order
    assert decide_day_order(cells[::-1]) == order


def test_an_order_that_hangs_on_nothing_reads_the_day_first() -> None:
    assert pick_date("16/05/2026", "any") == DAY
    assert pick_date("05/16/2026", "any") is None
    assert pick_date("05/16/2026", "mdy") == DAY
    assert pick_date("05/16/2026", None) is None
