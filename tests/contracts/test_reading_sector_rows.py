"""A column a lap and rows with names: sectors where a row is their sum, else asked or refused, never laps.

No outside source: that the sectors of a lap add up to its time is what a sector is.
"""

import pytest

from lapdelta.reading import Reading, UnreadableFile, read_timing
from lapdelta.words.library import said_in

#: 18.3 + 21.4 + 12.6 = 52.3 s; 17.1 + 20.9 + 12.2 = 50.2 s; 17.0 + 21.0 + 12.3 = 50.3 s.
SECTORS = "Hill;18,3;17,1;17,0\nWood;21,4;20,9;21,0\nPond;12,6;12,2;12,3\n"
SUM = "52,3;50,2;50,3"
OWN = [[18.3, 21.4, 12.6], [17.1, 20.9, 12.2], [17.0, 21.0, 12.3]]


def read(text: str, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", answers=answers)


def laps(reading: Reading) -> list[tuple[object, ...]]:
    assert not reading.questions
    return reading.laps.select("kart", "lap", "lap_time_s", "sector_times_s").rows()


CORNERS = [
    *(("Sector", word) for word in ("Sum", "Total", "Gesamt", "Lap time", "Zzz", "")),
    *(("Abschnitt", "Summe"), ("", "Lap time"), ("Where", "Lap"), ("", "Rundenzeit")),
]


@pytest.mark.parametrize(("corner", "word"), CORNERS)
def test_rows_that_add_up_to_another_are_its_sectors(corner: str, word: str) -> None:
    reading = read(f"Kart 31\n{corner};Lap 1;Lap 2;Lap 3\n{SECTORS}{word};{SUM}\n")
    assert laps(reading) == [("31", lap, total, own) for lap, total, own in zip(
        (1, 2, 3), (52.3, 50.2, 50.3), OWN, strict=True)]  # fmt: skip
    assert reading.account["known"]["part_of_laps"] == 3
    assert reading.set_aside.is_empty()


@pytest.mark.parametrize("word", ["Sum", "Total", "Zzz"])
def test_without_a_word_for_sectors_or_the_lap_it_is_asked(word: str) -> None:
    """The rows could be those of drivers, with a sum that a spreadsheet put below them."""
    text = f"Kart 31\n;Lap 1;Lap 2;Lap 3\n{SECTORS}{word};{SUM}\n"
    assert [one.key for one in read(text).questions] == ["column:1"]
    said = laps(read(text, **{"column:1": "sector"}))
    assert [own for *_, own in said] == OWN
    if word != "Zzz":
        assert read(text, **{"column:1": "kart"}).laps["kart"].unique().sort().to_list() == [
            "Hill",
            "Pond",
            "Wood",
        ]


def test_so_in_every_block() -> None:
    """17.5 + 21.0 = 38.5 s and so on."""
    text = "Kart 3\nSector;Lap 1;Lap 2\nHill;17,5;17,2\nWood;21,0;20,9\nSum;38,5;38,1\n"
    text += "Kart 4\nHill;18,5;18,2\nWood;21,1;21,0\nSum;39,6;39,2\n"
    assert laps(read(text)) == [
        ("3", 1, 38.5, [17.5, 21.0]), ("3", 2, 38.1, [17.2, 20.9]),
        ("4", 1, 39.6, [18.5, 21.1]), ("4", 2, 39.2, [18.2, 21.0]),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "last", ["", "Best;17,0;17,0;12,2\n", "Average;17,4;16,7;16,8\n", "Sum;52,3;50,9;50,3\n"]
)
def test_sectors_without_their_sum_are_refused(last: str) -> None:
    with pytest.raises(
        UnreadableFile, match="sectors of the laps, and none of them is the lap time"
    ) as refused:
        read("Kart 31\nSector;Lap 1;Lap 2;Lap 3\n" + SECTORS + last)
    assert "Zeile mit den Rundenzeiten" in (said_in(str(refused.value).removeprefix("P1.csv: "), "de") or "")


def test_rows_that_nothing_tells_apart_are_asked_about() -> None:
    text = "Kart 31\n;Lap 1;Lap 2\nAda;52,3;50,2\nBo;52,9;50,8\n"
    asked = read(text)
    assert [(one.key, one.options) for one in asked.questions] == [
        ("column:1", ("kart", "driver", "session", "sector", "ignore"))
    ]
    assert asked.questions[0].text.startswith(
        "Several rows are for the same laps; what does the column '1' name?"
    )
    assert asked.laps.is_empty()
    named = read(text.removeprefix("Kart 31\n"), **{"column:1": "kart"})
    assert named.laps.select("kart", "lap", "lap_time_s").rows() == [
        ("Ada", 1, 52.3), ("Ada", 2, 50.2), ("Bo", 1, 52.9), ("Bo", 2, 50.8),
    ]  # fmt: skip
    with pytest.raises(UnreadableFile, match="none of them is the lap time"):
        read(text, **{"column:1": "sector"})
    with pytest.raises(UnreadableFile, match="nothing tells them apart"):
        read(text, **{"column:1": "ignore"})


@pytest.mark.parametrize("last", ["Total;104,6;101,3\n", "Sum;104,6;101,3\n", "Average;52,3;50,65\n"])
@pytest.mark.parametrize("head", ["Kart;Lap 1;Lap 2\n7", ";Lap 1;Lap 2\nKart 7"])
def test_sums_below_karts_are_no_laps(head: str, last: str) -> None:
    kart = "Kart " if "\nKart" in head else ""
    reading = read(f"{head};52,0;50,4\n{kart}8;52,6;50,9\n{last}", kart="3")
    assert reading.laps.height == 4
    assert reading.account["known"]["summary"] == 1


def test_a_gap_between_two_drivers_is_no_sector() -> None:
    """50.2 + 0.6 = 50.8 s: the second driver's laps are not made of the first one's."""
    text = ";Lap 1;Lap 2\nAda;52,3;50,2\nGap;0,6;0,6\nBo;52,9;50,8\n"
    assert [one.key for one in read(text, kart="31").questions] == ["column:1"]
