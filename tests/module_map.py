"""The map of modules in DEVELOPERS.md, made from the first sentence of every module: ``python tests/module_map.py``."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
DEVELOPERS = ROOT / "DEVELOPERS.md"
BETWEEN = re.compile(r"(?<=<!-- map -->\n).*?(?=<!-- end of map -->)", re.S)

#: folder -> what stands above its table; in the order of the data's way.
ROOMS = {
    "lapdelta": "The public path and what all rooms know",
    "lapdelta/reading": "Reading: bytes to laps",
    "lapdelta/archive": "Archive: keep, with a history and a way back",
    "lapdelta/setups": "Setups: what was on the kart",
    "lapdelta/effect": "Effect: the statistics, arrays in, dataclasses out",
    "lapdelta/gearing": "Gearing",
    "lapdelta/question": "Question: tables to arrays",
    "lapdelta/planning": "Planning",
    "lapdelta/asking": "Asking an archive",
    "lapdelta/seasons": "Seasons",
    "lapdelta/parts": "Parts",
    "lapdelta/words": "Words: one table of wording for each language",
    "lapdelta/pictures": "Pictures: one chart a file",
    "lapdelta/sheet": "Sheet: sentences and the page to share",
    "lapdelta/what_next": "What next",
    "lapdelta/cli": "Command line: one thin function a command",
    "dashboard": "Dashboard: one file a page, no number computed",
    "sample_sessions": "Sample season",
}


def modules(folder: str) -> list[Path]:
    """Modules of a room; for ``lapdelta`` those at the top only."""
    path = ROOT / folder
    files = path.glob("*.py") if folder == "lapdelta" else path.rglob("*.py")
    named = (file for file in files if file.name != "__init__.py" or folder.startswith("lapdelta"))
    return sorted(named, key=lambda file: (file.parent.as_posix(), file.name != "__init__.py", file.name))


def row(file: Path) -> str:
    """Path and first sentence of a module."""
    said = ast.get_docstring(ast.parse(file.read_text(encoding="utf-8"))) or ""
    first = " ".join(said.split("\n\n")[0].split()).replace("|", "/")
    return f"| `{file.relative_to(ROOT).as_posix()}` | {first} |"


def the_map() -> str:
    """All of it, as it stands in DEVELOPERS.md between its marks."""
    lines: list[str] = []
    for folder, title in ROOMS.items():
        rows = [row(file) for file in modules(folder)]
        lines += [f"### {title}", "", "| module | what it is for |", "| --- | --- |", *rows, ""]
    return "\n".join(lines)


def written(text: str) -> str:
    """The map that stands in a text."""
    found = BETWEEN.search(text)
    return found[0] if found else ""


if __name__ == "__main__":
    old = DEVELOPERS.read_text(encoding="utf-8")
    DEVELOPERS.write_text(BETWEEN.sub(lambda _: the_map(), old), encoding="utf-8")
