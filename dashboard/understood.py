"""What was understood of one timing file, and the ways to correct it: questions, columns by hand, the recipe."""

from typing import TYPE_CHECKING, Any, Final

import polars as pl
import streamlit as st

from dashboard.first_look import measure_label
from dashboard.plain import plain
from dashboard.reading_files import answers
from dashboard.says import count, mark, say, told
from dashboard.shown import table
from lapdelta.archive.export import csv_ready
from lapdelta.reading.recipe import COLUMN_NAMES

if TYPE_CHECKING:
    from dashboard.reading_files import Uploaded
    from lapdelta import Reading

_PREVIEW_LAPS: Final = 6
#: Column of the laps -> its unit, in the order in which the preview shows them.
_PREVIEW_COLUMNS: Final = {
    "session": "", "kart": "", "driver": "", "lap": "", "lap_time_s": "s", "sector_times_s": "s",
    "top_speed_kmh": "km/h", "peak_rpm": "", "date": "", "clock": "", "marks": "",
}  # fmt: skip
_ROWS_SHOWN: Final = 200
_SECTORS_BY_HAND: Final = tuple(f"sector_{number}" for number in range(1, 10))


def understood(reading: "Reading") -> None:
    """Laps, sessions, karts and the account of lines; columns, preview and rows set aside to open."""
    laps, account = reading.laps, reading.account
    sessions: list[str] = laps["session"].unique(maintain_order=True).to_list()
    known = sum(account["known"].values())
    parts = [
        count("bring.laps", account["laps"]),
        count("bring.karts", laps["kart"].n_unique()),
        count("bring.sessions", len(sessions)),
    ]
    whole = f"{', '.join(parts)} ({plain(', '.join(sessions))})"
    st.markdown(whole if account["laps"] else mark("bring.no_laps"))
    st.caption(
        mark(
            "bring.account", lines=account["lines"], laps=account["lap_lines"], known=known,
            aside=account["set_aside_lines"],
        )
    )  # fmt: skip
    for note in reading.notes:
        st.caption(plain(told(note)))
    if reading.set_aside.height:
        with st.expander(mark("bring.aside", n=reading.set_aside.height)):
            _set_aside(reading.set_aside)
    if account["laps"]:
        with st.expander(mark("bring.preview")):
            _preview(laps)


def _set_aside(rows: pl.DataFrame) -> None:
    shown = [
        {say("bring.line"): row["line"], say("bring.column"): row["column"], say("bring.text"): row["text"],
         say("bring.reason"): _reasons(row["reason"])}
        for row in rows.head(_ROWS_SHOWN).to_dicts()
    ]  # fmt: skip
    table(say("bring.aside.title"), shown)
    if rows.height > _ROWS_SHOWN:
        st.caption(mark("bring.aside.more", n=_ROWS_SHOWN, total=rows.height))
        st.download_button(
            mark("bring.aside.save"), csv_ready(rows).write_csv().encode(), "set-aside.csv", "text/csv"
        )


def _reasons(reason: str) -> str:
    """Why a row or cell was set aside; a row may have several reasons."""
    return "; ".join(told(one) for one in reason.split("; "))


def _preview(laps: pl.DataFrame) -> None:
    """The first laps, only columns that hold something."""
    first = laps.head(_PREVIEW_LAPS)
    names = [name for name in _PREVIEW_COLUMNS if any(value or value == 0 for value in first[name].to_list())]
    rows = [{_preview_name(name): row[name] for name in names} for row in first.to_dicts()]
    table(say("bring.preview.title"), rows, heading=False)


def _preview_name(name: str) -> str:
    unit = _PREVIEW_COLUMNS[name]
    return f"{say(f'column.{name}')}, {unit}" if unit else say(f"column.{name}")


def ask(question: Any, file: "Uploaded") -> None:
    """One open question; an answer is taken at once and the file read again."""
    widget = f"answer_{file.file_id}_{question.key}"
    if question.options:
        given = st.radio(
            plain(told(question.text)), question.options, index=None, key=widget, format_func=_answer
        )
    else:
        given = st.text_input(plain(told(question.text)), key=widget) or None
    if given and answers(file).get(question.key) != given:
        answers(file)[question.key] = given
        st.rerun()


def _answer(option: str) -> str:
    """What may be answered, as it is read: a kind of column by its name, all else as the library says it."""
    return plain(
        _meaning(COLUMN_NAMES[option]) if option in COLUMN_NAMES else told(option.replace("|", ", "))
    )


def by_hand(reading: "Reading", file: "Uploaded") -> None:
    """How each column was read, each with a picker to read it otherwise; what was said can be saved as a recipe."""
    with st.expander(mark("bring.columns")):
        st.caption(mark("bring.columns.why"))
        for column in reading.columns:
            _column(column, file)
        st.download_button(
            mark("bring.recipe.save"), reading.recipe.to_toml(), f"{_stem(file.name)}.recipe.toml", "text/plain",
            key=f"recipe_{file.file_id}", on_click="ignore",
        )  # fmt: skip


def _column(column: Any, file: "Uploaded") -> None:
    header = column["header"]
    key = f"column:{header}"
    read_as = ", ".join(part for part in (_meaning(column["meaning"]), _unit(column["unit"])) if part)
    read_as = read_as or say("bring.unknown")
    note = f" ({told(column['note'])})" if column["note"] else ""
    options = ["", *COLUMN_NAMES, *_SECTORS_BY_HAND]
    given = answers(file).get(key, "")
    picked = st.selectbox(
        f"{plain(header or '–')}: {plain(read_as)}{plain(note)}", options,
        index=options.index(given) if given in options else 0, key=f"{file.file_id}_{key}",
        format_func=lambda name: _meaning(COLUMN_NAMES.get(name, name)) if name else say("bring.as_read"),
    )  # fmt: skip
    if picked == given:
        return
    if picked:
        answers(file)[key] = picked
    else:
        answers(file).pop(key, None)
    st.rerun()


def _meaning(meaning: str) -> str:
    """What a column was read as, in the words of the picker where it has them."""
    name = next((name for name, stands_for in COLUMN_NAMES.items() if stands_for == meaning), None)
    if name is None and meaning.startswith("sector_"):
        return measure_label(meaning)
    return say(f"column.{name}") if name else meaning.replace("_", " ")


def _unit(unit: str | None) -> str:
    """The unit as it is written; that a time is one of day is said already."""
    return "" if unit is None or unit == "clock" else unit.replace("_", "/")


def _stem(name: str) -> str:
    """The file's name without its ending, of letters and digits only."""
    stem = name.rpartition(".")[0] or name
    return "".join(character if character.isalnum() else "-" for character in stem)
