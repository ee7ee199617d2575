"""Season: Fieller's interval, random effects with a moderator, pooled slopes; against numbers somebody else printed."""

import json
import math
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from scipy.special import stdtrit

import lapdelta
import lapdelta.seasons
from lapdelta.effect.scale import knapp_hartung, reml_tau2
from lapdelta.effect.season_between import averaged, given
from lapdelta.effect.season_cells import DayCells
from lapdelta.effect.season_fit import fit_response
from lapdelta.effect.season_pool import leave_one_out, pool
from lapdelta.effect.season_response import fieller
from lapdelta.setups import read_setup_csv
from sample_sessions import FOLDER, SETUP_SHEET, TRUTH

#: Thirteen BCG trials: log relative risk and its variance follow from cases and group totals
#: (Colditz et al. 1994, as in R package HSAUR), with absolute latitude (Berkey et al. 1995; from memory).
BCG = np.array(
    [
        (4, 123, 11, 139, 44), (6, 306, 29, 303, 55), (3, 231, 11, 220, 42), (62, 13598, 248, 12867, 52),
        (33, 5069, 47, 5808, 13), (180, 1541, 372, 1451, 44), (8, 2545, 10, 629, 19), (505, 88391, 499, 88391, 13),
        (29, 7499, 45, 7277, 27), (17, 1716, 65, 1665, 42), (186, 50634, 141, 27338, 18), (5, 2498, 3, 2341, 33),
        (27, 16913, 29, 17854, 33),
    ],
    float,
)  # fmt: skip


def test_bcg_with_latitude() -> None:
    """Manual of the R package metafor, dat.bcg (from memory): tau2 .0764, .2515 (.2491), -.0291 (.0072)."""
    a, n1, c, n2, latitude = BCG.T
    y, v = np.log(a / n1 / (c / n2)), 1 / a - 1 / n1 + 1 / c - 1 / n2
    X = np.stack([np.ones(13), latitude], axis=1)
    tau2 = reml_tau2(X, y, v)
    weights = 1 / (v + tau2)
    covariance = np.linalg.inv(X.T @ (weights[:, None] * X))
    coefficients, _, _ = knapp_hartung(X, y, v, tau2)
    assert tau2 == pytest.approx(0.0764, abs=3e-4)  # their search stops a little early
    assert coefficients == pytest.approx([0.2515, -0.0291], abs=3e-4)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([0.2491, 0.0072], abs=3e-4)


#: Reaction of 18 subjects on days 0 to 9 (Belenky et al. 2003, as in R package lme4): slopes that differ.
SLEEP = np.array(
    json.loads((Path(__file__).parent.parent / "data" / "sleepstudy.json").read_text())["reaction_ms"]
)
SLEEP_SIGMA, SLEEP_OMEGA = 25.592, 5.922


def sleep_information() -> np.ndarray:
    """What each subject tells of the slope and y, its own level taken out: 18 by 2 by 2."""
    day = np.arange(10.0) - 4.5
    rows = [np.stack([day, y - y.mean()]) for y in SLEEP]
    return np.stack([row @ row.T for row in rows])


def test_days_that_differ_in_slope_give_the_answer_of_sleepstudy() -> None:
    """Bates et al. 2015, J. Stat. Software 67(1), from memory: slope 10.467 (1.546), sds 25.592 and 5.922."""
    slope, covariance, _ = given(sleep_information() / SLEEP_SIGMA**2, [0], np.array([SLEEP_OMEGA]))
    assert slope[0, 0] == pytest.approx(10.467, abs=5.1e-4)
    assert math.sqrt(covariance[0, 0, 0]) == pytest.approx(1.546, abs=5.1e-4)


def test_the_likelihood_of_the_days_difference_is_highest_where_lme4_finds_it() -> None:
    """The same fit: restricted likelihood highest at 5.922 (levels and slopes hardly correlated: .066)."""
    omegas = np.arange(4.0, 8.0, 0.01)
    logs = given(sleep_information() / SLEEP_SIGMA**2, [0], omegas)[2]
    assert omegas[int(np.argmax(logs))] == pytest.approx(SLEEP_OMEGA, abs=0.02)


