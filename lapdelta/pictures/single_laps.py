"""Single laps of our kart by session: how far one lap scatters, beside what the typical lap did."""

from statistics import median
from typing import Any, Final

import altair as alt
import polars as pl

from lapdelta.effect.finding import Finding
from lapdelta.pictures.style import WIDTH, finish, grey, ink, labels
from lapdelta.words import amount, phrase

_HEIGHT_PX: Final = 210
#: Two of three laps: about the share within one standard deviation of a normal distribution (0.683).
_TWO_OF_THREE: Final = 2.0 / 3.0
#: Laps further above their session's median than this are no laps at speed (spins, slow laps behind others);
#: they are drawn at the edge. As a share of the median.
_FAR: Final = 0.06
_MARKED: Final = ("out", "in", "pit", "invalid", "first")
_FEWEST_LAPS: Final = 3


def laps_at_speed(laps: pl.DataFrame, finding: Finding) -> pl.DataFrame:
    """Timed laps of our kart in the question's sessions, none marked out, in, pit or not valid.

    ``laps``: tables.LAPS of the event. Result: session, lap, lap_time_s and ``away``, s from the session's median.
    """
    ours = laps.filter(
        pl.col("kart") == finding.kart,
        pl.col("session").is_in([*finding.before, *finding.after]),
        pl.col("lap_time_s") > 0,
        pl.col("marks").list.set_intersection(list(_MARKED)).list.len().fill_null(0) == 0,
    )
    middle = pl.col("lap_time_s").median().over("session")
    return (
        ours.with_columns((pl.col("lap_time_s") - middle).alias("away"))
        .filter(pl.col("lap_time_s") < (1 + _FAR) * middle)
        .select("session", "lap", "lap_time_s", "away")
    )


def lap_scatter(laps: pl.DataFrame, finding: Finding) -> float | None:
    """Two of three single laps stay within this of their session's middle, s; None with too few laps."""
    away = laps_at_speed(laps, finding)["away"].abs()
    scatter = away.quantile(_TWO_OF_THREE, "linear") if away.len() >= _FEWEST_LAPS else None
    return None if scatter is None else float(scatter)


def single_laps(
    laps: pl.DataFrame, finding: Finding, *, dark: bool = False, language: str = "en", width: int = WIDTH
) -> Any:
    """One mark a lap on its time, circle for the old setting, diamond for the new; an Altair layer chart."""
    order = _sessions(finding)
    names = dict(zip(order, labels(order), strict=True))
    words = {"before": phrase("laps.before", language), "after": phrase("laps.after", language)}
    rows: list[dict[str, Any]] = [
        {"session": names[row["session"]], "y": row["lap_time_s"], "lap": row["lap"],
         "kind": words["after" if row["session"] in finding.after else "before"]}
        for row in laps_at_speed(laps, finding).to_dicts()
    ]  # fmt: skip
    middles = [
        {"session": name, "y": median(values)}
        for name in names.values()
        if (values := [row["y"] for row in rows if row["session"] == name])
    ]
    axis = alt.Axis(title=phrase("sessions.axis.x", language), labelAngle=0, labelLimit=70, grid=False)
    x = alt.X("session:N", sort=list(names.values()), scale=alt.Scale(domain=list(names.values())), axis=axis)
    y = alt.Y("y:Q", scale=alt.Scale(zero=False), axis=alt.Axis(title=phrase("laps.axis", language)))
    kinds = list(words.values())
    legend = alt.Legend(direction="horizontal", symbolStrokeWidth=1.6)
    dots = (
        alt.Chart(alt.Data(values=rows))
        .mark_point(opacity=0.85, strokeWidth=1.4, size=42)
        .encode(
            x=x, y=y,
            shape=alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=["circle", "diamond"]), legend=legend),
            fill=alt.Fill("kind:N", scale=alt.Scale(domain=kinds, range=["transparent", ink(dark)]), legend=legend),
            stroke=alt.Stroke("kind:N", scale=alt.Scale(domain=kinds, range=[ink(dark)] * 2), legend=legend),
            tooltip=[
                alt.Tooltip("lap:Q", title=phrase("tip.lap", language)),
                alt.Tooltip("y:Q", format=".3f", title=phrase("laps.axis", language)),
            ],
        )
    )  # fmt: skip
    ticks = (
        alt.Chart(alt.Data(values=middles))
        .mark_tick(color=grey(dark), thickness=2.5, size=30, orient="horizontal")
        .encode(x=x, y=y)
    )
    title = _title(laps, finding, language)
    return finish(
        alt.layer(ticks, dots), title=title, note=phrase("laps.note", language),
        alt_text=phrase("laps.alt", language, n=len(rows), sessions=len(order), title=title), width=width,
        height=_HEIGHT_PX, dark=dark, language=language,
    )  # fmt: skip


def _sessions(finding: Finding) -> list[str]:
    """The question's sessions in the order driven."""
    position = {cell["session"]: cell["position"] for cell in finding.cells}
    asked = dict.fromkeys([*finding.before, *finding.after])
    return sorted(asked, key=lambda session: position.get(session, len(position)))


def _title(laps: pl.DataFrame, finding: Finding, language: str) -> str:
    scatter = lap_scatter(laps, finding)
    if scatter is None:
        return phrase("laps.title.few", language)
    return phrase("laps.title", language, scatter=amount("lap_time", scatter, language))
