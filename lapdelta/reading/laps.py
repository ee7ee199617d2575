"""Drafts to laps: every cell read under its column's format, or set aside with a reason."""

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from lapdelta.reading import formats
from lapdelta.reading.clock import day_fraction, read_duration, read_time_of_day
from lapdelta.reading.dates import date_readings, pick_date
from lapdelta.reading.drafts import Draft
from lapdelta.reading.numbers import certain_mark, decimals, read_number, tidy, whole_number
from lapdelta.reading.printing import Printing
from lapdelta.reading.vocabulary import heading, is_no_time, mark_of, marks_in, marks_within, truth_of

_SIGNED = re.compile(r"([*†‡!^~§#]?)\s*(.*?)\s*([*†‡!^~§#]*)", re.DOTALL)
_WORDED = re.compile(r"(\d[\d:.,'\"′″’”\s]*[\d\"″”])\s*[(\[]?\s*([^\W\d_][^\d()\[\]]*)[)\]]?\.?")
_WORD_FIRST = re.compile(r"([^\W\d_]+(?:\s[^\W\d_]+)?)[\s:(]+(\d[\d:.,'\"′″’”]*)\)?")
_NUMBER_AND_WORD = re.compile(r"(\d{1,4})(?:\s*[(\[]|\s+)\s*([^\W\d_][^()\[\]\d]*?)\s*[)\]]?")
NO_TIME = "no lap time"
OUT_OF_RANGE = "a sector time out of range"
TYPED_LETTER = "a letter where the others have a digit"
#: In a short row a lap number beyond any day's is a number from another column.
_HIGHEST_LAP = 9999
#: Share of the lap that a sector of a short row may miss the column's usual share by, relative to it.
_SHARE_SLACK = 0.3
#: Sectors that miss the lap time by more than rounding, in s.
SECTOR_SLACK_S = 0.02
#: Sectors that miss the lap time by more than any rounding or cut-off sector line, in s.
PLAIN_MISS_S = 0.5
#: A lap that is so many times as long as the median, and not as precise, has its decimal mark or its parts misplaced.
LONG_LAP = 8
#: Notes of one kind that are shown for a table.
_NOTES_SHOWN = 5


@dataclass
class Lap:
    """One lap read; ``cell_faults`` are (column, text, reason) of values that were dropped.

    ``doubt``: why it is none unless another reason is found between the laps.
    """

    draft: Draft
    session: str = ""
    kart: str = ""
    driver: str | None = None
    lap: int | None = None
    lap_time_s: float = 0.0
    sector_times_s: list[float | None] = field(default_factory=list[float | None])
    top_speed_kmh: float | None = None
    peak_rpm: float | None = None
    date: dt.date | None = None
    clock: dt.time | None = None
    marks: list[str] = field(default_factory=list[str])
    cell_faults: list[tuple[str, str, str]] = field(default_factory=list[tuple[str, str, str]])
    doubt: str = ""

    @property
    def line(self) -> int:
        """First line the lap came from."""
        return self.draft.record.line

    @property
    def column(self) -> str:
        """Header of the column that held the lap time."""
        return self.draft.cells["lap_time"][1]


@dataclass(frozen=True)
class Formats:
    """How the columns of one table are read; sector units by meaning; ``cumulative`` None: no sectors.

    ``printing`` by meaning. ``sectors_sure``, ``sectors_usual``: the sectors make up nearly all laps, or most.
    """

    time_unit: str | None = "s"
    sector_units: dict[str, str | None] = field(default_factory=dict[str, "str | None"])
    cumulative: bool | None = None
    speed: formats.NumberFormat = field(default_factory=lambda: formats.NumberFormat("."))
    rpm: formats.NumberFormat = field(default_factory=lambda: formats.NumberFormat("."))
    day_order: str | None = "any"
    legend: dict[str, str] = field(default_factory=dict[str, str])
    median_lap_s: float | None = None
    printing: Mapping[str, Printing] = field(default_factory=dict[str, Printing])
    sectors_sure: bool = False
    sectors_usual: bool = False
    sector_shares: dict[str, float] = field(default_factory=dict[str, float])
    notes: list[str] = field(default_factory=list[str])

    def printed(self, meaning: str) -> Printing:
        """How a column of times is printed."""
        return self.printing.get(meaning) or Printing()