def test_the_average_over_the_days_difference_draws_towards_its_prior() -> None:
    """With a prior much narrower than the truth the interval is between those of alike and of differing days."""
    information = sleep_information()
    alike = averaged(information, [0], SLEEP_SIGMA**2, 0.0)
    mean = averaged(information, [0], SLEEP_SIGMA**2, 2.0)
    wide = averaged(information, [0], SLEEP_SIGMA**2, 20.0)
    assert alike.omega == 0
    assert alike.covariance[0, 0] == pytest.approx(
        SLEEP_SIGMA**2 / (18 * 82.5)
    )  # ten days: sum of squares 82.5
    assert alike.covariance[0, 0] < mean.covariance[0, 0] < wide.covariance[0, 0]
    assert math.sqrt(wide.covariance[0, 0]) == pytest.approx(1.546, rel=0.15)
    assert [one.coefficients[0] for one in (alike, mean, wide)] == pytest.approx([10.467] * 3, abs=1e-3)


#: Nineteen studies of teachers' expectancy, Raudenbush 1984 table: difference and its variance; from memory, the
#: results below are those of Raudenbush 2009 (Handbook of Research Synthesis, 2nd ed., ch. 16) as tested in metafor.
EXPECTANCY = np.array(
    [
        (0.03, 0.0156), (0.12, 0.0216), (-0.14, 0.0279), (1.18, 0.1391), (0.26, 0.1362), (-0.06, 0.0106),
        (-0.02, 0.0106), (-0.32, 0.0484), (0.27, 0.0269), (0.80, 0.0630), (0.54, 0.0912), (0.18, 0.0497),
        (-0.02, 0.0835), (0.23, 0.0841), (-0.18, 0.0253), (-0.06, 0.0279), (0.30, 0.0193), (0.07, 0.0088),
        (-0.07, 0.0303),
    ],
)  # fmt: skip


def test_raudenbush_expectancy() -> None:
    y, v = EXPECTANCY.T
    ones = np.ones((19, 1))
    tau2 = reml_tau2(ones, y, v)
    mean, error, dof = knapp_hartung(ones, y, v, tau2, floor=0.0)
    assert tau2 == pytest.approx(0.0188, abs=1e-4)
    assert mean[0] == pytest.approx(0.0837, abs=1e-4)
    assert error[0] == pytest.approx(0.0616, abs=1e-4)
    assert mean[0] / error[0] == pytest.approx(1.3593, abs=1e-3)
    half = stdtrit(dof, 0.975) * error[0]
    assert [mean[0] - half, mean[0] + half] == pytest.approx([-0.0457, 0.2131], abs=2e-4)


def test_fieller_of_a_ratio() -> None:
    """Public test of the package DCSTATS (repository DCPROGS/DCSTATS, tests/test_fieller.py), after Finney:
    14 (SD 3) over 7 (SD 2), uncorrelated, 10 df, level 90 %: 1.051413 to 4.414296, ratio 2.
    """
    t = float(stdtrit(10, 0.95))
    found = fieller(14, 7, 9, 0, 4, t)
    assert found.kind == "interval"
    assert [found.low, found.high] == pytest.approx([1.051413, 4.414296], rel=1e-4)
    assert t * t * 4 / 49 == pytest.approx(0.268164, rel=1e-3)  # their g


def test_fieller_without_a_known_denominator() -> None:
    """Fieller's own cases: 0 outside of the rays when only the numerator is told, everything when nothing is."""
    rays = fieller(5, 1, 1, 0, 1, 2)
    assert rays.kind == "outside"
    assert rays.low < 0 < rays.high
    assert fieller(1, 1, 1, 0, 1, 2).kind == "everything"


def test_equal_precision_pools_to_the_plain_mean() -> None:
    """Satterthwaite 1946: equal variances and df add their df; the mean's SE is SE/sqrt(D)."""
    found = pool([-0.2, -0.3, -0.4], [0.15] * 3, [10] * 3)
    assert found.estimate == pytest.approx(-0.3)
    assert found.standard_error == pytest.approx(0.15 / math.sqrt(3))
    assert found.dof == pytest.approx(30)
    assert [one.estimate for one in leave_one_out([-0.2, -0.3, -0.4], [0.15] * 3, [10] * 3)] == pytest.approx(
        [-0.35, -0.3, -0.25]
    )


def test_satterthwaite_with_unequal_variances() -> None:
    """NIST/SEMATECH e-Handbook 1.3.5.3 formula for two variances: 4 (df 9) and 1 (df 4): 25/(16/9 + 1/4)."""
    assert pool([0, 0], [2, 1], [9, 4]).dof == pytest.approx(25 / (16 / 9 + 1 / 4))


