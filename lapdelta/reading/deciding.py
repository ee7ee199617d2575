"""One table's formats, decided from all its drafts: units, decimal marks, day order, own or cumulative sectors."""

import re
from collections.abc import Mapping, Sequence
from statistics import median

from lapdelta.reading import formats
from lapdelta.reading.columns import Column, showing
from lapdelta.reading.dates import date_readings, decide_day_order
from lapdelta.reading.drafts import Draft, Layout
from lapdelta.reading.laps import (
    PLAIN_MISS_S,
    SECTOR_SLACK_S,
    Formats,
    split_date_and_clock,
    split_unit,
    time_and_marks,
)
from lapdelta.reading.mapping import is_running
from lapdelta.reading.model import Question
from lapdelta.reading.numbers import certain_mark, decimals, read_number
from lapdelta.reading.printing import Printing, printing_of
from lapdelta.reading.vocabulary import is_no_time, unit_of

_CLOCK_MARK = re.compile(r"[:'\"m.]\s?\d{1,2}([.,])\d{1,3}\D*")


def _texts(layout: Layout, meaning: str) -> list[str]:
    cells = [draft.cells[meaning][0] for draft in layout.drafts if meaning in draft.cells]
    return [text for text in cells if text and not is_no_time(text)]


def _column(layout: Layout, meaning: str) -> Column | None:
    return next((column for column in layout.columns if column.meaning == meaning), None)


def _showing(layout: Layout, question: str, *meanings: str) -> str:
    """A question with the columns of these meanings and some of their values."""
    columns = [column for meaning in meanings if (column := _column(layout, meaning))]
    return showing(question, *((column, _texts(layout, str(column.meaning))) for column in columns))


def decide_formats(
    layout: Layout, legend: dict[str, str], answers: Mapping[str, str]
) -> tuple[Formats, list[Question]]:
    """How the columns of a table are read, and what has to be asked."""
    questions: list[Question] = []
    notes: list[str] = []
    laps = _lap_texts(layout, legend)
    lap_column = _column(layout, "lap_time")
    told = lap_column.unit if lap_column else None
    unit = formats.decide_time_unit(laps, told, answers.get("time_unit"))
    if unit is None:
        text = _showing(layout, "In which unit are the lap times?", "lap_time")
        questions.append(Question("time_unit", text, ("s", "ms", "day", "clock")))
    seconds = lap_seconds(layout, unit, legend)
    sectors = _sector_units(layout, unit, legend, questions)
    cumulative = _decide_sectors(layout, unit, sectors, legend, answers, questions)
    marks = _file_marks(layout)
    missed = sector_misses(layout, unit, sectors, cumulative) if cumulative is not None else []
    form = Formats(
        time_unit=unit,
        sector_units=sectors,
        cumulative=cumulative,
        speed=_decide_speed(layout, marks, answers, questions, notes),
        rpm=_decide_rpm(layout, marks, answers, questions),
        day_order=_decide_days(layout, answers, questions, notes),
        legend=legend,
        notes=notes,
        sectors_sure=is_sure(missed),
        sectors_usual=is_usual(missed),
        sector_shares={
            meaning: median(shares)
            for meaning, shares in sector_shares(layout, unit, sectors).items()
            if len(shares) >= 3
        },
        median_lap_s=median(seconds) if len(seconds) >= 5 else None,
        printing=_printing(layout, unit, sectors, legend),
    )
    if lap_column and not lap_column.answered and _runs_on(layout, unit):
        text = f"The times in {lap_column.header!r} add up from lap to lap; are they lap times?"
        text = _showing(layout, text, "lap_time")
        questions.append(Question(f"column:{lap_column.header}", text, ("lap_time_s", "ignore")))
    return form, _once(questions)


def _lap_texts(layout: Layout, legend: dict[str, str]) -> list[str]:
    return [time_and_marks(text, legend)[0] for text in _texts(layout, "lap_time")]


