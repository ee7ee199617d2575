"""Tables side by side, and titles with a colon: every lap goes to its kart and session. Common practice, no source."""

import pytest

from lapdelta.reading import Reading, UnreadableFile, read_timing
from lapdelta.words.library import said_in


def read(text: str, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", answers=answers)


def laps(reading: Reading) -> set[tuple[object, ...]]:
    assert not reading.questions
    return set(reading.laps.select("session", "kart", "lap", "lap_time_s").rows())


TWO_KARTS = {
    ("P1", "8", 1, 53.1), ("P1", "8", 2, 51.2), ("P1", "31", 1, 53.4), ("P1", "31", 2, 51.6), ("P1", "31", 3, 51.5),
}  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "Kart 8;;Kart 31;\nLap;Time;Lap;Time\n1;53,1;1;53,4\n2;51,2;2;51,6\n;;3;51,5\n",
        "Kart 8;;;Kart 31;\nLap;Time;;Lap;Time\n1;53,1;;1;53,4\n2;51,2;;2;51,6\n;;;3;51,5\n",
        ";Kart 8;;Kart 31\nLap;Time;Lap;Time\n1;53,1;1;53,4\n2;51,2;2;51,6\n;;3;51,5\n",
        ";Kart 8;;Kart 31;\nLap;Time;Speed km/h;Time;Speed km/h\n1;53,1;80;53,4;79\n2;51,2;83;51,6;82\n3;;;51,5;82\n",
        "Kart 8;;;Kart 31;\nLap;Time;Speed km/h;Lap;Time\n1;53,1;80;1;53,4\n2;51,2;83;2;51,6\n;;;3;51,5\n",
        "Kart;Lap;Time;Kart;Lap;Time\n8;1;53,1;31;1;53,4\n8;2;51,2;31;2;51,6\n;;;31;3;51,5\n",
        "Somewhere\n\nKart 8;;Kart 31;\nLap;Time;Lap;Time\n;s;;s\n1;53,1;1;53,4\n"
        "2;51,2;2;51,6\n;;3;51,5\nBest;51,2;Best;51,5\n",
    ],
    ids=["as it is", "an empty column between", "titles in the middle", "one column of laps", "one has more columns",
         "karts in columns", "units and a best"],
)  # fmt: skip
def test_two_karts_side_by_side(text: str) -> None:
    reading = read(text)
    assert laps(reading) == TWO_KARTS
    assert reading.set_aside.is_empty()


def test_a_best_beside_a_lap_costs_no_lap() -> None:
    reading = read("Kart 8;;Kart 31;\nLap;Time;Lap;Time\n1;53,1;1;53,4\n2;51,2;2;51,6\nBest;51,2;3;51,5\n")
    assert laps(reading) == TWO_KARTS
    assert reading.set_aside.select("line", "text").rows() == [(5, "51,2")]


def test_two_sessions_of_one_kart_side_by_side() -> None:
    text = "Kart 8\n,Practice 1,,Practice 2,\nLap,Time,Speed km/h,Time,Speed km/h\n"
    text += "1,53.1,80,52.9,81\n2,51.2,83,51.0,84\n"
    reading = read(text)
    assert laps(reading) == {
        ("Practice 1", "8", 1, 53.1), ("Practice 1", "8", 2, 51.2),
        ("Practice 2", "8", 1, 52.9), ("Practice 2", "8", 2, 51.0),
    }  # fmt: skip
    assert reading.laps["top_speed_kmh"].to_list() == [80.0, 81.0, 83.0, 84.0]


def test_more_below_them_and_a_single_table_after() -> None:
    pairs = "Kart {};;Kart {};\nLap;Time;Lap;Time\n1;53,1;1;53,4\n2;51,2;2;51,6\n\n"
    single = "Kart 5\nLap;Time\n1;54,0\n2;52,0\n"
    found = laps(read(pairs.format(1, 2) + pairs.format(3, 4) + single))
    assert {kart for _, kart, _, _ in found} == {"1", "2", "3", "4", "5"}
    assert len(found) == 10
    assert ("P1", "5", 2, 52.0) in found


def test_tables_side_by_side_without_titles_are_refused() -> None:
    with pytest.raises(UnreadableFile, match="nothing tells whose laps each holds") as refused:
        read("Kart 8\nLap;Time;Lap;Time\n1;53,1;1;53,4\n2;51,2;2;51,6\n")
    assert "über die erste Spalte jeder Tabelle" in (
        said_in(str(refused.value).removeprefix("P1.csv: "), "de") or ""
    )


def test_they_are_set_aside_beside_other_tables() -> None:
    text = "Kart 8\nLap;Time\n1;53,1\n2;51,2\n\nLap;Time;Lap;Time\n1;53,1;1;53,4\n2;51,2;2;51,6\n"
    reading = read(text)
    assert reading.laps.height == 2
    assert set(reading.set_aside["reason"]) == {
        "tables side by side, and nothing tells whose laps each holds"
    }


def test_a_title_of_kart_and_driver_with_a_colon_over_each_block() -> None:
    blocks = "Kart 8: Ada Quist\nLap;Time\n1;53,1\n2;51,2\n\nKart 31: Practice 2\nLap;Time\n1;53,4\n"
    reading = read(blocks)
    assert reading.laps.select("session", "kart", "driver", "lap_time_s").rows() == [
        ("P1", "8", "Ada Quist", 53.1), ("P1", "8", "Ada Quist", 51.2), ("Practice 2", "31", None, 53.4),
    ]  # fmt: skip
