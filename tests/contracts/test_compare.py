"""What compare promises: errors with a cure, answers without NaN, verdicts for hopeless questions."""

import datetime as dt
import json

import numpy as np
import polars as pl
import pytest

import lapdelta
from lapdelta.effect.arrays import REASONS, LapCube
from lapdelta.effect.finding import FLAGS, VERDICTS
from lapdelta.effect.screening import screen
from lapdelta.tables import EVENT_LAPS, LAPS, SETUPS


def day(order="ABBA", others=8, laps=10, effect=-0.6, seed=1, clock=True, event=None, base=50.0, slow=()):
    """Laps of one day: kart 07 on A or B, others with numbers from 11; P1.. in the order of the day."""
    rng = np.random.default_rng(seed)
    rows = []
    for s, setting in enumerate(order):
        for k in range(others + 1):
            kart = "07" if k == 0 else str(10 + k)
            pace = base + 0.15 * k + 0.1 * s + rng.normal(0, 0.05)
            pace += effect * (setting == "B") * (k == 0) + (5.0 if s in slow else 0.0)
            pace *= 1.2 if kart == "18" and others >= 8 else 1.0  # another class
            for lap in range(1, laps + 1):
                time = round(pace + rng.normal(0, 0.15) + 5 * (lap == 1), 3)
                first, second = round(0.3 * time, 3), round(0.45 * time, 3)
                rows.append(
                    dict.fromkeys(EVENT_LAPS)
                    | {
                        "event": event,
                        "session": f"P{s + 1}",
                        "kart": kart,
                        "lap": lap,
                        "lap_time_s": time,
                        "sector_times_s": [first, second, round(time - first - second, 3)],
                        "top_speed_kmh": round(
                            95 - effect * (setting == "B") * (k == 0) + rng.normal(0, 0.4), 1
                        ),
                        "peak_rpm": float(round(13000 + rng.normal(0, 40), -1)),
                        "date": dt.date(2026, 5, 16),
                        "clock": dt.time(9 + s, lap) if clock else None,
                        "marks": [],
                    }
                )
    frame = pl.DataFrame(rows, schema=EVENT_LAPS)
    return frame if event else frame.drop("event")


ABBA = {"kart": "07", "before": ["P1", "P4"], "after": ["P2", "P3"]}


def ask(laps=None, **changes):
    return lapdelta.compare(day() if laps is None else laps, **(ABBA | changes))


def test_a_clear_change_is_told():
    finding = ask()
    assert finding.verdict == "faster"
    assert finding.low < -0.6 < finding.high
    assert finding.method == "interleaved"
    assert finding.tipping_rate is None
    assert not {"own_progress", "bundle", "few_other_karts", "session_left_out"} & set(finding.flags)
    assert 0 < finding.p_value < 0.05
    assert finding.smallest_margin > abs(finding.estimate)
    assert finding.chance_better > 0.97
    assert 0 < finding.lap_noise_share <= 1


@pytest.mark.parametrize(("last", "kept"), [(51.04, True), (51.06, False)])
def test_few_laps_are_cut_by_the_scale_of_a_junior(last, kept):
    """Four laps, so two at or below the median 50.15: too few for a scale, 0.30 s is taken, three of it the limit."""
    time = np.array([[[55.0, 50.0, 50.1, 50.2, last]]])
    nothing, position = np.full(time.shape, np.nan), np.arange(1, 6).reshape(time.shape)
    out_lap = np.where(position == 1, 3, 0)
    cube = LapCube(time, position > 0, out_lap, position, np.empty((*time.shape, 0)), nothing, nothing)
    screened = screen(cube)
    assert bool(screened.kept[0, 0, 4]) == kept
    assert screened.kept[0, 0, 1:4].all()
    assert [REASONS[code] for code in screened.reason[0, 0]] == [
        "out lap",
        "",
        "",
        "",
        "" if kept else "slow",
    ]
    assert screened.scale_s[0] == 0.30


