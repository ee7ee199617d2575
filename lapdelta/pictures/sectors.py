"""Where on the lap: the change of each sector with its range. All sectors look alike; none is ranked."""

from typing import Any, Final

import altair as alt

from lapdelta.effect.finding import Finding
from lapdelta.pictures.style import WIDTH, finish, ink, round_steps
from lapdelta.words import phrase, sector_label, side_text
from lapdelta.words.printing import capital

_ROW_PX: Final = 38


def sectors(finding: Finding, *, dark: bool = False, language: str = "en", width: int = WIDTH) -> Any:
    """One dot a sector on its change in s, with the range as a line; an Altair layer chart.

    A finding without sectors gives a chart with a title and no dots.
    """
    rows = [_row(row, language) for row in finding.sectors if row["estimate"] is not None]
    order = [row["name"] for row in rows]
    steps = round_steps([row[key] for row in rows for key in ("low", "high")])
    x = alt.X(
        "x:Q",
        scale=alt.Scale(domain=[steps[0], steps[-1]], nice=False),
        axis=alt.Axis(title=phrase("change.axis.sector", language), grid=False, values=steps),
    )
    y = alt.Y(
        "name:N",
        sort=order,
        scale=alt.Scale(domain=order),
        axis=alt.Axis(title=None, labelLimit=130, ticks=False, domain=False),
    )
    data = alt.Data(values=rows)
    zero = alt.Chart(alt.Data(values=[{"x": 0.0}])).mark_rule(color=ink(dark), strokeWidth=1.5).encode(x=x)
    ranges = alt.Chart(data).mark_rule(color=ink(dark), strokeWidth=2.5).encode(x="low:Q", x2="high:Q", y=y)
    dots = alt.Chart(data).mark_point(filled=True, color=ink(dark), size=120, opacity=1).encode(x=x, y=y)
    title = _title(finding, language)
    listed = "; ".join(f"{row['name']} {row['said']}" for row in rows)
    return finish(
        alt.layer(zero, ranges, dots), title=title, note=phrase("sectors.note", language),
        alt_text=phrase("sectors.alt", language, title=title, listed=listed), width=width,
        height=max(1, len(rows)) * _ROW_PX, dark=dark, language=language,
    )  # fmt: skip


def _row(row: dict[str, Any], language: str) -> dict[str, Any]:
    name = sector_label(row["measure"], language)
    if row["measure"] == "not_in_a_sector":
        name = phrase("sectors.rest", language)
    said = side_text("sector_1", row["estimate"], language)
    return {
        "name": capital(name), "x": row["estimate"], "low": row["low"], "high": row["high"],
        "said": said,
    }  # fmt: skip


def _title(finding: Finding, language: str) -> str:
    """Names the sectors that stand out once all are asked about at the same time, in the order of the lap."""
    named = [
        phrase("sectors.named", language, place=sector_label(row["measure"], language), side=side)
        for row in finding.sectors
        if row["named"]
        and row["low"] * row["high"] > 0
        and (side := side_text("sector_1", row["estimate"], language))
    ]
    if not named:
        return phrase("sectors.title.none", language)
    return phrase("sectors.title", language, listed="; ".join(named))
