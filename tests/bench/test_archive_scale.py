"""The archive stays quick as it grows: ratios in one run, wide enough for a busy machine.

The targets and what was measured stand in DEVELOPERS.md.
"""

from pathlib import Path

import pytest
from bench.archive_scale import Costs, measure, slopes


@pytest.fixture(scope="module")
def costs(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Costs]:
    place = tmp_path_factory.mktemp("scale")
    return {laps: measure(Path(place) / str(laps), laps) for laps in (10_000, 1_000_000)}


def test_a_day_is_looked_up_about_as_quickly_as_plain_polars_does(costs: dict[int, Costs]) -> None:
    print(f"\n{costs}")
    assert costs[1_000_000].look_up < 6 * costs[1_000_000].polars_look_up


def test_a_change_costs_no_more_in_a_large_archive(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].commit < 4 * costs[10_000].commit  # the target is 2 x at 10^7
    assert costs[1_000_000].day_import < 4 * costs[10_000].day_import


def test_a_sweep_costs_the_same_for_an_event_of_a_large_archive(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].sweep_event < 4 * costs[10_000].sweep_event


def test_a_million_laps_come_in_within_a_few_times_of_writing_them_plainly(costs: dict[int, Costs]) -> None:
    assert costs[1_000_000].import_ratio < 15  # bytes kept, duplicates sought, sorted, synced on the disk


def test_the_slope_of_a_cost_is_its_power_of_the_laps() -> None:
    rows = [{"laps": 1e4, "even": 3.0, "linear": 2.0}, {"laps": 1e6, "even": 3.0, "linear": 200.0}]
    power, following = slopes(rows)
    assert power == pytest.approx({"laps": 0.0, "even": 0.0, "linear": 1.0})
    assert following == pytest.approx({"laps": 1e7, "even": 3.0, "linear": 2000.0})