@pytest.mark.parametrize(
    "measure", ["lap_time", "early_laps", "late_laps", "sector_2", "top_speed", "peak_rpm"]
)
def test_every_measure_gives_a_finding_that_survives_json(measure):
    finding = ask(measure=measure)
    assert finding.verdict in VERDICTS
    assert finding.estimate is not None
    assert lapdelta.Finding.from_json(finding.to_json()) == finding
    assert json.loads(finding.to_json())["measure"] == measure
    assert all(flag in FLAGS for flag in finding.flags)
    assert finding.choices[0]["choice"] == "as asked"
    assert finding.choices[0]["estimate"] == pytest.approx(finding.estimate, abs=1e-3)


def test_speed_up_is_faster_and_rpm_has_no_better():
    assert ask(day(effect=-2.0), measure="top_speed").verdict == "faster"
    assert ask(measure="peak_rpm").chance_better is None


def test_sectors_add_up_to_the_lap():
    finding = ask()
    rows = {row["measure"]: row["estimate"] for row in finding.sectors}
    assert list(rows) == ["sector_1", "sector_2", "sector_3"]
    assert sum(rows.values()) == pytest.approx(finding.estimate, abs=1e-10)
    holm = [row["holm_p"] for row in finding.sectors[:3]]
    assert all(h >= row["p_value"] for h, row in zip(holm, finding.sectors, strict=False))
    alone = ask(measure="sector_2")
    assert alone.estimate == pytest.approx(rows["sector_2"], abs=1e-10)


def test_sectors_that_do_not_add_up_are_not_offered():
    laps = day().with_columns(sector_times_s=pl.col("sector_times_s").list.eval(pl.element() + 0.05))
    assert ask(laps).sectors == ()
    assert ask(laps, measure="sector_1").verdict == "cannot be told"


def test_adding_to_every_own_lap_moves_the_estimate_by_exactly_that():
    laps = day()
    mine = (pl.col("kart") == "07") & pl.col("session").is_in(["P2", "P3"])
    moved = laps.with_columns(
        lap_time_s=pl.when(mine).then(pl.col("lap_time_s") - 0.3).otherwise("lap_time_s"),
        sector_times_s=pl.when(mine)
        .then(pl.col("sector_times_s").list.eval(pl.element() - 0.1))
        .otherwise("sector_times_s"),
    )
    assert ask(moved).estimate == pytest.approx(ask(laps).estimate - 0.3, abs=1e-9)


def test_cells_count_every_lap_and_say_why():
    finding = ask()
    for cell in finding.cells:
        assert cell["laps"] == cell["kept"] + sum(cell["set_aside"].values())
        assert cell["set_aside"]["out lap"] == 1
    ours = [cell for cell in finding.cells if cell["ours"]]
    assert [cell["setting"] for cell in ours] == ["before", "after", "after", "before"]
    assert [round(cell["time_h"]) for cell in ours] == [0, 1, 2, 3]
    assert not any(cell["compared"] for cell in finding.cells if cell["kart"] == "18")  # 20 % slower


