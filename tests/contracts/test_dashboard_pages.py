"""Each page on its own, without a browser: what is on it, empty and full, and what its buttons do."""

import ast
import re
import shutil
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
import pytest
import streamlit as st
from sample_archive import make_archive
from streamlit.testing.v1 import AppTest

import dashboard
import lapdelta
from dashboard.kept import KeptArchive
from dashboard.launch import ARCHIVE_VARIABLE, PortTaken, free_port
from dashboard.plain import plain
from dashboard.question import Question, last_asked
from dashboard.views import PAGES
from lapdelta.archive import Archive
from lapdelta.asking.archive_question import ask
from lapdelta.parts.charged import box
from lapdelta.seasons.sentences import CAUTION
from lapdelta.setups import setup_row
from lapdelta.sheet.sentences import headline
from lapdelta.words import phrase
from sample_sessions import FOLDER

OLD, NEW = ("P1", "P4", "P6", "P7"), ("P2", "P3", "P5", "P8")
EVENT = "2025-05-18"
ASKED = Question(EVENT, "07", OLD, NEW, "lap_time", 0.1)
SLOWEST_S = 30


def draw(page: str) -> None:
    import importlib

    from dashboard.card import error_card

    with error_card():
        importlib.import_module(f"dashboard.views.{page}").show()


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_archive(tmp_path_factory.mktemp("full") / "archive").folder


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive that nothing is written to."""
    return tmp_path_factory.mktemp("empty") / "archive"


@pytest.fixture
def mine(full: Path, tmp_path: Path) -> Path:
    """A copy that a test may write to."""
    return Path(shutil.copytree(full, tmp_path / "archive"))


@pytest.fixture(scope="module", autouse=True)
def no_components() -> Iterator[None]:
    """Every run of a page in a test would read the metadata of all packages, for components that we have none of."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("streamlit.components.v2.manifest_scanner.scan_component_manifests", list)
        yield


@pytest.fixture(scope="module", autouse=True)
def forget() -> Iterator[None]:
    """What is kept is kept by folder, so the tests of this file may share it."""
    yield
    st.cache_resource.clear()
    st.cache_data.clear()


@pytest.fixture
def open_page(monkeypatch: pytest.MonkeyPatch, empty: Path) -> Any:
    def run(page: str, folder: Path | None = None, **state: Any) -> AppTest:
        monkeypatch.setenv(ARCHIVE_VARIABLE, str(folder or empty))
        app = AppTest.from_function(draw, kwargs={"page": page}, default_timeout=SLOWEST_S)
        for name, value in state.items():
            app.session_state[name] = value
        return app.run()

    return run


def text_of(app: AppTest) -> str:
    shown = [app.title, app.header, app.markdown, app.info, app.error, app.success, app.caption, app.warning]
    texts = [str(part.value) for parts in shown for part in parts]
    texts += [part.proto.body for part in app.get("html")]
    return "\n".join(texts).replace("\\", "")


def button(app: AppTest, label: str) -> Any:
    return next(one for one in app.button if one.label.replace("\\", "").startswith(label))


def widget(widgets: Any, label: str) -> Any:
    return next(one for one in widgets if one.label.replace("\\", "").startswith(label))


def test_the_first_page_of_the_app_runs(monkeypatch: pytest.MonkeyPatch, empty: Path) -> None:
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(empty))
    app = AppTest.from_file(str(Path(dashboard.__file__).parent / "app.py"), default_timeout=SLOWEST_S).run()
    assert app.title[0].value == "Did it help?"
    assert [link.proto.label for link in app.get("page_link")][:8] == [
        phrase(f"ui.page.{name}") for name in PAGES
    ]
    assert not app.error
    assert not app.exception


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize(
    ("shown", "said"),
    [
        ("did_it_help", "help.empty"),
        ("why", "why.empty"),
        ("show_driver", "driver.empty"),
        ("bring_in", "bring.intro"),
        ("fitted", "fitted.empty"),
        ("what_next", "next.empty"),
        ("season", "season.empty"),
        ("gearing", "gearing.need_chain"),
    ],
)
def test_an_empty_page_says_what_it_is_for(open_page: Any, shown: str, said: str, language: str) -> None:
    app = open_page(shown, language=language)
    assert phrase(f"ui.{said}", language) in text_of(app)
    assert not app.error
    assert not app.exception


