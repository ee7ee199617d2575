"""Laps set aside by hand: an answer that leaves any of them out says so."""

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from lapdelta.effect.finding import FLAGS, Finding

if TYPE_CHECKING:
    from lapdelta.archive import Archive


def with_hands(archive: "Archive", finding: Finding) -> Finding:
    """The finding, flagged ``hands_used`` if laps of its sessions were set aside by hand, of whatever kart."""
    aside = archive.set_aside.filter(
        pl.col("event") == finding.settings["event"],
        pl.col("session").is_in([*finding.before, *finding.after]),
    )
    if aside.is_empty():
        return finding
    flags = {*finding.flags, "hands_used"}
    return replace(finding, flags=tuple(flag for flag in FLAGS if flag in flags))
