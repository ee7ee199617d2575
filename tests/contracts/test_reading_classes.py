"""Fixture files of every class of trouble, made by us, with the laps they hold beside them; the corpus and its score.

``NAME.txt`` is a timing file as some timekeeper, club or parent might have written it; ``NAME.laps.json`` says under
which name it is read, whether it is read, asked about or refused, and every lap in it.
"""

import json
from collections import Counter
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from reading_corpus import make

from lapdelta.reading import Reading, UnreadableFile, read_timing

FOLDER = Path(__file__).parent.parent / "data" / "reading"
FILES = sorted(FOLDER.glob("*/*.txt"))
#: Fewest fixture files a class may have, and how many further files are made from seeds for the score.
FEWEST, MADE = 3, 150


def expected(path: Path) -> dict[str, Any]:
    return json.loads(path.with_name(path.stem + ".laps.json").read_text(encoding="utf-8"))


def rows(reading: Reading) -> list[dict[str, Any]]:
    """Laps as the expectation writes them: times to 1e-4 s, dates and clocks as text."""
    found = reading.laps.drop("source_file").to_dicts()
    for row in found:
        row["lap_time_s"] = round(row["lap_time_s"], 4)
        row["sector_times_s"] = [None if part is None else round(part, 4) for part in row["sector_times_s"]]
        row["date"] = row["date"] and row["date"].isoformat()
        row["clock"] = row["clock"] and row["clock"].isoformat()
        row["top_speed_kmh"] = row["top_speed_kmh"] and round(row["top_speed_kmh"], 4)
    return found


def differences(reading: Reading, wanted: dict[str, Any]) -> list[tuple[Any, Any]]:
    """(found, wanted) of the laps that differ; marks in any order."""
    laps = wanted["laps"]
    for row in laps:
        row["top_speed_kmh"] = row["top_speed_kmh"] and round(row["top_speed_kmh"], 4)
    found = rows(reading)
    for row in [*found, *laps]:
        row["marks"] = sorted(row["marks"])
    if len(found) != len(laps):
        return [(len(found), len(laps))]
    laps.sort(key=lambda row: row["source_line"])  # file order; laps of one line as the line has them
    return [pair for pair in zip(found, laps, strict=True) if pair[0] != pair[1]]


def check(path: Path) -> None:
    wanted = expected(path)
    data = path.read_bytes()
    if wanted["outcome"] == "refused":
        with pytest.raises(UnreadableFile):
            read_timing(data, name=wanted["name"])
        return
    reading = read_timing(data, name=wanted["name"])
    if wanted["outcome"] == "asked":
        assert wanted["question"] in [question.key for question in reading.questions]
        assert reading.laps.is_empty()
        reading = read_timing(data, name=wanted["name"], answers=wanted["answers"])
    assert reading.questions == ()
    assert differences(reading, wanted) == []
    account = reading.account
    booked = account["lap_lines"] + sum(account["known"].values()) + account["set_aside_lines"]
    assert account["lines"] == booked
    if wanted["set_aside_lines"] is not None:
        assert account["set_aside_lines"] == wanted["set_aside_lines"]


@pytest.mark.parametrize("path", FILES, ids=[f"{path.parent.name}/{path.stem}" for path in FILES])
def test_a_fixture_file_reads_to_its_laps(path: Path) -> None:
    check(path)


def test_every_class_has_its_files() -> None:
    counts = Counter(path.parent.name for path in FILES)
    assert len(counts) == 8
    assert min(counts.values()) >= FEWEST
    assert all(path.with_name(path.stem + ".laps.json").exists() for path in FILES)


def test_the_corpus_and_its_score(capsys: pytest.CaptureFixture[str]) -> None:
    """At least 95 % exact, none silently wrong; the size and the score are printed."""
    score: Counter[str] = Counter()
    for seed in range(1_000_000, 1_000_000 + MADE):
        made = make(seed)
        reading = read_timing(made.data, name="P1.csv")
        wanted = sorted((kart, lap, time) for kart, _, lap, time, *_ in made.laps)
        found = sorted(reading.laps.select("kart", "lap", pl.col("lap_time_s").round(4)).rows())
        score["asked" if reading.questions else "exact" if found == wanted else "wrong"] += 1
    for path in FILES:
        try:
            check(path)
        except (AssertionError, pytest.fail.Exception):
            score["wrong"] += 1
        else:
            score["exact"] += 1
    total = sum(score.values())
    with capsys.disabled():
        classes = dict(sorted(Counter(path.parent.name for path in FILES).items()))
        print(f"\nreading corpus: {total} files, {len(FILES)} of them fixtures {classes}; {dict(score)}")
    assert score["wrong"] == 0
    assert score["exact"] >= 0.95 * total
