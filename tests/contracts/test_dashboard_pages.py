"""Each page on its own, without a browser: what is on it, empty and full, and what its buttons do."""

import ast
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import streamlit as st
from sample_archive import make_archive
from streamlit.testing.v1 import AppTest

import dashboard
import lapdelta
from dashboard.launch import ARCHIVE_VARIABLE, PortTaken, free_port
from dashboard.plain import plain
from lapdelta.asking import ask
from lapdelta.sheet.sentences import headline
from sample_sessions import FOLDER

OLD, NEW = ("P1", "P4", "P6", "P7"), ("P2", "P3", "P5", "P8")
SLOWEST_S = 30


def draw(page: str) -> None:
    import importlib

    from dashboard.card import error_card

    with error_card():
        importlib.import_module(f"dashboard.views.{page}").show()


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> lapdelta.Archive:
    return make_archive(tmp_path_factory.mktemp("full") / "archive")


@pytest.fixture
def open_page(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Any]:
    def run(page: str, folder: Path | None = None, **state: Any) -> AppTest:
        monkeypatch.setenv(ARCHIVE_VARIABLE, str(folder or tmp_path / "empty"))
        app = AppTest.from_function(draw, kwargs={"page": page}, default_timeout=SLOWEST_S)
        for name, value in state.items():
            app.session_state[name] = value
        return app.run()

    yield run
    st.cache_resource.clear()
    st.cache_data.clear()


def text_of(app: AppTest) -> str:
    parts = [*app.title, *app.subheader, *app.markdown, *app.info, *app.error, *app.success, *app.caption]
    return "\n".join(part.value for part in parts).replace("\\", "")


def test_the_first_page_of_the_app_runs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(tmp_path / "archive"))
    folder = Path(dashboard.__file__).parent
    app = AppTest.from_file(str(folder / "app.py"), default_timeout=SLOWEST_S).run()
    assert app.title[0].value == "Did it help?"
    assert not app.error
    assert not app.exception


@pytest.mark.parametrize("page", ["did_it_help", "why", "show_driver", "bring_in"])
def test_an_empty_page_says_what_it_is_for(open_page: Any, page: str) -> None:
    app = open_page(page)
    assert app.title[0].value.endswith(("?", "so", "driver", "timing"))
    assert "Here" in text_of(app) or "Any CSV" in text_of(app)
    assert not app.error
    assert not app.exception


def test_the_answer_is_the_one_of_the_library(open_page: Any, full: lapdelta.Archive) -> None:
    app = open_page("did_it_help", full.folder)
    assert not app.error
    assert tuple(app.button_group[0].value) == OLD
    assert tuple(app.button_group[1].value) == NEW
    expected = ask(full, event="2025-05-18", kart="07", before=OLD, after=NEW, margin=0.10)
    assert headline(expected) in text_of(app)
    assert app.subheader[0].value == expected.verdict.capitalize()
    assert "What to do now" in text_of(app)
    assert app.session_state["question"].before == OLD


def test_another_measure_is_one_click_away(open_page: Any, full: lapdelta.Archive) -> None:
    app = open_page("did_it_help", full.folder)
    app.button_group[2].set_value("top_speed").run()
    assert not app.error
    assert "top speed" in text_of(app)
    assert "km/h" in app.number_input[0].label


def test_no_sessions_chosen_asks_for_them(open_page: Any, full: lapdelta.Archive) -> None:
    app = open_page("did_it_help", full.folder)
    app.button_group[1].set_value([]).run()
    assert "Choose the sessions" in text_of(app)
    assert not app.error


def test_why_shows_pictures_checks_and_choices(open_page: Any, full: lapdelta.Archive) -> None:
    from dashboard.state import Question

    asked = Question("2025-05-18", "07", OLD, NEW, "lap_time", 0.1)
    app = open_page("why", full.folder, question=asked)
    assert not app.error
    text = text_of(app)
    for title in ("Checks", "Where on the lap", "If we had chosen otherwise", "Laps of our kart"):
        assert title in text
    assert len(app.get("vega_lite_chart")) == 2


def test_the_driver_page_offers_three_forms(open_page: Any, full: lapdelta.Archive) -> None:
    from dashboard.state import Question

    asked = Question("2025-05-18", "07", OLD, NEW, "lap_time", 0.1)
    app = open_page("show_driver", full.folder, question=asked)
    assert not app.error
    labels = " ".join(button.proto.label for button in app.get("download_button"))
    assert all(kind in labels for kind in ("PNG", "HTML", "PDF"))
    app.text_input[0].set_value("Biene").run()
    assert not app.error


