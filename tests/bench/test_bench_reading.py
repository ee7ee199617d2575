"""Reading speed and memory against plain polars in the same run. ``LAPDELTA_BENCH_LAPS=5000000`` is the full size.

Own targets at the full size (no outside source): clean times 1.5 times plain polars, minutes and decimal
commas 2.5, peak 1.0 GB. Whether they are met is printed; what fails is twice the target, for the machine may be
shared and fixed costs weigh more at the usual size. The whole way into an archive has the same peak.
"""

import os
import random
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

LAPS = int(os.environ.get("LAPDELTA_BENCH_LAPS", "1000000"))
LONGEST_LINE_GB = 1
GROSS = 2.0
PEAK_GB = 1.0

_READ = """
import resource, sys, time
import lapdelta.reading as r
path = sys.argv[1]
start = time.process_time()
reading = r.read_timing(path)
reading.laps.write_parquet(path + ".read.parquet")
print(time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20, reading.laps.height)
assert not reading.questions and reading.set_aside.height == 0
"""
_PLAIN = """
import resource, sys, time
import polars as pl
path, separator, comma = sys.argv[1], sys.argv[2], sys.argv[3] == "True"
clock = sys.argv[4] == "True"
floats = [pl.String if clock else pl.Float64] + [pl.Float64] * 4
names = ["session", "kart", "driver", "lap", "lap_time", "s1", "s2", "s3", "speed"]
start = time.process_time()
frame = pl.read_csv(path, separator=separator, decimal_comma=comma, has_header=True, new_columns=names,
                    schema_overrides=dict(zip(names, [pl.String] * 3 + [pl.Int32] + floats)))
frame.write_parquet(path + ".plain.parquet")
print(time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20, frame.height)
"""
_ADD = """
import resource, sys, time
from lapdelta import Archive, read_timing
start = time.process_time()
reading = read_timing(sys.argv[1])
added = Archive(sys.argv[2]).add(reading, event="bench")
print(time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20, added.laps_added)
"""


def run(script: str, *arguments: str) -> tuple[float, float, int]:
    """CPU seconds (what else the machine does is not counted), peak memory in GB and laps of a script on its own."""
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments], capture_output=True, text=True, check=True
    )
    seconds, peak, laps = done.stdout.split()
    return float(seconds), float(peak), int(laps)


def write(path: Path, laps: int, mark: str = ".", minutes: bool = False) -> None:
    """A clean file, nine columns; three sectors add up to the lap."""
    rng = random.Random(20260516)
    sign = "," if mark == "." else ";"
    with path.open("w") as file:
        file.write(
            sign.join(["Session", "Kart", "Driver", "Lap", "Lap time", "S1", "S2", "S3", "Speed (km/h)"])
            + "\n"
        )
        for at in range(laps):
            day, rest = divmod(at, 2000)
            kart, lap = divmod(rest, 20)
            own = [rng.randint(18000, 21000) for _ in range(3)]
            total = sum(own)
            text = f"{total // 60000}:{total % 60000 / 1000:06.3f}" if minutes else f"{total / 1000:.3f}"
            cells = [f"P{day}", f"{kart:02d}", f"Driver {kart}", str(lap + 1), text]
            cells += [f"{part / 1000:.3f}" for part in own] + [f"{rng.randint(900, 1040) / 10:.1f}"]
            line = sign.join(cells)
            file.write((line.replace(".", mark) if mark != "." else line) + "\n")


@pytest.mark.parametrize(
    ("mark", "minutes", "target"), [(".", False, 1.5), (".", True, 2.5), (",", False, 2.5)],
    ids=["seconds", "m:ss.mmm", "decimal comma"],
)  # fmt: skip
def test_clean_laps_against_plain_polars(tmp_path: Path, mark: str, minutes: bool, target: float) -> None:
    path = tmp_path / "laps.csv"
    write(path, LAPS, mark, minutes)
    plain = min(
        run(_PLAIN, str(path), ";" if mark == "," else ",", str(mark == ","), str(minutes)) for _ in range(2)
    )
    read = min(run(_READ, str(path)) for _ in range(2))
    ratio = read[0] / plain[0]
    print(f"\n{LAPS} laps, {path.stat().st_size / 1e6:.0f} MB: read {read[0]:.2f} s, {read[1]:.2f} GB; "
          f"plain {plain[0]:.2f} s, {plain[1]:.2f} GB; ratio {ratio:.2f}, "
          f"target {target} {'met' if ratio <= target else 'NOT met'}")  # fmt: skip
    assert read[2] == plain[2] == LAPS
    assert ratio <= GROSS * target
    assert read[1] <= PEAK_GB


def test_adding_to_the_archive(tmp_path: Path) -> None:
    path = tmp_path / "laps.csv"
    write(path, LAPS)
    plain = run(_PLAIN, str(path), ",", "False", "False")
    add = run(_ADD, str(path), str(tmp_path / "archive"))
    print(f"\n{LAPS} laps into the archive, bytes and all: {add[0]:.2f} s, peak {add[1]:.2f} GB (target {PEAK_GB}); "
          f"plain read and write {plain[0]:.2f} s; ratio {add[0] / plain[0]:.2f}")  # fmt: skip
    assert add[2] == LAPS
    assert add[1] <= PEAK_GB


def timed(work: Callable[[], object]) -> float:
    """Seconds that the work takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def test_a_day_file_is_read_at_once(tmp_path: Path) -> None:
    from lapdelta.reading import Recipe, read_timing
    from lapdelta.reading.careful import read_carefully
    from lapdelta.reading.source import load

    path = tmp_path / "day.csv"
    write(path, 3000)
    reading = read_timing(path)
    assert reading.laps.height == 3000
    fast = min(timed(lambda: read_timing(path)) for _ in range(5))
    source = load(path)
    careful = timed(lambda: read_carefully(source, {}, Recipe()))
    print(f"\n3000 laps: {fast:.3f} s (target 0.1 s); line by line {careful:.3f} s")
    assert fast < careful / 2


def test_a_line_of_a_gigabyte_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "line.csv"
    with path.open("wb") as file:
        file.write(b"Kart,Lap,Lap time\n7,1,")
        file.truncate((LONGEST_LINE_GB << 30) - 1)  # a sparse file: one endless line
    script = """
import resource, sys, time
from lapdelta.reading import UnreadableFile, read_timing
start = time.perf_counter()
try:
    read_timing(sys.argv[1])
except UnreadableFile:
    print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20, 0)
"""
    seconds, peak, _ = run(script, str(path))
    print(f"\n1 GB line: {seconds:.2f} s, {peak:.2f} GB")
    assert peak < 1  # the line is never held, and so it takes no time either
