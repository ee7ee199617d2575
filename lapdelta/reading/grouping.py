"""Columns with unknown words whose values part the rows as karts or sessions would: asked, never passed over."""

from collections.abc import Sequence

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.columns import Column, showing, texts_of
from lapdelta.reading.model import Question
from lapdelta.reading.numbers import whole_number
from lapdelta.reading.structure import Table


def group_questions(table: Table, columns: list[Column], has_kart: bool) -> list[Question]:
    """A question for each unknown column that could name the kart or the session of the laps.

    ``has_kart``: the kart is told outside the table (an answer, the file's name).
    """
    meanings = {column.meaning for column in columns} | {key for row in table.rows for key, _ in row.context}
    lacks_kart = not has_kart and not meanings & {"kart", "driver"}
    lacks_session = "session" not in meanings
    if not table.header or not (lacks_kart or lacks_session):
        return []
    asked: list[Question] = []
    for column in columns:
        if column.meaning is None and not column.answered and _groups(table, columns, column, lacks_kart):
            options = (*(("kart",) if lacks_kart else ()), *(("session",) if lacks_session else ()), "ignore")
            text = showing(
                f"The laps start again where {column.header!r} changes; what does that column hold?",
                (column, texts_of(table, column.index)),
            )
            asked.append(Question(f"column:{column.header}", text, options))
    return asked


def _groups(table: Table, columns: list[Column], column: Column, lacks_kart: bool) -> bool:
    """Whether lap numbers rise within each value of the column, but not over all rows of a kart."""
    texts = texts_of(table, column.index)
    if len(texts) < len(table.rows) * 0.9 or not 2 <= len(set(texts)) <= max(2, len(texts) // 2):
        return False
    if sum(1 for text in texts if looks_timed(text)) > 0.5 * len(texts):
        return False
    lap = next((c.index for c in columns if c.meaning == "lap"), None)
    if lap is None:
        return lacks_kart and len(set(texts)) <= len(texts) // 3
    names = [c.index for c in columns if c.meaning in ("kart", "driver")]
    whole = _falls(table, lap, names)
    if not lacks_kart and _changes_within_runs(table, lap, names, column.index):
        return False
    return whole > 0 and _falls(table, lap, [*names, column.index]) == 0


def _changes_within_runs(table: Table, lap: int, keys: Sequence[int], at: int) -> bool:
    """Whether the cells of a column change where the lap number of a kart goes on by one, as no session's name does."""
    last: dict[tuple[str, ...], tuple[int, str]] = {}
    for row in table.rows:
        cells = row.record.cells
        if max(lap, at, *keys, 0) >= len(cells) or (number := whole_number(cells[lap])) is None:
            continue
        key = (*(cells[place] for place in keys), *(text for _, text in row.context))
        before = last.get(key)
        if before and number == before[0] + 1 and cells[at] != before[1]:
            return True
        last[key] = (number, cells[at])
    return False


def _falls(table: Table, lap: int, keys: Sequence[int]) -> int:
    """How often a lap number does not rise among the rows with the same cells in the key columns."""
    last: dict[tuple[str, ...], int] = {}
    falls = 0
    for row in table.rows:
        cells = row.record.cells
        if max(lap, *keys, 0) >= len(cells) or (number := whole_number(cells[lap])) is None:
            continue
        key = (*(cells[at] for at in keys), *(text for _, text in row.context))
        falls += key in last and number <= last[key]
        last[key] = number
    return falls
