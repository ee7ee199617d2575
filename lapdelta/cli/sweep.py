"""``lapdelta sweep``: every setup change of every kart of every event."""

from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from lapdelta.cli.amounts_typed import NUMBER
from lapdelta.cli.outcome import count, measure_option, open_archive, print_json, print_table, shared_options
from lapdelta.cli.own_units import margin_kept

if TYPE_CHECKING:
    from lapdelta.units import Units


@click.command("sweep")
@click.option("--event", "events", multiple=True, metavar="EVENT", help="Only this event; may be repeated.")
@measure_option
@click.option("--margin", type=NUMBER, help="Smallest change worth having; fix it before looking.")
@click.option("--confidence", type=NUMBER, default=0.95, show_default=True, help="Level of the intervals.")
@click.option("--without-names", is_flag=True, help="Leave out drivers' names.")
@click.option("--jobs", type=click.IntRange(1), default=1, show_default=True, help="Processes to use.")
@click.option(
    "--cluster", metavar="ADDRESS", help="A Dask scheduler to use instead; needs lapdelta[cluster]."
)
@shared_options
def sweep(
    events: tuple[str, ...],
    measure: str,
    margin: float | None,
    confidence: float,
    without_names: bool,
    jobs: int,
    cluster: str | None,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Answer every change that the setup sheet tells, of every kart it knows, each event by itself.

    The more questions, the more that look real by luck: of twenty changes that did nothing, one will.
    """
    from lapdelta.asking.sweep import sweep as answer

    archive = open_archive(folder)
    if events:
        from lapdelta.asking.which import known_event

        events = tuple(known_event(archive, event) for event in events)
    with _executor(jobs, cluster) as executor:
        table = answer(
            archive, measure=measure, margin=margin_kept(folder, measure, margin), confidence=confidence,
            events=events or None, names=not without_names, executor=executor,
        )  # fmt: skip
    if as_json:
        print_json({"changes": table.to_dicts(), "archive": archive.location})
        return
    if table.is_empty():
        click.echo(
            "The setup sheet tells of no change yet. Write it down with: lapdelta setup EVENT SESSION ..."
        )
        return
    _print_changes(table.to_dicts(), archive.units)
    click.echo(f"{count(table.height, 'question')}: of twenty changes that did nothing, one will look real.")


def _print_changes(changes: list[dict[str, Any]], units: "Units") -> None:
    """One line a change, in the user's units."""
    stored = next((str(row["unit"]) for row in changes if row["unit"]), "")

    def text(value: float | None) -> str:
        return "-" if value is None else f"{units.shown_change(value, stored):+.3f}"

    rows = [
        [
            *(row["event"], row["kart"], units.said(row["change"]), row["verdict"], text(row["estimate"])),
            "-" if row["low"] is None else f"{text(row['low'])} to {text(row['high'])}",
        ]
        for row in changes
    ]
    shift = f"shift ({units.unit(stored)})" if stored else "shift"
    print_table(["event", "kart", "change", "verdict", shift, "interval"], rows)


def _executor(jobs: int, cluster: str | None) -> AbstractContextManager[Executor | None]:
    """Processes of this machine or of a cluster; None for this process alone."""
    if cluster is not None:
        try:
            from distributed import Client  # pyright: ignore[reportMissingImports, reportUnknownVariableType]
        except ImportError as error:
            raise click.UsageError("--cluster needs: pip install 'lapdelta[cluster]'") from error
        return Client(cluster).get_executor()  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType]
    if jobs == 1:
        return nullcontext()
    return ProcessPoolExecutor(jobs, mp_context=get_context("spawn"))


COMMANDS = {"sweep": sweep}
