"""Our sessions against the other karts: what the track did for everybody, and what was ours."""

from statistics import fmean, quantiles
from typing import Any, Final

import altair as alt

from lapdelta.effect.finding import Finding
from lapdelta.pictures.style import WIDTH, finish, grey, ink, labels, short
from lapdelta.words import amount, direction, measure_kind, measure_name, phrase, unit_text, verdict_text
from lapdelta.words.printing import capital

_HEIGHT_PX: Final = 210
#: More single dots than this are drawn as a span a session: the shared page must stay small.
_MOST_DOTS: Final = 160


def sessions(
    finding: Finding, *, dark: bool = False, language: str = "en", width: int = WIDTH, who: str | None = None
) -> Any:
    """Pace by session against each kart's own usual pace, in the measure's unit; an Altair layer chart.

    "Usual" is the mean over a kart's sessions after the common part of each session is taken out;
    for ours over the sessions on the old setting. So the other karts show the track's own evolution,
    and the step between their middle and ours is the change.
    """
    who = short(who or phrase("page.kart", language, kart=finding.kart), 20)
    words = _legend_words(who, language)
    ours, others, track = session_rows(finding, words)
    order = [row["session"] for row in track]
    x = alt.X(
        "session:N",
        sort=order,
        scale=alt.Scale(domain=order),
        axis=alt.Axis(title=phrase("sessions.axis.x", language), labelAngle=0, labelLimit=70, grid=False),
    )
    family = {"lap": "time", "sector": "time"}.get(kind := measure_kind(finding.measure), kind)
    y = alt.Y(
        "y:Q",
        scale=alt.Scale(zero=False, nice=True),
        axis=alt.Axis(
            title=phrase(f"sessions.axis.y.{family}", language, unit=unit_text(finding.measure, language))
        ),
    )
    layers = [_others(others, order, x, y, dark), _track(track, x, y, dark), _ours(ours, words, x, y, dark)]
    title = _title(finding, who, language)
    alt_text = phrase(
        "sessions.alt", language, points=len(ours), who=who, finding=f"{title}.",
        karts=len({cell["kart"] for cell in finding.cells if not cell["ours"]}),
    )  # fmt: skip
    return finish(
        alt.layer(*layers), title=title, note=phrase("sessions.note", language), alt_text=alt_text,
        width=width, height=_HEIGHT_PX, dark=dark, language=language,
    )  # fmt: skip


