"""The rules of reading, one small file each: what is a lap, what is set aside and why, what is asked."""

import datetime as dt
import os
from datetime import time
from pathlib import Path

import pytest

from lapdelta.reading import Reading, Recipe, UnreadableFile, read_timing
from lapdelta.reading.clock import day_fraction, read_duration, read_time_of_day


def read(text: str | bytes, name: str = "P1.csv", **answers: str) -> Reading:
    data = text.encode() if isinstance(text, str) else text
    return read_timing(
        data, name=name, answers={key.replace("__", ":"): value for key, value in answers.items()}
    )


def times(reading: Reading) -> list[float]:
    return reading.laps["lap_time_s"].to_list()


def reasons(reading: Reading) -> list[tuple[int, str | None, str]]:
    return reading.set_aside.select("line", "column", "reason").rows()


def keys(reading: Reading) -> list[str]:
    return [question.key for question in reading.questions]


CLOCKS = [
    ("59.873", 59.873), ("1:00.123", 60.123), ("00:01:00.123", 60.123), ("1'00\"123", 60.123),
    ("1.00.123", 60.123), ("0:59,873", 59.873), ("1:00:123", 60.123), ("1m 0.123s", 60.123),
    ("60123", 60.123), ("60.123 s", 60.123), ("PT1M0.123S", 60.123), ("0.000695868056", 60.123),
    ("６０．１２３", 60.123), ("1′00″123", 60.123), ("1 min 0.123 s", 60.123),
]  # fmt: skip


@pytest.mark.parametrize(("printed", "seconds"), CLOCKS)
def test_clock_forms(printed: str, seconds: float) -> None:
    reading = read(f"Kart;Lap;Lap time\n07;1;{printed}\n07;2;{printed}\n")
    assert times(reading) == pytest.approx([seconds, seconds], abs=1e-4)
    assert reading.laps["kart"].to_list() == ["07", "07"]


def test_what_is_no_lap_time_is_set_aside() -> None:
    bad = ["NaN", "inf", "0", "-60.1", "99999", "---", "", "DNF", "1:61.2"]
    rows = "".join(f"7;{lap};{text}\n" for lap, text in enumerate(bad, 2))
    reading = read("Kart;Lap;Lap time\n7;1;60.1\n" + rows)
    assert times(reading) == [60.1]
    assert all(reason.startswith("no lap time") for _, _, reason in reasons(reading))
    assert reading.account["set_aside_lines"] == len(bad)


def test_marks_as_word_column_and_star_with_a_legend() -> None:
    reading = read(
        "Kart;Lap;Lap time;Type\n"
        "7;Out;75.1;\n7;1;60.1;in lap\n7;2;60.2;odd\n7;3;60.3*;\n7;4;60.4 (invalid);\n* = deleted\n"
    )
    assert reading.laps["marks"].to_list() == [["out"], ["in"], [], ["invalid"], ["invalid"]]
    assert reasons(reading) == [(4, "Type", "not a mark we know")]


def test_star_without_a_legend_is_shown() -> None:
    reading = read("Kart;Lap;Lap time\n7;1;60.1*\n7;2;60.2\n")
    assert reading.laps["marks"].to_list() == [[], []]
    assert reasons(reading) == [(2, "Lap time", "a sign beside the time that no legend explains")]


def test_an_open_quote_spoils_its_own_line_only() -> None:
    reading = read('Kart,Driver,Lap,Lap time\n7,"A\nB",1,60.1\n7,"Bad,2,60.3\n7,"ok ""x""",3,60.4\n')
    assert reading.laps["driver"].to_list() == ["A\nB", 'ok "x"']
    assert reasons(reading) == [(4, None, "a quote is opened and never closed")]
    assert reading.account["known"]["continuation"] == 1


def test_ragged_rows() -> None:
    reading = read(
        "Kart,Lap,Lap time,S1,S2\n7,1,60.1,30,30.1\n"
        "7,2,60.2,30\n7,3,60.2,30,30.2,9\n7,4,60.4,30,30.4,\n7,60.5,30,30.5\n"
    )
    assert reading.laps["lap"].to_list() == [1, 2, 4]
    assert reading.laps["sector_times_s"].to_list()[1] == [30.0, None]
    assert [line for line, _, _ in reasons(reading)] == [4, 6]


@pytest.mark.parametrize(
    ("last", "kept"), [("7,3,60.345", True), ("7,3,60.3", False), ("7,3", False), ("7,3,", False)]
)
def test_a_last_line_without_a_line_end(last: str, kept: bool) -> None:
    reading = read("Kart,Lap,Lap time\n7,1,60.123\n7,2,60.234\n" + last)
    assert reading.laps.height == 2 + kept
    assert reasons(reading) == ([] if kept else [(4, None, "file may be cut off")])


