"""Lap times in two or three columns: minutes, seconds, and parts of a second."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

from lapdelta.reading.columns import Column, share, texts_of
from lapdelta.reading.numbers import tidy
from lapdelta.reading.structure import Table
from lapdelta.reading.vocabulary import is_word

#: Word lists of parts of a second, and how many figures each has.
_PARTS = {"thousandths": 3, "hundredths": 2, "tenths": 1}
#: Share of the cells that must be whole minutes, or seconds below a minute.
_MOST = 0.9
_NOTE = "minutes and seconds together are the lap time"


def with_minutes(table: Table, columns: list[Column]) -> list[Column]:
    """Columns such as ``min`` and ``sec`` beside each other are one lap time, where no other column is the lap time."""
    for minutes, seconds in pairwise(columns):
        others = [column for column in columns if column.meaning == "lap_time" and column is not seconds]
        if others or minutes.answered or not _fit(table, minutes, seconds):
            continue
        settled = list(columns)
        settled[minutes.index] = replace(minutes, meaning="minutes", note=_NOTE)
        settled[seconds.index] = replace(seconds, meaning="lap_time", unit="clock", note=_NOTE)
        below = seconds.index + 1
        part = columns[below] if below < len(columns) else None
        if part is not None and (kind := _kind(part)) and not part.answered:
            settled[below] = replace(part, meaning=kind, note=_NOTE)
        return settled
    return columns


def _fit(table: Table, minutes: Column, seconds: Column) -> bool:
    """Whether two columns are called minutes and seconds, and hold whole minutes and less than a minute."""
    if not is_word("minutes", minutes.header) or not is_word("seconds", seconds.header):
        return False
    whole = share(texts_of(table, minutes.index), lambda text: text.isdigit() and int(text) < 60)
    return whole >= _MOST and share(texts_of(table, seconds.index), _below_a_minute) >= _MOST


def _below_a_minute(text: str) -> bool:
    head = tidy(text).replace(",", ".").partition(".")[0]
    return head.isdigit() and int(head) < 60


def _kind(column: Column) -> str | None:
    return next((kind for kind in _PARTS if is_word(kind, column.header)), None)


def joined(cells: Mapping[str, tuple[str, str]]) -> dict[str, tuple[str, str]]:
    """The cells with minutes, seconds and parts of a second as one clock form: 1, 2,33 as ``1:02,33``."""
    kept = {meaning: cell for meaning, cell in cells.items() if meaning not in ("minutes", *_PARTS)}
    if "minutes" not in cells or "lap_time" not in cells:
        return kept
    minutes, (seconds, header) = cells["minutes"][0], cells["lap_time"]
    digits = len(tidy(seconds).replace(",", ".").partition(".")[0])
    for kind, figures in _PARTS.items():
        if kind in cells and seconds.isdigit() and cells[kind][0].isdigit():
            seconds = f"{seconds}.{cells[kind][0].zfill(figures)}"
    if seconds:
        kept["lap_time"] = (f"{minutes or '0'}:{'0' * (2 - digits)}{seconds}", header)
    return kept
