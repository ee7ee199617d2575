"""Variance between groups, and meta-analyses, against numbers printed elsewhere. Every source beside its number.

Balanced data, so the restricted likelihood of the group means is that of the whole mixed model.
"""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.special import stdtr, stdtrit

from lapdelta.effect.scale import knapp_hartung, least_squares, reml_tau2
from lapdelta.effect.season_pool import pool

#: Yield of dyestuff, g, five preparations from each of six batches; Davies & Goldsmith 1972, as in R
#: package lme4 (Dyestuff); and made-up data with hardly any variance between batches, Box & Tiao 1973
#: (Dyestuff2).
DYESTUFF = np.array(
    [[1545, 1440, 1440, 1520, 1580], [1540, 1555, 1490, 1560, 1495], [1595, 1550, 1605, 1510, 1560],
     [1445, 1440, 1595, 1465, 1545], [1595, 1630, 1515, 1635, 1625], [1520, 1455, 1450, 1480, 1445]],
    float,
)  # fmt: skip
DYESTUFF_2 = np.array(
    [[7.298, 3.846, 2.434, 9.566, 7.990], [5.220, 6.556, 0.608, 11.788, -0.892],
     [0.110, 10.386, 13.434, 5.510, 8.166], [2.212, 4.852, 7.092, 9.288, 4.980],
     [0.282, 9.014, 4.458, 9.446, 7.198], [1.722, 4.782, 8.106, 0.758, 3.758]]
)  # fmt: skip
ONES = np.ones((6, 1))


def test_dyestuff():
    """Bates et al., lme4, from memory, recomputed: variances 1764.05 and 2451.25, mean 1527.5 (19.383)."""
    within = DYESTUFF.var(axis=1, ddof=1).mean()
    means, noise = DYESTUFF.mean(axis=1), np.full(6, within / 5)
    assert within == pytest.approx(2451.25, abs=5e-3)
    tau2 = reml_tau2(ONES, means, noise)
    assert tau2 == pytest.approx(1764.05, abs=5e-3)  # half a unit of the last printed digit
    mean, error, _ = knapp_hartung(ONES, means, noise, tau2)
    assert mean[0] == pytest.approx(1527.5, abs=1e-9)
    assert error[0] == pytest.approx(19.383, abs=5e-4)


def test_dyestuff_2_lies_on_the_boundary():
    """Bates et al., lme4, from memory, recomputed: variance 0 between batches, 13.806 within; 5.6656 (.6784)."""
    scatter = least_squares(np.ones((30, 1)), DYESTUFF_2.ravel())
    residual = scatter.residual_squares / scatter.dof  # without a batch effect all thirty are one sample
    assert residual == pytest.approx(13.806, abs=5e-4)
    means, noise = DYESTUFF_2.mean(axis=1), np.full(6, residual / 5)
    tau2 = reml_tau2(ONES, means, noise)
    assert tau2 == 0
    mean, error, _ = knapp_hartung(ONES, means, noise, tau2)
    assert mean[0] == pytest.approx(5.6656, abs=5e-5)
    assert error[0] == pytest.approx(0.6784, abs=5e-5)  # the floor of 1 keeps the model's own error


def test_sleepstudy():
    """Bates et al. 2015, J. Stat. Software 67(1), from memory, recomputed.

    Intercept 251.405 (6.825), slope 10.467 (1.546); standard deviations 24.741, 5.922 and 25.592.
    """
    folder = Path(__file__).parent.parent / "data"
    reaction = np.array(json.loads((folder / "sleepstudy.json").read_text())["reaction_ms"])
    X = np.column_stack([np.ones(10), np.arange(10.0)])
    fits = [least_squares(X, y) for y in reaction]
    within = sum(fit.residual_squares for fit in fits) / sum(fit.dof for fit in fits)
    assert np.sqrt(within) == pytest.approx(25.592, abs=5e-4)
    ones = np.ones((18, 1))
    for column, (mean, error, sd) in enumerate([(251.405, 6.825, 24.741), (10.467, 1.546, 5.922)]):
        values = np.array([fit.coefficients[column] for fit in fits])
        noise = np.full(18, within * fits[0].unscaled_covariance[column, column])
        tau2 = reml_tau2(ones, values, noise)
        found, se, dof = knapp_hartung(ones, values, noise, tau2)
        assert found[0] == pytest.approx(mean, abs=5.1e-4)
        assert se[0] == pytest.approx(error, abs=5.1e-4)
        assert np.sqrt(tau2) == pytest.approx(sd, abs=1e-3)  # lme4's optimiser stops at about 1e-5 relative
        assert dof == 17


