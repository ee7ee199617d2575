"""The eight practice days of the invented season and the questions asked of them, as data."""

from dataclasses import dataclass

from sample_sessions.scenario import AWAY, HOME, Event, day

_RUBBER = "rubbers in, most of it before noon"
_MOST = ("3", "5B", "14", "23", "38", "44", "52", "66C", "71", "12A")

EVENTS = (
    Event(
        "2025-04-13", HOME, "09:10:00", 38,
        day("84 84 84 82 82 82", (1.30, 0.85, 0.58, 0.42, 0.32, 0.27)),
        "english_day", ("52", "66C"), -0.30, _RUBBER,
        "First day of the year, three sessions on the winter sprocket, then two teeth fewer.",
    ),
    Event(
        "2025-05-18", HOME, "09:00:00", 36,
        day("84 80 80 84 80 84 84 80", (0.55, 0.35, 0.28, 0.33, 0.45, 0.62, 0.80, 0.92)),
        "german_day", ("71",), -0.20, "rubbers in, then slower hour by hour in the heat",
        "Eight sessions for one question: four teeth fewer on the axle, swapped back and forth.",
    ),
    Event(
        "2025-06-15", HOME, "10:00:00", 42,
        day("82 81 81 82", (0.62, 0.55, 0.05, 0.02)),
        "french_session", ("9", "66C"), -0.10, "a sudden step of half a second when the sun came out",
        "One tooth, old - new - new - old.",
    ),
    Event(
        "2025-06-29", AWAY, "09:30:00", 40,
        day("80 83 80 83 80 83", (0.95, 0.70, 0.52, 0.40, 0.33, 0.30)),
        "wide_session", ("33",), -0.25, _RUBBER,
        "First time away: three teeth more, every second session.",
    ),
    Event(
        "2025-07-20", AWAY, "09:20:00", 40,
        day("83 84 84 83 83 84", (0.50, 0.38, 0.30, 6.20, 0.90, 0.45), P4={"wet": True}),
        "unit_row_day", ("8",), -0.10, "a shower before P4, dry line back in P5",
        "One tooth more, with a wet session in the middle of it.",
    ),
    Event(
        "2025-08-17", HOME, "09:00:00", 40,
        day(
            "82 80 80 80 80 80", (0.70, 0.48, 0.40, 0.36, 0.36, 0.40),
            P1={"our_laps": 2}, P4={"rear_bar": 0.68}, P5={"rear_bar": 0.68},
        ),
        "german_summary_day", ("14", "38"), -0.05, "rubbers in, then as good as steady",
        "Stopped after two laps of P1 on 82 teeth (loose carburettor), then 80; rear pressures in P4 and P5.",
    ),
    Event(
        "2025-08-30", HOME, "17:00:00", 35,
        day("80 80 79 79", (0.30, 0.22, 0.10, 0.00), P3={"tyre_set": "B"}, P4={"tyre_set": "B"}),
        "millisecond_day", (*_MOST, "18", "21"), -0.05, "quicker as the evening cools",
        "A quiet evening: only two other karts, one tooth fewer and other tyres at the same time.",
    ),
    Event(
        "2025-09-14", HOME, "09:30:00", 40,
        day("80 78 78 80 80 78", (0.40, 0.30, 0.24, 0.60, 0.36, 0.26)),
        "spanish_block_session", ("3", "23", "66C"), -0.05, "dust blown on the track before P4",
        "How far can it go? Two teeth fewer than what worked.",
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Question:
    """A comparison the season allows. ``verdicts``: what must come out, by measure, where it is certain."""

    event: str
    before: tuple[str, ...]
    after: tuple[str, ...]
    about: str
    verdicts: dict[str, str]
    demo: bool = False


def _all(*labels: int) -> tuple[str, ...]:
    return tuple(f"P{label}" for label in labels)


NONE = "cannot be told"
QUESTIONS = (
    Question("2025-04-13", _all(1, 2, 3), _all(4, 5, 6), "two teeth fewer, blocked; the driver learns", {}),
    Question(
        "2025-05-18", _all(1, 4, 6, 7), _all(2, 3, 5, 8), "four teeth fewer, eight sessions",
        {"lap_time": "faster", "top_speed": "faster"}, demo=True,
    ),
    Question(
        "2025-06-15", _all(1, 4), _all(2, 3), "one tooth fewer, four sessions",
        {"lap_time": "not settled"}, demo=True,
    ),
    Question("2025-06-29", _all(1, 3, 5), _all(2, 4, 6), "three teeth more, every second session", {}),
    Question("2025-07-20", _all(1, 4, 5), _all(2, 3, 6), "one tooth more, one session wet", {}),
    Question(
        "2025-08-17", _all(1), _all(2, 3, 6), "two teeth fewer, but two laps only on the old ones",
        {"lap_time": NONE, "top_speed": NONE}, demo=True,
    ),
    Question("2025-08-17", _all(2, 3, 6), _all(4, 5), "0.06 bar more in both rear tyres", {}),
    Question("2025-08-30", _all(1, 2), _all(3, 4), "one tooth fewer and other tyres, two other karts", {}),
    Question("2025-09-14", _all(1, 4, 5), _all(2, 3, 6), "two teeth fewer than what worked", {}),
)  # fmt: skip
