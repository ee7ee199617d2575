"""Tables as people type them: three small files a class, made by us, with the laps that a careful reader finds in them.

No outside source; common practice of people who write times down. A lap is (kart, lap, seconds) and what else is told.
"""

from typing import Any

import pytest

from lapdelta.reading import Reading, read_timing

#: class -> files: (text, laps).
FILES: dict[str, list[tuple[str, list[tuple[Any, ...]]]]] = {
    "sectors as rows, a column a lap": [
        (
            "Kart: 4\n\n,Lap 1,Lap 2\nSector 1,20.1,20.2\nSector 2,30.3,30.1\nLap time,50.4,50.3\n",
            [("4", 1, 50.4, [20.1, 30.3]), ("4", 2, 50.3, [20.2, 30.1])],
        ),
        (
            "Kart 9\n;Runde 1;Runde 2;Runde 3\nRundenzeit;50,4;50,3;50,2\nHöchstgeschwindigkeit km/h;80;81;82\n",
            [("9", 1, 50.4, [], 80.0), ("9", 2, 50.3, [], 81.0), ("9", 3, 50.2, [], 82.0)],
        ),
        (
            "Session: P1\nKart: 4\n,Lap 1,Lap 2\nLap time,50.4,50.3\n"
            "Session: P2\nKart: 4\n,Lap 1,Lap 2\nLap time,51.4,51.3\n",
            [("4", 1, 50.4), ("4", 2, 50.3), ("4", 1, 51.4), ("4", 2, 51.3)],
        ),
    ],
    "the kart stands below the laps": [
        ("Lap;Lap time\n1;50,4\n2;50,3\n3;50,2\n\nKart 12 - Saturday\n",
         [("12", 1, 50.4), ("12", 2, 50.3), ("12", 3, 50.2)]),
        ("Lap,Lap time\n1,50.4\n2,50.3\nBest,50.3\nKart: 07\n", [("07", 1, 50.4), ("07", 2, 50.3)]),
        ("Runde;Rundenzeit\n1;50,4\n2;50,3\nKart 3, gestoppt von Hand\n", [("3", 1, 50.4), ("3", 2, 50.3)]),
    ],
    "an empty first column": [
        (";Kart;Lap;Lap time\n;7;1;50,4\n;7;2;50,3\n", [("7", 1, 50.4), ("7", 2, 50.3)]),
        (";Free practice;;\n;;;\n;Lap;Kart 3;Kart 5\n;1;50,4;51,4\n;2;50,3;51,3\n",
         [("3", 1, 50.4), ("5", 1, 51.4), ("3", 2, 50.3), ("5", 2, 51.3)]),
        (",Lap,Kart,Time\n,1,7,50.4\n,2,7,50.3\n,,,\n,best,,50.3\n", [("7", 1, 50.4), ("7", 2, 50.3)]),
    ],
    "rare clock forms": [
        ("Kart;Lap;Lap time\n7;1;1 03,550\n7;2;0 57,220\n7;3;0 57,010\n",
         [("7", 1, 63.55), ("7", 2, 57.22), ("7", 3, 57.01)]),
        ("Kart;Tour;Chrono\n7;1;1 min 05,310\n7;2;59,004\n7;3;1 min 00,1\n",
         [("7", 1, 65.31), ("7", 2, 59.004), ("7", 3, 60.1)]),
        (
            "Kart,Lap,Lap time,Sector 1,Sector 2\n7,1,1:02:910,31:900,31:010\n7,2,0:58:100,29:000,29:100\n",
            [("7", 1, 62.91, [31.9, 31.01]), ("7", 2, 58.1, [29.0, 29.1])],
        ),
    ],
    "a column a session of one kart": [
        ("Kart 21\nLap;Session 1;Session 2\n1;50,4;51,4\n2;50,3;51,3\n",
         [("21", 1, 50.4), ("21", 1, 51.4), ("21", 2, 50.3), ("21", 2, 51.3)]),
        ("Kart 21\nGiro;Sessione 1;Sessione 2\n1;50,4;51,4\n2;50,3;\n",
         [("21", 1, 50.4), ("21", 1, 51.4), ("21", 2, 50.3)]),
        ("Kart: 8\nLap,Heat 1,Heat 2\n1,50.4,51.4\n2,,51.3\n", [("8", 1, 50.4), ("8", 1, 51.4), ("8", 2, 51.3)]),
    ],
    "a row a kart named in its first cell": [
        (";Lap 1;Lap 2\nKart 1 (Ada);50,4;50,3\nKart 02 (Bo);51,4;51,3\n",
         [("1", 1, 50.4), ("1", 2, 50.3), ("02", 1, 51.4), ("02", 2, 51.3)]),
        (",Lap 1,Lap 2\nKart 5,50.4,50.3\nKart 6,51.4,\nKart 7,52.4,52.3\n",
         [("5", 1, 50.4), ("5", 2, 50.3), ("6", 1, 51.4), ("7", 1, 52.4), ("7", 2, 52.3)]),
        (";Runde 1;Runde 2\n#11;50,4;50,3\n#12;51,4;51,3\n\n",
         [("11", 1, 50.4), ("11", 2, 50.3), ("12", 1, 51.4), ("12", 2, 51.3)]),
    ],
    "marks in other columns": [
        ("Kart,Lap,Lap time\n7,1 (out),61.4\n7,2,50.3\n7,3 (in),62.0\n",
         [("7", 1, 61.4, [], None, ["out"]), ("7", 2, 50.3), ("7", 3, 62.0, [], None, ["in"])]),
        ("Kart,Lap,Lap time,Pit\n7,1,61.4,out\n7,2,50.3,\n7,3,62.0,in\n",
         [("7", 1, 61.4, [], None, ["out"]), ("7", 2, 50.3), ("7", 3, 62.0, [], None, ["in"])]),
        ("Kart,Lap,Lap time,Remark\n7,1,61.4,\"cold, out lap\"\n7,2,50.3,no wind\n7,3,62.0,to the pits\n",
         [("7", 1, 61.4, [], None, ["out"]), ("7", 2, 50.3), ("7", 3, 62.0, [], None, ["in"])]),
    ],
    "a sum or an average that no word tells": [
        ("Kart 7\nLap,Lap time\n1,50.412\n2,50.301\n3,50.388\n4,50.215\n,3:21.316\n",
         [("7", 1, 50.412), ("7", 2, 50.301), ("7", 3, 50.388), ("7", 4, 50.215)]),
        ("Kart 7\nLap time\n50.412\n50.301\n50.388\n50.215\n50.329\n",
         [("7", 1, 50.412), ("7", 2, 50.301), ("7", 3, 50.388), ("7", 4, 50.215)]),
        ("Runde;Kart 7;Kart 9\n1;50,4;51,4\n2;50,3;51,3\n3;50,2;51,1\n;50,2;51,1\n",
         [("7", 1, 50.4), ("9", 1, 51.4), ("7", 2, 50.3), ("9", 2, 51.3), ("7", 3, 50.2), ("9", 3, 51.1)]),
    ],
    "full-width figures": [
        ("カート,周,タイム\n７,１,５２．１３０\n７,２,５２．２２０\n７,３,５２．４１０\n",
         [("７", 1, 52.13), ("７", 2, 52.22), ("７", 3, 52.41)]),
        ("Kart;Lap;Time\nA;１;５２，１\nA;２;５２，２\nA;３;５２，４\n",
         [("A", 1, 52.1), ("A", 2, 52.2), ("A", 3, 52.4)]),
        ("Kart\t周回\t最高速度(km/h)\tタイム\nB\t１\t９０\t１：０２．１３０\nB\t２\t９１\t１：０２．２２０\n",
         [("B", 1, 62.13, [], 90.0), ("B", 2, 62.22, [], 91.0)]),
    ],
    "words for splits, days and karts": [
        ("Kart;Lap;Time at split 1;Time at split 2;Time at split 3;Lap time\n"
         "7;1;16,7;35,0;54,6;54,6\n7;2;18,1;36,8;54,7;54,7\n7;3;17,0;34,3;53,2;53,2\n",
         [("7", 1, 54.6, [16.7, 18.3, 19.6]), ("7", 2, 54.7, [18.1, 18.7, 17.9]), ("7", 3, 53.2, [17.0, 17.3, 18.9])]),
        ("Nr karta;Okrążenie;Czas okrążenia\n07;1;50,4\n07;2;50,3\n", [("07", 1, 50.4), ("07", 2, 50.3)]),
        ("Kart,Lap,Lap time,When\n7,1,50.4,13.06.2031 14:01\n7,2,50.3,13.06.2031 14:02\n",
         [("7", 1, 50.4), ("7", 2, 50.3)]),
    ],
    "a speed told by its unit": [
        ("Kart,Lap,Lap time,Max km/h\n7,1,50.4,80.5\n7,2,50.3,81\n",
         [("7", 1, 50.4, [], 80.5), ("7", 2, 50.3, [], 81.0)]),
        ("Kart;Lap;Lap time;km/h\n7;1;50,4;80\n7;2;50,3;81\n", [("7", 1, 50.4, [], 80.0), ("7", 2, 50.3, [], 81.0)]),
        ("Kart,Lap,Lap time,Top speed,Top speed\n,,s,mph,km/h\n7,1,50.4,50,80.47\n"
         "7,2,50.3,51,82.08\n7,3,50.2,52,83.69\n",
         [("7", 1, 50.4, [], 80.4672), ("7", 2, 50.3, [], 82.076544), ("7", 3, 50.2, [], 83.685888)]),
    ],
    "decimal marks mixed": [
        ("Kart;Lap;Lap time;Speed km/h\n7;1;50,4;80,5\n7;2;50.3;81.5\n",
         [("7", 1, 50.4, [], 80.5), ("7", 2, 50.3, [], 81.5)]),
        ("Kart;Lap;Lap time;Speed km/h\n7;1;1:00,4;80,5\n7;2;1:00.3;81.5\n7;3;59.1;81\n",
         [("7", 1, 60.4, [], 80.5), ("7", 2, 60.3, [], 81.5), ("7", 3, 59.1, [], 81.0)]),
        ("Kart\tLap\tLap time\tSpeed km/h\n7\t1\t50.4\t80,5\n7\t2\t50.3\t81.5\n7\t3\t50.2\t\n",
         [("7", 1, 50.4, [], 80.5), ("7", 2, 50.3, [], 81.5), ("7", 3, 50.2)]),
    ],
    "a decimal mark in the wrong place": [
        ("Kart,Lap,Lap time\n7,1,60.402\n7,2,60.300\n7,3,605.02\n7,4,60.200\n7,5,60.100\n",
         [("7", 1, 60.402), ("7", 2, 60.3), ("7", 4, 60.2), ("7", 5, 60.1)]),
        ("Kart,Lap,Lap time\n7,1,0:55:044\n7,2,0:55:87\n7,3,0:55:45\n7,4,0:55:802\n7,5,0:55:815\n7,6,0:55:700\n",
         [("7", 1, 55.044), ("7", 4, 55.802), ("7", 5, 55.815), ("7", 6, 55.7)]),
        ("Kart,Lap,Lap time\n7,1,60.402\n7,2,60.300\n7,3,600.250\n7,4,60.200\n7,5,60.100\n",
         [("7", 1, 60.402), ("7", 2, 60.3), ("7", 3, 600.25), ("7", 4, 60.2), ("7", 5, 60.1)]),
    ],
    "numbered columns that add up": [
        ("Kart;Lap;Lap time;T1;T2\n7;1;50,4;20,1;30,3\n7;2;50,3;20,2;30,1\n7;3;50,2;20,0;30,2\n",
         [("7", 1, 50.4, [20.1, 30.3]), ("7", 2, 50.3, [20.2, 30.1]), ("7", 3, 50.2, [20.0, 30.2])]),
        ("Kart,Lap,Lap time,t_s1,t_s2\n7,1,50.4,20.1,30.3\n7,2,50.3,20.2,30.1\n7,3,50.2,20.0,30.2\n",
         [("7", 1, 50.4, [20.1, 30.3]), ("7", 2, 50.3, [20.2, 30.1]), ("7", 3, 50.2, [20.0, 30.2])]),
        ("Kart;Lap;Lap time;T1;T2\n7;1;50,4;20,1;31,3\n7;2;50,3;20,2;31,1\n7;3;50,2;20,0;31,2\n",
         [("7", 1, 50.4), ("7", 2, 50.3), ("7", 3, 50.2)]),
    ],
    "titles with more than one thing in them": [
        ("Driver: Ada Quist   Start no: 04\nLap;Lap time\n1;50,4\n2;50,3\n", [("04", 1, 50.4), ("04", 2, 50.3)]),
        ("*** Kart 4 - Ada ***\nLap  Time\n1    50.4\n2    50.3\n\n*** Kart 5 - Bo ***\nLap  Time\n"
         "1    51.4\n2    51.3\n",
         [("4", 1, 50.4), ("4", 2, 50.3), ("5", 1, 51.4), ("5", 2, 51.3)]),
        ("The old barn;Kart 7\nLap;Lap time\n1;50,4\n2;50,3\n", [("7", 1, 50.4), ("7", 2, 50.3)]),
    ],
    "the lap time is headed Lap": [
        ("Kart;No.;Lap\n7;1;50,4\n7;2;50,3\n7;3;50,2\n", [("7", 1, 50.4), ("7", 2, 50.3), ("7", 3, 50.2)]),
        ("Kart 7\nNo.;Split;Lap;Total\n1;;00:50,4;00:50,4\n2;;00:50,3;01:40,7\n3;;00:50,2;02:30,9\n",
         [("7", 1, 50.4), ("7", 2, 50.3), ("7", 3, 50.2)]),
        ("Kart,No.,Lap\n7,1,50.4\n7,2,50.3\n7,3,50.2\n7,4,50.1\n",
         [("7", 1, 50.4), ("7", 2, 50.3), ("7", 3, 50.2), ("7", 4, 50.1)]),
    ],
    "Danish": [
        ("Kart;Navn;Omgang;Omgangstid\n7;Bo;1;50,4\n7;Bo;2;50,3\n", [("7", 1, 50.4), ("7", 2, 50.3)]),
        ("Kører: Bo\nKart nr: 7\nOmgang;Tid;Topfart (km/t)\n1;1.00,4;80\n2;1.00,3;81\nHurtigste;1.00,3;\n",
         [("7", 1, 60.4, [], 80.0), ("7", 2, 60.3, [], 81.0)]),
        ("Kart  Omg.  Omgangstid  1. del  2. del\n            min.sek     sek     sek\n"
         "7     1     0:50,4      20,1    30,3\n7     2     0:50,3      20,2    30,1\n\nBedst: 7 i 2. omgang 0:50,3\n",
         [("7", 1, 50.4, [20.1, 30.3]), ("7", 2, 50.3, [20.2, 30.1])]),
    ],
    "the best of the day again": [
        ("Session,Kart,Lap,Lap time\nP1,7,1,50.4\nP1,7,2,50.3\nBest of the day,7,2,50.3\n",
         [("7", 1, 50.4), ("7", 2, 50.3)]),
        ("Session;Kart;Lap;Lap time\nA;7;1;50,4\nA;7;2;50,3\nB;7;1;50,1\nFastest lap;7;1;50,1\n",
         [("7", 1, 50.4), ("7", 2, 50.3), ("7", 1, 50.1)]),
        ("Session,Kart,Lap,Lap time\nP1,7,1,50.4\nP1,7,2,50.3\n\nBest,7,2,50.3\n", [("7", 1, 50.4), ("7", 2, 50.3)]),
    ],
}  # fmt: skip


