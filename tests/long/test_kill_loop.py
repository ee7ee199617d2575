"""Killed at any moment (SIGKILL), 240 times: the archive opens and holds exactly what was acknowledged.

What was under way at the moment of the kill is there as a whole or not at all.
"""

import json
import os
import random
import signal
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from lapdelta.archive import Archive

KILLS = 240
RUNS = 2
KILLS_AN_ARCHIVE = 24

#: Kills come up to this share of a usual change after it began: each of its steps is reached, and its end.
LATEST = 1.1
#: What a change takes before any was timed, in s.
A_CHANGE_S = 0.1

LAPS_A_FILE = 3

Op = dict[str, object]


@contextmanager
def forking() -> Iterator[subprocess.Popen[str]]:
    root = Path(__file__).parent.parent.parent
    paths = [str(root), str(root / "tests"), os.environ.get("PYTHONPATH", "")]
    program = subprocess.Popen(
        [sys.executable, str(Path(__file__).parent / "killed_writer.py")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths), "POLARS_MAX_THREADS": "1"},
    )
    yield program
    assert program.stdin is not None
    assert program.stdout is not None
    program.stdin.close()
    program.wait(timeout=20)
    program.stdout.close()


def run_and_kill(
    forker: subprocess.Popen[str], folder: Path, log: Path, seed: int, changes: int, longer_s: float
) -> list[str]:
    """Let a writer finish so many changes and live a little longer; what it logged."""
    assert forker.stdin is not None
    assert forker.stdout is not None
    forker.stdin.write(f"{folder}\t{log}\t{seed}\n")
    forker.stdin.flush()
    process = int(forker.stdout.readline())
    until = time.monotonic() + 60
    while not log.exists() or b"ready" not in log.read_bytes() or log.read_bytes().count(b"done") < changes:
        assert time.monotonic() < until, "the writer does not get on"
        time.sleep(0.002)
    time.sleep(longer_s)
    os.kill(process, signal.SIGKILL)
    assert forker.stdout.readline().strip() == str(int(signal.SIGKILL))
    return log.read_text().splitlines()[1:]


def expected(done: list[tuple[str, Op]]) -> dict[str, object]:
    """What the archive has to hold, worked out from the changes alone."""
    root: dict[str, tuple[str, bool]] = {}
    hidden: dict[str, bool] = {}
    for entry, op in done:
        if "undo" in op:
            undone = str(op["undo"])
            base, shown = root.get(undone, (undone, True))
            root[entry] = (base, not shown)
            hidden[base] = shown
    state: dict[str, object] = {}
    laps: set[int] = set()
    for entry, op in done:
        if hidden.get(entry) or "undo" in op:
            continue
        ((kind, value),) = op.items()
        number = int(str(value))
        if kind == "add":
            laps |= set(range(number * LAPS_A_FILE, (number + 1) * LAPS_A_FILE))
        elif kind == "event":
            state[f"day {number % 5}"] = str(number)
        elif kind == "setup":
            state[f"P{number % 3}"] = 60 + number % 40
        else:
            state[f"question {entry}"] = float(number + 1)
    return {"laps": sorted(laps), "entries": [entry for entry, _ in done], **state}


def found(archive: Archive) -> dict[str, object]:
    state: dict[str, object] = {
        "laps": sorted(archive.laps()["lap"].to_list()),
        "entries": archive.history()["entry"].to_list(),
    }
    events = archive.events.filter(archive.events["notes"].is_not_null())
    state |= dict(events.select("event", "notes").iter_rows())
    state |= dict(archive.setups.select("session", "axle_teeth").iter_rows())
    questions = archive.questions.select("question", "margin").iter_rows()
    return state | {f"question {question}": margin for question, margin in questions}


@dataclass
class Counts:
    """What became of the changes of one run of kills."""

    acknowledged: int = 0
    under_way: int = 0
    landed: int = 0
    took_s: list[float] = field(default_factory=list)

    @property
    def change_s(self) -> float:
        """How long a change usually takes here and now."""
        return statistics.median(self.took_s[-20:] or [A_CHANGE_S])


def kill_and_look(place: Path, run: int) -> Counts:
    """Writer after writer killed, the archive held against what was acknowledged after each."""
    chance = random.Random(20260516 + run)
    counts = Counts()
    with forking() as forker:
        for kill in range(KILLS // RUNS):
            if kill % KILLS_AN_ARCHIVE == 0:
                folder = place / f"archive {run} {kill}"
                done: list[tuple[str, Op]] = []
            log = place / f"{run} {kill}.log"
            life = kill % 3, chance.uniform(0, LATEST * counts.change_s)
            lines = run_and_kill(forker, folder, log, 1000 * run + kill, *life)
            tried = _acknowledged(lines, done, counts)
            archive = Archive(folder)
            entries = archive.history()["entry"].to_list()
            if tried is not None:
                counts.under_way += 1
                if len(entries) == len(done) + 1:
                    done.append((entries[-1], tried))
                    counts.landed += 1
            assert found(archive) == expected(done), f"run {run}, kill {kill}"
            assert archive.check() == (), f"run {run}, kill {kill}"
    return counts


def _acknowledged(lines: list[str], done: list[tuple[str, Op]], counts: Counts) -> Op | None:
    """Put what was acknowledged to what was done; what was under way, if anything."""
    tried: Op | None = None
    for line in lines:
        verb, _, text = line.partition(" ")
        if verb == "try":
            tried = json.loads(text)
        else:
            assert tried is not None
            entry, took = text.split()
            done += [(entry, tried)] if entry != "None" else []
            counts.took_s.append(float(took))
            counts.acknowledged += 1
            tried = None
    return tried


def test_killed_at_any_moment_it_holds_exactly_what_was_acknowledged(tmp_path: Path) -> None:
    # Runs of their own, side by side: while one waits for its writer, another looks at its archive.
    with ThreadPoolExecutor(RUNS) as runs:
        counts = list(runs.map(partial(kill_and_look, tmp_path), range(RUNS)))
    acknowledged, under_way, landed = (
        sum(getattr(one, name) for one in counts) for name in ("acknowledged", "under_way", "landed")
    )
    print(
        f"{KILLS} kills, {acknowledged} changes acknowledged, {under_way} cut short, {landed} of them there"
    )
    assert acknowledged >= KILLS
    assert under_way > KILLS / 2
