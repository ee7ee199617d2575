"""What must not move the answer, and what must move it by a known amount. Common practice, no source."""

import datetime as dt

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import lapdelta
from lapdelta.effect.sharp import sharp_pace
from lapdelta.question.arrays import day_of, order_sessions
from lapdelta.tables import LAPS

#: Sums in another order differ in their last digits, and the search for tau^2 with them.
NEAR = 1e-6
NUMBERS = ("estimate", "standard_error", "dof", "low", "high", "p_value", "smallest_margin", "tipping_rate")
orders = st.sampled_from(["AB", "AABB", "ABA", "ABBA", "ABAB"])
seeds = st.integers(0, 10_000)
columns = st.sampled_from([(), ("sectors",), ("clocks",), ("sectors", "clocks")])
few = settings(max_examples=8, deadline=None)


def day(order, seed, columns=(), others=5):
    """Rows of a day, ours kart 10: an out lap, warm-up, traffic, the odd mark and missing time."""
    rng = np.random.default_rng(seed)
    rows = []
    for s in range(len(order)):
        for k in range(others + 1):
            pace, at = 48 + 0.1 * k - 0.1 * s + rng.normal(0, 0.1), 3600 * (9 + s) + rng.uniform(0, 60)
            for i in range(int(rng.integers(8, 12))):
                late = 5.0 if i == 0 else 0.4 * 0.5**i + rng.exponential(0.6) * (rng.random() < 0.2)
                parts = [
                    round(x, 3) for x in np.array([0.3, 0.45, 0.25]) * (pace + late) + rng.normal(0, 0.1, 3)
                ]
                time = round(sum(parts), 3)
                at += time
                row = dict.fromkeys(LAPS) | {
                    "session": f"S{s + 1}",
                    "kart": str(10 + k),
                    "lap": i + 1,
                    "lap_time_s": None if rng.random() < 0.01 else time,
                    "sector_times_s": parts if "sectors" in columns else None,
                    "clock": clock(at) if "clocks" in columns else None,
                    "marks": ["invalid"] if rng.random() < 0.02 else [],
                }
                rows.append(row)
    return rows


def clock(seconds):
    return (dt.datetime(2026, 5, 16) + dt.timedelta(seconds=seconds)).time()


def sides(order, names="S{}"):
    """Labels before and after."""
    before, after = ([names.format(i + 1) for i, x in enumerate(order) if x == side] for side in "AB")
    return {"before": before, "after": after}


def ask(rows, kart="10", **question):
    return lapdelta.compare(pl.DataFrame(rows, schema=LAPS), kart=kart, **question)


def assert_same(one, other, near=NEAR):
    assert one.verdict == other.verdict
    assert one.method == other.method
    for name in NUMBERS:
        assert getattr(one, name) == pytest.approx(getattr(other, name), abs=near), name
    assert sum(c["kept"] for c in one.cells) == sum(c["kept"] for c in other.cells)


def slower(row, seconds):
    """The lap with that much more time, all of it in the last sector."""
    if row["lap_time_s"] is None:
        return row
    parts = row["sector_times_s"]
    more = {"sector_times_s": [*parts[:-1], parts[-1] + seconds]} if parts else {}
    return row | {"lap_time_s": row["lap_time_s"] + seconds} | more


@few
@given(orders, seeds, st.sampled_from([(), ("sectors",)]), st.sampled_from([-0.5, 0.25, 1.0]))
def test_a_slower_day_for_everybody_changes_nothing(order, seed, columns, seconds):
    rows = day(order, seed, columns)
    assert_same(ask([slower(row, seconds) for row in rows], **sides(order)), ask(rows, **sides(order)))


@few
@given(orders, seeds, st.sampled_from([(), ("sectors",)]), st.floats(-0.5, 0.5))
def test_a_shift_of_our_laps_after_the_change_is_found_whole(order, seed, columns, seconds):
    rows, question = day(order, seed, columns), sides(order)
    moved = [
        slower(row, seconds) if row["kart"] == "10" and row["session"] in question["after"] else row
        for row in rows
    ]
    now, then = ask(moved, **question), ask(rows, **question)
    assert now.estimate - then.estimate == pytest.approx(seconds, abs=NEAR)
    assert now.standard_error == pytest.approx(then.standard_error, abs=NEAR)


