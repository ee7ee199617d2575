"""Why the verdict is what it is, and what would settle it, in plain sentences."""

import numpy as np

from lapdelta.effect.arrays import Floats
from lapdelta.effect.checks import Evidence
from lapdelta.effect.contrast import contrasts
from lapdelta.effect.day import batch_of
from lapdelta.effect.source import about_lap_noise, why_this_pace

_WHY = {
    "interleaved": "Old and new setting alternate: all karts are fitted together, net of the track.",
    "blocked": "One setting first, then the other: our change is held against the other karts' same change.",
    "alone with trend": "No comparable other karts: our own sessions are fitted with a trend of their own.",
    "alone with history": "No comparable other karts: our own sessions are judged by this kart's history.",
    "alone single case": "No comparable other karts: the two sessions at the change against our own history.",
}  # fmt: skip
_CURES = (
    ("three usable laps", "Run four laps or more a session, or put back laps set aside by mistake."),
    ("named both before and after", "Name each session once; split it where the setup was changed."),
    ("track state", "Repeat the old setting in the present track state."),
    ("other kart", "Run with three comparable other karts or more, or go old, new, new, old."),
    ("history", "Keep the laps and setup sheets of other days: they become this kart's history."),
    ("degrees of freedom", "Run more sessions on each setting, or with more other karts."),
    ("too few own sessions", "Run five sessions or more, old and new setting in turn."),
    ("nothing scatters", "Check that the lap times are as printed, not typed or rounded."),
    ("sectors", "Ask about the lap time instead."),
)  # fmt: skip

#: Standard errors to each side of a 95 % interval with many degrees of freedom.
ABOUT_95 = 1.96
_HISTORY_LEFT_OUT = "The history of this kart says it wanders less than this day shows, so it was left out."

_STEPS_USED = (
    "Few other karts ran: what they did between the day's other sessions, too, says how far chance goes."
)
_STEPS_LEFT_OUT = (
    "The few other karts moved more here than between the day's other sessions, "
    "so those sessions were left out."
)


def reasons_of(evidence: Evidence) -> tuple[str, ...]:
    """Sentences, the decisive one first."""
    shift = evidence.shift
    if not shift.told:
        cures = [cure for word, cure in _CURES if word in shift.reason][:2]
        left_out = (_HISTORY_LEFT_OUT,) if shift.history_left_out else ()
        return (_sentence(shift.reason), *left_out, *cures)
    out = [_WHY[shift.route]]
    if evidence.measure.name == "lap_time" or evidence.measure.sector:
        out.append(why_this_pace(evidence.day.cube, evidence.source))
    out += _about_sessions(evidence)
    moved, total = evidence.moved_as_much
    if total:
        out.append(f"{moved} of {total} other karts moved as much without a known change.")
    if shift.history_left_out:
        out.append(_HISTORY_LEFT_OUT)
    if shift.steps_used:
        out.append(_STEPS_USED)
    if shift.steps_left_out:
        out.append(_STEPS_LEFT_OUT)
    if np.isfinite(shift.lap_noise_share):
        out.append(about_lap_noise(shift.lap_noise_share))
    if evidence.changed_karts:
        names = ", ".join(evidence.changed_karts)
        out.append(f"Other karts known to have changed count as new karts from then on: {names}.")
    if evidence.judged.verdict == "not settled":
        out += _what_would_settle(evidence)
    return tuple(out)


def _sentence(reason: str) -> str:
    return reason[:1].upper() + reason[1:] + "."


def _about_sessions(evidence: Evidence) -> list[str]:
    state, sessions = evidence.prepared.state, evidence.day.sessions
    out: list[str] = []
    left = [name for name, gone in zip(sessions, state.left_out, strict=True) if gone]
    doubtful = [name for name, odd in zip(sessions, state.doubtful, strict=True) if odd]
    if left:
        out.append(f"Left out, more than 2 % away from both neighbours: {', '.join(left)}.")
    if doubtful:
        out.append(f"More than 2 % away from the only neighbour, kept with a doubt: {', '.join(doubtful)}.")
    apart = int((~evidence.prepared.comparable).sum())
    if apart:
        karts = "1 other kart is" if apart == 1 else f"{apart} other karts are"
        out.append(f"{karts} more than 5 % away from our pace, so not compared.")
    return out


def _what_would_settle(evidence: Evidence) -> list[str]:
    """Half-width, the smallest margin, and what an old-new-new-old day with these karts would leave."""
    unit, judged = evidence.measure.unit, evidence.judged
    half, smallest = judged.half_width or 0.0, judged.smallest_margin or 0.0
    digits = 2 if unit == "s" else 1
    out = [
        f"The range reaches {half:.{digits}f} {unit} to each side; what can be ruled out is a change of more"
        f" than {smallest:.{digits}f} {unit} either way."
    ]
    spread = session_spread(evidence)
    if spread is not None:
        reach = ABOUT_95 * spread * np.sqrt(1 + 1 / max(evidence.shift.others, 1))
        out.append(
            "With these karts a day of four sessions, old, new, new, old, leaves a range of about"
            f" {reach:.{digits}f} {unit} to each side, three such days together"
            f" {reach / np.sqrt(3):.{digits}f} {unit}."
        )
    return out


def session_spread(evidence: Evidence) -> float | None:
    """s_u: how far a session of one kart strays, from the day's other karts; None with fewer than three.

    s_u^2 = mean of (z_k - zbar)^2/f_k x n/(n-1), in the measure's unit.
    """
    batch = batch_of(evidence.day, evidence.prepared.cells, evidence.prepared.used)
    found = contrasts(batch.pace, batch.variance, batch.design)
    valid = np.isfinite(found.z[0, 1:])
    n = int(valid.sum())
    if n < 3:
        return None
    z, size = found.z[0, 1:][valid], found.size[0, 1:][valid]
    scatter: Floats = (z - z.mean()) ** 2 / size
    return float(np.sqrt(scatter.mean() * n / (n - 1)))