def test_marked_laps_repeats_and_second_runs_are_set_aside():
    laps = day(laps=12)
    mine = laps.filter((pl.col("kart") == "07") & (pl.col("session") == "P1"))
    rest = laps.filter((pl.col("kart") != "07") | (pl.col("session") != "P1"))
    numbers = [1, 2, 3, 4, 5, 5, 1, 2, 3, 4, 5, 6]  # a repeat of 5, then a second run
    time = mine["lap_time_s"].to_list()
    time[5] = time[4]
    mine = mine.with_columns(
        lap=pl.Series(numbers, dtype=pl.Int32),
        lap_time_s=pl.Series([*time[:-1], 0.0]),
        clock=pl.lit(None, dtype=pl.Time()),
        marks=pl.Series([["pit"] if i == 3 else [] for i in range(12)], dtype=pl.List(pl.String())),
    )
    (cell,) = (c for c in ask(pl.concat([mine, rest])).cells if c["ours"] and c["session"] == "P1")
    assert cell["set_aside"]["repeat"] == 1
    assert cell["set_aside"]["out lap"] == 2
    assert cell["set_aside"]["pit lap"] == 1
    assert cell["set_aside"]["no time"] == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"kart": "7"}, "07"),
        ({"before": ["p1", "P9"]}, "P1"),
        ({"before": []}, "at least one"),
        ({"after": []}, "at least one"),
        ({"measure": "laptime"}, "lap_time"),
        ({"measure": "sector_9"}, "sector_"),
        ({"margin": 0}, "above 0"),
        ({"margin": -0.1}, "above 0"),
        ({"margin": float("nan")}, "above 0"),
        ({"confidence": 1.0}, "between"),
        ({"before": "P1"}, "list"),
        ({"history": [0.1, float("nan")]}, "Leave it out"),
    ],
    ids=str,
)
def test_impossible_questions(changes, words):
    with pytest.raises(lapdelta.QuestionError) as caught:
        ask(**changes)
    assert words in caught.value.mend
    assert caught.value.what.endswith(".")


def test_a_table_without_laps():
    with pytest.raises(lapdelta.QuestionError) as caught:
        ask(pl.DataFrame(schema=LAPS))
    assert "import" in caught.value.mend


def test_events():
    two = pl.concat([day(event="May"), day(event="June", seed=2)])
    with pytest.raises(lapdelta.QuestionError, match="Several events"):
        ask(two)
    pairs = {"before": [("May", "P1"), ("May", "P4")], "after": [("May", "P2"), ("May", "P3")]}
    finding = ask(two, **pairs)
    assert finding.settings["event"] == "May"
    assert finding.before == ("P1", "P4")
    assert finding.estimate == ask(day(event="May")).estimate
    mixed = {"before": [("May", "P1")], "after": [("June", "P2")]}
    with pytest.raises(lapdelta.QuestionError, match="several events"):
        ask(two, **mixed)
    with pytest.raises(lapdelta.QuestionError, match="no event Mai"):
        ask(two, before=[("Mai", "P1")], after=[("Mai", "P2")])
    with pytest.raises(lapdelta.QuestionError, match="no column event"):
        ask(day(), **pairs)  # a table without events cannot know which one is meant


def cannot(finding, word):
    assert finding.verdict == "cannot be told"
    assert finding.estimate is None
    assert finding.p_value is None
    assert word.casefold() in finding.reasons[0].casefold()
    assert len(finding.reasons) > 1  # the cure
    assert lapdelta.Finding.from_json(finding.to_json()) == finding


def test_session_in_both_lists():
    cannot(ask(before=["P1", "P2"], after=["P2", "P3"]), "P2")


def test_no_usable_laps_after():
    cannot(ask(day(laps=3)), "three usable laps")


def test_alone_on_track():
    cannot(ask(day(others=0)), "no comparable other karts")
    cannot(ask(day(others=1)), "no comparable other karts")


def test_blocked_with_two_other_karts():
    cannot(ask(day("AABB", others=2), before=["P1", "P2"], after=["P3", "P4"]), "three are needed")
    past = [0.1, -0.1, 0.05, -0.12, 0.09]
    finding = ask(day("AABB", others=2), before=["P1", "P2"], after=["P3", "P4"], history=past)
    assert "rests_on_history" in finding.flags


def test_alone_with_raw_history_on_both_sides_of_the_change():
    finding = ask(day("AB", others=0), before=["P1"], after=["P2"], history=[0.1, -0.1, 0.05, -0.12, 0.09])
    assert finding.method == "alone single case"
    assert finding.dof == 4
    assert finding.tipping_rate == pytest.approx(finding.estimate / 1.0)  # one hour apart


