"""Minutes and seconds in columns of their own: never a lap without its minutes. Common practice, no source."""

import pytest

from lapdelta.reading import Reading, read_timing


def read(text: str, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", answers=answers)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("Kart;Lap;min;sec\n7;1;1;02,33\n7;2;0;58,40\n7;3;1;0,05\n", [62.33, 58.4, 60.05]),
        ("Kart;Lap;Min.;Sek.\n7;1;1;2,33\n7;2;;58,40\n", [62.33, 58.4]),
        ("Kart,Lap,minutes,seconds\n7,1,1,2.33\n7,2,0,58.4\n", [62.33, 58.4]),
        ("Kart;Lap;min;s;1/100\n7;1;1;2;33\n7;2;0;58;4\n", [62.33, 58.04]),
        ("Kart;Lap;m;s;ms\n7;1;1;2;330\n7;2;0;58;40\n", [62.33, 58.04]),
        ("Kart;Lap;min;s;1/10\n7;1;1;2;3\n7;2;0;58;4\n", [62.3, 58.4]),
        ("カート,周,分,秒\n7,1,1,02.33\n7,2,0,58.40\n", [62.33, 58.4]),
    ],
)
def test_minutes_and_seconds_are_one_lap_time(text: str, seconds: list[float]) -> None:
    reading = read(text)
    assert not reading.questions
    assert [round(found, 3) for found in reading.laps["lap_time_s"]] == seconds
    assert reading.set_aside.is_empty()


def test_so_where_the_seconds_are_said_to_be_the_lap_time() -> None:
    reading = read("Kart;Lap;min;sec\n7;1;1;02,33\n7;2;0;58,40\n", **{"column:sec": "lap_time_s"})
    assert reading.laps["lap_time_s"].to_list() == [62.33, 58.4]


def test_a_broken_minute_costs_the_lap() -> None:
    rows = "".join(f"7;{lap};1;0{lap % 10},50\n" for lap in range(1, 11))
    reading = read(f"Kart;Lap;min;sec\n{rows}7;11;x;02,33\n7;12;1;75,33\n")
    assert reading.laps.height == 10
    assert reading.set_aside["line"].to_list() == [12, 13]
