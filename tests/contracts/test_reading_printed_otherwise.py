"""Cells that are printed otherwise than those around them: set aside or said, never read as another time.

Common practice of people who type times, no source.
"""

import pytest

from lapdelta.reading import Reading, Recipe, read_timing
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.laps import TYPED_LETTER
from lapdelta.reading.source import load

OTHERWISE = "far longer than the others and printed otherwise"


def read(text: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv")


def table(*times: str, head: str = "Kart;Lap;Lap time") -> str:
    return "\n".join([head, *(f"7;{lap};{time}" for lap, time in enumerate(times, 1))]) + "\n"


def aside(reading: Reading) -> list[tuple[int, str | None, str]]:
    return reading.set_aside.select("line", "column", "reason").rows()


@pytest.mark.parametrize("odd", ["52,7S", "52,7s", "52.7S", "52,7B", "52,7l", "52,S"])
def test_a_letter_in_place_of_the_last_figure(odd: str) -> None:
    reading = read(table("52,91", "52,74", odd, "52,80", "52,79"))
    assert reading.laps["lap"].to_list() == [1, 2, 4, 5]
    [(line, column, reason)] = aside(reading)
    assert (line, column) == (4, None)
    assert reason.startswith("no lap time")
    assert (TYPED_LETTER in reason) == (odd[-2:].casefold() == "7s")


@pytest.mark.parametrize(
    "times",
    [("52,91s", "52,74s", "52,7s", "52,80s"),
     ("52,91", "52,74", "52,70s", "52,80"), ("52,9", "52,7", "52,7 s", "52,8")],
    ids=["units throughout", "a unit behind all figures", "tenths with a unit"],
)  # fmt: skip
def test_a_unit_is_no_typed_letter(times: tuple[str, ...]) -> None:
    assert read(table(*times)).laps.height == 4


def test_a_letter_in_a_sector_costs_the_sector_only() -> None:
    """17.1 + 35.64 = 52.74 s."""
    head = "Kart;Lap;Lap time;Sector 1;Sector 2"
    reading = read(
        table("52,91;17,20;35,71", "52,74;17,10;35,64", "52,80;17,1S;35,65", "52,79;17,11;35,68", head=head)
    )
    assert reading.laps["sector_times_s"].to_list()[2] == [None, 35.65]
    assert aside(reading) == [(4, "Sector 1", TYPED_LETTER)]


@pytest.mark.parametrize("odd", ["52:10", "4:52.10", "0:52:10.00", "4'52\"10"])
def test_a_long_lap_in_another_clock_form(odd: str) -> None:
    reading = read(table("52.91", "52.74", odd, "52.80", "52.79"))
    assert reading.laps["lap"].to_list() == [1, 2, 4, 5]
    assert OTHERWISE in aside(reading)[0][2]


def test_whole_minutes_among_laps_with_minutes() -> None:
    reading = read(table("0:52.91", "0:52.74", "52:10", "0:52.80", "0:52.79"))
    assert reading.laps["lap"].to_list() == [1, 2, 4, 5]


@pytest.mark.parametrize(
    "times",
    [
        ("58.91", "58.74", "4:52.10", "1:01.80", "58.79"),
        ("58.91", "58.74", "1:01.80", "1:02.10", "58.79"),
        ("58.91", "58.74", "292.10", "58.80", "58.79"),
        ("0:58.91", "0:58.74", "4:52.10", "0:58.80", "0:58.79"),
        ("58.91", "58.74", "4:52.10 (pit)", "58.80", "58.79"),
    ],
    ids=["laps with minutes beside it", "not long", "the same form", "minutes throughout", "marked"],
)
def test_a_long_lap_in_a_usual_form_or_with_a_mark_stays(times: tuple[str, ...]) -> None:
    reading = read(table(*times))
    assert reading.laps.height == 5
    assert reading.set_aside.is_empty()


def test_a_lap_that_its_sectors_contradict_is_told() -> None:
    """16.9 + 17.8 + 17.9 = 52.6 s, and 55.6 is printed."""
    rows = [
        "7;1;52,9;17,0;18,0;17,9",
        "7;2;52,7;16,9;17,9;17,9",
        "7;3;55,6;16,9;17,8;17,9",
        "7;4;52,8;17,0;17,9;17,9",
    ]
    reading = read("Kart;Lap;Lap time;Sector 1;Sector 2;Sector 3\n" + "\n".join(rows) + "\n")
    assert reading.laps["lap_time_s"].to_list() == [52.9, 52.7, 55.6, 52.8]
    assert reading.notes == ("Line 4: the sectors add up to 52.600 s, the lap time says 55.600 s.",)


def test_a_lap_that_is_shorter_than_its_sector_is_none() -> None:
    """The lap time and a sector were typed in each other's place."""
    rows = [f"7;{lap};5{lap},5;2{lap},3;30,2" for lap in range(1, 5)] + ["7;5;30,2;22,1;52,3"]
    reading = read("Kart;Lap;Lap time;Sector 1;Sector 2\n" + "\n".join(rows) + "\n7;6;52,4;22,2;30,2\n")
    assert reading.laps["lap"].to_list() == [1, 2, 3, 4, 6]
    assert aside(reading) == [(6, None, "a sector is longer than this lap")]


def test_tenths_that_were_rounded_contradict_nothing() -> None:
    """17.04 + 18.04 + 17.04 = 52.12 s: printed 17.0, 18.0, 17.0 and 52.1."""
    rows = [f"7;{lap};52,1;17,0;18,0;17,0" for lap in range(1, 4)] + ["7;4;52,0;17,0;18,0;17,0"]
    assert not read("Kart;Lap;Lap time;Sector 1;Sector 2;Sector 3\n" + "\n".join(rows) + "\n").notes


LONG = [f"{52 + at * 37 % 900 / 1000:.3f}" for at in range(400)]


@pytest.mark.parametrize("usual", ["52.345", "1:02.345", "0:52.345"])
@pytest.mark.parametrize("odd", ["52.34S", "52:10", "4:52.100", "292.100", "4:52", "1:02.345", "62.345"])
@pytest.mark.parametrize("at", [20, 300])
def test_long_files_are_read_alike_on_both_paths(usual: str, odd: str, at: int) -> None:
    shown = [f"0:{time}" if usual.startswith("0:") else time for time in LONG]
    shown[60] = usual
    shown[at] = odd
    rows = [f"7{at // 40};{at % 40 + 1};{time}" for at, time in enumerate(shown)]
    source = load(("Kart;Lap;Lap time\n" + "\n".join(rows) + "\n").encode(), name="P1.csv")
    fast, careful = read_fast(source, {}, Recipe()), read_carefully(source, {}, Recipe())
    if fast is None:  # one plain number among times with minutes: its unit is a question of the whole column
        assert at == 300
        assert usual.startswith("0:")
        assert ":" not in odd
    else:
        assert fast.laps.equals(careful.laps)
        assert fast.set_aside.equals(careful.set_aside)
    kept = usual != "52.345" if odd.startswith("4:52.") else odd in ("1:02.345", "62.345")
    kept = kept or (odd == "292.100" and not usual.startswith("0:"))
    assert careful.laps.height == 399 + kept