def test_the_margin_is_asked_before_the_first_look_and_remembered(open_page: Any, mine: Path) -> None:
    app = open_page("did_it_help", mine)
    assert not app.error
    old, new = (widget(app.button_group, f"Sessions with the {word}") for word in ("old", "new"))
    assert (tuple(old.value), tuple(new.value)) == (OLD, NEW)
    assert "Before you look" in text_of(app)
    assert "than it would have been" not in text_of(app)
    widget(app.number_input, "Smallest change").set_value(0.2)
    widget(app.text_input, "What the driver wished").set_value("more at the end of the straight")
    button(app, "Show the answer").click().run()
    expected = ask(lapdelta.Archive(mine), event=EVENT, kart="07", before=OLD, after=NEW, margin=0.2)
    text = text_of(app)
    assert headline(expected) in text
    assert app.header[0].value == expected.verdict.capitalize()
    assert "Worth having from 0.20 s, as it was fixed before the first look." in text
    assert "more at the end of the straight" in text
    assert "Question 1 of the season 2025" in text
    assert app.session_state["question"].before == OLD
    kept = lapdelta.Archive(mine).questions.row(0, named=True)
    assert (kept["margin"], kept["measure"]) == (0.2, "lap_time")

    widget(app.text_input, "What the driver said").set_value("felt better").run()
    assert lapdelta.Archive(mine).questions["words"].to_list() == ["felt better"]

    widget(app.button_group, "Measure").set_value("top_speed").run()
    assert not app.error
    assert "top speed" in text_of(app)
    assert "nobody fixed one for this measure" in text_of(app)
    assert "Question 2 of the season 2025" in text_of(app)

    widget(app.button_group, "Sessions with the new").set_value([]).run()
    assert "Choose the sessions" in text_of(app)
    assert not app.error


def test_the_question_survives_a_reload(open_page: Any, mine: Path) -> None:
    open_page("gearing", mine, question=ASKED)
    assert "question" not in open_page("gearing", mine).session_state
    # A page that keeps the question remembers it for a browser that knows nothing of it.
    open_page("did_it_help", mine, question=ASKED)
    app = open_page("why", mine)
    assert phrase("ui.why.empty") in text_of(
        app
    )  # its margin is still to be fixed, so there is no answer yet
    assert not app.error


def test_why_shows_pictures_checks_and_choices(open_page: Any, full: Path) -> None:
    app = open_page("why", full, question=ASKED)
    assert not app.error
    text = text_of(app)
    for title in ("Checks", "Reasons", "If we had chosen otherwise", "Laps of our kart", "Set laps aside"):
        assert title in text
    assert len(app.get("vega_lite_chart")) == 5
    assert "far ones count less" in text


def draw_hands() -> None:
    """Only the part of the page that sets laps aside."""
    import streamlit

    from dashboard import hands, state

    hands.by_hand(state.answer(streamlit.session_state["asked"]))


def test_laps_set_aside_by_hand_are_said_and_can_be_taken_back(
    monkeypatch: pytest.MonkeyPatch, mine: Path
) -> None:
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(mine))
    app = AppTest.from_function(draw_hands, default_timeout=SLOWEST_S)
    app.session_state["asked"] = ASKED
    app.run()
    widget(app.button_group, "Session").set_value("P2").run()
    widget(app.button_group, "Laps in use").set_value([4])
    app.run()
    button(app, "Set these laps aside").click().run()
    assert "Set aside in P2: lap 4." in text_of(app)
    assert lapdelta.Archive(mine).set_aside["lap"].to_list() == [4]
    answer = ask(lapdelta.Archive(mine), event=EVENT, kart="07", before=OLD, after=NEW)
    assert "hands_used" in answer.flags
    button(app, "Undo").click().run()
    assert lapdelta.Archive(mine).set_aside.is_empty()


def test_the_driver_page_offers_three_forms_in_german_too(
    monkeypatch: pytest.MonkeyPatch, open_page: Any, full: Path
) -> None:
    # What is in the files is tested with the sheet; drawing them takes seconds.
    monkeypatch.setattr("dashboard.views.show_driver._made", lambda *about: b"\x89PNG")
    app = open_page("show_driver", full, question=ASKED, language="de")
    assert not app.error
    labels = " ".join(one.proto.label for one in app.get("download_button"))
    assert all(kind in labels for kind in ("PNG", "HTML", "PDF", "sichern"))
    assert any("als es sonst gewesen wäre" in part.proto.body for part in app.get("html"))


