"""A column a kart, or a column a session of one kart; other columns among them. Common practice, no source."""

import pytest

from lapdelta.reading import Reading, UnreadableFile, read_timing
from lapdelta.words.library import said_in

ROWS = "1;60.1;61.2\n2;60.2;61.3\n"
TWO = [60.1, 61.2, 60.2, 61.3]


def read(text: str, name: str = "saturday.csv", **answers: str) -> Reading:
    given = {key.replace("__", ":"): value for key, value in answers.items()}
    return read_timing(text.encode(), name=name, answers=given)


def asked(reading: Reading) -> dict[str, tuple[str, ...]]:
    assert reading.laps.is_empty()
    for question in reading.questions:
        assert said_in(question.text, "de") != question.text
    return {question.key: question.options for question in reading.questions}


def laps(reading: Reading) -> list[tuple[str, str, float]]:
    assert not reading.questions
    return reading.laps.select("session", "kart", "lap_time_s").rows()


#: The languages of the header words, each with its own words for a session and with that for a lap.
SESSIONS = [
    ("Lap", "Session"), ("Lap", "Run"), ("Lap", "Heat"), ("Lap", "Practice"), ("Lap", "Stint"), ("Runde", "Lauf"),
    ("Runde", "Training"), ("Runde", "Sitzung"), ("Runde", "Turn"), ("Tour", "Séance"), ("Tour", "Essais"),
    ("Giro", "Turno"),
    ("Giro", "Sessione"), ("Vuelta", "Tanda"), ("Vuelta", "Sesión"), ("Volta", "Sessão"), ("Volta", "Treino"),
    ("Ronde", "Sessie"), ("Ronde", "Vrije training"), ("Okrążenie", "Sesja"), ("Okrążenie", "Przejazd"),
    ("Kolo", "Jízda"),
    ("Kolo", "Relace"), ("Varv", "Pass"), ("Varv", "Körning"), ("Omgang", "Træning"), ("Omgang", "Heat"),
    ("周回", "セッション"), ("周回", "走行"),
]  # fmt: skip


@pytest.mark.parametrize(("lap", "word"), SESSIONS)
def test_columns_that_say_sessions_are_of_one_kart(lap: str, word: str) -> None:
    text = f"{lap};{word} 1;{word} 2\n{ROWS}"
    assert asked(read(text)) == {"kart": ()}
    wanted = [(f"{word} {at % 2 + 1}", "07", seconds) for at, seconds in enumerate(TWO)]
    assert laps(read(text, kart="07")) == wanted
    assert laps(read(text, name="kart07.csv")) == wanted
    assert laps(read(f"Kart 07\n{text}")) == wanted
    assert laps(read(f"{text}\nKart 07\n")) == wanted


def test_a_code_is_a_session_only_where_the_kart_is_told() -> None:
    text = f"Lap;P1;P2\n{ROWS}"
    wanted = [("P1", "7", 60.1), ("P2", "7", 61.2), ("P1", "7", 60.2), ("P2", "7", 61.3)]
    choice = ("session", "kart", "ignore")
    assert asked(read(text)) == {"column:P1": choice, "column:P2": choice}
    assert (
        laps(read(text, kart="7"))
        == laps(read(text, name="kart 7.csv"))
        == laps(read("Kart 7\n" + text))
        == wanted
    )
    assert asked(read(text, column__P1="session", column__P2="session")) == {"kart": ()}
    assert laps(read(text, column__P1="session", column__P2="session", kart="7")) == wanted
    assert laps(read(text, column__P1="ignore", column__P2="session", kart="7")) == wanted[1::2]
    assert [lap[1] for lap in laps(read(text, column__P1="kart", column__P2="kart"))] == ["P1", "P2"] * 2


def test_two_columns_of_one_session_are_asked_about() -> None:
    text = f"Lap;Session 1;Session 1\n{ROWS}"
    keys = dict.fromkeys(["column:Session 1", "column:Session 1 #2"], ("session", "kart", "ignore"))
    assert asked(read(text, kart="7")) == keys
    answered = laps(read(text, kart="7", **dict.fromkeys(keys, "session")))
    assert [session for session, _, _ in answered] == ["Session 1", "Session 1 #2"] * 2


