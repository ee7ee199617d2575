"""Laps given as a table: days are told apart by event where it has events, else by date, with the same answer."""

import polars as pl
import pytest

import lapdelta
from lapdelta.errors import QuestionError
from sample_sessions import FOLDER

DAYS = ("2025-04-13", "2025-05-18", "2025-07-20")
ASKED = {"kart": "07", "before": ["P1", "P4"], "after": ["P2", "P3"]}


@pytest.fixture(scope="module")
def days():
    return {day: lapdelta.read_timing(FOLDER / day / "practice.csv").laps for day in DAYS}


def with_events(days):
    return pl.concat([laps.select(pl.lit(day).alias("event"), pl.all()) for day, laps in days.items()])


def test_the_history_of_dates_is_that_of_events_and_leaves_the_own_day_out(days):
    laps = days[DAYS[1]]
    by_date = lapdelta.compare(laps, **ASKED, history=pl.concat(list(days.values())))
    named = laps.select(pl.lit(DAYS[1]).alias("event"), pl.all())
    by_event = lapdelta.compare(named, **ASKED, history=with_events(days))
    others = lapdelta.compare(laps, **ASKED, history=pl.concat([days[DAYS[0]], days[DAYS[2]]]))
    assert by_date.settings["history_differences"]
    assert by_date.settings["history_differences"] == others.settings["history_differences"]
    assert by_date.settings["history_differences"] == by_event.settings["history_differences"]
    assert (by_date.estimate, by_date.low) == (others.estimate, others.low)
    own = lapdelta.compare(laps, **ASKED, history=laps)
    assert not own.settings["history_differences"]


def test_a_history_that_is_no_number_is_refused(days):
    with pytest.raises(QuestionError, match="a value that is not a number"):
        lapdelta.compare(days[DAYS[1]], **ASKED, history=[0.1, float("nan")])


def test_sessions_are_looked_for_in_the_one_event_that_holds_them(days):
    """P7 and P8 were driven on the second day only; P1 to P6 on the first, too."""
    laps = with_events(days)
    alone = lapdelta.compare(days[DAYS[1]], kart="07", before=["P7"], after=["P8"])
    found = lapdelta.compare(laps, kart="07", before=["P7"], after=["P8"])
    assert (found.estimate, found.verdict) == (alone.estimate, alone.verdict)
    named = lapdelta.compare(laps, kart="07", before=[(DAYS[0], "P1")], after=[(DAYS[0], "P2")])
    assert named.estimate == lapdelta.compare(days[DAYS[0]], kart="07", before=["P1"], after=["P2"]).estimate


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        (["P1"], ["P2"], f"Several events hold these sessions: {DAYS[0]}, {DAYS[1]}."),
        (["P1"], ["P99"], "No event holds kart 07 and all of the sessions P1, P99."),
        ([(DAYS[0], "P1")], [(DAYS[1], "P2")], f"The sessions are of several events: {DAYS[0]}, {DAYS[1]}."),
        ([("nowhere", "P1")], [("nowhere", "P2")], "There is no event nowhere."),
    ],
)
def test_sessions_of_no_or_several_events_are_refused(days, before, after, told):
    with pytest.raises(QuestionError) as error:
        lapdelta.compare(with_events(days), kart="07", before=before, after=after)
    assert error.value.what == told
    assert error.value.mend


def test_a_plan_learns_from_dates_as_from_events(days):
    laps = days[DAYS[1]]
    by_date = lapdelta.plan_test(
        laps, sessions_left=4, kart="07", history=pl.concat([days[DAYS[0]], days[DAYS[2]]])
    )
    elsewhere = {day: days[day] for day in (DAYS[0], DAYS[2])}
    by_event = lapdelta.plan_test(laps, sessions_left=4, kart="07", history=with_events(elsewhere))
    assert by_date.learned == by_event.learned
    assert by_date.learned["events"] == [DAYS[0], DAYS[2]]
    assert by_date.noise == by_event.noise


@pytest.mark.parametrize(
    ("labels", "order"),
    [
        (["Run 10", "Run 9", "Run 8"], ["Run 8", "Run 9", "Run 10"]),
        (["Noon", "Early", "Late"], ["Noon", "Early", "Late"]),
        (["A 2", "B 1", "A 1"], ["A 2", "B 1", "A 1"]),
    ],
)
def test_without_clocks_sessions_go_by_their_one_number_else_as_in_the_file(days, labels, order):
    laps = days[DAYS[0]].filter(pl.col("session").is_in(["P1", "P2", "P3"]))
    renamed = laps.with_columns(
        pl.col("session").replace_strict(["P1", "P2", "P3"], labels), clock=pl.lit(None, pl.Time)
    )
    found = lapdelta.compare(renamed, kart="07", before=[labels[0]], after=labels[1:])
    places = {cell["session"]: cell["position"] for cell in found.cells if cell["ours"]}
    assert sorted(places, key=places.get) == order
    assert {cell["time_h"] for cell in found.cells} == {None}
