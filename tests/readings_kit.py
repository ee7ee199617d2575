"""Small readings made up for tests of the archive; nothing here knows how files are read."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, time
from typing import Any

import polars as pl

from lapdelta.tables import LAPS, SET_ASIDE

DAY = date(2026, 5, 16)


@dataclass(frozen=True)
class PlainRecipe:
    text: str = 'delimiter = ","\n'

    def to_toml(self) -> str:
        return self.text


@dataclass(frozen=True)
class MadeReading:
    laps: pl.DataFrame
    data: bytes
    source_name: str = "saturday.csv"
    facts: dict[str, str] = field(default_factory=dict)
    questions: tuple[Any, ...] = ()
    account: dict[str, Any] = field(default_factory=lambda: {"lines": 1, "known": {"header": 1}})
    recipe: PlainRecipe = field(default_factory=PlainRecipe)
    set_aside: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=SET_ASIDE))

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()

    def blocks(self) -> Iterator[bytes]:
        half = len(self.data) // 2
        yield from (self.data[:half], self.data[half:])


def make_laps(
    laps: range = range(1, 11),
    karts: tuple[str, ...] = ("07", "12", "12A"),
    sessions: tuple[str, ...] = ("P1", "P2"),
    day: date | None = DAY,
    source: str = "saturday.csv",
) -> pl.DataFrame:
    """A table of laps: each kart and session with these lap numbers, times that tell them apart."""
    rows = [
        {
            "session": session,
            "kart": kart,
            "driver": "Ada Example",
            "lap": lap,
            "lap_time_s": 60.0 + (s * 97 + k * 31 + lap * 7) % 1000 / 1000,
            "sector_times_s": [20.0, None, 20.5],
            "top_speed_kmh": None if lap == 1 else 92.5,
            "peak_rpm": 14250.0,
            "date": day,
            "clock": time(10 + s, lap % 60, k % 60, 123_000),
            "marks": ["out"] if lap == 1 else [],
            "source_file": source,
            "source_line": 2 + lap,
        }
        for s, session in enumerate(sessions)
        for lap in laps
        for k, kart in enumerate(karts)
    ]
    return pl.DataFrame(rows, schema=LAPS)


def make_reading(laps: pl.DataFrame | None = None, data: bytes | None = None, **more: Any) -> MadeReading:
    """A reading of these laps; its bytes follow from them unless given."""
    laps = make_laps() if laps is None else laps
    return MadeReading(laps, laps.write_json().encode() if data is None else data, **more)
