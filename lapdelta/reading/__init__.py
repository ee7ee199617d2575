"""Timing files to canonical laps: bytes -> cells -> structure -> columns -> laps, and never silently wrong."""

import os
from collections.abc import Mapping

from lapdelta.errors import UnreadableFile
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.model import Question, Reading
from lapdelta.reading.recipe import Recipe, check_answers
from lapdelta.reading.source import load

__all__ = ["Question", "Reading", "Recipe", "UnreadableFile", "read_timing"]


def read_timing(
    path_or_bytes: str | os.PathLike[str] | bytes | bytearray | memoryview,
    name: str | None = None,
    recipe: Recipe | str | os.PathLike[str] | None = None,
    answers: Mapping[str, str] | None = None,
) -> Reading:
    """Read one timing file.

    Args:
        path_or_bytes: a literal path (no wildcards, no address), or the bytes of a file.
        name: file name to use for bytes.
        recipe: a Recipe, the path of one, or its TOML text.
        answers: answers to questions, e.g. ``{"kart": "07", "day_order": "dmy"}``.

    Raises:
        UnreadableFile: for whatever is about the file: missing, empty, binary, no laps in it.
        ValueError: for an unknown answer key or value, or a recipe that is none.
    """
    given = check_answers(answers or {})
    kept = Recipe.load(recipe)
    source = load(path_or_bytes, name)
    return read_fast(source, given, kept) or read_carefully(source, given, kept)
