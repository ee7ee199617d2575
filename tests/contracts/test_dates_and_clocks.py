"""What a cell says of day and time: ISO 8601 forms as that standard prints them, all others common practice."""

from datetime import date, time

import pytest

from lapdelta.reading.clock import looks_timed, read_duration, read_time_of_day
from lapdelta.reading.dates import date_readings, decide_day_order, pick_date

DAY = date(2026, 5, 16)
EARLY = date(2026, 6, 5)


@pytest.mark.parametrize(
    ("printed", "readings"),
    [
        ("2026-05-16", {"sure": DAY}), ("20260516", {"sure": DAY}),  # ISO 8601-1, 5.2.2: extended and basic
        ("2026/5/16", {"sure": DAY}), ("2026.05.16.", {"sure": DAY}), ("2026年5月16日", {"sure": DAY}),
        ("16.05.2026", {"sure": DAY}), ("16.5.26", {"sure": DAY}), ("5.16.2026", {}),
        ("16/05/2026", {"dmy": DAY}), ("05/16/2026", {"mdy": DAY}), ("05/16/26", {"mdy": DAY}),
        ("05/06/2026", {"dmy": EARLY, "mdy": date(2026, 5, 6)}), ("16-05-2026", {"dmy": DAY}),
        ("26-05-16", {}),  # may begin with the year
        ("16 May 2026", {"sure": DAY}), ("16th May 2026", {"sure": DAY}), ("16. Mai 2026", {"sure": DAY}),
        ("16 de mayo de 2026", {"sure": DAY}), ("May 16, 2026", {"sure": DAY}), ("Sat, 16 May 2026", {"sure": DAY}),
        ("Samstag, 16.05.2026", {"sure": DAY}), ("16 Mumble 2026", {}), ("31.02.2026", {}), ("2026-02-30", {}),
        ("12A", {}), ("59.873", {}), ("", {}),
    ],
)  # fmt: skip
def test_dates(printed: str, readings: dict[str, date]) -> None:
    assert date_readings(printed) == readings


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["2026-05-16"], "any"), ([], "any"), (["05/05/2026"], "any"), (["16/05/2026", "05/06/2026"], "dmy"),
        (["05/16/2026", "05/06/2026"], "mdy"), (["05/06/2026", "06/07/2026"], None), (["nonsense"], "any"),
        (["16/05/2026", "05/16/2026"], None),
    ],
)  # fmt: skip
def test_the_order_of_day_and_month_is_the_columns(cells: list[str], order: str | None) -> None:
    assert decide_day_order(cells) == order


def test_a_cell_has_the_date_that_the_order_gives_or_none() -> None:
    assert pick_date("05/06/2026", "dmy") == EARLY
    assert pick_date("05/06/2026", "mdy") == date(2026, 5, 6)
    assert pick_date("05/06/2026", None) is None
    assert pick_date("05/05/2026", "any") == date(2026, 5, 5)
    assert pick_date("05/16/2026", "dmy") is None
    assert pick_date("2026-05-16", None) == DAY
    assert pick_date("noon", "dmy") is None


@pytest.mark.parametrize(
    ("printed", "seconds"),
    [
        ("60123 ms", 60.123), ("60123ms", 60.123), ("PT1M0.123S", 60.123), ("PT60.123S", 60.123),
        ("PT1M", 60.0), ("PT1H", None), ("PT", None), ("PT1M60S", None),  # ISO 8601-1, 5.5.2: durations
        ("1 min 19 s 878 ms", 79.878), ("1m19s8ms", 79.008), ("59 s 100 ms", 59.1), ("1 min 61 s 1 ms", None),
        ("1分24秒760", 84.76), ("1分24秒76", 84.76), ("59秒1", 59.1), ("1分24.760秒", 84.76), ("1分24秒", 84.0),
        ("1分60秒1", None),
        ("1:00.5", 60.5), ("61:00.5", 3660.5), ("1:00:00.5", 3600.5), ("1:60.5", None), ("1:60:00.5", None),
        ("1:5.5", None), ("1'5\"5", None), ("1'05\"5", 65.5), ("0:59", 59.0),
    ],
)  # fmt: skip
def test_durations_that_tell_their_unit(printed: str, seconds: float | None) -> None:
    found = read_duration(printed)
    assert (found and found.seconds) == seconds


@pytest.mark.parametrize(
    ("printed", "told"),
    [
        ("1:05 pm", time(13, 5)), ("1:05 a.m.", time(1, 5)), ("2:05pm", time(14, 5)), ("12:05 am", time(0, 5)),
        ("0:05", time(0, 5)), ("10:05:06.5", time(10, 5, 6, 500_000)), ("10h05", time(10, 5)),
        ("10:05:06Z", None), ("10:05:06+02:00", time(10, 5, 6)), ("10:05:6", None), ("10", None),
    ],
)  # fmt: skip
def test_times_of_day(printed: str, told: time | None) -> None:
    """UTC is not local, so a time marked Z (ISO 8601-1, 5.3.4.1) is none; an offset stands behind a local time."""
    assert read_time_of_day(printed) == told


@pytest.mark.parametrize(
    ("text", "timed"),
    [("59.873", True), ("59,9", True), ("1:00.1", True), ("5000", True), ("60123", True), ("4999", False),
     ("12", False), ("0", False), ("Best", False), ("", False)],
)  # fmt: skip
def test_cells_that_look_timed(text: str, timed: bool) -> None:
    assert looks_timed(text) is timed
