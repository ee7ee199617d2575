"""Words below the laps that stand where the kart should be: they never become karts. Common practice, no source."""

import pytest

from lapdelta.reading import Reading, Recipe, read_timing
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.footers import MADE, NO_NUMBER
from lapdelta.reading.source import load

HEAD = "Kart;Lap;Lap time\n"
#: 52.4, 50.6, 50.2, 53.1, 51.3, 51.0: the best is 50.2 s, the mean 51.433 s.
LAPS = "21;1;52,4\n21;2;50,6\n21;3;50,2\n34;1;53,1\n34;2;51,3\n34;3;51,0\n"
#: Known words and unknown ones, of languages that the vocabulary has and of one that it has not.
WORDS = ["Bestwert", "Streuung", "Desviación", "Odchylenie", "Snabbast", "Range", "SD", "n", "Hajonta", "Zzz"]


def read(text: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv")


def karts(reading: Reading) -> set[str]:
    assert not reading.questions
    return set(reading.laps["kart"])


@pytest.mark.parametrize("word", WORDS)
@pytest.mark.parametrize("row", [";;50,2", ";;51,433", ";;50,9", ";3;50,2", ";;308,6"])
def test_a_word_below_the_laps_is_no_kart(word: str, row: str) -> None:
    reading = read(HEAD + LAPS + word + row + "\n")
    assert karts(reading) == {"21", "34"}
    assert reading.laps.height == 6
    assert reading.account["known"].get("summary", 0) + reading.set_aside.height == 1


@pytest.mark.parametrize("word", WORDS)
def test_so_where_no_lap_numbers_are_printed(word: str) -> None:
    table = "Kart;Lap time\n21;52,4\n21;50,6\n21;50,2\n34;53,1\n34;51,3\n"
    assert karts(read(f"{table}{word};50,9\n")) == {"21", "34"}


def test_so_below_every_kart() -> None:
    rows = "21;1;52,4\n21;2;50,6\n21;3;50,2\nParas;3;50,2\n34;1;53,1\n34;2;51,3\n34;3;51,0\nParas;3;51,0\n"
    reading = read(HEAD + rows)
    assert karts(reading) == {"21", "34"}
    assert reading.set_aside.select("line", "reason").rows() == [(5, MADE), (9, MADE)]


def test_the_reason_is_said() -> None:
    reading = read(HEAD + LAPS + "Hajonta;;50,9\n")
    assert reading.set_aside.select("line", "reason").rows() == [(8, NO_NUMBER)]


@pytest.mark.parametrize(
    "rows",
    ["NA;1;52,0\nNA;2;51,1\n", "NA;1;52,0\n", "T;out;61,0\n", "A7;;50,2\n"],
    ids=["two laps", "one lap with its number", "an out lap", "a code with a figure"],
)
def test_a_kart_whose_name_is_a_word_stays(rows: str) -> None:
    reading = read(HEAD + LAPS + rows)
    assert len(karts(reading)) == 3


def test_a_kart_whose_name_is_a_word_stays_where_karts_cross_the_line_in_turn() -> None:
    rows = "21;1;52,4\nNA;1;52,0\n34;1;53,1\n21;2;50,6\nNA;2;51,0\n34;2;51,3\n21;3;50,2\nNA;3;50,9\n"
    assert karts(read(HEAD + rows)) == {"21", "NA", "34"}


def test_karts_that_all_are_words_stay() -> None:
    assert karts(read(HEAD + "Red;1;52,4\nRed;2;50,6\nBlue;1;53,1\nBlue;2;51,3\nGrey;;50,6\n")) == {
        "Red", "Blue", "Grey",
    }  # fmt: skip


@pytest.mark.parametrize("last", ["Hajonta;;50,900", "Paras;3;50,000", "NA;1;50,555", "NA;1;50,5\nNA;2;50,6"])
def test_long_files_are_read_alike_on_both_paths(last: str) -> None:
    rows = [
        f"{21 + at // 40};{at % 40 + 1};{50 + at * 37 % 900 / 1000:.3f}".replace(".", ",")
        for at in range(400)
    ]
    text = HEAD + "\n".join([*rows, last]) + "\n"
    source = load(text.encode(), name="P1.csv")
    fast = read_fast(source, {}, Recipe())
    careful = read_carefully(source, {}, Recipe())
    assert fast is not None
    assert fast.laps.equals(careful.laps)
    assert fast.set_aside.equals(careful.set_aside)
    assert ("NA" in set(fast.laps["kart"])) == last.startswith("NA")


#: Below 53.12, 51.26, 51.02 and 52.44, 50.63, 50.25: the best, slowest, mean and sum of each lap.
MADE_OF_COLUMNS = ["52,44;50,63;50,25", "53,12;51,26;51,02", "52,78;50,945;50,635", "105,56;101,89;101,27"]


@pytest.mark.parametrize("word", WORDS)
@pytest.mark.parametrize("times", MADE_OF_COLUMNS)
def test_so_below_a_row_a_kart(word: str, times: str) -> None:
    text = f"Kart;Lap 1;Lap 2;Lap 3\n21;53,12;51,26;51,02\n34;52,44;50,63;50,25\n{word};{times}\n"
    reading = read(text)
    assert karts(reading) == {"21", "34"}
    assert reading.account["known"].get("summary", 0) + reading.set_aside.height > 0


def test_a_kart_with_times_of_its_own_stays_below_them() -> None:
    text = "Kart;Lap 1;Lap 2;Lap 3\n21;53,12;51,26;51,02\n34;52,44;50,63;50,25\nNA;52,44;50,63;50,27\n"
    assert karts(read(text)) == {"21", "34", "NA"}


@pytest.mark.parametrize("word", ["Total", "Moyenne", "Bester"])
@pytest.mark.parametrize("times", MADE_OF_COLUMNS)
def test_so_among_drivers(word: str, times: str) -> None:
    head = "Driver;Lap 1;Lap 2;Lap 3\n"
    rows = f"Ada;53,12;51,26;51,02\nBo;52,44;50,63;50,25\n{word};{times}\n"
    assert set(read_timing((head + rows).encode(), name="a.csv", answers={"kart": "3"}).laps["driver"]) == {
        "Ada",
        "Bo",
    }
    answers = {"column:Driver": "kart"}
    assert karts(read_timing((head + rows).encode(), name="a.csv", answers=answers)) == {"Ada", "Bo"}
    lines = f"Driver;Lap time\nAda;53,12\nAda;51,26\nBo;52,44\nBo;50,63\n{word};51,86\n"
    assert karts(read_timing(lines.encode(), name="a.csv", answers=answers)) == {"Ada", "Bo"}


def test_a_driver_with_such_a_name_and_laps_of_his_own_stays() -> None:
    head = "Kart;Driver;Lap;Lap time\n"
    rows = "7;Ada;1;53,12\n7;Ada;2;51,26\n7;Ada;3;51,02\n9;Best;1;53,44\n9;Best;2;51,63\n"
    assert set(read(head + rows).laps["driver"]) == {"Ada", "Best"}
