"""Whatever the laps are: a question error with a cure, or a finding without NaN whose verdict follows its numbers."""

import datetime as dt
import json
import math
import re
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import stdtrit

import lapdelta
from lapdelta import effect
from lapdelta.effect import reasons
from lapdelta.effect.finding import FLAGS, Finding
from lapdelta.errors import QuestionError
from lapdelta.tables import EVENT_LAPS, LAPS

ASKED = {"kart": "07", "before": ["P1", "P4"], "after": ["P2", "P3"]}
MEASURES = ("lap_time", "early_laps", "late_laps", "sector_1", "top_speed", "peak_rpm")

#: Refusals: no usable cell, a kart alone, a block with too few karts, df < 2, both setups in a session, no
#: scatter at all, track state, sectors that do not add up.
REFUSALS = (
    "three usable laps", "no other kart", "no comparable other karts", "comparable other karts ran both",
    "degrees of freedom", "named both before and after", "nothing scatters", "track state", "sectors",
    "too few own sessions",
)  # fmt: skip


def lap(session, kart, number, time, **more):
    sectors = None if time is None else [0.3 * time, 0.3 * time, 0.4 * time]
    return dict.fromkeys(LAPS) | {
        "session": session, "kart": kart, "lap": number, "lap_time_s": time, "sector_times_s": sectors,
        "top_speed_kmh": 90 + number % 3, "peak_rpm": 13000.0 + 10 * (number % 4), "marks": [],
    } | more  # fmt: skip


def plain_day(karts=6, laps=8, sessions=4, **more):
    times = [
        [0.07 * k * s % 0.5 + 0.11 * (n * (k + 2) % 5) for n in range(laps)]
        for k in range(karts)
        for s in range(sessions)
    ]
    rows = [
        lap(f"P{s + 1}", f"0{7 + k}" if k < 3 else str(7 + k), n + 1, 50 + times[k * sessions + s][n], **more)
        for k in range(karts)
        for s in range(sessions)
        for n in range(laps)
    ]
    return pl.DataFrame(rows, schema=LAPS)


def fair(finding: Finding) -> None:
    """The promises of a finding, told from the numbers in it."""
    text = finding.to_json()
    assert Finding.from_json(text) == finding
    assert not re.search(r"\bNaN\b|Infinity", text)
    assert list(finding.flags) == [flag for flag in FLAGS if flag in finding.flags]
    assert finding.reasons
    assert not re.search(r"\bp\s*[<=]", " ".join([*finding.reasons, *(row[2] for row in finding.checks)]))
    if finding.verdict == "cannot be told":
        assert finding.estimate is finding.low is finding.high is finding.p_value is None
        assert any(word in finding.reasons[0].casefold() for word in REFUSALS), finding.reasons
        assert len(finding.reasons) > 1, finding.reasons  # the cure
        return
    assert finding.low <= finding.estimate <= finding.high
    assert finding.standard_error > 0
    assert finding.dof >= 2
    assert 0 < finding.p_value <= 1
    assert finding.verdict == by_the_table(finding)


def by_the_table(finding: Finding) -> str:
    """The verdict from the printed numbers alone: I95 against 0, I90 against the margin."""
    excludes = finding.low > 0 or finding.high < 0
    quicker = finding.estimate < 0 if finding.unit == "s" else finding.estimate > 0
    half = stdtrit(finding.dof, finding.confidence) * finding.standard_error
    inside = abs(finding.estimate) + half < finding.margin
    assert ("less_than_worthwhile" in finding.flags) == (excludes and inside)
    if excludes:
        return "faster" if quicker else "slower"
    return "no worthwhile difference" if inside else "not settled"


def outcome(laps, **changes):
    """The finding, checked, or None where the question was refused with a cure."""
    try:
        finding = lapdelta.compare(laps, **(ASKED | changes))
    except QuestionError as error:
        refusal = error
    else:
        fair(finding)
        return finding
    assert refusal.what.endswith(".")
    assert refusal.mend.endswith(".") or "lapdelta" in refusal.mend
    return None


def test_a_plain_day_is_answered():
    for measure in MEASURES:
        assert outcome(plain_day(), measure=measure) is not None


