"""Any run of imports and undos: the archive shows each lap of the files that count, once."""

import tempfile
from datetime import date
from pathlib import Path

import polars as pl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive
from lapdelta.errors import ArchiveError

FILES = st.tuples(st.integers(0, 12), st.integers(1, 8)).map(lambda span: range(span[0], span[0] + span[1]))
STEPS = st.lists(st.one_of(FILES, st.integers(0, 9)), min_size=2, max_size=9)


class Model:
    """What should be seen: files with whether they count, undos with what they set."""

    def __init__(self) -> None:
        self.files: dict[str, frozenset[int]] = {}
        self.counts: dict[str, bool] = {}
        self.undos: dict[str, tuple[str, bool]] = {}

    def visible(self) -> set[int]:
        return set().union(*(laps for entry, laps in self.files.items() if self.counts[entry]))

    def undo(self, entry: str) -> tuple[str, bool] | None:
        root, said = self.undos.get(entry, (entry, True))
        return (root, not said) if self.counts[root] == said else None


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(STEPS)
def test_imports_and_undos_follow_the_model(steps: list[range | int]) -> None:
    model = Model()
    with tempfile.TemporaryDirectory() as folder:
        archive = Archive(Path(folder) / "kept")
        for step in steps:
            if isinstance(step, range):
                bring_in(archive, model, step)
            else:
                take_back(archive, model, step)
            assert sorted(archive.laps()["lap"]) == sorted(model.visible())


def bring_in(archive: Archive, model: Model, laps: range) -> None:
    added = archive.add(make_reading(make_laps(laps, ("07",), ("P1",))))
    same = [entry for entry, known in model.files.items() if known == frozenset(laps) and model.counts[entry]]
    assert added.already == bool(same)
    if added.entry is None:
        return
    assert added.laps_added == len(set(laps) - model.visible())
    assert added.laps_known == len(set(laps) & model.visible())
    model.files[added.entry] = frozenset(laps)
    model.counts[added.entry] = True


def take_back(archive: Archive, model: Model, which: int) -> None:
    history = archive.history()["entry"].to_list()
    if not history:
        return
    entry = history[which % len(history)]
    expected = model.undo(entry)
    try:
        undo = archive.undo(entry)
    except ArchiveError:
        assert expected is None
        return
    assert expected is not None
    model.undos[undo] = expected
    model.counts[expected[0]] = expected[1]


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