def lap_seconds(layout: Layout, unit: str | None, legend: dict[str, str]) -> list[float]:
    """All lap times of a table that can be read, absurd ones too, in s."""
    texts = _lap_texts(layout, legend)
    return [value for text in texts if (value := formats.to_seconds(text, unit)) is not None and value > 0]


def _printing(
    layout: Layout, unit: str | None, sectors: Mapping[str, str | None], legend: dict[str, str]
) -> dict[str, Printing]:
    """How the lap times and the sectors are printed, by meaning."""
    found: dict[str, Printing] = {}
    for meaning, own in {"lap_time": unit, **sectors}.items():
        texts = [time_and_marks(text, legend)[0] for text in _texts(layout, meaning)]
        found[meaning] = printing_of(texts, [formats.to_seconds(text, own) for text in texts])
    return found


def _once(questions: list[Question]) -> list[Question]:
    return list({question.key: question for question in questions}.values())


def _runs_on(layout: Layout, unit: str | None) -> bool:
    """Whether the lap times of most karts keep adding up, as a race time does."""
    groups: dict[str, list[float]] = {}
    for draft in layout.drafts:
        value = formats.to_seconds(draft.cells["lap_time"][0], unit) if "lap_time" in draft.cells else None
        names = [draft.cells.get(n, (draft.context.get(n, ""), ""))[0] for n in ("session", "kart", "driver")]
        if value is not None:
            groups.setdefault("\n".join(names), []).append(value)
    long = [group for group in groups.values() if len(group) >= 4]
    return bool(long) and sum(1 for group in long if is_running(group)) > 0.5 * len(long)


def _sector_units(
    layout: Layout, lap_unit: str | None, legend: dict[str, str], questions: list[Question]
) -> dict[str, str | None]:
    units: dict[str, str | None] = {}
    for column in layout.columns:
        if not column.meaning or not re.fullmatch(r"sector_\d+", column.meaning):
            continue
        texts = [time_and_marks(text, legend)[0] for text in _texts(layout, column.meaning)]
        unit = formats.decide_time_unit(texts, column.unit, None, formats.SECTOR_RANGE_S)
        if unit is None and texts and lap_unit in ("s", "ms", "day"):
            unit = lap_unit
        if unit is None and texts:
            text = _showing(layout, f"In which unit is {column.header!r}?", column.meaning)
            questions.append(Question("time_unit", text, ("s", "ms", "day", "clock")))
        units[column.meaning] = unit
    return units


def _splits(
    draft: Draft, units: Mapping[str, str | None], lap_unit: str | None
) -> tuple[float | None, list[float | None]]:
    lap = formats.to_seconds(draft.cells.get("lap_time", ("", ""))[0], lap_unit)
    ordered = sorted(units, key=lambda meaning: int(meaning[7:]))
    return lap, [
        formats.to_seconds(draft.cells.get(meaning, ("", ""))[0], units[meaning]) for meaning in ordered
    ]


def sector_misses(
    layout: Layout, unit: str | None, units: Mapping[str, str | None], cumulative: bool
) -> list[float]:
    """For each complete row by how much its sectors miss the lap, s."""
    missed: list[float] = []
    for draft in layout.drafts if len(units) > 1 else ():
        lap, splits = _splits(draft, units, unit)
        known = [value for value in splits if value is not None]
        if lap is not None and len(known) == len(splits):
            missed.append(abs((known[-1] if cumulative else sum(known)) - lap))
    return missed


def is_sure(missed: Sequence[float], more: int = 0) -> bool:
    """Whether the sectors make up the lap in so many of the complete rows that one that says otherwise is wrong.

    ``more``: complete rows that miss nothing, beside those.
    """
    complete = len(missed) + more
    return complete >= 5 and sum(1 for miss in missed if miss > SECTOR_SLACK_S) / complete <= 0.1