#: Effect of induced teachers' expectations on pupils' test scores, nineteen studies: effect, variance, weeks
#: of contact before (3 = three or more). Raudenbush 1984, 2009; values from memory.
EXPECTANCY = np.array(
    [(0.03, 0.0156, 2), (0.12, 0.0216, 3), (-0.14, 0.0279, 3), (1.18, 0.1391, 0), (0.26, 0.1362, 0),
     (-0.06, 0.0106, 3), (-0.02, 0.0106, 3), (-0.32, 0.0484, 3), (0.27, 0.0269, 0), (0.80, 0.0630, 1),
     (0.54, 0.0912, 0), (0.18, 0.0497, 0), (-0.02, 0.0835, 1), (0.23, 0.0841, 2), (-0.18, 0.0253, 3),
     (-0.06, 0.0279, 3), (0.30, 0.0193, 1), (0.07, 0.0088, 2), (-0.07, 0.0303, 3)]
)  # fmt: skip


def test_raudenbush():
    """Results in the tests of R package metafor (Debian source), after Raudenbush 2009; four decimals."""
    y, v, weeks = EXPECTANCY.T
    X = np.ones((19, 1))
    tau2 = reml_tau2(X, y, v)
    plain = least_squares(X, y, 1 / (v + tau2))
    assert tau2 == pytest.approx(0.0188, abs=1e-4)  # printed to four, found by an iteration that stops early
    assert plain.coefficients[0] == pytest.approx(0.0837, abs=1e-4)
    assert plain.coefficients[0] / np.sqrt(plain.unscaled_covariance[0, 0]) == pytest.approx(1.6208, abs=1e-3)
    beta, se, dof = knapp_hartung(X, y, v, tau2, floor=0.0)
    half = stdtrit(dof, 0.975) * se[0]
    assert se[0] == pytest.approx(0.0616, abs=1e-4)
    assert beta[0] / se[0] == pytest.approx(1.3593, abs=1e-3)
    assert [beta[0] - half, beta[0] + half] == pytest.approx([-0.0457, 0.2131], abs=1e-4)
    with_weeks = np.column_stack([X, weeks])
    assert reml_tau2(with_weeks, y, v) == pytest.approx(0, abs=1e-4)
    fit = least_squares(with_weeks, y, 1 / v)
    assert fit.coefficients == pytest.approx([0.4072, -0.1572], abs=1e-4)


#: Thirteen trials of BCG vaccine: cases and totals, vaccinated and not, latitude, year; Colditz et al. 1994.
BCG = np.array(
    [(4, 123, 11, 139, 44, 1948), (6, 306, 29, 303, 55, 1949), (3, 231, 11, 220, 42, 1960),
     (62, 13598, 248, 12867, 52, 1977), (33, 5069, 47, 5808, 13, 1973), (180, 1541, 372, 1451, 44, 1953),
     (8, 2545, 10, 629, 19, 1973), (505, 88391, 499, 88391, 13, 1980), (29, 7499, 45, 7277, 27, 1968),
     (17, 1716, 65, 1665, 42, 1961), (186, 50634, 141, 27338, 18, 1974), (5, 2498, 3, 2341, 33, 1969),
     (27, 16913, 29, 17854, 33, 1976)],
    float,
)  # fmt: skip


def bcg():
    a, n1, c, n2, latitude, year = BCG.T
    return np.log((a / n1) / (c / n2)), 1 / a - 1 / n1 + 1 / c - 1 / n2, latitude, year


def test_bcg_on_latitude_and_year():
    """Manual of metafor, from memory, recomputed; 3e-4 covers the slack of its stopping rule."""
    y, v, latitude, year = bcg()
    X = np.column_stack([np.ones(13), latitude, year])
    tau2 = reml_tau2(X, y, v)
    fit = least_squares(X, y, 1 / (v + tau2))
    assert tau2 == pytest.approx(0.1108, abs=3e-4)
    assert fit.coefficients[0] == pytest.approx(-3.5455, abs=0.05)  # at year 0: the slack times 1970
    assert fit.coefficients[1:] == pytest.approx([-0.0280, 0.0019], abs=5e-5)
    assert np.sqrt(np.diag(fit.unscaled_covariance))[1:] == pytest.approx([0.0102, 0.0147], abs=5e-5)


def test_agreement_of_the_bcg_trials():
    """Cochran's Q(12) = 152.2330 (manual of metafor, from memory), as days of one change would be tested."""
    y, v, *_ = bcg()
    pooled = pool(y, np.sqrt(v), np.full(13, 1e6))
    assert pooled.q == pytest.approx(152.2330, abs=5e-5)
    assert pooled.q_dof == 12


def test_two_groups_pool_like_welch():
    """Satterthwaite's df: the mean of two shifts has Welch's t and df of their difference, sign turned.

    Student 1908, ten patients, two soporifics as unrelated groups; R's t.test prints t = -1.8608,
    df = 17.776, p = .07939 (from memory, recomputed).
    """
    first = np.array([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0])
    second = np.array([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4])
    pooled = pool(
        [first.mean(), -second.mean()],
        [first.std(ddof=1) / np.sqrt(10), second.std(ddof=1) / np.sqrt(10)],
        [9, 9],
    )
    t = pooled.estimate / pooled.standard_error
    assert t == pytest.approx(-1.8608, abs=5e-5)
    assert pooled.dof == pytest.approx(17.776, abs=5e-4)
    assert 2 * stdtr(pooled.dof, t) == pytest.approx(0.07939, abs=5e-6)