mine = (pl.col("kart") == "07") & (pl.col("session") == "P2")
ours_marked = pl.when(pl.col("kart") == "07").then(pl.lit(["invalid"])).otherwise(pl.col("marks"))
endless_speed = pl.when(mine).then(float("inf")).otherwise("top_speed_kmh")
odd_sectors = pl.when(mine).then(pl.lit([float("nan"), 1.0])).otherwise("sector_times_s")
BAD_TABLES = {
    "marked out": lambda d: d.with_columns(marks=pl.lit(["pit"])),
    "ours marked": lambda d: d.with_columns(marks=ours_marked),
    "only ours": lambda d: d.filter(pl.col("kart") == "07"),
    "no overlap": lambda d: d.filter((pl.col("kart") == "07") == pl.col("session").is_in(["P1", "P2"])),
    "no own lap after": lambda d: d.filter(~((pl.col("kart") == "07") & pl.col("session").is_in(["P2", "P3"]))),
    "NaN": lambda d: d.with_columns(lap_time_s=pl.when(mine).then(float("nan")).otherwise("lap_time_s")),
    "infinite": lambda d: d.with_columns(lap_time_s=pl.when(mine).then(float("inf")).otherwise("lap_time_s")),
    "all NaN": lambda d: d.with_columns(lap_time_s=pl.lit(float("nan"))),
    "zero": lambda d: d.with_columns(lap_time_s=pl.lit(0.0)),
    "negative": lambda d: d.with_columns(lap_time_s=-pl.col("lap_time_s")),
    "constant": lambda d: d.with_columns(lap_time_s=pl.lit(50.0)),
    "a day long": lambda d: d.with_columns(lap_time_s=pl.when(mine).then(86400.0).otherwise("lap_time_s")),
    "no times": lambda d: d.with_columns(lap_time_s=pl.lit(None, dtype=pl.Float64)),
    "no numbers": lambda d: d.with_columns(lap=pl.lit(None, dtype=pl.Int32)),
    "doubled": lambda d: pl.concat([d, d]),
    "two laps": lambda d: d.filter(pl.col("lap") <= 2),
    "one column": lambda d: d.select("lap_time_s"),
    "three columns": lambda d: d.select("session", "kart", "lap_time_s"),
    "whole seconds": lambda d: d.with_columns(lap_time_s=pl.col("lap_time_s").round().cast(pl.Int64)),
    "empty": lambda d: d.clear(),
    "no columns": lambda d: pl.DataFrame(),
    "nameless sessions": lambda d: d.with_columns(session=pl.lit(None, dtype=pl.String)),
    "nameless karts": lambda d: d.with_columns(kart=pl.when(mine).then(None).otherwise("kart")),
    "infinite speed": lambda d: d.with_columns(top_speed_kmh=endless_speed, peak_rpm=pl.lit(float("nan"))),
    "odd sectors": lambda d: d.with_columns(sector_times_s=odd_sectors),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD_TABLES)
def test_bad_tables(name):
    for measure in ("lap_time", "sector_1", "top_speed", "peak_rpm"):
        outcome(BAD_TABLES[name](plain_day()), measure=measure)


WRONG_TYPES = {
    "kart a number": lambda d: d.with_columns(kart=pl.col("kart").cast(pl.Int64)),
    "session a number": lambda d: d.with_columns(session=pl.lit(1)),
    "times as text": lambda d: d.with_columns(lap_time_s=pl.lit("50,1")),
    "laps as text": lambda d: d.with_columns(lap=pl.lit("x")),
    "marks as text": lambda d: d.with_columns(marks=pl.lit("pit")),
    "clock as text": lambda d: d.with_columns(clock=pl.lit("09:00")),
    "sectors not a list": lambda d: d.with_columns(sector_times_s=pl.lit(1.0)),
    "event a number": lambda d: d.with_columns(event=pl.lit(3)),
}


@pytest.mark.parametrize("name", WRONG_TYPES)
def test_columns_of_the_wrong_kind_are_named(name):
    with pytest.raises(QuestionError, match="column") as caught:
        lapdelta.compare(WRONG_TYPES[name](plain_day()), **ASKED)
    assert caught.value.mend.endswith(".")


def test_not_a_table():
    with pytest.raises(QuestionError, match="table"):
        lapdelta.compare([{"kart": "07"}], **ASKED)


