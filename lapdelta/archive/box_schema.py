"""Columns of the tables behind test plans and the sprocket box. One row a change: null = not touched."""

import polars as pl

#: Orders of sessions drawn at random, sealed with the list they were drawn from. ``revealed``: sessions whose
#: setting has been told, counted from the first.
DRAWS = pl.Schema(
    {
        "entry": pl.String(),
        "draw": pl.String(),
        "event": pl.String(),
        "kart": pl.String(),
        "measure": pl.String(),
        "margin": pl.Float64(),
        "order": pl.String(),
        "orders": pl.List(pl.String()),
        "seed": pl.Int64(),
        "revealed": pl.Int32(),
        "cleared": pl.List(pl.String()),
    }
)

#: Sprockets and chains of the user's. ``size``: teeth, or links of a chain. ``retired``: the day it was put away.
PARTS = pl.Schema(
    {
        "entry": pl.String(),
        "part": pl.String(),
        "kind": pl.String(),
        "size": pl.Int32(),
        "pitch_mm": pl.Float64(),
        "price": pl.Float64(),
        "bought": pl.Date(),
        "retired": pl.Date(),
        "notes": pl.String(),
        "cleared": pl.List(pl.String()),
    }
)

#: Length of a lap, of a track (all its events) or of one event; ``about`` is "track" or "event".
LAP_LENGTHS = pl.Schema(
    {
        "entry": pl.String(),
        "about": pl.String(),
        "name": pl.String(),
        "lap_length_m": pl.Float64(),
        "cleared": pl.List(pl.String()),
    }
)
