"""``lapdelta setup``: the setup sheet, a session at a time."""

import shlex
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.outcome import open_archive, print_json, print_table, shared_options
from lapdelta.errors import SetupError

if TYPE_CHECKING:
    import polars as pl

    from lapdelta.archive import Archive
    from lapdelta.units import Units

#: Columns that say where an entry belongs, or that stand below the table.
_NOT_ITEMS = ("event", "session", "kart", "notes")


@click.command("setup")
@click.argument("event", required=False)
@click.argument("session", required=False)
@click.argument("values", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--kart", metavar="KART", help="The kart. Default: ours at that event.")
@click.option("--anew", is_flag=True, help="Do not carry anything over from the session before.")
@click.option(
    "--from",
    "source",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Bring a setup sheet in, as CSV.",
)
@click.option(
    "--to",
    "--out",
    "target",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the setup sheet out, as a new CSV file.",
)
@click.option("--why", help="A word on why, kept in the history.")
@shared_options
def setup(
    event: str | None,
    session: str | None,
    values: tuple[str, ...],
    kart: str | None,
    anew: bool,
    source: Path | None,
    target: Path | None,
    why: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Show the setup sheet, or write down what was on the kart in SESSION of EVENT.

    With KEY=VALUE pairs everything else is the same as in the session before; one pair that did not
    change, as axle=82, writes down that nothing did:

      lapdelta setup 2026-05-16 P1 engine=11 axle=82 front=0.62bar

      lapdelta setup 2026-05-16 P2 axle=81

    KEY= empties one. A key that is no column of the sheet is kept too, as it was typed.
    """
    archive = open_archive(folder)
    _names_first(archive, event, session)
    if target is not None and target.exists():
        raise SetupError("This file is there already.", "Give it a new name.", str(target))
    if event is not None:
        from lapdelta.asking.which import event_meant

        event = event_meant(archive, event)
        session = _session_meant(archive, event, session)
    written: list[str] = []
    notes: list[str] = []
    if source is not None:
        from lapdelta.setups import read_setup_csv

        frame = read_setup_csv(source, event, archive.units)
        notes += _unknown_headers(frame)
        written.append(archive.put_setups(frame, why))
    if values and event is not None and session is not None:
        notes += _unsure(archive, event, session, kart, values)
        written.append(_write(archive, event, session, kart, values, anew, why))
    sheet = _shown(archive, event, session, kart)
    if target is not None:
        from lapdelta.setups import write_setup_csv

        target.write_text(write_setup_csv(sheet, archive.units), encoding="utf-8", newline="")
    _print(archive, sheet, written, notes, event, session, kart, target, as_json)


def _names_first(archive: "Archive", event: str | None, session: str | None) -> None:
    """Refuse a value typed in a name's place: nothing would be written, and nobody would be told."""
    odd = [name for name in (event, session) if name is not None and "=" in name]
    if not odd:
        return
    names = {*archive.events["event"], *archive.setups["session"], *archive.sessions()["session"]}
    if not names.issuperset(odd):
        raise click.UsageError("Name the EVENT and the SESSION first.", click.get_current_context())


def _write(
    archive: "Archive",
    event: str,
    session: str,
    kart: str | None,
    values: tuple[str, ...],
    anew: bool,
    why: str | None,
) -> str:
    """Write one session down, same as before except for the values typed."""
    from lapdelta.asking.which import our_kart
    from lapdelta.setups import parse_setup, same_as_before, setup_row

    kart = kart or our_kart(archive, event)
    typed = parse_setup(list(values), archive.units)
    sessions: list[str] = archive.sessions(event)["session"].to_list() if _known(archive, event) else []
    setups = archive.setups
    rows = setups.filter((setups["event"] == event) & (setups["kart"] == kart))
    known = rows.filter(rows["session"] == session).height > 0
    full = typed
    if not anew and not known:
        # The notebook may be filled from the last page on: then there is nothing earlier to carry over.
        with suppress(SetupError):
            full = same_as_before(setups, sessions, event, session, kart, typed)
    cleared = [name for name, value in typed.items() if value is None]
    return archive.put_setups(setup_row(event, session, kart, full), why, clear=cleared)


def _session_meant(archive: "Archive", event: str, session: str | None) -> str | None:
    """The session named, or the one that its number or other capitals mean."""
    if session is None or not _known(archive, event):
        return session
    from lapdelta.asking.which import session_meant

    sheet = archive.setups
    written: list[str] = sheet.filter(sheet["event"] == event)["session"].to_list()
    driven: list[str] = archive.sessions(event)["session"].to_list()
    return session if session in written else session_meant(driven, session)


def _known(archive: "Archive", event: str) -> bool:
    return event in archive.events["event"].to_list()


def _shown(archive: "Archive", event: str | None, session: str | None, kart: str | None) -> "pl.DataFrame":
    wanted = {"event": event, "session": session, "kart": kart}
    return archive.setups.filter(**{name: value for name, value in wanted.items() if value is not None})


def _print(
    archive: "Archive",
    sheet: "pl.DataFrame",
    written: list[str],
    notes: list[str],
    event: str | None,
    session: str | None,
    kart: str | None,
    target: Path | None,
    as_json: bool,
) -> None:
    changes = _changes(archive, event) if event is not None else []
    run = _laps_run(archive, event, kart)
    if as_json:
        print_json(
            {
                "setups": sheet.to_dicts(),
                "entries": written,
                "changes": changes,
                "laps_run": run,
                "notes": notes,
                "archive": archive.location,
            }
        )
        return
    if sheet.is_empty():
        where = shlex.join([event or "EVENT", session or "P1"])
        click.echo(
            f"Nothing is written down here yet. For instance: lapdelta setup {where} engine=11 axle=82"
        )
    else:
        _print_sheet(sheet, run, archive.units)
    for note in notes:
        click.echo(note)
    for change in changes:
        words = ["lapdelta", "compare", "--event", event or "", "--kart", change["kart"]]
        words += ["--before", *change["before"], "--after", *change["after"]]
        click.echo(f"{change['text']}: {shlex.join(words)}")
    for entry in written:
        click.echo(f"Written (entry {entry}; take back with: lapdelta undo {entry}).")
    if target is not None:
        click.echo(f"Written: {target}")


def _print_sheet(sheet: "pl.DataFrame", run: list[dict[str, Any]], units: "Units") -> None:
    """A block a kart and event as in a notebook: sessions side by side, below them what was fitted, notes last."""
    from lapdelta.parts.beside_the_sheet import SHOWN, by_session
    from lapdelta.setups import in_units
    from lapdelta.sheet.own_units import item_label

    items = [name for name in sheet.columns if name not in _NOT_ITEMS]
    names = [item_label(name, units) for name in items]
    # the columns' names change with the units, their order does not
    at_column = [sheet.columns.index(name) for name in items]
    rows = sheet.to_dicts()
    shown = [[row[place] for place in at_column] for row in in_units(sheet, units).rows()]
    cells = by_session(run)
    for event, kart in dict.fromkeys((row["event"], row["kart"]) for row in rows):
        places = [at for at, row in enumerate(rows) if (row["event"], row["kart"]) == (event, kart)]
        sessions = [rows[at]["session"] for at in places]
        lines = [
            [name, *(_text(shown[at][column]) for at in places)]
            for column, name in enumerate(names)
            if any(shown[at][column] is not None for at in places)
        ]
        told = [cells.get((session, kart), {}) for session in sessions]
        lines += [[f"Laps on {kind}", *(one.get(kind, "-") for one in told)]
                  for kind in SHOWN if any(kind in one for one in told)]  # fmt: skip
        click.echo(f"{event}, kart {kart}")
        print_table(["", *sessions], lines)
        for at in places:
            if rows[at]["notes"]:
                click.echo(f"{rows[at]['session']}: {rows[at]['notes']}")


def _laps_run(archive: "Archive", event: str | None, kart: str | None) -> list[dict[str, Any]]:
    if event is None:
        return []
    from lapdelta.parts.beside_the_sheet import laps_run

    return laps_run(archive, event, kart)


def _changes(archive: "Archive", event: str) -> list[dict[str, Any]]:
    """Questions that the sheet asks by itself, for our kart."""
    from lapdelta.setups import proposed_questions

    events = archive.events
    ours: list[str | None] = events.filter(events["event"] == event)["our_kart"].to_list()
    if not ours or ours[0] is None:
        return []
    sessions: list[str] = archive.sessions(event)["session"].to_list()
    return proposed_questions(archive.setups, sessions, event, ours[0], archive.units)


def _unknown_headers(frame: "pl.DataFrame") -> list[str]:
    """Headers of a setup sheet brought in that are no column of ours: kept, but nothing is compared by them."""
    from lapdelta.setups import nearest_key, other_pairs

    cells: list[Any] = frame["other"].to_list() if "other" in frame.columns else []
    keys = dict.fromkeys(key for pairs in cells for key, _ in other_pairs(pairs))
    return [
        f"{key} is no column of the setup sheet; it is kept as typed."
        + (f" Nearest column: {near}." if (near := nearest_key(key)) else "")
        for key in keys
    ]


def _unsure(
    archive: "Archive", event: str, session: str, kart: str | None, values: tuple[str, ...]
) -> list[str]:
    """What may be a slip of the pen: a key that is no column, a kart or session that no lap tells of."""
    from lapdelta.asking.which import our_kart
    from lapdelta.cli.events import no_such_kart
    from lapdelta.setups import nearest_key, other_pairs, parse_setup

    notes: list[str] = []
    for key, _ in other_pairs(parse_setup(list(values), archive.units).get("other")):
        near = nearest_key(key)
        meant = f" If {near} was meant: lapdelta setup '{event}' '{session}' {key}= {near}=.." if near else ""
        notes.append(f"{key} is no column of the setup sheet; it is kept as typed.{meant}")
    sessions: list[str] = archive.sessions(event)["session"].to_list() if _known(archive, event) else []
    if session not in sessions:
        has = f" Its sessions are {', '.join(sessions)}." if sessions else ""
        notes.append(
            f"No laps of session {session} of {event} are here yet; this is kept for when they come.{has}"
        )
    if sessions:
        notes += no_such_kart(archive, event, kart or our_kart(archive, event))
    return notes


def _text(value: object) -> str:
    if isinstance(value, list):
        from lapdelta.setups import other_pairs

        return ", ".join(f"{key}={text}" for key, text in other_pairs(value)) or "-"
    return "-" if value is None else f"{value:.4g}" if isinstance(value, float) else str(value)


COMMANDS = {"setup": setup}
