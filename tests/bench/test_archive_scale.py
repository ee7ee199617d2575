"""The archive stays quick as it grows. Limits are wide for a busy machine; the table is in DEVELOPERS.md."""

from pathlib import Path

import pytest
from bench.archive_scale import Costs, measure


@pytest.fixture(scope="module")
def costs(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Costs]:
    place = tmp_path_factory.mktemp("scale")
    return {laps: measure(Path(place) / str(laps), laps) for laps in (10_000, 1_000_000)}


def test_a_day_is_looked_up_in_50_ms(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].look_up < 50


def test_looking_up_is_near_plain_polars_over_the_same_files(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].look_up < 3 * costs[1_000_000].polars_look_up + 15


def test_a_change_costs_at_most_twice_as_much_in_a_large_archive(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].commit < 2 * costs[10_000].commit + 10
    assert costs[1_000_000].day_import < 2 * costs[10_000].day_import + 20


def test_a_sweep_costs_the_same_for_an_event_of_a_large_archive(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].sweep_event < 2 * costs[10_000].sweep_event + 20


def test_a_million_laps_come_in_within_ten_times_of_writing_them_plainly(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].import_ratio < 10  # bytes kept, duplicates sought, sorted, synced on the disk
