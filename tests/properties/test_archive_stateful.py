"""Two laptops' archives in any order of changes, undos, merges, backups and power cuts, against a plain model.

The model is a dict of entries: what an archive holds follows from the entries alone, in the order of their ids.
More examples: HYPOTHESIS_PROFILE=explore LAPDELTA_EXAMPLES=500 python -m pytest with this file's name.
"""

import os
import shutil
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from power_cuts import Cut, cut_after, strays
from readings_kit import make_laps, make_reading

from lapdelta.archive import Archive, restore
from lapdelta.errors import ArchiveError

EVENTS = ("may", "june")
LAPTOPS = st.integers(0, 1)
#: Files of few laps that overlap; the same span in another event has the same bytes.
SPANS = st.tuples(st.integers(0, 5), st.integers(1, 3))
FIELDS = ("axle_teeth", "tyre_set", "pressure_rear_left_bar", "seat")
VALUES: dict[str, tuple[Any, ...]] = {
    "axle_teeth": (80, 81), "tyre_set": ("A", "=B"), "pressure_rear_left_bar": (0.6, 0.65), "seat": ("low", "high"),
}  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """One change: its kind and what it was about."""

    kind: str
    about: tuple[Any, ...]


Entries = dict[str, Entry]


def hidden(entries: Entries) -> set[str]:
    """Roots whose last undo in time says that they do not count."""
    last = {entry.about[0]: entry.about[1] for _, entry in sorted(entries.items()) if entry.kind == "undo"}
    return {root for root, shown in last.items() if not shown}


def counting(entries: Entries, kind: str) -> list[tuple[str, tuple[Any, ...]]]:
    """Changes of a kind that count, in order of time."""
    gone = hidden(entries)
    return [
        (name, one.about) for name, one in sorted(entries.items()) if one.kind == kind and name not in gone
    ]


def held(entries: Entries) -> dict[str, Any]:
    """What an archive with these entries has to show."""
    laps = {(event, lap) for _, (event, span) in counting(entries, "add") for lap in range(*span)}
    aside = {about[:2]: about[2] for _, about in counting(entries, "hand")}
    fitted = {about[:3]: about[3] for _, about in counting(entries, "setup")}
    said: dict[str, dict[str, Any]] = {}
    for name, (question, margin) in counting(entries, "question"):
        said.setdefault(question or name, {})["margin"] = margin
    return {
        "entries": sorted(entries),
        "laps": sorted(laps),
        "used": sorted(one for one in laps if not aside.get(one)),
        "fitted": {key: value for key, value in fitted.items() if value is not None},
        "notes": dict(about for _, about in counting(entries, "event")),
        "margins": {name: one["margin"] for name, one in said.items()},
    }


def found(archive: Archive) -> dict[str, Any]:
    """The same, as the archive tells it."""
    laps, used = archive.laps(with_set_aside=True), archive.laps()
    fitted: dict[tuple[str, str, str], Any] = {}
    for row in archive.setups.to_dicts():
        cells = {name: row[name] for name in FIELDS if name in row}
        cells |= {pair["key"]: pair["value"] for pair in row["other"] or ()}
        fitted |= {
            (row["event"], row["session"], name): value for name, value in cells.items() if value is not None
        }
    events = archive.events.filter(pl.col("notes").is_not_null())
    return {
        "entries": archive.history()["entry"].to_list(),
        "laps": sorted(laps.select("event", "lap").rows()),
        "used": sorted(used.select("event", "lap").rows()),
        "fitted": fitted,
        "notes": dict(events.select("event", "notes").iter_rows()),
        "margins": dict(archive.questions.select("question", "margin").iter_rows()),
    }


