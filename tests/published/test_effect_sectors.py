"""The table of sectors: Bonferroni intervals, Holm p values, errors of the size that a sector has of the lap."""

import numpy as np
import polars as pl
import pytest
from scipy.stats import t as student
from statsmodels.stats.multitest import multipletests

import lapdelta
from lapdelta.tables import LAPS

SHARES = np.array([0.3, 0.45, 0.25])


def day(order, others=6):
    """Every sector is its share of the lap; the change costs .3 s in the second sector alone."""
    rng = np.random.default_rng(11)
    rows = []
    for s, setting in enumerate(order):
        for k in range(others + 1):
            pace = 50 + 0.1 * k + rng.normal(0, 0.1)
            for lap in range(1, 11):
                parts = SHARES * (pace + rng.normal(0, 0.1) + 5 * (lap == 1))
                parts[1] += 0.3 * (setting == "B") * (k == 0)
                rows.append(
                    dict.fromkeys(LAPS)
                    | {"session": f"P{s + 1}", "kart": str(k), "lap": lap}
                    | {"lap_time_s": float(parts.sum()), "sector_times_s": parts.tolist(), "marks": []}
                )
    return pl.DataFrame(rows, schema=LAPS)


@pytest.mark.parametrize("order", ["ABBA", "AABB"])
def test_table_of_sectors(order):
    sides = {
        name: [f"P{i + 1}" for i, letter in enumerate(order) if letter == side]
        for name, side in (("before", "A"), ("after", "B"))
    }
    finding = lapdelta.compare(day(order), kart="0", **sides)
    assert finding.method == ("interleaved" if order == "ABBA" else "blocked")
    rows = finding.sectors
    assert len(rows) == 3
    # three intervals of together 95 %: 1 - .05/3 each, two-sided
    times = student.ppf(1 - 0.05 / 6, finding.dof)
    for row, share in zip(rows, SHARES, strict=True):
        assert row["high"] - row["estimate"] == pytest.approx(times * row["standard_error"])
        assert row["estimate"] - row["low"] == pytest.approx(times * row["standard_error"])
        p = 2 * student.sf(abs(row["estimate"]) / row["standard_error"], finding.dof)
        assert row["p_value"] == pytest.approx(p)
        # a sector scatters by its share of what the lap does; the lap's scale has a floor, so never much more
        assert 0.5 * share < row["standard_error"] / finding.standard_error < 1.2 * share
    adjusted = multipletests([row["p_value"] for row in rows], method="holm")[1]
    assert [row["holm_p"] for row in rows] == pytest.approx(list(adjusted))
    assert [row["named"] for row in rows] == [bool(p < 0.05) for p in adjusted]


def test_a_lap_that_tells_nothing_tells_no_sectors():
    """One other kart and no history: no answer for the lap, and no table that would look like one."""
    finding = lapdelta.compare(day("AABB", others=1), kart="0", before=["P1", "P2"], after=["P3", "P4"])
    assert finding.verdict == "cannot be told"
    assert finding.sectors == ()
