"""Laps set aside by hand: an answer that leaves any of them out says so."""

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from lapdelta.effect.finding import FLAGS, Finding

if TYPE_CHECKING:
    from lapdelta.archive import Archive

CHECK = "laps by hand"


def with_hands(archive: "Archive", finding: Finding) -> Finding:
    """The finding; if laps of its sessions were set aside by hand it has the flag, a reason and a failed check.

    The laps of whatever kart count: another kart's move the comparison too.
    """
    aside = archive.set_aside.filter(
        pl.col("event") == finding.settings["event"],
        pl.col("session").is_in([*finding.before, *finding.after]),
    )
    if aside.is_empty():
        return finding
    ours = aside.filter(pl.col("kart") == finding.kart).height
    sessions = ", ".join(aside["session"].unique(maintain_order=True).to_list())
    text = f"{_say(ours, aside.height - ours)} set aside by hand ({sessions})"
    flags = {*finding.flags, "hands_used"}
    return replace(
        finding,
        flags=tuple(flag for flag in FLAGS if flag in flags),
        reasons=(*finding.reasons, f"{text}: the answer rests on that choice."),
        checks=(
            *finding.checks,
            (CHECK, False, f"{text}; put them back and ask again to see what they did."),
        ),
    )


def _say(ours: int, others: int) -> str:
    """``1 lap of ours and 2 of other karts were``."""
    laps = f"{ours} {'lap' if ours == 1 else 'laps'} of ours" if ours else ""
    if not others:
        return f"{laps} {'was' if ours == 1 else 'were'}"
    theirs = (
        f"{others} of other karts" if ours else f"{others} {'lap' if others == 1 else 'laps'} of other karts"
    )
    return f"{laps} and {theirs} were" if ours else f"{theirs} {'was' if others == 1 else 'were'}"
