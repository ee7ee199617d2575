"""The page where the setup sheet is filled in shows and takes the units chosen; what is kept stays in one unit."""

from pathlib import Path
from typing import Any

import pytest
from sample_archive import make_archive
from streamlit.testing.v1 import AppTest

import lapdelta
from dashboard.launch import ARCHIVE_VARIABLE

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