class TwoLaptops(RuleBasedStateMachine):
    """Rules change one archive and its model alike; after each both hold the same."""

    def __init__(self) -> None:
        super().__init__()
        self.place = Path(tempfile.mkdtemp(prefix="lapdelta-model-"))
        self.made = 0
        self.archives = [Archive(self.new_folder()) for _ in range(2)]
        self.models: list[Entries] = [{}, {}]
        self.touched = {0, 1}
        self.steps: int | None = None

    def new_folder(self) -> Path:
        self.made += 1
        return self.place / str(self.made)

    def done(self, which: int, change: Callable[[], Any], kind: str, *about: Any) -> None:
        """Make a change, all of it or, where the power is cut, perhaps nothing."""
        new = self.attempt(which, change)
        assert len(new) <= 1
        for entry in new:
            self.models[which][entry] = Entry(kind, about)

    def attempt(self, which: int, change: Callable[[], Any]) -> set[str]:
        """Ids of the entries that a change made; none if the power went before its last step."""
        steps, self.steps = self.steps, None
        self.touched.add(which)
        if steps is None:
            change()
        else:
            with suppress(Cut), cut_after(steps):
                change()
            self.archives[which] = Archive(self.archives[which].folder)
            assert strays(self.archives[which].folder) == []
        new = set(self.archives[which].history()["entry"]) - set(self.models[which])
        assert new or steps is not None
        return new

    @precondition(lambda self: self.steps is None)
    @rule(steps=st.integers(0, 25))
    def cut_the_power_soon(self, steps: int) -> None:
        """The next change gets so far, and the program starts again."""
        self.steps = steps

    @rule(which=LAPTOPS, event=st.sampled_from(EVENTS), span=SPANS)
    def bring_in(self, which: int, event: str, span: tuple[int, int]) -> None:
        first, count = span
        limits = (first, first + count)
        model = self.models[which]
        before = held(model)["laps"]
        reading = make_reading(make_laps(range(*limits), ("07",), ("P1",)))
        if any(known == limits for _, (_, known) in counting(model, "add")):
            assert self.archives[which].add(reading, event=event).already
            return

        def change() -> None:
            added = self.archives[which].add(reading, event=event)
            assert added.laps_added == count - added.laps_known
            assert added.laps_known == sum((event, lap) in before for lap in range(*limits))

        self.done(which, change, "add", event, limits)

    @rule(which=LAPTOPS, event=st.sampled_from(EVENTS), session=st.sampled_from(("P1", "P2")),
          name=st.sampled_from(FIELDS), place=st.integers(0, 2))  # fmt: skip
    def fit(self, which: int, event: str, session: str, name: str, place: int) -> None:
        """Write one field of the setup sheet down, or empty it."""
        value = (*VALUES[name], None)[place]
        row: dict[str, Any] = {"event": event, "session": session, "kart": "07"}
        clear: list[str] = []
        if name == "seat":
            row["other"] = [{"key": name, "value": value or ""}]
        elif value is None:
            clear = [name]
        else:
            row[name] = value
        frame, archive = pl.DataFrame([row]), self.archives[which]
        self.done(which, lambda: archive.put_setups(frame, clear=clear), "setup", event, session, name, value)

    @rule(which=LAPTOPS, event=st.sampled_from(EVENTS), text=st.sampled_from(("dry", "wet; =1+1", "ä")))
    def note(self, which: int, event: str, text: str) -> None:
        self.done(which, lambda: self.archives[which].put_event(event, notes=text), "event", event, text)

    @rule(which=LAPTOPS, margin=st.sampled_from((0.1, 0.2)), again=st.booleans())
    def question(self, which: int, margin: float, again: bool) -> None:
        """A new question, or another margin for one."""
        known = sorted(held(self.models[which])["margins"])
        asked = known[0] if again and known else None
        archive = self.archives[which]
        self.done(which, lambda: archive.put_question("may", asked, margin=margin), "question", asked, margin)

    @precondition(lambda self: any(held(model)["laps"] for model in self.models))
    @rule(which=LAPTOPS, place=st.integers(0, 9), aside=st.booleans())
    def by_hand(self, which: int, place: int, aside: bool) -> None:
        laps = held(self.models[which])["laps"]
        if not laps:
            return
        event, lap = laps[place % len(laps)]
        archive = self.archives[which]
        change: Callable[..., str] = archive.set_aside_laps if aside else archive.put_back_laps
        self.done(which, lambda: change(event, "P1", "07", [lap]), "hand", event, lap, aside)

    @precondition(lambda self: any(self.models))
    @rule(which=LAPTOPS, place=st.integers(0, 30), late=st.booleans())
    def undo(self, which: int, place: int, late: bool) -> None:
        """Take back any entry, an undo too; what is taken back already is refused."""
        model = self.models[which]
        if not model:
            return
        names = sorted(model)
        name = names[-1] if late else names[place % len(names)]
        entry = model[name]
        root, said = entry.about if entry.kind == "undo" else (name, True)
        if (root not in hidden(model)) != said:
            with pytest.raises(ArchiveError, match="taken back already"):
                self.archives[which].undo(name)
            return
        self.done(which, lambda: self.archives[which].undo(name), "undo", root, not said)

    @rule(which=LAPTOPS)
    def start_again(self, which: int) -> None:
        self.archives[which] = Archive(self.archives[which].folder)
        self.touched.add(which)

    @rule(which=LAPTOPS)
    def backup_and_restore(self, which: int) -> None:
        """The archive goes on as what its backup holds."""
        zipped, folder = self.new_folder().with_suffix(".zip"), self.new_folder()
        self.archives[which].backup(zipped)
        restore(zipped, folder)
        self.archives[which] = Archive(folder)
        self.touched.add(which)

    @rule(which=LAPTOPS)
    def merge(self, which: int) -> None:
        """Entries of the other come over, but for files that count here already, and their undos."""
        mine, theirs = self.models[which], self.models[1 - which]
        spans = {span for _, (_, span) in counting(mine, "add")}
        new = {name: one for name, one in theirs.items() if name not in mine}
        out = {name for name, one in new.items() if one.kind == "add" and one.about[1] in spans}
        new = {
            n: one
            for n, one in new.items()
            if n not in out and not (one.kind == "undo" and one.about[0] in out)
        }
        archive, other = self.archives[which], self.archives[1 - which].folder
        if not new:
            merged = archive.merge(other)
            assert (merged.entries, len(merged.same_files)) == ((), len(out))
            return
        came = self.attempt(which, lambda: archive.merge(other))
        assert came in (set(), set(new))  # all of it or nothing
        mine.update({name: new[name] for name in came})

    @invariant()
    def both_hold_what_the_model_says(self) -> None:
        for which in self.touched:
            assert found(self.archives[which]) == held(self.models[which])
        self.touched = set()

    def teardown(self) -> None:
        for archive, model in zip(self.archives, self.models, strict=True):
            assert found(Archive(archive.folder)) == held(model)
            assert archive.check() == ()
        shutil.rmtree(self.place)


TestTwoLaptops = TwoLaptops.TestCase
TestTwoLaptops.settings = settings(
    max_examples=int(os.environ.get("LAPDELTA_EXAMPLES", "4")),
    stateful_step_count=int(os.environ.get("LAPDELTA_STEPS", "12")),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