def said(reading: Reading) -> list[tuple[Any, ...]]:
    """Kart, lap, seconds, and sectors, speed and marks."""
    return [
        (
            row["kart"],
            row["lap"],
            round(row["lap_time_s"], 4),
            [round(part, 4) for part in row["sector_times_s"]],
            row["top_speed_kmh"] and round(row["top_speed_kmh"], 4),
            row["marks"],
        )
        for row in reading.laps.iter_rows(named=True)
    ]


def in_full(lap: tuple[Any, ...]) -> tuple[Any, ...]:
    kart, number, seconds, sectors, speed, marks = (*lap, *([], None, [])[len(lap) - 3 :])
    return kart, number, seconds, sectors, speed and round(speed, 4), marks


CASES = [(name, at) for name, files in FILES.items() for at in range(len(files))]


@pytest.mark.parametrize(("name", "at"), CASES, ids=[f"{name} {at + 1}" for name, at in CASES])
def test_a_table_as_people_type_it(name: str, at: int) -> None:
    text, laps = FILES[name][at]
    reading = read_timing(text.encode(), name="saturday.csv")
    assert reading.questions == ()
    assert said(reading) == [in_full(lap) for lap in laps]


def test_three_files_a_class() -> None:
    assert {len(files) for files in FILES.values()} == {3}


