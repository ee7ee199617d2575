"""What could spoil the answer, looked at one by one: passed, failed, or not possible; and the flags."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from lapdelta.effect.arrays import SLOW
from lapdelta.effect.day import Day, Prepared
from lapdelta.effect.design import AFTER, BEFORE
from lapdelta.effect.finding import FLAGS
from lapdelta.effect.fitted import say_differences
from lapdelta.effect.history import History
from lapdelta.effect.measures import Measure
from lapdelta.effect.pace import lap_noise
from lapdelta.effect.routes import FEW_DOF
from lapdelta.effect.sharp import LAPS, SECTORS_AND_CLOCKS, Source
from lapdelta.effect.shift import Shift
from lapdelta.effect.source import why_this_pace
from lapdelta.effect.verdict import Judgement

Check = tuple[str, bool | None, str]

TRAFFIC_POINTS = 0.20  # shares of slow laps further apart than this are other traffic
CONSISTENCY_S = 0.03
TOO_FEW_OTHERS = 2  # comparable karts, or fewer: then they may be why there is no answer
ERRATIC = 2.0  # our laps scatter twice as much as the other karts' do
PLACEBO_SHARE = 0.2  # shown, not decisive


@dataclass(frozen=True)
class Evidence:
    """Everything the checks look at."""

    day: Day
    prepared: Prepared
    measure: Measure
    shift: Shift
    judged: Judgement
    companion: float | None
    from_laps: float | None
    placebo: tuple[dict[str, Any], ...]
    choices: tuple[dict[str, Any], ...]
    setup_differences: tuple[dict[str, Any], ...] | None
    bundle: bool
    changed_karts: tuple[str, ...]
    history: History

    @property
    def source(self) -> Source:
        """What the pace was taken from: of sharp.SOURCES."""
        sharp = self.prepared.sharp
        return LAPS if sharp is None else sharp.source

    @property
    def traffic_shares(self) -> tuple[float, float] | None:
        """Share of our stretches that met traffic, before and after; None without clocks."""
        sharp = self.prepared.sharp
        if sharp is None or sharp.traffic is None:
            return None
        shares: list[float] = []
        for level in (BEFORE, AFTER):
            sessions = (self.day.design.level == level) & self.prepared.used[0]
            laps = sharp.cells.laps[0][sessions]
            if not laps.sum():
                return None
            shares.append(float((sharp.traffic[0][sessions] * laps).sum() / laps.sum()))
        return shares[0], shares[1]

    @property
    def slow_shares(self) -> tuple[float, float] | None:
        """Share of our usable laps set aside as slow, before and after; None where a side has no laps."""
        usable, slow = self.day.cube.usable[0], self.prepared.screened.reason[0] == SLOW
        shares: list[float] = []
        for level in (BEFORE, AFTER):
            sessions = (self.day.design.level == level) & self.prepared.used[0]
            count = int(usable[sessions].sum())
            if not count:
                return None
            shares.append(float(slow[sessions].sum()) / count)
        return shares[0], shares[1]

    @property
    def traffic_differed(self) -> bool:
        """Whether those shares differ by more than 20 points: of traffic met if clocks show it, else of slow laps."""
        shares = self.traffic_shares or self.slow_shares
        return shares is not None and abs(shares[1] - shares[0]) > TRAFFIC_POINTS

    @property
    def part_is_consistency(self) -> bool:
        """Whether the Huber companion moved more than 0.03 s away from the pace from laps."""
        if self.companion is None or self.from_laps is None:
            return False
        return abs(self.companion - self.from_laps) > CONSISTENCY_S

    @property
    def moved_as_much(self) -> tuple[int, int]:
        """Other karts that moved at least as far as ours, and how many there are."""
        others = [abs(row["shift"]) for row in self.placebo if not row["ours"]]
        return sum(move >= abs(self.shift.estimate) for move in others), len(others)


def flags_of(evidence: Evidence) -> tuple[str, ...]:
    """Flags of the closed list that apply, in its order."""
    shift, state = evidence.shift, evidence.prepared.state
    raised = {
        "less_than_worthwhile": evidence.judged.less_than_worthwhile,
        "bundle": evidence.bundle,
        "traffic_differed": evidence.traffic_differed and evidence.traffic_shares is None,
        "part_is_consistency": evidence.part_is_consistency,
        "few_other_karts": shift.told and shift.dof < FEW_DOF,
        "rests_on_history": shift.told and shift.history_used,
        "history_left_out": shift.history_left_out,
        "rests_on_other_steps": shift.told and shift.steps_used,
        "own_progress": shift.told and shift.route in ("blocked", "alone single case"),
        "session_left_out": bool(state.left_out.any()),
        "track_state_doubtful": bool(state.doubtful.any()),
    }
    return tuple(flag for flag in FLAGS if raised.get(flag, False))


def all_checks(evidence: Evidence) -> tuple[Check, ...]:
    """Every check with its sentence; None = not possible with these laps."""
    found = [
        _pace(evidence),
        _order(evidence),
        _others(evidence),
        _traffic(evidence),
        _consistency(evidence),
        _erratic(evidence),
    ]
    found += [_track(evidence), _placebo(evidence), _sheet(evidence), _history(evidence), _choices(evidence)]
    return tuple(found)


def _pace(evidence: Evidence) -> Check:
    """The sharpest pace passes; a blunter one is what the file allows, not a fault."""
    if evidence.measure.name != "lap_time" and not evidence.measure.sector:
        return "pace", None, "Clocks and sectors sharpen the lap time and the sectors only."
    source = evidence.source
    return "pace", True if source == SECTORS_AND_CLOCKS else None, why_this_pace(evidence.day.cube, source)


def _order(evidence: Evidence) -> Check:
    route = evidence.shift.route
    if route in ("interleaved", "alone with trend", "alone with history"):
        return "order", True, "Old and new setting alternate, so the driver's own progress cancels out."
    if route in ("blocked", "alone single case"):
        return (
            "order",
            False,
            "All of one setting came first, so the driver's own progress is part of the answer.",
        )
    return "order", None, "No answer, so the order of the sessions does not matter yet."


def _others(evidence: Evidence) -> Check:
    shift, total = evidence.shift, len(evidence.day.karts) - 1
    if not shift.told and np.count_nonzero(evidence.prepared.comparable[1:]) > TOO_FEW_OTHERS:
        return "other karts", None, "No answer, so nothing was compared with the other karts."
    if shift.others < 2:
        karts = "One other kart" if total == 1 else f"{total or 'No'} other karts"
        return "other karts", None, f"{karts} on track: too few comparable ones to judge by."
    enough = shift.dof >= FEW_DOF
    text = f"{shift.others} of {total} other karts were close enough in pace and ran in these sessions"
    return "other karts", enough, text + ("." if enough else ", which is few: the interval is wide for it.")


def _traffic(evidence: Evidence) -> Check:
    met, slow = evidence.traffic_shares, evidence.slow_shares
    shares = met or slow
    if shares is None:
        return "traffic", None, "One side has no usable laps, so traffic cannot be compared."
    before, after = (round(100 * share) for share in shares)
    text = (
        f"Traffic met: {before} % of our way before, {after} % after"
        if met
        else (f"Laps far slower than the others: {before} % before, {after} % after")
    )
    if not evidence.traffic_differed:
        return "traffic", True, f"{text}."
    if met:
        return "traffic", True, f"{text}. Traffic differed; allowed for, as the clocks show it."
    return "traffic", False, f"{text}. Traffic differed; not allowed for: part of the shift may come from it."


def _consistency(evidence: Evidence) -> Check:
    if evidence.companion is None or evidence.from_laps is None:
        if evidence.measure.name == "lap_time":
            return "consistency", None, "No answer, so the quickest laps and all laps cannot be compared."
        return "consistency", None, "The second way to take the pace is there for whole laps only."
    text = (
        f"All laps at speed give {evidence.companion:+.3f} s, the quickest ones {evidence.from_laps:+.3f} s"
    )
    if evidence.part_is_consistency:
        return "consistency", False, f"{text}: part of the change is consistency."
    return "consistency", True, f"{text}, much the same."


def _erratic(evidence: Evidence) -> Check:
    sigma = lap_noise(evidence.prepared.screened.time_s, evidence.prepared.screened.kept)
    others = sigma[1:][evidence.prepared.comparable[1:]]
    if not len(others):
        return "steadiness", None, "There is no comparable other kart to compare our steadiness with."
    usual = float(np.median(others))
    text = f"Our clean laps scatter by {sigma[0]:.2f} s, the other karts' by {usual:.2f} s"
    if sigma[0] > ERRATIC * usual:
        return (
            "steadiness",
            False,
            f"{text}. A driver that erratic is called wrongly more often than 1 in 20.",
        )
    return "steadiness", True, f"{text}."


def _track(evidence: Evidence) -> Check:
    state, sessions = evidence.prepared.state, evidence.day.sessions
    if not np.isfinite(state.terms).any():
        return (
            "track state",
            None,
            "Without two comparable other karts the track cannot be seen apart from our kart.",
        )
    odd = [name for name, out in zip(sessions, state.left_out | state.doubtful, strict=True) if out]
    if not odd:
        return "track state", True, "No session stands out by more than 2 % from its neighbours."
    return (
        "track state",
        False,
        f"{', '.join(odd)}: more than 2 % away from the neighbouring sessions, as in rain.",
    )


def _placebo(evidence: Evidence) -> Check:
    moved, total = evidence.moved_as_much
    if total and not evidence.shift.told:
        return "placebo", None, "No answer, so there is nothing to hold against the other karts' shifts."
    if not total:
        return "placebo", None, "There are no other karts' shifts to hold ours against."
    text = f"{moved} of {total} other karts moved as much without a known change."
    return "placebo", moved <= PLACEBO_SHARE * total, text


def _sheet(evidence: Evidence) -> Check:
    rows = evidence.setup_differences
    if rows is None:
        return "setup sheet", None, "No setup sheet was given, so what else changed is not known."
    passed, text = say_differences([str(row["item"]) for row in rows], evidence.bundle)
    return "setup sheet", passed, text


def _history(evidence: Evidence) -> Check:
    shift, count = evidence.shift, len(evidence.history.raw)
    if shift.history_left_out:
        return (
            "history",
            False,
            "This day scatters more than this kart's history says, so the history was left out.",
        )
    if shift.history_used:
        return "history", True, f"{count} neighbouring sessions of other days say how much this kart wanders."
    return "history", None, "No history of this kart was used."


def _choices(evidence: Evidence) -> Check:
    verdicts = [row["verdict"] for row in evidence.choices]
    if not evidence.shift.told or not verdicts:
        return "choices", None, "No answer, so no choice can move it."
    other = [row for row in evidence.choices if row["verdict"] != verdicts[0]]
    if not other:
        return (
            "choices",
            True,
            f"The verdict stays the same with each of {len(verdicts) - 1} choices changed.",
        )
    first = f"{other[0]['choice']}: {other[0]['setting']}"
    give = "gives" if len(other) == 1 else "give"
    text = f"{len(other)} of {len(verdicts) - 1} changed choices {give} another verdict, first: {first}."
    return "choices", False, text