def test_a_session_is_written_down_same_as_before_except(open_page: Any, mine: Path) -> None:
    sheet = lapdelta.Archive(mine).setups
    before = sheet.filter((sheet["event"] == EVENT) & (sheet["session"] == "P8")).row(0, named=True)
    app = open_page("fitted", mine)
    widget(app.text_input, "Or a session still to come").set_value("P9").run()
    assert "Filled in from the session before" in text_of(app)
    widget(app.number_input, "Axle sprocket").set_value(78)
    widget(app.text_input, "Front pressures").set_value("9psi/0.60")
    widget(app.text_input, "What the driver wished").set_value("less wheel spin")
    button(app, "Write down P9").click().run()
    assert not app.error
    sheet = lapdelta.Archive(mine).setups
    row = sheet.filter((sheet["event"] == EVENT) & (sheet["session"] == "P9")).row(0, named=True)
    assert row["axle_teeth"] == 78
    assert row["engine_teeth"] == before["engine_teeth"]
    # 1 psi = 6894.757 Pa: NIST SP 811 (2008), appendix B.8.
    assert row["pressure_front_left_bar"] == pytest.approx(9 * 0.06894757, rel=1e-6)
    assert row["pressure_front_right_bar"] == 0.60
    assert row["pressure_rear_left_bar"] == before["pressure_rear_left_bar"]
    assert lapdelta.Archive(mine).questions["wish"].to_list() == ["less wheel spin"]
    button(app, "Undo").click().run()
    sheet = lapdelta.Archive(mine).setups
    assert sheet.filter((sheet["event"] == EVENT) & (sheet["session"] == "P9")).is_empty()
    assert lapdelta.Archive(mine).questions.is_empty()


def test_further_entries_keep_names_of_several_words_and_go_when_they_are_taken_out(
    open_page: Any, mine: Path
) -> None:
    others = [{"key": "Camber left", "value": "1.5"}, {"key": "toe", "value": "3 mm"}]
    archive = lapdelta.Archive(mine)
    archive.put_setups(setup_row(EVENT, "P8", "07", {"other": others}))

    def kept() -> list[dict[str, str]]:
        sheet = archive.setups
        return sheet.filter((sheet["event"] == EVENT) & (sheet["session"] == "P8"))["other"].to_list()[0]

    app = open_page("fitted", mine, **{f"fitted_session_{EVENT}_07": "P8"})
    field = widget(app.text_input, "Anything else")
    assert field.value == 'Camber left="1.5" toe="3 mm"'
    button(app, "Write down P8").click().run()
    assert not app.error
    assert kept() == others
    app = open_page("fitted", mine, **{f"fitted_session_{EVENT}_07": "P8"})
    widget(app.text_input, "Anything else").set_value('Camber left="2"')
    button(app, "Write down P8").click().run()
    assert not app.error
    assert kept() == [{"key": "Camber left", "value": "2"}]


def test_a_day_is_offered_with_its_circuit(open_page: Any, mine: Path) -> None:
    lapdelta.Archive(mine).put_event(EVENT, track="Port Ellery")
    options = widget(open_page("did_it_help", mine).selectbox, "Event").options
    assert options == [f"{EVENT}, Port Ellery", "2025-04-13, Hollerbruck"]


def test_the_form_shows_and_reads_the_decimal_mark_of_the_language(open_page: Any, mine: Path) -> None:
    app = open_page("fitted", mine, language="de")
    front = widget(app.text_input, "Druck vorn")
    assert re.fullmatch(r"0,\d+", front.value)
    front.set_value("0,57/0,58")
    next(one for one in app.button if one.proto.form_id).click().run()
    assert not app.error
    sheet = lapdelta.Archive(mine).setups
    assert sheet.filter(sheet["event"] == EVENT, sheet["pressure_front_left_bar"] == 0.57).height == 1


def test_a_value_that_cannot_be_is_said_and_nothing_typed_is_lost(open_page: Any, mine: Path) -> None:
    app = open_page("fitted", mine)
    widget(app.text_input, "Front pressures").set_value("62 parsec")
    button(app, "Write down").click().run()
    assert "What to do:" in text_of(app)
    assert widget(app.text_input, "Front pressures").value == "62 parsec"


def test_a_change_found_is_a_question_one_click_away(open_page: Any, mine: Path) -> None:
    app = open_page("fitted", mine)
    button(app, "Did it help? axle 84").click().run()
    assert app.session_state["question"].before == OLD
    assert app.session_state["question"].after == NEW


