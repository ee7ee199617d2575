"""Any table as one Parquet or CSV file, for spreadsheets and other programs."""

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from lapdelta.archive.draws import told_draws
from lapdelta.archive.durable import needs_folder, plainly, sync
from lapdelta.archive.parts_table import lap_lengths, parts_table
from lapdelta.errors import ArchiveError

if TYPE_CHECKING:
    from lapdelta.archive.archive import Archive

#: What can be exported, and where it comes from.
TABLES: dict[str, "Callable[[Archive], pl.DataFrame]"] = {
    "laps": lambda archive: archive.laps(),
    "set-aside": lambda archive: archive.set_aside,
    "sessions": lambda archive: archive.sessions(),
    "events": lambda archive: archive.events,
    "setups": lambda archive: archive.setups,
    "parts": lambda archive: parts_table(archive.folder),
    "lap-lengths": lambda archive: lap_lengths(archive.folder),
    "draws": lambda archive: told_draws(archive.folder),
    "questions": lambda archive: archive.questions,
    "asked": lambda archive: archive.asked(),
    "readings": lambda archive: archive.readings,
    "history": lambda archive: archive.history(),
}

#: Columns that name people, or hold free text that may: left out on request. Kart numbers stay.
NAMING = (
    "driver", "our_driver", "source_file", "source_name", "notes", "other", "changed", "wish", "words", "what", "why",
    "account", "recipe", "facts", "set_aside",
)  # fmt: skip

#: What a spreadsheet takes for a formula (OWASP, CSV Injection: also with a line feed in front, or in full width);
#: an apostrophe in front makes it text.
_RISKY = r"^'*[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]"


def export(
    archive: "Archive", table: str, target: Path, *, event: str | None = None, names: bool = True
) -> pl.DataFrame:
    """Write a table of TABLES to a new file whose name ends with .parquet or .csv; what was written.

    In CSV, text that a spreadsheet would take for a formula gets an apostrophe in front, and lists are spelled
    out: sectors a column each, others in one cell.

    Args:
        archive: holds it.
        table: its name.
        target: file to write; it must not be there yet.
        event: only this event's rows.
        names: whether drivers' names, file names and free texts go out too (NAMING).

    Raises:
        ArchiveError: an unknown table, event or ending, the file is there, or it cannot be written.
    """
    ending = target.suffix.casefold()
    if table not in TABLES:
        raise ArchiveError(f"There is no table {table!r}.", "Name one of: " + ", ".join(TABLES) + ".", table)
    if ending not in (".parquet", ".csv"):
        raise ArchiveError(
            "The file's ending tells its kind.", "Let it end with .parquet or .csv.", str(target)
        )
    if target.exists():
        raise ArchiveError("This file is there already.", "Give it a new name.", str(target))
    needs_folder(target)
    frame = _of_event(archive, table, event)
    if not names:
        frame = frame.drop([name for name in NAMING if name in frame.columns])
    with (
        plainly(target),
        tempfile.TemporaryDirectory(prefix=f"{target.name}.", dir=target.absolute().parent) as beside,
    ):
        written = Path(beside) / target.name
        if ending == ".parquet":
            frame.write_parquet(written, compression="zstd")
        else:
            csv_ready(frame).write_csv(written)
        sync(written)
        written.replace(target)
    return frame


def csv_ready(frame: pl.DataFrame) -> pl.DataFrame:
    """Only plain columns, and no text that a spreadsheet would run."""
    for name, kind in frame.schema.items():
        if isinstance(kind, pl.List):
            frame = _plain_list(frame, name, kind)
    texts = [name for name, kind in frame.schema.items() if kind == pl.String()]
    return frame.with_columns(
        pl.when(pl.col(name).str.contains(_RISKY))
        .then("'" + pl.col(name))
        .otherwise(pl.col(name))
        .alias(name)
        for name in texts
    )


def _plain_list(frame: pl.DataFrame, name: str, kind: pl.List) -> pl.DataFrame:
    """A list of numbers as columns of its own; anything else in one cell."""
    place = frame.columns.index(name)
    if kind.inner == pl.Float64():
        width = int(frame[name].list.len().max() or 0)  # pyright: ignore[reportArgumentType]
        stem = name.replace("_times_s", "")
        made = [frame[name].list.get(i, null_on_oob=True).alias(f"{stem}_{i + 1}_s") for i in range(width)]
    elif kind.inner == pl.String():
        made = [frame[name].list.join("; ")]
    else:
        made = [pl.Series(name, [_spelled(cell) for cell in frame[name].to_list()], dtype=pl.String())]
    rest = frame.drop(name)
    for column in reversed(made):
        rest = rest.insert_column(place, column)
    return rest


def _spelled(cell: list[dict[str, object]] | None) -> str | None:
    """A list of records in one cell."""
    if cell is None:
        return None
    return "; ".join(", ".join(f"{key}={value}" for key, value in record.items()) for record in cell)


def _of_event(archive: "Archive", table: str, event: str | None) -> pl.DataFrame:
    if event is None:
        return TABLES[table](archive)
    if table == "laps":
        return archive.laps(event)
    if table == "sessions":
        return archive.sessions(event)
    frame = TABLES[table](archive)
    if "event" not in frame.columns:
        raise ArchiveError(f"The table {table} is not by event.", "Leave the event out.", table)
    return frame.filter(pl.col("event") == event)
