"""What circuits have in common: the sharpness of the response, pooled only where there is data for it."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from lapdelta.effect.distributions import t_quantile
from lapdelta.effect.scale import knapp_hartung, reml_tau2
from lapdelta.effect.season_fit import ResponseFit

#: Fewer circuits say too little about how circuits differ.
MIN_TRACKS = 3


def across_tracks(fits: Sequence[tuple[str, ResponseFit | None]], confidence: float) -> dict[str, Any]:
    """Curvature (unit per x squared) of all circuits: random-effects mean and each circuit drawn towards it.

    Best values are never pooled: circuits differ in them by nature. Mean with Knapp & Hartung's (2003)
    standard error, variance between circuits by restricted maximum likelihood, each circuit's value
    (1 - B) own + B mean with B = v/(v + tau^2).

    Returns:
        ``reason`` (None where it was done), ``curvature`` (estimate, low, high, between_sd) and ``tracks``
        (rows track, own, own_standard_error, drawn).
    """
    told = [(track, fit) for track, fit in fits if fit is not None and fit.degree == 2]
    if len(told) < MIN_TRACKS:
        reason = (
            f"a curve can be told on {len(told)} circuit{'' if len(told) == 1 else 's'}, "
            f"{MIN_TRACKS} are needed to learn from one for another"
        )
        return {"reason": reason, "curvature": None, "tracks": []}
    y = np.array([fit.coefficients[1] / fit.scale**2 for _, fit in told])
    v = np.array([fit.covariance[1, 1] / fit.scale**4 for _, fit in told])
    ones = np.ones((len(y), 1))
    tau2 = reml_tau2(ones, y, v)
    mean, error, dof = knapp_hartung(ones, y, v, tau2)
    half = float(t_quantile(dof, (1 + confidence) / 2)) * float(error[0])
    share = v / (v + tau2)
    drawn = (1 - share) * y + share * mean[0]
    return {
        "reason": None,
        "curvature": {
            "estimate": float(mean[0]),
            "low": float(mean[0]) - half,
            "high": float(mean[0]) + half,
            "between_sd": float(np.sqrt(tau2)),
        },
        "tracks": [
            {"track": track, "own": float(own), "own_standard_error": float(np.sqrt(var)), "drawn": float(d)}
            for (track, _), own, var, d in zip(told, y, v, drawn, strict=True)
        ],
    }
