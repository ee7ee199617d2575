"""The method once more, plain and slow: from laps to a shift in the fewest steps, one lap at a time.

Written from the description of the method, not from ``lapdelta.effect``, and sharing no code with it: an
oracle for ``test_reference_method.py`` and a text to read. Only for laps without sectors and clocks, one day,
other karts that are all comparable, no rain. Laps are dicts with ``kart``, ``session``, ``lap``,
``lap_time_s`` and ``marks``; sessions are in their order and stand one apart.
"""

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from scipy import optimize, special

Cell = tuple[str, str]
SPOILED = {"out", "in", "pit", "invalid"}


def runs(rows: Sequence[dict[str, Any]]) -> dict[Cell, list[dict[str, Any]]]:
    """Usable laps of each kart and session, with their place in the run: lap numbers rise within a run."""
    cells: dict[Cell, list[dict[str, Any]]] = {}
    last: dict[Cell, tuple[int, float | None, int]] = {}
    for row in rows:
        cell = (row["kart"], row["session"])
        number, time = row["lap"], row["lap_time_s"]
        before = last.get(cell, (-1, None, 0))
        if cell in last and before[:2] == (number, time):
            continue  # the same line once more
        place = before[2] + 1 if number > before[0] else 1
        last[cell] = (number, time, place)
        usable = time is not None and time > 0 and place > 1 and not SPOILED & set(row["marks"])
        cells.setdefault(cell, [])
        if usable:
            cells[cell].append({"place": place, "time": time, "raw": time})
    return cells


def without_slow(cells: dict[Cell, list[dict[str, Any]]]) -> dict[Cell, list[dict[str, Any]]]:
    """Twice: centre on the cell's median, scale from the laps at or below it, drop the slow ones."""
    for _ in range(2):
        scale: dict[str, float | None] = {}
        for kart in {kart for kart, _ in cells}:
            quick: list[float] = []
            for cell in [cell for cell in cells if cell[0] == kart and cells[cell]]:
                middle = np.median([lap["time"] for lap in cells[cell]])
                quick += [middle - lap["time"] for lap in cells[cell] if lap["time"] <= middle]
            scale[kart] = max(1.4826 * float(np.median(quick)), 0.05) if len(quick) >= 4 else None
        known = [s for s in scale.values() if s is not None]
        usual = float(np.median(known)) if known else 0.30
        cells = {cell: _below(laps, scale[cell[0]] or usual) for cell, laps in cells.items()}
    return cells


def _below(laps: list[dict[str, Any]], scale: float) -> list[dict[str, Any]]:
    if not laps:
        return []
    middle = np.median([lap["time"] for lap in laps])
    return [lap for lap in laps if lap["time"] <= middle + 3 * scale]


def screened(rows: Sequence[dict[str, Any]]) -> dict[Cell, list[float]]:
    """Kept lap times, s, the warm-up of laps 2 to 4 off; cells with fewer than three are missing."""
    usable = runs(rows)
    kept = without_slow(usable)
    profile: dict[int, float] = {}
    for place in (2, 3, 4):
        away: list[float] = []
        cells = 0
        for cell, laps in usable.items():
            settled = [lap["raw"] for lap in kept[cell] if lap["place"] >= 5]
            here = [lap["raw"] for lap in laps if lap["place"] == place]
            if len(settled) >= 3 and here:
                cells += 1
                away += [time - float(np.median(settled)) for time in here]
        profile[place] = float(np.median(away)) if cells >= 4 else 0.0
    for laps in usable.values():
        for lap in laps:
            lap["time"] = lap["raw"] - profile.get(lap["place"], 0.0)
    kept = without_slow(usable)
    return {cell: [lap["time"] for lap in laps] for cell, laps in kept.items() if len(laps) >= 3}


def paces(kept: dict[Cell, list[float]]) -> tuple[dict[Cell, float], dict[Cell, float]]:
    """Mean of the quickest 70 %, the boundary lap in part, s; and 1.1 sigma^2/n, sigma pooled by kart."""
    pace: dict[Cell, float] = {}
    noise: dict[Cell, float] = {}
    for kart in {kart for kart, _ in kept}:
        mine = {cell: times for cell, times in kept.items() if cell[0] == kart}
        total = sum(len(times) for times in mine.values())
        away = [abs(time - np.median(times)) for times in mine.values() for time in times]
        sigma = max(1.4826 * float(np.median(away)) * math.sqrt(total / (total - len(mine))), 0.02)
        for cell, times in mine.items():
            share = 0.7 * len(times)
            weight = [min(1.0, max(0.0, share - i)) for i in range(len(times))]
            pace[cell] = sum(a * x for a, x in zip(weight, sorted(times), strict=True)) / share
            noise[cell] = 1.1 * sigma**2 / len(times)
    return pace, noise


