"""Write the made-up sample season: timing files, setup sheet, list of events, truth.

``python -m sample_sessions.make_season [FOLDER]`` writes the same bytes every time (default: this folder).
"""

import csv
import io
import json
import sys
from pathlib import Path
from typing import Any

from sample_sessions import FOLDER
from sample_sessions.layouts import LAYOUTS, Layout
from sample_sessions.scenario import Event
from sample_sessions.season import EVENTS
from sample_sessions.sheets import event_rows, setup_rows
from sample_sessions.simulate import Lap, run_event
from sample_sessions.truth import truth


def make(folder: Path) -> list[Path]:
    """Write everything into the folder; the paths written, in order."""
    files: list[dict[str, Any]] = []
    written: list[Path] = []
    for event in EVENTS:
        (folder / event.name).mkdir(parents=True, exist_ok=True)
        for name, data, facts in _event_files(event):
            path = folder / event.name / name
            path.write_bytes(data)
            written.append(path)
            files.append({"file": f"{event.name}/{name}", **facts})
    sheets = {"setup_sheet.csv": setup_rows(EVENTS), "events.csv": event_rows(EVENTS)}
    for name, rows in sheets.items():
        written.append(folder / name)
        written[-1].write_bytes(_csv(rows, ",", "\n").encode())
    written.append(folder / "truth.json")
    text = json.dumps(truth(files), ensure_ascii=False, indent=1)
    written[-1].write_bytes((text + "\n").encode())
    return written


def _event_files(event: Event) -> list[tuple[str, bytes, dict[str, Any]]]:
    """Name, bytes and what must be read from it, for each file of the day."""
    layout, laps = LAYOUTS[event.layout], run_event(event)
    if not layout.per_session:
        return [_file("practice", event, layout, laps)]
    labels = [session.label for session in event.sessions]
    return [_file(label, event, layout, [lap for lap in laps if lap.session == label]) for label in labels]


def _file(stem: str, event: Event, layout: Layout, laps: list[Lap]) -> tuple[str, bytes, dict[str, Any]]:
    text = _csv(layout.rows(event, stem, laps), layout.delimiter, layout.newline)
    # "utf-16" alone would follow the machine's byte order
    data = (
        b"\xff\xfe" + text.encode("utf-16-le")
        if layout.encoding == "utf-16"
        else text.encode(layout.encoding)
    )
    timed = [lap for lap in laps if layout.in_laps_timed or lap.kind != "in"]
    facts = {
        "event": event.name,
        "layout": event.layout,
        "written": layout.words,
        "encoding": layout.encoding,
        "laps": len(timed),
        "rows_without_lap_time": len(laps) - len(timed),
        "karts": sorted({lap.kart for lap in laps}),
        "sessions": sorted({lap.session for lap in laps}),
        "lap_time_sum_s": sum(lap.time_ms for lap in timed) / 1000,
        "holds": list(layout.holds),
    }
    return f"{stem}.csv", data, facts


def _csv(rows: list[list[str]], delimiter: str, newline: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=newline).writerows(rows)
    return out.getvalue()


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    for made in make(target):
        print(made.relative_to(target), made.stat().st_size)
