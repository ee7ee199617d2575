"""Words of the trade in several languages: karts and sessions in titles, remarks on laps, sectors by letters.

Common practice of people who write them, no source.
"""

import pytest

from lapdelta.reading import Reading, read_timing
from lapdelta.reading.titles import kart_in, understand


def read(text: str, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", answers=answers)


@pytest.mark.parametrize(
    ("text", "kart"),
    [
        ("Kart-Nr. 07", "07"), ("Kart Nr. 07", "07"), ("Kart-No 7", "7"), ("Rugnummer 34", "34"),
        ("Motokára č. 6", "6"), ("Kart č. 6", "6"), ("Nr karta 7", "7"), ("Numéro de kart 7", "7"),
        ("Numer gokarta 12A", "12A"),
        ("Start number 9", "9"), ("Número de kart 3", "3"), ("Startnummer 12", "12"),
    ],
)  # fmt: skip
def test_words_for_a_kart(text: str, kart: str) -> None:
    assert kart_in(text) == (kart, "")
    reading = read(f"{text}\nLap;Lap time\n1;53,1\n2;51,2\n")
    assert set(reading.laps["kart"]) == {kart}


@pytest.mark.parametrize(
    "text", ["The old barn 7", "Corner 3", "Kartodrom", "New kart", "Lap 7", "Kart-Center Nord"]
)
def test_other_words_are_no_kart(text: str) -> None:
    assert kart_in(text) is None


@pytest.mark.parametrize(
    "text", ["Kart 13 Session 2", "Session 2 Kart 13", "Kart 13, Session 2", "Session 2 - #13"]
)
def test_kart_and_session_with_a_blank_between(text: str) -> None:
    assert understand((text,)).context == {"kart": "13", "session": "Session 2"}


def test_a_driver_behind_the_kart_stays_one() -> None:
    assert understand(("Kart 13 Ada Quist",)).context == {"kart": "13", "driver": "Ada Quist"}


#: Mark -> remarks.
REMARKS = {
    "out": ["uit de pits", "ud af pit", "wyjazd z boksu", "ut ur depån", "Ausfahrt Box", "sortie stands", "pit exit",
            "z boxu", "esce dai box", "sale de boxes", "saída do box"],
    "in": ["naar de pits", "ind i pit", "do boksu", "in i depån", "Einfahrt Box", "rentrée stands", "pit entry",
           "do boxů", "rientra ai box", "entra a boxes", "entra nos boxes"],
    "invalid": ["ogiltigt", "ongeldig", "nieważne", "ugyldig"],
}  # fmt: skip


@pytest.mark.parametrize("mark", sorted(REMARKS))
@pytest.mark.parametrize("header", ["Remark", "Anm", "Bemærkning", "Opm."])
def test_remarks_mark_laps(mark: str, header: str) -> None:
    remarks = REMARKS[mark]
    rows = "".join(f"7;{lap};5{lap % 3},1;{remark}\n" for lap, remark in enumerate(remarks, 1))
    reading = read(f"Kart;Lap;Lap time;{header}\n{rows}7;99;52,4;cold\n")
    assert reading.laps["marks"].to_list() == [*([mark] for _ in remarks), []]


@pytest.mark.parametrize("header", ["In/out", "Out/In", "In/uit", "Ein/Aus", "Ud/ind"])
def test_a_column_for_in_and_out(header: str) -> None:
    reading = read(f"Kart;Lap;Lap time;{header}\n7;1;63,1;OUT\n7;2;51,2;\n7;3;58,0;IN\n")
    assert reading.laps["marks"].to_list() == [["out"], [], ["in"]]


def test_what_changes_within_a_run_is_no_session() -> None:
    head = "Kart;Lap;Lap time;Thing\n"
    within = "7;1;53,1;17\n7;2;51,2;17\n7;3;51,0;18\n"
    again = "7;1;52,9;19\n7;2;51,1;19\n7;3;50,9;20\n"
    reading = read(head + within + head + again)
    assert not reading.questions
    assert reading.laps.height == 6
    between = "7;1;53,1;a\n7;2;51,2;a\n7;3;51,0;a\n7;1;52,9;b\n7;2;51,1;b\n7;3;50,9;b\n"
    assert [one.key for one in read(head + between).questions] == ["column:Thing"]


@pytest.mark.parametrize("word", ["Sector", "Sektor", "Abschnitt", "Secteur", "Settore"])
def test_sectors_by_letters(word: str) -> None:
    """17.1 + 20.9 + 12.2 = 50.2 s."""
    head = f"Kart;Lap;Lap time;{word} A;{word} B;{word} C\n"
    reading = read(head + "7;1;50,2;17,1;20,9;12,2\n7;2;50,3;17,1;20,9;12,3\n")
    assert not reading.questions
    assert reading.laps["sector_times_s"].to_list() == [[17.1, 20.9, 12.2], [17.1, 20.9, 12.3]]