def is_usual(missed: Sequence[float], more: int = 0) -> bool:
    """Whether the sectors make up the lap in most of the complete rows, so that one that misses it plainly is told."""
    near = sum(1 for miss in missed if miss <= PLAIN_MISS_S) + more
    return near >= 2 and near > len(missed) + more - near


def sector_shares(
    layout: Layout, unit: str | None, units: Mapping[str, str | None]
) -> dict[str, list[float]]:
    """Each row's shares of the lap of each sector (or split), where short rows need them."""
    if not any(draft.shape_fault == "short" for draft in layout.drafts):
        return {}
    found: dict[str, list[float]] = {meaning: [] for meaning in units}
    ordered = sorted(units, key=lambda meaning: int(meaning[7:]))
    for draft in layout.drafts:
        lap, splits = _splits(draft, units, unit)
        for meaning, split in zip(ordered, splits, strict=True):
            if lap and split and draft.shape_fault is None:
                found[meaning].append(split / lap)
    return found


def _decide_sectors(
    layout: Layout,
    unit: str | None,
    units: Mapping[str, str | None],
    legend: dict[str, str],
    answers: Mapping[str, str],
    questions: list[Question],
) -> bool | None:
    """False: own times; True: cumulative; proved where they add up to, or end at, the lap time; else asked."""
    if not units:
        return None
    if "sectors" in answers:
        return answers["sectors"] == "cumulative"
    if len(units) < 2:
        return False
    own = last = 0
    complete: list[tuple[float, list[float]]] = []
    for draft in layout.drafts:
        lap, splits = _splits(draft, units, unit)
        known = [value for value in splits if value is not None]
        if lap is None or len(known) < len(splits):
            continue
        slack = 0.6 * 10.0 ** -_precision(draft) * (len(known) + 1) + 1e-6
        complete.append((lap, known))
        own += abs(sum(known) - lap) <= slack
        last += abs(known[-1] - lap) <= slack and known == sorted(known)
    if own == last == 0 and (proved := _by_exclusion(complete)) is not None:
        return proved
    if (own > 0) == (last > 0) and not _clearly(own, last):
        if any(_texts(layout, meaning) for meaning in units):
            text = "The sector times neither add up to the lap time nor end at it; what are they?"
            text = _showing(layout, text, "lap_time", *list(units)[:3])
            questions.append(Question("sectors", text, ("own", "cumulative")))
        return False
    return last > own


def _by_exclusion(complete: Sequence[tuple[float, list[float]]]) -> bool | None:
    """Splits of part of the lap: cumulative if their sum is longer than the lap, own if a later one is shorter."""
    if len(complete) < 3:
        return None
    rising = sum(1 for _, known in complete if known == sorted(known)) / len(complete)
    longer = sum(1 for lap, known in complete if sum(known) > lap + 0.002) / len(complete)
    if rising == 1 and longer >= 0.9:
        return True
    return False if rising <= 0.1 and longer == 0 else None


def _clearly(own: int, last: int) -> bool:
    return max(own, last) >= 5 * max(1, min(own, last)) and min(own, last) > 0


def _precision(draft: Draft) -> int:
    """Decimals of the least precise time in a row, at most 3; whole numbers (ms, or a dropped .0) do not count."""
    cells = [
        text for name, (text, _) in draft.cells.items() if name == "lap_time" or name.startswith("sector_")
    ]
    found = [decimals(text) or 0 for text in cells if text]
    return min((count for count in found if count > 0), default=3) if min(found, default=0) < 3 else 3


def _file_marks(layout: Layout) -> set[str]:
    """Decimal marks that any time or number of the table makes certain."""
    found: set[str] = set()
    for draft in layout.drafts:
        for meaning, (text, _) in draft.cells.items():
            if meaning in ("lap_time", "top_speed", "peak_rpm") or meaning.startswith("sector_"):
                match = _CLOCK_MARK.search(text) if any(c in text for c in ":'\"m") else None
                mark = match.group(1) if match else certain_mark(split_unit(text)[0])
                if mark:
                    found.add(mark)
            if len(found) == 2:
                return found
    plain = {
        c
        for text in _texts(layout, "lap_time")[:200]
        if re.fullmatch(r"\d{2}[.,]\d{1,3}", text)
        for c in text
        if c in ".,"
    }
    return found or (plain if len(plain) == 1 else set())


