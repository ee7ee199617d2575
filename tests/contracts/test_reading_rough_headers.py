"""Headers that say little, say two things at once or are missing: read where one reading is left, else refused.

Common practice of people who write tables by hand, no source.
"""

import pytest

from lapdelta.reading import Reading, UnreadableFile, read_timing
from lapdelta.words.library import said_in


def read(text: str, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", answers=answers)


def laps(reading: Reading) -> set[tuple[object, ...]]:
    assert not reading.questions
    return set(reading.laps.select("kart", "lap", "lap_time_s").rows())


TWO = {("8", 1, 53.1), ("8", 2, 51.2), ("31", 1, 53.4), ("31", 2, 51.6)}


@pytest.mark.parametrize(
    "text",
    [
        "Lap;Kart 8 time;Kart 31 time\n1;53,1;53,4\n2;51,2;51,6\n",
        "Lap;Kart 8 lap;Kart 8 speed km/h;Kart 31 lap;Kart 31 speed km/h\n1;53,1;80;53,4;79\n2;51,2;81;51,6;80\n",
        "Lap\tKart 8 S1\tKart 8 S2\tKart 8 Lap\tKart 31 S1\tKart 31 S2\tKart 31 Lap\n"
        "1\t28.1\t25.0\t53.1\t28.3\t25.1\t53.4\n2\t27.1\t24.1\t51.2\t27.3\t24.3\t51.6\n",
        "Tour;Kart 8 temps;Kart 31 temps\n1;53,1;53,4\n2;51,2;51,6\nMoyenne;52,15;52,5\n",
    ],
    ids=["time only", "time and speed", "sectors", "French, with a mean"],
)
def test_headers_of_kart_and_measure(text: str) -> None:
    reading = read(text)
    assert laps(reading) == TWO
    assert reading.laps["driver"].is_null().all()
    if "S1" in text:
        assert reading.laps["sector_times_s"].to_list()[0] == [28.1, 25.0]


@pytest.mark.parametrize(
    "text",
    [
        "Kart 8   Kart 31\n53.1     53.4\n51.2     51.6\n",
        "Kart 8;Kart 31\n53,1;53,4\n51,2;51,6\n",
        "round;Kart 8;Kart 31\n1;53,1;53,4\n2;51,2;51,6\n",
        "Zzz;Kart 8;Kart 31\n1;53,1;53,4\n2;51,2;51,6\n",
        "Lap  Kart 8  Kart 31\n1    53.1    53.4\n2    51.2    51.6\n",
    ],
    ids=["no laps, in spaces", "no laps", "an unknown word", "no word at all", "in spaces"],
)
def test_a_column_a_kart(text: str) -> None:
    assert laps(read(text)) == TWO


def test_a_gap_counts_as_a_lap_where_no_numbers_are_printed() -> None:
    found = laps(read("Kart 8;Kart 31\n53,1;53,4\n;51,6\n51,2;--\n50,9;51,1\n"))
    assert found == {
        ("8", 1, 53.1),
        ("8", 3, 51.2),
        ("8", 4, 50.9),
        ("31", 1, 53.4),
        ("31", 2, 51.6),
        ("31", 4, 51.1),
    }


def test_a_mean_below_them_is_no_lap() -> None:
    """(53.12 + 51.22 + 51.02) / 3 = 51.787 s; (53.44 + 51.61 + 51.30) / 3 = 52.117 s."""
    reading = read("Kart 8;Kart 31\n53,12;53,44\n51,22;51,61\n51,02;51,30\n51,787;52,117\n")
    assert reading.laps.height == 6
    assert reading.set_aside["line"].to_list() == [5]


def test_a_column_a_session_in_spaces() -> None:
    text = "Kart 8\nRunde  Sitzung 1  Sitzung 2\n1      53,1       52,9\n2      51,2       51,0\n"
    reading = read(text)
    assert laps(reading) == {("8", 1, 53.1), ("8", 2, 51.2), ("8", 1, 52.9), ("8", 2, 51.0)}
    assert set(reading.laps["session"]) == {"Sitzung 1", "Sitzung 2"}


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("Kart 8;53,1;51,2;51,0;50,9\nKart 31;53,4;51,6;51,5;51,4\n", 8),
        ("kart 8: 53.1, 51.2, 51.0, 50.9\nkart 31: 53.4, 51.6\n", 6),
        ("#8;53,1;51,2;51,0;50,9\n#31;53,4;51,6;--;51,4\n", 7),
        ("giri kart 8;53,1;51,2;51,0;50,9\ngiri kart 31;53,4;51,6;51,5;51,4\n", 8),
    ],
)
def test_a_row_a_kart_without_a_header(text: str, count: int) -> None:
    reading = read(text)
    found = laps(reading)
    assert len(found) == count
    assert found >= TWO


