"""What the other karts did from one session to the next of the day, beside the step that is asked about.

With three or four other karts the step itself says little of how far chance goes: two or three degrees of
freedom. Their other steps of the day are of the same kind, and say more. The step from the day's first session
is never judged by the later ones, though they are judged by it: drivers who are learning the track wander more.
"""

from dataclasses import dataclass

import numpy as np

from lapdelta.effect.arrays import Bools, Floats

#: Fewest steps that are worth looking at.
MIN_STEPS = 2
#: Size f of a step: a session after minus one before.
SIZE = 2.0


def chain_count(n: int) -> float:
    """What n chained neighbour differences count as: 2n^2/(3n - 1); they share sessions."""
    return 2 * n * n / (3 * n - 1) if n else 0.0


@dataclass(frozen=True)
class OtherSteps:
    """Steps by other karts (in the day's order): difference, NaN where missing, and its lap noise, a variance."""

    difference: Floats
    noise: Floats

    def scatter(self, tau2: Floats, karts: Bools) -> tuple[Floats, Floats]:
        """Squares about the common step in units of their variance, and their degrees of freedom, by problem.

        Args:
            tau2: problems.
            karts: problems by other karts, which of them count.

        Chained steps share sessions and count for less (``chain_count``); the step asked about is one of the chain.
        """
        there = np.isfinite(self.difference)[None] & karts[:, None, :]
        w = there / np.where(there, tau2[:, None, None] * SIZE + self.noise[None], 1.0)
        step = np.where(there, self.difference[None], 0.0)
        mean = (w * step).sum(axis=2, keepdims=True) / np.maximum(w.sum(axis=2, keepdims=True), 1e-300)
        count = len(self.difference)
        worth = (chain_count(count + 1) - 1) / count
        dof = np.maximum(there.sum(axis=2) - 1, 0).sum(axis=1)
        return worth * (w * (step - mean) ** 2).sum(axis=(1, 2)), worth * dof


def other_steps(pace: Floats, noise: Floats, before: int, after: int) -> OtherSteps | None:
    """Steps between neighbouring sessions, but for the one asked about.

    Args:
        pace: other karts by all sessions of the day in order, NaN where it does not count.
        noise: its lap noise, a variance; same shape.
        before, after: places of the sessions asked about.

    None where these are no neighbours, or the first two, or where too few other steps are left.
    """
    first = min(before, after)
    if abs(after - before) != 1 or first == 0:
        return None
    kept = [at for at in range(pace.shape[1] - 1) if at != first]
    difference = np.diff(pace, axis=1)[:, kept].T
    kept_noise = (noise[:, 1:] + noise[:, :-1])[:, kept].T
    enough = np.isfinite(difference).sum(axis=1) >= 2
    if enough.sum() < MIN_STEPS:
        return None
    return OtherSteps(difference[enough], kept_noise[enough])
