"""File recipes: how one kind of file is to be read, remembered under its header's signature and sharable as text."""

import codecs
import json
import os
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lapdelta.reading.source import Source

#: Answers that hold for one file only; the others hold for every file with that header.
OF_ONE_FILE = frozenset({"kart", "session", "event", "date"})
_CHOICES: dict[str, tuple[str, ...]] = {
    "day_order": ("dmy", "mdy"),
    "decimal_mark": (".", ","),
    "time_unit": ("s", "ms", "day", "clock"),
    "speed_unit": ("km/h", "mph", "m/s"),
    "sectors": ("own", "cumulative"),
}
_SPELLINGS = {
    "decimal_mark": {"point": ".", "dot": ".", "comma": ","},
    "speed_unit": {"kmh": "km/h", "km_h": "km/h", "kph": "km/h", "ms": "m/s", "m_s": "m/s"},
}
#: Canonical names that an answer ``column:<header>`` may give, and the meaning each stands for.
COLUMN_NAMES: dict[str, str] = {
    "session": "session",
    "kart": "kart",
    "driver": "driver",
    "lap": "lap",
    "lap_time_s": "lap_time",
    "top_speed_kmh": "top_speed",
    "peak_rpm": "peak_rpm",
    "date": "date",
    "clock": "clock",
    "marks": "status",
    "sector": "sector",
    "ignore": "ignore",
}
#: The answer which columns are the sectors: their headers in order with ``|`` between them, or that none is.
SECTOR_COLUMNS, NO_SECTORS = "sector_columns", "ignore"
_SHORT_NAMES = {"lap_time": "lap_time", "top_speed": "top_speed", "status": "status", "notes": "notes"}


def column_meaning(name: str) -> str | None:
    """The meaning behind a canonical column name; ``sector_1`` .. ``sector_99`` name the sectors."""
    bare = name.strip().casefold()
    sector = re.fullmatch(r"sector_([1-9]\d?)(?:_s)?", bare)
    if sector:
        return f"sector_{sector.group(1)}"
    return COLUMN_NAMES.get(bare) or _SHORT_NAMES.get(bare)


def check_answers(answers: Mapping[str, str]) -> dict[str, str]:
    """Answers in one spelling; ValueError for a key or value nobody knows."""
    return {key: _checked(key, value) for key, value in answers.items()}


def _checked(key: str, value: str) -> str:
    bare = value.strip()
    if key in OF_ONE_FILE:
        if not bare:
            raise ValueError(f"The answer to {key!r} is empty.")
        if key == "date":
            return _checked_date(bare)
        return bare
    if key in _CHOICES:
        found = _SPELLINGS.get(key, {}).get(bare.casefold(), bare.casefold())
        if found not in _CHOICES[key]:
            raise ValueError(f"{value!r} is no answer to {key!r}; it is one of {', '.join(_CHOICES[key])}.")
        return found
    if key == SECTOR_COLUMNS:
        if bare.casefold() != NO_SECTORS and "|" not in bare:
            raise ValueError(
                f"{value!r} names no columns; write their headers with | between them, or ignore."
            )
        return NO_SECTORS if bare.casefold() == NO_SECTORS else bare
    if key == "encoding":
        try:
            return codecs.lookup(bare).name
        except LookupError:
            raise ValueError(f"{value!r} is no encoding we know.") from None
    if key.startswith("column:") and len(key) > len("column:"):
        if column_meaning(bare) is None:
            names = ", ".join([*COLUMN_NAMES, "sector_1 .."])
            raise ValueError(f"{value!r} is no column we know; it is one of {names}.")
        return bare.casefold()
    keys = ", ".join([*sorted(OF_ONE_FILE), *_CHOICES, SECTOR_COLUMNS, "encoding", "column:<header>"])
    raise ValueError(f"{key!r} is no question we know; the keys are {keys}.")


