"""A finding asked again: the same question of the archive as it is now, and what changed since."""

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from lapdelta.asking.archive_question import ask
from lapdelta.effect.finding import Finding
from lapdelta.errors import QuestionError

if TYPE_CHECKING:
    from lapdelta.archive import Archive

#: Relative; other processors round the last digits another way, and the search for the session variance stops at 1e-8.
SAME_NUMBER = 1e-6
_NUMBERS = (
    "estimate", "standard_error", "low", "high", "dof", "p_value", "half_width", "smallest_margin",
    "chance_better", "chance_worthwhile", "tipping_rate", "lap_noise_share",
)  # fmt: skip
#: Settings that are said in other words, or that only tell how the question was put.
_UNSAID = frozenset({"margin_given", "history_differences", "event"})


@dataclass(frozen=True)
class Repeated:
    """A question asked again.

    Attributes:
        same: whether every number and the verdict came out as before.
        changed: what is no longer as it was, plain sentences; may tell of causes that moved no number.
        finding: the answer now.
    """

    same: bool
    changed: tuple[str, ...]
    finding: Finding

    def to_dict(self) -> dict[str, Any]:
        """``{"same", "changed", "finding"}``."""
        return {"same": self.same, "changed": list(self.changed), "finding": self.finding.to_dict()}


def read_finding(path: Path) -> Finding:
    """A finding as ``lapdelta compare --json`` printed it.

    Raises:
        QuestionError: the file cannot be read, or holds something else.
    """
    mend = "Give a file that was written with: lapdelta compare ... --json > finding.json"
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise QuestionError("The finding cannot be read.", mend, str(path)) from error
    try:
        return Finding.from_json(text)
    except (ValueError, TypeError, AttributeError) as error:
        raise QuestionError(f"That is not a finding{_who_wrote(text)}.", mend, str(path)) from error


def _who_wrote(text: str) -> str:
    """The version of lapdelta that a finding with other keys was written by, where it says so."""
    try:
        values: Any = json.loads(text)
    except ValueError:
        return ""
    version: Any = cast("dict[str, Any]", values).get("version") if isinstance(values, dict) else None
    if not isinstance(version, str):
        return ""
    return f" of this version (it was written by lapdelta {version})"


def repeat(archive: "Archive", old: Finding, *, count: bool = False) -> Repeated:
    """Ask the question of a finding again; asking again does not count as another question of the season.

    Raises:
        QuestionError: the archive no longer holds what was asked about.
    """
    settings = old.settings
    new = ask(
        archive,
        event=settings.get("event"),
        kart=old.kart,
        before=old.before,
        after=old.after,
        measure=old.measure,
        margin=old.margin,
        confidence=old.confidence,
        use_history=bool(settings.get("history_asked", settings.get("history_differences"))),
        count=count,
    )
    moved = _moved(old, new)
    return Repeated(not moved, (*_causes(old, new), *moved), new)


def _causes(old: Finding, new: Finding) -> list[str]:
    """Laps, history, settings and version that are not as they were."""
    out: list[str] = []
    if old.fingerprint != new.fingerprint:
        out.append(
            f"The laps are others: fingerprint {old.fingerprint[:12]} then, {new.fingerprint[:12]} now."
        )
    then, now = (list(f.settings.get("history_differences") or ()) for f in (old, new))
    if len(then) != len(now) or not all(_same(a, b) for a, b in zip(then, now, strict=True)):
        out.append(
            f"The history of this kart is another: {len(then)} neighbouring sessions then, {len(now)} now."
        )
    if old.setup_differences != new.setup_differences:
        out.append("The setup sheet says something else about before and after.")
    for name in sorted({*old.settings, *new.settings} - _UNSAID):
        before, after = old.settings.get(name), new.settings.get(name)
        if before != after:
            out.append(f"The setting {name.replace('_', ' ')} was {before}, now it is {after}.")
    if old.version != new.version:
        out.append(f"Written by lapdelta {old.version}, repeated by lapdelta {new.version}.")
    return out


def _moved(old: Finding, new: Finding) -> list[str]:
    """Numbers, route, verdict and flags that came out otherwise."""
    out: list[str] = []
    if old.verdict != new.verdict:
        out.append(f"The verdict was '{old.verdict}', now it is '{new.verdict}'.")
    for name in _NUMBERS:
        before, after = getattr(old, name), getattr(new, name)
        if not _same(before, after):
            out.append(f"The {name.replace('_', ' ')} was {_say(before)}, now it is {_say(after)}.")
    if old.method != new.method:
        out.append(f"It was computed as '{old.method}', now as '{new.method}'.")
    if old.flags != new.flags:
        words = [", ".join(flags).replace("_", " ") or "none" for flags in (old.flags, new.flags)]
        out.append(f"The flags were: {words[0]}; now: {words[1]}.")
    return out


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=SAME_NUMBER, abs_tol=1e-12)


def _say(number: float | None) -> str:
    return "not known" if number is None else f"{number:.6g}"
