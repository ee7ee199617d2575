"""The full study of seasons.

Run from the checkout: ``python tests/simulated/season_study.py [seasons [scenario ..]]``; scenarios by their names.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

import numpy as np
from simulated.season_trials import run_seasons
from simulated.simulated_seasons import SeasonScenario

SCENARIOS = {
    "curve, 6 days": SeasonScenario(),
    "curve, 12 days": SeasonScenario(days=12),
    "curve, 3 days": SeasonScenario(days=3),
    "no curve: flat": SeasonScenario(sharpness=0.0),
    "flat, 12 days": SeasonScenario(sharpness=0.0, days=12),
    "best beyond": SeasonScenario(best_teeth=(75.5, 76.5), teeth=(79, 84)),
    "straight line": SeasonScenario(sharpness=0.0, slope=8.0),
    "ours twice as erratic": SeasonScenario(our_tau=0.20),
    "flat, ours erratic": SeasonScenario(our_tau=0.20, sharpness=0.0),
    "best differs by day, .5 tooth": SeasonScenario(differs=0.5),
    "best differs by day, .3 tooth, 12 days": SeasonScenario(differs=0.3, days=12),
    "few other karts": SeasonScenario(others=(2, 4)),
}


def main(seasons: int, chosen: list[str]) -> None:
    print(f"{seasons} seasons each")
    print(
        "scenario | states | claims true | worth of a tooth covered | width of best, teeth | error, teeth (median)"
    )
    for seed, (name, scenario) in enumerate(SCENARIOS.items()):
        if chosen and name not in chosen:
            continue
        r = run_seasons(scenario, seasons, seed)
        states = " ".join(f"{state} {n}" for state, n in r.states.most_common())
        width = f"{np.median(r.widths):.2f} | {np.median(r.errors):.2f}" if r.widths else "- | -"
        best = f"{r.best_covered}/{r.claims}" + (f" {r.best_covered / r.claims:.3f}" if r.claims else "")
        worth = f"{r.worth_covered / max(r.worth_count, 1):.3f}"
        print(
            f"{name} | {states} | {best} | {worth} | {width} | held {r.largest_held / r.seasons:.3f}",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, sys.argv[2:])
