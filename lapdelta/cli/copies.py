"""``lapdelta backup``, ``restore`` and ``merge``: archives move."""

from pathlib import Path

import click

from lapdelta.cli.outcome import count, new_option, open_archive, print_json, shared_options

_FILE = click.Path(path_type=Path, dir_okay=False)


@click.command("backup")
@click.argument("file", type=_FILE)
@shared_options
def backup(file: Path, folder: Path | None, as_json: bool) -> None:
    """Write the whole archive into FILE, a new zip file. It holds names: keep it as you keep the archive."""
    archive = open_archive(folder)
    files = archive.backup(file)
    if as_json:
        print_json({"backup": str(file), "files": files, "archive": archive.location})
        return
    click.echo(f"Written: {file} ({count(files, 'file')}). To use it: lapdelta restore {file} --archive NEW")


@click.command("restore")
@click.argument("file", type=_FILE)
@shared_options
def restore(file: Path, folder: Path | None, as_json: bool) -> None:
    """Make a new archive from the backup FILE, in the folder named with --archive (new or empty)."""
    from lapdelta.archive import restore as unpack

    if folder is None:
        raise click.UsageError("Name a new folder with --archive.", click.get_current_context())
    unpack(file, folder)
    archive = open_archive(folder)
    laps = int(archive.sessions()["laps"].sum())
    if as_json:
        print_json({"restored": str(file), "laps": laps, "archive": archive.location})
        return
    click.echo(f"Restored into {archive.location}: {count(laps, 'lap')}.")


@click.command("merge")
@click.argument("other", type=click.Path(path_type=Path, file_okay=False))
@new_option
@shared_options
def merge(other: Path, new: bool, folder: Path | None, as_json: bool) -> None:
    """Bring over what the archive OTHER (a folder, or an address) has and this one has not; OTHER stays."""
    archive = open_archive(folder, new=new)
    merged = archive.merge(other)
    if as_json:
        facts = {"entries": merged.entries, "same_files": merged.same_files, "laps": merged.laps}
        print_json({**facts, "originals": merged.originals, "archive": archive.location})
        return
    for name in merged.same_files:
        click.echo(f"{name}: already here, left out.")
    if not merged.entries and not merged.laps and not merged.originals:
        click.echo("Nothing came over: all of it is here already.")
        return
    changes = count(len(merged.entries), "change")
    click.echo(
        f"{changes} came over, with {count(merged.laps, 'lap')} and {count(merged.originals, 'file')}."
    )


COMMANDS = {"backup": backup, "restore": restore, "merge": merge}
