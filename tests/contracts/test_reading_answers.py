"""What is asked of a timing file, and that each answer gives the laps it should; and what evidence answers by itself.

Invented files; what they mean follows from arithmetic (sectors that add up, clocks that go on) or from the answer.
"""

import datetime as dt

import pytest
from contracts.test_reading_rules import keys, read, reasons, times

from lapdelta.reading import Reading, Recipe, UnreadableFile, read_timing


def sectors(reading: Reading) -> list[list[float | None]]:
    return reading.laps["sector_times_s"].to_list()


def notes(reading: Reading) -> str:
    return " ".join(reading.notes)


UMLAUT = "Kart;Fahrer;Runde;Rundenzeit\n7;Jörg Müller;1;60,1\n7;Jörg Müller;2;60,2\n"


def test_an_encoding_that_was_named_is_taken_and_remembered_by_the_header() -> None:
    """In code page 850, ö is 94 hex and ü is 81 hex: other letters elsewhere."""
    data = UMLAUT.encode("cp850")
    named = read(data, encoding="cp850")
    assert named.laps["driver"].to_list() == ["Jörg Müller"] * 2
    assert "Read as cp850, as you said." in notes(named)
    other = data.replace(b"60,1", b"61,1")
    assert read(other).laps["driver"].to_list() != ["Jörg Müller"] * 2
    again = read_timing(other, name="P2.csv", recipe=named.recipe)
    assert again.laps["driver"].to_list() == ["Jörg Müller"] * 2
    assert times(again) == [61.1, 60.2]


def test_an_encoding_that_cannot_be_is_refused_with_a_way_on() -> None:
    with pytest.raises(UnreadableFile, match="The file is not written in ascii") as error:
        read(UMLAUT, encoding="ascii")
    assert error.value.to_dict()["mend"] == "Leave the encoding to us, or name another."


PARTLY = "Kart,Lap,Lap time,S1,S2\n7,1,60.0,20.1,31.0\n7,2,60.1,20.0,31.5\n7,3,60.3,20.2,19.9\n"


def test_sectors_of_part_of_the_lap_are_own_times_or_splits_as_answered() -> None:
    assert keys(read(PARTLY)) == ["sectors"]
    assert sectors(read(PARTLY, sectors="own")) == [[20.1, 31.0], [20.0, 31.5], [20.2, 19.9]]
    splits = read(PARTLY, sectors="cumulative")
    assert sectors(splits) == [[20.1, pytest.approx(10.9)], [20.0, pytest.approx(11.5)], [20.2, None]]
    assert reasons(splits) == [(4, "S2", "a split that is not later than the one before")]


@pytest.mark.parametrize(
    ("rows", "first"),
    [
        (["60.0,20.1,41.0", "60.1,20.0,41.5", "60.3,20.2,41.2"], [20.1, pytest.approx(20.9)]),
        (["60.0,25.1,21.0", "60.1,25.0,21.5", "60.3,25.2,21.2"], [25.1, 21.0]),
    ],
)
def test_arithmetic_tells_splits_from_own_times(rows: list[str], first: list[float]) -> None:
    """20.1 + 41.0 s is longer than the lap, so they are splits; a later one that is shorter is none."""
    text = "Kart,Lap,Lap time,S1,S2\n" + "".join(f"7,{lap},{row}\n" for lap, row in enumerate(rows, 1))
    found = read(text)
    assert keys(found) == []
    assert sectors(found)[0] == first


def test_splits_without_one_in_the_middle_lose_the_two_sectors_beside_it() -> None:
    rows = ["60.0,20.1,41.0,60.0", "60.1,20.0,,60.1", "60.3,20.2,41.2,60.3"]
    found = read("Kart,Lap,Lap time,S1,S2,S3\n" + "".join(f"7,{i},{row}\n" for i, row in enumerate(rows, 1)))
    assert sectors(found)[1] == [20.0, None, None]


def test_a_lap_time_that_its_own_sectors_contradict_is_set_aside() -> None:
    """Twelve laps whose sectors add up; the last was typed 160.2 s for 60.2 s."""
    rows = [f"7,{lap},60.{lap:02},20.{lap:02},40.00" for lap in range(1, 13)] + ["7,13,160.20,20.20,40.00"]
    found = read("Kart,Lap,Lap time,S1,S2\n" + "\n".join(rows) + "\n")
    assert times(found) == [float(f"60.{lap:02}") for lap in range(1, 13)]
    assert found.set_aside["line"].to_list() == [14]
    assert found.set_aside["reason"].to_list() == ["the sectors add up to 60.200 s, not to this lap time"]


def test_a_small_contradiction_keeps_the_lap_and_is_noted() -> None:
    rows = [f"7,{lap},60.{lap},20.{lap},40.0" for lap in range(1, 6)] + ["7,6,61.2,20.2,40.0"]
    found = read("Kart,Lap,Lap time,S1,S2\n" + "\n".join(rows) + "\n")
    assert times(found)[-1] == 61.2
    assert "60.2" in notes(found)


