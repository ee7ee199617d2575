"""The careful path: any file, line by line, every line accounted for."""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from statistics import median
from typing import Any

import polars as pl

from lapdelta.errors import UnreadableFile
from lapdelta.reading.checks import CUT_OFF, cut_off, find_repeats, find_sums
from lapdelta.reading.dates import date_readings
from lapdelta.reading.deciding import decide_formats
from lapdelta.reading.decode import decode
from lapdelta.reading.dialect import Record, choose_dialect, records_of
from lapdelta.reading.drafts import Draft, Layout
from lapdelta.reading.footers import footers, summaries, suspects
from lapdelta.reading.laps import NO_TIME, Formats, Lap, read_lap
from lapdelta.reading.layouts import lay_out
from lapdelta.reading.ledger import Ledger
from lapdelta.reading.model import Reading
from lapdelta.reading.naming import TITLE, kart_in_name, name_laps
from lapdelta.reading.numbers import decimals
from lapdelta.reading.parts import columns_said
from lapdelta.reading.recipe import Recipe
from lapdelta.reading.second_look import second_look
from lapdelta.reading.source import Source
from lapdelta.reading.structure import Table, Walker
from lapdelta.reading.unsaid import LONG_FOR_A_SUM, last_is_made_of
from lapdelta.reading.vocabulary import heading
from lapdelta.reading.work import Careful, Outcome
from lapdelta.tables import LAPS

#: A longer file is first searched for lines that could hold a time, so that junk is refused within seconds.
_SEARCHED_LINES = 20_000
_TIME_IN_LINE = re.compile(r"\d\D{0,3}\d")


def read_carefully(source: Source, given: Mapping[str, str], recipe: Recipe) -> Reading:
    """A reading of any file; raises UnreadableFile where there are no laps to find."""
    return finish(work_through(source, given, recipe))


def work_through(source: Source, given: Mapping[str, str], recipe: Recipe) -> Careful:
    """All decisions and laps of a file, not yet booked."""
    work, signature = _taken_apart(source, given, recipe)
    _check_column_answers(work, given)
    read_tables(work)
    drafts = [draft for layout in work.layouts for draft in layout.drafts]
    asked = any(key.startswith("column:") for key in work.questions)
    if not any("lap_time" in draft.cells for draft in drafts) and not asked:
        refusal = next((layout.refusal for layout in work.layouts if layout.refusal), None)
        raise UnreadableFile(refusal.seen, refusal.mend, source.name) if refusal else _no_laps(source)
    name_laps(work)
    _drop_repeats(work)
    work.columns = tuple(shown(work))
    remembered = recipe.with_answers(signature, source, given)
    work.recipe = replace(remembered, columns=work.columns)
    return work


def read_tables(work: Careful, settle: Callable[[Layout, Formats], Formats] | None = None) -> None:
    """All laps of all tables; ``settle`` may complete the formats with what is known of rows that are not here."""
    has_kart = "kart" in work.answers or bool(kart_in_name(work.source.stem))
    for table in work.structure.tables:
        layout = lay_out(table, work.answers, has_kart)
        _read_table(work, layout, settle)
        _set_rest_aside(work, table, layout)


def finish(work: Careful) -> Reading:
    """Book every line and close the reading."""
    laps = frame_of(book(work), work.source.name)
    return Reading(
        laps=laps,
        set_aside=work.ledger.table(),
        questions=tuple(work.questions.values()),
        account=work.ledger.account(laps.height),
        recipe=work.recipe,
        source_name=work.source.name,
        sha256=work.source.sha256,
        source=work.source,
        facts=facts_of(work),
        columns=work.columns,
        encoding=work.text.encoding,
        notes=(*work.notes, *second_look(laps, karts_titled(work))),
    )


def karts_titled(work: Careful) -> list[str]:
    """Karts that titles say above tables that have a column for the kart."""
    tables = [
        table for table in work.structure.tables if "kart" in [heading(cell).meaning for cell in table.header]
    ]
    said = [value for table in tables for row in table.rows for key, value in row.context if key == "kart"]
    return list(dict.fromkeys(said))


def _no_laps(source: Source) -> UnreadableFile:
    return UnreadableFile(
        "No table of lap times was found in this file.",
        "Choose the file that holds a lap a line, or export it again.",
        source.name,
    )


def _taken_apart(source: Source, given: Mapping[str, str], recipe: Recipe) -> tuple[Careful, str]:
    """Decode, cut and classify; an encoding that the recipe remembers for this header is taken."""
    work = _walk(source, given.get("encoding"))
    signature = _signature(work)
    answers = {**recipe.answers_for(signature, source), **given}
    if "encoding" not in given:
        wanted = {found["encoding"] for found in recipe.by_header.values() if "encoding" in found}
        for encoding in sorted(wanted):
            again = _walk(source, encoding)
            found = recipe.answers_for(_signature(again), source)
            if found.get("encoding") == encoding:
                work, signature, answers = again, _signature(again), {**found, **given}
                break
    work.answers = answers
    return work, signature


