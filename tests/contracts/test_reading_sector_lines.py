"""A row a sector: sector times never become laps.

No outside source: that the sectors of a lap add up to its time is what a sector is.
"""

import pytest

from lapdelta.reading import Reading, UnreadableFile, read_timing
from lapdelta.words.library import said_in

#: 19.5 + 20.2 + 12.7 = 52.4 s; 18.1 + 20.0 + 12.5 = 50.6 s.
LAPS = {1: ("19.5", "20.2", "12.7"), 2: ("18.1", "20.0", "12.5")}
OWN = [("9", 1, 52.4, [19.5, 20.2, 12.7]), ("9", 2, 50.6, [18.1, 20.0, 12.5])]


def table(names: tuple[str, ...], whole: str = "", head: str = "Kart,Lap,Sector,Time") -> str:
    lines = [head]
    for lap, times in LAPS.items():
        lines += [f"9,{lap},{name},{time}" for name, time in zip(names, times, strict=True)]
        lines += [f"9,{lap},{whole},{sum(float(time) for time in times):.1f}"] if whole else []
    return "\n".join(lines) + "\n"


def read(text: str, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", answers=answers)


def laps(reading: Reading) -> list[tuple[object, ...]]:
    assert not reading.questions
    return reading.laps.select("kart", "lap", "lap_time_s", "sector_times_s").rows()


@pytest.mark.parametrize(
    "text",
    [
        table(("1", "2", "3"), "Lap"),
        table(("S1", "S2", "S3"), "Total"),
        table(("Hill", "Wood", "Pond"), "Lap time"),
        table(("S1", "S2", "S3"), "Lap", head="Kart,Lap,Where,Time"),
        table(("Sektor 1", "Sektor 2", "Sektor 3"), "Runde", head="Kart,Runde,Messpunkt,Zeit"),
    ],
)
def test_a_row_for_the_whole_lap_is_the_lap(text: str) -> None:
    reading = read(text)
    assert laps(reading) == OWN
    assert reading.account["known"]["part_of_laps"] == 6
    assert reading.set_aside.is_empty()


def test_splits_with_the_whole_lap() -> None:
    rows = "9,1,1,19.5\n9,1,2,39.7\n9,1,Lap,52.4\n9,2,1,18.1\n9,2,2,38.1\n9,2,Lap,50.6\n"
    reading = read("Kart,Lap,Split,Time\n" + rows, sectors="cumulative")
    assert [own[0] for own in reading.laps["sector_times_s"]] == [19.5, 18.1]
    assert reading.laps["lap_time_s"].to_list() == [52.4, 50.6]


@pytest.mark.parametrize("names", [("1", "2", "3"), ("S1", "S2", "S3"), ("Hill", "Wood", "Pond")])
def test_without_one_it_is_asked_and_the_answer_gives_the_laps(names: tuple[str, ...]) -> None:
    text = table(names)
    asked = read(text)
    assert [(one.key, one.options) for one in asked.questions] == [("sectors", ("own",))]
    assert asked.laps.is_empty()
    assert (said_in(asked.questions[0].text, "de") or "").startswith("Jede Zeile enthält einen Sektor")
    assert laps(read(text, sectors="own")) == OWN
    with pytest.raises(UnreadableFile):
        read(text, sectors="cumulative")


def test_splits_without_the_whole_lap() -> None:
    rows = "9,1,1,19.5\n9,1,2,39.7\n9,1,3,52.4\n9,2,1,18.1\n9,2,2,38.1\n9,2,3,50.6\n"
    assert read("Kart,Lap,Split,Time\n" + rows).questions[0].options == ("own", "cumulative")
    assert [round(lap, 3) for lap in read("Kart,Lap,Split,Time\n" + rows, sectors="cumulative").laps["lap_time_s"]] == [
        52.4, 50.6,
    ]  # fmt: skip


def test_a_lap_that_lacks_a_sector_or_its_whole_is_none() -> None:
    lacks = table(("1", "2", "3")) + "9,3,1,18.2\n9,3,3,12.6\n"
    reading = read(lacks, sectors="own")
    assert laps(reading) == OWN
    assert reading.set_aside["line"].to_list() == [8, 9]
    reading = read(table(("1", "2", "3"), "Lap") + "9,3,1,18.2\n9,3,2,20.1\n9,3,3,12.6\n")
    assert laps(reading) == OWN
    assert reading.set_aside["line"].to_list() == [10, 11, 12]