def test_speeds_whose_decimal_mark_nothing_tells_are_asked_for() -> None:
    """98,123 with a comma is 98.123, or 98123: no kart; 12.345 could be either in revolutions."""
    text = "Kart;Lap;Lap time;Speed (km/h)\n7;1;1:00;98,123\n7;2;1:01;99,125\n"
    assert read(text).laps["top_speed_kmh"].to_list() == [98.123, 99.125]
    rpm = "Kart;Lap;Lap time;RPM\n7;1;1:00;{}\n7;2;1:01;{}\n"
    assert read(rpm.format("12.345", "12.555")).laps["peak_rpm"].to_list() == [12345.0, 12555.0]


def test_an_unsure_decimal_mark_is_asked_and_the_answer_taken() -> None:
    """1500 and 1.5 thousand: with either mark the middle one is a number of revolutions a kart may have."""
    text = "Kart;Lap;Lap time;RPM\n7;1;1:00;9800\n7;2;1:01;12.345\n7;3;1:02;9700\n"
    found = read(text)
    assert keys(found) == ["decimal_mark"]
    assert "'RPM'" in found.questions[0].text
    assert read(text, decimal_mark=",").laps["peak_rpm"].to_list() == [9800.0, 12345.0, 9700.0]
    point = read(text, decimal_mark=".")
    assert point.laps["peak_rpm"].to_list() == [9800.0, None, 9700.0]
    assert reasons(point) == [(3, "RPM", "out of range")]


def test_days_of_a_header_in_a_language_that_writes_the_day_first() -> None:
    found = read("Startnummer;Runde;Rundenzeit;Datum\n7;1;60,1;03/04/2026\n7;2;60,2;03/04/2026\n")
    assert keys(found) == []
    assert found.laps["date"].to_list() == [dt.date(2026, 4, 3)] * 2
    assert "The dates write the day first" in notes(found)


def test_yes_no_columns_mark_laps_and_a_word_between_is_told() -> None:
    rows = ["60.1,yes,yes", "60.2,no,no", "60.3,maybe,yes", "60.4,out,", "60.5,pit,yes"]
    found = read("Kart,Lap,Lap time,Pit,Valid\n" + "".join(f"7,{i},{row}\n" for i, row in enumerate(rows, 1)))
    assert found.laps["marks"].to_list() == [["pit"], ["invalid"], [], ["out"], ["pit"]]
    assert (4, "Pit", "neither yes nor no") in reasons(found)


def test_a_clock_that_a_spreadsheet_left_as_a_fraction_of_a_day() -> None:
    """.4375 of a day is 10:30 (.4375 x 24 h)."""
    found = read("Kart;Lap;Lap time;Time of day\n7;1;60.1;0.4375\n7;2;60.2;0.4382\n")
    assert found.laps["clock"].to_list()[0] == dt.time(10, 30)


def test_a_date_that_was_answered_stands_in_every_lap() -> None:
    found = read("Kart,Lap,Lap time\n7,1,60.1\n7,2,60.2\n", date="16.05.2026")
    assert found.laps["date"].to_list() == [dt.date(2026, 5, 16)] * 2


@pytest.mark.parametrize(
    ("key", "value", "told"),
    [
        ("date", "16.05", "'16.05' is no date; write it as 2026-05-16"),
        ("date", "03/04/2026", "'03/04/2026' is no date; write it as 2026-05-16"),
        ("kart", " ", "The answer to 'kart' is empty"),
        ("column:Lap", "joy", "'joy' is no column we know; it is one of session, kart"),
    ],
)
def test_answers_that_cannot_be_are_named(key: str, value: str, told: str) -> None:
    with pytest.raises(ValueError, match=r"is no|is empty") as error:
        read_timing(b"Kart,Lap,Lap time\n7,1,60.1\n", name="P1.csv", answers={key: value})
    assert told in str(error.value)


def test_columns_may_be_named_as_sectors_by_hand() -> None:
    text = "Kart,Lap,Lap time,Alpha,Beta\n7,1,60.0,20.0,40.0\n7,2,60.1,20.1,40.0\n"
    found = read_timing(
        text.encode(), name="P1.csv", answers={"column:Alpha": "sector_1", "column:Beta": "sector_2_s"}
    )
    assert sectors(found) == [[20.0, 40.0], [20.1, 40.0]]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[joy]\na = 1\n", "it holds parts we do not know"),
        ("header = 3\n", "its answers are not in tables"),
        ("[header]\nx = 3\n", "its answers are not in tables"),
        ("[header\n", "This is no file recipe: "),
        ('[header."a"]\nday_order = "ymd"\n', "'ymd' is no answer to 'day_order'; it is one of dmy, mdy"),
    ],
)
def test_a_text_that_is_no_recipe_is_refused(text: str, told: str) -> None:
    with pytest.raises(ValueError, match="no") as error:
        Recipe.load(text)
    assert told in str(error.value)


