"""Which question the setup sheet suggests: sessions on the two sprockets of a day."""

import polars as pl

_TEETH = ("engine_teeth", "axle_teeth")


def suggested_groups(setups: pl.DataFrame, event: str, kart: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Sessions with the first sprockets of the day and those with the second; empty if there are not two."""
    ours = setups.filter((pl.col("event") == event) & (pl.col("kart") == kart)).drop_nulls("axle_teeth")
    groups: dict[tuple[int | None, ...], list[str]] = {}
    for row in ours.iter_rows(named=True):
        groups.setdefault(tuple(row[name] for name in _TEETH), []).append(row["session"])
    if len(groups) < 2:
        return (), ()
    old, new = list(groups.values())[:2]
    return tuple(old), tuple(new)
