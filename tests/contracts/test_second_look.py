"""What only the laps of a file together show is said in a note; the laps stay as they are printed."""

import pytest

from lapdelta.reading import read_timing
from lapdelta.words import in_language


def notes_of(text: str) -> tuple[int, list[str]]:
    reading = read_timing(text.encode(), name="day.csv")
    return reading.laps.height, [note for note in reading.notes if "copy" in note or "title" in note or "swap" in note
                                 or "changed places" in note]  # fmt: skip


def rows(kart: str, times: list[float], session: str = "P1") -> list[str]:
    return [f"{session},{kart},{lap},{time:.3f}" for lap, time in enumerate(times, 1)]


TIMES = [52.112, 51.204, 50.977, 51.345, 51.018, 50.866]
OTHER = [52.871, 51.633, 51.420, 51.205, 51.377, 51.514]
HEAD = "Session,Kart,Lap,Lap time\n"


@pytest.mark.parametrize("more", [0, 600], ids=["read line by line", "read as a whole"])
def test_a_block_copied_to_another_kart_is_said(more: int) -> None:
    long = rows("50", [51 + n % 7 / 10 + n / 1e4 for n in range(more)], "P2")
    laps, notes = notes_of(
        HEAD + "\n".join([*rows("7", TIMES), *rows("9", TIMES), *rows("8", OTHER), *long]) + "\n"
    )
    assert laps == 18 + more
    assert notes == ["The 6 times of kart 9 in P1 are those of kart 7 in P1: one may be a copy."]
    assert in_language(notes[0], "de") == (
        "Die 6 Zeiten von Kart 9 in P1 sind die von Kart 7 in P1: eines ist vielleicht eine Kopie."
    )


def test_three_alike_are_chance() -> None:
    _, notes = notes_of(HEAD + "\n".join([*rows("7", TIMES[:3]), *rows("9", TIMES[:3])]) + "\n")
    assert notes == []


def test_a_title_of_another_kart_than_the_column_is_said() -> None:
    table = HEAD + "\n".join(rows("51", TIMES)) + "\n"
    assert notes_of("Kart: 15\n" + table) == (6, ["A title says kart 15, but the laps are of 51."])
    assert notes_of("Kart: 51\n" + table) == (6, [])


def test_heads_that_changed_places_are_said() -> None:
    swapped = "Session,Lap,Kart,Lap time\n" + "\n".join(
        f"P1,26,{n},{time}" for n, time in enumerate(TIMES, 1)
    )
    assert notes_of(swapped + "\n")[1] == [
        "The lap number stays while the kart counts 1, 2, 3: the two headers may have changed places."
    ]
    first_laps = swapped.replace(",26,", ",1,")  # the first lap of six karts
    assert notes_of(first_laps + "\n")[1] == []
