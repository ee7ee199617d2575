"""What an archive costs as it grows, beside plain polars and DuckDB over the same Parquet files.

From the checkout: PYTHONPATH=.:tests python tests/bench/archive_scale.py 10000 1000000 10000000
"""

import math
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
from bench.many_laps import LAPS_A_DAY, day_after, many_laps, reading_of

from lapdelta.archive import Archive
from lapdelta.asking.sweep import event_rows

FIRST_DAY = date(2016, 1, 2)

#: Laps that come in with one file while the archive is filled.
A_FILE = 1_000_000

SETUPS = {"session": ["P0", "P1", "P2", "P3"], "kart": ["7"] * 4, "axle_teeth": [82, 81, 81, 82]}


@dataclass(frozen=True)
class Costs:
    """Times in ms unless named otherwise; ratios are ours over theirs."""

    laps: int
    import_s: float
    plain_write_s: float
    import_ratio: float
    look_up: float
    polars_look_up: float
    duckdb_look_up: float
    sessions: float
    commit: float
    day_import: float
    sweep_event: float


def measure(folder: Path, laps: int) -> Costs:
    """Fill a new archive with so many laps and time it."""
    archive = Archive(folder)
    days = max(1, laps // LAPS_A_DAY)
    import_s, plain_s = _fill(archive, days, folder.parent / "plain.parquet")
    os.sync()  # or each change would wait for the disk to take in what was just written
    events = [f"{day_after(FIRST_DAY, n * days // 7):%Y-%m-%d}" for n in range(7)]
    archive.put_setups(pl.DataFrame({"event": [events[3]] * 4, **SETUPS}))
    glob = str(folder / "laps" / "year=*" / "*.parquet")
    archive.laps(events[0])
    look_up = _each(archive.laps, events * 3)
    return Costs(
        laps=archive.laps(events[0]).height if laps < LAPS_A_DAY else days * LAPS_A_DAY,
        import_s=import_s,
        plain_write_s=plain_s,
        import_ratio=import_s / plain_s,
        look_up=look_up,
        polars_look_up=_each(lambda event: _with_polars(glob, event), events * 3),
        duckdb_look_up=_each(lambda event: _with_duckdb(glob, event), events * 3),
        sessions=_each(archive.sessions, events),
        commit=_each(lambda event: archive.put_event(event, notes="seen"), events * 2),
        day_import=_each(lambda n: _new_day(archive, days + 10 + n), range(7)),
        sweep_event=_each(lambda _: _sweep(archive, events[3]), range(3)),
    )


def _fill(archive: Archive, days: int, plain: Path) -> tuple[float, float]:
    """Seconds to bring all in, file by file, and of plain polars to write the same laps."""
    ours = theirs = 0.0
    step = A_FILE // LAPS_A_DAY
    for first in range(0, days, step):
        laps = many_laps(min(step, days - first), day_after(FIRST_DAY, first), seed=first)
        reading = reading_of(laps, f"from {first}.csv")
        start = time.perf_counter()
        archive.add(reading)
        ours += time.perf_counter() - start
        start = time.perf_counter()
        laps.write_parquet(plain)
        theirs += time.perf_counter() - start
    return ours, theirs


def _each(work: Callable[[Any], object], items: Iterable[Any]) -> float:
    """Shortest time of the work on each, ms: what else runs on the machine only adds (Python's timeit says so)."""
    times: list[float] = []
    for item in items:
        start = time.perf_counter()
        work(item)
        times.append(time.perf_counter() - start)
    return min(times) * 1000


def _with_polars(glob: str, event: str) -> pl.DataFrame:
    return pl.scan_parquet(glob, hive_partitioning=False).filter(pl.col("event") == event).collect()


def _with_duckdb(glob: str, event: str) -> object:
    return duckdb.execute("select * from read_parquet(?) where event = ?", [glob, event]).fetchnumpy()


def _new_day(archive: Archive, day: int) -> None:
    archive.add(reading_of(many_laps(1, day_after(FIRST_DAY, day), seed=day), f"day {day}.csv"))


def _sweep(archive: Archive, event: str) -> None:
    options = {"measure": "lap_time", "margin": None, "confidence": 0.95, "names": True}
    assert len(event_rows(archive.location, event, **options)) == 1


def slopes(rows: list[dict[str, float]]) -> tuple[dict[str, float], dict[str, float]]:
    """Growth of each cost over the last two sizes, as the power of the number of laps; and the next size by it.

    0: it does not grow; 1: it grows as the laps do. The next size is ten times the last.
    """
    small, large = rows[-2:]
    wider = math.log(large["laps"] / small["laps"])
    names = [name for name in large if name != "laps"]
    power = {name: math.log(large[name] / small[name]) / wider for name in names}
    return {"laps": 0.0, **power}, {
        "laps": large["laps"] * 10,
        **{name: large[name] * 10 ** power[name] for name in names},
    }


def main(sizes: list[int]) -> None:
    """Print one row a size, the growth of each cost, and what ten times the last size would take by it."""
    rows: list[dict[str, float]] = []
    for laps in sizes:
        with tempfile.TemporaryDirectory() as place:
            rows.append(asdict(measure(Path(place) / "kept", laps)))
    with pl.Config(tbl_cols=-1, tbl_rows=-1, float_precision=1, tbl_width_chars=240):
        print(pl.DataFrame(rows))
        if len(rows) > 1:
            power, following = slopes(rows)
            print("growth as a power of the laps, over the last two sizes, and the next size by it:")
            print(pl.DataFrame([power, following]))


if __name__ == "__main__":
    main([int(size) for size in sys.argv[1:]] or [10_000, 1_000_000])