def _walk(source: Source, encoding: str | None) -> Careful:
    text = decode(source, encoding)
    dialect = choose_dialect(text.lines)
    if len(text.lines) > _SEARCHED_LINES:
        timed = sum(1 for line in text.lines if _TIME_IN_LINE.search(line))
        if timed < len(text.lines) // 1000:
            raise _no_laps(source)
    ledger = Ledger(len(text.lines))
    structure = Walker(_without_margin(records_of(text.lines, dialect)), dialect, ledger).walk()
    if not structure.tables:
        raise _no_laps(source)
    notes = [text.note] if text.note else []
    return Careful(source, text, dialect, ledger, structure, {}, notes=notes)


def _without_margin(records: list[Record]) -> list[Record]:
    """The records without a first column that is empty throughout, as spreadsheets leave one."""
    if any(record.cells[0] for record in records if len(record.filled) > 1) or len(records) < 2:
        return records
    margin = [record for record in records if record.cells[0] == "" and len(record.cells) > 2]
    if 2 * len(margin) < len(records):
        return records
    return [record if record.cells[0] else replace(record, cells=record.cells[1:]) for record in records]


def _signature(work: Careful) -> str:
    table = work.structure.tables[0]
    return table.signature or f"{max(len(row.record.cells) for row in table.rows)} columns without a header"


def _check_column_answers(work: Careful, given: Mapping[str, str]) -> None:
    """ValueError for an answer about a column that the file does not have."""
    names = _names_of_columns(work)
    wanted = [key.removeprefix("column:") for key in given if key.startswith("column:")]
    for name in [*wanted, *columns_said(given)]:
        if name not in names and re.sub(r" #\d+$", "", name) not in names:
            raise ValueError(f"The file {work.source.name!r} has no column {name!r}.")


def _names_of_columns(work: Careful) -> set[str]:
    """Headers, the places of columns that have none, and the title above a block where its words are unknown."""
    names: set[str] = set()
    for table in work.structure.tables:
        width = len(table.header) or max(len(row.record.cells) for row in table.rows)
        headers = table.header or ("",) * width
        names.update(header or str(at) for at, header in enumerate(headers, 1))
        if any(word in (TITLE, "driver") for row in table.rows for word, _ in row.context):
            names.add(TITLE)
    return names


def _read_table(work: Careful, layout: Layout, settle: Callable[[Layout, Formats], Formats] | None) -> None:
    form, questions = decide_formats(layout, work.structure.legend, work.answers)
    form = settle(layout, form) if settle else form
    questions = [*layout.questions, *questions]
    work.layouts.append(layout)
    work.formats.append(form)
    for question in questions:
        work.questions.setdefault(question.key, question)
    waits = f"waits for the answer to {questions[0].key!r}" if questions else None
    clipped = _clipped(work, layout)
    fused = _fused_decimals(work, layout)
    for draft in layout.drafts:
        outcome = work.outcomes.setdefault(draft.record.line, Outcome(draft.record))
        text, header = draft.cells.get("lap_time", ("", ""))
        found: Lap | str
        if waits or fused:
            found = waits or "commas part the columns and the decimals alike"
        elif draft is clipped:
            found = CUT_OFF
        elif "lap_time" not in draft.cells:
            found = draft.shape_fault if draft.shape_fault not in (None, "short") else NO_TIME
        else:
            found = read_lap(draft, form)
        if isinstance(found, Lap):
            outcome.laps.append(found)
        else:
            outcome.faults.append((header, text, found))


def _set_rest_aside(work: Careful, table: Table, layout: Layout) -> None:
    """Rows that a layout made no draft of: they wait for its question, or hold no lap time."""
    reason = layout.refusal.reason if layout.refusal else NO_TIME
    reason = f"waits for the answer to {layout.questions[0].key!r}" if layout.questions else reason
    for record in layout.parts:
        work.ledger.known(record, "part_of_laps")
    parts = {record.line for record in layout.parts}
    for row in table.rows:
        if row.record.line in parts:
            continue
        if row.record.line not in work.outcomes:
            work.outcomes[row.record.line] = Outcome(row.record, faults=[("", row.record.text, reason)])


def _clipped(work: Careful, layout: Layout) -> Draft | None:
    """The last draft if the file ends without a line end and the line looks cut off."""
    if work.text.ended or not layout.drafts:
        return None
    last = layout.drafts[-1]
    width = len(layout.columns)
    at_end = last.record.line + last.record.span - 1 == work.ledger.lines
    return last if at_end and cut_off(last, layout.drafts[-200:], width) else None


#: The two cells that 59,873 or 1:02,345 is cut into.
_CUT = re.compile(r"(?:\d{1,2}:)?\d{1,3}\n\d{3}")