@pytest.mark.parametrize(
    ("text", "key", "shown"),
    [
        ("kart,lap,ms\n7,1,60123\n7,2,60200\n", "column:ms", "Column 3, 'ms', holds 60123; 60200."),
        ("a,b,ms\nx,1,60.1\ny,2,60.2\n", "column:ms", "Column 3, 'ms', holds 60.1; 60.2."),
        ("7,1,60.1\n7,2,60.2\n7,3,60.3\n", "column:3", "Column 3, without a header, holds 60.1; 60.2; 60.3."),
        ("Kart;Lap;Lap time;Speed\n7;1;60,1;60\n7;2;60,2;61\n", "speed_unit", "Column 4, 'Speed', holds 60; 61."),
        ("Kart;Lap;Lap time;Date\n7;1;60,1;03/04/2026\n", "day_order", "Column 4, 'Date', holds 03/04/2026."),
        ("Kart;Lap;Time;Tijd\n7;1;60,1;60,1\n7;2;60,2;60,3\n", "column:Tijd", "Column 3, 'Time', holds 60,1; 60,2."),
    ],
)  # fmt: skip
def test_a_question_shows_its_column(text: str, key: str, shown: str) -> None:
    """Header as printed, position, and values."""
    asked = {question.key: question.text for question in read_timing(text.encode(), name="P1.csv").questions}
    assert shown in asked[key]


