"""Laps whose numbers are not known count in the order of the file: the answer is the same as with numbers."""

import polars as pl
import pytest

import lapdelta
from sample_sessions import FOLDER


@pytest.mark.parametrize("unknown", ["all", "every first two of a session"])
def test_an_answer_needs_no_lap_numbers(unknown):
    laps = lapdelta.read_timing(FOLDER / "2025-05-18" / "practice.csv").laps
    gone = pl.lit(True) if unknown == "all" else pl.col("lap") <= 2
    bare = laps.with_columns(lap=pl.when(gone).then(None).otherwise(pl.col("lap")))
    question = {"kart": "07", "before": ["P1", "P4"], "after": ["P2", "P3"]}
    found, numbered = lapdelta.compare(bare, **question), lapdelta.compare(laps, **question)
    assert (found.verdict, found.estimate, found.low) == (numbered.verdict, numbered.estimate, numbered.low)
    assert [cell["set_aside"] for cell in found.cells] == [cell["set_aside"] for cell in numbered.cells]
