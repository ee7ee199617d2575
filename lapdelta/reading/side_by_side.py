"""Tables side by side under one line of titles: which columns are whose."""

import json
from collections.abc import Sequence
from dataclasses import replace

from lapdelta.reading.refusals import SIDE_BY_SIDE, Refusal
from lapdelta.reading.row_kinds import names_measures
from lapdelta.reading.structure import BESIDE, Row, Table
from lapdelta.reading.titles import kart_and_measure
from lapdelta.reading.vocabulary import fold, heading

_TIMES = ("lap_time", "time")
_OWN = ("kart", "driver")
Span = tuple[int, int]


def parts_of(table: Table) -> list[tuple[Table, list[int]]] | Refusal | None:
    """The tables that stand side by side, each with the places of its columns; None where there is one only.

    Titles above the parts say whose each is. Without them, a header that repeats itself is refused unless each part has
    a column of its own for that: nothing would tell whose laps they are.
    """
    if names_measures(table.header):
        return _by_kart(table)
    titled = {value for row in table.rows for key, value in row.context if key == BESIDE}
    spans = _repeated(table.header)
    if not titled:
        if not spans or not any(heading(cell).meaning == "lap" for cell in table.header[slice(*spans[0])]):
            return None
        owned = any(heading(cell).meaning in _OWN for cell in table.header[slice(*spans[0])])
        return [_part(table, [], range(*span), 0) for span in spans] if owned else SIDE_BY_SIDE
    places = {tuple(place for place, _ in json.loads(value)) for value in titled}
    if len(places) != 1:
        return SIDE_BY_SIDE
    found = _under_titles(table.header, spans, list(next(iter(places))))
    if found is None:
        return SIDE_BY_SIDE
    shared, spans = found
    if any(not _heads(row) and any(row.record.cells[spans[0][1] :]) for row in table.rows):
        return SIDE_BY_SIDE
    return [_part(table, range(shared), range(*span), number) for number, span in enumerate(spans)]


def _by_kart(table: Table) -> list[tuple[Table, list[int]]]:
    """The columns of each kart that the headers name, behind the first column, as tables."""
    places: dict[str, dict[int, str]] = {}
    for at, cell in enumerate(table.header):
        if at and (said := kart_and_measure(cell)):
            # what is measured as ``lap`` beside a column of lap numbers is its time
            measure = "lap time" if heading(said[1]).meaning == "lap" else said[1]
            places.setdefault(said[0], {})[at] = measure
    parts: list[tuple[Table, list[int]]] = []
    for kart, own in places.items():
        part, used = _part(table, [0], list(own), 0)
        rows = [replace(row, context=(*row.context, ("kart", kart))) for row in part.rows]
        parts.append((replace(part, header=(table.header[0], *own.values()), rows=rows), used))
    return parts


def _heads(row: Row) -> list[tuple[int, dict[str, str]]]:
    """Place and context of each title above the row's tables."""
    found: list[tuple[int, dict[str, str]]] = []
    for key, value in row.context:
        if key == BESIDE:
            found = [(int(place), dict(said)) for place, said in json.loads(value)]
    return found


def _repeated(header: Sequence[str]) -> list[Span]:
    """The parts of a header that is the same words again and again, an empty column between them or not."""
    words = [fold(cell) for cell in header]
    for shared in (0, 1):
        for width in range(2 - shared, len(words) // 2 + 1):
            rest = words[shared:]
            rest += [""] * (-len(rest) % width)
            blocks = [rest[at : at + width] for at in range(0, len(rest), width)]
            times = sum(1 for cell in header[shared : shared + width] if heading(cell).meaning in _TIMES)
            if len(blocks) > 1 and times == 1 and all(block == blocks[0] for block in blocks):
                return [(shared + at * width, shared + (at + 1) * width) for at in range(len(blocks))]
    return []


def _under_titles(
    header: Sequence[str], spans: list[Span], places: list[int]
) -> tuple[int, list[Span]] | None:
    """How many columns at the left are for all, and the columns below each title; None where that cannot be told."""
    fits = [start <= place < end for (start, end), place in zip(spans, places, strict=False)]
    if not spans or len(spans) != len(places) or not all(fits):
        spans = list(zip(places, [*places[1:], len(header)], strict=True))
    single = [
        sum(1 for cell in header[slice(*span)] if heading(cell).meaning in _TIMES) == 1 for span in spans
    ]
    return (spans[0][0], spans) if all(single) else None


def _part(table: Table, shared: Sequence[int], own: Sequence[int], number: int) -> tuple[Table, list[int]]:
    """The columns for all and those of one part as a table; ``number`` of its title, where there are titles."""
    places = [*shared, *own]
    rows: list[Row] = []
    for row in table.rows:
        cells = _cut(row.record.cells, places)
        beyond = row.record.cells[len(table.header) :]
        if any(cells[len(shared) :]) or any(beyond):
            context = [pair for pair in row.context if pair[0] != BESIDE]
            heads = _heads(row)  # none in a block with the header of the first part alone
            context += heads[number][1].items() if heads else []
            rows.append(Row(replace(row.record, cells=(*cells, *beyond)), tuple(context)))
    return Table(_cut(table.header, places), _cut(table.units, places), rows), places


def _cut(cells: Sequence[str], places: Sequence[int]) -> tuple[str, ...]:
    return tuple(cells[at] if at < len(cells) else "" for at in places)