@pytest.mark.parametrize(
    ("last", "reason"),
    [
        (",3:21.316", "the sum of the laps above, not a lap"),
        (",50.329", "the average of the laps above, not a lap"),
        (",50.33", "the average of the laps above, not a lap"),
        (",3:21.3", "the sum of the laps above, not a lap"),
        (",50.215", "the best of the laps above once more"),
        (",4:01.000", "no lap number, and far longer than the laps above"),
    ],
)
def test_a_row_without_number_that_is_no_lap_is_set_aside(last: str, reason: str) -> None:
    """50.412 + 50.301 + 50.388 + 50.215 = 201.316 s; a quarter of it is 50.329 s."""
    text = f"Kart 7\nLap,Lap time\n1,50.412\n2,50.301\n3,50.388\n4,50.215\n{last}\n"
    reading = read_timing(text.encode(), name="saturday.csv")
    assert reading.laps.height == 4
    assert reading.set_aside.select("line", "reason").rows() == [(7, reason)]


@pytest.mark.parametrize("last", [",50.777", "out,4:01.000"])
def test_a_row_without_number_that_is_a_lap_stays(last: str) -> None:
    text = f"Kart 7\nLap,Lap time\n1,50.412\n2,50.301\n3,50.388\n4,50.215\n{last}\n"
    assert read_timing(text.encode(), name="saturday.csv").laps.height == 5