def test_a_recipe_is_loaded_from_text_or_from_a_file(tmp_path) -> None:
    kept = read("Kart,Lap,Lap time,Date\n7,1,60.1,03/04/2026\n", day_order="mdy").recipe
    file = tmp_path / "ours.toml"
    file.write_text(kept.to_toml(), encoding="utf-8")
    assert Recipe.load(kept.to_toml()).by_header == Recipe.load(str(file)).by_header == kept.by_header
    assert Recipe.load(None) == Recipe.load("") == Recipe()
    with pytest.raises(ValueError, match="cannot be read"):
        Recipe.load(str(tmp_path / "none.toml"))


@pytest.mark.parametrize(
    ("header", "karts", "drivers"),
    [
        ("Lap,Mia Muster (12),Ole Onsdag [#7A]", ["12", "7A"], ["Mia Muster", "Ole Onsdag"]),
        ("Lap,12 Mia Muster,#7A: Ole Onsdag", ["12", "7A"], ["Mia Muster", "Ole Onsdag"]),
        ("Lap,12,#7A", ["12", "7A"], [None, None]),
    ],
)
def test_headers_of_columns_a_kart_name_kart_and_driver(
    header: str, karts: list[str], drivers: list[str | None]
) -> None:
    found = read(f"{header}\n1,60.1,61.1\n2,60.2,61.2\n")
    first = found.laps.unique("kart", maintain_order=True)
    assert first["kart"].to_list() == karts
    assert first["driver"].to_list() == drivers
    assert sorted(times(found)) == [60.1, 60.2, 61.1, 61.2]


def test_two_columns_of_one_kart_are_asked_about_and_one_may_be_left_out() -> None:
    text = "Lap,12,7,12\n1,60.1,61.1,62.1\n2,60.2,61.2,62.2\n"
    (question,) = read(text).questions
    assert question.text == "Two columns are for kart '12'; what is column 4?"
    left = read("Lap,12,7,Mia\n1,60.1,61.1,62.1\n2,60.2,61.2,62.2\n", column__Mia="ignore")
    assert keys(left) == []
    assert sorted(times(left)) == [60.1, 60.2, 61.1, 61.2]


def test_a_number_that_stays_the_same_is_the_kart_and_one_that_counts_is_the_lap() -> None:
    same = "".join(f"{kart};60.{i}{kart}\n" for kart in (7, 12) for i in range(6))
    found = read("No.;Lap time\n" + same)
    assert found.laps["kart"].unique(maintain_order=True).to_list() == ["7", "12"]
    counting = read("Kart;No.;Lap time\n" + "".join(f"7;{i};60.{i}\n" for i in range(1, 7)))
    assert counting.laps["lap"].to_list() == [1, 2, 3, 4, 5, 6]
    neither = read("No.;Lap time\n" + "".join(f"{n};60.{n}\n" for n in (3, 9, 4, 8, 1)))
    assert "kart" in keys(neither)


def test_a_plain_time_column_is_the_time_of_day_beside_lap_times() -> None:
    found = read("Kart;Lap;Lap time;Time\n" + "".join(f"7;{i};60.{i};10:3{i}:00\n" for i in range(1, 5)))
    assert found.laps["clock"].to_list()[0] == dt.time(10, 31)
    assert times(found) == [60.1, 60.2, 60.3, 60.4]


def test_without_a_header_the_column_that_the_others_add_up_to_is_the_lap_time() -> None:
    rows = [f"7;{i};20.{i};19.5;20.5;{20 + i / 10 + 40:.1f}" for i in range(1, 7)]
    found = read("\n".join(rows) + "\n", column__1="kart")
    assert keys(found) == []
    assert times(found) == [60.1, 60.2, 60.3, 60.4, 60.5, 60.6]
    assert sectors(found)[0] == [20.1, 19.5, 20.5]


def test_sectors_too_short_to_tell_their_unit_take_that_of_the_lap_or_are_asked_about() -> None:
    """1.4 s and 1,400 s are both beyond what a sector usually takes."""
    rows = "".join(f"7;{i};{{}}{i};1400;5870{i}\n" for i in range(1, 6))
    plain = "Kart;Lap;Lap time;S1;S2\n" + rows.format(*["6010"] * 5)
    assert sectors(read(plain))[0] == [1.4, 58.701]
    clock = "Kart;Lap;Lap time;S1;S2\n" + rows.format(*["1:00.10"] * 5)
    assert "time_unit" in keys(read(clock))
    assert sectors(read(clock, time_unit="ms"))[0] == [1.4, 58.701]