def test_wet_session_is_left_out_and_named():
    finding = ask(day("ABBA", slow=(1,)))
    assert "session_left_out" in finding.flags
    assert any("P2" in reason for reason in finding.reasons)
    cannot(ask(day("ABA", slow=(1,)), before=["P1", "P3"], after=["P2"]), "track state")


def test_blocked_order_prints_the_tipping_rate():
    finding = ask(day("AABB"), before=["P1", "P2"], after=["P3", "P4"])
    assert finding.method == "blocked"
    assert "own_progress" in finding.flags
    assert finding.tipping_rate == pytest.approx(finding.estimate / 2)  # two hours between the blocks
    without = ask(day("AABB", clock=False), before=["P1", "P2"], after=["P3", "P4"])
    assert without.settings["order_of_sessions"] == "labels"
    assert without.tipping_rate == pytest.approx(without.estimate / 2)  # two sessions


def sheet(teeth, kart="07", **more):
    rows = [
        dict.fromkeys(SETUPS) | {"event": "May", "session": f"P{i + 1}", "kart": kart, "axle_teeth": n}
        for i, n in enumerate(teeth)
    ]
    for column, values in more.items():
        for row, value in zip(rows, values, strict=True):
            row[column] = value
    return pl.DataFrame(rows, schema=SETUPS)


def test_setup_sheet_names_the_change_and_the_bundle():
    laps = day(event="May")
    one = ask(laps, setups=sheet([82, 80, 80, 82]))
    assert one.setup_differences == ({"item": "axle_teeth", "before": [82], "after": [80]},)
    assert "bundle" not in one.flags
    more = ask(laps, setups=sheet([82, 80, 80, 82], tyre_set=["a", "b", "b", "a"]))
    assert "bundle" in more.flags
    links = ask(laps, setups=sheet([82, 80, 80, 82], chain_links=[104, 102, 102, 104]))
    assert "bundle" not in links.flags  # one gearing change


def test_other_setups_of_the_day_are_further_levels():
    laps = day("AABBCA", event="May")  # C is neither: plain for the simulator
    finding = ask(laps, before=["P1", "P2"], after=["P3", "P4"], setups=sheet([82, 82, 80, 80, 78, 82]))
    settings = {cell["session"]: cell["setting"] for cell in finding.cells if cell["ours"]}
    assert settings == {"P1": "before", "P2": "before", "P3": "after", "P4": "after", "P5": "other setup"}


def test_another_kart_that_changed_counts_as_a_new_one():
    setups = pl.concat([sheet([82, 80, 80, 82]), sheet([82, 82, 79, 79], kart="12")])
    finding = ask(day(event="May"), setups=setups)
    assert "12 from P3" in {cell["kart"] for cell in finding.cells}
    assert any("12 from P3" in reason for reason in finding.reasons)


def test_history_of_other_days():
    laps = day("AABB", others=3, event="May")
    past = pl.concat(
        [day("AAAA", others=3, event=name, seed=seed) for name, seed in (("a", 3), ("b", 4), ("c", 5))]
    )
    question = {"before": ["P1", "P2"], "after": ["P3", "P4"]}
    finding = ask(laps, history=past, **question)
    assert "rests_on_history" in finding.flags
    assert len(finding.settings["history_differences"]) == 9
    assert finding.dof == pytest.approx(2 + 3 * 2 * 9 / 8)  # three chains of three count 2.25 each
    assert (
        ask(laps, history=past, setups=sheet([82, 82, 80, 80]), **question).dof == 2
    )  # no entries: none counts


@pytest.mark.parametrize(
    "measure", ["lap_time", "early_laps", "late_laps", "sector_2", "top_speed", "peak_rpm"]
)
def test_history_is_in_the_measure_asked_about(measure):
    """The history's raw differences are those of our kart's own paces of that day, in that measure."""
    past = day("AAAA", others=3, event="a", seed=3)
    finding = ask(day("ABBA", others=3, event="May"), measure=measure, history=past)
    that_day = ask(past, measure=measure)
    paces = np.array([cell["pace"] for cell in that_day.cells if cell["ours"]], dtype=float)
    steps = np.diff(paces)  # NaN beside a session without a pace
    expected = steps[np.isfinite(steps)]
    assert len(expected) > 0
    assert finding.settings["history_differences"] == pytest.approx(expected, abs=1e-12)