def time_and_marks(text: str, legend: dict[str, str]) -> tuple[str, list[str], str]:
    """The time in a lap-time cell, the marks beside it, and signs that no legend explains."""
    if read_duration(text) is not None:
        return text, [], ""
    match = _SIGNED.fullmatch(tidy(text))
    assert match is not None
    signs, bare = match.group(1) + match.group(3), match.group(2)
    marks = [legend[sign] for sign in signs if sign in legend]
    unknown = "".join(sign for sign in signs if sign not in legend)
    for pattern, time_group, word_group in ((_WORDED, 1, 2), (_WORD_FIRST, 2, 1)):
        worded = pattern.fullmatch(bare)
        if worded and read_duration(bare) is None:
            mark = mark_of(worded.group(word_group))
            if mark is None:
                return text, [], ""
            return worded.group(time_group).strip(), marks + ([mark] if mark != "none" else []), unknown
    return bare, marks, unknown


def read_lap(draft: Draft, form: Formats) -> Lap | str:
    """The lap of a draft (session and kart still open), or the reason why it is none."""
    text = draft.cells["lap_time"][0]
    bare, marks, unknown = time_and_marks(text, form.legend)
    seconds = formats.to_seconds(bare, form.time_unit)
    if is_no_time(text) or (seconds is None and marks_in(text) is not None):
        return NO_TIME
    if seconds is None:
        return f"{NO_TIME}: not a time"
    low, high = formats.LAP_LIMITS_S
    usual = form.printed("lap_time")
    if not low <= seconds < high or (form.median_lap_s and seconds < 0.25 * form.median_lap_s):
        return f"{NO_TIME}: {seconds:g} s cannot be a lap"
    if usual.has_typed_letter(bare):
        return f"{NO_TIME}: {TYPED_LETTER}"
    if form.median_lap_s and seconds > LONG_LAP * form.median_lap_s and decimals(bare) != usual.decimals:
        return _long_otherwise(seconds)
    if draft.shape_fault not in (None, "short"):
        return str(draft.shape_fault)
    if draft.shape_fault == "short" and not _fits_shape(draft, seconds, form):
        return "fewer cells than the header"
    lap = Lap(draft, lap_time_s=seconds, marks=marks)
    if unknown:
        lap.cell_faults.append((lap.column, text, "a sign beside the time that no legend explains"))
    fault = _read_number_of_lap(lap)
    if fault:
        return fault
    _read_sectors(lap, form)
    if fault := _contradiction(lap, form):
        return fault
    _read_measures(lap, form)
    _read_when(lap, form)
    _read_marks(lap)
    if not lap.marks and usual.is_long_otherwise(bare, seconds):
        lap.doubt = _long_otherwise(seconds)
    driver = draft.cells.get("driver", ("", ""))[0] or draft.context.get("driver", "")
    lap.driver = driver or None
    lap.marks = list(dict.fromkeys(lap.marks))
    return lap


def _long_otherwise(seconds: float) -> str:
    return f"{NO_TIME}: {seconds:g} s is far longer than the others and printed otherwise"


def _contradiction(lap: Lap, form: Formats) -> str | None:
    """Why a lap is not believed where sectors, which make up the lap elsewhere, say another time; else noted."""
    short = lap.lap_time_s < 0.6 * (form.median_lap_s or 0.0)
    if form.sectors_usual and short and any(reason == OUT_OF_RANGE for *_, reason in lap.cell_faults):
        return "a sector is longer than this lap"
    own = [value for value in lap.sector_times_s if value is not None]
    total = sum(own)
    slack = SECTOR_SLACK_S if form.sectors_sure else PLAIN_MISS_S
    if not form.sectors_usual or len(own) < len(lap.sector_times_s) or abs(total - lap.lap_time_s) <= slack:
        return None
    usual = form.median_lap_s or total
    if form.sectors_sure and not 0.6 <= lap.lap_time_s / usual <= 1.6 and 0.6 <= total / usual <= 1.6:
        return f"the sectors add up to {total:.3f} s, not to this lap time"
    if len(form.notes) < _NOTES_SHOWN:
        form.notes.append(
            f"Line {lap.line}: the sectors add up to {total:.3f} s, the lap time says {lap.lap_time_s:.3f} s."
        )
    return None