def test_nothing_is_written_before_keep_and_undo_takes_it_back(open_page: Any, tmp_path: Path) -> None:
    folder = tmp_path / "archive"
    data = (FOLDER / "2025-04-13" / "practice.csv").read_bytes()
    app = open_page("bring_in", folder)
    app.file_uploader[0].set_value([("practice.csv", data, "text/csv")]).run()
    reading = lapdelta.read_timing(data, name="practice.csv")
    assert f"{reading.laps.height} laps" in text_of(app)
    assert lapdelta.Archive(folder).history().is_empty()
    next(button for button in app.button if button.label.startswith("Keep")).click().run()
    assert not app.error
    assert lapdelta.Archive(folder).laps().height == reading.laps.height
    next(button for button in app.button if button.label == "Undo").click().run()
    assert lapdelta.Archive(folder).laps().is_empty()


def test_rows_set_aside_are_listed_with_line_and_reason(open_page: Any) -> None:
    data = (FOLDER / "2025-05-18" / "practice.csv").read_bytes()
    app = open_page("bring_in")
    app.file_uploader[0].set_value([("practice.csv", data, "text/csv")]).run()
    reading = lapdelta.read_timing(data, name="practice.csv")
    shown = next(frame.value for frame in app.dataframe if "reason" in frame.value)
    assert list(shown["line"]) == reading.set_aside["line"].to_list()
    assert list(shown["reason"]) == reading.set_aside["reason"].to_list()


def test_a_question_is_answered_by_clicking_and_holds_back_keep(open_page: Any) -> None:
    data = b"Lap,Lap time,Date\n1,60.1,03/04/2025\n2,60.2,03/04/2025\n3,60.3,03/04/2025\n"
    app = open_page("bring_in")
    app.file_uploader[0].set_value([("P1.csv", data, "text/csv")]).run()
    keep = next(button for button in app.button if button.label.startswith("Keep"))
    assert keep.disabled
    for _ in range(6):
        if app.radio:
            app.radio[0].set_value(app.radio[0].options[0]).run()
        elif len(app.text_input) and not app.text_input[0].value and app.text_input[0].label != "Event":
            app.text_input[0].set_value("07").run()
    assert not app.error
    keep = next(button for button in app.button if button.label.startswith("Keep"))
    assert not keep.disabled


def test_a_file_that_cannot_be_read_says_so_and_what_to_do(open_page: Any) -> None:
    app = open_page("bring_in")
    app.file_uploader[0].set_value([("x.csv", b"\x89PNG\r\n\x1a\n" + bytes(64), "text/csv")]).run()
    assert "What to do:" in app.error[0].value
    assert next(button for button in app.button if button.label.startswith("Keep")).disabled


def test_a_defect_gets_our_own_card(monkeypatch: pytest.MonkeyPatch, open_page: Any) -> None:
    def broken() -> bool:
        raise RuntimeError("made to fail")

    monkeypatch.setattr("dashboard.asking.anything_kept", broken)
    app = open_page("did_it_help")
    assert "What to do:" in app.error[0].value
    assert "RuntimeError" not in app.error[0].value
    assert not app.exception
    assert app.get("download_button")


@pytest.mark.parametrize(
    "text", ["![x](http://a.b/c.png)", "<b>", "$x$", ":red[x]", "# 1", "a_b*c`d`", "www.x.org"]
)
def test_text_of_a_file_is_never_markup(text: str) -> None:
    shown = plain(text)
    assert shown.replace("\\", "") == text
    for mark in "![<$:#*`_.":
        assert shown.count(mark) == shown.count("\\" + mark)


def test_a_busy_port_is_a_plain_error_and_a_free_one_is_found() -> None:
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        port = busy.getsockname()[1]
        with pytest.raises(PortTaken, match="in use"):
            free_port(port)
    assert free_port(port) == port
    assert 1 <= free_port() <= 65535


def test_the_pages_compute_no_numbers() -> None:
    folder = Path(dashboard.__file__).parent
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not {name.split(".")[0] for name in names} & {"numpy", "scipy", "altair", "statistics"}, (
                path
            )
