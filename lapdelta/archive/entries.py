"""The history: which entries there are, which of them count, and what taking one back means.

An undo names the entry it takes back and that entry's *root*, the change at the bottom of a chain of undos.
The last word about a root says whether it counts, so an undo can itself be undone, and so on.
"""

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import polars as pl

from lapdelta.errors import ArchiveError

_STAMP = "%Y%m%dT%H%M%S%f"


@dataclass(frozen=True)
class History:
    """The rows of the table ``entries`` in order, and what follows from them.

    Attributes:
        rows: the table, sorted by entry.
        hidden: ids of the changes that are taken back.
    """

    rows: pl.DataFrame
    hidden: frozenset[str]

    @staticmethod
    def of(rows: pl.DataFrame) -> "History":
        """Work out which changes count."""
        rows = rows.sort("entry")
        last = rows.filter(pl.col("root").is_not_null()).unique("root", keep="last", maintain_order=True)
        return History(rows, frozenset(last.filter(~pl.col("shown"))["root"]))

    def shown(self) -> pl.Series:
        """Ids of the changes that count, undos left out."""
        entries = self.rows.filter(pl.col("root").is_null())["entry"]
        return entries.filter(~entries.is_in(list(self.hidden))) if self.hidden else entries

    def has(self, entry: str) -> bool:
        """True if the entry was committed."""
        index = self.rows["entry"].search_sorted(entry)
        return index < self.rows.height and self.rows["entry"][index] == entry

    def table(self, *, asked: bool = True) -> pl.DataFrame:
        """DataFrame(entry, at, what, why, rows, undone), oldest first; ``at`` is UTC.

        ``asked``: also the record of questions asked, which changes nothing that was kept.
        """
        counts = ~pl.col("root").is_in(list(self.hidden))
        undone = (
            pl.when(pl.col("root").is_null())
            .then(pl.col("entry").is_in(list(self.hidden)))
            .otherwise(pl.col("shown") != counts)
        )
        rows = self.rows.with_columns(undone.alias("undone"))
        if not asked:
            rows = rows.filter(pl.col("kind") != "ask")
        return rows.select("entry", "at", "what", "why", "rows", "undone")

    def find(self, text: str) -> str:
        """The one entry whose id is ``text``, or ends or begins with it.

        Raises:
            ArchiveError: none, or more than one.
        """
        if text and self.has(text):
            return text
        ids = self.rows["entry"]
        found = ids.filter(ids.str.starts_with(text) | ids.str.ends_with(text)) if text else ids.head(0)
        if found.len() == 1:
            return str(found[0])
        how = "More than one entry fits" if found.len() else "There is no entry"
        raise ArchiveError(f"{how} {text!r}.", "Take the entry's id from lapdelta history.", text)

    def reversal(self, entry: str) -> tuple[str, bool]:
        """What undoing this entry sets: its root, and whether the root counts afterwards.

        Raises:
            ArchiveError: the entry is taken back already.
        """
        row = self.rows.row(by_predicate=pl.col("entry") == entry, named=True)
        root = str(row["root"] or entry)
        counts = root not in self.hidden
        said = bool(row["shown"]) if row["root"] else True
        if counts != said:
            raise ArchiveError(
                f"The entry {entry} is taken back already.",
                "Undo the entry that took it back to have it again; lapdelta history lists them.",
                entry,
            )
        return root, not said

    def next_id(self) -> str:
        """A new id: the time in UTC, later than every id so far, and four chance characters."""
        now = datetime.now(UTC)
        if self.rows.height:
            last = datetime.strptime(str(self.rows["entry"][-1]).split("-")[0], _STAMP).replace(tzinfo=UTC)
            now = max(now, last + timedelta(microseconds=1))
        return f"{now.strftime(_STAMP)}-{secrets.token_hex(2)}"
