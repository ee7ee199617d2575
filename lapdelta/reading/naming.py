"""Session, kart and number of every lap: printed, else said by a title, else the file's name, else asked."""

import re
from datetime import date

from lapdelta.reading.columns import showing
from lapdelta.reading.drafts import Draft
from lapdelta.reading.laps import Lap
from lapdelta.reading.layouts import kart_of_header
from lapdelta.reading.model import Question
from lapdelta.reading.structure import DOUBT, REST
from lapdelta.reading.vocabulary import heading
from lapdelta.reading.work import Careful

_KART_IN_NAME = re.compile(
    r"(?:^|[^a-z])(?:kart|no|nr)[\s._#-]{0,2}(\d{1,4}[a-z]?)(?![a-z0-9])", re.IGNORECASE
)
_WAITS_FOR_KART = "waits for the answer which kart this is"
#: The answer what the titles above the blocks name has the key of a column with this header.
TITLE = "title"


def name_laps(work: Careful) -> None:
    """Give every lap its session, kart and number; laps without a kart wait for an answer."""
    known = _Known(work, kart_in_name(work.source.stem))
    unnamed = False
    for outcome in work.outcomes.values():
        kept: list[Lap] = []
        for lap in outcome.laps:
            fault = _name_lap(known, lap) or known.doubted(lap)
            if fault is None:
                kept.append(lap)
            else:
                unnamed = unnamed or fault == _WAITS_FOR_KART
                outcome.faults.append((lap.column, lap.draft.cells["lap_time"][0], fault))
        outcome.laps = kept
    if kart := known.below.get("kart"):
        work.notes.append(f"Kart {kart!r} is named below the laps only.")
    if session := known.below.get("session"):
        work.notes.append(f"Session {session!r} is named below the laps only.")
    if unnamed:
        _ask_kart(known)
    elif known.title_is == "session" and any(draft.context.get(TITLE) for draft in known.drafts):
        work.notes.append("The title above each block is taken for its session.")
    _count_laps(known)


def kart_in_name(stem: str) -> str:
    """The kart that the name of a file says, or nothing."""
    found = _KART_IN_NAME.search(stem)
    return found.group(1) if found else ""


class _Known:
    """What the whole file tells of karts and sessions."""

    def __init__(self, work: Careful, kart_in_name: str) -> None:
        """Look through all drafts once."""
        self.work, self.answers = work, work.answers
        self.drafts = [draft for layout in work.layouts for draft in layout.drafts]
        self.kart = kart_in_name or work.answers.get("kart", "")
        self.printed = {
            meaning
            for meaning in ("kart", "session", "driver")
            if any(draft.cells.get(meaning, ("", ""))[0] for draft in self.drafts)
        }
        said = {key for draft in self.drafts for key in draft.context}
        self.below = {
            key: next(iter(found))
            for key, found in work.structure.below.items()
            if len(found) == 1 and key in ("kart", "session") and key not in self.printed | said
        }
        self.kart = self.kart or self.below.get("kart", "")
        titles = {_title(lap.draft) for outcome in work.outcomes.values() for lap in outcome.laps} - {""}
        self.titles = sorted(titles) if len(titles) > 1 else []
        self.rests: dict[str, set[str]] = {}
        for draft in self.drafts:
            if rest := draft.context.get(REST):
                self.rests.setdefault(draft.context.get("kart", ""), set()).add(rest)
        self.last: dict[tuple[str, str], tuple[int, str, bool]] = {}
        self.title_is = work.answers.get(f"column:{TITLE}")
        if self.titles and self.title_is is None and {"kart"} & (self.printed | said):
            self.title_is = "ignore" if "session" in self.printed | said else "session"

    def doubted(self, lap: Lap) -> str | None:
        """Why a lap is not believed: its numbers start again where a title of its block may be missing."""
        since = lap.draft.context.get(DOUBT, "")
        key = (lap.session, lap.kart)
        last, doubt, sure = self.last.get(key, (0, "", True))
        printed = lap.draft.cells
        by_title = any(
            not printed.get(m, ("", ""))[0] and lap.draft.context.get(m) for m in ("kart", "session")
        )
        if since and since != doubt:
            sure = not by_title or lap.lap is None or lap.lap > last
        elif not since:
            sure = True
        self.last[key] = (lap.lap or last, since, sure)
        return None if sure else "the title of this block may be missing"


def _title(draft: Draft) -> str:
    """The words above a block that name nothing we know, else the driver named there."""
    title = draft.context.get(TITLE, "")
    return title if title and heading(title).meaning is None else draft.context.get("driver", "")


def _label(known: _Known, draft: Draft, meaning: str) -> str:
    """The session or kart of a draft as printed or said by a title; empty if by neither."""
    told = draft.cells.get(meaning, ("", ""))[0] or draft.context.get(meaning, "")
    if told or known.title_is != meaning or not known.titles:
        return told
    if meaning == "session":
        return draft.context.get(TITLE, "")
    found = kart_of_header(_title(draft))
    return found[0] if found else _title(draft)


def _session(known: _Known, draft: Draft) -> str:
    told = _label(known, draft, "session") or known.answers.get("session", "")
    rest, kart = draft.context.get(REST, ""), draft.context.get("kart", "")
    if not told and rest and len(known.rests[kart]) > 1:
        return rest  # the words beside one kart tell its blocks apart
    return told or known.below.get("session", "") or known.work.source.stem


def _name_lap(known: _Known, lap: Lap) -> str | None:
    printed = lap.draft.cells
    lap.session = _session(known, lap.draft)
    for meaning, fault in (("kart", "no kart number"), ("session", "no session")):
        if meaning in printed and not printed[meaning][0] and meaning in known.printed:
            return fault
    unsettled = bool(known.titles) and known.title_is is None
    lap.kart = _label(known, lap.draft, "kart") or ("" if unsettled else known.kart)
    if lap.date is None and "date" in known.answers:
        lap.date = date.fromisoformat(known.answers["date"])
    return None if lap.kart else _WAITS_FOR_KART


def _ask_kart(known: _Known) -> None:
    work = known.work
    drivers = {draft.cells.get("driver", ("", ""))[0] for draft in known.drafts} - {""}
    column = next((c for layout in work.layouts for c in layout.columns if c.meaning == "driver"), None)
    if len(drivers) > 1 and column is not None:
        text = (
            f"The file prints no kart number but several drivers; shall {column.header!r} stand for the kart?"
        )
        question = Question(f"column:{column.header}", showing(text, (column, sorted(drivers))), ("kart",))
    elif known.titles and known.title_is is None:
        shown = ", ".join(repr(title) for title in known.titles[:3])
        text = f"The blocks of laps are headed {shown}; what do these titles name?"
        question = Question(f"column:{TITLE}", text, ("kart", "session", "ignore"))
    else:
        question = Question("kart", "Which kart (number or code) are these laps of?")
    work.questions.setdefault(question.key, question)


def _count_laps(known: _Known) -> None:
    """Number the laps of a table that prints no lap numbers; rows without a time count too."""
    for layout in known.work.layouts:
        if any(draft.cells.get("lap", ("", ""))[0] for draft in layout.drafts):
            continue
        by_draft = {
            id(lap.draft): lap
            for line in {draft.record.line for draft in layout.drafts}
            for lap in known.work.outcomes[line].laps
        }
        counts: dict[tuple[str, str], int] = {}
        for draft in layout.drafts:
            lap = by_draft.get(id(draft))
            key = (lap.session, lap.kart) if lap else (_session(known, draft), _label(known, draft, "kart"))
            counts[key] = counts.get(key, 0) + 1
            if lap:
                lap.lap = counts[key]
