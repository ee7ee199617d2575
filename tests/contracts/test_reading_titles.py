"""Lines above a block of laps: what they say of its kart, session and day. Common practice, no source."""

import pytest

from lapdelta.reading import Reading, Recipe, read_timing
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.source import load

LAPS = "Lap;Time\n1;60.1\n2;60.2\n"


def read(text: str, name: str = "saturday.csv", **answers: str) -> Reading:
    return read_timing(text.encode(), name=name, answers=answers)


def blocks(reading: Reading) -> list[tuple[str, str]]:
    """Session and kart of every block, each of laps 1 and 2."""
    assert not reading.questions
    assert reading.laps["lap"].to_list() == [1, 2] * (reading.laps.height // 2)
    return reading.laps.select("session", "kart").rows()[::2]


TITLES = [
    ("Kart 3\tTom Lund", "Kart 5\tMia Berg", [("saturday", "3"), ("saturday", "5")]),
    ("Kart 3;Tom Lund", "Kart 5;Mia Berg", [("saturday", "3"), ("saturday", "5")]),
    ("Tom Lund;Kart 3", "Mia Berg;Kart 5", [("saturday", "3"), ("saturday", "5")]),
    ("Kart;3", "Kart;5", [("saturday", "3"), ("saturday", "5")]),
    ("Kart;3;Tom Lund", "Kart;5;Mia Berg", [("saturday", "3"), ("saturday", "5")]),
    ("Kart 3;Tom Lund;Session 2", "Kart 5;Mia Berg;Session 3", [("Session 2", "3"), ("Session 3", "5")]),
    ("Kart;3;Session;2", "Kart;5;Session;3", [("2", "3"), ("3", "5")]),
    ("Nr. 3;Tom Lund;Lauf 2", "Nr. 5;Mia Berg;Lauf 2", [("Lauf 2", "3"), ("Lauf 2", "5")]),
    ("ゼッケン 3;渡辺", "ゼッケン 5;鈴木", [("saturday", "3"), ("saturday", "5")]),
]


@pytest.mark.parametrize("between", ["", "\n", "\n\n"], ids=["close", "a blank line", "two blank lines"])
@pytest.mark.parametrize("again", [True, False], ids=["header again", "one header"])
@pytest.mark.parametrize(("first", "second", "wanted"), TITLES, ids=[first for first, _, _ in TITLES])
def test_a_title_of_several_cells(
    first: str, second: str, wanted: list[tuple[str, str]], again: bool, between: str
) -> None:
    laps = LAPS.replace(";", "\t" if "\t" in first else ";")
    below = laps if again else laps.partition("\n")[2]
    reading = read(f"{first}\n{laps}{between}{second}\n{below}")
    assert blocks(reading) == wanted
    assert reading.set_aside.is_empty()
    assert reading.account["known"]["title"] == 2


@pytest.mark.parametrize(
    ("header", "row"),
    [("Kart;Lap;Time", "Kart 5;-;"), ("Kart;Lap;Time", "Kart 5;3;DNF"), ("Kart;Lap;Time", "Kart 5;x y;?"),
     ("Team;Lap;Time", "Kart 5 Racing;;DNF"), ("Team;Lap;Time", "Kart 5 Racing;3;?"),
     ("Team;Lap;Time", "Kart 5 Racing;?;?")],
)  # fmt: skip
def test_a_row_whose_cell_reads_as_a_kart_is_no_title(header: str, row: str) -> None:
    """Its kart is not that of the rows below."""
    name = "Kart 3" if header.startswith("Kart") else "Kart 3 Racing"
    last = "Kart 4" if header.startswith("Kart") else "Blue Racing"
    reading = read(f"{header}\n{name};1;60.1\n{name};2;60.2\n{row}\n{last};1;60.3\n", kart="9")
    assert reading.laps["kart"].to_list() == (
        ["Kart 3", "Kart 3", "Kart 4"] if header.startswith("Kart") else ["9", "9", "9"]
    )
    assert reading.set_aside["line"].to_list() == [4]


def test_a_driver_and_a_numbered_session_above_the_first_block() -> None:
    reading = read(f"Tom Lund;Session 2\n{LAPS}Mia Berg;Session 3\n{LAPS}", kart="7")
    assert blocks(reading) == [("Session 2", "7"), ("Session 3", "7")]
    assert read(f"Transponder;T2\n{LAPS}", kart="7").laps["session"].unique().to_list() == ["saturday"]


@pytest.mark.parametrize("second", ["Kart 5;Mia Berg", "Kart;5;Mia Berg", "Kart;5"])
def test_both_paths_agree(second: str) -> None:
    rows = "".join(f"{lap};60.{lap:03d}\n" for lap in range(1, 400))
    for text in (f"Kart 3;Tom Lund\nLap;Time\n{rows}{second}\n{rows}", f"Kart 3\nLap;Time\n{rows}{second}\n"):
        source = load(text.encode(), "day.csv")
        careful = read_carefully(source, {}, Recipe())
        fast = read_fast(source, {}, Recipe())
        assert fast is None or fast.laps.equals(careful.laps)
        assert careful.laps.filter(kart="5").height == (399 if text.count(rows) == 2 else 0)
