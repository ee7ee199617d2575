"""compare against the plain second writing of the method (``reference_method.py``), on days of random laps."""

import numpy as np
import polars as pl
import pytest
from simulated.reference_method import shift

import lapdelta
from lapdelta.tables import LAPS

#: The search for tau^2 stops within this of the lowest point; the rest agrees to rounding.
NEAR = 3e-5


def day(order, others, seed):
    """Laps printed to a thousandth: out and in laps, two runs, traffic, warm-up, lines twice, cells missing."""
    rng = np.random.default_rng(seed)
    first = int(rng.integers(0, 3))
    rows = []
    for s, setting in enumerate(order):
        for k in range(others + 1):
            if k > 3 and rng.random() < 0.2:
                continue
            pace = 48 + 0.1 * k - 0.1 * s + rng.normal(0, 0.1) - 0.3 * (k == 0 and setting == "B")
            count = int(rng.integers(8, 15))
            stop = count // 2 if rng.random() < 0.2 else count
            for i in range(count):
                place = i if i < stop else i - stop
                late = 5.0 if place == 0 else 0.4 * 0.5**place + rng.exponential(0.6) * (rng.random() < 0.2)
                row = dict.fromkeys(LAPS) | {
                    "session": f"S{s + 1}",
                    "kart": str(10 + k),
                    "lap": first + place,
                    "lap_time_s": None if rng.random() < 0.01 else round(pace + late + rng.normal(0, 0.2), 3),
                    "marks": ["in"] if i == count - 1 else ["invalid"] if rng.random() < 0.02 else [],
                }
                rows += [row, row] if rng.random() < 0.05 else [row]
    return rows


@pytest.mark.parametrize("others", [3, 8, 12])
@pytest.mark.parametrize("order", ["AB", "AABB", "AAABBB", "ABA", "ABAB", "ABBA", "ABBABAAB"])
def test_compare_is_the_method_as_described(order, others):
    rows = day(order, others, seed=100 * len(order) + others)
    after = {f"S{s + 1}": setting == "B" for s, setting in enumerate(order)}
    expected = shift(rows, "10", after)
    finding = lapdelta.compare(
        pl.DataFrame(rows, schema=LAPS),
        kart="10",
        before=[session for session, new in after.items() if not new],
        after=[session for session, new in after.items() if new],
    )
    assert sum(cell["kept"] for cell in finding.cells if cell["pace"] is not None) == expected.pop("kept")
    tipping = expected.pop("tipping_rate")
    assert (finding.tipping_rate is None) == np.isnan(tipping)
    assert finding.tipping_rate is None or finding.tipping_rate == pytest.approx(tipping, abs=NEAR)
    for name, value in expected.items():
        assert getattr(finding, name) == pytest.approx(value, abs=NEAR), name
