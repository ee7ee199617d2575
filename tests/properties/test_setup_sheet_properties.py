"""Any setup sheet comes back from CSV as it was; any typed pair is understood, kept, or refused."""

import string

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from lapdelta.errors import SetupError
from lapdelta.setups import parse_setup, read_setup_csv, write_setup_csv
from lapdelta.tables import SETUPS

# Blank text is nothing said; a NUL cannot be in a CSV.
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1).filter(
    lambda text: text.strip()
)
RISKY = st.builds("{}{}".format, st.sampled_from(["=", "+", "-", "@", "'", "'=", "\t", "\r"]), TEXT)
WORDS = TEXT | RISKY

ROW = st.fixed_dictionaries(
    {"event": WORDS, "session": WORDS, "kart": WORDS},
    optional={
        "axle_teeth": st.integers(6, 150),
        "pressure_front_left_bar": st.floats(0.2, 3.5),
        "air_temperature_c": st.floats(-30, 60),
        "notes": WORDS,
        "other": st.dictionaries(WORDS.map(str.strip), WORDS, min_size=1, max_size=3).map(
            lambda pairs: [{"key": key, "value": value} for key, value in pairs.items()]
        ),
    },
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(ROW, min_size=1, max_size=4, unique_by=lambda row: (row["event"], row["session"], row["kart"]))
)
def test_csv_round_trip(rows: list[dict[str, object]]) -> None:
    frame = pl.DataFrame([{**dict.fromkeys(SETUPS), **row} for row in rows], schema=SETUPS)
    back = read_setup_csv(write_setup_csv(frame).encode())
    full = back.with_columns(
        pl.lit(None, dtype=SETUPS[name]).alias(name) for name in SETUPS if name not in back.columns
    ).select(list(SETUPS))
    order = pl.col("other").list.sort()
    assert_frame_equal(full.with_columns(order), frame.with_columns(order))


@settings(max_examples=300, deadline=None)
@given(st.text(string.printable, max_size=40))
def test_nothing_typed_is_lost(typed: str) -> None:
    try:
        row = parse_setup(typed)
    except SetupError:
        return
    typed_letters = [letter for letter in typed if not letter.isspace() and letter != '"']
    if set(row) <= {"other"}:
        kept = "".join(f"{pair['key']}={pair['value']}" for pair in row.get("other", []))
        kept_letters = [letter for letter in kept if not letter.isspace() and letter != '"']
        assert set(kept_letters) == set(typed_letters)
        assert len(kept_letters) == len(typed_letters) or typed.count("=") > 1  # a pair may be typed twice


@given(st.text(string.ascii_lowercase, min_size=8, max_size=12), st.text(string.ascii_letters, min_size=1))
def test_unknown_keys_are_kept_word_for_word(key: str, value: str) -> None:
    assert parse_setup([f"xx{key}={value}"])["other"] == [{"key": f"xx{key}", "value": value}]