def session_rows(
    finding: Finding, words: dict[str, str]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    """Rows for our kart, for each other kart, and for the track (the session's common part).

    ``words``: what our sessions are called by their setting (before, after, other setup).
    """
    usable = [cell for cell in finding.cells if cell["pace"] is not None and cell["adjusted"] is not None]
    positions = {cell["session"]: cell["position"] for cell in finding.cells}
    order = sorted(positions, key=lambda name: positions[name])
    names = dict(zip(order, labels([str(session) for session in order]), strict=True))
    terms = {cell["session"]: cell["session_term"] for cell in usable if cell["session_term"] is not None}
    usual = _usual(usable)
    ours: list[dict[str, Any]] = []
    others: list[dict[str, Any]] = []
    for cell in usable:
        row = {
            "session": names[cell["session"]],
            "y": float(cell["pace"]) - usual[cell["kart"], cell["ours"]],
        }
        if cell["ours"]:
            ours.append(row | {"kind": words.get(cell["setting"] or "other setup", words["other setup"])})
        elif cell.get("compared", True):
            others.append(row)
    track = [{"session": name, "y": terms.get(session)} for session, name in names.items()]
    return ours, others, track


def _usual(usable: list[dict[str, Any]]) -> dict[tuple[str, bool], float]:
    """Usual pace by kart: mean of the adjusted cells, for ours those on the old setting if there are any."""
    adjusted: dict[tuple[str, bool], list[float]] = {}
    for cell in usable:
        if not cell["ours"] or cell["setting"] == "before":
            adjusted.setdefault((cell["kart"], cell["ours"]), []).append(float(cell["adjusted"]))
    for cell in usable:
        if (cell["kart"], cell["ours"]) not in adjusted:
            key = (cell["kart"], cell["ours"])
            adjusted[key] = [float(c["adjusted"]) for c in usable if (c["kart"], c["ours"]) == key]
    return {key: fmean(values) for key, values in adjusted.items()}


def _legend_words(who: str, language: str) -> dict[str, str]:
    return {
        "before": phrase("sessions.before", language, who=who),
        "after": phrase("sessions.after", language, who=who),
        "other setup": phrase("sessions.other_setup", language, who=who),
    }


def _others(rows: list[dict[str, Any]], order: list[str], x: alt.X, y: alt.Y, dark: bool) -> Any:
    """Small rings, or with very many karts the span of the middle four fifths."""
    if len(rows) <= _MOST_DOTS:
        mark = alt.Chart(alt.Data(values=rows)).mark_point(
            size=22, color=grey(dark), opacity=0.75, strokeWidth=1.2
        )
        return mark.encode(x=x, y=y)
    spans: list[dict[str, Any]] = []
    for name in order:
        values = [row["y"] for row in rows if row["session"] == name]
        if len(values) >= 2:
            cuts = quantiles(values, n=10, method="inclusive")
            spans.append({"session": name, "y": cuts[0], "y2": cuts[-1]})
    mark = alt.Chart(alt.Data(values=spans)).mark_rule(color=grey(dark), strokeWidth=10, opacity=0.35)
    return mark.encode(x=x, y=y, y2="y2:Q")


def _track(rows: list[dict[str, Any]], x: alt.X, y: alt.Y, dark: bool) -> Any:
    """The middle of the other karts, a short bar a session."""
    present = [row for row in rows if row["y"] is not None]
    mark = alt.Chart(alt.Data(values=present)).mark_tick(
        color=ink(dark), thickness=2.5, size=34, orient="horizontal"
    )  # fmt: skip
    return mark.encode(x=x, y=y)


def _ours(rows: list[dict[str, Any]], words: dict[str, str], x: alt.X, y: alt.Y, dark: bool) -> Any:
    """Our sessions: open circle for the old setting, full diamond for the new, open square for any other."""
    present = [word for word in words.values() if any(row["kind"] == word for row in rows)]
    look = {
        words["before"]: ("circle", "transparent"),
        words["after"]: ("diamond", ink(dark)),
        words["other setup"]: ("square", "transparent"),
    }
    legend = alt.Legend(direction="horizontal", columns=1, symbolStrokeWidth=2)
    scales = [alt.Scale(domain=present, range=[look[word][part] for word in present]) for part in (0, 1)]
    lines = alt.Scale(domain=present, range=[ink(dark) for _ in present])
    mark = alt.Chart(alt.Data(values=rows)).mark_point(size=130, opacity=1, strokeWidth=2)
    return mark.encode(
        x=x, y=y,
        shape=alt.Shape("kind:N", scale=scales[0], legend=legend),
        fill=alt.Fill("kind:N", scale=scales[1], legend=legend),
        stroke=alt.Stroke("kind:N", scale=lines, legend=legend),
    )  # fmt: skip


def _title(finding: Finding, who: str, language: str) -> str:
    if finding.verdict not in ("faster", "slower") or finding.estimate is None:
        verdict = verdict_text(finding.verdict, language)
        return phrase("sessions.title.moved", language, who=capital(who), verdict=verdict)
    size = amount(finding.measure, finding.estimate, language)
    way = direction(finding.measure, finding.estimate, language)
    kind = measure_kind(finding.measure)
    key = f"sessions.title.clear.{kind if kind in ('lap', 'sector') else 'more'}"
    measure = measure_name(finding.measure, language)
    return phrase(key, language, who=who, size=size, direction=way, measure=measure)
