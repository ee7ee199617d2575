"""The canonical tables: column names, types and units. Every table that crosses a room has its schema here."""

import polars as pl

#: Laps, one row a lap, in file order. Times in s, speeds in km/h, engine speed in 1/min.
#: ``clock`` is the local time of day at the end of the lap. ``marks`` holds what the file says
#: (of MARKS), not what we think. Text stays text: kart 07 is not 7.
LAPS = pl.Schema(
    {
        "session": pl.String(),
        "kart": pl.String(),
        "driver": pl.String(),
        "lap": pl.Int32(),
        "lap_time_s": pl.Float64(),
        "sector_times_s": pl.List(pl.Float64()),
        "top_speed_kmh": pl.Float64(),
        "peak_rpm": pl.Float64(),
        "date": pl.Date(),
        "clock": pl.Time(),
        "marks": pl.List(pl.String()),
        "source_file": pl.String(),
        "source_line": pl.Int64(),
    }
)

#: Laps out of an archive: the event comes first.
EVENT_LAPS = pl.Schema({"event": pl.String(), **LAPS})

MARKS = ("out", "in", "pit", "invalid", "first")

#: Rows and cells that a reading kept but did not use. ``column`` null = the whole line.
SET_ASIDE = pl.Schema({"line": pl.Int64(), "column": pl.String(), "text": pl.String(), "reason": pl.String()})

#: The setup sheet, one row an event, session and kart. Null = not written down.
SETUPS = pl.Schema(
    {
        "event": pl.String(),
        "session": pl.String(),
        "kart": pl.String(),
        "engine_teeth": pl.Int32(),
        "axle_teeth": pl.Int32(),
        "chain_pitch_mm": pl.Float64(),
        "chain_links": pl.Int32(),
        "tyre_set": pl.String(),
        "tyre_laps": pl.Int32(),
        "pressure_front_left_bar": pl.Float64(),
        "pressure_front_right_bar": pl.Float64(),
        "pressure_rear_left_bar": pl.Float64(),
        "pressure_rear_right_bar": pl.Float64(),
        "total_weight_kg": pl.Float64(),
        "ballast_kg": pl.Float64(),
        "carburettor": pl.String(),
        "fuel": pl.String(),
        "track_state": pl.String(),
        "air_temperature_c": pl.Float64(),
        "track_temperature_c": pl.Float64(),
        "notes": pl.String(),
        "other": pl.List(pl.Struct({"key": pl.String(), "value": pl.String()})),
    }
)

#: Events, one row an event. ``our_kart`` is our number as printed there.
EVENTS = pl.Schema(
    {
        "event": pl.String(),
        "date": pl.Date(),
        "track": pl.String(),
        "layout": pl.String(),
        "direction": pl.String(),
        "our_kart": pl.String(),
        "our_driver": pl.String(),
        "notes": pl.String(),
    }
)


def empty(schema: pl.Schema) -> pl.DataFrame:
    """An empty table of that schema."""
    return pl.DataFrame(schema=schema)
