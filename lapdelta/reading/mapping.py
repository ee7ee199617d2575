"""Columns to meanings: by header words, then by what the cells hold, else a question."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

from lapdelta.reading.clock import looks_timed, read_duration, read_time_of_day
from lapdelta.reading.columns import Column, any_unit, share, showing, texts_of
from lapdelta.reading.formats import KMH_IN, LAP_RANGE_S, PRINTED_UNITS, to_seconds
from lapdelta.reading.minutes import with_minutes
from lapdelta.reading.model import Question
from lapdelta.reading.numbers import whole_number
from lapdelta.reading.parts import adds_up, ask_parts, numbered_parts, said_parts
from lapdelta.reading.recipe import column_meaning
from lapdelta.reading.structure import Table
from lapdelta.reading.vocabulary import heading, unit_of

_KMH = {unit: KMH_IN[name] for unit, name in PRINTED_UNITS.items()}
#: Meanings of which a table may hold only one column.
_SINGLE = ("session", "kart", "driver", "lap", "lap_time", "top_speed", "peak_rpm", "date", "clock")
#: A plain ``Time`` column is taken for lap times up to this median, in s; beyond it could be a time of day.
_LONGEST_PLAIN_LAP_S = 300.0


def map_columns(table: Table, answers: Mapping[str, str]) -> tuple[list[Column], list[Question]]:
    """All columns of a table with a row a lap, and the questions that are open about them."""
    columns = said_parts([_by_words(table, at, answers) for at in range(_width(table))], answers)
    if not table.header or table.unknown:
        columns = _by_identity(table, columns)
    columns = _settle_numbers(table, _settle_laps(table, with_minutes(table, columns)))
    columns = _settle_times(table, columns)
    columns = numbered_parts(table, columns)
    columns, questions = _settle_doubles(table, columns)
    questions += _ask_missing(table, columns) or ask_parts(table, columns, answers)
    return columns, questions


def _width(table: Table) -> int:
    return len(table.header) or max((len(row.record.cells) for row in table.rows), default=0)


def _by_words(table: Table, at: int, answers: Mapping[str, str]) -> Column:
    printed = table.header[at] if table.header and table.header[at] else str(at + 1)
    earlier = sum(1 for cell in table.header[:at] if cell == printed)
    header = f"{printed} #{earlier + 1}" if earlier else printed
    found = heading(table.header[at] if table.header else "")
    unit = found.unit
    if unit is None and at < len(table.units):
        unit = unit_of(table.units[at])
    column = Column(at, header, found.meaning, unit, found.language)
    answer = answers.get(f"column:{header}")
    if answer is not None:
        return replace(column, meaning=column_meaning(answer), note="as you said", answered=True)
    return column


def _settle_numbers(table: Table, columns: list[Column]) -> list[Column]:
    """A plain ``No.`` is the lap where there is no lap column and it counts, else the kart; a row count is neither."""
    meanings = {column.meaning for column in columns}
    settled: list[Column] = []
    for column in columns:
        if column.meaning == "number":
            texts = texts_of(table, column.index)
            numbers = [whole_number(text) for text in texts]
            counts = len(numbers) >= 3 and all(
                n is not None and n == at + (numbers[0] or 0) for at, n in enumerate(numbers)
            )
            rises = sum(1 for a, b in pairwise(numbers) if a is not None and b == a + 1)
            several = any(
                c.meaning in ("kart", "driver") and len(set(texts_of(table, c.index))) > 1 for c in columns
            )
            if ("lap" in meanings and "kart" in meanings) or (counts and ("lap" in meanings or several)):
                column = replace(column, meaning="ignore", note="counts the rows")
            elif "lap" in meanings:
                column = replace(
                    column, meaning="kart", note="there is a lap column, so this numbers the karts"
                )
            elif rises >= 0.6 * max(1, len(numbers) - 1):
                column = replace(column, meaning="lap", note="it counts up, so it numbers the laps")
            elif "kart" not in meanings and len(set(texts)) <= max(1, len(texts) // 3):
                column = replace(column, meaning="kart", note="it stays the same, so it numbers the karts")
            else:
                column = replace(column, meaning=None)
        settled.append(column)
    return settled


def _settle_laps(table: Table, columns: list[Column]) -> list[Column]:
    """A column ``Lap`` that holds times is the lap time where no other column is."""
    if any(column.meaning == "lap_time" for column in columns):
        return columns
    return [
        replace(column, meaning="lap_time", note="the values are lap times")
        if column.meaning == "lap" and not column.answered and _are_laps(texts_of(table, column.index))
        else column
        for column in columns
    ]


def _are_laps(texts: list[str]) -> bool:
    seconds = [found for text in texts if looks_timed(text) and (found := any_unit(text)) is not None]
    return len(seconds) >= max(3, 0.8 * len(texts)) and not is_running(seconds)


def _settle_times(table: Table, columns: list[Column]) -> list[Column]:
    """A plain ``Time`` is the lap time or the time of day; its values and the other columns decide."""
    has_lap_time = any(column.meaning == "lap_time" for column in columns)
    settled: list[Column] = []
    for column in columns:
        if column.meaning == "time":
            column = _settle_time(texts_of(table, column.index), column, has_lap_time)
        settled.append(column)
    return settled


def _settle_time(texts: list[str], column: Column, has_lap_time: bool) -> Column:
    clocks = [found for text in texts if (found := read_time_of_day(text)) is not None]
    daytime = len(clocks) >= 0.8 * max(1, len(texts)) and all(found.hour >= 5 for found in clocks)
    seconds = [
        found
        for text in texts
        if (duration := read_duration(text)) is not None
        and (found := duration.seconds if duration.seconds is not None else any_unit(text)) is not None
    ]
    middle = median(seconds) if seconds else 0.0
    lap_like = LAP_RANGE_S[0] <= middle <= _LONGEST_PLAIN_LAP_S
    if daytime and not lap_like:
        return replace(column, meaning="clock", note="times of day")
    if has_lap_time:
        return replace(
            column, meaning="ignore" if not daytime else None, note="a time that is not the lap time"
        )
    if lap_like and not is_running(seconds):
        return replace(column, meaning="lap_time", note="the values are lap times")
    return replace(column, meaning=None)


def is_running(seconds: Sequence[float]) -> bool:
    """Whether times add up from lap to lap (a race time), so that they are no lap times."""
    steps = [b - a for a, b in pairwise(seconds)]
    up = [step for step in steps if step > 0.4 * seconds[0]]
    return len(seconds) >= 4 and len(up) >= 0.7 * len(steps)


def _settle_doubles(table: Table, columns: list[Column]) -> tuple[list[Column], list[Question]]:
    """One column a meaning: an answered one wins, equal ones are one, else ask."""
    questions: list[Question] = []
    settled = list(columns)
    for meaning in [*_SINGLE, *(c.meaning for c in columns if c.meaning and c.meaning.startswith("sector_"))]:
        same = [column for column in settled if column.meaning == meaning]
        if len(same) < 2:
            continue
        first = next((column for column in same if column.answered), same[0])
        for column in same:
            if column is first:
                continue
            settled[column.index] = replace(column, meaning=None, note=f"{first.header!r} is taken for this")
            equal = texts_of(table, column.index) == texts_of(table, first.index) or _same_speed(
                table, first, column
            )
            if not first.answered and not equal and meaning != "driver":
                questions.append(
                    Question(
                        f"column:{column.header}",
                        showing(
                            f"{first.header!r} and {column.header!r} both look like {_plain(meaning)}; "
                            f"what is {column.header!r}?",
                            (first, texts_of(table, first.index)),
                            (column, texts_of(table, column.index)),
                        ),
                        (_canonical(meaning), "ignore"),
                    )
                )
    return settled, questions


def _same_speed(table: Table, first: Column, other: Column) -> bool:
    """Whether two columns print one speed in two units."""
    if first.unit == other.unit or not {first.unit, other.unit} <= set(_KMH):
        return False
    pairs = [
        (to_seconds(row.record.cells[first.index], "s"), to_seconds(row.record.cells[other.index], "s"))
        for row in table.rows
        if max(first.index, other.index) < len(row.record.cells)
    ]
    both = [(a * _KMH[str(first.unit)], b * _KMH[str(other.unit)]) for a, b in pairs if a and b]
    return len(both) >= 3 and all(abs(a - b) <= 0.01 * a for a, b in both)


def _plain(meaning: str) -> str:
    return meaning.replace("_", " ")


def _canonical(meaning: str) -> str:
    return {"lap_time": "lap_time_s", "top_speed": "top_speed_kmh"}.get(meaning, meaning)


def _ask_missing(table: Table, columns: list[Column]) -> list[Question]:
    """Questions where no column is the lap time though one could be, and where there is no header."""
    questions: list[Question] = []
    sector_rows = any(column.meaning == "sector" and texts_of(table, column.index) for column in columns)
    if sector_rows or not any(column.meaning == "lap_time" for column in columns):
        for column in columns:
            texts = texts_of(table, column.index)
            timed = sum(1 for text in texts if looks_timed(text))
            if (
                column.meaning in (None, "sector")
                and not column.answered
                and timed >= 0.5 * max(1, len(texts))
            ):
                questions.append(_what_is(table, column, "lap_time_s"))
                break
    if sector_rows:
        sector = next(c for c in columns if c.meaning == "sector" and texts_of(table, c.index))
        questions.append(_what_is(table, sector, "ignore"))
    if (not table.header or table.unknown) and not questions:
        questions += [
            _what_is(table, column, "kart")
            for column in columns
            if column.meaning is None and not column.answered and texts_of(table, column.index)
        ]
    return questions


def _what_is(table: Table, column: Column, proposal: str) -> Question:
    names = ["lap_time_s", "kart", "lap", "session", "driver", "clock", "date", "top_speed_kmh", "peak_rpm"]
    options = (
        proposal,
        *(name for name in names if name != proposal),
        *(("ignore",) if proposal != "ignore" else ()),
    )
    text = showing(f"What does the column {column.header!r} hold?", (column, texts_of(table, column.index)))
    return Question(f"column:{column.header}", text, options)


def _number_of_lap(text: str) -> int | None:
    """The number in a cell such as 3 or ``3rd lap``."""
    found = heading(text)
    return found.number if found.meaning == "lap_n" else whole_number(text)


def _by_identity(table: Table, columns: list[Column]) -> list[Column]:
    """Without a header: the column that the times beside it add up to is the lap time; a counting one is the lap."""
    rows = [row.record.cells for row in table.rows]
    timed = [
        c.index for c in columns if not c.answered and share(texts_of(table, c.index), looks_timed) >= 0.8
    ]
    settled = list(columns)
    for total in timed:
        parts = [at for at in timed if at != total and abs(at - total) <= len(timed)]
        if len(parts) >= 2 and adds_up(rows, total, parts):
            settled[total] = replace(
                settled[total], meaning="lap_time", note="the times beside it add up to it"
            )
            for number, at in enumerate(parts, 1):
                settled[at] = replace(settled[at], meaning=f"sector_{number}", note="adds up to the lap time")
            break
    for column in settled:
        numbers = [_number_of_lap(text) for text in texts_of(table, column.index)]
        steps = [b == a + 1 for a, b in pairwise(numbers) if a is not None and b is not None]
        if (
            column.meaning is None
            and not column.answered
            and len(steps) >= 2
            and sum(steps) >= 0.6 * len(steps)
        ):
            settled[column.index] = replace(column, meaning="lap", note="it counts up")
            break
    return _beside_named_laps(table, settled)


def _beside_named_laps(table: Table, columns: list[Column]) -> list[Column]:
    """The only column beside one that says ``1st lap``, ``2nd lap`` is the lap time, if it can be."""
    laps = [column for column in columns if column.meaning == "lap"]
    rest = [c for c in columns if c.meaning != "lap" and texts_of(table, c.index)]
    if len(laps) != 1 or len(rest) != 1 or rest[0].meaning is not None or rest[0].answered:
        return columns
    said = share(texts_of(table, laps[0].index), lambda text: heading(text).meaning == "lap_n")
    times = texts_of(table, rest[0].index)
    if said < 1 or share(times, lambda text: any_unit(text) is not None) < 1:
        return columns
    return [
        replace(c, meaning="lap_time", note="the values are lap times") if c is rest[0] else c
        for c in columns
    ]
