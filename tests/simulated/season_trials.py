"""Many simulated seasons: how often the intervals hold the truth, and what is claimed where nothing is there."""

from collections import Counter
from dataclasses import dataclass

import numpy as np
from simulated.simulated_seasons import SeasonScenario, SimulatedSeason, simulate_season

from lapdelta.effect.season_finding import SeasonFinding
from lapdelta.seasons import season

CLAIMS = ("found", "beyond", "one side")


@dataclass(frozen=True)
class SeasonRates:
    """Shares over the seasons.

    ``best_covered`` of those with a claim about the best value that holds the truth (an unbounded set holds
    what it does not rule out); ``worth_covered`` and ``worth_count`` of all steps inside what was tried;
    ``claimed`` how often anything is claimed about the best value; ``largest_held`` how often the largest
    difference said to be still possible is not exceeded.
    """

    states: Counter
    best_covered: int
    claims: int
    worth_covered: int
    worth_count: int
    seasons: int
    largest_held: int
    widths: tuple[float, ...]
    errors: tuple[float, ...]


def run_seasons(scenario: SeasonScenario, seasons: int, seed: int) -> SeasonRates:
    """Simulate and answer; the same seed gives the same seasons."""
    states: Counter = Counter()
    best = claims = worth = count = held = 0
    widths: list[float] = []
    errors: list[float] = []
    for i in range(seasons):
        made = simulate_season(scenario, np.random.default_rng([seed, i]))
        found = season(made.laps, kart="07", setups=made.setups)
        track = found.tracks[0]
        states[track["state"]] += 1
        if track["state"] in CLAIMS:
            claims += 1
            best += holds(track, made)
        if track["state"] == "found":
            widths.append(track["best_high"] - track["best_low"])
            errors.append(abs(track["best"] - made.best_teeth))
        covered = worths(found, made)
        worth, count = worth + sum(covered), count + len(covered)
        held += largest_holds(track, made)
    return SeasonRates(states, best, claims, worth, count, seasons, held, tuple(widths), tuple(errors))


def holds(track: dict, made: SimulatedSeason) -> bool:
    """Whether what is claimed about the best value is true."""
    tried = [row["value"] for row in track["values"]]
    low, high = track["best_low"], track["best_high"]
    best = made.best_teeth if made.sharpness else -np.inf * made.slope
    if track["state"] == "beyond":
        return best > max(tried) if track["side"] > 0 else best < min(tried)
    slack = 0.02  # the one-sided ends stand on a grid
    return (low is None or low - slack <= best) and (high is None or best <= high + slack)


def worths(found: SeasonFinding, made: SimulatedSeason) -> list[bool]:
    """Whether each interval of one tooth more, inside what was tried, holds the truth."""
    return [
        row["low"] <= made.response(row["next"]) - made.response(row["value"]) <= row["high"]
        for row in found.tracks[0]["worth"]
        if row["inside"]
    ]


def largest_holds(track: dict, made: SimulatedSeason) -> bool:
    """Whether the true differences between tried values stay below the largest said to be possible."""
    values = [made.response(row["value"]) for row in track["values"]]
    return track["largest_difference"] is None or max(values) - min(values) <= track["largest_difference"]
