"""Lines that are no laps, and lines that only look as if they were none: what each is booked as. Common practice."""

import pytest

from lapdelta.reading import Reading, read_timing

HEAD = "Kart,Lap,Lap time\n"


def read(text: str, **answers: str) -> Reading:
    return read_timing(text.encode(), name="P1.csv", answers=answers)


def laps(reading: Reading) -> list[tuple[str, int, float]]:
    return reading.laps.select("kart", "lap", "lap_time_s").rows()


def aside(reading: Reading) -> list[tuple[int, str]]:
    return reading.set_aside.select("line", "reason").rows()


def known(reading: Reading) -> dict[str, int]:
    return dict(reading.account["known"])


def test_one_column_of_lap_times_is_a_table() -> None:
    assert laps(read("Lap time\n60.1\n60.2\n", kart="7")) == [("7", 1, 60.1), ("7", 2, 60.2)]


def test_a_rule_and_units_stand_between_header_and_laps() -> None:
    reading = read("Kart;Lap;Lap time\n------;---;-----\n;;s\n7;1;60.1\n7;2;60.2\n")
    assert laps(reading) == [("7", 1, 60.1), ("7", 2, 60.2)]
    assert known(reading) == {"comment": 1, "header": 1, "units": 1}
    assert not aside(reading)


@pytest.mark.parametrize(
    "line", ["# made by hand", "// made by hand", "## made by hand", "% made by hand", "#made by hand"]
)
def test_comments_above_and_among_the_laps(line: str) -> None:
    reading = read(f"{line}\n{HEAD}7,1,60.1\n{line}\n7,2,60.2\n")
    assert laps(reading) == [("7", 1, 60.1), ("7", 2, 60.2)]
    assert known(reading) == {"comment": 2, "header": 1}
    assert not aside(reading)
    assert reading.facts["title"] == "made by hand"


def test_laps_taken_out_by_a_sign_are_set_aside_and_said() -> None:
    reading = read(HEAD + "7,1,60.1\n# 7,2,60.2\n// 7,3,60.3\n7,4,60.4\n")
    assert laps(reading) == [("7", 1, 60.1), ("7", 4, 60.4)]
    reason = "a row of laps behind the sign of a comment"
    assert aside(reading) == [(3, reason), (4, reason)]


def test_a_sign_before_every_kart_takes_no_lap_out() -> None:
    reading = read(HEAD + "#07,1,60.1\n#07,2,60.2\n")
    assert [lap for _, lap, _ in laps(reading)] == [1, 2]
    assert not aside(reading)


def test_a_driver_called_best_is_no_summary() -> None:
    reading = read(
        "Kart;Driver;Lap;Lap time\n7;Best;1;60.1\n7;Best;2;60.2\n;;Average;60.15\nBest;;;60.1\nTotal;;2;120.3\n"
    )
    assert reading.laps.select("driver", "lap").rows() == [("Best", 1), ("Best", 2)]
    assert known(reading) == {"header": 1, "summary": 3}
    assert not aside(reading)


def test_a_summary_below_the_last_lap() -> None:
    reading = read("Runner up\n" + HEAD + "7,1,60.1\nFastest lap,,60.1\n")
    assert laps(reading) == [("7", 1, 60.1)]
    assert known(reading) == {"header": 1, "summary": 1, "title": 1}
    assert reading.facts["title"] == "Runner up"


def test_a_title_that_names_no_kart_ends_the_kart_above_it() -> None:
    """The second block is of somebody else: it is asked whose it is, and not given to kart 07."""
    reading = read("Kart 07\nLap;Time\n1;60.1\n\nGroup Amber\nLap;Time\n1;61.1\n")
    assert laps(reading) == [("07", 1, 60.1)]
    assert [question.key for question in reading.questions] == ["kart"]
    assert aside(reading) == [(7, "waits for the answer which kart this is")]


def test_a_remark_among_the_laps_ends_nothing() -> None:
    reading = read("Kart 07\nLap;Time\n1;60.1\nwet from here\n2;61.1\n")
    assert laps(reading) == [("07", 1, 60.1), ("07", 2, 61.1)]
    assert aside(reading) == [(4, "fewer cells than the header")]


