"""Would something written down on the setup sheet (a pressure, tyre age, temperature) lower what is left, tau?

A covariate explains a share of a kart's session deviation and gets a column with one coefficient for all karts
and sessions: known for our kart only, or for every kart, exactly or read with an error of its own size. Paces
have the lap noise of twelve laps from sectors and clocks. Not adopted: see the printed table.

Run: ``python tests/simulated/covariate_study.py [days]``
"""

import sys

import numpy as np
from scipy.special import nctdtr, stdtrit

KARTS, TAU_S, LAP_NOISE_S = 13, 0.10, 0.085


def design(order: str) -> np.ndarray:
    """Change and own trend of kart 0, karts, sessions but the first: cells by columns."""
    sessions = len(order)
    kart, session = np.divmod(np.arange(KARTS * sessions), sessions)
    ours = kart == 0
    after = np.array([letter == "B" for letter in order])[session] & ours
    trend = np.linspace(-1, 1, sessions)[session] * ours
    karts, others = kart[:, None] == np.arange(KARTS), session[:, None] == np.arange(1, sessions)
    return np.column_stack([after, trend, karts, others]).astype(float)


def study(order: str, share: float, everybody: bool, error: float, days: int) -> str:
    """One row: false calls, median width and smallest effect (80 % power), without and with the column."""
    rng, base = np.random.default_rng(0), design(order)
    found = {"without": [], "with": []}
    for _ in range(days):
        x = rng.normal(size=len(base))
        rest = np.sqrt(1 - share) * rng.normal(size=len(x))
        y = TAU_S * (np.sqrt(share) * x + rest) + LAP_NOISE_S * rng.normal(size=len(x))
        seen = x + error * rng.normal(size=len(x))
        seen = seen if everybody else seen * (np.arange(len(x)) < len(order))
        for name, columns in (("without", base), ("with", np.column_stack([base, seen]))):
            inverse = np.linalg.inv(columns.T @ columns)
            beta = inverse @ (columns.T @ y)
            dof = len(y) - columns.shape[1]
            scale = max(((y - columns @ beta) ** 2).sum() / dof, LAP_NOISE_S**2)
            found[name].append((beta[0], np.sqrt(scale * inverse[0, 0]), dof))
    parts = [
        f"{order:9} explains {share:.2f}, {'all karts' if everybody else 'ours only'}, error {error:.0f}:"
    ]
    for name, rows in found.items():
        beta, se, dof = np.array(rows).T
        half = stdtrit(dof, 0.975) * se
        parts.append(
            f"{name} {(abs(beta) > half).mean():.3f}/{np.median(2 * half):.2f}/{smallest(se, dof):.2f}"
        )
    return "  ".join(parts)


def smallest(se: np.ndarray, dof: np.ndarray) -> float:
    low, high = 0.0, 5.0
    for _ in range(30):
        middle = (low + high) / 2
        if (1 - nctdtr(dof, middle / se, stdtrit(dof, 0.975))).mean() < 0.8:
            low = middle
        else:
            high = middle
    return high


def main(days: int) -> None:
    print("false calls / width s / smallest effect s")
    for order in ("ABBA", "ABBABAAB"):
        for share in (0.0, 0.25, 0.5):
            for everybody, error in ((False, 0.0), (True, 0.0), (True, 1.0)):
                print(study(order, share, everybody, error, days), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