def _checked_date(value: str) -> str:
    from lapdelta.reading.dates import date_readings

    found = date_readings(value)
    if "sure" not in found:
        raise ValueError(f"{value!r} is no date; write it as 2026-05-16.")
    return found["sure"].isoformat()


@dataclass(frozen=True)
class Recipe:
    """Answers by header signature, answers by file (SHA-256), and how every column was read.

    ``columns`` holds dicts with the keys header, meaning, unit, note: a record for people, not read back.
    """

    by_header: dict[str, dict[str, str]] = field(default_factory=dict[str, dict[str, str]])
    by_file: dict[str, dict[str, str]] = field(default_factory=dict[str, dict[str, str]])
    columns: tuple[dict[str, str], ...] = ()

    def answers_for(self, signature: str, file: Source) -> dict[str, str]:
        """What the recipe answers for a file with that header and those bytes."""
        of_file = (
            self.by_file.get(file.sha256, {}) if self.by_file else {}
        )  # a large file is read for its SHA-256
        return {**self.by_header.get(signature, {}), **of_file}

    def with_answers(self, signature: str, file: Source, answers: Mapping[str, str]) -> "Recipe":
        """A recipe that remembers these answers too."""
        lasting = {key: value for key, value in answers.items() if key not in OF_ONE_FILE}
        once = {key: value for key, value in answers.items() if key in OF_ONE_FILE}
        headers, by_file = dict(self.by_header), dict(self.by_file)
        headers[signature] = {**headers.get(signature, {}), **lasting}
        if once:
            by_file[file.sha256] = {**by_file.get(file.sha256, {}), **once}
        return Recipe(headers, by_file, self.columns)

    def to_toml(self) -> str:
        """The recipe as TOML text."""
        lines = ["# How one kind of timing file is to be read."]
        for kind, group in (("header", self.by_header), ("file", self.by_file)):
            for name, answers in group.items():
                lines += ["", f"[{kind}.{_quoted(name)}]"]
                lines += [f"{_quoted(key)} = {_quoted(value)}" for key, value in answers.items()]
        for column in self.columns:
            lines += ["", "[[column]]", *(f"{key} = {_quoted(value)}" for key, value in column.items())]
        return "\n".join(lines) + "\n"

    @classmethod
    def from_toml(cls, text: str) -> "Recipe":
        """The recipe that a TOML text holds; ValueError where it is none."""
        try:
            data = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise ValueError(f"This is no file recipe: {error}.") from None
        if set(data) - {"header", "file", "column"}:
            raise ValueError("This is no file recipe: it holds parts we do not know.")
        groups = [_group(data.get(kind, {})) for kind in ("header", "file")]
        columns = tuple(
            {str(key): str(value) for key, value in column.items()} for column in data.get("column", [])
        )
        return cls(groups[0], groups[1], columns)

    @classmethod
    def load(cls, recipe: "Recipe | str | os.PathLike[str] | None") -> "Recipe":
        """A recipe from a Recipe, a path, TOML text, or nothing."""
        if recipe is None:
            return cls()
        if isinstance(recipe, Recipe):
            return recipe
        text = str(recipe)
        if isinstance(recipe, str) and (not text.strip() or "\n" in text or "=" in text):
            return cls.from_toml(text)
        try:
            return cls.from_toml(Path(text).read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError):
            raise ValueError(f"The file recipe {text!r} cannot be read.") from None


def _group(part: Any) -> dict[str, dict[str, str]]:
    if not isinstance(part, dict) or not all(isinstance(answers, dict) for answers in part.values()):  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType]
        raise ValueError("This is no file recipe: its answers are not in tables.")
    found: dict[str, dict[str, str]] = {}
    for name, answers in part.items():  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType]
        found[str(name)] = check_answers({str(key): str(value) for key, value in answers.items()})  # pyright: ignore[reportUnknownVariableType, reportUnknownMemberType, reportUnknownArgumentType]
    return found


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
