"""Quick laps and slow laps: how far each part of the laps moved, with its range."""

from typing import Any, Final

import altair as alt

from lapdelta.effect.finding import Finding
from lapdelta.pictures.style import WIDTH, finish, ink
from lapdelta.words import measure_kind, phrase, side_text, unit_text

_HEIGHT_PX: Final = 170


def quantile_shift(finding: Finding, *, dark: bool = False, language: str = "en", width: int = WIDTH) -> Any:
    """One dot a quantile of the laps on its change in the measure's unit, with the range; an Altair layer chart.

    From the quickest tenth on the left to the slowest on the right; without quantiles a title and no dots.
    """
    rows = [
        {
            "place": f"{100 * row['quantile']:.0f} %",
            "y": row["estimate"],
            "low": row["low"],
            "high": row["high"],
        }
        for row in finding.quantiles
        if row["estimate"] is not None
    ]
    order = [row["place"] for row in rows]
    kind = measure_kind(finding.measure)
    x = alt.X(
        "place:N",
        sort=order,
        scale=alt.Scale(domain=order),
        axis=alt.Axis(title=phrase("quantiles.axis", language), labelAngle=0, grid=False),
    )
    y_title = phrase(f"change.axis.{kind}", language, unit=unit_text(finding.measure, language))
    y = alt.Y("y:Q", scale=alt.Scale(zero=True, nice=True), axis=alt.Axis(title=y_title, tickCount=6))
    data = alt.Data(values=rows)
    zero = alt.Chart(alt.Data(values=[{"y": 0.0}])).mark_rule(color=ink(dark), strokeWidth=1.5).encode(y=y)
    ranges = alt.Chart(data).mark_rule(color=ink(dark), strokeWidth=2.5).encode(x=x, y="low:Q", y2="high:Q")
    dots = alt.Chart(data).mark_point(filled=True, color=ink(dark), size=110, opacity=1).encode(x=x, y=y)
    title = _title(finding, language)
    return finish(
        alt.layer(zero, ranges, dots), title=title, note=phrase("quantiles.note", language),
        alt_text=phrase("quantiles.alt", language, title=title, n=len(rows)), width=width,
        height=_HEIGHT_PX, dark=dark, language=language,
    )  # fmt: skip


def _title(finding: Finding, language: str) -> str:
    told = [row for row in finding.quantiles if row["estimate"] is not None]
    if not told:
        return phrase("quantiles.title.none", language)
    first, last = (side_text(finding.measure, row["estimate"], language) for row in (told[0], told[-1]))
    return phrase("quantiles.title", language, first=first, last=last)
