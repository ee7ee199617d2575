"""What the invented settings are truly worth: lap time, sectors, top speed and peak rpm."""

import math

from sample_sessions.scenario import (
    ENGINE_TEETH,
    PRESSURE_S_PER_BAR,
    REAR_BAR,
    SHARE_PULLED,
    TYRE_CIRCUMFERENCE_M,
    TYRE_SLIP,
    Session,
    Track,
)

_REFERENCE_AXLE = 80  # teeth that Track.top_speed_kmh is stated for


def log_ratio(axle_teeth: float) -> float:
    """ln(axle teeth / engine teeth)."""
    return math.log(axle_teeth / ENGINE_TEETH)


def gearing_s(track: Track, axle_teeth: float) -> float:
    """Loss in s a lap against the best ratio: a parabola in ln ratio."""
    return track.response_s * (log_ratio(axle_teeth) - log_ratio(track.best_axle_teeth)) ** 2


def setup_s(track: Track, session: Session) -> float:
    """All that our settings cost in that session, s a lap."""
    return gearing_s(track, session.axle_teeth) + PRESSURE_S_PER_BAR * (session.rear_bar - REAR_BAR)


def setup_by_sector_s(track: Track, session: Session) -> list[float]:
    """The same by sector; the sectors add up to ``setup_s``.

    A shorter gear costs time on the straight; the rest of the shift falls on the other sectors by length.
    """
    step = log_ratio(session.axle_teeth) - log_ratio(track.best_axle_teeth)
    straight = track.straight_s * step
    rest = setup_s(track, session) - straight
    others = 1.0 - track.sector_shares[track.straight_sector]
    return [
        straight if q == track.straight_sector else rest * share / others
        for q, share in enumerate(track.sector_shares)
    ]


def top_speed_kmh(track: Track, axle_teeth: float) -> float:
    """Top speed without a tow: the share SHARE_PULLED of the ratio change arrives."""
    step = log_ratio(axle_teeth) - log_ratio(_REFERENCE_AXLE)
    return track.top_speed_kmh * math.exp(-SHARE_PULLED * step)


def peak_rpm(speed_kmh: float, axle_teeth: float) -> float:
    """Engine speed in 1/min at that road speed: wheel revolutions times ratio, with slip."""
    wheel = speed_kmh / 3.6 * 60.0 / TYRE_CIRCUMFERENCE_M / (1.0 - TYRE_SLIP)
    return wheel * axle_teeth / ENGINE_TEETH