def test_copies_contradictions_and_new_runs() -> None:
    head = "Kart,Lap,Lap time\n7,1,60.1\n7,2,60.2\n"
    copies = read(head + "7,1,60.1\n7,2,60.2\n")
    assert reasons(copies) == [(4, None, "same lap as line 2"), (5, None, "same lap as line 3")]
    contradiction = read(head + "7,2,60.9\n7,3,60\n")
    assert contradiction.laps["lap"].to_list() == [1, 3]
    assert contradiction.account["set_aside_lines"] == 2
    assert read(head + "7,1,61.1\n7,2,61.2\n").laps.height == 4


def test_titles_name_kart_and_session_of_the_block_below() -> None:
    reading = read(
        "Lap sheet\nTrack: Lakeside\nDate: 16 May 2026\nSession: P1\n\n"
        "Kart 07 - Mia Lund\nLap;Time\n1;60.1\nAverage;60.1\n"
        "\nKart 12\nLap;Time\n1;61.1\n\nSession: P2\nKart 07\nLap;Time\n1;62\n2;62\n"
    )
    assert reading.laps.select("session", "kart").rows() == [
        ("P1", "07"),
        ("P1", "12"),
        ("P2", "07"),
        ("P2", "07"),
    ]
    assert reading.laps["date"].unique().to_list() == [dt.date(2026, 5, 16)]
    assert reading.facts["track"] == "Lakeside"
    assert reading.facts["date"] == "2026-05-16"
    assert reading.facts["title"] == "Lap sheet"
    assert reading.account["known"]["summary"] == 1


def test_wide_and_across_layouts() -> None:
    wide = read("Lap,07,12\n1,60.1,61.2\n2,60.2,\nAverage,60.15,61.2\n")
    assert wide.laps.select("kart", "lap", "lap_time_s").rows() == [
        ("07", 1, 60.1),
        ("12", 1, 61.2),
        ("07", 2, 60.2),
    ]
    across = read("Kart,Lap 1,Lap 2,Best\n7,60.1,61.2,60.1\n")
    assert across.laps.select("kart", "lap", "lap_time_s").rows() == [("7", 1, 60.1), ("7", 2, 61.2)]


def test_decimal_comma_with_thousands_points_and_a_unit_row() -> None:
    reading = read(
        "Kart;Runde;Rundenzeit;Sektor 1;Sektor 2;Drehzahl;Vmax\n"
        ";;s;s;s;1/min;km/h\n7;1;59,873;30,0;59,873;14.250;98,4\n"
    )
    assert times(reading) == [59.873]
    assert reading.laps["sector_times_s"].to_list() == [[30.0, 29.873]]
    assert reading.laps["peak_rpm"].to_list() == [14250.0]
    assert reading.laps["top_speed_kmh"].to_list() == [98.4]


def test_a_value_out_of_range_is_dropped_not_the_lap() -> None:
    reading = read("Kart,Lap,Lap time,Speed (km/h)\n7,1,60.1,999\n7,2,60.2,98\n")
    assert reading.laps["top_speed_kmh"].to_list() == [None, 98.0]
    assert reasons(reading) == [(2, "Speed (km/h)", "out of range")]


QUESTIONS = [
    ("Lap,Lap time\n1,60.1\n2,60.2\n", "kart"),
    ("Kart,Lap,Lap time,Speed\n7,1,60.1,60.2\n7,2,60.2,61.1\n", "speed_unit"),
    ("Kart,Lap,Lap time,Date\n7,1,60.1,03/04/2026\n", "day_order"),
    ("Kart,Lap,Lap time,S1,S2\n7,1,60.0,20.1,21\n7,2,60.1,20,22\n", "sectors"),
    ("Kart,Lap,Lap time\n7,1,5987\n7,2,5991\n", "time_unit"),
    ("Kart,Lap,Lap time\n7,1,1:00.1\n7,2,2:00.3\n7,3,3:00.3\n7,4,4:00.1\n", "column:Lap time"),
    ("Driver,Lap,Lap time\nA,1,60.1\nB,1,60.2\n", "column:Driver"),
    ("Lap,Mia,Ole\n1,60.1,61.2\n2,60.2,61.3\n", "column:Mia"),
    ("Kart,Lap,Sector,Time\n7,1,1,20.1\n7,1,2,20.2\n", "sectors"),
    ("07,1,60.1\n07,2,60.2\n07,3,60.3\n", "column:3"),
]


@pytest.mark.parametrize(("text", "key"), QUESTIONS)
def test_a_question_instead_of_a_guess(text: str, key: str) -> None:
    reading = read(text)
    assert key in keys(reading)
    assert reading.laps.height == 0


def test_answers_settle_questions_and_are_remembered_by_header() -> None:
    text = "Kart,Lap,Lap time,Date,Speed\n7,1,60.1,03/04/2026,60\n"
    answered = read(text, day_order="dmy", speed_unit="mph")
    assert keys(answered) == []
    assert answered.laps["date"].to_list() == [dt.date(2026, 4, 3)]
    assert answered.laps["top_speed_kmh"].to_list() == pytest.approx([60 * 1.609344])
    recipe = Recipe.from_toml(answered.recipe.to_toml())
    assert recipe == answered.recipe
    again = read_timing(text.replace("60.1", "61.1").encode(), name="P2.csv", recipe=recipe)
    assert keys(again) == []
    assert again.laps["session"].to_list() == ["P2"]