def _fits_shape(draft: Draft, seconds: float, form: Formats) -> bool:
    """Whether the cells of a short row stand under their own headers: lap and sectors are like those of full rows."""
    if form.median_lap_s and not 0.6 <= seconds / form.median_lap_s <= 3:
        return False
    if (whole_number(draft.cells.get("lap", ("", ""))[0]) or 0) > _HIGHEST_LAP:
        return False
    for meaning, share in form.sector_shares.items():
        text = draft.cells.get(meaning, ("", ""))[0]
        found = formats.to_seconds(time_and_marks(text, form.legend)[0], form.sector_units[meaning])
        if text and not is_no_time(text) and found is None:
            return False
        if found is not None and abs(found / seconds - share) > _SHARE_SLACK * share:
            return False
    return True


def _read_number_of_lap(lap: Lap) -> str | None:
    text = lap.draft.cells.get("lap", ("", ""))[0]
    if not text:
        return None
    number = whole_number(text)
    if number is None:
        found = heading(text)
        number = found.number if found.meaning == "lap_n" else whole_number(text.rstrip(".").lstrip("#"))
    if number is not None:
        lap.lap = number
        return None
    marked = _NUMBER_AND_WORD.fullmatch(text)
    if marked and (word := mark_of(marked.group(2))) not in (None, "none"):
        lap.lap = int(marked.group(1))
        lap.marks.append(str(word))
        return None
    mark = mark_of(text)
    if mark in (None, "none"):
        return "the lap number is not a number"
    lap.marks.append(str(mark))
    return None


def _read_sectors(lap: Lap, form: Formats) -> None:
    """Sectors in their places; what is not a time, or longer than the lap, is dropped with a note."""
    numbers = sorted(int(meaning[7:]) for meaning in form.sector_units)
    if not numbers:
        return
    found: list[float | None] = [None] * numbers[-1]
    for number in numbers:
        text, header = lap.draft.cells.get(f"sector_{number}", ("", ""))
        if is_no_time(text):
            continue
        bare, marks, _ = time_and_marks(text, form.legend)
        value = formats.to_seconds(bare, form.sector_units[f"sector_{number}"])
        if form.printed(f"sector_{number}").has_typed_letter(bare):
            lap.cell_faults.append((header, text, TYPED_LETTER))
        elif value is None or marks:
            lap.cell_faults.append((header, text, "not a sector time"))
        elif not 0 < value <= lap.lap_time_s + 0.002:
            lap.cell_faults.append((header, text, OUT_OF_RANGE))
        else:
            found[number - 1] = value
    lap.sector_times_s = own_times(found, lap) if form.cumulative else found


def own_times(splits: list[float | None], lap: Lap) -> list[float | None]:
    """Cumulative splits to each sector's own time; a sector that has no split on one side is null."""
    own: list[float | None] = []
    before: float | None = 0.0
    for number, split in enumerate(splits, 1):
        value = None if split is None or before is None else round(split - before, 6)
        if value is not None and value <= 0:
            header = f"sector {number}"
            text, header = lap.draft.cells.get(f"sector_{number}", ("", header))
            lap.cell_faults.append((header, text, "a split that is not later than the one before"))
            value, split = None, None
        own.append(value)
        before = split
    return own


def _read_measures(lap: Lap, form: Formats) -> None:
    speed = _measure(lap, "top_speed", form.speed, formats.SPEED_LIMITS_KMH)
    lap.top_speed_kmh = None if speed is None else round(speed, 6)
    lap.peak_rpm = _measure(lap, "peak_rpm", form.rpm, formats.RPM_LIMITS)


