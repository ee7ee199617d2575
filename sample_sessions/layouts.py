"""The CSV layouts of the sample season: plain words of the trade in several languages, none a real export.

Each layout is a function (event, session label or None, laps) -> rows of cells.
"""

from collections.abc import Callable
from dataclasses import dataclass

from sample_sessions.cells import clock, minutes, number, seconds
from sample_sessions.scenario import Event
from sample_sessions.simulate import Lap

Rows = list[list[str]]


@dataclass(frozen=True)
class Layout:
    """How a kind of file is written.

    ``per_session``: a file a session. ``holds``: what it tells beyond lap times. ``in_laps_timed``: False
    where the lap back to the pits is a row without a time.
    """

    rows: Callable[[Event, str, list[Lap]], Rows]
    delimiter: str
    encoding: str
    newline: str
    per_session: bool
    holds: tuple[str, ...]
    words: str
    in_laps_timed: bool = True


def by_kart(laps: list[Lap]) -> list[list[Lap]]:
    """Laps grouped by session and kart, in order of appearance."""
    groups: dict[tuple[str, str], list[Lap]] = {}
    for lap in laps:
        groups.setdefault((lap.session, lap.kart), []).append(lap)
    return list(groups.values())


def dotted(date: str, mark: str = ".") -> str:
    """18.05.2025 from 2025-05-18."""
    return mark.join(reversed(date.split("-")))


def english_day(event: Event, _: str, laps: list[Lap]) -> Rows:
    """Laps in the order in which they ended, all karts mixed; a remark for out and in laps."""
    rows = [["Track", event.track.name], ["Date", event.name], []]
    heads = "Session,Kart,Driver,Lap,Lap time,Sector 1,Sector 2,Sector 3,Top speed (km/h),Peak rpm"
    rows.append([*heads.split(","), "Time of day", "Remark"])
    remarks = {"out": "out lap", "in": "in lap", "": ""}
    for lap in laps:
        times = [seconds(lap.time_ms), *(seconds(ms) for ms in lap.sectors_ms)]
        tail = [number(lap.top_speed_kmh), str(lap.peak_rpm), clock(lap.end_ms), remarks[lap.kind]]
        rows.append([lap.session, lap.kart, lap.driver, str(lap.number), *times, *tail])
    return rows


def german_day(event: Event, _: str, laps: list[Lap]) -> Rows:
    """Decimal commas, minutes, one kart after the other; the lap back to the pits has no time."""
    rows = [["Strecke", event.track.name], ["Datum", dotted(event.name)], []]
    heads = "Sitzung;Startnummer;Fahrer;Runde;Rundenzeit;Sektor 1;Sektor 2;Sektor 3"
    rows.append([*heads.split(";"), "Höchstgeschwindigkeit (km/h)", "Uhrzeit"])
    for lap in [lap for group in by_kart(laps) for lap in group]:
        times = [minutes(lap.time_ms, ","), *(seconds(ms, ",") for ms in lap.sectors_ms)]
        tail = [number(lap.top_speed_kmh, ","), clock(lap.end_ms, ",")]
        if lap.kind == "in":
            times, tail[0] = ["---", "", "", ""], ""
        rows.append([lap.session, lap.kart, lap.driver, str(lap.number), *times, *tail])
    return rows


def french_session(event: Event, session: str, laps: list[Lap]) -> Rows:
    """Tabs; date, circuit and session in lines of their own above the header."""
    rows = [["Circuit", event.track.name], ["Date", dotted(event.name, "/")], ["Séance", session], []]
    heads = "Kart;Pilote;Tour;Temps au tour;Secteur 1;Secteur 2;Secteur 3"
    rows.append([*heads.split(";"), "Vitesse max (km/h)", "Régime max (tr/min)", "Heure"])
    for lap in [lap for group in by_kart(laps) for lap in group]:
        times = [minutes(lap.time_ms, ","), *(seconds(ms, ",") for ms in lap.sectors_ms)]
        tail = [number(lap.top_speed_kmh, ","), str(lap.peak_rpm), clock(lap.end_ms, ",")]
        rows.append([lap.kart, lap.driver, str(lap.number), *times, *tail])
    return rows


def wide_session(_: Event, __: str, laps: list[Lap]) -> Rows:
    """A column a kart, a row a lap; empty where a kart drove no such lap."""
    groups = by_kart(laps)
    times = [{lap.number: seconds(lap.time_ms) for lap in group} for group in groups]
    rows = [["Lap", *(group[0].kart for group in groups)]]
    last = max(lap.number for lap in laps)
    rows += [[str(n), *(column.get(n, "") for column in times)] for n in range(1, last + 1)]
    return rows