def test_an_answer_holds_for_files_with_the_same_header_words_only() -> None:
    text = "Kart,Lap,Lap time,Speed\n7,1,60.1,60\n"
    recipe = read(text, speed_unit="mph").recipe
    for header, asked in (("KART,lap,Lap Time,speed", []), ("Kart,Lap,Lap time,Top speed", ["speed_unit"])):
        again = read_timing(
            text.replace("Kart,Lap,Lap time,Speed", header).encode(), name="P2.csv", recipe=recipe
        )
        assert keys(again) == asked


def test_a_kart_is_remembered_for_the_same_file_only() -> None:
    text = "Lap,Lap time\n1,60.1\n"
    recipe = read(text, kart="07").recipe
    assert keys(read_timing(text.encode(), name="P1.csv", recipe=recipe)) == []
    assert keys(read_timing(b"Lap,Lap time\n1,61.1\n", name="P1.csv", recipe=recipe)) == ["kart"]


def test_kart_from_a_file_name_only_if_it_says_so() -> None:
    assert read("Lap,Lap time\n1,60.1\n", name="kart07.csv").laps["kart"].to_list() == ["07"]
    assert keys(read("Lap,Lap time\n1,60.1\n", name="07.csv")) == ["kart"]


@pytest.mark.parametrize(
    ("key", "value"),
    [("colour", "red"), ("day_order", "ymd"), ("column__Nope", "ignore"), ("encoding", "x9")],
)
def test_unknown_answers_raise(key: str, value: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        read("Kart,Lap,Lap time\n7,1,60.1\n", **{key: value})


def test_legacy_encodings_by_header_words() -> None:
    reading = read("Závodník;Kolo;Čas kola;Číslo motokáry\nKovář;1;59,873;7\n".encode("cp1250"))
    assert reading.encoding == "cp1250"
    assert reading.laps["driver"].to_list() == ["Kovář"]


def test_hostile_text_is_kept_raw() -> None:
    names = ["=1+1", "+x", "-x", "@x", "<b>x</b>"]
    rows = "".join(f"7;{name};{lap};60.1\n" for lap, name in enumerate(names, 1))
    assert read("Kart;Driver;Lap;Lap time\n" + rows).laps["driver"].to_list() == names


REFUSED = [
    b"",
    b" \n\n",
    b"<html><body>",
    b'[{"a": 1}]',
    b'{"a": 1}',
    b"PK\x03\x04xl/",
    b"\x1f\x8b\x08",
    b"\x00\x01\x02" * 50,
]


@pytest.mark.parametrize("data", [*REFUSED, b"hello\nworld\n", b"a" * (2 << 20)])
def test_refusals_are_two_plain_sentences(data: bytes) -> None:
    with pytest.raises(UnreadableFile) as caught:
        read(data)
    assert caught.value.what.endswith(".")
    assert caught.value.mend.endswith(".")
    assert caught.value.where == "P1.csv"


def test_only_literal_regular_files(tmp_path: Path) -> None:
    (tmp_path / "laps1.csv").write_text("Kart,Lap,Lap time\n7,1,60.1\n")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for path in (tmp_path, tmp_path / "pipe", tmp_path / "loop", tmp_path / "laps[1].csv"):
        with pytest.raises(UnreadableFile):
            read_timing(path)
    assert read_timing(str(tmp_path / "laps1.csv")).laps["source_file"].to_list() == ["laps1.csv"]


@pytest.mark.parametrize(
    ("printed", "hour", "minute", "second", "microsecond"),
    [("0", 0, 0, 0, 0), ("0.5", 12, 0, 0, 0), ("0,75", 18, 0, 0, 0), ("0.38200625", 9, 10, 5, 340_000)],
)
def test_a_spreadsheets_fraction_of_a_day(printed, hour, minute, second, microsecond) -> None:
    assert day_fraction(printed) == time(hour, minute, second, microsecond)


def test_what_is_no_fraction_of_a_day() -> None:
    assert [day_fraction(text) for text in ("1", "-0.1", "1.5", "0.9999999999", "noon", "12:00")] == [
        None
    ] * 6


@pytest.mark.parametrize(
    ("printed", "told"),
    [
        ("23:59:59", time(23, 59, 59)), ("24:00:00", None), ("12:00 am", time(0, 0)), ("12:30 pm", time(12, 30)),
        ("13:00 pm", None), ("0:30 am", None), ("09:10:42.75", time(9, 10, 42, 750_000)),
        ("9:10:42,1234567", time(9, 10, 42, 123_456)), ("09:60:00", None), ("09:00:60", None),
    ],
)  # fmt: skip
def test_times_of_day_at_their_edges(printed, told) -> None:
    assert read_time_of_day(printed) == told


def test_minutes_run_to_59_behind_hours() -> None:
    assert read_duration("1:59:01.5").seconds == 7141.5
    assert read_duration("1:60:01.5") is None or read_duration("1:60:01.5").seconds is None
