"""What the few other karts did between the other sessions of the day: when it counts, and what it is worth."""

import numpy as np
import polars as pl
import pytest
from simulated.simulator import Scenario, simulate

from lapdelta import compare
from lapdelta.effect.finding import Finding
from lapdelta.effect.steps import OtherSteps, chain_count, other_steps


def day(others: int = 3, sessions: int = 6, seed: int = 4) -> pl.DataFrame:
    made = simulate(Scenario("A" * sessions, others), np.random.default_rng(seed))
    rows = [
        {"session": session, "kart": kart, "lap": lap + 1, "lap_time_s": float(time)}
        for k, kart in enumerate(made.karts)
        for s, session in enumerate(made.sessions)
        for lap, time in enumerate(made.cube.time_s[k, s])
        if np.isfinite(time)
    ]
    return pl.DataFrame(rows)


def ask(laps: pl.DataFrame, before: str, after: str, history: list[float] | None = None) -> Finding:
    return compare(laps, kart="ours", before=[before], after=[after], history=history)


def test_a_step_in_the_middle_of_the_day_rests_on_the_others_too() -> None:
    laps = day()
    found = ask(laps, "P3", "P4")
    alone = ask(laps.filter(pl.col("session").is_in(["P3", "P4"])), "P3", "P4")
    assert "rests_on_other_steps" in found.flags
    assert any("between the day's other sessions, too" in reason for reason in found.reasons)
    assert "rests_on_other_steps" not in alone.flags
    # Three other karts leave 2 df; their four other steps are chained with this one: 2n^2/(3n - 1).
    assert alone.dof == pytest.approx(2.0)
    assert found.dof == pytest.approx(2.0 * chain_count(5))
    back = ask(laps, "P4", "P3")
    assert (back.estimate, back.dof) == pytest.approx((-(found.estimate or 0.0), found.dof))
    assert found.estimate == pytest.approx(alone.estimate, abs=0.1)


@pytest.mark.parametrize(
    ("before", "after", "others"),
    [("P1", "P2", 3), ("P3", "P5", 3), ("P3", "P4", 12)],
    ids=["the first step", "no neighbours", "many other karts"],
)
def test_where_they_do_not_count(before: str, after: str, others: int) -> None:
    assert "rests_on_other_steps" not in ask(day(others), before, after).flags


def test_a_history_of_our_own_kart_comes_first() -> None:
    found = ask(day(), "P3", "P4", history=[0.1, -0.2, 0.15, -0.1, 0.2])
    assert "rests_on_history" in found.flags
    assert "rests_on_other_steps" not in found.flags


def test_a_step_that_scatters_far_more_than_the_others_is_judged_by_itself() -> None:
    laps = day()
    moved = pl.col("kart").replace_strict({"k1": 1.5, "k2": -1.5}, default=0.0)
    odd = laps.with_columns(
        lap_time_s=pl.col("lap_time_s") + pl.when(pl.col("session") >= "P4").then(moved).otherwise(0.0)
    )
    found = ask(odd, "P3", "P4")
    assert "rests_on_other_steps" not in found.flags
    assert any("moved more here" in reason for reason in found.reasons)
    assert found.dof == pytest.approx(2.0)


def test_laps_of_the_other_sessions_are_part_of_the_fingerprint() -> None:
    laps = day()
    changed = laps.with_columns(
        lap_time_s=pl.when((pl.col("kart") == "k1") & (pl.col("session") == "P6"))
        .then(pl.col("lap_time_s") + 0.5)
        .otherwise(pl.col("lap_time_s"))
    )
    one, other = ask(laps, "P3", "P4"), ask(changed, "P3", "P4")
    assert one.fingerprint != other.fingerprint
    assert one.standard_error != other.standard_error


def test_the_scatter_is_that_of_ordinary_sample_variances() -> None:
    rng = np.random.default_rng(3)
    difference = rng.normal(0, 0.2, (4, 5))
    difference[1, 2] = np.nan
    steps = OtherSteps(difference, np.full((4, 5), 0.04))
    squares, dof = steps.scatter(np.array([0.0]), np.ones((1, 5), np.bool_))
    worth = (chain_count(5) - 1) / 4
    rows = [row[np.isfinite(row)] for row in difference]
    # numpy's sample variance, with n - 1, over each step
    assert squares[0] == pytest.approx(
        worth * sum(np.var(row, ddof=1) * (len(row) - 1) for row in rows) / 0.04
    )
    assert dof[0] == pytest.approx(worth * sum(len(row) - 1 for row in rows))
    without_a_kart = steps.scatter(np.array([0.0]), np.array([[True, True, False, True, True]]))
    assert without_a_kart[1][0] == pytest.approx(worth * 12)


def test_too_few_steps_are_none() -> None:
    pace = np.arange(12.0).reshape(3, 4)
    assert other_steps(pace, pace, 1, 2) is not None
    assert other_steps(pace[:, :3], pace[:, :3], 1, 2) is None  # only the first step is left