def test_a_kart_or_session_named_without_a_new_header() -> None:
    reading = read("Kart 07\nLap;Time\n1;60.1\nKart 08\n1;61.1\nSession: P2\n1;62.1\n")
    assert reading.laps.select("session", "kart", "lap_time_s").rows() == [
        ("P1", "07", 60.1), ("P1", "08", 61.1), ("P2", "08", 62.1),
    ]  # fmt: skip


def test_words_in_every_cell_of_a_row_are_a_row_not_a_title() -> None:
    reading = read("Kart,Lap,Lap time,S1,S2\n7,1,60.1,30,30.1\nhe,spun,off,at,turn\n7,2,60.2,30,30.2\n")
    assert [lap for _, lap, _ in laps(reading)] == [1, 2]
    assert aside(reading) == [(3, "no lap time: not a time")]


def test_a_header_said_again_continues_its_table() -> None:
    reading = read(HEAD + HEAD + "7,1,60.1\n" + HEAD + "7,2,60.2\n")
    assert laps(reading) == [("7", 1, 60.1), ("7", 2, 60.2)]
    assert known(reading) == {"header": 1, "repeated_header": 2}


@pytest.mark.parametrize(
    "again",
    ["Kart;Lap;Lap time;;", "Kart;;Lap time;;", ";Lap;Lap time;S1;S2", "Kart;Lap;;S1;S2", "Kart;Lap",
     "Kart;Lap;Lap time", ";;Lap time;;", "KART;lap;;;", "Kart;Lap;Lap time;S1;S2;;"],
)  # fmt: skip
def test_half_a_header_said_again_is_no_table_of_its_own(again: str) -> None:
    head = "Kart;Lap;Lap time;S1;S2\n"
    reading = read(f"{head}7;1;60.1;30.0;30.1\n{again}\n7;2;60.2;30.1;30.1\n")
    assert laps(reading) == [("7", 1, 60.1), ("7", 2, 60.2)]
    assert reading.laps["sector_times_s"].to_list() == [[30.0, 30.1], [30.1, 30.1]]
    assert known(reading) == {"header": 1, "repeated_header": 1}
    assert not aside(reading)


def test_a_header_with_one_word_more_is_another_table() -> None:
    reading = read("Kart;Lap;Lap time\n7;1;60.1\nKart;Lap;Lap time;S1\n7;2;60.2;30.1\n")
    assert laps(reading) == [("7", 1, 60.1), ("7", 2, 60.2)]
    assert known(reading) == {"header": 2}


def test_half_a_header_above_the_whole_one_is_no_title() -> None:
    reading = read("Kart;Lap;;S1;S2\nKart;Lap;Lap time;S1;S2\n7;1;60.1;30.0;30.1\n")
    assert laps(reading) == [("7", 1, 60.1)]
    assert reading.laps["session"].to_list() == ["P1"]
    assert aside(reading) == [(1, "not understood, above the first table")]


def test_words_of_the_header_in_other_places_are_a_row() -> None:
    reading = read("Kart;Driver;Lap;Lap time\n7;Kart;1;60.1\n7;Lap;;\n7;Driver;2;60.2\n;Lap;Kart;\n")
    assert laps(reading) == [("7", 1, 60.1), ("7", 2, 60.2)]
    assert [line for line, _ in aside(reading)] == [3, 5]


def test_facts_may_stand_between_blocks_and_below_the_last_lap() -> None:
    reading = read(HEAD + "7,1,60.1\nTrack: Lakeside\n" + HEAD + "8,1,61.1\n\nSession: P3\n")
    assert laps(reading) == [("7", 1, 60.1), ("8", 1, 61.1)]
    assert reading.laps["session"].unique().to_list() == ["P3"]
    assert reading.facts == {"track": "Lakeside", "session": "P3"}


