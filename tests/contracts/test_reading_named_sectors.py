"""Columns with names that add up to the lap time: asked about, never taken unasked, and never passed over.

No outside source: that the sectors of a lap add up to its time is what a sector is.
"""

import random

import pytest

from lapdelta.reading import Reading, Recipe, read_timing
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.source import load
from lapdelta.words.library import said_in

NAMES = ("Uphill", "Hairpin", "Infield")
#: 19.012 + 20.104 + 21.305 = 60.421 s, and so on by hand.
ROWS = [
    ("19.012", "20.104", "21.305", "60.421"),
    ("19.250", "20.001", "21.100", "60.351"),
    ("18.999", "20.300", "21.222", "60.521"),
]
KEY = "sector_columns"


def table(rows: list[tuple[str, ...]] = ROWS, names: tuple[str, ...] = NAMES, sign: str = ";") -> str:
    lines = [sign.join(("Kart", "Lap", *names, "Lap time"))]
    return "\n".join(lines + [sign.join(("7", str(lap), *row)) for lap, row in enumerate(rows, 1)]) + "\n"


def read(text: str, recipe: Recipe | None = None, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", recipe=recipe, answers=answers)


def sectors(reading: Reading) -> list[list[float | None]]:
    assert not reading.questions
    return reading.laps["sector_times_s"].to_list()


def in_ms(row: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(cell.replace(".", "") for cell in row)


def in_minutes(row: tuple[str, ...]) -> tuple[str, ...]:
    return *row[:-1], f"1:{float(row[-1]) - 60:06.3f}"


@pytest.mark.parametrize(
    "rows",
    [ROWS, ROWS[:2], [in_ms(row) for row in ROWS], [in_minutes(row) for row in ROWS],
     [("19,0", "20,1", "21,3", "60,4"), ("19,2", "20,0", "21,1", "60,4"), ("19,0", "20,3", "21,2", "60,5")],
     [*ROWS, ("19.900", "20.104", "21.305", "60.421")], [*ROWS, ("", "", "", "71.003")]],
    ids=["as printed", "two rows", "ms", "minutes", "tenths", "one misprint", "a lap without sectors"],
)  # fmt: skip
def test_it_is_asked_whether_they_are_the_sectors(rows: list[tuple[str, ...]]) -> None:
    reading = read(table(rows))
    assert [(one.key, one.options) for one in reading.questions] == [
        (KEY, ("Uphill|Hairpin|Infield", "ignore"))
    ]
    text = reading.questions[0].text
    first = rows[0][0]
    asked = "are they the sectors of the lap, in this order? "
    assert text.startswith(f"The columns 'Uphill', 'Hairpin', 'Infield' add up to the lap time; {asked}")
    assert f"Column 3, 'Uphill', holds {first}" in text
    assert reading.laps.is_empty()
    assert (said_in(text, "de") or "").startswith(
        "Die Spalten 'Uphill', 'Hairpin', 'Infield' ergeben zusammen "
    )


def test_yes_makes_them_sectors_and_no_leaves_them_out() -> None:
    wanted = [[float(cell) for cell in row[:3]] for row in ROWS]
    for answer in ("Uphill|Hairpin|Infield", " Uphill | Hairpin | Infield "):
        assert sectors(read(table(), sector_columns=answer)) == wanted
    turned = [row[::-1] for row in wanted]
    assert sectors(read(table(), sector_columns="Infield|Hairpin|Uphill")) == turned
    for answer in ("ignore", "Ignore"):
        assert sectors(read(table(), sector_columns=answer)) == [[], [], []]


def test_the_answer_holds_for_every_file_of_its_kind() -> None:
    """For one whose rows would not have proved it, too."""
    recipe = Recipe.from_toml(read(table(), sector_columns="Uphill|Hairpin|Infield").recipe.to_toml())
    one_row = [("19.5", "20.5", "20.5", "60.5")]
    assert sectors(read(table(one_row), recipe)) == [[19.5, 20.5, 20.5]]


def test_headers_that_are_missing_or_hold_the_sign_between_them() -> None:
    reading = read(table(names=("Up|hill", "", "Infield")))
    assert reading.questions[0].options == ('"Up|hill"|4|Infield', "ignore")
    assert "Column 4, without a header, holds 20.104" in reading.questions[0].text
    answered = read(table(names=("Up|hill", "", "Infield")), sector_columns=reading.questions[0].options[0])
    assert sectors(answered)[0] == [19.012, 20.104, 21.305]


@pytest.mark.parametrize(
    "rows",
    [[("19.012", "20.104", "22.305", "60.421"), ("19.250", "20.101", "21.200", "60.351"), ROWS[2]],
     [("19", "20", "21", "60"), ("19", "20", "22", "61"), ("18", "20", "22", "60")], ROWS[:1]],
    ids=["they do not add up", "whole seconds", "one row"],
)  # fmt: skip
def test_what_proves_nothing_is_not_asked(rows: list[tuple[str, ...]]) -> None:
    assert sectors(read(table(rows))) == [[]] * len(rows)


def test_a_column_beside_them_is_no_sector() -> None:
    rows = [("20.777", *row) for row in ROWS]
    reading = read(table(rows, ("Reaction", *NAMES)))
    assert [one.options[0] for one in reading.questions] == ["Uphill|Hairpin|Infield"]


def test_one_of_them_says_a_sector() -> None:
    """The lap's other sectors have names only: none of them is passed over."""
    for names in (("S1", "Hairpin", "Infield"), ("Uphill", "S2", "Infield"), ("S1", "S2", "Infield")):
        reading = read(table(names=names))
        asked = {one.key: one.options for one in reading.questions}
        assert asked[KEY] == ("|".join(names), "ignore")
        assert sectors(read(table(names=names), sector_columns="|".join(names)))[0] == [
            19.012,
            20.104,
            21.305,
        ]


def test_sectors_that_make_up_the_lap_leave_nothing_to_ask() -> None:
    rows = [(*row[:3], "20.5", row[3]) for row in ROWS]
    assert sectors(read(table(rows, ("S1", "S2", "S3", "Reaction"))))[0] == [19.012, 20.104, 21.305]


@pytest.mark.parametrize("answer", ["Uphill", "Uphill|Nowhere", "yes"])
def test_an_answer_that_names_no_such_columns(answer: str) -> None:
    with pytest.raises(ValueError, match=r"Nowhere|names no columns"):
        read(table(), sector_columns=answer)


@pytest.mark.parametrize("answer", ["Uphill|Hairpin|Infield", "ignore", ""])
def test_both_paths_agree(answer: str) -> None:
    rng = random.Random(7)
    rows: list[tuple[str, ...]] = []
    for _ in range(600):
        parts = [rng.randint(18_000, 22_000) for _ in NAMES]
        rows.append((*(f"{part / 1000:.3f}" for part in parts), f"{sum(parts) / 1000:.3f}"))
    given = {KEY: answer} if answer else {}
    source = load(table(rows, sign=",").encode(), "day.csv")
    fast, careful = read_fast(source, given, Recipe()), read_carefully(source, given, Recipe())
    assert [one.key for one in careful.questions] == ([] if answer else [KEY])
    assert (fast is None) == (not answer)
    if fast is not None:
        assert fast.laps.equals(careful.laps)
        assert fast.columns == careful.columns
        assert fast.laps["sector_times_s"].list.len().max() == (0 if answer == "ignore" else 3)