def unit_row_day(event: Event, _: str, laps: list[Lap]) -> Rows:
    """A row of units under the header; clock in whole seconds."""
    heads = "Session,Date,Kart,Driver,Lap,Lap time,Sector 1,Sector 2,Sector 3,Top speed,Engine speed,Clock"
    units = ",,,,,s,s,s,s,km/h,1/min,h:m:s"
    rows = [heads.split(","), units.split(",")]
    for lap in laps:
        times = [seconds(lap.time_ms), *(seconds(ms) for ms in lap.sectors_ms)]
        tail = [number(lap.top_speed_kmh), str(lap.peak_rpm), clock(lap.end_ms, None)]
        rows.append([lap.session, event.name, lap.kart, lap.driver, str(lap.number), *times, *tail])
    return rows


def german_summary_day(event: Event, _: str, laps: list[Lap]) -> Rows:
    """After each kart's laps a row with its average and one with its best: neither is a lap."""
    heads = "Datum;Sitzung;Nr.;Fahrer;Runde;Rundenzeit;Sektor 1;Sektor 2;Sektor 3;Vmax km/h;Uhrzeit"
    rows = [heads.split(";")]
    date = dotted(event.name)
    for group in by_kart(laps):
        for lap in group:
            times = [seconds(lap.time_ms, ","), *(seconds(ms, ",") for ms in lap.sectors_ms)]
            tail = [number(lap.top_speed_kmh, ","), clock(lap.end_ms, ",")]
            rows.append([date, lap.session, lap.kart, lap.driver, str(lap.number), *times, *tail])
        first, all_ms = group[0], [lap.time_ms for lap in group]
        for word, ms in (("Durchschnitt", round(sum(all_ms) / len(all_ms))), ("Beste", min(all_ms))):
            lead = [date, first.session, first.kart, first.driver]
            rows.append([*lead, word, seconds(ms, ","), "", "", "", "", ""])
    return rows


def millisecond_day(event: Event, _: str, laps: list[Lap]) -> Rows:
    """Lap times in whole ms, date and time in one cell, no sectors."""
    rows = [["Session", "Kart", "Lap", "Lap time (ms)", "Top speed (km/h)", "Time of day"]]
    for lap in laps:
        when = f"{event.name}T{clock(lap.end_ms)}"
        speed = number(lap.top_speed_kmh)
        rows.append([lap.session, lap.kart, str(lap.number), str(lap.time_ms), speed, when])
    return rows


def spanish_block_session(_: Event, __: str, laps: list[Lap]) -> Rows:
    """A block a kart under a title of its own; no clock."""
    rows: Rows = []
    heads = "Vuelta;Tiempo de vuelta;Sector 1;Sector 2;Sector 3;Velocidad máxima (km/h)"
    for group in by_kart(laps):
        rows += [[f"Kart {group[0].kart}"], heads.split(";")]
        for lap in group:
            times = [seconds(lap.time_ms, ","), *(seconds(ms, ",") for ms in lap.sectors_ms)]
            rows.append([str(lap.number), *times, number(lap.top_speed_kmh, ",")])
        rows.append([])
    return rows


_S, _V, _R, _C = "sectors", "top_speed", "peak_rpm", "clock"
LAYOUTS = {
    "english_day": Layout(
        english_day, ",", "utf-8", "\n", False, (_S, _V, _R, _C, "date"),
        "English, comma, a row a lap in order of finishing, remark column, lines above the header",
    ),
    "german_day": Layout(
        german_day, ";", "utf-8-sig", "\r\n", False, (_S, _V, _C, "date"),
        "German, semicolon, decimal comma, 0:51,234, byte order mark, in laps without a time",
        in_laps_timed=False,
    ),
    "french_session": Layout(
        french_session, "\t", "utf-8", "\n", True, (_S, _V, _R, _C, "date"),
        "French, tabs, a file a session, session named above the header",
    ),
    "wide_session": Layout(
        wide_session, ",", "utf-8", "\n", True, (),
        "English, comma, a file a session, a column a kart, lap times only",
    ),
    "unit_row_day": Layout(
        unit_row_day, "\t", "utf-16", "\r\n", False, (_S, _V, _R, _C, "date"),
        "English, tabs, UTF-16, a row of units, clock in whole seconds",
    ),
    "german_summary_day": Layout(
        german_summary_day, ";", "cp1252", "\r\n", False, (_S, _V, _C, "date"),
        "German, semicolon, Windows-1252, average and best rows between the laps",
    ),
    "millisecond_day": Layout(
        millisecond_day, ",", "utf-8", "\n", False, (_V, _C, "date"),
        "English, comma, lap times in ms, ISO date and time in one cell",
    ),
    "spanish_block_session": Layout(
        spanish_block_session, ";", "utf-8", "\n", True, (_S, _V),
        "Spanish, semicolon, a file a session, a titled block a kart",
    ),
}  # fmt: skip
