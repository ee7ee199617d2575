"""What only the laps of a file together show: it is said in notes, and nothing is changed for it."""

from collections.abc import Collection

import polars as pl

from lapdelta.reading.averages import average_notes

#: Files with more laps are no notebooks: nobody copies blocks or heads in them by hand, and notes would be too many.
_BY_HAND = 20_000
#: Fewest laps that are alike, and fewest karts that count on, before it is no chance.
_ALIKE, _COUNTING = 4, 4


def second_look(laps: pl.DataFrame, titled: Collection[str]) -> list[str]:
    """Notes on the laps of a file, in file order; ``titled``: karts that titles say."""
    if not 0 < laps.height <= _BY_HAND:
        return []
    return [*average_notes(laps), *_other_kart(laps, titled), *_copies(laps), *_swapped(laps)]


def _other_kart(laps: pl.DataFrame, titled: Collection[str]) -> list[str]:
    """A title names a kart of which no lap is."""
    karts = laps["kart"].unique(maintain_order=True).to_list()
    return [
        f"A title says kart {said}, but the laps are of {', '.join(karts[:3])}."
        for said in titled
        if said not in karts
    ]


def _copies(laps: pl.DataFrame) -> list[str]:
    """Two karts, or sessions, have the same times lap by lap."""
    runs = laps.group_by("session", "kart", maintain_order=True).agg("lap_time_s")
    first: dict[tuple[float, ...], str] = {}
    notes: list[str] = []
    for session, kart, times in runs.iter_rows():
        own = f"kart {kart} in {session}"
        name = first.setdefault(tuple(times), own)
        if name != own and len(times) >= _ALIKE:
            notes.append(f"The {len(times)} times of {own} are those of {name}: one may be a copy.")
    return notes


def _swapped(laps: pl.DataFrame) -> list[str]:
    """The lap number stays while the kart counts 1, 2, 3: the two heads may have changed places."""
    runs = laps.group_by("session", "lap", maintain_order=True).agg("kart")
    counts = [
        len(karts) >= _COUNTING and list(karts) == [str(n) for n in range(1, len(karts) + 1)]
        for karts in runs["kart"].to_list()
    ]
    low = laps["lap"].min()
    if not all(counts) or not isinstance(low, int) or low == 1:
        return []
    return ["The lap number stays while the kart counts 1, 2, 3: the two headers may have changed places."]
