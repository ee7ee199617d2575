"""How well our kart repeated itself with nothing changed, event by event, beside the other karts."""

from typing import Any, Final

import altair as alt

from lapdelta.effect.season_finding import SeasonFinding
from lapdelta.pictures.style import WIDTH, finish, grey, ink, labels
from lapdelta.words import amount, number_text, phrase, unit_text

_HEIGHT_PX: Final = 200


def repeatability(
    finding: SeasonFinding, *, dark: bool = False, language: str = "en", width: int = WIDTH
) -> Any:
    """Standard deviation of a session by event, the measure's unit; an Altair layer chart.

    Raises:
        ValueError: no event tells anything.
    """
    events = [
        row for row in finding.repeatability["events"] if row["ours"] is not None or row["others"] is not None
    ]
    events.sort(key=lambda row: (row["date"] or row["event"], row["event"]))
    if not events:
        raise ValueError("no event tells how well a kart repeats itself")
    order = labels([row["event"] for row in events], 12)
    words = {who: phrase(f"repeat.{who}", language) for who in ("ours", "others")}
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
    title_y = phrase("repeat.axis", language, unit=unit_text(finding.measure, language))
    y = alt.Y("y:Q", scale=alt.Scale(zero=True), axis=alt.Axis(title=title_y, tickCount=5))
    kinds = list(words.values())
    legend = alt.Legend(direction="horizontal", columns=2)
    mark = alt.Chart(alt.Data(values=rows)).mark_point(filled=True, size=110, opacity=1)
    marks = mark.encode(
        x=x, y=y, shape=alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=["circle", "square"]), legend=legend),
        color=alt.Color("kind:N", scale=alt.Scale(domain=kinds, range=[ink(dark), grey(dark)]), legend=legend),
    )  # fmt: skip
    title, note = _title(finding, language), phrase("repeat.note", language)
    alt_text = phrase("repeat.alt", language, n=len(events), title=title)
    return finish(
        alt.layer(marks),
        title=title,
        note=note,
        alt_text=alt_text,
        width=width,
        height=_HEIGHT_PX,
        dark=dark,
        language=language,
    )


def _title(finding: SeasonFinding, language: str) -> str:
    ours, others = finding.repeatability["ours"], finding.repeatability["others"]
    if ours is None:
        return phrase("repeat.title.none", language)
    size = amount(finding.measure, ours["session_sd"], language)
    if not others:
        return phrase("repeat.title", language, size=size)
    beside = number_text(finding.measure, others["session_sd"], language)
    return phrase("repeat.title.beside", language, size=size, others=beside)