def test_what_next_has_the_answer_and_a_plan(open_page: Any, full: Path) -> None:
    app = open_page("what_next", full, question=ASKED)
    assert not app.error
    text = text_of(app)
    for said in (
        "than it would have been",
        "The plan",
        "Orders that fit",
        "Did the engine pull it?",
        "manual",
    ):
        assert said in text


def test_what_next_answers_nothing_before_it_was_asked(open_page: Any, mine: Path) -> None:
    before = lapdelta.Archive(mine).asked().height
    app = open_page("what_next", mine, question=None)
    text = text_of(app)
    assert "has not been asked about yet" in text
    assert "than it would have been" not in text
    assert lapdelta.Archive(mine).asked().height == before
    button(app, "Ask whether it helped").click().run()
    assert app.session_state["question"].after == NEW


def test_the_box_takes_a_part_and_gives_it_back(open_page: Any, mine: Path) -> None:
    app = open_page("gearing", mine)
    app.button_group[0].set_value("pairs").run()
    widget(app.text_input, "Name").set_value("A84")
    widget(app.number_input, "Teeth or links").set_value(84)
    widget(app.number_input, "Chain pitch").set_value(7.775)
    button(app, "Add it").click().run()
    assert not app.error
    assert "A84" in text_of(app)
    button(app, "Undo").click().run()
    assert "A84" not in text_of(app)


def test_the_length_of_a_lap_is_written_down_with_the_day(open_page: Any, mine: Path) -> None:
    app = open_page("fitted", mine, question=ASKED)
    widget(app.text_input, "Circuit").set_value("Hollerbruck Ost")
    widget(app.number_input, "Length of a lap").set_value(1012.0)
    button(app, "Write the day down").click().run()
    assert not app.error
    assert "Hollerbruck Ost, 1012 m a lap" in text_of(app)
    archive = lapdelta.Archive(mine)
    _an_axle_sprocket(archive)
    # Kilometres are laps times the length, by definition.
    told = box(archive)
    assert told.wear[0].distance_km == pytest.approx(told.wear[0].laps * 1.012)
    assert EVENT not in told.without_length
    button(app, "Undo").click().run()
    assert EVENT in box(lapdelta.Archive(mine)).without_length
    assert lapdelta.Archive(mine).events.filter(pl.col("event") == EVENT)["track"].to_list() == [
        "Hollerbruck"
    ]


def _an_axle_sprocket(archive: lapdelta.Archive) -> None:
    from lapdelta.parts.box import add_part

    add_part(archive, "A80", "axle sprocket", 80, 7.775)


def test_the_pages_go_on_with_the_question_asked_last_until_timing_comes_in(tmp_path: Path) -> None:
    archive = lapdelta.Archive(tmp_path / "archive")
    header = "Kart,Session,Lap,Lap time,Top speed (km/h)\n"
    rows = [f"07,{name},{lap},60.{lap},9{lap}.0" for name in ("P1", "P2", "P3") for lap in range(1, 6)]
    archive.add(lapdelta.read_timing((header + "\n".join(rows)).encode(), name="day.csv"), event="day")
    assert last_asked(archive) is None
    ask(archive, event="day", kart="07", before=["P1"], after=["P2"])
    # Nobody fixed a margin, and it has been looked at: the usual one of the measure holds.
    asked = Question("day", "07", ("P1",), ("P2",), "lap_time", 0.1)
    assert last_asked(archive) == asked
    # Its top speed, looked at beside it, does not come before it.
    ask(archive, event="day", kart="07", before=["P2"], after=["P1"], measure="top_speed")
    assert last_asked(archive) == asked
    ask(archive, event="day", kart="07", before=["P2"], after=["P3"], measure="top_speed")
    assert last_asked(archive) == Question("day", "07", ("P2",), ("P3",), "top_speed", 1.0)
    archive.add(
        lapdelta.read_timing(b"Kart,Lap,Lap time\n07,1,60.1\n07,2,60.2\n", name="P1.csv"), event="new"
    )
    assert last_asked(archive) is None


def test_what_is_kept_of_the_archive_follows_every_change(mine: Path) -> None:
    kept, other = KeptArchive(mine), lapdelta.Archive(mine)
    assert kept.laps(EVENT) is kept.laps(EVENT)
    before = kept.laps(EVENT).height
    entry = other.set_aside_laps(EVENT, "P1", "07", [3])
    assert kept.laps(EVENT).height == before - 1
    assert kept.laps(EVENT, with_set_aside=True).height == before
    other.undo(entry)
    assert kept.laps(EVENT).height == before
    other.put_event(EVENT, track="Hollerbruck")
    assert "Hollerbruck" in kept.events["track"].to_list()
    assert kept.sessions().equals(other.sessions())
    assert kept.setups.equals(other.setups)


