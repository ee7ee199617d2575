"""``lapdelta share``: the driver's page of one answer."""

from pathlib import Path
from typing import Any

import click

from lapdelta.cli.as_typed import AsTyped
from lapdelta.cli.compare import ask_archive, question_options
from lapdelta.cli.outcome import language_option, open_archive, print_json, shared_options

KINDS = (".html", ".png", ".pdf")


@click.command("share", cls=AsTyped)
@click.option(
    "--out",
    "outs",
    multiple=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="File to write, .html, .png or .pdf; may be repeated. Default: a .html and a .png here.",
)
@click.option("--nickname", help="Name to print instead of the kart's number. Never a child's full name.")
@language_option
@question_options
@shared_options
def share(
    folder: Path | None, as_json: bool, outs: tuple[Path, ...], nickname: str | None, language: str,
    **question: Any,
) -> None:  # fmt: skip
    """Write the driver's page of one answer: one picture, a few plain sentences, no names.

    lapdelta share --before P1 P4 --after P2 P3 --out driver.html
    """
    wrong = [out.name for out in outs if out.suffix.lower() not in KINDS]
    if wrong:
        raise click.BadParameter(f"{wrong[0]!r} does not end in {', '.join(KINDS)}.", param_hint="--out")
    archive = open_archive(folder)
    finding = ask_archive(archive, **question)
    stem = f"kart-{''.join(c if c.isalnum() else '-' for c in finding.kart)}-{finding.measure}"
    outs = outs or (Path(f"{stem}.html"), Path(f"{stem}.png"))
    from lapdelta.sheet.own_units import in_units

    shown = in_units(finding, archive.units, texts=language == "en")
    written = write_pages(shown, outs, nickname, language=language, season=_season(archive, finding))
    if as_json:
        print_json({"pages": [str(path) for path in written], "finding": finding.to_dict()})
        return
    for path in written:
        click.echo(f"Written: {path}")


def _season(archive: Any, finding: Any) -> tuple[int, int] | None:
    """Which question of its season this is, and the season; None where it could not be counted."""
    from lapdelta.asking.beside import beside

    known = beside(archive, finding)
    return None if known.number is None or known.season is None else (known.number, known.season)


def write_pages(
    finding: Any, outs: tuple[Path, ...], nickname: str | None, *, language: str = "en",
    season: tuple[int, int] | None = None,
) -> list[Path]:  # fmt: skip
    """Write the page once for every path, its kind told by the ending."""
    from lapdelta.sheet.page import page_html, page_pdf, page_png

    said: dict[str, Any] = {"nickname": nickname, "language": language, "season": season}
    for out in outs:
        kind = out.suffix.lower()
        out.parent.mkdir(parents=True, exist_ok=True)
        if kind == ".html":
            out.write_text(page_html(finding, **said), encoding="utf-8")
        else:
            draw = page_png if kind == ".png" else page_pdf
            out.write_bytes(draw(finding, **said))
    return [out.resolve() for out in outs]


COMMANDS = {"share": share}
