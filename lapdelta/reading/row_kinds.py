"""What a row is by its cells: a header, a row of units, a column a kart, a best or average."""

import re
from collections.abc import Sequence
from itertools import pairwise, takewhile

from lapdelta.reading.clock import looks_timed
from lapdelta.reading.dialect import Record
from lapdelta.reading.numbers import whole_number
from lapdelta.reading.titles import kart_and_measure, kart_in, numbers_a_session, understand
from lapdelta.reading.vocabulary import heading, is_summary, is_word, mark_of, unit_of

_CODE = re.compile(r"#?\d{1,4}[A-Za-z]?")
_FREE_TEXT = frozenset({"driver", "notes", "session", "status"})


def is_unit_row(cells: Sequence[str]) -> bool:
    """Whether every filled cell is a unit or a format, at least one of them a real unit."""
    units = [unit_of(cell) for cell in cells if cell]
    return bool(units) and None not in units and any(unit != "none" for unit in units)


def is_header(cells: Sequence[str], following: list[Record]) -> bool:
    """Whether the cells are a header of the rows that follow, by words and by shape."""
    filled = [cell for cell in cells if cell]
    if any(looks_timed(cell) for cell in filled) or not filled:
        return False
    known = [found for cell in filled if (found := heading(cell)).meaning]
    meanings = {found.meaning for found in known}
    if sum(1 for found in known if found.meaning == "lap_n") >= 2:
        return True
    below = bool(following) and any(looks_timed(cell) for cell in following[0].filled)
    if len(filled) == 1:
        return meanings == {"lap_time"} and below and len(following[0].filled) == 1
    numbers = sum(1 for cell in filled if whole_number(cell) is not None)
    if (
        numbers == 0
        and len(known) >= 2
        and ("lap_time" in meanings or _in_minutes(cells) or (below and 2 * len(known) >= len(filled)))
    ):
        return True
    return is_wide(cells, following) or (below and (names_measures(cells) or names_karts_only(cells)))


def title_in_header(
    header: tuple[str, ...], following: list[Record]
) -> tuple[tuple[str, ...], dict[str, str]]:
    """The header without a title that stands in one of its cells, above an empty column, and what that title says."""
    rows = list(takewhile(lambda record: any(looks_timed(cell) for cell in record.filled), following))
    if not rows or not any(heading(cell).meaning in ("lap_time", "time") for cell in header):
        return header, {}
    for at, cell in enumerate(header):
        empty = all(not any(row.cells[at : at + 1]) for row in rows)
        if cell and empty and heading(cell).meaning is None and (kart_in(cell) or numbers_a_session(cell)):
            said = understand((cell,))
            if not said.facts:
                return (*header[:at], "", *header[at + 1 :]), said.context
    return header, {}


def names_measures(cells: Sequence[str]) -> bool:
    """Whether every column behind the first says a kart and what was measured of it: ``Kart 7 S1``."""
    said = [kart_and_measure(cell) is not None for cell in cells[1:] if cell]
    return len(said) > 1 and all(said)


def names_karts_only(cells: Sequence[str]) -> bool:
    """Whether every column is that of a kart, the first too, so that none counts the laps."""
    karts = [kart_in(cell) for cell in cells]
    return len(karts) > 1 and all(karts) and len({kart[0] for kart in karts if kart}) == len(karts)


def _in_minutes(cells: Sequence[str]) -> bool:
    """Whether columns of minutes and of seconds stand beside each other."""
    return any(is_word("minutes", one) and is_word("seconds", other) for one, other in pairwise(cells))


def is_wide(cells: Sequence[str], following: list[Record]) -> bool:
    """Whether the header is lap, then a column a kart: whole numbers below the first, times below the others.

    Columns that are none of a kart (a sector, a speed, a best) may stand among some that say a kart or session.
    """
    if len(cells) < 2 or not following or names_measures(cells):
        return False
    if cells[0] and heading(cells[0]).meaning not in ("lap", "number") and not _heads_karts(cells):
        return False
    beside = {at for at, cell in enumerate(cells) if at and cell and is_beside_karts(cell)}
    others = [cell for at, cell in enumerate(cells) if at and cell and at not in beside]
    sure = [cell for cell in others if kart_in(cell) or _CODE.fullmatch(cell) or numbers_a_session(cell)]
    said = {heading(cells[at]).meaning for at in beside}
    if not others or (beside and (not sure or said & {"lap_time", "lap", "time"})):
        return False
    rows = [
        record.cells for record in following if record.cells and whole_number(record.cells[0]) is not None
    ]
    if not rows or whole_number(cells[0]) is not None:
        return False
    times = [cell for row in rows for at, cell in enumerate(row) if at and cell and at not in beside]
    return bool(times) and sum(1 for cell in times if looks_timed(cell)) >= 0.5 * len(times)


def _heads_karts(cells: Sequence[str]) -> bool:
    """Whether a word that we do not know stands before columns of which each is a kart's: it can only count laps."""
    unknown = heading(cells[0]).meaning is None and kart_in(cells[0]) is None
    return unknown and names_karts_only([cell for cell in cells[1:] if cell])


def is_beside_karts(cell: str) -> bool:
    """Whether a header is none of a kart or session: it means a sector, a speed, a best or the like."""
    return is_summary(cell) or (heading(cell).meaning not in (None, "lap_n") and kart_in(cell) is None)


def is_summary_row(cells: Sequence[str], header: tuple[str, ...]) -> bool:
    """Whether the row is a best, average or total: such a word stands where the lap number or kart should be."""
    filled = [at for at, cell in enumerate(cells) if cell]
    if not filled:
        return False
    meanings = [heading(cell).meaning for cell in header]
    said = [at for at in filled if is_summary(cells[at]) and mark_of(cells[at]) is None]
    if not said:
        return False
    laps = [at for at, meaning in enumerate(meanings) if meaning == "lap"]
    lap = laps[0] if laps else None
    if any(whole_number(cell) is not None for at in laps[1:] for cell in cells[at : at + 1]):
        return False  # a lap of another table beside
    if not header:
        return said[0] == filled[0]
    if lap is not None and lap < len(cells):
        if lap in said:
            return True
        if whole_number(cells[lap]) is not None:
            return any(meanings[at] == "kart" for at in said if at < len(meanings))
        return not cells[lap]
    return any(at >= len(meanings) or meanings[at] not in _FREE_TEXT for at in said if at == filled[0])
