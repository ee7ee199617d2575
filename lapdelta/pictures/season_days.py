"""Each day's shift on one fixed axis, one line a day and change."""

from typing import Any, Final

import altair as alt

from lapdelta.effect.season_finding import SeasonFinding
from lapdelta.pictures.style import WIDTH, finish, ink, labels
from lapdelta.words import in_digits, measure_kind, phrase, unit_text

_ROW_PX: Final = 30
#: The axis is the same for every season unless an interval does not fit; in the measure's unit.
_SPAN: Final = {"s": 1.0, "km/h": 4.0}


def season_days(
    finding: SeasonFinding, *, dark: bool = False, language: str = "en", width: int = WIDTH
) -> Any:
    """Estimate and interval by day and, where a change was made on several days, all of them together.

    Raises:
        ValueError: no day tells anything.
    """
    rows = day_rows(finding, language)
    if not rows:
        raise ValueError("no day tells anything about a change")
    order = [row["label"] for row in rows]
    widest = max(abs(row[key]) for row in rows for key in ("low", "high"))
    span = max(_SPAN.get(finding.unit, widest), widest)
    unit = unit_text(finding.measure, language)
    title = phrase(f"change.axis.{measure_kind(finding.measure)}", language, unit=unit)
    axis = alt.Axis(title=title, tickCount=5)
    x = alt.X("estimate:Q", scale=alt.Scale(domain=[-span, span], nice=True), axis=axis)
    y = alt.Y("label:N", sort=order, scale=alt.Scale(domain=order), axis=alt.Axis(title=None, labelLimit=170))
    base = alt.Chart(alt.Data(values=rows))
    zero = alt.Chart(alt.Data(values=[{"x": 0}])).mark_rule(color=ink(dark), opacity=0.5).encode(x="x:Q")
    kinds = ["one day", "all these days"]
    shape = alt.Shape("kind:N", scale=alt.Scale(domain=kinds, range=["circle", "diamond"]), legend=None)
    line = base.mark_rule(color=ink(dark), strokeWidth=2).encode(x=alt.X("low:Q"), x2="high:Q", y=y)
    mark = base.mark_point(filled=True, color=ink(dark), size=130, opacity=1).encode(x=x, y=y, shape=shape)
    title, days = _title(rows, language)
    alt_text = phrase("days.alt", language, n=days, title=title)
    keys = ["days.note", "days.note.many"] if any(row["kind"] == kinds[1] for row in rows) else ["days.note"]
    note = " ".join(phrase(key, language) for key in keys)
    return finish(alt.layer(zero, line, mark), title=title, note=note, alt_text=alt_text, width=width,
                  height=_ROW_PX * len(rows), dark=dark, language=language)  # fmt: skip


def _title(rows: list[dict[str, Any]], language: str) -> tuple[str, int]:
    """(how many days settle their change, of how many)."""
    days = [row for row in rows if row["kind"] == "one day"]
    settled = sum(row["low"] > 0 or row["high"] < 0 for row in days)
    if len(days) == 1:
        return phrase(f"days.title.only_{'yes' if settled else 'no'}", language), 1
    return phrase("days.title", language, settled=settled, n=len(days)), len(days)


def day_rows(finding: SeasonFinding, language: str = "en") -> list[dict[str, Any]]:
    """Rows label, kind, estimate, low, high in order of the days; pooled changes last."""
    told = [day for day in finding.days if day["estimate"] is not None]
    events = list(dict.fromkeys(str(day["event"]) for day in told))
    names = dict(zip(events, labels(events, 12), strict=True))
    rows = [
        _row(_label("days.one", day, language, event=names[day["event"]]), "one day", day) for day in told
    ]
    for change in finding.changes:
        if change["pooled"] and change["pooled"]["days"] > 1:
            label = _label("days.many", change, language, n=change["pooled"]["days"])
            rows.append(_row(label, "all these days", change["pooled"]))
    return rows


def _label(key: str, change: dict[str, Any], language: str, **values: object) -> str:
    low, high = (in_digits(f"{change[end]:g}", language) for end in ("from", "to"))
    return phrase(key, language, low=low, high=high, **values)


def _row(label: str, kind: str, numbers: dict[str, Any]) -> dict[str, Any]:
    return {"label": label, "kind": kind} | {key: numbers[key] for key in ("estimate", "low", "high")}
