"""Counts that are said and drawn, made once so that sentence and picture cannot disagree."""

from collections.abc import Iterable, Mapping
from typing import Any

from lapdelta.words.catalogue import phrase


def moved_as_much(placebo: Iterable[Mapping[str, Any]], estimate: float | None) -> tuple[int, int]:
    """How many other karts moved at least as far as ours, in either direction, and how many there are.

    ``placebo`` holds dicts with ``kart``, ``ours`` and ``shift``; ours is compared by its own row,
    or by ``estimate`` where it has none. (0, 0) if there is nothing to compare.
    """
    rows = list(placebo)
    ours = next((float(row["shift"]) for row in rows if row["ours"]), estimate)
    others = [abs(float(row["shift"])) for row in rows if not row["ours"]]
    if ours is None:
        return 0, 0
    return sum(shift >= abs(ours) for shift in others), len(others)


def moved_phrase(key: str, moved: int, total: int, language: str = "en") -> str:
    """The sentence or title ``key`` for none, one, more or all of the other karts; there may be just one of them."""
    form = "none" if moved == 0 else "one" if moved == 1 else "all" if moved == total else "many"
    if total == 1:
        form = f"only_{form}"
    return phrase(f"{key}.{form}", language, n=moved, total=total)
