"""Lines above a block of laps: what they say of its kart, session and day. Common practice, no source."""

from datetime import date

import pytest

from lapdelta.reading import Reading, Recipe, read_timing
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.source import load
from lapdelta.reading.title_days import day_in_name

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


def test_a_lap_without_a_time_is_no_title() -> None:
    """It has a lap number, which stands behind no word for a kart; else it counts on from the row above."""
    reading = read("Team;Lap;Time\nBlue;1;60.1\nBlue;2;60.2\nKart 5 Racing;3;?\nBlue;4;60.3\n", kart="9")
    assert reading.laps["kart"].to_list() == ["9", "9", "9"]
    reading = read(f"Kart 3\n{LAPS}3;spun off\n{LAPS}")
    assert reading.laps["kart"].to_list() == ["3", "3"]
    assert reading.set_aside["line"].to_list() == [5, 7, 8]


def test_a_number_behind_the_word_for_a_kart_is_no_lap_number() -> None:
    reading = read("Kart 3\nNote;Lap;Time\n;1;60.1\n;2;60.2\nKart;5;Mia Berg\n;1;60.3\n;2;60.4\n")
    assert blocks(reading) == [("saturday", "3"), ("saturday", "5")]


@pytest.mark.parametrize(("first", "second"), [("3;Tom Lund", "5;Mia Berg"), ("Tom Lund;3", "Mia Berg;5")])
def test_a_bare_number_and_a_name_above_each_block_are_asked_about(first: str, second: str) -> None:
    """One kart for all blocks would be wrong, so what they name is asked, not which kart this is."""
    text = f"{first}\n{LAPS}\n{second}\n{LAPS}"
    reading = read(text)
    assert [(one.key, one.options) for one in reading.questions] == [
        ("column:title", ("kart", "session", "ignore"))
    ]
    assert blocks(read(text, **{"column:title": "kart"})) == [("saturday", "3"), ("saturday", "5")]


def test_a_title_of_many_cells_above_a_header() -> None:
    line = "Kart {};Mechanic Jo;{};Session 2;dry"
    reading = read(f"{line.format(3, 'Tom Lund')}\n{LAPS}{line.format(5, 'Mia Berg')}\n{LAPS}")
    assert blocks(reading) == [("Session 2", "3"), ("Session 2", "5")]


def test_a_weekday_alone_says_nothing() -> None:
    reading = read(f"Saturday\nKart 3\nSaturday\n{LAPS}")
    assert blocks(reading) == [("saturday", "3")]
    assert reading.facts == {"kart": "3"}


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


DAY = date(2026, 5, 16)
#: A title line, in its language's own words for practice, a day and a circuit of our invention; and its title.
DAYS = [
    ("May 16th, 2026", None), ("Saturday, May 16th, 2026", None), ("Saturday 16 May 2026", None),
    ("16th of May 2026", None),
    ("Lakeside, Saturday 16 May 2026", "Lakeside"), ("Lakeside 16 May 2026", "Lakeside 16 May 2026"),
    ("Practice on 2026-05-16", "Practice on 2026-05-16"), ("=== Lakeside (16.05.2026) ===", "Lakeside (16.05.2026)"),
    ("Training am 16. Mai 2026, Ring Oberau", "Training am 16. Mai 2026"),
    ("Ring Oberau, Samstag, den 16. Mai 2026", "Ring Oberau"),
    ("Training 16.05.2026 Ring Oberau", "Training 16.05.2026 Ring Oberau"),
    ("Essais du 16 mai 2026, Piste du Lac", "Essais du 16 mai 2026"), ("samedi 16 mai 2026", None),
    ("Prove del 16 maggio 2026 - Pista Verde", "Prove del 16 maggio 2026"),
    ("Entrenamiento del sábado, 16 de mayo de 2026", "Entrenamiento del sábado"),
    ("Treino de 16 de maio de 2026", "Treino de 16 de maio de 2026"),
    ("Oefening op 16 mei 2026", "Oefening op 16 mei 2026"),
    ("Trening w dniu 16 maja 2026 r., Tor Zielony", "Trening w dniu 16 maja 2026 r."),
    ("Trénink v sobotu 16. května 2026", "Trénink v sobotu 16. května 2026"),
    ("Träning lördag den 16 maj 2026", "Träning lördag den 16 maj 2026"),
    ("Træning den 16. maj 2026", "Træning den 16. maj 2026"),
    ("練習2026年5月16日（土）", "練習2026年5月16日（土）"),
    ("Date: May 16, 2026", None), ("Track: Lakeside, Date: May 16, 2026", None),
    ("Lakeside, 16 May 2026 10:30", "16 May 2026 10:30"),
]  # fmt: skip


