"""The setup sheet and the list of events of the invented season, by the canonical column names."""

from sample_sessions.draws import Draws
from sample_sessions.scenario import CLASS, CLUB, ENGINE_TEETH, OURS, REAR_BAR, SEED, Event, Session

SETUP_COLUMNS = (
    "event", "session", "kart", "engine_teeth", "axle_teeth", "tyre_set",
    "pressure_front_left_bar", "pressure_front_right_bar",
    "pressure_rear_left_bar", "pressure_rear_right_bar",
    "track_state", "air_temperature_c", "notes",
)  # fmt: skip
EVENT_COLUMNS = ("event", "date", "track", "direction", "our_kart", "our_driver", "notes")
FRONT_BAR = 0.62
_WARMING_C = 1.1  # a session later in the day


def setup_rows(events: tuple[Event, ...]) -> list[list[str]]:
    """One row an event and session, header first."""
    rows = [list(SETUP_COLUMNS)]
    for event in events:
        for index, session in enumerate(event.sessions):
            rows.append(_setup_row(event, session, index))
    return rows


def _setup_row(event: Event, session: Session, index: int) -> list[str]:
    front, rear = f"{FRONT_BAR:.2f}", f"{session.rear_bar:.2f}"
    day_c = event.track.air_c + Draws(SEED, event.name, "air").normal(3.0)
    air = day_c + _WARMING_C * index - (6.0 if session.wet else 0.0)
    return [
        event.name, session.label, OURS[event.track.name].number, str(ENGINE_TEETH), str(session.axle_teeth),
        session.tyre_set, front, front, rear, rear, "wet" if session.wet else "dry", f"{air:.0f}",
        _note(session),
    ]  # fmt: skip


def _note(session: Session) -> str:
    notes = []
    if session.our_laps is not None:
        notes.append(f"stopped after {session.our_laps} laps, carburettor loose")
    if session.wet:
        notes.append("rain")
    if session.rear_bar != REAR_BAR:
        notes.append("rear pressures up")
    return "; ".join(notes)


def event_rows(events: tuple[Event, ...]) -> list[list[str]]:
    """One row an event, header first."""
    rows = [list(EVENT_COLUMNS)]
    for event in events:
        ours, track = OURS[event.track.name], event.track
        rows.append(
            [event.name, event.name, track.name, track.direction, ours.number, ours.driver, event.story]
        )
    return rows


def origin() -> dict[str, str]:
    """What the truth file says about itself."""
    return {
        "about": "Made up by sample_sessions/make_season.py. No person, club, circuit or lap in it is real.",
        "club": CLUB,
        "class": CLASS,
    }