def test_sectors_of_another_cut_are_no_history():
    """A day with two sectors, or whose sectors do not add up, tells nothing of sector 2 of three."""
    asked = {"laps": day("ABBA", others=3, event="May"), "measure": "sector_2"}
    past = day("AAAA", others=3, event="a", seed=3)
    column = pl.col("sector_times_s")
    for changed in (column.list.head(2), column.list.head(1), column.list.eval(pl.element() * 1.01)):
        finding = ask(history=past.with_columns(changed), **asked)
        assert finding.settings["history_differences"] == []
    whole = past.with_columns(sector_times_s=pl.lit(None, pl.List(pl.Float64)))
    assert ask(history=whole, **asked).settings["history_differences"] == []
    assert len(ask(history=whole, **(asked | {"measure": "lap_time"})).settings["history_differences"]) == 3


def test_alone_the_share_of_lap_noise_is_said():
    """Alone, too, the answer says whether more laps would help."""
    trend = ask(day("ABBABAAB", others=0), before=["P1", "P4", "P6", "P7"], after=["P2", "P3", "P5", "P8"])
    single = ask(day("AB", others=0), before=["P1"], after=["P2"], history=[0.1, -0.1, 0.05, -0.12, 0.09])
    noise = [cell["variance"] for cell in single.cells]
    raw = np.var([0.1, -0.1, 0.05, -0.12, 0.09], ddof=1) / 2
    assert single.lap_noise_share == pytest.approx(min(1, np.mean(noise) / raw))
    for finding in (trend, single):
        assert 0 < finding.lap_noise_share <= 1
        assert any("lap noise" in reason for reason in finding.reasons)


def test_same_laps_same_fingerprint():
    laps = day()
    assert ask(laps).fingerprint == ask(laps).fingerprint
    changed = laps.with_columns(lap_time_s=pl.col("lap_time_s") + 0.001)
    assert ask(laps).fingerprint != ask(changed).fingerprint
    clocks = (
        pl.when(pl.col("kart") == "11").then(pl.col("clock").cast(pl.Int64) + 7 * 10**9).otherwise("clock")
    )
    later = laps.with_columns(clock=clocks.cast(pl.Time))
    assert ask(laps).fingerprint != ask(later).fingerprint  # another kart's clock: other traffic is seen


def test_a_history_that_two_other_karts_contradict_is_left_out():
    laps = day("AB", others=2, seed=3)
    question = {"laps": laps, "before": ["P1"], "after": ["P2"]}
    believed = ask(history=[0.3, -0.2, 0.25, -0.4, 0.1, -0.3, 0.2, 0.35], **question)
    assert believed.dof == 1 + 8
    assert "rests_on_history" in believed.flags
    contradicted = ask(history=[0.0002, -0.0001] * 4, **question)
    assert contradicted.verdict == "cannot be told"
    assert "history_left_out" in contradicted.flags
    assert any("left out" in reason for reason in contradicted.reasons)


def test_checks_without_an_answer_blame_no_other_kart():
    laps = day().filter(
        ~((pl.col("kart") == "07") & (pl.col("session").is_in(["P1", "P4"])) & (pl.col("lap") > 2))
    )
    finding = ask(laps)
    assert finding.verdict == "cannot be told"
    said = {name: sentence for name, _, sentence in finding.checks}
    assert said["other karts"] == "No answer, so nothing was compared with the other karts."
    assert said["placebo"].startswith("No answer") or not finding.placebo
    assert said["consistency"].startswith("No answer")
    alone = ask(day().filter(pl.col("kart") == "07"))
    assert "No other karts on track" in {name: text for name, _, text in alone.checks}["other karts"]
