"""Laps by the million, made by columns; for benches of the archive."""

from datetime import date, timedelta

import numpy as np
import polars as pl
from readings_kit import MadeReading

from lapdelta.tables import LAPS

LAPS_A_DAY = 2_500
KARTS = 30


def many_laps(days: int, first_day: date = date(2016, 1, 2), seed: int = 1) -> pl.DataFrame:
    """LAPS_A_DAY laps of 30 karts in 7 sessions on each of so many days."""
    count = days * LAPS_A_DAY
    chance = np.random.default_rng(seed)
    place = np.arange(count)
    within = place % LAPS_A_DAY
    kart = within % KARTS
    session = within // 360
    lap = within % 360 // KARTS + 1
    sectors = chance.normal(20.0, 0.1, (count, 3)).round(3)
    frame = pl.DataFrame(
        {
            "session": pl.Series(session).cast(pl.String()),
            "kart": pl.Series(kart).cast(pl.String()),
            "lap": lap,
            "lap_time_s": sectors.sum(axis=1).round(3),
            "sector_times_s": pl.Series(sectors).cast(pl.List(pl.Float64())),
            "top_speed_kmh": chance.normal(95, 1, count).round(1),
            "date": pl.Series(place // LAPS_A_DAY).cast(pl.Int32()) + (first_day - date(1970, 1, 1)).days,
            "clock": pl.Series(36_000_000_000_000 + within * 8_123_000_000).cast(pl.Time()),
            "source_line": place + 2,
        }
    )
    return frame.select(
        ("P" + pl.col("session")).alias("session"),
        "kart",
        ("Driver " + pl.col("kart")).alias("driver"),
        pl.col("lap").cast(pl.Int32()),
        "lap_time_s",
        "sector_times_s",
        "top_speed_kmh",
        pl.lit(None, pl.Float64()).alias("peak_rpm"),
        pl.col("date").cast(pl.Date()),
        "clock",
        pl.lit([], pl.List(pl.String())).alias("marks"),
        pl.lit("season.csv").alias("source_file"),
        "source_line",
    ).cast(LAPS)


def day_after(first_day: date, days: int) -> date:
    return first_day + timedelta(days=days)


def reading_of(laps: pl.DataFrame, name: str = "season.csv") -> MadeReading:
    """A reading whose bytes are a CSV of the laps."""
    text = laps.drop("sector_times_s", "marks").write_csv().encode()
    account = {"lines": laps.height, "laps": laps.height, "known": {}}
    return MadeReading(laps, text, name, account=account)