def _numbers(texts: Sequence[str], mark: str | None) -> list[float]:
    each = mark == formats.EACH
    used = [(certain_mark(text) or "." if each else mark or ".") for text in texts]
    return [
        value
        for text, mark in zip(texts, used, strict=True)
        if (value := read_number(text, mark)) is not None
    ]


def _decide_speed(
    layout: Layout, marks: set[str], answers: Mapping[str, str], questions: list[Question], notes: list[str]
) -> formats.NumberFormat:
    cells = [split_unit(text) for text in _texts(layout, "top_speed")]
    column = _column(layout, "top_speed")
    if column is None or not cells:
        return formats.NumberFormat(".")
    texts = [number for number, _ in cells]
    mark = formats.decide_mark(texts, marks, answers.get("decimal_mark"), (10.0, 250.0))
    if mark is None:
        questions.append(_ask_mark(layout, column))
    suffixes = {unit_of(suffix) for _, suffix in cells if suffix}
    told = column.unit or (next(iter(suffixes)) if len(suffixes) == 1 else None)
    metric = any(other.language and "en" not in other.language.split() for other in layout.columns)
    unit = formats.decide_speed_unit(_numbers(texts, mark), told, answers.get("speed_unit"), metric)
    if unit is None:
        text = _showing(layout, f"In which unit is {column.header!r}?", "top_speed")
        questions.append(Question("speed_unit", text, tuple(formats.KMH_IN)))
    elif told is None and "speed_unit" not in answers:
        notes.append(f"No unit is printed for {column.header!r}; the values are speeds of a kart in {unit}.")
    return formats.NumberFormat(mark, formats.KMH_IN[unit or "km/h"])


def _decide_rpm(
    layout: Layout, marks: set[str], answers: Mapping[str, str], questions: list[Question]
) -> formats.NumberFormat:
    texts = [split_unit(text)[0] for text in _texts(layout, "peak_rpm")]
    column = _column(layout, "peak_rpm")
    if column is None or not texts:
        return formats.NumberFormat(".")
    mark = formats.decide_mark(texts, marks, answers.get("decimal_mark"), formats.RPM_LIMITS)
    if mark is None:
        questions.append(_ask_mark(layout, column))
    return formats.NumberFormat(mark)


def _ask_mark(layout: Layout, column: Column) -> Question:
    text = _showing(layout, f"Which sign is the decimal mark in {column.header!r}?", str(column.meaning))
    return Question("decimal_mark", text, (".", ","))


def _day_first(layout: Layout) -> bool:
    """Whether a header word is of languages that all write the day first."""
    told = [set(column.language.split()) for column in layout.columns if column.language]
    return any(languages <= formats.DAY_FIRST for languages in told)


def _decide_days(
    layout: Layout, answers: Mapping[str, str], questions: list[Question], notes: list[str]
) -> str | None:
    if "day_order" in answers:
        return answers["day_order"]
    cells = [
        split_date_and_clock(text, meaning)[0]
        for meaning in ("date", "clock")
        for text in _texts(layout, meaning)
    ]
    said = [draft.context["date"] for draft in layout.drafts if "date" in draft.context]
    dates = [text for text in [*cells, *said] if text]
    order = decide_day_order(dates)
    if order is None and _day_first(layout) and all("dmy" in date_readings(text) for text in set(dates)):
        notes.append("The dates write the day first, as the language of the header does.")
        return "dmy"
    if order is None:
        text = _showing(layout, "Do the dates write the day or the month first?", "date")
        questions.append(Question("day_order", text, ("dmy", "mdy")))
    return order
