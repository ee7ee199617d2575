"""The truth behind the sample season, as one plain object: ``truth.json``."""

from typing import Any

from sample_sessions import simulate
from sample_sessions.layouts import LAYOUTS
from sample_sessions.response import gearing_s, log_ratio, setup_by_sector_s, setup_s, top_speed_kmh
from sample_sessions.scenario import (
    AWAY,
    ENGINE_TEETH,
    HOME,
    OTHERS,
    OURS,
    PRESSURE_S_PER_BAR,
    REAR_BAR,
    SEED,
    SEEDS_TRIED,
    SHARE_PULLED,
    Event,
    Session,
    Track,
)
from sample_sessions.season import EVENTS, QUESTIONS, Question
from sample_sessions.sheets import origin

_TEETH = range(76, 89)


def truth(files: list[dict[str, Any]]) -> dict[str, Any]:
    """All that was put in: seed, response curves, karts, days, questions with their true shifts, files."""
    return {
        **origin(),
        "seed": SEED,
        "seeds_tried": list(SEEDS_TRIED),
        "signs": "shifts are after minus before; s a lap (negative = quicker), km/h",
        "engine_teeth": ENGINE_TEETH,
        "share_pulled": SHARE_PULLED,
        "pressure": {"s_per_bar": PRESSURE_S_PER_BAR, "around_bar": REAR_BAR, "which": "both rear tyres"},
        "tracks": {track.name: _track(track) for track in (HOME, AWAY)},
        "events": {event.name: _event(event) for event in EVENTS},
        "questions": [_question(question) for question in QUESTIONS],
        "noise": _noise(),
        "files": files,
    }


def _track(track: Track) -> dict[str, Any]:
    return {
        "lap_s": track.lap_s,
        "gearing": {
            "formula": "loss_s = response_s * (ln(axle / engine) - best_log_ratio) ** 2",
            "response_s": track.response_s,
            "best_axle_teeth": track.best_axle_teeth,
            "best_log_ratio": round(log_ratio(track.best_axle_teeth), 6),
            "loss_s_by_axle_teeth": {str(n): round(gearing_s(track, n), 4) for n in _TEETH},
            "top_speed_kmh_by_axle_teeth": {str(n): round(top_speed_kmh(track, n), 3) for n in _TEETH},
            "straight_sector": track.straight_sector + 1,
        },
        "our_kart": _kart_row(OURS[track.name]),
        "other_karts": [_kart_row(kart) for kart in OTHERS[track.name]],
    }


def _kart_row(kart: Any) -> dict[str, Any]:
    return {"kart": kart.number, "offset_s": kart.offset_s, "sigma_s": kart.sigma_s, "tau_s": kart.tau_s}


def _event(event: Event) -> dict[str, Any]:
    return {
        "track": event.track.name,
        "our_kart": OURS[event.track.name].number,
        "evolution": event.evolution,
        "our_own_progress_s_over_the_day": event.progress_s,
        "sessions": [_session(event.track, session) for session in event.sessions],
    }


def _session(track: Track, session: Session) -> dict[str, Any]:
    return {
        "session": session.label,
        "axle_teeth": session.axle_teeth,
        "rear_bar": session.rear_bar,
        "wet": session.wet,
        "track_s": session.track_s,
        "setup_s": round(setup_s(track, session), 4),
    }


def _question(question: Question) -> dict[str, Any]:
    event = next(event for event in EVENTS if event.name == question.event)
    track = event.track
    sessions = {session.label: session for session in event.sessions}
    before, after = sessions[question.before[0]], sessions[question.after[0]]
    parts = zip(setup_by_sector_s(track, after), setup_by_sector_s(track, before), strict=True)
    speeds = top_speed_kmh(track, after.axle_teeth) - top_speed_kmh(track, before.axle_teeth)
    shifts = {"lap_time": round(setup_s(track, after) - setup_s(track, before), 4)}
    shifts |= {f"sector_{q}": round(new - old, 4) for q, (new, old) in enumerate(parts, start=1)}
    shifts |= {"top_speed": round(speeds, 3)}
    return {
        "event": event.name,
        "kart": OURS[track.name].number,
        "before": list(question.before),
        "after": list(question.after),
        "about": question.about,
        "demo": question.demo,
        "measures": sorted({"lap_time", *({"top_speed"} & set(LAYOUTS[event.layout].holds))}),
        "expected_verdict": question.verdicts,
        "true_shift": shifts,
    }


def _noise() -> dict[str, Any]:
    return {
        "warm_up_s_by_lap": {str(lap): loss for lap, loss in simulate.WARM_UP_S.items()},
        "mistake_chance_a_lap": simulate.MISTAKE_CHANCE,
        "mistake_mean_s": simulate.MISTAKE_S,
        "pass_chance_a_sector": simulate.PASS_CHANCE,
        "pass_chance_per_s_gained": simulate.PASS_CHANCE_PER_S,
        "pass_loss_mean_s": simulate.PASS_LOSS_S,
        "follow_s": simulate.FOLLOW_MS / 1000,
        "top_speed_noise_kmh": simulate.SPEED_NOISE_KMH,
        "top_speed_tau_kmh": simulate.SPEED_TAU_KMH,
        "top_speed_wind_kmh": simulate.WIND_KMH,
        "tow_mean_kmh": simulate.TOW_KMH,
    }