def blocked(
    pace: dict[Cell, float], noise: dict[Cell, float], ours: str, after: dict[str, bool]
) -> tuple[float, float, float]:
    """Our contrast against the other karts', as a single case: estimate, standard error, df."""
    theirs = [cell for cell in pace if cell[0] != ours]
    karts = sorted({kart for kart, _ in theirs})
    columns = [(0, kart) for kart in karts] + [(1, session) for session in after]
    X = np.array([[float(cell[which] == name) for which, name in columns] for cell in theirs])
    solved = np.linalg.pinv(X) @ np.array([pace[cell] for cell in theirs])
    term = dict(zip(after, solved[len(karts) :], strict=True))

    def contrast(kart: str) -> tuple[float, float, float] | None:
        there = [session for session in after if (kart, session) in pace]
        if len({after[session] for session in there}) < 2:
            return None
        c = np.linalg.pinv([[1.0, float(after[session])] for session in there])[1]
        net = np.array([pace[kart, session] - term[session] for session in there])
        v = np.array([noise[kart, session] for session in there])
        return float(c @ net), float(c @ c), float(c**2 @ v)

    own = contrast(ours)
    assert own is not None
    z, f, V = np.array([found for kart in karts if (found := contrast(kart)) is not None]).T
    n = len(z)

    def spread(tau2: float) -> tuple[float, float, float]:
        w = 1 / (tau2 * f + V)
        mean = (w @ z) / w.sum()
        return float(w @ (z - mean) ** 2), float(mean), float(w.sum())

    tau2 = 0.0
    if spread(0.0)[0] > n - 1:
        tau2 = float(optimize.brentq(lambda t: spread(t)[0] - (n - 1), 0.0, 100.0, xtol=1e-15))
    squares, mean, total = spread(tau2)
    variance = max(0.25, squares / (n - 1)) * (tau2 * own[1] + own[2] + 1 / total)
    return own[0] - mean, math.sqrt(variance), n - 1


def interleaved(
    pace: dict[Cell, float], noise: dict[Cell, float], ours: str, after: dict[str, bool]
) -> tuple[float, float, float]:
    """Weighted least squares on all cells, tau^2 by restricted likelihood: estimate, standard error, df."""
    sessions = list(after)
    cells = list(pace)
    X = [[float(k == ours and after[s]) for k, s in cells]]
    X += [[float(k == kart) for k, _ in cells] for kart in sorted({k for k, _ in cells})]
    X += [[float(s == session) for _, s in cells] for session in sessions[1:]]
    own = [s for k, s in cells if k == ours]
    if len(own) >= 4:
        X.append([float(k == ours) * sessions.index(s) for k, s in cells])
    X = np.array(X).T
    y = np.array([pace[cell] for cell in cells])
    y = y - y.mean()
    v = np.array([noise[cell] for cell in cells])

    def fit(tau2: float) -> tuple[np.ndarray, np.ndarray, float]:
        w = 1 / (v + tau2)
        normal = X.T @ (w[:, None] * X)
        b = np.linalg.solve(normal, X.T @ (w * y))
        return b, normal, float(w @ (y - X @ b) ** 2)

    def criterion(tau2: float) -> float:
        _, normal, squares = fit(tau2)
        return float(np.log(v + tau2).sum() + np.linalg.slogdet(normal)[1] + squares) / 2

    tau2 = lowest(criterion)
    b, normal, squares = fit(tau2)
    dof = len(y) - X.shape[1]
    q = max(1.0, squares / dof)
    return float(b[0]), math.sqrt(q * np.linalg.inv(normal)[0, 0]), dof


def lowest(criterion: Callable[[float], float]) -> float:
    """Where it is lowest, from 0 up: a fine grid first, since there may be two hollows, then polish."""
    grid = [0.0, *np.geomspace(1e-6, 10.0, 200).tolist()]
    best = min(range(len(grid)), key=lambda i: criterion(grid[i]))
    ends = (grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)])
    found = optimize.minimize_scalar(criterion, bounds=ends, method="bounded", options={"xatol": 1e-12})
    return float(found.x) if found.fun < criterion(grid[best]) else grid[best]


def shift(rows: Sequence[dict[str, Any]], ours: str, after: dict[str, bool]) -> dict[str, float]:
    """``after`` tells of each session in order whether it ran the new setting; all of the answer's numbers."""
    kept = screened(rows)
    pace, noise = paces(kept)
    setting = np.array(list(after.values()), float)
    place = np.arange(len(after), dtype=float)
    r2 = float(np.corrcoef(setting, place)[0, 1] ** 2)
    in_turn = len(after) >= 3 and r2 <= 0.5  # variance inflation 1/(1 - r^2) of at most 2
    estimate, error, dof = (interleaved if in_turn else blocked)(pace, noise, ours, after)
    half = float(special.stdtrit(dof, 0.975)) * error
    moved = place[setting == 1].mean() - place[setting == 0].mean()
    return {
        "estimate": estimate,
        "standard_error": error,
        "dof": dof,
        "low": estimate - half,
        "high": estimate + half,
        "p_value": 2 * float(special.stdtr(dof, -abs(estimate) / error)),
        "smallest_margin": abs(estimate) + float(special.stdtrit(dof, 0.95)) * error,
        "tipping_rate": math.nan if in_turn else estimate / float(moved),
        "kept": float(sum(len(times) for times in kept.values())),
    }