def _fused_decimals(work: Careful, layout: Layout) -> bool:
    """Whether ``59,873`` was cut in two: whole seconds, and three digits in the next column, nearly always."""
    column = next((c for c in layout.columns if c.meaning == "lap_time"), None)
    if work.dialect.delimiter != "," or column is None or layout.name != "a row a lap":
        return False
    pairs = [draft.record.cells[column.index : column.index + 2] for draft in layout.drafts]
    filled = [pair for pair in pairs if pair and pair[0]]
    hits = [pair for pair in filled if len(pair) == 2 and _CUT.fullmatch("\n".join(pair))]
    return bool(hits) and len(hits) >= 0.7 * len(filled)


def _drop_repeats(work: Careful) -> None:
    laps = [lap for line in sorted(work.outcomes) for lap in work.outcomes[line].laps]
    found = find_repeats(laps)
    if laps:
        least_s = LONG_FOR_A_SUM * median(lap.lap_time_s for lap in laps)
        found |= find_sums(laps, least_s, found)
    found |= _find_footers(laps)
    found = {at: lap.doubt for at, lap in enumerate(laps) if lap.doubt} | found
    for at, reason in found.items():
        _drop(work, laps[at], reason)
    _drop_unsaid(work)


def _find_footers(laps: list[Lap]) -> dict[int, str]:
    """Position -> reason, for laps of karts or drivers that are words below the laps."""
    counted = {at for at, lap in enumerate(laps) if not _prints_number(lap)}
    karts, drivers = [lap.kart for lap in laps], [lap.driver or "" for lap in laps]
    found = footers(laps, drivers, summaries(set(drivers)), counted)
    return found | footers(laps, karts, suspects(karts), counted)


def _prints_number(lap: Lap) -> bool:
    """Whether the file prints a lap number; one that we count ourselves has no header."""
    text, header = lap.draft.cells.get("lap", ("", ""))
    return bool(text and header)


def _drop(work: Careful, dropped: Lap, reason: str) -> None:
    outcome = work.outcomes[dropped.line]
    outcome.laps = [lap for lap in outcome.laps if lap is not dropped]
    outcome.faults.append((dropped.column, dropped.draft.cells["lap_time"][0], reason))


def _drop_unsaid(work: Careful) -> None:
    """The last lap of a session and kart that print no lap numbers, where it is the sum or average of the others."""
    groups: dict[tuple[str, str], list[Lap]] = {}
    for line in sorted(work.outcomes):
        for lap in work.outcomes[line].laps:
            groups.setdefault((lap.session, lap.kart), []).append(lap)
    for laps in groups.values():
        if any(_prints_number(lap) for lap in laps):
            continue
        if reason := last_is_made_of(laps, decimals(laps[-1].draft.cells["lap_time"][0]) or 0):
            _drop(work, laps[-1], reason)


def book(work: Careful) -> list[Lap]:
    """Enter every record in the account; a record that gave no lap is set aside as a whole."""
    laps: list[Lap] = []
    for line in sorted(work.outcomes):
        outcome = work.outcomes[line]
        if not outcome.laps:
            reasons = dict.fromkeys(reason for _, _, reason in outcome.faults)
            work.ledger.set_aside(outcome.record, "; ".join(reasons))
            continue
        work.ledger.lap(outcome.record)
        for column, text, reason in [
            *outcome.faults,
            *(fault for lap in outcome.laps for fault in lap.cell_faults),
        ]:
            work.ledger.set_aside_cell(line, column, text, reason)
        laps.extend(outcome.laps)
    return laps


def frame_of(laps: list[Lap], source_file: str) -> pl.DataFrame:
    """The canonical table of these laps."""
    names = [name for name in LAPS if name not in ("source_file", "source_line")]
    columns: dict[str, Any] = {name: [getattr(lap, name) for lap in laps] for name in names}
    columns["source_file"] = [source_file] * len(laps)
    columns["source_line"] = [lap.line for lap in laps]
    return pl.DataFrame(columns, schema=LAPS)


def shown(work: Careful) -> list[dict[str, str]]:
    """Header, meaning, unit and note of every column; notes of the formats join those of the work."""
    columns: list[dict[str, str]] = []
    for layout, form in zip(work.layouts, work.formats, strict=True):
        for column in layout.columns:
            unit = (
                form.time_unit
                if column.meaning == "lap_time"
                else form.sector_units.get(column.meaning or "", column.unit)
            )
            note = column.note or ("" if column.meaning else "not understood; kept in the file, not used")
            columns.append(
                {"header": column.header, "meaning": column.meaning or "", "unit": unit or "", "note": note}
            )
        work.notes += [note for note in form.notes if note not in work.notes]
        if form.cumulative:
            work.notes.append(
                "The sector times run on from the start of the lap; each sector's own time was taken from them."
            )
    return columns


def facts_of(work: Careful) -> dict[str, str]:
    """What lines outside the tables said, the date in ISO form where it is sure, and the answers event and date."""
    facts = dict(work.structure.facts)
    if "date" in facts:
        readings = date_readings(facts["date"])
        order = work.formats[0].day_order if work.formats else None
        found = readings.get("sure") or readings.get(order or "")
        facts["date"] = found.isoformat() if found else facts["date"]
    for key in ("event", "date"):
        if key in work.answers:
            facts[key] = work.answers[key]
    return facts
