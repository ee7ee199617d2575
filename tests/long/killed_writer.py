"""A program that writes to an archive until it is killed; forked off from one that has loaded everything.

Reads lines ``folder, log, seed`` (tab between) on stdin, answers each with the new process's id, and, when that
one is gone, with a second line. The writer logs what it is about to do, and the entry it was told afterwards
with the seconds that took.
"""

import json
import os
import random
import sys
import time
from pathlib import Path

import polars as pl
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive

EVENT = "2026-05-16"
LAPS_A_FILE = 3


def new_op(archive: Archive, chance: random.Random) -> dict[str, object]:
    """What to do next: mostly imports, some of them known already, and edits and undos."""
    number = chance.randrange(1000)
    kind = chance.choice(("add", "add", "event", "setup", "question", "undo", "undo"))
    if kind == "undo":
        history = archive.history()
        known = history.filter(~pl.col("undone"))["entry"].to_list()
        if known:
            return {"undo": chance.choice(known)}
        kind = "add"
    return {kind: number}


def do(archive: Archive, op: dict[str, object]) -> str | None:
    """Do it; the entry's id, None for a file that was known."""
    ((kind, value),) = op.items()
    if kind == "undo":
        return archive.undo(str(value))
    number = int(str(value))
    if kind == "add":
        first = number * LAPS_A_FILE
        return archive.add(make_reading(make_laps(range(first, first + LAPS_A_FILE), ("07",), ("P1",)))).entry
    if kind == "event":
        return archive.put_event(f"day {number % 5}", notes=str(number))
    if kind == "question":
        return archive.put_question(EVENT, margin=float(number + 1))
    row = {"event": [EVENT], "session": [f"P{number % 3}"], "kart": ["07"], "axle_teeth": [60 + number % 40]}
    return archive.put_setups(pl.DataFrame(row))


def write_until_killed(folder: str, log: int, seed: int) -> None:
    """Change after change, each logged before and after."""
    archive, chance = Archive(folder), random.Random(seed)
    os.write(log, b"ready\n")
    while True:
        op = new_op(archive, chance)
        os.write(log, f"try {json.dumps(op)}\n".encode())
        start = time.perf_counter()
        entry = do(archive, op)
        os.write(log, f"done {entry} {time.perf_counter() - start:.4f}\n".encode())


def main() -> None:
    """Fork off one writer a line."""
    for line in sys.stdin:
        folder, log, seed = line.rstrip("\n").split("\t")
        process = os.fork()
        if process == 0:
            handle = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
            write_until_killed(folder, handle, int(seed))
        print(process, flush=True)
        _, status = os.waitpid(process, 0)
        print(status if os.WIFSIGNALED(status) else "ended by itself", flush=True)
        Path(log).touch()


if __name__ == "__main__":
    main()
