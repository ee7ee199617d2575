"""Every word that a user reads about a finding: one table of probability words, one catalogue a language."""

from lapdelta.words.amounts import (
    amount,
    direction,
    measure_kind,
    number_text,
    sector_label,
    side_text,
    unit_text,
)
from lapdelta.words.catalogue import LANGUAGES, join, number_word, phrase, plural
from lapdelta.words.counts import moved_as_much, moved_phrase
from lapdelta.words.scale import SCALE, TWENTY, Step, dots_below, in_twenty, probability_word, step_for

__all__ = [
    "LANGUAGES",
    "SCALE",
    "TWENTY",
    "Step",
    "amount",
    "direction",
    "dots_below",
    "in_twenty",
    "join",
    "measure_kind",
    "moved_as_much",
    "moved_phrase",
    "number_text",
    "number_word",
    "phrase",
    "plural",
    "probability_word",
    "sector_label",
    "side_text",
    "step_for",
    "unit_text",
]
