"""The line account: every physical line is booked exactly once, and the sum is proved."""

from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import polars as pl

from lapdelta.reading.dialect import Record
from lapdelta.tables import SET_ASIDE


@dataclass
class Ledger:
    """Bookings of one file: 1-based line -> kind (``lap``, ``set_aside``, or a known kind of non-lap).

    ``plain_laps``: lines with one lap each that were proved together.
    """

    lines: int
    plain_laps: int = 0
    booked: dict[int, str] = field(default_factory=dict[int, str])
    rows: list[tuple[int, str | None, str, str]] = field(
        default_factory=list[tuple[int, str | None, str, str]]
    )

    def _book(self, record: Record, kind: str) -> None:
        for line in range(record.line, record.line + record.span):
            if line in self.booked:
                raise AssertionError(f"line {line} is counted twice: {self.booked[line]}, {kind}")
            self.booked[line] = kind if line == record.line else "continuation"

    def lap(self, record: Record) -> None:
        """The record gives at least one lap."""
        self._book(record, "lap")

    def known(self, record: Record, kind: str) -> None:
        """The record is a known non-lap: header, title, units, comment, blank, summary, ..."""
        self._book(record, kind)

    def set_aside(self, record: Record, reason: str) -> None:
        """The whole record is kept but not used."""
        self._book(record, "set_aside")
        self.rows.append((record.line, None, record.text, reason))

    def set_aside_cell(self, line: int, column: str, text: str, reason: str) -> None:
        """One cell is kept but not used; its lap, if any, stays."""
        self.rows.append((line, column, text, reason))

    def table(self) -> pl.DataFrame:
        """What was set aside, in file order."""
        ordered = sorted(self.rows, key=lambda row: row[0])
        return pl.DataFrame(ordered, schema=SET_ASIDE, orient="row")

    def account(self, laps: int) -> dict[str, Any]:
        """The account; raises AssertionError where a line is missing."""
        kinds = Counter(self.booked.values())
        lap_lines, set_aside = kinds.pop("lap", 0) + self.plain_laps, kinds.pop("set_aside", 0)
        account = {
            "lines": self.lines,
            "lap_lines": lap_lines,
            "laps": laps,
            "known": dict(sorted(kinds.items())),
            "set_aside_lines": set_aside,
            "set_aside_cells": sum(1 for row in self.rows if row[1] is not None),
        }
        if lap_lines + sum(kinds.values()) + set_aside != self.lines or (laps > 0) != (lap_lines > 0):
            raise AssertionError(f"the line account does not add up: {account}")
        return account
