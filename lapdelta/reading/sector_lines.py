"""Tables with a row a sector: which rows make up a lap, and which of them is its lap time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.columns import Column, share, showing, texts_of
from lapdelta.reading.dialect import Record
from lapdelta.reading.drafts import Draft, Layout, long_draft
from lapdelta.reading.formats import to_seconds
from lapdelta.reading.model import Question
from lapdelta.reading.numbers import decimals, whole_number
from lapdelta.reading.structure import DOUBT, Table
from lapdelta.reading.vocabulary import heading, is_summary

#: Share of the cells that must name a sector or the whole lap, where the header does not say it.
_MOST = 0.9
#: Share of the laps that must have two sectors or more.
_SEVERAL = 0.5
_KEYS = ("session", "kart", "driver", "lap", "date")


@dataclass
class SectorLap:
    """Rows of one lap, by their place in the table: of each sector, and of the whole lap where one is."""

    sectors: dict[int, int] = field(default_factory=dict[int, int])
    whole: int | None = None


def sector_column(table: Table, columns: Sequence[Column]) -> Column | None:
    """The column that tells which sector a row holds: by its header or an answer, else by what its cells name."""
    for column in columns:
        texts = texts_of(table, column.index)
        if column.meaning == "sector" and texts and share(texts, looks_timed) < _MOST:
            return column
        named = {heading(text).meaning for text in texts}
        several = sum(1 for meaning in named if (meaning or "").startswith("sector_")) > 1
        if column.meaning is None and not column.answered and several and share(texts, _names_part) >= _MOST:
            return column
    return None


def _names_part(text: str) -> bool:
    return (heading(text).meaning or "").startswith("sector_") or is_whole(text)


def is_whole(text: str) -> bool:
    """Whether a cell among names of sectors says the whole lap."""
    return heading(text).meaning in ("lap", "lap_time") or is_summary(text)


def time_column(table: Table, columns: Sequence[Column], sector: Column) -> Column | None:
    """The one column of times; None where there are several."""
    timed = [
        column
        for column in columns
        if column is not sector
        and column.meaning in ("lap_time", "time", None)
        and share(texts_of(table, column.index), looks_timed) >= _MOST
    ]
    return timed[0] if len(timed) == 1 else None


def sector_laps(table: Table, columns: Sequence[Column], sector: Column) -> list[SectorLap]:
    """The laps in file order; empty where the rows do not come as several sectors a lap.

    A lap ends where its session, kart, driver, number or title changes, or a sector comes again.
    """
    keys = [column.index for column in columns if column.meaning in _KEYS]
    numbers = _numbers(texts_of(table, sector.index))
    laps: list[SectorLap] = []
    last: object = None
    for at, row in enumerate(table.rows):
        cells = row.record.cells
        text = cells[sector.index] if sector.index < len(cells) else ""
        told = [pair for pair in row.context if pair[0] != DOUBT]
        key = ([cells[place] if place < len(cells) else "" for place in keys], told)
        number = numbers.get(text)
        again = bool(laps) and (number in laps[-1].sectors or (number is None and laps[-1].whole is not None))
        if not laps or key != last or again:
            laps.append(SectorLap())
        last = key
        if number is not None:
            laps[-1].sectors[number] = at
        elif text:
            laps[-1].whole = at
    several = sum(1 for lap in laps if len(lap.sectors) > 1)
    return laps if several >= max(1, _SEVERAL * len(laps)) else []


def _numbers(texts: Sequence[str]) -> dict[str, int]:
    """Number of the sector that each cell names: printed, else in the order in which the names come first."""
    names = [text for text in dict.fromkeys(texts) if not is_whole(text)]
    printed = {text: heading(text).number or whole_number(text) for text in names}
    if all(printed.values()) and len(set(printed.values())) == len(names):
        return {text: number for text, number in printed.items() if number is not None}
    return {text: number for number, text in enumerate(names, 1)}


def sum_of_times(texts: Sequence[str]) -> str:
    """The sum of times as a text, with as many decimals as they have; empty where one is no time."""
    seconds = [to_seconds(text, "s") for text in texts]
    known = [value for value in seconds if value is not None]
    if not known or len(known) < len(texts):
        return ""
    return f"{sum(known):.{max(decimals(text) or 0 for text in texts)}f}"


def row_a_sector(table: Table, columns: list[Column], answers: Mapping[str, str]) -> Layout | None:
    """A row a sector, with or without a row for the whole lap; without one it is asked what the sectors are."""
    sector = sector_column(table, columns)
    time = time_column(table, columns, sector) if sector else None
    laps = sector_laps(table, columns, sector) if sector and time else []
    if not sector or not time or not laps:
        return None
    used = [column for column in columns if column not in (sector, time)]
    masked = [replace(one, meaning="ignore") if one in (sector, time) else one for one in columns]
    own = [replace(time, meaning="lap_time", note="")]
    for number in sorted({number for lap in laps for number in lap.sectors}):
        own.append(Column(time.index, f"{sector.header} {number}", f"sector_{number}", time.unit))
    longest = max(len(lap.sectors) for lap in laps)
    whole = any(lap.whole is not None for lap in laps)
    drafts: list[Draft] = []
    parts: list[Record] = []
    rising = 0
    for lap in laps:
        rows = list(lap.sectors.values())
        places = rows if lap.whole is None else [*rows, lap.whole]
        times = {at: _cell(table.rows[at].record, time.index) for at in places}
        rises = _rises([times[at] for at in rows])
        rising += rises
        running = answers.get("sectors") == "cumulative" and lap.whole is None
        if lap.whole is None and (whole or len(rows) < longest or (running and not rises)):
            continue
        last = places[-1]
        draft = long_draft(table, last, masked)
        printed = times[last] if lap.whole is not None or running else ""
        draft.cells["lap_time"] = (printed or sum_of_times(list(times.values())), time.header)
        for number, at in lap.sectors.items():
            draft.cells[f"sector_{number}"] = (times[at], f"{sector.header} {number}")
        drafts.append(draft)
        parts += [table.rows[at].record for at in places[:-1]]
    questions = (
        []
        if whole or "sectors" in answers
        else [_ask_sum(table, sector, time, may_run_on=2 * rising > len(laps))]
    )
    shown = [*used, *own, replace(sector, meaning="sector", note="")]
    return Layout(drafts, shown, questions, "a row a sector", () if questions else tuple(parts))


def _rises(texts: Sequence[str]) -> bool:
    """Whether each time is later than the one before, as splits are."""
    seconds = [to_seconds(text, "s") or 0.0 for text in texts]
    return all(later > earlier for earlier, later in pairwise(seconds))


def _cell(record: Record, at: int) -> str:
    return record.cells[at] if at < len(record.cells) else ""


def _ask_sum(table: Table, sector: Column, time: Column, may_run_on: bool) -> Question:
    text = "Each row holds a sector and none the lap time; are the times those of the sectors, whose sum is the lap?"
    shown = showing(text, *((column, texts_of(table, column.index)) for column in (sector, time)))
    return Question("sectors", shown, ("own", "cumulative") if may_run_on else ("own",))