def test_the_chain_stands_where_the_library_says(open_page: Any) -> None:
    from lapdelta.gearing import centre_distance_mm

    app = open_page("gearing")
    widget(app.number_input, "Chain pitch").set_value(7.775)
    widget(app.number_input, "Chain, links").set_value(106).run()
    assert not app.error
    assert f"{centre_distance_mm(106, 10, 80, 7.775):.1f} mm between the centres" in text_of(app)
    widget(app.number_input, "Chain, links").set_value(30).run()
    assert "What to do:" in text_of(app)


def test_the_season_says_what_the_library_says(open_page: Any, full: Path) -> None:
    from lapdelta.seasons import season

    app = open_page("season", full)
    kept = lapdelta.Archive(full)
    told = season(kept.laps(), setups=kept.setups, events=kept.events)
    assert not app.error
    text = text_of(app)
    left_out = [sentence for sentence in told.sentences if sentence.startswith("Left out")]
    for sentence in told.sentences:
        # The cautions say the last one, the table of what was left out says the others.
        assert sentence in text or sentence == CAUTION or sentence in left_out
    assert not any(sentence in text for sentence in left_out)
    assert told.sentences[0] in app.markdown[0].value.replace("\\", "")


def test_nothing_is_written_before_keep_and_undo_takes_it_back(open_page: Any, tmp_path: Path) -> None:
    folder = tmp_path / "archive"
    data = (FOLDER / EVENT / "practice.csv").read_bytes()
    app = open_page("bring_in", folder)
    app.file_uploader[0].set_value([("practice.csv", data, "text/csv")]).run()
    reading = lapdelta.read_timing(data, name="practice.csv")
    text = text_of(app)
    assert f"{reading.laps.height} laps" in text
    for row in reading.set_aside.to_dicts():
        assert row["reason"] in text
    assert lapdelta.Archive(folder).history().is_empty()
    button(app, "Keep").click().run()
    assert not app.error
    assert lapdelta.Archive(folder).laps().height == reading.laps.height
    button(app, "Undo").click().run()
    assert lapdelta.Archive(folder).laps().is_empty()


def test_questions_are_answered_by_clicking_and_remembered(open_page: Any, tmp_path: Path) -> None:
    folder = tmp_path / "archive"
    data = b"Lap,Lap time,Date\n1,60.1,03/04/2025\n2,60.2,03/04/2025\n3,60.3,03/04/2025\n"
    app = open_page("bring_in", folder)
    app.file_uploader[0].set_value([("P1.csv", data, "text/csv")]).run()
    assert button(app, "Keep").disabled
    for _ in range(6):
        if app.radio:
            app.radio[0].set_value(app.radio[0].options[0]).run()
        elif open_texts := [one for one in app.text_input if not one.value and one.label != "Event"]:
            open_texts[0].set_value("07").run()
    assert not app.error
    button(app, "Keep").click().run()
    # The next file of the same kind is read as the first was; only what holds for one file is asked again.
    app = open_page("bring_in", folder)
    app.file_uploader[0].set_value([("P2.csv", data.replace(b"60.", b"61."), "text/csv")]).run()
    assert not app.radio


def test_a_column_is_read_otherwise_by_hand(open_page: Any, tmp_path: Path) -> None:
    data = b"Kart,Session,Lap,Lap time,Zoom\n07,P1,1,60.1,80.5\n07,P1,2,60.2,81.5\n07,P1,3,60.3,82.5\n"
    app = open_page("bring_in", tmp_path / "archive")
    app.file_uploader[0].set_value([("P1.csv", data, "text/csv")]).run()
    widget(app.selectbox, "Zoom").set_value("ignore").run()
    assert not app.error
    assert "as you said" in widget(app.selectbox, "Zoom").label