@pytest.mark.parametrize(
    "changes",
    [
        {"margin": -0.1}, {"margin": math.inf}, {"margin": math.nan}, {"confidence": 0.2}, {"confidence": math.nan},
        {"kart": "99"}, {"before": ["P1", "P9"]}, {"measure": "bravery"}, {"before": []}, {"after": "P2"},
        {"history": [math.inf]}, {"measure": "sector_0"},
        {"margin": "wide"}, {"confidence": "0.95"}, {"kart": 7}, {"before": [1]}, {"measure": None},
    ],
    ids=str,
)  # fmt: skip
def test_impossible_questions_are_refused(changes):
    assert outcome(plain_day(), **changes) is None


@pytest.mark.parametrize(
    "changes",
    [{"after": ["P1"]}, {"before": ["P1", "P1"]}, {"before": ["P1", "P2"], "after": ["P2", "P3"]}],
    ids=str,
)
def test_odd_questions_are_answered(changes):
    assert outcome(plain_day(), **changes) is not None


@pytest.mark.parametrize(("typed", "meant"), [("7", "07"), ("007", "07"), ("a7", "A-07"), ("A 7", "A-07")])
def test_a_kart_typed_carelessly_is_named_first(typed, meant):
    laps = plain_day().with_columns(kart=pl.col("kart").replace("08", "A-07").replace("10", "17"))
    with pytest.raises(QuestionError) as caught:
        lapdelta.compare(laps, **(ASKED | {"kart": typed}))
    assert caught.value.mend.startswith(f"Nearest: {meant}")


times = st.one_of(
    st.floats(48, 52).map(lambda t: round(t, 3)), st.floats(48, 52).map(lambda t: round(t, 1)),
    st.sampled_from([None, 0.0, -1.0, 50.0, math.nan, math.inf, 1e9, 1e-9, 75.0]),
)  # fmt: skip


@st.composite
def small_tables(draw):
    """Up to five karts, four sessions, nine laps: any times, now and then clocks, marks, missing cells."""
    rows = []
    clocks = draw(st.booleans())
    usual = draw(st.booleans())  # mostly possible laps, so that answers come out too
    for k in range(draw(st.integers(1, 5))):
        for s in range(4):
            for n in range(draw(st.integers(3 if usual else 0, 9))):
                time = draw(st.floats(49, 51).map(lambda t: round(t, 2)) if usual else times)
                mark = draw(st.sampled_from([[], [], [], [], ["in"], ["pit"]])) if not usual else []
                clock = dt.time(9 + s, n) if clocks else None
                rows.append(lap(f"P{s + 1}", f"0{7 + k}", n + 1, time, clock=clock, marks=mark))
    return pl.DataFrame(rows, schema=LAPS)


@settings(max_examples=60, deadline=None)
@given(
    small_tables(),
    st.sampled_from(MEASURES),
    st.permutations(["P1", "P2", "P3", "P4"]),
    st.integers(1, 3),
    st.sampled_from([None, 0.01, 0.5, 5.0]),
    st.sampled_from([0.8, 0.95, 0.99]),
    st.sampled_from([None, [], [0.1, -0.2, 0.05, 0.1, -0.1]]),
)
def test_any_small_table(laps, measure, order, split, margin, confidence, history):
    outcome(
        laps, before=order[:split], after=order[split:], measure=measure, margin=margin, confidence=confidence,
        history=history,
    )  # fmt: skip


def test_event_column_and_json_round_trip():
    finding = outcome(plain_day().with_columns(event=pl.lit("May")).select(list(EVENT_LAPS)))
    assert finding.settings["event"] == "May"
    assert json.loads(finding.to_json())["settings"]["event"] == "May"


def test_every_refusal_has_a_cure():
    """Reasons as the routes write them: whatever they refuse, the next sentence says what to do."""
    text = "".join(file.read_text() for file in Path(effect.__path__[0]).glob("*.py"))
    refused = re.findall(r'told_nothing\(\s*"([^"]+)"', text) + re.findall(
        r'return "none", f?"([^"]+)"', text
    )
    refused += [
        "only 1.0 degrees of freedom are left, two are needed",
        "the track state changed: every session",
    ]
    assert len(refused) >= 10
    for reason in refused:
        assert any(word in reason for word, _ in reasons._CURES), reason
