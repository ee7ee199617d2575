"""A reading comes in: which event its laps belong to, and which of them are new."""

import json
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Protocol

import polars as pl

from lapdelta.archive.lock import in_turn
from lapdelta.archive.look import read_events, visible_laps
from lapdelta.archive.originals import pack
from lapdelta.archive.schema import KINDS, LAP_KEY, to_disk, with_year
from lapdelta.archive.store import Store
from lapdelta.chunked import laid_out, repeated
from lapdelta.errors import ArchiveError, OpenQuestions
from lapdelta.tables import EVENT_LAPS


class Recipe(Protocol):
    """How a file was read, as text."""

    def to_toml(self) -> str:
        """The recipe as TOML."""
        ...


class KeptReading(Protocol):
    """What the archive needs of a reading (lapdelta.Reading has it)."""

    @property
    def laps(self) -> pl.DataFrame:
        """Table of tables.LAPS."""
        ...

    @property
    def set_aside(self) -> pl.DataFrame:
        """Table of tables.SET_ASIDE."""
        ...

    @property
    def questions(self) -> Sequence[Any]:
        """Open questions."""
        ...

    @property
    def account(self) -> Mapping[str, Any]:
        """The account of lines."""
        ...

    @property
    def recipe(self) -> Recipe:
        """How the file was read."""
        ...

    @property
    def source_name(self) -> str:
        """The file's base name."""
        ...

    @property
    def sha256(self) -> str:
        """Hash of the file's bytes, as hexadecimal digits."""
        ...

    def blocks(self) -> Iterator[bytes]:
        """The file's bytes, a block at a time."""
        ...

    @property
    def facts(self) -> Mapping[str, str]:
        """What the lines around the laps said: track, date, event, ..."""
        ...


@dataclass(frozen=True)
class EventQuestion:
    """The question which event the laps belong to."""

    key: str = "event"
    text: str = "Which event are these laps of? The file does not tell the date of every lap."
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Added:
    """What became of a reading.

    Attributes:
        entry: the change's id; None if the same bytes were in the archive already.
        events: names of the events the laps belong to.
        laps_added: laps that were new.
        laps_known: laps that were there already, from this or another file.
        already: True if the same bytes were in the archive already.
    """

    entry: str | None
    events: list[str]
    laps_added: int
    laps_known: int
    already: bool


def event_laps(reading: KeptReading, event: str | None = None) -> pl.DataFrame:
    """The reading's laps with their event in front (EVENT_LAPS), in file order.

    The event is ``event`` if given, else the answer ``facts["event"]``, else each lap's date, followed by the
    track if the file prints it.

    Raises:
        OpenQuestions: the reading has open questions, or the event cannot be named (question ``event``).
        ArchiveError: the reading holds no laps.
    """
    where = reading.source_name
    if reading.questions:
        texts = " ".join(str(question.text) for question in reading.questions)
        raise OpenQuestions(
            f"Something in this file has to be asked first: {texts}",
            "Answer it; nothing of the file was kept.",
            where,
            tuple(reading.questions),
        )
    laps = reading.laps
    if laps.is_empty():
        raise ArchiveError("There is no lap in this reading.", "Look at the rows set aside.", where)
    name = (event or reading.facts.get("event") or "").strip()
    if name:
        named = laps.with_columns(repeated(laps, "event", name, pl.String()))
    elif laps["date"].null_count():
        question = EventQuestion()
        raise OpenQuestions(question.text, "Name the event.", where, (question,))
    else:
        track = reading.facts.get("track", "").strip()
        days = laps["date"].unique()
        names = days.dt.to_string("%Y-%m-%d") + (f" {track}" if track else "")
        named = laps.with_columns(pl.col("date").replace_strict(days, names).alias("event"))
    return named.select(list(EVENT_LAPS))


@in_turn
def keep(store: Store, reading: KeptReading, laps: pl.DataFrame, why: str | None) -> Added:
    """Keep a reading whose laps have their event (``event_laps``): bytes, laps, account, in one change."""
    sha256 = reading.sha256
    with ThreadPoolExecutor(1) as beside, store.changing() as change:
        before = store.rows("readings", ("entry", "sha256", "events")).filter(pl.col("sha256") == sha256)
        if before.height:
            events = sorted({item["event"] for item in before["events"].explode().to_list()})
            return Added(None, events, 0, laps.height, True)
        packing = beside.submit(pack, reading.blocks())
        rows = _new_rows(laps)
        events = rows["event"].unique().sort().to_list()
        new, again = _parted(rows, visible_laps(store, events, must_exist=False, columns=()))
        change.append("laps", new)
        change.append("laps_known", again)
        packed, size = packing.result()
        change.keep_original(sha256, packed)
        change.append("readings", _reading_row(reading, size, new, again))
        entry = change.commit("import", _said(reading.source_name, new, again), why, new.height)
    return Added(entry, events, new.height, again.height, False)


def _new_rows(laps: pl.DataFrame) -> pl.DataFrame:
    """Laps as rows of the table laps, entry apart."""
    rows = with_year(to_disk(laps))
    copy = _copies(rows.select([name for name in LAP_KEY if name != "copy"]))
    row = pl.int_range(rows.height, dtype=pl.Int64(), eager=True).alias("row")
    return rows.with_columns(laid_out(rows, copy), laid_out(rows, row))


def _copies(keys: pl.DataFrame) -> pl.Series:
    """For each row how many rows before it are the same.

    Only rows whose hash another has are compared; of millions there are a handful, if any.
    """
    hashes = keys.hash_rows()
    copy = pl.zeros(keys.height, pl.Int32(), eager=True).alias("copy")
    if hashes.n_unique() == keys.height:
        return copy
    alike = hashes.is_duplicated()
    counted = keys.filter(alike).select(pl.int_range(pl.len(), dtype=pl.Int32()).over(keys.columns))
    return copy.scatter(alike.arg_true(), counted.to_series())


def _parted(rows: pl.DataFrame, known: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """The laps that are new, and those that were known."""
    if known.is_empty():
        return rows, rows.clear()
    new = rows.join(known, on=LAP_KEY, how="anti", nulls_equal=True, maintain_order="left")
    again = rows.join(known, on=LAP_KEY, how="semi", nulls_equal=True, maintain_order="left")
    return new, again


def _reading_row(reading: KeptReading, size: int, new: pl.DataFrame, again: pl.DataFrame) -> pl.DataFrame:
    events = read_events(new, again)
    row = {
        "sha256": reading.sha256,
        "source_name": reading.source_name,
        "source_bytes": size,
        "account": json.dumps(dict(reading.account), default=str),
        "recipe": reading.recipe.to_toml(),
        "facts": json.dumps(dict(reading.facts), default=str),
        "set_aside": reading.set_aside.to_dicts(),
        "events": events.to_dicts(),
    }
    return pl.DataFrame([row], schema={name: KINDS["readings"].schema[name] for name in row})


def _said(name: str, new: pl.DataFrame, again: pl.DataFrame) -> str:
    known = f", {again.height} known already" if again.height else ""
    return f"brought in {name}: {new.height} new laps{known}"
