"""Whatever events, sessions and karts are called, they come back as they were."""

import tempfile
from datetime import date

import polars as pl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.sampled_from(["", "=x", "ä", "'", '"', "P 1/2", "..", "#%20", "日"]), min_size=1, max_size=3),
    st.one_of(st.none(), st.dates(date(1900, 1, 1), date(2100, 1, 1))),
)
def test_any_names_come_back_as_they_were(names: list[str], day: date | None) -> None:
    laps = pl.concat([make_laps(range(1, 3), (f"k{name}",), (f"s{name}",), day) for name in set(names)])
    event = "e" + "".join(names)
    with tempfile.TemporaryDirectory() as folder:
        Archive(folder).add(make_reading(laps), event=event)
        kept = Archive(folder).laps(event)
    assert_frame_equal(kept.drop("event"), laps)
