"""Our kart under one number, whatever number it carried at each event."""

import polars as pl


def renumbered(table: pl.DataFrame, numbers: pl.DataFrame, kart: str) -> pl.DataFrame:
    """``kart`` for our kart at every event; another kart of that number gets a mark behind its own.

    Args:
        table: any table with ``event`` and ``kart``.
        numbers: ``event`` and ``ours``, our number there (null where nobody wrote it down).
        kart: the label that our kart gets.
    """
    ours = pl.col("kart") == pl.col("ours")
    stranger = pl.col("ours").is_not_null() & (pl.col("kart") == kart) & ~ours
    return (
        table.join(numbers, on="event", how="left", maintain_order="left")
        .with_columns(
            pl.when(ours)
            .then(pl.lit(kart))
            .when(stranger)
            .then(pl.col("kart") + " (not ours)")
            .otherwise(pl.col("kart"))
            .alias("kart")
        )
        .drop("ours")
    )