def test_the_line_that_names_the_separator_is_the_first_or_none() -> None:
    first = read("sep=;\nKart;Lap;Lap time\n7;1;60.1\n")
    assert known(first) == {"comment": 1, "header": 1}
    later = read("Kart;Lap;Lap time\nsep=;\n7;1;60.1\n")
    assert aside(later) == [(2, "fewer cells than the header")]
    assert laps(first) == laps(later) == [("7", 1, 60.1)]


def test_a_header_parted_by_another_sign_than_its_rows() -> None:
    assert laps(read(HEAD + "7;1;60.1\n7;2;60.2\n")) == [("7", 1, 60.1), ("7", 2, 60.2)]


@pytest.mark.parametrize("sign", [",", ";"])
def test_a_column_for_every_kart(sign: str) -> None:
    one = read(
        sign.join(("Lap", "07")) + "\n" + sign.join(("1", "60.1")) + "\n" + sign.join(("2", "60.2")) + "\n"
    )
    assert laps(one) == [("07", 1, 60.1), ("07", 2, 60.2)]


def test_unknown_words_above_times_are_a_header_that_is_asked_about() -> None:
    reading = read("foo,bar,baz\n7,1,60.1\n7,2,60.2\n7,3,60.3\n")
    assert known(reading) == {"header": 1}
    assert reading.laps.height == 0
    assert [line for line, _ in aside(reading)] == [2, 3, 4]


def test_a_legend_among_the_laps_holds_for_all_of_them() -> None:
    reading = read(HEAD + "7,1,60.1*\n* = deleted\n7,2,60.2*\n7,3,60.3\n")
    assert reading.laps["marks"].to_list() == [["invalid"], ["invalid"], []]
    assert known(reading) == {"comment": 1, "header": 1}


@pytest.mark.parametrize("between", ["Lap;Time", "???;zzz"])
def test_a_new_block_whose_title_is_missing_or_spoilt_is_not_given_to_the_kart_above(between: str) -> None:
    """The laps start anew, and no line says whose they are: better none than those of kart 07."""
    reading = read(f"Kart 07\nLap;Time\n1;60.1\n2;60.2\n{between}\n1;61.1\n2;61.2\n")
    assert laps(reading) == [("07", 1, 60.1), ("07", 2, 60.2)]
    reason = "the title of this block may be missing"
    assert [(line, why) for line, why in aside(reading) if line > 5] == [(6, reason), (7, reason)]


def test_a_block_that_has_its_title_is_in_no_doubt() -> None:
    reading = read("Kart 07\nLap;Time\n1;60.1\n2;60.2\nKart 08\nLap;Time\n1;61.1\n2;61.2\n")
    assert [kart for kart, _, _ in laps(reading)] == ["07", "07", "08", "08"]
    assert not aside(reading)


def test_a_header_with_an_open_quote_is_no_header() -> None:
    reading = read(HEAD + '7,1,60.1\nKart,Lap,"Lap time\n7,2,60.2\n')
    assert laps(reading) == [("7", 1, 60.1), ("7", 2, 60.2)]
    assert aside(reading) == [(3, "a quote is opened and never closed")]
    assert known(reading) == {"header": 1}


def test_karts_that_did_not_finish_leave_their_column_empty() -> None:
    reading = read("Lap,07,12\n1,,\n2,60.2,DNF\n3,60.3,60.4\n")
    assert laps(reading) == [("07", 2, 60.2), ("07", 3, 60.3), ("12", 3, 60.4)]
    assert aside(reading) == [(2, "no lap time"), (3, "no lap time")]


def test_a_name_or_an_average_among_karts_is_asked_about() -> None:
    """A column that is no kart's may be anything: nothing is taken for a lap before it is said what it is."""
    for word in ("Mia", "Average"):
        reading = read(f"Lap,07,{word}\n1,60.1,60.1\n2,60.2,60.15\n")
        assert reading.laps.height == 0
        assert reading.questions


def test_laps_above_the_first_header_are_kept_aside() -> None:
    reading = read("7,1,60.1\n" + HEAD + "7,2,60.2\n")
    assert laps(reading) == [("7", 2, 60.2)]
    assert aside(reading) == [(1, "not understood, above the first table")]
