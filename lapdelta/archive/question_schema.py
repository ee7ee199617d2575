"""Columns of the questions written down in advance, and of the record of what was asked."""

import polars as pl

#: Which way a change is expected to go. ``slower`` and ``lower`` are there for changes made for another reason.
EXPECTED = ("faster", "slower", "higher", "lower", "no difference")

#: Questions as ``Archive.questions`` gives them. ``question``: its id, that of the entry which wrote it first.
#: ``margin``: in the measure's unit. ``in_advance``: what was fixed (all but ``wish`` and ``words``) was last
#: written while the archive held no laps of the sessions after the change. ``at``: first written, UTC.
QUESTIONS = pl.Schema(
    {
        "question": pl.String(),
        "event": pl.String(),
        "kart": pl.String(),
        "changed": pl.String(),
        "before": pl.List(pl.String()),
        "after": pl.List(pl.String()),
        "measure": pl.String(),
        "margin": pl.Float64(),
        "expected": pl.String(),
        "wish": pl.String(),
        "words": pl.String(),
        "in_advance": pl.Boolean(),
        "at": pl.Datetime("us", "UTC"),
    }
)

#: On the disk: one row a change, null = not touched, cleared = emptied.
QUESTION_ROWS = pl.Schema(
    {
        "entry": pl.String(),
        **{name: kind for name, kind in QUESTIONS.items() if name != "at"},
        "cleared": pl.List(pl.String()),
    }
)

#: What was asked of the archive, one row a question, each once. Sessions sorted.
ASKED = pl.Schema(
    {
        "entry": pl.String(),
        "event": pl.String(),
        "kart": pl.String(),
        "measure": pl.String(),
        "before": pl.List(pl.String()),
        "after": pl.List(pl.String()),
    }
)
