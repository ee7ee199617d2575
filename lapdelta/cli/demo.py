"""``lapdelta demo``: the whole line on a made-up season, from timing files to the driver's page."""

import json
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import print_json, print_table, progress, shared_options

if TYPE_CHECKING:
    from lapdelta.archive import Archive
    from lapdelta.effect.finding import Finding


@click.command("demo")
@click.option("--no-dashboard", is_flag=True, help="Stop after the answers; do not open the pages.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port for the pages. Default: a free one.")
@shared_options
def demo(no_dashboard: bool, port: int | None, folder: Path | None, as_json: bool) -> None:
    """Read a made-up practice season, answer three questions, write the driver's page, open the pages.

    Without --archive it works in a temporary folder and leaves your own archive alone.
    """
    import sample_sessions
    from lapdelta.archive import Archive
    from lapdelta.archive.remote import remote_url

    if folder is not None and remote_url(str(folder)):
        raise click.UsageError("The demo makes an archive on this machine: name a folder, or none.")
    archive = Archive(folder or Path(tempfile.mkdtemp(prefix="lapdelta-demo-")) / "archive")
    say = (lambda text="": None) if as_json else click.echo
    say("A made-up practice season: invented circuits, karts and drivers.\n")
    with progress(sample_sessions.timing_files(), "Reading") as files:
        read = [_bring_in(archive, event, path) for event, path in files]
    _write_down(archive)
    if not as_json:
        _print_read(read)
    findings = [_answer(archive, question, say) for question in demo_questions()]
    say("Writing the driver's page ...")
    page = _write_page(archive, findings[0])
    say(f"The driver's page of the first answer: {page}")
    say(f"The archive: {archive.location}")
    if as_json:
        print_json(
            {
                "read": read,
                "findings": [finding.to_dict() for finding in findings],
                "page": str(page),
                "archive": archive.location,
            }
        )
    if not no_dashboard:
        from lapdelta.cli.dashboard import open_dashboard

        open_dashboard(archive.folder, port, open_browser=True, as_json=as_json, quiet=as_json)


def demo_questions() -> list[dict[str, Any]]:
    """The questions of the sample season that the demo asks: event, kart, before, after, about."""
    import sample_sessions

    questions: list[dict[str, Any]] = json.loads(sample_sessions.TRUTH.read_text(encoding="utf-8"))[
        "questions"
    ]
    return [question for question in questions if question["demo"]]


def _bring_in(archive: "Archive", event: str, path: Path) -> dict[str, Any]:
    """Read one file and keep it; what was read, in numbers."""
    from lapdelta.reading import read_timing

    reading = read_timing(path)
    added = archive.add(reading, event=event)
    return {
        "event": event,
        "file": f"{path.parent.name}/{path.name}",
        "laps": reading.laps.height,
        "laps_added": added.laps_added,
        "sessions": reading.laps["session"].n_unique(),
        "karts": reading.laps["kart"].n_unique(),
        "account": reading.account,
    }


def _write_down(archive: "Archive") -> None:
    """The notebook of the sample season: which kart was ours, and what was fitted."""
    import csv

    import sample_sessions
    from lapdelta.setups import read_setup_csv

    with sample_sessions.EVENTS.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            name = row.pop("event")
            archive.put_event(name, why="demo", **{key: value for key, value in row.items() if value})
    archive.put_setups(read_setup_csv(sample_sessions.SETUP_SHEET), why="demo")


def _print_read(read: list[dict[str, Any]]) -> None:
    header = ["event", "file", "laps", "karts", "sessions", "lines", "set aside"]
    rows = [
        [
            row["event"],
            row["file"],
            str(row["laps"]),
            str(row["karts"]),
            str(row["sessions"]),
            str(row["account"]["lines"]),
            str(row["account"]["set_aside_lines"]),
        ]
        for row in read
    ]
    print_table(header, rows)
    click.echo(f"\n{sum(row['laps'] for row in read)} laps in {len(read)} files.\n")


def _answer(archive: "Archive", question: dict[str, Any], say: Any) -> "Finding":
    """Ask one question and say its answer."""
    from lapdelta.asking.archive_question import ask
    from lapdelta.sheet.sentences import say as sentences

    finding = ask(
        archive,
        event=question["event"],
        kart=question["kart"],
        before=question["before"],
        after=question["after"],
    )
    say(f"{question['event']}: {question['about']}. Did it help?")
    for sentence in sentences(finding):
        say(f"  {sentence}")
    say()
    return finding


def _write_page(archive: "Archive", finding: "Finding") -> Path:
    """The driver's page, HTML and PNG, inside the demo's folder."""
    from lapdelta.cli.share import write_pages

    pages = archive.folder.parent / "driver-page"
    return write_pages(finding, (pages / "page.html", pages / "page.png"), nickname=None)[0]


COMMANDS = {"demo": demo}
