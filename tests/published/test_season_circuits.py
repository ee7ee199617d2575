"""What circuits have in common, on numbers somebody else printed: random effects of thirteen trials."""

from types import SimpleNamespace

import numpy as np
import pytest
from published.bcg_trials import BCG

from lapdelta.seasons.pooling import across_tracks


def fits(scale=1.0, degree=2):
    """Each trial's log relative risk as the curvature of one circuit, in the fit's own units."""
    a, n1, c, n2 = BCG.T
    curves, variances = np.log((a / n1) / (c / n2)), 1 / a - 1 / n1 + 1 / c - 1 / n2
    return [
        (
            f"track {i}",
            SimpleNamespace(
                degree=degree,
                scale=scale,
                coefficients=np.array([9.0, curve * scale**2]),
                covariance=np.array([[7.0, 0.5], [0.5, variance * scale**4]]),
            ),
        )
        for i, (curve, variance) in enumerate(zip(curves, variances, strict=True))
    ]


@pytest.mark.parametrize("scale", [1.0, 3.0])
def test_mean_and_spread_of_circuits(scale):
    """Manual of R package metafor (from memory): REML -.7145, tau^2 .3132; Knapp & Hartung's error .1808, df 12.

    t with 12 df is 2.1788 at .975 (any printed table). Four printed decimals, so half a unit of them.
    """
    found = across_tracks(fits(scale), 0.95)
    curve = found["curvature"]
    assert found["reason"] is None
    assert curve["estimate"] == pytest.approx(-0.7145, abs=5e-5)
    assert curve["between_sd"] ** 2 == pytest.approx(0.3132, abs=5e-5)
    assert (curve["high"] - curve["low"]) / 2 == pytest.approx(2.1788 * 0.1808, abs=2e-4)
    for row in found["tracks"]:
        variance = row["own_standard_error"] ** 2
        share = variance / (variance + 0.3132)
        assert row["drawn"] == pytest.approx((1 - share) * row["own"] + share * -0.7145, abs=1e-4)
    assert [row["track"] for row in found["tracks"]] == [f"track {i}" for i in range(13)]


def test_two_curves_are_too_few_and_straight_lines_do_not_count():
    two = across_tracks([*fits()[:2], *fits(degree=1)[2:], ("none", None)], 0.95)
    assert (two["curvature"], two["tracks"]) == (None, [])
    assert two["reason"] == "a curve can be told on 2 circuits, 3 are needed to learn from one for another"
    assert "on 1 circuit," in across_tracks(fits()[:1], 0.95)["reason"]
    assert across_tracks(fits()[:3], 0.95)["reason"] is None