def test_the_event_is_asked_once_for_all_files(open_page: Any, tmp_path: Path) -> None:
    files = [
        (f"{name}.csv", b"Kart,Lap,Lap time\n07,1,60.1\n07,2,60.2\n07,3,60.3\n", "text/csv")
        for name in ("P1", "P2")
    ]
    app = open_page("bring_in", tmp_path / "archive")
    app.file_uploader[0].set_value(files).run()
    assert button(app, "Keep").disabled
    assert len([one for one in app.text_input if one.label == "Event"]) == 1
    widget(app.text_input, "Event").set_value("Club day").run()
    assert not button(app, "Keep").disabled
    assert text_of(app).count("Will be kept under: Club day") == 2


def test_files_of_several_days_are_told_their_day_one_by_one(open_page: Any, tmp_path: Path) -> None:
    laps = b"Kart,Lap,Lap time\n07,1,60.1\n07,2,60.2\n07,3,60.3\n"
    dated = laps.replace(b"Kart,", b"Date,Kart,").replace(b"07,", b"2026-05-02,07,")
    app = open_page("bring_in", tmp_path / "archive")
    app.file_uploader[0].set_value(
        [
            ("told.csv", dated, "text/csv"),
            ("a.csv", laps, "text/csv"),
            ("b.csv", laps.replace(b"60", b"61"), "text/csv"),
        ]
    ).run()
    assert "Will be kept under: 2026-05-02" in text_of(app)
    own = [one for one in app.text_input if one.label == "Event of this file"]
    assert len(own) == 2
    own[0].set_value("2026-05-09")
    own[1].set_value("2026-05-16").run()
    assert not app.exception
    button(app, "Keep").click().run()
    events = Archive(tmp_path / "archive").events["event"].to_list()
    assert sorted(events) == ["2026-05-02", "2026-05-09", "2026-05-16"]


def test_a_file_that_cannot_be_read_says_so_and_what_to_do(open_page: Any) -> None:
    app = open_page("bring_in")
    app.file_uploader[0].set_value([("x.csv", b"\x89PNG\r\n\x1a\n" + bytes(64), "text/csv")]).run()
    assert "What to do:" in text_of(app)
    assert button(app, "Keep").disabled


def test_a_defect_gets_our_own_card(monkeypatch: pytest.MonkeyPatch, open_page: Any) -> None:
    def broken() -> bool:
        raise RuntimeError("made to fail")

    monkeypatch.setattr("dashboard.asking.anything_kept", broken)
    app = open_page("did_it_help")
    assert "What to do:" in text_of(app)
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


@pytest.mark.parametrize(
    ("told", "shown"),
    [
        ("Bring some in with: lapdelta import FILE...", "Bring some in on the page “Bring in timing”."),
        ("The sheet does not tell the teeth: write them down with lapdelta setup.",
         "The sheet does not tell the teeth: write them down on the page “What was fitted”."),
        ("Add one with: lapdelta parts add NAME --kind 'chain' --teeth N --pitch-mm P, or name the teeth.",
         "Add one on the page “Gearing”, or name the teeth."),
        ("Say it with --kart, or once for all with: lapdelta events 'A' --our-kart NUMBER",
         "Say it once for all on the page “Did it help?”"),
        ("Say which one with --event.", "Say which one."),
        ("Choose another.", "Choose another."),
        ("Run lapdelta check on the archive, and put the file back from a backup.",
         "Check the archive on the page “Bring in timing”, and put the file back from a backup."),
        ("See: lapdelta season --help", "See on the page “Season”"),
    ],
)  # fmt: skip
def test_a_page_sends_nobody_to_the_command_line(
    monkeypatch: pytest.MonkeyPatch, told: str, shown: str
) -> None:
    from dashboard import on_the_page

    for language in ("en", "de"):
        monkeypatch.setattr("dashboard.state.language", lambda language=language: language)
        said = on_the_page.for_page(told)
        assert said == shown or language == "de"
        assert not any(word in said for word in (" --", "lapdelta "))


def ask_of_a_column() -> None:
    from types import SimpleNamespace
    from typing import Any

    from dashboard.understood import ask

    question: Any = SimpleNamespace(key="column:3", text="?", options=("lap_time_s", "kart", "ignore"))
    file: Any = SimpleNamespace(file_id="1", name="day.csv")
    ask(question, file)


def test_what_a_column_may_hold_is_asked_in_plain_words() -> None:
    app = AppTest.from_function(ask_of_a_column, default_timeout=SLOWEST_S)
    for language, options in (
        ("en", ["lap time", "kart", "leave it out"]),
        ("de", ["Rundenzeit", "Kart", "weglassen"]),
    ):
        app.session_state["language"] = language
        assert app.run().radio[0].options == options