@pytest.mark.parametrize("sign", [",", ";"], ids=["comma", "semicolon"])
@pytest.mark.parametrize("line", ["{}", "# {}"], ids=["title", "comment"])
@pytest.mark.parametrize(("title", "kept"), DAYS)
def test_the_day_in_a_title_line(title: str, kept: str | None, line: str, sign: str) -> None:
    """A comma of the line may part it into cells; what is no date stays the title of the file."""
    rows = "Kart,Lap,Time\n3,1,60.1\n3,2,60.2\n".replace(",", sign)
    reading = read(f"{line.format(title)}\n{rows}")
    assert reading.laps["date"].to_list() == [DAY, DAY]
    assert reading.laps["session"].unique().to_list() == ["saturday"]
    assert reading.facts["date"] == "2026-05-16"
    assert kept is None or kept.endswith("10:30") or reading.facts["title"] == kept
    assert reading.set_aside.is_empty()


@pytest.mark.parametrize(
    "title",
    ["16.-17. Mai 2026", "16. - 17. Mai 2026", "16 and 17 May 2026", "Training 16 - 17 May 2026",
     "30 May - 1 June 2026",
     "vom 16. bis 18. Mai 2026", "Del 16 al 18 de mayo de 2026", "16.05. - 17.05.2026", "16.05.2026 - 17.05.2026",
     "16/17 May 2026", "May 16-17, 2026", "Training 9 -16 May 2026",
     "Training 15, 16 May 2026", "9, 16 May 2026", "Sat 16 & Sun 17 May 2026", "du 16 au 17 mai 2026",
     "Printed 18.05.2026", "Printed on 18 May 2026", "Stand: 18.05.2026", "gedruckt am 18.05.2026",
     "Tom born 3 May 2015",
     "Mis à jour le 18 mai 2026", "next race 30 May 2026", "18.05.2026 ausgedruckt", "印刷 2026年5月18日",
     "Session 2 May 2026",
     "Report number 18.05.20261"],
)  # fmt: skip
def test_a_date_that_may_be_another_is_not_taken(title: str) -> None:
    """Spans of days, print-outs, births and what is to come: the day is asked for where it is needed."""
    reading = read(f"{title}\nKart;Lap;Time\n3;1;60.1\n3;2;60.2\n")
    assert reading.laps["date"].to_list() == [None, None]
    assert "date" not in reading.facts


@pytest.mark.parametrize(
    ("title", "session", "kart"),
    [("Training 2 am 16. Mai 2026", "Training 2", "7"), ("P1 16.05.2026", "P1", "7"), ("16.05.2026 P1", "P1", "7"),
     ("Session 2 - 16 May 2026", "Session 2", "7"), ("Kart 3 16. Mai 2026", "saturday", "3"),
     ("Kart 15 - 16 May 2026", "saturday", "15"), ("Kart 15, 16 May 2026", "saturday", "15"),
     ("Session 3, 16 May 2026", "Session 3", "7"), ("Kart 15 16 May 2026", "saturday", "15"),
     ("Training;16. Mai 2026", "Training", "7")],
)  # fmt: skip
def test_a_session_or_kart_beside_the_day(title: str, session: str, kart: str) -> None:
    """A word for a session without a number names none: every file of that day may say it."""
    reading = read(f"{title}\n{LAPS}", **({"kart": "7"} if kart == "7" else {}))
    assert blocks(reading) == [(session, kart)]
    assert reading.laps["date"].to_list() == [DAY, DAY]


def test_a_long_line_is_not_searched_for_a_day() -> None:
    reading = read(f"{'rain and sun ' * 40} 16 May 2026\nKart;Lap;Time\n3;1;60.1\n")
    assert reading.laps["date"].to_list() == [None]


def test_titles_with_days_head_blocks_of_their_own() -> None:
    rows = "Kart;Lap;Time\n3;1;60.1\n3;2;60.2\n"
    reading = read(f"Practice 16 May 2026\n{rows}\nPractice 17 May 2026\n{rows}")
    assert blocks(reading) == [("Practice 16 May 2026", "3"), ("Practice 17 May 2026", "3")]
    assert reading.laps["date"].to_list() == [DAY, DAY, date(2026, 5, 17), date(2026, 5, 17)]


@pytest.mark.parametrize(
    ("name", "day"),
    [("May 16th, 2026.csv", DAY), ("P1_16_May_2026.csv", DAY), ("20260516_P1.csv", DAY), ("Saturday 16 May 2026", DAY),
     ("laps 16.05.2026.csv", DAY), ("Kart07-2026-05-16.csv", DAY), ("16.-17. Mai 2026.csv", None),
     ("05-06-2026.csv", None),
     ("2026-05-16 2026-05-17.csv", None), ("id20260516123.csv", None), ("P1.csv", None)],
)  # fmt: skip
def test_the_day_in_a_file_name(name: str, day: date | None) -> None:
    assert day_in_name(name) == day


def test_a_remark_in_brackets_behind_a_session_is_part_of_its_label() -> None:
    rows = "Lap;Time\n1;56.643\n2;56.138\n3;55.689\n"
    reading = read_timing(
        f"Kart 78\nPractice 1\n{rows}Practice 2 (one tooth more on the axle)\n{rows.replace('56', '55')}".encode(),
        name="day.csv",
    )
    assert reading.laps.get_column("session").unique(maintain_order=True).to_list() == [
        "Practice 1", "Practice 2 (one tooth more on the axle)",
    ]  # fmt: skip
    assert reading.laps.height == 6
