"""Which lines are headers, units, summaries: the words and shapes that decide (common practice, no source)."""

import pytest

from lapdelta.reading import Reading, read_timing
from lapdelta.reading.dialect import Record
from lapdelta.reading.row_kinds import is_header, is_summary_row, is_unit_row


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
        ("Lap,07,12", ["1,59.8,a", "2,b,c"], False),  # few times below
        ("Lap,07,Best", ["1,59.8,60.2"], True),  # the column that is none of a kart is asked about
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
        ("Best", "Kart,Lap,Lap time", True),
        ("07,3,59.8,Best", "Kart,Lap,Lap time", False),  # a remark behind the last column
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


def read(text: str) -> tuple[list[tuple[str, str, float]], Reading]:
    reading = read_timing(text.encode(), name="x.csv")
    return reading.laps.select("session", "kart", "lap_time_s").rows(), reading


def test_a_row_taken_out_by_the_sign_of_a_comment_is_set_aside() -> None:
    laps, reading = read("Kart,Lap,Lap time\n07,1,59.8\n// 07,2,61.2\n# 07,3,60.2\n07,4,60.0\n")
    assert laps == [("x", "07", 59.8), ("x", "07", 60.0)]
    assert reading.set_aside["line"].to_list() == [3, 4]
    assert set(reading.set_aside["reason"]) == {"a row of laps behind the sign of a comment"}


def test_the_first_row_taken_out() -> None:
    laps, reading = read("Kart,Lap,Lap time\n# 07,1,59.8\n07,2,61.2\n07,3,60.2\n")
    assert laps == [("x", "07", 61.2), ("x", "07", 60.2)]
    assert reading.set_aside["line"].to_list() == [2]


def test_karts_with_a_sign_before_their_number_are_karts() -> None:
    laps, reading = read(
        "Kart,Lap,Lap time\n// warm and dry\n#07,1,59.8\n# rain from here\n#07,2,61.2\n#12,1,60.2\n"
    )
    assert [kart for _, kart, _ in laps] == ["#07", "#07", "#12"]
    assert reading.account["known"] == {"comment": 2, "header": 1}
    assert [kart for _, kart, _ in read("Kart,Lap,Lap time\n# 7,1,59.8\n# 7,2,61.2\n")[0]] == ["# 7", "# 7"]


P1, P2 = "Session P1", "Session P2"


def test_what_a_title_says_holds_until_another_says_it_again() -> None:
    head = "Lap,Lap time\n"
    one, two = "1,59.8\n", "1,61.0\n"
    assert read(f"Kart 07\n{P1}\n{head}{one}\n{P2}\n{head}{two}")[0] == [(P1, "07", 59.8), (P2, "07", 61.0)]
    assert read(f"Kart 07\n{head}{one}\nKart 12\n{head}{two}")[0] == [("x", "07", 59.8), ("x", "12", 61.0)]
    assert read(f"{P1}\nKart 07\n{head}{one}\nKart 12\n{head}{two}\n{P2}\nKart 07\n{head}{one}")[0] == [
        (P1, "07", 59.8), (P1, "12", 61.0), (P2, "07", 59.8),
    ]  # fmt: skip


def test_a_title_that_is_not_understood_may_be_another_kart() -> None:
    laps, reading = read("Kart 07\nLap,Lap time\n1,59.8\n2,60.1\n\nAda Brook\nLap,Lap time\n1,61.0\n2,62.0\n")
    assert laps == [("x", "07", 59.8), ("x", "07", 60.1)]
    assert [question.key for question in reading.questions] == ["kart"]


def test_a_comma_typed_for_a_point_spoils_its_own_row_only() -> None:
    laps, reading = read("Kart,Lap,Lap time\n07,1,61.234\n07,2,61,400\n07,3,61.300\n")
    assert laps == [("x", "07", 61.234), ("x", "07", 61.3)]
    assert reading.set_aside.select("line", "reason").rows() == [(3, "more cells than the header")]


def test_commas_that_part_columns_and_decimals_alike_are_not_guessed() -> None:
    laps, reading = read("Kart,Lap,Lap time\n07,1,61,234\n07,2,61,400\n07,3,61,300\n")
    assert laps == []
    assert reading.set_aside.height == 3


def test_an_apostrophe_that_marks_a_number_as_text_is_no_part_of_it() -> None:
    laps, _ = read("Kart;Lap;Lap time\n'07;'1;'61,300\n'07;'2;'1:01,100\n'A1;1;60,0\n")
    assert laps == [("x", "07", 61.3), ("x", "07", 61.1), ("x", "'A1", 60.0)]
