"""Findings made by hand, one of every verdict, for tests of what is said and drawn; numbers invented."""

from typing import Any

from lapdelta.effect.finding import Finding

OTHERS = ("11", "12A", "23", "31", "4", "52", "66", "9")
#: Common part of each session, s: the track gets quicker over the day.
TERMS = {"P1": 0.20, "P2": 0.05, "P3": -0.05, "P4": -0.20}
SETTINGS = {"P1": "before", "P2": "after", "P3": "after", "P4": "before"}


def cells(karts: tuple[str, ...] = ("07", *OTHERS)) -> tuple[dict[str, Any], ...]:
    """One cell a kart and session; ours is 0.6 s quicker on the new setting."""
    rows: list[dict[str, Any]] = []
    for number, kart in enumerate(karts):
        for place, (session, term) in enumerate(TERMS.items()):
            ours = kart == "07"
            setting = SETTINGS[session] if ours else None
            own = 60.0 + 0.1 * number + 0.02 * ((number * place) % 3) - (0.6 if setting == "after" else 0.0)
            rows.append(
                {
                    "kart": kart, "ours": ours, "session": session, "setting": setting, "position": place,
                    "time_h": 0.7 * place, "laps": 12, "kept": 10, "pace": own + term, "variance": 0.002,
                    "session_term": term, "adjusted": own, "set_aside": {"out lap": 1, "slow": 1},
                }
            )  # fmt: skip
    return tuple(rows)


PLACEBO = tuple(
    {"kart": kart, "ours": kart == "07", "shift": shift}
    for kart, shift in zip(("07", *OTHERS), (-0.61, 0.1, -0.2, 0.05, 0.3, -0.02, 0.0, 0.7, -0.1), strict=True)
)
FOUR_TEETH = ({"item": "axle_teeth", "before": [82], "after": [78]},)


def finding(**changes: Any) -> Finding:
    """The finding of the job's own example sentence, with changes."""
    values: dict[str, Any] = {
        "kart": "07", "measure": "lap_time", "unit": "s", "before": ("P1", "P4"), "after": ("P2", "P3"),
        "estimate": -0.61, "standard_error": 0.17, "low": -0.98, "high": -0.24, "dof": 12.0,
        "confidence": 0.95, "p_value": 0.0035, "margin": 0.10, "verdict": "faster", "flags": (),
        "chance_better": 0.998, "chance_worthwhile": 0.995, "half_width": 0.37, "smallest_margin": 0.91,
        "method": "interleaved", "reasons": (), "checks": (("order", True, "Old and new alternate."),),
        "cells": cells(), "sectors": (), "quantiles": (), "placebo": PLACEBO, "choices": (),
        "setup_differences": FOUR_TEETH, "tipping_rate": None, "lap_noise_share": 0.4,
        "fingerprint": "ab12cd34" * 8, "settings": {"event": "2026-05-16"}, "version": "0.1.0",
    }  # fmt: skip
    return Finding(**{**values, **changes})


FASTER = finding()
SLOWER = finding(
    verdict="slower", estimate=0.31, low=0.05, high=0.57, standard_error=0.12, chance_better=0.011,
    chance_worthwhile=0.003, tipping_rate=0.30, flags=("bundle", "own_progress"),
    setup_differences=(
        {"item": "engine_teeth", "before": [10], "after": [11]},
        {"item": "pressure_rear_left_bar", "before": [0.62], "after": [0.60]},
    ),
)  # fmt: skip
SMALL = finding(
    estimate=-0.04, low=-0.07, high=-0.01, standard_error=0.014, chance_worthwhile=0.001, half_width=0.03,
    smallest_margin=0.065, flags=("less_than_worthwhile",),
)  # fmt: skip
NO_DIFFERENCE = finding(
    verdict="no worthwhile difference", estimate=-0.01, low=-0.09, high=0.07, standard_error=0.037,
    chance_better=0.60, chance_worthwhile=0.02, half_width=0.08, smallest_margin=0.08,
)  # fmt: skip
NOT_SETTLED = finding(
    verdict="not settled", estimate=-0.15, low=-0.52, high=0.22, chance_better=0.80, chance_worthwhile=0.61,
    smallest_margin=0.45, setup_differences=(),
)  # fmt: skip
CANNOT_BE_TOLD = finding(
    verdict="cannot be told", estimate=None, standard_error=None, low=None, high=None, dof=None, p_value=None,
    chance_better=None, chance_worthwhile=None, half_width=None, smallest_margin=None, placebo=(),
    reasons=("Only kart 11 drove in the same sessions",), cells=cells(("07", "11")), method="none",
)  # fmt: skip
LOWER_SPEED = finding(
    measure="top_speed", unit="km/h", verdict="slower", estimate=-1.4, low=-2.3, high=-0.5,
    standard_error=0.42, margin=1.0, chance_better=0.003, chance_worthwhile=0.0, half_width=0.9,
)  # fmt: skip
HIGHER_RPM = finding(
    measure="peak_rpm", unit="1/min", verdict="faster", estimate=260.0, low=120.0, high=400.0,
    standard_error=64.0, margin=100.0, chance_better=None, chance_worthwhile=None, half_width=140.0,
)  # fmt: skip
SECTOR = finding(measure="sector_2", estimate=-0.21, low=-0.36, high=-0.06, standard_error=0.07, margin=0.05)
LATE_LAPS = finding(measure="late_laps")

ALL = {
    "faster": FASTER,
    "slower": SLOWER,
    "less than worthwhile": SMALL,
    "no worthwhile difference": NO_DIFFERENCE,
    "not settled": NOT_SETTLED,
    "cannot be told": CANNOT_BE_TOLD,
    "lower speed": LOWER_SPEED,
    "higher rpm": HIGHER_RPM,
    "sector": SECTOR,
    "late laps": LATE_LAPS,
}
