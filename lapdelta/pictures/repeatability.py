"""How well our kart repeated itself with nothing changed, event by event, beside the other karts."""

from typing import Any, Final

import altair as alt

from lapdelta.effect.season_finding import SeasonFinding
from lapdelta.pictures.style import BLUE, WIDTH, finish, grey, short

_HEIGHT_PX: Final = 200


def repeatability(finding: SeasonFinding, *, dark: bool = False, width: int = WIDTH) -> Any:
    """Standard deviation of a session by event, the measure's unit; an Altair layer chart.

    Raises:
        ValueError: no event tells anything.
    """
    events = [
        row for row in finding.repeatability["events"] if row["ours"] is not None or row["others"] is not None
    ]
    events.sort(key=lambda row: (row["date"] or "", row["event"]))
    if not events:
        raise ValueError("no event tells how well a kart repeats itself")
    order = [short(row["event"], 12) for row in events]
    words = {"ours": "our kart", "others": "the other karts"}
    rows = [
        {"event": name, "kind": words[who], "y": row[who]}
        for name, row in zip(order, events, strict=True)
        for who in words
        if row[who] is not None
    ]
    x = alt.X(
        "event:N",
        sort=order,
        scale=alt.Scale(domain=order),
        axis=alt.Axis(title=None, labelAngle=-40, grid=False),
    )
    title_y = f"session to session, {finding.unit}"
    y = alt.Y("y:Q", scale=alt.Scale(zero=True), axis=alt.Axis(title=title_y, tickCount=5))
    kinds = list(words.values())
    legend = alt.Legend(direction="horizontal", columns=2)
    mark = alt.Chart(alt.Data(values=rows)).mark_point(filled=True, size=110, opacity=1)
    marks = mark.encode(
        x=x, y=y, shape=alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=["circle", "square"]), legend=legend),
        color=alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=[BLUE, grey(dark)]), legend=legend),
    )  # fmt: skip
    title = _title(finding)
    note = "Standard deviation of a session's pace, lap noise included, from neighbouring sessions without a change."
    alt_text = f"Points by event, {len(events)} events. {title}."
    return finish(
        alt.layer(marks), title=title, note=note, alt_text=alt_text, width=width, height=_HEIGHT_PX, dark=dark
    )


def _title(finding: SeasonFinding) -> str:
    ours, others = finding.repeatability["ours"], finding.repeatability["others"]
    if ours is None:
        return "How well our kart repeats itself cannot be told"
    size = f"{ours['session_sd']:.2f} {finding.unit}"
    beside = f", the other karts by {others['session_sd']:.2f}" if others else ""
    return f"With nothing changed our sessions differ by {size}{beside}"