def test_a_day_beside_the_clock_under_one_header() -> None:
    text = "Kart,Lap,Lap time,When\n7,1,50.4,13.06.2031 14:01\n7,2,50.3,13.06.2031 14:02\n"
    found = read_timing(text.encode(), name="saturday.csv").laps
    assert [str(day) for day in found["date"]] == ["2031-06-13"] * 2
    assert [str(clock) for clock in found["clock"]] == ["14:01:00", "14:02:00"]


@pytest.mark.parametrize("encoding", ["euc_jp", "cp932"])
def test_full_width_figures_in_a_legacy_encoding(encoding: str) -> None:
    """Their bytes look like short words in encodings of central Europe."""
    rows = "".join(f"12\t{lap}\t５{lap}．３５０\n" for lap in "１２３４５６")
    reading = read_timing(f"カート番号\t周回\tタイム\n{rows}".encode(encoding), name="saturday.csv")
    assert reading.encoding == encoding
    assert [round(seconds, 3) for seconds in reading.laps["lap_time_s"]] == [
        51.35,
        52.35,
        53.35,
        54.35,
        55.35,
        56.35,
    ]


@pytest.mark.parametrize(
    ("last", "laps"), [("51.000", 5), ("51.0", 5), ("50.329", 4), ("50.33", 4), ("50.3", 4)]
)
def test_whole_seconds_to_three_digits_are_no_rounded_average(last: str, laps: int) -> None:
    """(50.412 + 50.301 + 50.388 + 50.215) / 4 = 50.329 s."""
    text = f"Kart 7\nLap time\n50.412\n50.301\n50.388\n50.215\n{last}\n"
    assert read_timing(text.encode(), name="saturday.csv").laps.height == laps