def test_a_session_among_karts_may_be_left_out_or_a_kart() -> None:
    text = f"Lap;07;Session 2\n{ROWS}"
    assert asked(read(text)) == {"column:Session 2": ("kart", "ignore")}
    assert [kart for _, kart, _ in laps(read(text, **{"column:Session 2": "kart"}))] == [
        "07",
        "Session 2",
    ] * 2
    assert [kart for _, kart, _ in laps(read(text, **{"column:Session 2": "ignore"}))] == ["07", "07"]


def test_an_english_turn_is_a_corner() -> None:
    text = f"Lap;Turn 1;Turn 2\n{ROWS}"
    assert list(asked(read(text, kart="7"))) == ["column:Turn 1", "column:Turn 2"]


@pytest.mark.parametrize(
    "word", ["S1", "Sector 1", "Speed", "Vmax", "Best", "Beste", "Average", "Driver", "Clock", "Gap"]
)
@pytest.mark.parametrize("karts", ["07;12", "Kart 7;Kart 12", "07;12A"])
def test_a_column_among_karts_that_is_none(word: str, karts: str) -> None:
    """It is asked about; the others are the karts as soon as it is left out, and nothing is ever a session."""
    text = f"Lap;{karts};{word}\n1;60.1;61.2;20.1\n2;60.2;61.3;20.2\n"
    assert asked(read(text)) == {f"column:{word}": ("ignore",)}
    names = [name.removeprefix("Kart ") for name in karts.split(";")]
    wanted = [("saturday", names[at % 2], seconds) for at, seconds in enumerate(TWO)]
    assert laps(read(text, **{f"column:{word}": "ignore"})) == wanted


def test_columns_among_karts_under_one_word() -> None:
    text = "Lap,07,S1,12,S1\n1,60.1,20.1,61.2,20.1\n2,60.2,20.2,61.3,20.2\n"
    keys = {"column:S1": ("ignore",), "column:S1 #2": ("ignore",)}
    assert asked(read(text)) == keys
    answered = read(text, **dict.fromkeys(keys, "ignore"))
    assert [kart for _, kart, _ in laps(answered)] == ["07", "12", "07", "12"]


@pytest.mark.parametrize("header", ["Lap,07,S1", "Lap,07,S1,S2", "Lap,07,12,S1"])
@pytest.mark.parametrize(
    "rows", ["1,60.1,20.1,40.0\n2,60.2,20.2,40.0\n", "a,60.1,20.1,40.0\nb,60.2,20.2,40.0\n"]
)
def test_a_header_is_no_title(header: str, rows: str) -> None:
    """Whatever is answered, no lap is of a session S1."""
    for answers in ({}, {"kart": "7"}, {"column:2": "lap_time_s", "kart": "7"}):
        try:
            reading = read(header + "\n" + rows, **answers)
        except (UnreadableFile, ValueError):
            continue
        assert "S1" not in reading.laps["session"].to_list()
        assert reading.facts.get("session") is None
        assert reading.questions or reading.set_aside.height


def test_two_columns_of_one_kart_are_asked_with_an_answer_that_settles_it() -> None:
    table = (
        b"Kolo;Kart 5;Kart 5;Kart 8\n1;52,974;54,036;54,553\n2;52,922;54,102;54,116\n3;53,124;54,126;53,609\n"
    )
    asked = read_timing(table, name="day.csv")
    assert [(one.key, one.options) for one in asked.questions] == [("column:Kart 5 #2", ("ignore",))]
    told = read_timing(table, name="day.csv", answers={"column:Kart 5 #2": "ignore"})
    assert not told.questions
    assert told.laps.filter(told.laps["kart"] == "5")["lap_time_s"].to_list() == [52.974, 52.922, 53.124]
    assert told.laps.height == 6
