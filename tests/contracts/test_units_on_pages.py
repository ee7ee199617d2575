"""The page where the setup sheet is filled in shows and takes the units chosen; what is kept stays in one unit."""

from pathlib import Path
from typing import Any

import pytest
from sample_archive import make_archive
from streamlit.testing.v1 import AppTest

import lapdelta
from dashboard.launch import ARCHIVE_VARIABLE
from dashboard.state import Question
from lapdelta import gearing

EVENT = "2025-05-18"


def draw() -> None:
    from dashboard.views import fitted

    fitted.show()


def widget(widgets: Any, label: str) -> Any:
    return next(one for one in widgets if one.label.replace("\\", "").startswith(label))


def row_of(folder: Path, session: str) -> dict[str, Any]:
    sheet = lapdelta.Archive(folder).setups
    return sheet.filter((sheet["event"] == EVENT) & (sheet["session"] == session)).row(0, named=True)


def test_the_setup_sheet_is_shown_and_taken_in_psi(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    folder = make_archive(tmp_path / "archive").folder
    before = row_of(folder, "P8")
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(folder))
    app = AppTest.from_function(draw, default_timeout=30).run()
    widget(app.text_input, "Or a session still to come").set_value("P9").run()
    widget(app.button_group, "Pressure").set_value("psi").run()
    assert lapdelta.Archive(folder).units.pressure == "psi"
    front, rear = (widget(app.text_input, f"{end} pressures, psi") for end in ("Front", "Rear"))
    # 1 psi = 6894.757 Pa: NIST SP 811 (2008), appendix B.8
    assert float(rear.value.split("/")[0]) == pytest.approx(
        before["pressure_rear_left_bar"] / 0.06894757, rel=1e-3
    )
    front.set_value("9")
    next(one for one in app.button if "Write down P9" in one.label).click().run()
    assert not app.error
    row = row_of(folder, "P9")
    assert row["pressure_front_left_bar"] == pytest.approx(9 * 0.06894757, rel=1e-6)
    assert row["pressure_rear_left_bar"] == before["pressure_rear_left_bar"]  # untouched: to the last digit
    shown = "".join(part.proto.body for part in app.get("html"))
    assert "Front left pressure, psi" in shown
    assert "Front left pressure, bar" not in shown
    assert "laps on tyre set" in shown


def test_an_answer_about_speed_is_shown_in_mph(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    archive = make_archive(tmp_path / "archive")
    archive.put_units("mph")
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(archive.folder))
    old, new = ("P1", "P4", "P6", "P7"), ("P2", "P3", "P5", "P8")
    asked: dict[str, Any] = {"kart": "07", "before": list(old), "after": list(new), "measure": "top_speed"}
    for page in ("first look", "did_it_help", "why", "what_next", "show_driver"):
        if page == "did_it_help":
            archive.put_question(EVENT, **asked, margin=1.609344)
        app = AppTest.from_function(
            draw_answer, kwargs={"page": page.replace("first look", "did_it_help")}, default_timeout=60
        )
        app.session_state["question"] = Question(EVENT, "07", old, new, "top_speed", 1.609344)
        app.run()
        assert not app.error
        assert not app.exception
        kinds = [app.title, app.header, app.markdown, app.caption]
        text = " ".join(str(part.value) for parts in kinds for part in parts)
        text += " ".join(one.label for one in app.number_input)
        text += " ".join(part.proto.body for part in app.get("html"))
        assert "km/h" not in text, page
        assert "mph" in text, page


def test_the_days_of_a_season_are_shown_in_the_user_s_units(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    archive = make_archive(tmp_path / "archive")
    archive.put_units("mph")
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(archive.folder))
    app = AppTest.from_function(draw_answer, kwargs={"page": "season"}, default_timeout=60)
    app.session_state["season_measure"] = "top_speed"
    app.run()
    assert not app.exception
    table = next(part.proto.body for part in app.get("html") if "84 → 80" in part.proto.body)
    found = lapdelta.season(archive.laps(), setups=archive.setups, events=archive.events, measure="top_speed")
    day = next(row for row in found.days if (row["from"], row["to"]) == (84, 80))
    # 1 mile = 1.609344 km, exact (NIST SP 811, appendix B.8)
    assert f"{day['estimate'] / 1.609344:.2f} (" in table
    assert "mph" in table
    assert "km/h" not in table


def draw_answer(page: str) -> None:
    import importlib

    importlib.import_module(f"dashboard.views.{page}").show()


def test_the_gearing_page_takes_a_pitch_in_inches_and_answers_in_inches(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    archive = make_archive(tmp_path / "archive")
    archive.put_units("inch")
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(archive.folder))
    app = AppTest.from_function(draw_answer, kwargs={"page": "gearing"}, default_timeout=60).run()
    widget(app.number_input, "Engine sprocket").set_value(11)
    widget(app.number_input, "Axle sprocket").set_value(82)
    widget(app.number_input, "Chain pitch, inch").set_value(0.375)
    widget(app.number_input, "Chain, links").set_value(108)
    app.run()
    assert not app.error
    # 3/8 inch = 9.525 mm, exact (1 inch = 25.4 mm: NIST SP 811, appendix B.8)
    centre = gearing.centre_distance_mm(108, 11, 82, 9.525)
    answer = next(part.value for part in app.markdown if "between the centres" in part.value).replace(
        "\\", ""
    )
    assert f"{round(centre, 1) / 25.4:.3f} inch between the centres" in answer
    assert " mm" not in answer


def draw_grid_edited() -> None:
    """The table of the day with one cell typed over, as the grid hands it back."""
    import polars as pl

    from dashboard import fitted_grid, own_units

    sheet = fitted_grid._sheet("2025-05-18", "07", ["P1"]).drop("event", "kart", "other")
    own = fitted_grid.in_own_units(sheet)
    assert own["pressure_front_left_bar"][0] == own_units.shown(
        "pressure_front_left_bar", sheet["pressure_front_left_bar"][0]
    )
    edited = own.with_columns(
        pl.when(pl.col("session") == "P1").then(9.0).otherwise("pressure_front_left_bar")
        .alias("pressure_front_left_bar")
    )  # fmt: skip
    fitted_grid._changed(own, edited, "2025-05-18", "07")


def test_the_table_of_the_day_is_typed_in_psi(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    archive = make_archive(tmp_path / "archive")
    archive.put_units("psi")
    monkeypatch.setenv(ARCHIVE_VARIABLE, str(archive.folder))
    before = row_of(archive.folder, "P1")
    app = AppTest.from_function(draw_grid_edited, default_timeout=30).run()
    assert not app.exception
    after = row_of(archive.folder, "P1")
    # 1 psi = 6894.757 Pa: NIST SP 811 (2008), appendix B.8
    assert after.pop("pressure_front_left_bar") == pytest.approx(9 * 0.06894757, rel=1e-6)
    before.pop("pressure_front_left_bar")
    assert after == before  # nothing else was written over by its rounded value