@few
@given(seeds, st.floats(-0.5, 0.5), st.sampled_from(["clocks", "sectors and clocks"]))
def test_with_traffic_kept_as_it_was_a_shift_moves_the_sharp_pace_by_itself(seed, seconds, source):
    rows, order = day("AB", seed, ("sectors", "clocks")), "AB"
    paces = []
    for table in (
        rows,
        [slower(r, seconds) if (r["kart"], r["session"]) == ("10", "S2") else r for r in rows],
    ):
        laps = pl.DataFrame(table, schema=LAPS)
        whole = day_of(laps, "10", order_sessions(laps, "10", ["S1", "S2"]), {"S1": 0, "S2": 1})
        stretches = 3 if "sectors" in source else 1
        shape = (stretches, *whole.cube.time_s.shape)
        classes = np.random.default_rng(seed).integers(0, len("01234"), shape)
        paces.append(sharp_pace(whole.cube, source, classes).cells.pace)
    expected = np.zeros_like(paces[0])
    expected[0, len(order) - 1] = seconds
    np.testing.assert_allclose(paces[1] - paces[0], expected, atol=1e-9)


@few
@given(orders, seeds, columns)
def test_after_and_before_swapped_flip_the_sign(order, seed, columns):
    rows, question = day(order, seed, columns), sides(order)
    one, other = ask(rows, **question), ask(rows, before=question["after"], after=question["before"])
    assert one.estimate == pytest.approx(-other.estimate, abs=NEAR)
    assert (one.low, one.high) == pytest.approx((-other.high, -other.low), abs=NEAR)
    assert one.standard_error == pytest.approx(other.standard_error, abs=NEAR)
    assert one.tipping_rate == pytest.approx(other.tipping_rate, abs=NEAR)


@few
@given(orders, seeds, columns, st.randoms(use_true_random=False))
def test_karts_may_stand_in_any_order_and_have_any_name(order, seed, columns, random):
    rows = day(order, seed, columns)
    karts = sorted({row["kart"] for row in rows})
    names = dict(zip(karts, random.sample([str(n) for n in range(100, 200)], len(karts)), strict=True))
    place = dict(zip(karts, random.sample(range(len(karts)), len(karts)), strict=True))
    renamed = [row | {"kart": names[row["kart"]]} for row in sorted(rows, key=lambda row: place[row["kart"]])]
    assert_same(ask(renamed, kart=names["10"], **sides(order)), ask(rows, **sides(order)))


@few
@given(orders, seeds, columns, st.integers(-1, 5))
def test_the_number_of_the_first_lap_does_not_matter(order, seed, columns, first):
    rows = day(order, seed, columns)
    renumbered = [row | {"lap": row["lap"] + first} for row in rows]
    assert_same(ask(renumbered, **sides(order)), ask(rows, **sides(order)), near=0.0)


@few
@given(orders, seeds, st.booleans(), st.randoms(use_true_random=False))
def test_with_clocks_neither_labels_nor_places_of_the_sessions_matter(order, seed, sectors, random):
    rows = day(order, seed, ("sectors", "clocks") if sectors else ("clocks",))
    sessions = [f"S{i + 1}" for i in range(len(order))]
    names = dict(
        zip(sessions, random.sample(["S9", "warm up", "Q", "S1", "S4", "b"], len(order)), strict=True)
    )
    place = dict(zip(sessions, random.sample(range(len(order)), len(order)), strict=True))
    table = sorted(rows, key=lambda row: place[row["session"]])
    question = {side: [names[label] for label in labels] for side, labels in sides(order).items()}
    moved = ask([row | {"session": names[row["session"]]} for row in table], **question)
    assert_same(moved, ask(rows, **sides(order)))


@few
@given(orders, seeds, columns, st.floats(0.05, 0.5))
def test_a_line_that_stands_twice_counts_once(order, seed, columns, share):
    rows = day(order, seed, columns)
    rng = np.random.default_rng(seed)
    twice = [row for row in rows for _ in range(1 + (rng.random() < share))]
    one, other = ask(twice, **sides(order)), ask(rows, **sides(order))
    assert_same(one, other)
    assert one.settings["pace"] == other.settings["pace"]


@few
@given(orders, seeds, st.sampled_from([("sectors",), ("sectors", "clocks")]))
def test_the_shifts_of_the_sectors_add_up_to_the_lap(order, seed, columns):
    finding = ask(day(order, seed, columns), **sides(order))
    assert sum(row["estimate"] for row in finding.sectors) == pytest.approx(finding.estimate, abs=1e-10)


def test_a_session_without_any_other_kart_is_not_in_the_tipping_rate():
    rows = [row for row in day("ABAB", 4, ("clocks",)) if row["kart"] == "10" or row["session"] != "S3"]
    finding = ask(rows, **sides("ABAB"))
    assert finding.method == "blocked"
    hours = (1 + 3) / 2 - 0  # S2 and S4 after S1; S3 is compared with nobody
    assert finding.estimate / finding.tipping_rate == pytest.approx(hours, abs=0.1)
