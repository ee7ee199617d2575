"""What only shows between laps: copies, contradicting laps, new runs, and a file that was cut off."""

import datetime as dt
from collections.abc import Collection, Sequence
from typing import Protocol

from lapdelta.reading.drafts import Draft
from lapdelta.reading.numbers import decimals
from lapdelta.reading.unsaid import numbered, unnumbered
from lapdelta.reading.vocabulary import is_summary

CUT_OFF = "file may be cut off"


class Named(Protocol):
    """What is compared of a lap."""

    @property
    def session(self) -> str:
        """Its label."""
        ...

    @property
    def kart(self) -> str:
        """The number as text."""
        ...

    @property
    def lap(self) -> int | None:
        """Its number; None where none is printed."""
        ...

    @property
    def lap_time_s(self) -> float:
        """Seconds."""
        ...

    @property
    def date(self) -> dt.date | None:
        """Of the lap, where it is told."""
        ...

    @property
    def clock(self) -> dt.time | None:
        """Time of day at its end, where it is told."""
        ...

    @property
    def marks(self) -> Sequence[str]:
        """What the file says of it."""
        ...

    @property
    def line(self) -> int:
        """Line of the file."""
        ...


def find_repeats(laps: Sequence[Named]) -> dict[int, str]:
    """Position in ``laps`` -> reason, for second copies of a lap, laps that contradict each other, and sums."""
    groups: dict[tuple[str, str], list[int]] = {}
    for at, lap in enumerate(laps):
        groups.setdefault((lap.session, lap.kart), []).append(at)
    faults = _best_again(laps)
    for members in groups.values():
        numbers = [laps[at].lap for at in members]
        if None in numbers or len(set(numbers)) < len(numbers):
            unsaid = unnumbered(laps, members)
            faults.update(unsaid)
            faults.update(_repeats_in(laps, [at for at in members if at not in unsaid]))
    return faults


def _best_again(laps: Sequence[Named]) -> dict[int, str]:
    """Laps of a session such as ``Best of the day`` that stand in another session already."""
    best = {lap.session for lap in laps if is_summary(lap.session.split(" ")[0])}
    if not best or len(best) == len({lap.session for lap in laps}):
        return {}
    seen = {(lap.kart, lap.lap, lap.lap_time_s): lap.line for lap in laps if lap.session not in best}
    return {
        at: f"same lap as line {seen[key]}"
        for at, lap in enumerate(laps)
        if lap.session in best and (key := (lap.kart, lap.lap, lap.lap_time_s)) in seen
    }


def find_sums(laps: Sequence[Named], least_s: float, skipped: Collection[int] = ()) -> dict[int, str]:
    """Position in ``laps`` -> reason, for rows that are the sum of the laps above them; ``skipped`` are no laps."""
    groups: dict[tuple[str, str], list[int]] = {}
    for at, lap in enumerate(laps):
        if at not in skipped:
            groups.setdefault((lap.session, lap.kart), []).append(at)
    faults: dict[int, str] = {}
    for members in groups.values():
        faults.update(numbered(laps, members, least_s))
    return faults


def _repeats_in(laps: Sequence[Named], members: list[int]) -> dict[int, str]:
    faults = _copies(laps, _runs(laps, members))
    runs = _runs(laps, [at for at in members if at not in faults])
    stints = 0  # runs of one stint may not hold a lap number twice; a run that starts again begins the next
    seen: dict[tuple[int, int], list[int]] = {}
    for number, run in enumerate(runs):
        stints += number > 0 and _starts_again(laps, runs, number)
        for at in run:
            if (printed := laps[at].lap) is not None:
                seen.setdefault((stints, printed), []).append(at)
    for (_, printed), same in seen.items():
        for at, other in zip(same, [same[-1], *same], strict=False) if len(same) > 1 else ():
            faults[at] = f"lap {printed} also stands in line {laps[other].line} with another time"
    return faults


def _runs(laps: Sequence[Named], members: list[int]) -> list[list[int]]:
    """A run ends where the printed lap number does not rise (laps without a number join the run they stand in)."""
    runs: list[list[int]] = []
    last: int | None = None
    for at in members:
        number = laps[at].lap
        if not runs or (number is not None and last is not None and number <= last):
            runs.append([])
        runs[-1].append(at)
        last = number if number is not None else last
    return runs


def _first_number(laps: Sequence[Named], run: list[int]) -> int | None:
    return next((laps[at].lap for at in run if laps[at].lap is not None), None)


def _starts_again(laps: Sequence[Named], runs: list[list[int]], at: int) -> bool:
    """Whether a run is a new one: it begins where the first run began (or at 0 or 1), behind two laps or more."""
    first, start = _first_number(laps, runs[0]), _first_number(laps, runs[at])
    if first is None or start is None:
        return True
    return start <= max(first, 1) and len(runs[at - 1]) >= 2


def same_lap(a: Named, b: Named) -> bool:
    """Same number and time, and the same time of day (and date) where both print one."""
    if a.lap != b.lap or abs(a.lap_time_s - b.lap_time_s) > 5e-5:
        return False
    if a.lap is None and (a.clock is None or b.clock is None):
        return False
    told = ((a.clock, b.clock), (a.date, b.date))
    return all(x == y for x, y in told if x is not None and y is not None)


def _copies(laps: Sequence[Named], runs: list[list[int]]) -> dict[int, str]:
    faults: dict[int, str] = {}
    seen: dict[tuple[int | None, float], list[tuple[int, int]]] = {}
    for number, run in enumerate(runs):
        hits: dict[int, int] = {}
        for at in run:
            key = (laps[at].lap, round(laps[at].lap_time_s, 4))
            match = next((other for other, _ in seen.get(key, []) if same_lap(laps[other], laps[at])), None)
            if match is not None:
                hits[at] = match
            seen.setdefault(key, []).append((at, number))
        new_run = number > 0 and _starts_again(laps, runs, number)
        for at, match in hits.items():
            told = laps[at].clock is not None and laps[match].clock is not None
            if told or not new_run or 2 * len(hits) >= len(run):
                faults[at] = f"same lap as line {laps[match].line}"
    return faults


def cut_off(last: Draft, others: Sequence[Draft], width: int) -> bool:
    """Whether a last line without a line end is shorter than the lines above, or its last cell less precise.

    ``width``: cells of the header. A last cell in closed quotes was written to its end.
    """
    cells = last.record.cells
    if last.record.broken or not cells:
        return True
    above = [draft.record.cells for draft in others if draft.record.line != last.record.line]
    if not above:
        return len(cells) < width or decimals(cells[-1]) is None
    if len(cells) < max(len(row) for row in above[-20:]):
        return True
    if last.record.text.endswith('"'):
        return False
    found = decimals(cells[-1])
    column = [row[len(cells) - 1] for row in above if len(row) >= len(cells)]
    usual = {decimals(cell) for cell in column if cell}
    if not cells[-1]:
        return bool(column) and all(column)
    return bool(usual) and found not in usual
