"""Which lines are headers, units, summaries: the words and shapes that decide (common practice, no source)."""

import pytest

from lapdelta.reading.dialect import Record
from lapdelta.reading.structure import is_header, is_summary_row, is_unit_row


def rows(*lines: str) -> list[Record]:
    return [
        Record(at, 1, tuple(cell.strip() for cell in line.split(",")), line)
        for at, line in enumerate(lines, 2)
    ]


@pytest.mark.parametrize(
    ("header", "below", "found"),
    [
        ("Kart,Lap,Lap time", ["07,1,59.8"], True),
        ("Lap time", ["59.8", "60.1"], True),  # the only column
        ("Lap time", ["07,59.8"], False),  # a title above something else
        ("Driver", ["59.8"], False),
        ("Best", ["59.8"], False),
        ("Kart,Lap,59.8", ["07,1,59.8"], False),  # a row of laps is no header
        ("Kart,Lap 1,Lap 2", ["07,59.8,60.1"], True),  # a kart a row, a lap a column
        ("Kart,Driver,Position", ["07,Ada,1"], False),  # no time in sight
        ("Kart,Driver,S1", ["07,Ada,19.8"], True),
        ("Lap,07,12", ["1,59.8,60.2"], True),  # a column a kart
        ("Lap,07,12", ["1,a,b"], False),
        ("Lap,07,12", ["P1,59.8,60.2"], False),  # no lap numbers below
        ("Lap,07,Best", ["1,59.8,60.2"], False),
        ("1,07,12", ["1,59.8,60.2"], False),
        ("07,12", ["59.8,60.2"], False),
        ("", ["07,1,59.8"], False),
        ("Kart,Lap,Lap time", [], True),
    ],
)
def test_headers(header: str, below: list[str], found: bool) -> None:
    assert is_header(header.split(","), rows(*below)) is found


@pytest.mark.parametrize(
    ("line", "header", "found"),
    [
        ("07,Best,59.8", "Kart,Lap,Lap time", True),
        ("Average,,60.1", "Kart,Lap,Lap time", True),
        ("Best,3,59.8", "Kart,Lap,Lap time", True),  # the best lap, with its number, where the kart should be
        ("07,3,59.8", "Kart,Lap,Lap time", False),
        ("07,3,Best,59.8", "Kart,Lap,Driver,Lap time", False),  # a driver of that name
        ("Best,3,59.8", "Driver,Lap,Lap time", False),
        ("Total", "Kart,Driver,Lap,Lap time", True),  # shorter than the table
        ("Total", "Driver,Kart,Lap,Lap time", False),
        ("Total,,,600.1", "Kart,Driver,Lap,Lap time", True),
        (",,Total,600.1", "Kart,Driver,Session,Lap time", False),
        ("Average,60.1", "", True),
        ("07,Average", "", False),
        (",,", "Kart,Lap,Lap time", False),
    ],
)
def test_summaries(line: str, header: str, found: bool) -> None:
    assert is_summary_row(line.split(","), tuple(header.split(",")) if header else ()) is found


@pytest.mark.parametrize(
    ("line", "found"),
    [
        (",,s,km/h", True),
        ("-,-,[s],[km/h]", True),
        ("s", True),
        ("Kart,s", False),
        (",,", False),
        ("-,-", False),
    ],
)
def test_unit_rows(line: str, found: bool) -> None:
    assert is_unit_row(line.split(",")) is found
