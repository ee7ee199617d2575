"""The archive: one folder that keeps laps, setups and events, with a history and a way back."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import polars as pl

from lapdelta.archive import look
from lapdelta.archive.backup import back_up
from lapdelta.archive.by_hand import choose, hand_state, without_set_aside
from lapdelta.archive.checking import check_archive
from lapdelta.archive.durable import plainly
from lapdelta.archive.imports import Added, KeptReading, event_laps, keep
from lapdelta.archive.latest import SETUP_KEY, event_change, latest, setup_change
from lapdelta.archive.lock import PATIENCE_S, in_turn
from lapdelta.archive.look import (
    event_index,
    no_event,
    printed_tracks,
    sessions_of,
    visible_laps,
)
from lapdelta.archive.merge import Merged, merge
from lapdelta.archive.originals import unpack
from lapdelta.archive.place import default_folder
from lapdelta.archive.questions import asked_of, note_asked, question_for, questions_of, write_question
from lapdelta.archive.remote import place_at
from lapdelta.archive.schema import LAP_KEY, from_disk
from lapdelta.archive.store import Place, Store
from lapdelta.archive.written_ahead import under_the_name_in_use
from lapdelta.errors import ArchiveError, SetupError
from lapdelta.tables import EVENT_LAPS, EVENTS, SETUPS
from lapdelta.units import Units, read_units, units_file, units_text
from lapdelta.units import choose as choose_units


class Archive:
    """Laps, setups and events kept in a folder, as Delta tables that other programs can read too.

    Every change is one entry of ``history()`` and can be taken back with ``undo()``. Several programs may
    have the same archive open; each change is there as a whole or not at all, even after a power cut.

    Args:
        folder: made if it does not exist, readable by its owner only; the user data folder for None. Or an
            address in an object store (``s3://bucket/folder``).
        new: an archive at an address where there is none is made; else that is an error.

    Raises:
        ArchiveError: the folder cannot be used, or is not an archive.
    """

    def __init__(self, folder: str | Path | None = None, *, new: bool = False) -> None:
        """Open it, and clear away what a killed program left unfinished."""
        place = place_at(default_folder() if folder is None else folder)
        place.open(new=new)
        self.folder = place.folder
        self._store = Store(place)
        self._store.tidy()

    @property
    def location(self) -> str:
        """What ``Archive`` opens it by, in this program or another."""
        return self._store.place.url or str(self.folder)

    @property
    def writable(self) -> bool:
        """Whether this user may change it."""
        return self._store.place.writable()

    def add(self, reading: KeptReading, event: str | None = None, why: str | None = None) -> Added:
        """Keep a reading: its bytes, its laps, its account.

        The same bytes again add nothing. Of a file that overlaps others only the new laps are added; the rest
        is counted in ``laps_known``. The event is ``event``, else the answer in the reading, else the laps'
        date, followed by the track if it is printed; laps of several dates make several events.

        Raises:
            OpenQuestions: the reading has open questions, or the event cannot be named.
            ArchiveError: it cannot be written; then nothing was.
        """
        return keep(self._store, reading, self.named(reading, event), why)

    def named(self, reading: KeptReading, event: str | None = None) -> pl.DataFrame:
        """The reading's laps under the event that ``add`` would keep them under (tables.EVENT_LAPS).

        A day that was written about before its laps came in keeps the name it was given then.

        Raises:
            OpenQuestions: the reading has open questions, or the event cannot be named.
            ArchiveError: the reading holds no laps.
        """
        laps = event_laps(reading, event)
        track = reading.facts.get("track", "").strip()
        if event or reading.facts.get("event") or not track:
            return laps
        return under_the_name_in_use(self._store, laps, track)

    def laps(self, event: str | None = None, *, with_set_aside: bool = False) -> pl.DataFrame:
        """Laps of one event, or of all, in event and file order (tables.EVENT_LAPS).

        Args:
            event: its name.
            with_set_aside: also the laps that were set aside by hand.

        Raises:
            ArchiveError: there is no such event.
        """
        found = self._visible(event)
        return from_disk(found if with_set_aside else without_set_aside(found, hand_state(self._store)))

    def laps_of(self, events: Sequence[str]) -> pl.DataFrame:
        """Laps of several events (tables.EVENT_LAPS), those set aside by hand left out; unknown events have none."""
        found = visible_laps(self._store, list(events), must_exist=False)
        return from_disk(without_set_aside(found, hand_state(self._store)))

    def sessions(self, event: str | None = None) -> pl.DataFrame:
        """DataFrame(event, session, laps, karts, first_clock, last_clock, source_file); all laps count."""
        return sessions_of(self._visible(event, ("source_file",)))

    @property
    def setups(self) -> pl.DataFrame:
        """The setup sheet as it is now (tables.SETUPS), in the order in which its rows were first written."""
        return latest(self._store.rows("setups"), SETUP_KEY, SETUPS)

    @property
    def events(self) -> pl.DataFrame:
        """One row an event (tables.EVENTS) by date; date and track are the files' where no other was written down."""
        written = latest(self._store.rows("events"), ("event",), EVENTS)
        read = event_index(self._store).group_by("event").agg(pl.col("first_date").min().alias("first"))
        return (
            written.join(read, on="event", how="full", coalesce=True)
            .join(printed_tracks(self._store), on="event", how="left")
            .with_columns(
                pl.coalesce("date", "first").alias("date"), pl.coalesce("track", "printed").alias("track")
            )
            .select(list(EVENTS))
            .sort("date", "event", nulls_last=True)
        )

    @property
    def set_aside(self) -> pl.DataFrame:
        """Laps set aside by hand: tables.EVENT_LAPS and ``entry``, ``why``."""
        hands = hand_state(self._store).filter(pl.col("aside"))
        if hands.is_empty():
            return pl.DataFrame(schema={**EVENT_LAPS, "entry": pl.String(), "why": pl.String()})
        known = set(event_index(self._store)["event"])
        events = [name for name in hands["event"].unique() if name in known]
        reasons = hands.select(*LAP_KEY, pl.col("entry").alias("by"), "why")
        laps = visible_laps(self._store, events).join(
            reasons, on=LAP_KEY, how="inner", nulls_equal=True, maintain_order="left"
        )
        return from_disk(laps).with_columns(laps["by"].alias("entry"), laps["why"])

    def put_setups(self, frame: pl.DataFrame, why: str | None = None, clear: Sequence[str] = ()) -> str:
        """Write rows of the setup sheet; the entry's id. Only the fields given change.

        Args:
            frame: event, session, kart and any other columns of tables.SETUPS; a null changes nothing.
            why: reason, for the history.
            clear: columns to empty in these rows. A pair of ``other`` goes if its value is given as "".

        Raises:
            SetupError: an unknown column, a value that cannot be, no row, or one without its key.
            ArchiveError: it cannot be written.
        """
        rows = setup_change(frame, clear)
        if rows.is_empty():
            raise SetupError("There is no row to write into the setup sheet.", "Give one or more rows.")
        names = rows.select(SETUP_KEY).unique(maintain_order=True)
        first = " ".join(str(part) for part in names.row(0))
        more = f" and {names.height - 1} more" if names.height > 1 else ""
        return self._put("setups", "setup", rows, f"setup of {first}{more}", why)

    def put_event(self, event: str, *, why: str | None = None, **fields: Any) -> str:
        """Write down what is known of an event; the entry's id.

        Fields: date (or "2026-05-16"), track, layout, direction, our_kart, our_driver, notes.
        Only the fields given change; None empties one.

        Raises:
            ArchiveError: an unknown field or bad date, or it cannot be written.
        """
        rows = event_change(event, fields)
        return self._put("events", "event", rows, f"event {event}: {', '.join(fields)}", why)

    def set_aside_laps(
        self, event: str, session: str, kart: str, laps: Sequence[int] | None = None, why: str | None = None
    ) -> str:
        """Set laps aside by hand, by their numbers, or all the kart's laps of the session; the entry's id."""
        return self._by_hand(event, session, kart, laps, why, aside=True)

    def put_back_laps(
        self, event: str, session: str, kart: str, laps: Sequence[int] | None = None, why: str | None = None
    ) -> str:
        """Put laps back by hand; the entry's id."""
        return self._by_hand(event, session, kart, laps, why, aside=False)

    @property
    def questions(self) -> pl.DataFrame:
        """Questions written in advance, and the driver's words (question_schema.QUESTIONS), oldest first."""
        return questions_of(self._store)

    def put_question(
        self, event: str, question: str | None = None, *, why: str | None = None, **fields: Any
    ) -> str:
        """Write a question down before the session, or add to one (the driver's words); the entry's id.

        Args:
            event: its name; it need not have laps yet.
            question: id of one in ``questions``; None for a new one, whose id is the entry's.
            why: reason, for the history.
            fields: kart, changed, before and after (lists of labels), measure, margin (in its unit), expected
                (one of question_schema.EXPECTED), wish, words. Only those given change; None empties one.

        Raises:
            QuestionError: an unknown field or question, a margin or direction that cannot be.
            ArchiveError: it cannot be written.
        """
        return write_question(self._store, event, question, fields, why)

    def question_for(
        self, event: str, kart: str, measure: str, before: Sequence[str], after: Sequence[str]
    ) -> dict[str, Any] | None:
        """The question written down that fits one being asked (a row of ``questions``), or None."""
        return question_for(self.questions, event, kart, measure, before, after)

    def note_asked(
        self,
        event: str,
        kart: str,
        measure: str,
        before: Sequence[str],
        after: Sequence[str],
        patience_s: float = PATIENCE_S,
    ) -> str:
        """Record that a question was asked; the same one again counts once. The id of its entry.

        Raises:
            ArchiveBusy: another program was writing for longer than ``patience_s``.
            ArchiveError: it cannot be written.
        """
        return note_asked(self._store, event, kart, measure, before, after, patience_s)

    def asked(self) -> pl.DataFrame:
        """Questions asked: DataFrame(season, number, event, kart, measure, before, after, at, entry).

        ``season`` is the event's calendar year; ``number`` counts from 1 in each.
        """
        return asked_of(self._store, self.events)

    @property
    def units(self) -> Units:
        """The units of the user's choice for input and screen; the tables stay in those of the store."""
        return chosen_units(self._store.place)

    def put_units(self, *names: str) -> Units:
        """Choose units by name (psi, F, mph, inch, lb, or back: bar, C, ..); the others stay.

        A setting of the screen, not a change of what is kept: it is no entry of the history.

        Raises:
            SetupError: not a unit that can be chosen.
            ArchiveError: it cannot be written.
        """
        units = choose_units(self.units, *names)
        self._store.place.write(units_file(self.folder), units_text(units))
        return units

    def history(self, *, asked: bool = False) -> pl.DataFrame:
        """DataFrame(entry, at (UTC), what, why, rows, undone), oldest first.

        ``asked``: also the record of each question asked, which ``asked()`` lists too.
        """
        return self._store.history().table(asked=asked)

    @in_turn
    def undo(self, entry: str, why: str | None = None) -> str:
        """Take one entry back, and only that, whatever came later; the new entry's id (can be undone too).

        Args:
            entry: its id, or a beginning or end of it that no other has.
            why: reason, for the history.

        Raises:
            ArchiveError: no such entry, or it is taken back already.
        """
        with self._store.changing() as change:
            history = self._store.history()
            found = history.find(entry)
            root, shown = history.reversal(found)
            what = history.rows.row(by_predicate=pl.col("entry") == root, named=True)["what"]
            said = f"{'brought back' if shown else 'took back'}: {what}"
            return change.commit("undo", said, why, 0, (found, root, shown))

    @property
    def readings(self) -> pl.DataFrame:
        """The files that came in and count.

        Columns: entry, sha256, source_name, source_bytes, account (JSON), recipe (TOML), facts (JSON),
        set_aside (list of rows of tables.SET_ASIDE), events (list: event, dates, laps new and known).
        """
        return self._store.rows("readings")

    def original(self, sha256: str) -> bytes:
        """The bytes of a file that came in, as they were."""
        place = self._store.place
        path = place.original(sha256)
        with plainly(path):
            return unpack(place.read(path), sha256)

    def check(self) -> tuple[ArchiveError, ...]:
        """All that is wrong with files, hashes, columns and accounts; empty if nothing is."""
        return check_archive(self._store)

    def backup(self, target: str | Path) -> int:
        """Write all of it into one new file (zip); how many files it holds. ``restore`` makes an archive of it.

        Raises:
            ArchiveError: the file is there already, lies inside the archive, or cannot be written.
        """
        return back_up(self._store, Path(target))

    def merge(self, other: str | Path) -> Merged:
        """Bring over what another archive has and this one has not: entries, rows, files and undos.

        Raises:
            ArchiveError: no archive there, the same one, or it is damaged; then nothing came over.
        """
        return merge(self._store, other)

    def _visible(self, event: str | None, columns: Sequence[str] | None = None) -> pl.DataFrame:
        if event is None:
            return visible_laps(self._store, columns=columns)
        found = visible_laps(self._store, [event], must_exist=False, columns=columns)
        if found.is_empty() and event not in set(self.events["event"]):
            raise no_event(event, self.events["event"].to_list())
        return found

    @in_turn
    def _put(self, table: str, kind: str, rows: pl.DataFrame, what: str, why: str | None) -> str:
        with self._store.changing() as change:
            change.append(table, rows)
            return change.commit(kind, what, why, rows.height)

    @in_turn
    def _by_hand(
        self, event: str, session: str, kart: str, laps: Sequence[int] | None, why: str | None, *, aside: bool
    ) -> str:
        with self._store.changing() as change:
            rows = choose(self._store, event, session, kart, laps).with_columns(aside=pl.lit(aside))
            change.append("by_hand", rows)
            verb = "set aside" if aside else "put back"
            what = f"{verb} {rows.height} laps of kart {kart} in {event} {session}"
            return change.commit(verb, what, why, rows.height)


def chosen_units(place: Place) -> Units:
    """The units chosen for the archive there, if there is one; nothing is made.

    Raises:
        SetupError: the file that holds the choice is damaged.
    """
    path = units_file(place.folder)
    return read_units(place.find(path), str(path))


def laps_by_kart(archive: Archive, events: Sequence[str]) -> pl.DataFrame:
    """DataFrame(event, session, kart, laps, date, clock) of these events; all laps count, as wear does."""
    store = archive._store  # pyright: ignore[reportPrivateUsage] - of this module
    return look.laps_by_kart(store, events)