_SUFFIX = re.compile(r"(.*\d)\s*([^\d\s.,][^\d]*\d?)")


def split_unit(text: str) -> tuple[str, str]:
    """Number and unit of a cell such as ``98.4 km/h``; the unit is empty where there is none."""
    match = _SUFFIX.fullmatch(tidy(text))
    return (match.group(1), match.group(2).strip()) if match else (text, "")


def _measure(lap: Lap, meaning: str, form: formats.NumberFormat, limits: tuple[float, float]) -> float | None:
    from lapdelta.reading.vocabulary import unit_of

    text, header = lap.draft.cells.get(meaning, ("", ""))
    if is_no_time(text):
        return None
    number, suffix = split_unit(text)
    unit = unit_of(suffix) if suffix else None
    allowed = ("km_h", "mph", "m_s") if meaning == "top_speed" else ("rpm",)
    mark = (certain_mark(number) or ".") if form.mark == formats.EACH else form.mark or "."
    value = read_number(number, mark)
    if value is None or (suffix and unit not in allowed):
        lap.cell_faults.append((header, text, "not a number"))
        return None
    factor = (
        formats.KMH_IN[{"km_h": "km/h", "mph": "mph", "m_s": "m/s"}[unit]]
        if unit in ("km_h", "mph", "m_s")
        else form.factor
    )
    value *= factor
    if not limits[0] <= value <= limits[1]:
        lap.cell_faults.append((header, text, "out of range"))
        return None
    return value


def split_date_and_clock(text: str, meaning: str) -> tuple[str, str]:
    """(date text, clock text) of a cell; the missing one is empty. Both empty: neither was found.

    ``meaning`` (date or clock) decides where a cell could be either, such as 10.05.24.
    """
    bare = tidy(text)
    if meaning == "date" and date_readings(bare):
        return bare, ""
    if read_time_of_day(bare) is not None:
        return "", bare
    for match in re.finditer(r"[T\s,]+", bare):
        left, right = bare[: match.start()], bare[match.end() :]
        if date_readings(left) and read_time_of_day(right) is not None:
            return left, right
    return (bare, "") if date_readings(bare) else ("", "")


def _read_when(lap: Lap, form: Formats) -> None:
    said = lap.draft.context.get("date", "")
    if said:
        lap.date = pick_date(said, form.day_order)
    for meaning in ("date", "clock"):
        text, header = lap.draft.cells.get(meaning, ("", ""))
        if is_no_time(text):
            continue
        day, clock = split_date_and_clock(text, meaning)
        if not day and not clock and meaning == "clock" and day_fraction(text) is not None:
            lap.clock = day_fraction(text)
        elif not day and not clock:
            lap.cell_faults.append(
                (header, text, f"not a {'date' if meaning == 'date' else 'local time of day'}")
            )
        else:
            lap.date = pick_date(day, form.day_order) or lap.date if day else lap.date
            lap.clock = read_time_of_day(clock) or lap.clock if clock else lap.clock


def _read_marks(lap: Lap) -> None:
    cells = lap.draft.cells
    for mark in ("out", "in", "pit", "invalid", "first", "valid"):
        if mark not in cells:
            continue
        text, header = cells[mark]
        said = truth_of(text)
        word = mark_of(text)
        if said is None and word == mark:
            said = True
        if said is None and word not in (None, "none") and mark != "valid":
            lap.marks.append(str(word))  # a pit column that says out or in
        elif said is None:
            lap.cell_faults.append((header, text, "neither yes nor no"))
        elif mark == "valid":
            lap.marks += ["invalid"] if text and not said else []
        elif said:
            lap.marks.append(mark)
    for meaning, free in (("status", False), ("notes", True)):
        text, header = cells.get(meaning, ("", ""))
        found = marks_in(text)
        lap.marks += list(found or (marks_within(text) if free else ()))
        if found is None and not free:
            lap.cell_faults.append((header, text, "not a mark we know"))