@pytest.mark.parametrize(
    "text",
    [
        "Ada;53,1;51,2;51,0;50,9\nBo;53,4;51,6;51,5;51,4\n",
        "Kart 8;19,5;20,2;12,7\nKart 31;19,9;20,4;12,8\n",
        "Kart 8;53,1;51,2;51,0;50,9\nKart 8;53,4;51,6;51,5;51,4\n",
    ],
    ids=["names", "could be sectors", "a kart twice"],
)
def test_rows_of_times_without_a_header_are_refused(text: str) -> None:
    with pytest.raises(UnreadableFile, match="no header tells what they are") as refused:
        read(text)
    assert "Einen Kopf darüber schreiben" in (
        said_in(str(refused.value).removeprefix("P1.csv: "), "de") or ""
    )


def test_laps_counted_in_words_stand_beside_their_times() -> None:
    assert laps(read("Kart 8\n1. Runde;53,1\n2. Runde;51,2\n3. Runde;51,0\n")) == {
        ("8", 1, 53.1), ("8", 2, 51.2), ("8", 3, 51.0),
    }  # fmt: skip


@pytest.mark.parametrize("word", ["Zeiten", "Fahrzeit", "tempi", "tiempos", "tijden", "czasy", "tider"])
def test_a_word_for_times_is_no_kart(word: str) -> None:
    assert laps(read(f"Kart 8\nLap;{word}\n1;53,1\n2;51,2\n3;51,0\n")) >= {("8", 1, 53.1), ("8", 2, 51.2)}


def test_titles_of_drivers_are_not_said_to_be_sessions() -> None:
    reading = read("Kart 8: Ada Quist\nLap;Time\n1;53,1\n\nKart 31: Bo Hill\nLap;Time\n1;53,4\n")
    assert set(reading.laps["session"]) == {"P1"}
    assert not reading.notes


def test_the_only_column_of_times_is_no_kart_where_the_kart_is_told() -> None:
    """One question, and each of its answers leads on."""
    text = "Lap;Zzz\n1;53,1\n2;51,2\n3;51,0\n"
    asked = read("Kart 8\n" + text)
    assert asked.questions[0].key == "column:Zzz"
    assert asked.questions[0].options[0] == "lap_time_s"
    told = laps(read("Kart 8\n" + text, **{"column:Zzz": "lap_time_s"}))
    assert told == {("8", 1, 53.1), ("8", 2, 51.2), ("8", 3, 51.0)}
    asked = read(text)
    assert asked.questions[0].options == ("kart", "lap_time_s", "ignore")
    assert [one.key for one in read(text, **{"column:Zzz": "lap_time_s"}).questions] == ["kart"]
    assert laps(read(text, kart="8", **{"column:Zzz": "lap_time_s"})) == told
    assert {kart for kart, _, _ in laps(read(text, **{"column:Zzz": "kart"}))} == {"Zzz"}


def test_a_session_or_kart_in_the_corner_of_the_header() -> None:
    text = "Kart 8\nHeat 1,Lap,Time\n,1,53.1\n,2,51.2\nHeat 2,Lap,Time\n,1,52.9\n,2,51.0\n"
    assert read(text).laps.select("session", "kart", "lap", "lap_time_s").rows() == [
        ("Heat 1", "8", 1, 53.1), ("Heat 1", "8", 2, 51.2), ("Heat 2", "8", 1, 52.9), ("Heat 2", "8", 2, 51.0),
    ]  # fmt: skip
    assert laps(read("Lap;Time;Kart 8\n1;53,1;\n2;51,2;\n")) == {("8", 1, 53.1), ("8", 2, 51.2)}
    wide = read("Lap;Kart 8;Kart 31\n1;53,1;\n2;51,2;\n3;51,0;52,0\n")
    assert ("31", 3, 52.0) in laps(wide)


def test_words_beside_a_kart_that_tell_its_blocks_apart_are_its_sessions() -> None:
    block = "Kart 8 - {}\nLap;Time\n1;53,1\n2;51,2\n"
    reading = read(block.format("mattina") + block.format("pomeriggio").replace("51,2", "51,4"))
    assert reading.laps["session"].unique(maintain_order=True).to_list() == ["mattina", "pomeriggio"]
    names = block.format("Ada") + block.format("Bo").replace("Kart 8", "Kart 9")
    assert set(read(names).laps["session"]) == {"P1"}
