"""Tables that hold times but no laps that can be told: why not, and how to mend the file."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Refusal:
    """Why a table gives no laps: ``reason`` beside each row; ``seen`` and ``mend`` for the whole file."""

    reason: str
    seen: str
    mend: str


SECTORS_ONLY = Refusal(
    "a sector without its lap time",
    "The rows of this table are sectors of the laps, and none of them is the lap time.",
    "Add a row with the lap times, or export the file with a lap a line.",
)
NOT_TOLD_APART = Refusal(
    "several rows for the same laps, and nothing tells them apart",
    "Several rows of this table are for the same laps, and nothing tells them apart.",
    "Say in the first column whose laps each row holds, or export the file with a lap a line.",
)
SIDE_BY_SIDE = Refusal(
    "tables side by side, and nothing tells whose laps each holds",
    "Tables stand side by side in this file, and nothing tells whose laps each holds.",
    "Write the kart or the session above the first column of each, or put the tables below each other.",
)
NO_HEADER = Refusal(
    "several times in a row, and no header tells what they are",
    "Every row of this file holds several times, and no header tells what they are.",
    "Write a header above them, such as Kart, Lap 1, Lap 2, or export the file with a lap a line.",
)