def test_season_fit_is_the_dense_least_squares_fit() -> None:
    """Against plain generalised least squares over all columns at once (numpy), the same tau2."""
    rng = np.random.default_rng(3)
    days = [_day(rng) for _ in range(4)]
    found = fit_response(days, 2)
    assert not isinstance(found, str)
    X, y, v = _dense(days, found.centre, found.scale)
    w = 1 / (v + found.tau2)
    inverse = np.linalg.pinv(X.T @ (w[:, None] * X), rcond=1e-12)
    beta = inverse @ (X.T @ (w * y))
    rest = y - X @ beta
    dof = len(y) - np.linalg.matrix_rank(X)
    assert found.dof == dof
    assert found.coefficients == pytest.approx(beta[-2:], abs=1e-8)
    scale = max(1.0, float(rest @ (w * rest)) / dof)
    assert found.covariance == pytest.approx(scale * inverse[-2:, -2:], abs=1e-8)


def _day(rng: np.random.Generator) -> DayCells:
    karts, sessions = 7, 5
    x = rng.choice([1.97, 1.98, 1.99, 2.0, 2.02], sessions)
    pace = (
        rng.normal(50, 0.5, (karts, 1))
        + rng.normal(0, 0.3, sessions)
        + rng.normal(0, 0.12, (karts, sessions))
    )
    pace[0] += 200 * (x - 1.99) ** 2
    pace[3, 2] = np.nan
    variance = np.broadcast_to(rng.uniform(0.003, 0.01, (karts, 1)), pace.shape).copy()
    return DayCells(pace, variance, x, np.zeros((sessions, 0)), np.arange(sessions, dtype=float))


def _dense(days: list[DayCells], centre: float, scale: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rows, y, v = [], [], []
    for d, day in enumerate(days):
        karts, sessions = day.pace.shape
        for k, s in zip(*np.nonzero(np.isfinite(day.pace)), strict=True):
            row = np.zeros(len(days) * (karts + sessions + 1) + 2)
            row[d * karts + k] = row[len(days) * karts + d * sessions + s] = 1
            if k == 0:
                z = (day.x[s] - centre) / scale
                row[len(days) * (karts + sessions) + d], row[-2], row[-1] = day.time[s], z, z * z
            rows.append(row)
            y.append(day.pace[k, s])
            v.append(day.variance[k, s])
    return np.array(rows), np.array(y), np.array(v)


@pytest.fixture(scope="module")
def sample() -> lapdelta.seasons.SeasonFinding:
    truth = json.loads(TRUTH.read_text(encoding="utf-8"))
    files = [
        lapdelta.read_timing(FOLDER / file["file"]).laps.select(
            pl.lit(file["event"]).alias("event"), pl.all()
        )
        for file in truth["files"]
    ]
    events = pl.read_csv(FOLDER / "events.csv", infer_schema=False).with_columns(pl.col("date").str.to_date())
    return lapdelta.season(pl.concat(files), setups=read_setup_csv(SETUP_SHEET), events=events)


def test_the_sample_season_covers_the_curve_that_made_it(sample: lapdelta.seasons.SeasonFinding) -> None:
    truth = json.loads(TRUTH.read_text(encoding="utf-8"))["tracks"]
    for track in sample.tracks:
        gearing = truth[track["track"].split(",")[0]]["gearing"]
        loss = {float(n): value for n, value in gearing["loss_s_by_axle_teeth"].items()}
        for row in track["curve"]:
            if row["value"] in loss:
                true = loss[row["value"]] - loss[track["reference"]]
                assert row["band_low"] - 1e-9 <= true <= row["band_high"] + 1e-9
        if track["state"] == "found":
            assert track["best_low"] <= gearing["best_axle_teeth"] <= track["best_high"]


def test_the_sample_season_names_what_it_left_out(sample: lapdelta.seasons.SeasonFinding) -> None:
    assert [(row["event"], row["session"], row["reason"]) for row in sample.left_out] == [
        ("2025-08-17", "P1", "fewer than three usable laps"),
        ("2025-07-20", "P4", "track state: wet"),
    ]
    assert sample.tracks[0]["state"] == "found"
    assert lapdelta.seasons.SeasonFinding.from_json(sample.to_json()).to_dict() == sample.to_dict()
