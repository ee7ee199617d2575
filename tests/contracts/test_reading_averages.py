"""An average that was numbered on like a lap: it stays a lap, and the reading says so.

No outside source, worked out by hand: 50.412 + 50.301 + 50.388 + 50.215 = 201.316 s, a quarter of it is 50.329 s.
"""

import random

import pytest

from lapdelta.reading import Reading, Recipe, read_timing
from lapdelta.reading.careful import read_carefully
from lapdelta.reading.fast import read_fast
from lapdelta.reading.source import load
from lapdelta.words.library import said_in

LAPS = ("50.412", "50.301", "50.388", "50.215")


def read(*times: str, more: str = "") -> Reading:
    rows = "".join(f"{lap},{time}\n" for lap, time in enumerate(times, 1))
    return read_timing(f"Kart 7\nLap,Lap time\n{rows}{more}".encode(), name="saturday.csv")


def notes(reading: Reading) -> list[str]:
    return [note for note in reading.notes if "average" in note]


@pytest.mark.parametrize("last", ["50.329", "50.33"])
def test_a_numbered_average_is_said_and_stays(last: str) -> None:
    reading = read(*LAPS, last)
    assert reading.laps.height == 5
    assert reading.set_aside.is_empty()
    assert notes(reading) == [
        "Line 7: its time is exactly the average of the 4 laps above; it may be no lap."
    ]
    assert (said_in(notes(reading)[0], "de") or "").startswith(
        "Zeile 7: ihre Zeit ist genau der Durchschnitt der 4 "
    )


@pytest.mark.parametrize(
    "times",
    [(*LAPS, "50.327"), (*LAPS, "50.332"), (*LAPS, "50.329", "50.401"), ("50.4", "50.3", "50.2", "50.3")],
    ids=["too short", "too long", "a lap below it", "tenths"],
)
def test_no_false_alarm(times: tuple[str, ...]) -> None:
    """Laps to tenths equal their average too often."""
    assert notes(read(*times)) == []


def test_two_laps_have_no_average_that_tells() -> None:
    assert notes(read("50.400", "50.300", "50.350")) == []


def test_a_marked_lap_is_a_lap() -> None:
    text = "Kart,Lap,Lap time,Type\n" + "".join(f"7,{lap},{time},\n" for lap, time in enumerate(LAPS, 1))
    assert notes(read_timing((text + "7,5,50.329,in lap\n").encode(), name="P1.csv")) == []
    assert len(notes(read_timing((text + "7,5,50.329,\n").encode(), name="P1.csv"))) == 1


def test_each_run_has_its_own_average() -> None:
    """The second run of the kart: 51.000 + 51.301 + 51.002 = 153.303 s, a third is 51.101 s."""
    run = "1,51.000\n2,51.301\n3,51.002\n4,51.101\n"
    assert [note[:8] for note in notes(read(*LAPS, "50.329", more="Kart 8\n" + run))] == [
        "Line 7: ",
        "Line 12:",
    ]
    assert [note[:8] for note in notes(read(*LAPS, more=run))] == ["Line 10:"]


def test_many_are_counted_and_both_paths_agree() -> None:
    """All times of a kart but the average are whole hundredths apart, so the average is exact."""
    rng = random.Random(3)
    lines = ["Session,Kart,Lap,Lap time"]
    for kart in range(40):
        times = [60_001 + 10 * rng.randint(0, 200) for _ in range(10)]
        times.append(sum(times) // 10 if kart < 8 else 70_001)
        lines += [f"P1,{kart:02d},{lap},{time / 1000:.3f}" for lap, time in enumerate(times, 1)]
    source = load(("\n".join(lines) + "\n").encode(), "day.csv")
    fast, careful = read_fast(source, {}, Recipe()), read_carefully(source, {}, Recipe())
    assert fast is not None
    assert fast.notes == careful.notes
    found = notes(careful)
    assert len(found) == 6
    assert found[0].startswith("Line 12: ")
    assert found[-1] == "3 more times are exactly the average of the laps above them."
    assert said_in(found[-1], "de") == "3 weitere Zeiten sind genau der Durchschnitt der Runden darüber."
