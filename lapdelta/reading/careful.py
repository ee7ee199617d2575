"""The careful path: any file, line by line, every line accounted for."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import polars as pl

from lapdelta.errors import UnreadableFile
from lapdelta.reading.checks import CUT_OFF, cut_off, find_repeats
from lapdelta.reading.dates import date_readings
from lapdelta.reading.deciding import decide_formats
from lapdelta.reading.decode import Text, decode
from lapdelta.reading.dialect import Dialect, Record, choose_dialect, records_of
from lapdelta.reading.laps import NO_TIME, Formats, Lap, read_lap
from lapdelta.reading.layouts import Draft, Layout, lay_out
from lapdelta.reading.ledger import Ledger
from lapdelta.reading.model import Question, Reading
from lapdelta.reading.recipe import Recipe
from lapdelta.reading.source import Source
from lapdelta.reading.structure import Structure, Table, Walker
from lapdelta.tables import LAPS

_KART_IN_NAME = re.compile(
    r"(?:^|[^a-z])(?:kart|no|nr)[\s._#-]{0,2}(\d{1,4}[a-z]?)(?![a-z0-9])", re.IGNORECASE
)

_WAITS_FOR_KART = "waits for the answer which kart this is"


@dataclass
class Outcome:
    """What became of one record: the laps it gave and the reasons of those it did not."""

    record: Record
    laps: list[Lap] = field(default_factory=list[Lap])
    faults: list[tuple[str, str, str]] = field(default_factory=list[tuple[str, str, str]])


@dataclass
class Careful:
    """One careful reading under way: everything decided so far."""

    source: Source
    text: Text
    dialect: Dialect
    ledger: Ledger
    structure: Structure
    answers: Mapping[str, str]
    layouts: list[Layout] = field(default_factory=list[Layout])
    formats: list[Formats] = field(default_factory=list[Formats])
    questions: dict[str, Question] = field(default_factory=dict[str, Question])
    outcomes: dict[int, Outcome] = field(default_factory=dict[int, Outcome])
    notes: list[str] = field(default_factory=list[str])
    columns: tuple[dict[str, str], ...] = ()
    recipe: Recipe = field(default_factory=Recipe)


def read_carefully(source: Source, given: Mapping[str, str], recipe: Recipe) -> Reading:
    """A reading of any file; raises UnreadableFile where there are no laps to find."""
    return finish(work_through(source, given, recipe))


def work_through(source: Source, given: Mapping[str, str], recipe: Recipe) -> Careful:
    """All decisions and laps of a file, not yet booked."""
    work, signature = _taken_apart(source, given, recipe)
    _check_column_answers(work, given)
    for table in work.structure.tables:
        layout = lay_out(table, work.answers)
        _read_table(work, layout)
        _set_rest_aside(work, table, layout)
    drafts = [draft for layout in work.layouts for draft in layout.drafts]
    if not any("lap_time" in draft.cells for draft in drafts) and not work.questions:
        raise _no_laps(source)
    _name_karts(work)
    _drop_repeats(work)
    work.columns = tuple(_shown(work))
    remembered = recipe.with_answers(signature, source.sha256, given)
    work.recipe = replace(remembered, columns=work.columns)
    return work


def finish(work: Careful) -> Reading:
    """Book every line and close the reading."""
    laps = _book(work)
    return Reading(
        laps=frame_of(laps, work.source.name),
        set_aside=work.ledger.table(),
        questions=tuple(work.questions.values()),
        account=work.ledger.account(len(laps)),
        recipe=work.recipe,
        source_name=work.source.name,
        sha256=work.source.sha256,
        data=work.source.data,
        facts=facts_of(work),
        columns=work.columns,
        encoding=work.text.encoding,
        notes=tuple(work.notes),
    )


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
    answers = {**recipe.answers_for(signature, source.sha256), **given}
    if "encoding" not in given:
        wanted = {found["encoding"] for found in recipe.by_header.values() if "encoding" in found}
        for encoding in sorted(wanted):
            again = _walk(source, encoding)
            found = recipe.answers_for(_signature(again), source.sha256)
            if found.get("encoding") == encoding:
                work, signature, answers = again, _signature(again), {**found, **given}
                break
    work.answers = answers
    return work, signature


def _walk(source: Source, encoding: str | None) -> Careful:
    text = decode(source, encoding)
    dialect = choose_dialect(text.lines)
    ledger = Ledger(len(text.lines))
    structure = Walker(records_of(text.lines, dialect), dialect, ledger).walk()
    if not structure.tables:
        raise _no_laps(source)
    notes = [text.note] if text.note else []
    return Careful(source, text, dialect, ledger, structure, {}, notes=notes)


def _signature(work: Careful) -> str:
    table = work.structure.tables[0]
    return table.signature or f"{max(len(row.record.cells) for row in table.rows)} columns without a header"


def _check_column_answers(work: Careful, given: Mapping[str, str]) -> None:
    """ValueError for ``column:<header>`` with a header that the file does not have."""
    for key in given:
        if not key.startswith("column:"):
            continue
        wanted = key.removeprefix("column:")
        names = {cell for table in work.structure.tables for cell in table.header}
        widest = max(
            (len(row.record.cells) for t in work.structure.tables if not t.header for row in t.rows),
            default=0,
        )
        if re.sub(r" #\d+$", "", wanted) not in names and wanted not in {str(at + 1) for at in range(widest)}:
            raise ValueError(f"The file {work.source.name!r} has no column {wanted!r}.")


def _read_table(work: Careful, layout: Layout) -> None:
    form, questions = decide_formats(layout, work.structure.legend, work.answers)
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
    reason = f"waits for the answer to {layout.questions[0].key!r}" if layout.questions else NO_TIME
    for row in table.rows:
        if row.record.line not in work.outcomes:
            work.outcomes[row.record.line] = Outcome(row.record, faults=[("", row.record.text, reason)])


def _clipped(work: Careful, layout: Layout) -> Draft | None:
    """The last draft if the file ends without a line end and the line looks cut off."""
    if work.text.ended or not layout.drafts:
        return None
    last = layout.drafts[-1]
    at_end = last.record.line + last.record.span - 1 == len(work.text.lines)
    return last if at_end and cut_off(last, layout.drafts[-200:]) else None


def _fused_decimals(work: Careful, layout: Layout) -> bool:
    """Whether ``59,873`` was cut in two: whole seconds, and three digits in the next column, nearly always."""
    column = next((c for c in layout.columns if c.meaning == "lap_time"), None)
    if work.dialect.delimiter != "," or column is None or layout.name != "a row a lap":
        return False
    pairs = [draft.record.cells[column.index : column.index + 2] for draft in layout.drafts]
    full = [pair for pair in pairs if len(pair) == 2 and all(pair)]
    hits = [
        pair
        for pair in full
        if re.fullmatch(r"(?:\d{1,2}:)?\d{1,3}", pair[0]) and re.fullmatch(r"\d{3}", pair[1])
    ]
    return len(hits) >= 0.7 * max(1, len(full)) and bool(hits)


def _name_karts(work: Careful) -> None:
    """Session and kart of every lap: printed, else title, else file name or answer; laps without a kart wait."""
    in_name = _KART_IN_NAME.search(work.source.stem)
    unnamed = False
    for outcome in work.outcomes.values():
        kept: list[Lap] = []
        for lap in outcome.laps:
            fault = _name_lap(work, lap, in_name.group(1) if in_name else "")
            if fault is None:
                kept.append(lap)
            else:
                unnamed = unnamed or fault == _WAITS_FOR_KART
                outcome.faults.append((lap.column, lap.draft.cells["lap_time"][0], fault))
        outcome.laps = kept
    if unnamed:
        _ask_kart(work)
    _count_laps(work)


def _name_lap(work: Careful, lap: Lap, kart_in_name: str) -> str | None:
    printed, said = lap.draft.cells, lap.draft.context
    session, kart = printed.get("session", ("", ""))[0], printed.get("kart", ("", ""))[0]
    lap.session = session or said.get("session", "") or work.answers.get("session", "") or work.source.stem
    if "kart" in printed and not kart and _is_printed(work, "kart"):
        return "no kart number"
    if "session" in printed and not session and _is_printed(work, "session"):
        return "no session"
    lap.kart = kart or said.get("kart", "") or kart_in_name or work.answers.get("kart", "")
    if lap.date is None and "date" in work.answers:
        lap.date = date.fromisoformat(work.answers["date"])
    return None if lap.kart else _WAITS_FOR_KART


def _is_printed(work: Careful, meaning: str) -> bool:
    return any(draft.cells.get(meaning, ("", ""))[0] for layout in work.layouts for draft in layout.drafts)


def _ask_kart(work: Careful) -> None:
    drivers = {draft.cells.get("driver", ("", ""))[0] for layout in work.layouts for draft in layout.drafts}
    column = next((c for layout in work.layouts for c in layout.columns if c.meaning == "driver"), None)
    if len(drivers - {""}) > 1 and column is not None:
        text = (
            f"The file prints no kart number but several drivers; shall {column.header!r} stand for the kart?"
        )
        work.questions.setdefault(
            f"column:{column.header}", Question(f"column:{column.header}", text, ("kart",))
        )
        return
    work.questions.setdefault("kart", Question("kart", "Which kart (number or code) are these laps of?"))


def _count_laps(work: Careful) -> None:
    """Number the laps of a table that prints no lap numbers; rows without a time count too."""
    for layout in work.layouts:
        if any(draft.cells.get("lap", ("", ""))[0] for draft in layout.drafts):
            continue
        by_draft = {
            id(lap.draft): lap
            for line in {d.record.line for d in layout.drafts}
            for lap in work.outcomes[line].laps
        }
        counts: dict[tuple[str, str], int] = {}
        for draft in layout.drafts:
            lap = by_draft.get(id(draft))
            session = (
                lap.session
                if lap
                else _label(draft, "session") or work.answers.get("session", "") or work.source.stem
            )
            kart = lap.kart if lap else _label(draft, "kart")
            counts[session, kart] = counts.get((session, kart), 0) + 1
            if lap:
                lap.lap = counts[session, kart]


def _label(draft: Draft, meaning: str) -> str:
    return draft.cells.get(meaning, ("", ""))[0] or draft.context.get(meaning, "")


def _drop_repeats(work: Careful) -> None:
    laps = [lap for line in sorted(work.outcomes) for lap in work.outcomes[line].laps]
    for at, reason in find_repeats(laps).items():
        outcome = work.outcomes[laps[at].line]
        outcome.laps = [lap for lap in outcome.laps if lap is not laps[at]]
        outcome.faults.append((laps[at].column, laps[at].draft.cells["lap_time"][0], reason))


def _book(work: Careful) -> list[Lap]:
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


def _shown(work: Careful) -> list[dict[str, str]]:
    shown: list[dict[str, str]] = []
    for layout, form in zip(work.layouts, work.formats, strict=True):
        for column in layout.columns:
            unit = (
                form.time_unit
                if column.meaning == "lap_time"
                else form.sector_units.get(column.meaning or "", column.unit)
            )
            note = column.note or ("" if column.meaning else "not understood; kept in the file, not used")
            shown.append(
                {"header": column.header, "meaning": column.meaning or "", "unit": unit or "", "note": note}
            )
        if form.cumulative:
            work.notes.append(
                "The sector times run on from the start of the lap; each sector's own time was taken from them."
            )
    return shown


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
